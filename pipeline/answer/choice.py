"""The choice among candidates: the cheapest that is enough, and what bars one from being taken.

Outcome candidates and what they cost in; the one to take out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pipeline.analysis.case_results import evaluate
from pipeline.analysis.heat import core_heat
from pipeline.answer.candidates import Outcome
from pipeline.answer.ranking import above, told_apart
from pipeline.answer.record import SURE, Barred, Candidate, FrontPoint
from pipeline.chokes.kind import Choke
from pipeline.judgement.sweeps import SolvedStudy
from pipeline.solver.cases import CABLE, IDEAL, NONE
from pipeline.solver.catalogue_sets import prices_of, set_cost
from pipeline.study.records import Study

# What makes things worse in more installations than one in twenty is not taken.
_WORSE = 1 - SURE


@dataclass(frozen=True)
class Costs:
    """What sets cost: in the study's one currency, or in pieces where that is empty.

    ``budget`` is the most that may be spent.
    """

    currency: str
    budget: float

    @classmethod
    def of(cls, study: Study) -> Costs:
        """Of a study; a budget in another money than its prices limits nothing."""
        _, currency = prices_of(study)
        budget = study.choke_design.budget
        limits = budget is not None and budget.currency == currency
        return cls(currency, budget.amount if budget is not None and limits else math.inf)

    def cost(self, of: Outcome | Candidate) -> float:
        """Cost of a case; infinite where its price is not known."""
        return self.of_choke(of.case.choke)

    def of_choke(self, choke: Choke | None) -> float:
        """Cost of a choke, nothing without one; infinite where its price is not known."""
        found = set_cost(choke, self.currency)
        return math.inf if found is None else found


def barred(of: Outcome, described: SolvedStudy, costs: Costs) -> Barred:
    """Why a case is not taken, however well it does; empty where nothing keeps it."""
    choke = of.case.choke
    if choke is None or not choke.is_real:
        return ""
    if of.grade == "unsound":
        return "unsound"
    if not choke.on_sale:
        return "not-sold"
    own = described.study.own.cores
    if any(c.confidence == "from-memory" and c not in own for c in choke.cores):
        return "remembered"
    if _comes_to_its_curie_point(of, described):
        return "hot"
    cost = costs.cost(of)
    return "budget" if math.isfinite(cost) and cost > costs.budget else ""


def _comes_to_its_curie_point(of: Outcome, described: SolvedStudy) -> bool:
    """Whether one of its cores does, at the study's power, in nineteen draws of twenty.

    The heat is shared out among its cores as the currents of the study as described do.
    """
    study, choke = described.study, of.case.choke
    if choke is None or not choke.cores:
        return False
    rows = evaluate(described.solved[CABLE], study, of.case).warmest
    power = of.heat * study.power
    cores = ((row.core, row.share * power) for row in rows if row.core is not None)
    return any(core_heat(core, heat, study.duty).margin <= 0 for core, heat in cores)


def choose(found: Mapping[str, Candidate], costs: Costs) -> tuple[str, bool]:
    """Id of the case to take, and whether it is enough.

    No choke where none is needed; else the cheapest that is enough, of several that cost the same
    the one that leaves least, then the coolest. Where nothing is enough, the one that is most
    often and makes things worse in no more than one installation of twenty, if that is more often
    than without a choke by more than chance, or if it nearly always leaves clearly less.
    """
    bare = found[NONE]
    if bare.is_enough:
        return NONE, True
    real = [c for c in found.values() if c.case.choke is not None and c.case.choke.is_real]
    real = [c for c in real if not c.barred]
    sure = [c for c in real if c.is_enough]
    if sure:
        return min(sure, key=lambda c: order(c, costs)).id, True
    harmless = [c for c in real if c.chances["worse"].value <= _WORSE]
    best = max(harmless, key=lambda c: (c.enough.value, -c.score.high), default=bare)
    helps = above(best.enough, bare.enough) or best.better.value >= SURE
    return (best.id if helps else NONE), False


def order(of: Candidate, costs: Costs) -> tuple[float, float, float]:
    """Cheapest first, then the least change, then the least heat."""
    return costs.cost(of), of.score.high, of.heat


def front_of(found: Iterable[Candidate], costs: Costs) -> tuple[FrontPoint, ...]:
    """Sets that no other betters in cost, change and heat at once, cheapest first.

    Of several that are equal in all three the first stays; so it does of classes of ferrite that
    cannot be told apart, unless a later one alone is enough. What was not judged on all drawings,
    as it is hopeless, is left out.
    """
    every = [c for c in found if c.id != IDEAL and math.isfinite(costs.cost(c))]
    whole = max((c.geometries for c in every), default=0)
    taken = [c for c in every if c.geometries == whole and c.barred in ("", "budget")]
    kept: list[Candidate] = []
    for c in sorted(taken, key=lambda c: order(c, costs)):
        # Whatever could better it comes before it in this order.
        if not any(_stands_for(k, c) for k in kept):
            kept.append(c)
    points = [(c, *order(c, costs)) for c in kept]
    return tuple(
        FrontPoint(c.id, c.case.label, cost, score, heat, c.enough.value)
        for c, cost, score, heat in points
    )


def _stands_for(one: Candidate, other: Candidate) -> bool:
    """Whether a set that costs no more leaves another nothing to be shown for."""
    if not told_apart(one, other):
        return one.is_enough or not other.is_enough
    return one.score.high <= other.score.high and one.heat <= other.heat
