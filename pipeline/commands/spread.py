"""`braidwise spread`: does the answer hold with all that nobody knows exactly?"""

from __future__ import annotations

from pathlib import Path

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError


def _plan(path: Path, study: Study) -> None:
    """Refuse a study that leaves nothing unknown."""
    from pipeline.montecarlo.draws import unknowns_of

    if not unknowns_of(study):
        rule = "leaves nothing unknown, so there is nothing to spread"
        remedy = "take a key out of unknowns, or give it a range"
        raise StudyError(Fault(f"{path.name}  unknowns", "", rule, remedy, "all-known"))


def _run(job: Job[None], work: Work) -> Findings:
    from pipeline.montecarlo.spread import GEOMETRIES, run, solves_of
    from pipeline.montecarlo.spread_verdict import judge
    from pipeline.report.spread_page import findings

    work.tell.plan(GEOMETRIES, solves_of(job.study, work.cores))
    spread = run(job.study, work.cores, work.tell, work.store)
    return findings(spread, judge(spread))


WORK = StudyWork(_plan, _run, folder="spread", parallel=True)
COMMAND = on_studies(
    "spread",
    "say whether the answer holds with all that nobody knows exactly",
    "What is unknown stands in the study's section unknowns, or is taken as typical and stated; "
    "coils drawn as wire take part where it names coil_pitch. About half a minute.",
    WORK,
    order=60,
)
