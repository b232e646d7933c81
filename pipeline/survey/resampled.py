"""Shares of installations and their intervals: a bootstrap over whole installations.

Rows of one installation differ in the radio's end, the choke or its place, and belong together:
what is drawn with replacement is the installation with all its rows. The same draws serve every
number of a group, so that numbers which follow from several of them are in step.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]
# So often installations are drawn again: enough for the ends of a 95 % interval (Efron and
# Tibshirani 1993, section 13.3: a thousand at least).
REPEATS = 2000
# Ends of an interval.
ENDS = (0.025, 0.975)
# Where the draws begin, so that equal tables have equal intervals.
_START = 1993
# Draws are summed so many at a time, to bound the memory.
_AT_A_TIME = 250


@dataclass(frozen=True)
class Share:
    """Part of some rows in which something holds, its 95 % interval, and of how many it is.

    ``rows`` are those that count, ``installations`` how many they are of.
    """

    value: float
    low: float
    high: float
    rows: int
    installations: int


@dataclass(frozen=True, eq=False)
class Members:
    """Of which installation each row is, its number ``cluster``, and its ``weight``, (n,) each."""

    cluster: NDArray[np.int64]
    weight: Real

    def __len__(self) -> int:
        return len(self.cluster)

    def keep(self, rows: NDArray[np.bool_]) -> Members:
        """Those of some rows."""
        return Members(self.cluster[rows], self.weight[rows])

    @property
    def numbers(self) -> NDArray[np.int64]:
        """Numbers of the installations, each once and in order."""
        return np.unique(self.cluster)


@dataclass(frozen=True, eq=False)
class Resampled:
    """Installations, drawn again with replacement :data:`REPEATS` times.

    ``numbers`` are theirs, each once and in order, (n,).

    References
    ----------
    .. [1] B. Efron and R. Tibshirani, "An Introduction to the Bootstrap", 1993, ch. 13
       (percentile interval).
    .. [2] A. C. Davison and D. V. Hinkley, "Bootstrap Methods and their Application", 1997,
       section 3.8 (data in clusters: clusters are drawn, each with all that it holds).
    """

    numbers: NDArray[np.int64]

    @cached_property
    def _times(self) -> NDArray[np.uint16]:
        """How often each installation is in each draw, (REPEATS, n)."""
        count = len(self.numbers)
        drawn = np.random.default_rng(_START)
        return drawn.multinomial(count, np.full(count, 1 / count), REPEATS).astype(np.uint16)

    def totals(self, values: NDArray[Any], members: Members) -> Real:
        """Weighted sum of the values of rows over each installation, (n,)."""
        place = np.searchsorted(self.numbers, members.cluster)
        weighted = members.weight * np.asarray(values, dtype=float)
        return np.bincount(place, weighted, len(self.numbers)).astype(np.float64)

    def sums(self, totals: Real) -> Real:
        """Sums over each draw of totals by installation, (n, k) in, (REPEATS, k) out."""
        blocks = (self._times[k : k + _AT_A_TIME] for k in range(0, REPEATS, _AT_A_TIME))
        return np.concatenate([block @ totals for block in blocks])

    def ratios(self, parts: Real, wholes: Real) -> Real:
        """Sum of parts over sum of wholes in each draw, (n, k) in, (REPEATS, k) out.

        Not a number in a draw that has none of them.
        """
        above, below = self.sums(parts), self.sums(wholes)
        return np.divide(above, below, out=np.full_like(above, np.nan), where=below > 0)

    def share(self, held: NDArray[np.bool_], members: Members) -> Share:
        """Share of rows in which something held, with its interval.

        Where all installations agree no draw differs, and the interval's other end is the exact
        one of so many independent trials.

        References
        ----------
        .. [1] C. Clopper and E. Pearson, "The use of confidence or fiducial limits", Biometrika 26,
           1934: (alpha / 2)^(1/n) for n of n.
        """
        parts, wholes = self.totals(held, members), self.totals(np.ones(len(held)), members)
        present = int(np.count_nonzero(wholes))
        value = float(parts.sum() / wholes.sum())
        again = self.ratios(parts[:, None], wholes[:, None])
        low, high = (float(end) for end in np.nanquantile(again, ENDS))
        certain = ENDS[0] ** (1 / present)
        if held.all():
            value, low = 1.0, certain
        elif not held.any():
            high = 1 - certain
        return Share(value, low, high, len(held), present)
