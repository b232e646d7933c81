"""How often nothing is needed: the bare cable, the ideal choke, grades and what failed.

Rows of one group in; shares with their intervals, quantiles and counts out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import STRONG
from pipeline.survey.resampled import Resampled, Share
from pipeline.survey.table_rows import CLUSTER, TableRows

# Parts of the installations at which a distribution is told.
QUANTILES = (0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975)
GRADES = ("sound", "usable", "unsound")
# Drawings of the cable with its antenna: all chokes that are impedances share one.
CABLE = "cable"
_NO_CAUSE = "no score, and no cause said"
# More causes than these are not listed one by one.
_CAUSES = 5
# Words of an axis that a reader compares side by side.
_WORDS = 8


@dataclass(frozen=True)
class BareCable:
    """Score of the cable without a choke.

    ``nothing`` is the share with no visible change, ``strong`` that with a strong one;
    ``ideal_short`` the share in which even the ideal choke leaves something visible, ``None`` where
    it was not computed.
    """

    nothing: Share
    strong: Share
    ideal_short: Share | None
    score: Mapping[float, float]


@dataclass(frozen=True)
class Grades:
    """How many drawings got which grade: of the cable, and of chokes that are drawn, by kind."""

    drawings: int
    counts: Mapping[str, int]
    by_kind: Mapping[str, Mapping[str, int]]


@dataclass(frozen=True)
class Failures:
    """TableRows that have no score: how many of how many, and the most frequent causes."""

    failed: int
    variants: int
    causes: Mapping[str, int]


def resampled(rows: TableRows) -> Resampled:
    """The installations of some rows, drawn again."""
    return Resampled(rows.members.numbers)


def share_of(rows: TableRows, held: NDArray[np.bool_], again: Resampled) -> Share:
    """Share of some rows in which something held, with its interval."""
    return again.share(held, rows.members)


def quantiles(values: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values that so large a part does not exceed, by :data:`QUANTILES`.

    References
    ----------
    .. [1] R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", Am. Stat. 50, 1996,
       definition 1, with weights.

    Examples
    --------
    >>> float(quantiles(np.array([1.0, 2.0, 7.0]), np.array([1.0, 1.0, 3.0]))[3])
    7.0
    """
    found = np.quantile(values, QUANTILES, method="inverted_cdf", weights=weight)
    return np.asarray(found, dtype=np.float64)


def bare_cable(rows: TableRows, again: Resampled) -> BareCable | None:
    """What the cable without a choke does; ``None`` where no row is without one."""
    bare, ideal = rows.bare, rows.ideal
    if not len(bare):
        return None
    return BareCable(
        share_of(bare, bare.score <= 1, again),
        share_of(bare, bare.score > STRONG, again),
        share_of(ideal, ideal.score > 1, again) if len(ideal) else None,
        dict(zip(QUANTILES, quantiles(bare.score, bare.members.weight).tolist(), strict=True)),
    )


def nothing_by_end(rows: TableRows, again: Resampled) -> dict[str, dict[str, Share]]:
    """Share that needs nothing by the words of each axis that differs on one installation.

    Such as what the radio's case is bonded to; by column and word, where a reader can compare them.
    """
    bare, found = rows.bare, {}
    for trait in bare.traits:
        own = bare.frame[[CLUSTER, trait.name]].dropna()
        words = [str(word) for word in own[trait.name].unique()]
        differs = own.groupby(CLUSTER)[trait.name].nunique().max() if len(own) else 0
        if differs < 2 or not 1 < len(words) <= _WORDS:
            continue
        parts = {word: bare.keep(bare.frame[trait.name].astype(str) == word) for word in words}
        found[trait.name] = {w: share_of(p, p.score <= 1, again) for w, p in parts.items()}
    return found


def grades(rows: TableRows) -> Grades:
    """Grades of all drawings that were scored, each drawing once."""
    scored = rows.scored
    of_cable = set(scored.bare.text("geometry"))
    frame = scored.frame.drop_duplicates(["group", "geometry"])
    by_kind: dict[str, Counter[str]] = {}
    for geometry, kind, grade in zip(frame["geometry"], frame["kind"], frame["grade"], strict=True):
        own = CABLE if geometry in of_cable else str(kind)
        by_kind.setdefault(own, Counter())[str(grade)] += 1
    every = sum(by_kind.values(), Counter())
    return Grades(
        every.total(), _ordered(every), {kind: _ordered(n) for kind, n in by_kind.items()}
    )


def _ordered(counts: Counter[str]) -> dict[str, int]:
    return {grade: counts[grade] for grade in GRADES}


def failures(rows: TableRows) -> Failures:
    """TableRows without a score, and their most frequent causes, the alphabet where they are even.

    A row without a cause whose score is no number counts as one that failed.
    """
    failed = rows.failed
    causes = Counter(cause or _NO_CAUSE for cause in failed.text("cause"))
    most = sorted(causes.items(), key=lambda pair: (-pair[1], pair[0]))[:_CAUSES]
    return Failures(len(failed), len(rows), dict(most))
