"""The choke that an antenna is tuned with: the one that its own study takes.

A study in, its answer out, worked out as ``braidwise study`` does, but for the band. Everything is
computed anew, so that the answer is the same whether a report was made before or not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved
from pipeline.answer.judge import answer_of
from pipeline.answer.record import Answer
from pipeline.design.tuning import Step, Tuned, tune
from pipeline.judgement.judgement import judge_study
from pipeline.mesh.evidence import twin_evidence
from pipeline.runtime.progress import Telling
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import SolveRequest, requests
from pipeline.study.records import RECOMMENDED, Study


@dataclass(frozen=True)
class Matched:
    """A tuned antenna; ``recommended`` is what the study takes at the tuned lengths, by id.

    Empty where the study itself names what is on the cable.
    """

    tuned: Tuned
    recommended: str = ""

    @property
    def settled(self) -> bool:
        """Whether the tuned antenna still wants what it was tuned with."""
        return self.recommended in ("", self.tuned.case.id)


@dataclass(frozen=True)
class Means:
    """Means of a tuning: lines of progress, cores, and a folder that keeps solves, if any."""

    tell: Telling
    cores: int = 1
    store: Path | None = None


def answered(study: Study, means: Means) -> Answer:
    """The answer of a study, judged as described at its design frequency only."""
    wanted = requests(study)
    solved = {name: _at_design(r, r.structure) for name, r in wanted.items()}
    refined = {name: _at_design(r, r.refined) for name, r in wanted.items()}
    geometries = {
        name: twin_evidence(r, solved[name].basis.y_port[0]) for name, r in wanted.items()
    }
    judgement = judge_study(study, solved, refined, geometries)
    return answer_of(study, judgement, means.cores, means.tell, means.store)


def _at_design(request: SolveRequest, built: Structure) -> Solved:
    """A drawing of a request at the design frequency, on the azimuths that all of them share."""
    f = request.frequency[request.centre : request.centre + 1]
    return Solved(built, solve_basis(built, f, 0, request.soil, request.azimuths))


def match(
    study: Study,
    say: Callable[[Step], None] = lambda step: None,
    means: Means | None = None,
) -> Matched:
    """Tune an antenna with what its own study takes, or with what ``tune.choke`` names.

    Where the tuned antenna takes something else it is tuned once more, with that. ``say`` is told
    of every step.
    """
    if study.tune.choke != RECOMMENDED:
        return Matched(tune(study, say))
    means = means or Means(Telling(lambda text: None))
    means.tell("what the study takes, in installations like it")
    answer = answered(study, means)
    for _ in range(2):
        means.tell(f"taken: {answer.best.case.label}")
        # What is taken may come from the catalogue.
        tuned = tune(replace(study, chokes=answer.study.chokes), say, answer.chosen)
        means.tell("the same for the tuned lengths")
        answer = answered(replace(tuned.after, chokes=study.chokes), means)
        found = Matched(tuned, answer.chosen)
        if found.settled:
            break
    return found
