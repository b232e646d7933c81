"""Is a choke enough as often as said: more installations from another seed, solved afresh.

A study in; its answer, and how often the chosen case is enough in so many other installations that
agree with the study, out. Run it with

    python -m tests.validation.calibrated_chance [study] [installations]

for a table of every case that was judged on all drawings; without arguments it takes the demo and
two hundred installations. Of the demo it found 0.977 +- 0.004 for the chosen set where the answer
says 0.972 +- 0.015, and 20 of 21 other cases within one standard error of both together (the other
2.1 away).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pipeline.answer.candidates import Outcome
from pipeline.answer.choice import Costs
from pipeline.answer.comparison import Comparison
from pipeline.answer.record import Answer, Chance
from pipeline.judgement.judgement import Judgement
from pipeline.montecarlo.installations import install
from pipeline.solver.cases import CABLE, IDEAL

DEMO = Path(__file__).parents[2] / "models" / "studies" / "orchard_shed.yaml"
# Apart from the seeds that a study has by itself.
ANOTHER_SEED = 7919


@dataclass(frozen=True)
class Calibration:
    """Chance of a case as an answer says it, and as further installations have it."""

    case: str
    said: Chance
    found: Chance

    @property
    def deviations(self) -> float:
        """Difference in standard errors of both together; zero where both are certain."""
        error = float(np.hypot(self.said.error, self.found.error))
        difference = self.found.value - self.said.value
        return 0.0 if difference == 0 else difference / max(error, 1e-3)


def calibrated(
    answer: Answer, described: Judgement, cores: int, installations: int
) -> list[Calibration]:
    """Every lumped case that was judged on all drawings, in so many further installations."""
    study = answer.study
    other = replace(study.unknowns, seed=ANOTHER_SEED, geometries=installations)
    further = install(replace(study, unknowns=other), cores)
    of = Comparison(described, further, Costs.of(study))
    found = []
    for name, candidate in answer.candidates.items():
        if candidate.case.geometry == CABLE and name != IDEAL:
            further_chance = chance_over_drawings(of.lumped(candidate.case, "study"))
            found.append(Calibration(name, candidate.enough, further_chance))
    return found


def chance_over_drawings(of: Outcome) -> Chance:
    """Chance that a case is enough, its error that of the mean over drawings, sigma / sqrt(n)."""
    rates = (of.score <= 1).mean(axis=1)
    return Chance(float(rates.mean()), float(rates.std(ddof=1) / np.sqrt(len(rates))))


def main(arguments: list[str]) -> None:
    """Print the table of one study."""
    from pipeline.answer.judge import answer_of
    from pipeline.study.reader import load_study
    from tests.harness.answered import described

    path = Path(arguments[0]) if arguments else DEMO
    installations = int(arguments[1]) if len(arguments) > 1 else 200
    study = load_study(path)
    stated = described(replace(study, band=replace(study.band, points=3)))
    answer = answer_of(study, stated, 2)
    print(f"{study.name}: chosen {answer.chosen}, {installations} further installations")
    print(f"{'case':48s} {'said':>14s} {'found':>14s}  standard errors apart")
    for row in calibrated(answer, stated, 2, installations):
        mark = " <- chosen" if row.case == answer.chosen else ""
        said, found = (f"{c.value:.3f} +- {c.error:.3f}" for c in (row.said, row.found))
        print(f"{row.case:48s} {said:>14s} {found:>14s}  {row.deviations:+.1f}{mark}")


if __name__ == "__main__":
    main(sys.argv[1:])
