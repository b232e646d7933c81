"""Bands of results that scatter, and which cause makes how much of the scatter.

Samples in, numbers out; knows nothing of studies or antennas.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtri

PERCENTILES = (5.0, 50.0, 95.0)
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


@dataclass(frozen=True)
class Band:
    """Percentiles of a result and its largest value, each percentile with its standard error."""

    p5: float
    p50: float
    p95: float
    worst: float
    error_p5: float
    error_p50: float
    error_p95: float


def resampled(
    samples: NDArray[np.float64],
    statistic: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    seed: int,
    repeats: int = 100,
) -> NDArray[np.float64]:
    """Standard error (m,) of a statistic of clustered samples, by a bootstrap over the clusters.

    ``samples`` has shape (n_cluster, n_each): those of one cluster (one geometry) share what they
    have in common. ``statistic`` makes numbers (m,) of all samples (n,); clusters are drawn
    ``repeats`` times again.

    References
    ----------
    .. [1] B. Efron and R. Tibshirani, "An Introduction to the Bootstrap", 1993, ch. 6 and 8.

    Examples
    --------
    >>> same = np.ones((4, 8))
    >>> resampled(same, lambda values: np.array([values.mean()]), 1).tolist()
    [0.0]
    """
    rng = np.random.default_rng(seed)
    n = len(samples)
    found = [statistic(samples[rng.integers(0, n, n)].ravel()) for _ in range(repeats)]
    return np.asarray(np.std(found, axis=0, ddof=1))


def band(samples: NDArray[np.float64], worst_is_low: bool, seed: int) -> Band:
    """Bands of clustered samples, shape (n_cluster, n_each); see :func:`resampled`."""

    def percentiles(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.percentile(values, PERCENTILES))

    worst = samples.min() if worst_is_low else samples.max()
    low, middle, high = (float(p) for p in percentiles(samples.ravel()))
    errors = resampled(samples, percentiles, seed)
    return Band(low, middle, high, float(worst), *(float(e) for e in errors))
