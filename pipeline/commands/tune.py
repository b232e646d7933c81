"""`braidwise tune`: lengths at which the antenna is matched with its cable in place."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import RECOMMENDED, Study

if TYPE_CHECKING:
    from pipeline.design.match_search import Variable
    from pipeline.design.tuning import Step


def _plan(path: Path, study: Study) -> tuple[Variable, ...]:
    """Lengths that may change; each step refuses a study that leaves it nothing to do."""
    from pipeline.design.tuning import tuned_case, variables_of

    if study.tune.choke != RECOMMENDED:
        tuned_case(study)
    return variables_of(study)


def _run(job: Job[tuple[Variable, ...]], work: Work) -> Findings:
    from pipeline.design.tuned_study import write_tuned_study
    from pipeline.design.tuning_check import verify
    from pipeline.design.tuning_choke import Means, match
    from pipeline.report.tuning_results import findings, note_words, step_words

    solves = 0

    def tell_step(step: Step) -> None:
        nonlocal solves
        solves += step.solved
        work.tell(f"solve {solves:2d}  {step_words(job.study, job.plan, step)}")

    found = match(job.study, tell_step, Means(work.tell, work.cores, work.store))
    work.tell("the best lengths once more: band, evidence, finer drawing")
    verification = verify(found.tuned)
    copy = work.folder / f"{job.study.name}_tuned.yaml"
    copy.unlink(missing_ok=True)
    if verification.sound:
        write_tuned_study(job.path, found.tuned, copy, note_words(found.tuned, verification))
    return findings(found, verification, work.folder)


WORK = StudyWork(_plan, _run, folder="tune", parallel=True)
COMMAND = on_studies(
    "tune",
    "find the lengths at which the antenna is matched with its cable in place",
    "Writes a tuned copy of the study; five to ten field solutions.",
    WORK,
    order=40,
)
