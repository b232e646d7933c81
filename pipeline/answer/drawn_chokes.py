"""Chokes that are drawn (coils, sleeves): judged a few drawings at a time, no further than decides.

Each drawing of one costs a field solve. Whether it is enough is asked of all drawings; once so many
draws have failed that the rest could not make up for it, the answer is known, and nothing more is
solved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import many, nominal_ends, reduce, reference, termination_rows
from pipeline.answer.candidates import Outcome
from pipeline.answer.comparison import Comparison
from pipeline.answer.record import SURE, Origin
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.mesh.evidence import Grade, grade_of, worst
from pipeline.montecarlo.installations import Installation, drawn_of, own_choke, solve_drawn
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.runtime.progress import Tell
from pipeline.solver.cases import CABLE, Case, cases
from pipeline.solver.terminations import choke_series

# Drawings that a choke is judged on at a time.
BATCH = 4
# Tells of drawn chokes as a stretch of the run.
DRAWN_CHOKES = "drawn chokes"


@dataclass(frozen=True)
class _Job:
    """A choke on one drawing."""

    made: Installation
    case: Case
    store: Path | None


@dataclass
class _Known:
    """What is known of one choke: its figures by drawing, and the worst asymmetry of its ports."""

    case: Case
    stated: Merit
    found: dict[int, Merit] = field(default_factory=dict)
    asymmetry: float = 0.0
    tried: int = 0


class DrawnChokes:
    """Chokes of a study that are drawn."""

    def __init__(
        self, comparison: Comparison, cores: int, store: Path | None, own: set[str]
    ) -> None:
        self._comparison, self._cores, self._store, self._own = comparison, cores, store, own
        study = comparison.drawn.study
        drawn = [c for c in cases(study) if c.choke is not None and c.choke.is_drawn]
        self._known = {c.id: _Known(c, self._stated(c)) for c in drawn}

    def judge(self, say: Tell) -> None:
        """Judge each of them as far as it takes to know whether it is enough on all drawings."""
        open_ones = list(self._known)
        while open_ones:
            self._solve(dict.fromkeys(open_ones, BATCH), say)
            open_ones = [name for name in open_ones if not self._is_decided(name)]

    def is_complete(self, name: str) -> bool:
        """Whether a case is not drawn, or has been judged on all drawings."""
        return name not in self._known or self._known[name].tried == self._whole

    def complete(self, name: str, say: Tell) -> None:
        """Judge one of them on all drawings."""
        self._solve({name: self._whole}, say)

    def outcome(self, name: str) -> Outcome:
        """What is known of one of them."""
        return self._comparison.outcomes[name]

    @property
    def _whole(self) -> int:
        return self._comparison.drawn.shape[0]

    def _is_decided(self, name: str) -> bool:
        """Whether all drawings are judged, or too many draws have failed for the rest to help.

        A drawing in which the choke has no room counts as one in which it is not enough.

        References
        ----------
        .. [1] A. Wald, "Sequential Analysis", 1947 (curtailed inspection: the decision is that of
           the whole sample; from memory).
        """
        of = self._known[name]
        held = self._comparison.outcomes[name].score <= 1 if of.found else np.zeros((0, 1))
        failed = of.tried - float(held.mean(axis=1).sum())
        return of.tried == self._whole or failed > (1 - SURE) * self._whole

    def _solve(self, wanted: Mapping[str, int], say: Tell) -> None:
        """So many more drawings of some of them, where there are so many."""
        drawn, jobs, of = self._comparison.drawn.drawn, [], []
        for name, more in wanted.items():
            known = self._known[name]
            for number in range(known.tried, min(known.tried + more, self._whole)):
                jobs.append(_Job(drawn[number], known.case, self._store))
                of.append((name, number))
        task = f"{self._comparison.drawn.study.name}: solving drawn chokes"
        done = side_by_side(_choke_on, jobs, self._cores, task, len(jobs))
        for (name, number), found in zip(of, done, strict=True):
            known = self._known[name]
            known.tried = number + 1
            if found is not None:
                known.found[number], asymmetry = found
                known.asymmetry = max(known.asymmetry, asymmetry)
            say(f"{known.case.label} on geometry {number + 1}", DRAWN_CHOKES)
        for name in wanted:
            self._record(self._known[name])

    def _record(self, known: _Known) -> None:
        if not known.found:
            return
        origin: Origin = "study" if known.case.id in self._own else "standard"
        grade: Grade = grade_of("reciprocity", known.asymmetry)
        own = self._comparison.described.cases.get(known.case.id)
        if own is not None:
            grade = worst([grade, own.grade])
        self._comparison.outcomes[known.case.id] = self._comparison.judge(
            known.case, origin, known.found, known.stated, grade
        )

    def _stated(self, case: Case) -> Merit:
        """The choke as the study describes it; one that it does not have is solved for it."""
        known = self._comparison.described.cases.get(case.id)
        if known is not None:
            return known.merit
        of = self._comparison.described.solved
        study = self._comparison.drawn.study
        cable = of.solved[CABLE]
        own = solve_drawn(study, case, cable.basis.directions, of.elevation_deg, self._store)
        if own is None:
            raise AssertionError(f"{case.id} was found to fit and cannot be drawn")
        best = reduce(cable, study, of.elevation_deg)
        ends = nominal_ends(study)
        ideal = reference(best, termination_rows(best.structure, study, ends))
        f = np.array([study.frequency])
        series = choke_series(own.structure, study, own_choke(study, case), f)
        return many(own, termination_rows(own.structure, study, ends), series, ideal)


def _choke_on(job: _Job, isolated: bool) -> tuple[Merit, float] | None:
    """Figures of a choke on a drawing and the asymmetry of its ports; ``None`` without room."""
    found = drawn_of(job.made, job.case, job.store, isolated)
    if found is None:
        return None
    reduced, merit = found
    feed = reduced.structure.port_index("feed")
    return merit, transfer_asymmetry(reduced.y_port, feed)
