"""Which cause makes how much of the scatter of a result.

Samples in, numbers out; knows nothing of studies or antennas.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# A bin holds at least this many samples, else its mean says little.
_SAMPLES_PER_BIN = 8
_MOST_BINS = 32


@dataclass(frozen=True)
class Share:
    """Part of a variance that one cause makes by itself, and what chance alone would show.

    ``noise`` is what causes without any effect all stay below nineteen times in twenty.
    """

    value: float
    noise: float

    @property
    def certain(self) -> bool:
        """Whether it stands out from chance."""
        return self.value > self.noise


def first_order(
    x: NDArray[np.float64], y: NDArray[np.float64], bins: int | None = None, among: int = 1
) -> Share:
    """First-order Sobol index of one cause ``x`` of a result ``y``, (n,) each, from given data.

    Var(E[y | x]) / Var(y), not below zero: the correlation ratio of bins of equal count (default:
    as many as leave eight samples in each, 2 to 32), with Kelley's correction for what the means of
    finite bins scatter by themselves, 1 - (n - 1) / (n - k) SSW / SST. Only the order of ``x``
    counts; ``among`` is how many causes are looked at: chance has that many tries (Bonferroni).

    References
    ----------
    .. [1] E. Plischke, "An effective algorithm for computing global sensitivity indices (EASI)",
       Reliability Engineering and System Safety 95, 2010 (given data; from memory).
    .. [2] T. L. Kelley, "An unbiased correlation ratio measure", PNAS 21, 1935 (from memory).
    """
    n = len(y)
    k = bins or int(np.clip(n // _SAMPLES_PER_BIN, 2, _MOST_BINS))
    order = np.argsort(x, kind="stable")
    return grouped([part for part in np.array_split(y[order], k) if len(part)], among)


def joint(cells: list[NDArray[np.int64]], y: NDArray[np.float64]) -> Share:
    """First-order index of several causes together, from given data; see :func:`first_order`.

    ``cells`` holds for each cause the number (n,), from 0, of the part of its range that a sample
    of the result ``y`` (n,) lies in.
    """
    shape = tuple(int(c.max()) + 1 for c in cells)
    cell = np.ravel_multi_index(tuple(cells), shape)
    order = np.argsort(cell, kind="stable")
    starts = np.flatnonzero(np.diff(cell[order])) + 1
    return grouped(np.split(y[order], starts))


def grouped(groups: list[NDArray[np.float64]], among: int = 1) -> Share:
    """Share of a variance that lies between groups, corrected as in :func:`first_order`."""
    # Shares are read by those who work none out: they load no SciPy.
    from scipy.special import fdtri

    y = np.concatenate(groups)
    n, k = len(y), len(groups)
    total = float(((y - y.mean()) ** 2).sum())
    if total <= 1e-24 * max(1.0, float((y**2).sum())) or not 1 < k < n:
        return Share(0.0, 0.0)
    within = sum(float(((g - g.mean()) ** 2).sum()) for g in groups)
    value = 1 - (n - 1) / (n - k) * within / total
    # The same figure where the F of chance is at its upper twentieth.
    chance = float(fdtri(k - 1, n - k, 1 - 0.05 / among))
    ratio = (k - 1) * chance / (n - k)
    noise = 1 - (n - 1) / (n - k) / (1 + ratio)
    return Share(float(np.clip(value, 0.0, 1.0)), float(noise))
