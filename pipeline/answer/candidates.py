"""Candidates of the answer: figures of merit in every draw in, chances, ranges and classes out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import (
    FIGURES,
    STRONG,
    WORSE_FACTOR,
    FigureOfMerit,
    Merit,
)
from pipeline.analysis.many_cases import joined
from pipeline.answer.record import SURE, Barred, Candidate, Chance, Origin, Range
from pipeline.mesh.evidence import Grade
from pipeline.solver.cases import NONE, Case

Real = NDArray[np.float64]
# Ends and middle of a range, in per cent.
_RANGE = (2.5, 50.0, 97.5)
# So often drawings are drawn again for the error of a chance.
_REPEATS = 200


@dataclass(frozen=True)
class Outcome:
    """A case in every draw, with what the computation itself may be off by.

    ``merits`` holds one entry for each of the drawings ``numbers`` (from 0), and ``stated`` its one
    row as the study describes it.
    """

    case: Case
    origin: Origin
    merits: tuple[Merit, ...]
    numbers: tuple[int, ...]
    stated: Merit
    grade: Grade

    @property
    def id(self) -> str:
        """Short name."""
        return self.case.id

    @cached_property
    def score(self) -> Real:
        """Largest change over its threshold, (n_geometry, n_draw)."""
        return np.stack([m.score() for m in self.merits])

    @property
    def enough(self) -> float:
        """Part of the draws in which no change is visible."""
        return float(np.mean(self.score <= 1))

    @property
    def heat(self) -> float:
        """Part of the power that it takes, not exceeded in nineteen draws of twenty."""
        return sure_case(np.abs(np.concatenate([m["choke_share"] for m in self.merits])))


def sure_case(values: Real) -> float:
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


def classes(own: Real, bare: Real, is_bare: bool) -> dict[str, NDArray[np.bool_]]:
    """Class of every draw by its score, same shape each; exactly one holds.

    Worse is a score above that of the bare cable by more than the verdict's factor and visible;
    a bare cable that is strong is one that needs a choke.
    """
    visible = own > 1
    worse = visible & (own > WORSE_FACTOR * bare) & (not is_bare)
    strong = visible & ~worse & (own > STRONG)
    return {
        "invisible": ~visible,
        "noticeable": visible & ~worse & ~strong,
        "strong": strong,
        "worse": worse,
    }


def told_figures() -> list[FigureOfMerit]:
    """Figures of merit that get ranges: those that have a bad end."""
    return [f for f in FIGURES.values() if f.worst and not f.needs]


def candidate(of: Outcome, bare: Outcome, barred: Barred, seed: int) -> Candidate:
    """A case over all of its draws, the first of each drawing, beside the bare cable on them."""
    merit = joined(of.merits)
    beside = bare.score[list(of.numbers), : of.score.shape[1]]
    held = classes(of.score, beside, of.id == NONE)
    stated = float(of.stated.score()[0])
    over = merit.over_thresholds
    top = np.argmax(np.stack(list(over.values())), axis=0)
    return Candidate(
        case=of.case,
        origin=of.origin,
        chances={name: chance(values, seed) for name, values in held.items()},
        better=chance(of.score < beside / WORSE_FACTOR, seed),
        figures={f.name: _range(merit[f.name], of.stated[f.name]) for f in told_figures()},
        changes=_ranges(over, of.stated.over_thresholds),
        score=_range(merit.score(), of.stated.score()),
        driver=list(over)[int(np.bincount(top).argmax())],
        place=float(np.mean(of.score < stated)),
        grade=of.grade,
        geometries=len(of.numbers),
        heat=of.heat,
        barred=barred,
        ohms=_ohms(of, merit),
    )


def _ohms(of: Outcome, merit: Merit) -> Range | None:
    """Size of the impedance of a case's cores over the draws. [ohm]"""
    choke = of.case.choke
    if choke is None or not choke.cores:
        return None
    drawn, stated = (np.hypot(m["choke_r_ohm"], m["choke_x_ohm"]) for m in (merit, of.stated))
    return _range(drawn, stated)


def chance(held: NDArray[np.bool_], seed: int) -> Chance:
    """Chance of what held in draws, (n_geometry, n_draw), its error by a bootstrap over drawings.

    References
    ----------
    .. [1] B. Efron and R. Tibshirani, "An Introduction to the Bootstrap", 1993, ch. 6.
    """
    rates = held.mean(axis=1)
    again = np.random.default_rng(seed).integers(0, len(rates), (_REPEATS, len(rates)))
    return Chance(float(rates.mean()), float(rates[again].mean(axis=1).std(ddof=1)))


def _ranges(drawn: Mapping[str, Real], stated: Mapping[str, Real]) -> dict[str, Range]:
    return {name: _range(values, stated[name]) for name, values in drawn.items()}


def _range(values: Real, stated: Real) -> Range:
    """Median and 95 % range of draws, the installation as described inside it.

    That one agrees with the study as every draw does, and may lie beyond them all: a sleeve as it
    is described has the middle of what is open, and each departure takes it off its tuning.
    """
    low, middle, high = (float(p) for p in np.percentile(values, _RANGE))
    described = float(stated[0])
    return Range(described, min(low, described), middle, max(high, described))
