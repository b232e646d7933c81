"""What cases are judged on: the drawings of a study, and how sure the computation is of each case.

Figures of merit by drawing in, judged cases out, what the computation may be off by among them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields

import numpy as np

from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.answer.candidates import Outcome, candidate, chance
from pipeline.answer.choice import Costs, barred
from pipeline.answer.record import SURE, Candidate, Chance, Origin
from pipeline.judgement.judgement import Judgement
from pipeline.mesh.evidence import Grade
from pipeline.mesh.uncertainty import Expanded
from pipeline.montecarlo.computed import OWN, moved, moved_names, standard_normals
from pipeline.montecarlo.installations import Installations, lumped_cases, on_cable
from pipeline.solver.cases import NONE, Case


@dataclass
class Comparison:
    """Everything that cases are judged on: the drawings, and how sure the computation is."""

    described: Judgement
    drawn: Installations
    costs: Costs
    outcomes: dict[str, Outcome] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Normals of each drawing, the same for all candidates on it."""
        merit, seed = next(iter(self.drawn.found.values()))[0], self.drawn.study.unknowns.seed
        # Normals of their own: those of the changes, and so all chances, do not hang on them.
        self._z = standard_normals(self.drawn.shape[0], moved_names(merit), seed)
        self._z |= standard_normals(self.drawn.shape[0], OWN, seed + 1)

    @property
    def bare(self) -> Outcome:
        """The cable without a choke."""
        return self.outcomes[NONE]

    def half(self, case: Case) -> Expanded:
        """How uncertain the computation is of a case.

        One that the study as described does not have is as uncertain, figure by figure, as the
        least sure of the lumped cases on its cable: they differ by next to nothing.
        """
        known = self.described.solved.uncertainty
        if case.id in known:
            return known[case.id]
        return widest(known[c.id] for c in lumped_cases(self.described.solved.study))

    def moved(self, case: Case, number: int, merit: Merit) -> Merit:
        """Figures on the drawing of a number with what the computation is off by there."""
        z = {name: each[number] for name, each in self._z.items()}
        return moved(merit, self.half(case), z, self.drawn.study.cable.type.z0)

    def judge(
        self, case: Case, origin: Origin, found: Mapping[int, Merit], stated: Merit, grade: Grade
    ) -> Outcome:
        """A case from its figures by drawing."""
        numbers = tuple(sorted(found))
        merits = tuple(self.moved(case, k, found[k]) for k in numbers)
        return Outcome(case, origin, merits, numbers, stated, grade)

    def lumped(self, case: Case, origin: Origin) -> Outcome:
        """A lumped case on all drawings, computed here if it is not among those known."""
        if case.id not in self.outcomes:
            known = self.drawn.found.get(case.id)
            if known is None:
                known = [on_cable(one, [case])[case.id] for one in self.drawn.drawn]
            own = self.described.cases.get(case.id)
            stated = self.described.solved.merit(case) if own is None else own.merit
            grade = (own or self.described.cases[NONE]).grade
            found = dict(enumerate(known))
            self.outcomes[case.id] = self.judge(case, origin, found, stated, grade)
        return self.outcomes[case.id]

    def chance(self, case: Case) -> Chance:
        """Chance that a lumped case is enough, also one of which nothing is known as described."""
        known = self.drawn.found.get(case.id)
        if known is None:
            known = [on_cable(one, [case])[case.id] for one in self.drawn.drawn]
        score = np.stack([self.moved(case, k, merit).score() for k, merit in enumerate(known)])
        return chance(score <= 1, self.drawn.study.unknowns.seed)

    def may_be_taken(self, of: Outcome) -> bool:
        """Whether a case is enough by the rule and nothing bars it."""
        fine = of.id == NONE or (of.case.choke is not None and of.case.choke.is_real)
        return fine and of.enough >= SURE and not barred(of, self.described.solved, self.costs)

    def as_candidate(self, of: Outcome) -> Candidate:
        """The record of a judged case."""
        why = barred(of, self.described.solved, self.costs)
        return candidate(of, self.bare, why, self.drawn.study.unknowns.seed)


def widest(halves: Iterable[Expanded]) -> Expanded:
    """The largest of each half-width of several. Definition."""
    every = list(halves)
    names = [f.name for f in fields(Expanded)]
    return Expanded(**{name: max(getattr(one, name) for one in every) for name in names})
