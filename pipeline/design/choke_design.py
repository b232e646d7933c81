"""Choice of cores to buy: every one that fits, in every number, at a few places, over all draws.

A study in; out come sets of cores with their effect, heat and cost, the cheapest that is enough in
nineteen draws of twenty, and the front of what cannot be bettered. A coil is no part of it: it
changes the geometry and needs a field solve of its own.

The spread's geometries carry one row of ports at each of up to four places; every core on sale that
fits (``parts.takes_cable``) and whose size is not from memory is tried in every number,
alone and in equal halves at two places, no row across a bend of the cable: some two thousand sets,
each on 12 geometries with 32 draws, pattern on every second azimuth (the 95 % case is within a
hundredth of that of all, which a test holds). Sets are ordered by cost, then change, then heat; the
first whose 95 % case is no visible change and that stays below its Curie point is recommended, so
it lies on the front of the three by construction. Where nothing has a price pieces count, the
connector that solid cores ask for as one of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import FerriteCore, every_core, is_split, takes_cable
from pipeline.analysis.figures_of_merit_and_score import FIGURES, Merit
from pipeline.analysis.heat import Core, core_heat
from pipeline.analysis.many_cases import joined, nominal_ends, termination_rows
from pipeline.circuit.choke_materials import looser, one_pass
from pipeline.circuit.port_algebra import fed_voltages, port_currents
from pipeline.design.choke_sets import (
    COMPARISONS,
    CoreSet,
    Place,
    bends_under,
    comparisons_of,
    core_sets,
    evaluate_sets,
    places_of,
    room_at,
    set_row,
    walk_of,
    with_rows,
)
from pipeline.montecarlo.spread import GEOMETRIES, Spread, solves_of
from pipeline.montecarlo.spread import run as run_spread
from pipeline.montecarlo.spread_solve import Drawn
from pipeline.runtime.progress import Telling
from pipeline.solver.cases import IDEAL
from pipeline.solver.terminations import choke_weights, hottest_share
from pipeline.study.records import Study

SURE = 0.95


@dataclass(frozen=True)
class RatedSet:
    """One set over all draws.

    ``score`` is the 95 % case of the verdict's score, ``changes`` that of each change over its
    threshold, ``enough`` the share of draws without a visible change, ``heat`` the 95 % case of
    the share of power that the cores take, ``cost`` in money or pieces (None: no price).
    """

    set: CoreSet
    score: float
    changes: dict[str, float]
    enough: float
    heat: float
    station: float
    shield: float
    cost: float | None

    @property
    def loss_db(self) -> float:
        """Signal lost to heat, 95 % case: definition, -10 log10 of the share that is left. [dB]"""
        return float(-10 * np.log10(max(1e-12, 1 - self.heat)))

    @property
    def order(self) -> tuple[float, float, float, float]:
        """Cheapest first, then the least change, the least heat, the lightest."""
        mass = 0.0 if self.set.core is None else self.set.pieces * self.set.core.mass
        return (np.inf if self.cost is None else self.cost, self.score, self.heat, mass)

    @property
    def driver(self) -> str:
        """The change that sets the score."""
        return FIGURES[max(self.changes, key=lambda name: self.changes[name])].words


@dataclass(frozen=True)
class LeftOut:
    """Cores that were not tried, by the reason.

    They do not go over the cable; nobody sells them; their size is known from memory only, which
    nobody should buy by; their data do not reach the frequency; a tighter one of the same mix and
    shape does more.
    """

    unfit: tuple[FerriteCore, ...]
    unsold: tuple[FerriteCore, ...]
    remembered: tuple[FerriteCore, ...]
    unknown: tuple[FerriteCore, ...]
    loose: tuple[FerriteCore, ...]


@dataclass(frozen=True)
class Design:
    """Sets that were tried, and the choice among them.

    ``currency`` is empty where pieces are counted; ``dearer`` is the cheapest set that is enough
    but above the budget; ``hot`` those passed over for their heat.
    """

    study: Study
    spread: Spread
    places: tuple[Place, ...]
    tried: tuple[RatedSet, ...]
    front: tuple[RatedSet, ...]
    chosen: RatedSet
    met: bool
    ideal: RatedSet
    dearer: RatedSet | None
    hot: tuple[RatedSet, ...]
    warmest: Core | None
    currency: str
    left_out: LeftOut

    @property
    def bare(self) -> RatedSet:
        """The cable without a choke."""
        return self.tried[0]


def sure_case(values: NDArray[np.float64]) -> float:
    """The value that nineteen draws of twenty do not exceed: the 95 % quantile, no interpolation.

    References
    ----------
    .. [1] R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", Am. Stat. 50, 1996,
       definition 1.

    Examples
    --------
    >>> sure_case(np.arange(1.0, 21.0))
    19.0
    """
    return float(np.quantile(values, SURE, method="inverted_cdf"))


def rated(tried: CoreSet, parts: list[Merit], cost: float | None) -> RatedSet:
    """A set with its 95 % cases, from its outcomes on all geometries."""
    merit = joined(parts)
    score = merit.score()
    return RatedSet(
        set=tried,
        score=sure_case(score),
        changes={name: sure_case(part) for name, part in merit.over_thresholds.items()},
        enough=float(np.mean(score <= 1)),
        heat=sure_case(np.abs(merit["choke_share"])),
        station=sure_case(merit["station_ratio"]),
        shield=sure_case(merit["shield_ratio"]),
        cost=cost,
    )


def prices_of(study: Study) -> tuple[dict[str, float], str]:
    """Price of one core by id, and the currency: the section's own, else those of the candidates.

    Empty where there are none, or in several currencies.
    """
    if study.choke_design.prices:
        prices = study.choke_design.prices
        return {p.part: p.amount for p in prices}, prices[0].currency
    found = {
        c.ferrite_core.id: (c.price / c.count, c.currency)
        for c in study.chokes
        if c.ferrite_core is not None and c.price is not None
    }
    currencies = {currency for _, currency in found.values()}
    if len(currencies) != 1:
        return {}, ""
    return {name: amount for name, (amount, _) in found.items()}, currencies.pop()


def front_of(tried: Iterable[RatedSet]) -> tuple[RatedSet, ...]:
    """Sets that no other betters in cost, change and heat at once, cheapest first.

    Of several that are equal in all three the first stays.
    """
    priced = sorted((j for j in tried if j.cost is not None), key=lambda j: j.order)
    kept: list[RatedSet] = []
    for j in priced:
        # Whatever could better it comes before it in this order.
        if not any(k.score <= j.score and k.heat <= j.heat for k in kept):
            kept.append(j)
    return tuple(kept)


def design(
    study: Study,
    cores: int,
    say: Telling | None = None,
    store: Path | None = None,
) -> Design:
    """Choice of cores for a study's cable: draw, solve, try every set.

    ``cores`` geometries are solved at a time; ``say`` is told of every step; solves are kept in
    the folder ``store``, for a run that is stopped to go on from.

    Raises
    ------
    StudyError
        If the study as it stands cannot be drawn, or most draws cannot.
    """
    most = study.choke_design.most
    prices, currency = prices_of(study)
    known, left_out = _worth_trying(study, prices)
    longest = most * max((c.length for c in known), default=0.0)
    places = places_of(study, longest)
    room = room_at(study, places, longest)
    sets = _sets(study, core_sets(known, places, most, room))
    wanted = with_rows(study, known, places, room)
    say = _planned(say or Telling(lambda text: None), wanted, sets, cores)
    spread = run_spread(wanted, cores, say, store)
    say(f"{len(sets)} sets on {spread.shape[0]} geometries with {spread.shape[1]} draws each")
    found = evaluate_sets(spread, sets, cores, say)
    tried = tuple(rated(s, found[s.id], set_cost(s, prices)) for s in sets)
    chosen, met, dearer, hot = choose(study, spread.nominal, tried, currency)
    return Design(
        study=study,
        spread=spread,
        places=places,
        tried=tried,
        front=front_of([j for j in tried if j not in hot]),
        chosen=chosen,
        met=met,
        ideal=rated(CoreSet(None, ()), [spread.found[IDEAL]], None),
        dearer=dearer,
        hot=hot,
        warmest=warmest(spread.nominal, chosen),
        currency=currency,
        left_out=left_out,
    )


def _worth_trying(study: Study, prices: dict[str, float]) -> tuple[list[FerriteCore], LeftOut]:
    """Cores that may be advised at the study's frequency, and all others by the reason."""
    jacket, own = study.cable.type.jacket_diameter, study.own.cores
    every = every_core(study.own)
    fitting = [c for c in every if takes_cable(c, jacket)]
    sold = [c for c in fitting if c.on_sale]
    read = [c for c in sold if c.confidence != "from-memory" or c in own]
    known = [c for c in read if one_pass(c, study.frequency) is not None]
    loose = looser(known, study.frequency, prices)

    def gone(
        before: Sequence[FerriteCore], after: Sequence[FerriteCore]
    ) -> tuple[FerriteCore, ...]:
        return tuple(c for c in before if c not in after)

    left_out = LeftOut(
        gone(every, fitting), gone(fitting, sold), gone(sold, read), gone(read, known), loose
    )
    return [c for c in known if c not in loose], left_out


def _sets(study: Study, rows: tuple[CoreSet, ...]) -> tuple[CoreSet, ...]:
    """The bare cable, and every set that does not lie across a bend."""
    walk = walk_of(study)
    return (CoreSet(None, ()), *(s for s in rows if not bends_under(walk, s)))


def _planned(say: Telling, study: Study, sets: tuple[CoreSet, ...], cores: int) -> Telling:
    """The same, that knows what is to come."""
    say.plan(GEOMETRIES, solves_of(study, cores))
    say.plan(COMPARISONS, comparisons_of(study, sets, cores))
    return say


def set_cost(tried: CoreSet, prices: dict[str, float]) -> float | None:
    """In money where anything has a price, else in pieces: a connector that comes off is one."""
    if tried.core is None:
        return 0.0
    if not prices:
        return float(tried.pieces + (not is_split(tried.core)))
    each = prices.get(tried.core.id)
    return None if each is None else round(each * tried.pieces, 2)


def choose(
    study: Study, nominal: Drawn, tried: tuple[RatedSet, ...], currency: str
) -> tuple[RatedSet, bool, RatedSet | None, tuple[RatedSet, ...]]:
    """The cheapest set that is enough, else the nearest; whether it is; what was passed over.

    Passed over are the cheapest set that is enough but above the budget, and cheaper ones that are
    enough but come to their Curie point at the study's power. ``nominal`` is the geometry as
    stated, for the heat in each core; where ``currency`` is empty pieces are counted, and a budget
    in money limits nothing.
    """
    budget = study.choke_design.budget
    most = np.inf if budget is None or budget.currency != currency else budget.amount
    priced = sorted((j for j in tried if j.cost is not None), key=lambda j: j.order)
    hot: list[RatedSet] = []
    dearer = None
    for j in priced:
        if j.score > 1:
            continue
        core = warmest(nominal, j)
        if core is not None and core.margin <= 0:
            hot.append(j)
        elif j.order[0] > most:
            dearer = j
            break
        else:
            return j, True, None, tuple(hot)
    within = [j for j in priced if j.order[0] <= most and j not in hot]
    nearest = min(within, key=lambda j: (j.score, *j.order))
    return nearest, False, dearer, tuple(hot)


def warmest(nominal: Drawn, chosen: RatedSet) -> Core | None:
    """The core of a set that takes most heat, at the study's power; ``None`` without cores.

    The set's heat is its 95 % case, shared out as the currents of the study as stated do.
    """
    study, structure = nominal.study, nominal.reduced.structure
    choices = chosen.set.choices()
    if not choices:
        return None
    ends = termination_rows(structure, study, nominal_ends(study))[0]
    z, feed = ends + set_row(nominal, chosen.set), structure.port_index("feed")
    y = nominal.reduced.y_port
    current = port_currents(y, fed_voltages(y, z, feed))
    heat = [
        c.count
        * float(choke_weights(structure, c.position, c.count * c.core.length) @ abs(current) ** 2)
        for c in choices
    ]
    top = int(np.argmax(heat))
    share = heat[top] / sum(heat) * hottest_share(structure, choices[top], current)
    return core_heat(choices[top].core, share * chosen.heat * study.power, study.duty)
