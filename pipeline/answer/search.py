"""Search among sets of the catalogue: those that may be the answer, and those on the front.

Every set is looked at quickly, of each cost the likeliest closer, the cheapest first, and what
looks enough is judged on all draws. Once one is enough, dearer ones are left.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from pipeline.answer.candidates import Outcome, sure_case
from pipeline.answer.choice import front_of
from pipeline.answer.comparison import Comparison
from pipeline.answer.screen import CloserLook, QuickLook
from pipeline.solver.cases import CABLE, NONE, Case
from pipeline.solver.catalogue_sets import catalogue_sets

# A set is looked at closer, and then judged on all draws, from these chances on: well below what
# is enough, for what a quick look and few draws are off by.
LIKELY, PROMISING = 0.80, 0.90
# Sets of one cost that are looked at closer, the likeliest first.
_OF_A_COST = 8
# Where none is enough: sets that are looked at closer, and of those the ones that are judged.
_NEAREST, _FULL = 16, 3
# Costs that are looked at for the front, and sets that are shown of it beside the chosen one.
_COSTS, _SHOWN = 8, 4


class Search:
    """Sets of the catalogue for one study."""

    def __init__(self, comparison: Comparison) -> None:
        self._comparison = comparison
        study = comparison.drawn.study
        self._cases = [Case(c.id, c.label, CABLE, c) for c in catalogue_sets(study)]
        chokes = [c.choke for c in self._cases if c.choke is not None]
        scores = QuickLook(study, chokes).scores(comparison.drawn.drawn)
        self._chance = np.mean(scores <= 1, axis=1)
        self._rank = [sure_case(row) for row in scores]
        self._closer = CloserLook(comparison.drawn.drawn)
        self._looked_at: dict[int, Outcome] = {}
        self._by_cost = self._levels()

    @property
    def tried(self) -> int:
        """Number of sets."""
        return len(self._cases)

    def _levels(self) -> list[tuple[float, list[int]]]:
        """Sets by their cost, the cheapest first and of one cost the likeliest first."""
        cost = [self._comparison.costs.of_choke(c.choke) for c in self._cases]
        order = sorted(range(len(cost)), key=lambda k: (cost[k], self._rank[k]))
        grouped = itertools.groupby(order, key=lambda k: cost[k])
        return [(level, list(sets)) for level, sets in grouped if math.isfinite(level)]

    def run(self) -> None:
        """Judge what may be taken and what is shown."""
        enough = self._cheapest()
        if not enough and not self._own_is_enough():
            self._nearest()
        for k in self._for_the_front():
            self._comparison.lumped(self._cases[k], "catalogue")

    def _look(self, k: int) -> Outcome:
        """A set with few draws on each drawing."""
        if k not in self._looked_at:
            case, of = self._cases[k], self._comparison
            if case.choke is None:
                raise AssertionError("a set of the catalogue is a choke")
            found = dict(enumerate(self._closer.merits(case.choke)))
            grade = of.described.cases[NONE].grade
            stated = of.described.solved.merit(case)
            self._looked_at[k] = of.judge(case, "catalogue", found, stated, grade)
        return self._looked_at[k]

    def _own_is_enough(self) -> bool:
        return any(map(self._comparison.may_be_taken, self._comparison.outcomes.values()))

    def _cheapest(self) -> bool:
        """Judge sets, the cheapest first, until one is enough; whether one is."""
        of = self._comparison
        own = [j for j in of.outcomes.values() if of.may_be_taken(j)]
        most = min((of.costs.cost(j) for j in own), default=math.inf)
        for cost, sets in self._by_cost:
            if cost > min(most, of.costs.budget):
                return False
            likely = [k for k in sets if self._chance[k] >= LIKELY][:_OF_A_COST]
            near = [k for k in likely if self._look(k).enough >= PROMISING]
            # All of one cost are judged: of several that are enough the best one is taken.
            taken = [k for k in near if of.may_be_taken(of.lumped(self._cases[k], "catalogue"))]
            if taken:
                return True
        return False

    def _nearest(self) -> None:
        """Judge the likeliest sets where none is enough."""
        affordable = [
            k for cost, sets in self._by_cost if cost <= self._comparison.costs.budget for k in sets
        ]
        likely = sorted(affordable, key=lambda k: self._rank[k])[:_NEAREST]
        best = sorted(
            likely, key=lambda k: (-self._look(k).enough, float(self._look(k).score.max()))
        )
        for k in best[:_FULL]:
            self._comparison.lumped(self._cases[k], "catalogue")

    def _for_the_front(self) -> list[int]:
        """Sets on the front of cost, change and heat by the closer look, as many as are shown."""
        looked = [sets[0] for _, sets in self._by_cost[:_COSTS]]
        known = {self._cases[k].id: k for k in {*looked, *self._looked_at}}
        looked_at = [self._comparison.bare, *(self._look(k) for k in known.values())]
        found = map(self._comparison.as_candidate, looked_at)
        front = [p.id for p in front_of(found, self._comparison.costs) if p.id in known]
        return [known[name] for name in front[:_SHOWN]]
