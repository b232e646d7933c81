"""Judgement of a spread: chances of each candidate, the one to take, and what decides it.

Merit of many draws in, probabilities and shares out; thresholds are those of the verdict.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import (
    FIGURES,
    STRONG,
    WORSE_FACTOR,
    FigureOfMerit,
    Merit,
)
from pipeline.chokes.kinds import own_unknowns
from pipeline.mesh.evidence import LIMITS
from pipeline.montecarlo.draws import Unknown
from pipeline.montecarlo.sensitivity import (
    Band,
    Share,
    band,
    first_order,
    grouped,
    joint,
    resampled,
)
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_solve import asymmetry_of
from pipeline.solver.cases import CABLE, NONE, Case
from pipeline.study.records import USUAL, Thresholds

CLASSES = ("invisible", "noticeable", "strong", "worse")
# A candidate is recommended where it is enough in so many draws.
SURE = 0.95
# Below a hundredth of a threshold nothing differs that anybody could see.
_LEAST_SCORE = 0.01
# The first columns of the table of candidates; figures of merit that come later stand behind.
_FIRST = ("station_ratio", "shield_ratio", "pattern_rms_db", "swr")
# Parts of a range over which chances are told, and samples wanted in a cell of a joint cause.
_PARTS_GEOMETRIC, _PARTS_CIRCUIT = 3, 8
_SAMPLES_PER_CELL = 40


@dataclass(frozen=True)
class Chance:
    """Probability and its standard error."""

    value: float
    error: float


@dataclass(frozen=True)
class Candidate:
    """One case over all draws: bands of its figures, chances of each class, score as stated.

    ``stated_above`` is the part of the draws that change less than the study as stated;
    ``trusted`` says that the transfer admittances of every geometry it was drawn in are symmetric
    enough to be used; what is not is never recommended.
    """

    case: Case
    bands: dict[str, Band]
    score: Band
    chances: dict[str, Chance]
    stated_score: float
    stated_above: float
    trusted: bool = True

    @property
    def enough(self) -> Chance:
        """Chance that no change is visible."""
        return self.chances["invisible"]


@dataclass(frozen=True)
class Cause:
    """Effect of one unknown on a result: its share of the spread, and the chances it can bring.

    ``low`` and ``high`` are the smallest and largest chance of no visible change over parts of
    its range, ``at_low`` and ``at_high`` those parts as probabilities of the unknown; ``turns``
    says that they differ by more than chance. A ``joint`` cause is several unknowns together; its
    chances are those of the one that is named.
    """

    name: str
    label: str
    share: Share
    turns: bool
    low: float
    high: float
    at_low: tuple[float, float]
    at_high: tuple[float, float]
    joint: bool = False


@dataclass(frozen=True)
class Judgement:
    """All candidates, the one to take, and what decides.

    ``causes`` and ``geometry`` are those of the bare cable, of the candidate to take, and of every
    candidate whose own make is unknown.
    """

    candidates: dict[str, Candidate]
    chosen: str
    sure: bool
    causes: dict[str, tuple[Cause, ...]]
    geometry: dict[str, Share]
    limits: Thresholds = USUAL


def classes(merit: Merit, bare: Merit, is_bare: bool) -> dict[str, NDArray[np.bool_]]:
    """Class of every draw, each of shape (n,); exactly one holds.

    Worse is a score above that of the bare cable by more than the verdict's factor and visible;
    a bare cable that is strong is one that needs a choke.
    """
    own = merit.score()
    visible = own > 1
    worse = visible & (own > WORSE_FACTOR * bare.score()) & (not is_bare)
    strong = visible & ~worse & (own > STRONG)
    return {
        "invisible": ~visible,
        "noticeable": visible & ~worse & ~strong,
        "strong": strong,
        "worse": worse,
    }


def judge(spread: Spread) -> Judgement:
    """Judge every candidate of a spread."""
    found = {c.id: _candidate(spread, c) for c in spread.cases}
    chosen = choose(found)
    decide = dict.fromkeys((NONE, chosen, *(c.id for c in spread.cases if make_of(spread, c))))
    return Judgement(
        candidates=found,
        chosen=chosen,
        sure=found[chosen].enough.value >= SURE,
        causes={name: causes(spread, name) for name in decide},
        geometry={name: grouped(list(_effect(spread, name))) for name in decide},
        limits=spread.study.verdict,
    )


def make_of(spread: Spread, case: Case) -> str:
    """Name of the unknown that is a candidate's own make; empty where there is none."""
    own = "" if case.choke is None else case.choke.unknown.key
    return own if own in {u.name for u in spread.unknowns} else ""


def told_figures() -> list[FigureOfMerit]:
    """Figures of merit that get bands: those that have a bad end."""
    order = {name: k for k, name in enumerate(_FIRST)}
    told = [f for f in FIGURES.values() if f.worst and not f.needs]
    return sorted(told, key=lambda f: order.get(f.name, len(order)))


def _candidate(spread: Spread, case: Case) -> Candidate:
    merit, seed = spread.found[case.id], spread.study.unknowns.seed
    bands = {
        f.name: band(merit[f.name].reshape(spread.shape), f.worst == "low", seed)
        for f in told_figures()
    }
    held = classes(merit, spread.found[NONE], case.id == NONE)
    chances = {name: _chance(values.reshape(spread.shape), seed) for name, values in held.items()}
    score = band(merit.score().reshape(spread.shape), False, seed)
    stated = float(spread.stated[case.id].score()[0])
    above = float(np.mean(merit.score() < stated))
    return Candidate(case, bands, score, chances, stated, above, _trusted(spread, case))


def _trusted(spread: Spread, case: Case) -> bool:
    """Whether a coil's own geometries may be used; the cable's is told beside all results."""
    worst = max(asymmetry_of(d.on(case)) for d in spread.drawn)
    return case.geometry == CABLE or worst <= LIMITS["reciprocity"].usable


def _chance(held: NDArray[np.bool_], seed: int) -> Chance:
    rate = held.astype(float)
    error = resampled(rate, lambda values: np.array([values.mean()]), seed)
    return Chance(float(rate.mean()), float(error[0]))


def choose(found: dict[str, Candidate]) -> str:
    """The case to take: the cheapest that is enough nineteen times in twenty.

    No choke where none is needed so often. Where nothing is, the one that is enough most often.
    Without prices the fewest pieces count as the cheapest. What cannot be bought, and what was not
    drawn well enough to be trusted, is not taken.
    """
    if found[NONE].enough.value >= SURE:
        return NONE
    real = [
        c for c in found.values() if c.trusted and c.case.choke is not None and c.case.choke.on_sale
    ]
    sure = [c for c in real if c.enough.value >= SURE]
    chokes = [c.case.choke for c in sure if c.case.choke is not None]
    priced = all(x.price is not None for x in chokes) and len({x.currency for x in chokes}) <= 1

    def cost(c: Candidate) -> tuple[float, float]:
        choke = c.case.choke
        price = None if choke is None else choke.price
        pieces = 0 if choke is None else choke.count
        return (price if priced and price is not None else float(pieces)), c.score.p95

    if sure:
        return min(sure, key=cost).case.id
    return max([found[NONE], *real], key=lambda c: (c.enough.value, -c.score.p95)).case.id


def _effect(spread: Spread, name: str) -> NDArray[np.float64]:
    """Logarithm of a case's score, whose spread is shared out, (n_geometry, n_draw)."""
    score = np.maximum(spread.found[name].score(), _LEAST_SCORE)
    return np.asarray(np.log10(score).reshape(spread.shape))


def causes(spread: Spread, name: str) -> tuple[Cause, ...]:
    """Every unknown with its share of the spread of one case's score, the largest first.

    A geometric unknown is seen in as many points as there are geometries: its share is that of
    the means over the draws, times what the geometry as a whole makes. Unknowns that one look
    settles, such as all of a radio's bonding, stand there once more together. How another
    candidate is made is no cause: what chance shows of it would be taken for an effect.
    """
    case = next(c for c in spread.cases if c.id == name)
    y = _effect(spread, name)
    enough = (spread.found[name].score() <= 1).reshape(spread.shape).astype(float)
    geometric, u_geometric = _concerning(case, spread, True)
    circuit, u_circuit = _concerning(case, spread, False)
    means, chances = y.mean(axis=1), enough.mean(axis=1)
    part = float(means.var() / y.var()) if y.var() > 0 else 0.0
    among = max(1, len(geometric))
    found = []
    for k, unknown in enumerate(geometric):
        u = u_geometric[:, k]
        share, turns = first_order(u, means, None, among), first_order(u, chances, None, among)
        share = Share(part * share.value, part * share.noise)
        found.append(_cause(unknown, share, turns, u, chances))
    for k, unknown in enumerate(circuit):
        u, value, held = u_circuit[:, k], y.ravel(), enough.ravel()
        among = len(circuit)
        share, turns = first_order(u, value, None, among), first_order(u, held, None, among)
        found.append(_cause(unknown, share, turns, u, held))
    found += _together(circuit, u_circuit, y.ravel(), found)
    return tuple(sorted(found, key=lambda cause: -cause.share.value))


def _concerning(
    case: Case, spread: Spread, geometric: bool
) -> tuple[list[Unknown], NDArray[np.float64]]:
    """Unknowns that can matter to a case, and their probabilities, (n, n_unknown).

    One row a geometry for those that change the drawing, one row a draw for all others.
    """
    own = "" if case.choke is None else case.choke.unknown.key
    listed = [u for u in spread.unknowns if u.geometric == geometric]
    others = own_unknowns().keys() - {own}
    kept = [k for k, u in enumerate(listed) if u.name not in others]
    n = spread.shape[0] * (1 if geometric else spread.shape[1])
    u = (spread.u_geometric if geometric else spread.u_circuit).reshape(n, len(listed))
    return [listed[k] for k in kept], u[:, kept]


def _together(
    circuit: list[Unknown], u: NDArray[np.float64], y: NDArray[np.float64], single: list[Cause]
) -> list[Cause]:
    """Causes of several unknowns that a reader finds out at once."""
    groups: dict[str, list[int]] = {}
    for k, unknown in enumerate(circuit):
        groups.setdefault(unknown.measure, []).append(k)
    found = []
    for columns in (members for members in groups.values() if len(members) > 1):
        # Half a range is no part of a chance: it has two parts of its own.
        ranged = sum(circuit[k].spread.shape != "chance" for k in columns)
        wanted = len(y) / _SAMPLES_PER_CELL / 2 ** (len(columns) - ranged)
        bins = max(2, int(wanted ** (1 / max(1, ranged))))
        names = {circuit[k].name for k in columns}
        # Told by the one of them whose range changes the chances most.
        widest = max((c for c in single if c.name in names), key=lambda c: c.high - c.low)
        cells = [_part_of(u[:, k], _edges(circuit[k], bins)) for k in columns]
        share = joint(cells, y)
        found.append(replace(widest, label=circuit[columns[0]].together, share=share, joint=True))
    return found


def _edges(unknown: Unknown, parts: int) -> NDArray[np.float64]:
    """Equal parts of an unknown's range as probabilities; a chance has its own two."""
    if unknown.spread.shape == "chance":
        return np.array([0.0, unknown.spread.low, 1.0])
    return np.linspace(0.0, 1.0, parts + 1)


def _part_of(u: NDArray[np.float64], edges: NDArray[np.float64]) -> NDArray[np.int64]:
    return np.clip(np.searchsorted(edges, u, side="right") - 1, 0, len(edges) - 2)


def _cause(
    unknown: Unknown,
    share: Share,
    turns: Share,
    u: NDArray[np.float64],
    held: NDArray[np.float64],
) -> Cause:
    """Chance of no visible change over equal parts of an unknown's range."""
    edges = _edges(unknown, _PARTS_GEOMETRIC if unknown.geometric else _PARTS_CIRCUIT)
    of = _part_of(u, edges)
    rates = {k: float(held[of == k].mean()) for k in range(len(edges) - 1) if (of == k).any()}
    low, high = min(rates, key=lambda k: rates[k]), max(rates, key=lambda k: rates[k])
    return Cause(
        name=unknown.name,
        label=unknown.label,
        share=share,
        turns=turns.certain,
        low=rates[low],
        high=rates[high],
        at_low=(float(edges[low]), float(edges[low + 1])),
        at_high=(float(edges[high]), float(edges[high + 1])),
    )


def flips(judgement: Judgement) -> list[tuple[Cause, str]]:
    """Unknowns that turn the advice by themselves, each with what is to be done then.

    "none": over part of its range no choke would be needed; "more": over part of it what is
    recommended would not be enough as often as it should. Differences that chance could make
    count for nothing.
    """
    found = []
    if judgement.chosen != NONE:
        found += [(c, "none") for c in _turning(judgement, NONE) if c.high >= SURE]
    if judgement.sure:
        found += [(c, "more") for c in _turning(judgement, judgement.chosen) if c.low < SURE]
    return found


def _turning(judgement: Judgement, name: str) -> list[Cause]:
    return [c for c in judgement.causes[name] if c.turns and not c.joint]
