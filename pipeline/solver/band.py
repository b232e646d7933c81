"""A port matrix over a band from the few frequencies that were solved, and how sure that is.

Port matrices at a few frequencies in; at any frequency between them, with an estimate of the error,
out. Every entry of the matrix is one rational function of frequency with the poles of all, so what
symmetry the solves have is kept, and a resonance of the installation is one pole and no ripple.

The order of the rational function is the one that misses least where each solved frequency in turn
is left out. A left-out frequency is missed by several times what the whole is off by
(tests/solver/test_band.py holds the estimate against solves between).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.runtime.store import read_arrays_as, write_arrays

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# Frequencies at which tables, files and curves over a band are told.
TOLD = 201
# So many are solved first; more where the error asks for it.
FIRST = 4
# Error of the impedance at the feed up to which no more is solved. [-]
TARGET = 1e-3
# A frequency that is left out is missed by so many times the error of the whole. Measured here: 2
# to 30 times on 27 drawings; wherever the target was met the whole was within it.
_MISSED = 3.0
# Poles that all entries share, at most.
_MOST_POLES = 2


@dataclass(frozen=True)
class BandBasis:
    """Port matrix of a geometry over the band: ``y_port`` (n_f, n_port, n_port) [S].

    ``structure`` has the ports that candidates need; ``centre`` is the index of the design
    frequency in ``frequency`` (n_f,) [Hz]; ``solved`` [Hz] are those that were solved, ``y_solved``
    (n_solved, n_port, n_port) [S] what was, ``share`` (n_f, n_solved) the part that each has at
    every frequency; ``error`` is what the impedance at the feed may be off by between them. [-]
    """

    structure: Structure
    frequency: Real
    centre: int
    y_port: Complex
    solved: Real
    y_solved: Complex
    share: Complex
    error: float


@dataclass(frozen=True)
class Span:
    """Band of a study: its ends, the design frequency in it, and how many solves it may take.

    ``low``, ``high`` and ``design`` [Hz]; ``most`` frequencies are solved, the design one included.
    """

    low: float
    high: float
    design: float
    most: int

    def told(self) -> tuple[Real, int]:
        """Even grid of the frequencies that are told, and the index of the design frequency. [Hz]

        The point nearest to the design frequency is moved onto it. Never fewer than are solved.
        """
        grid = np.linspace(self.low, self.high, max(TOLD, self.most))
        centre = int(np.argmin(np.abs(grid - self.design)))
        grid[centre] = self.design
        return grid, centre

    def first(self) -> Real:
        """Frequencies that are solved before any error is known, rising. [Hz]

        The points of Chebyshev, the nearest one moved onto the design frequency; that alone where
        the band has no width.

        References
        ----------
        .. [1] L. N. Trefethen, "Approximation Theory and Approximation Practice", 2013, ch. 2.

        Examples
        --------
        >>> Span(144e6, 146e6, 145e6, 9).first().round(-3).tolist()
        [144076000.0, 145000000.0, 145383000.0, 145924000.0]
        """
        if not self.high > self.low:
            return np.array([self.design])
        count = min(FIRST, self.most)
        points = -np.cos(np.pi * (2 * np.arange(count) + 1) / (2 * count))
        found = 0.5 * (self.low + self.high) + 0.5 * (self.high - self.low) * points
        # Of two that are as near the lower one, whatever rounding says.
        found[int(np.argmin(np.abs(found - self.design).round(3)))] = self.design
        return np.asarray(np.sort(found))

    def next(self, solved: Real) -> float:
        """Frequency that tells most beside those that are solved. [Hz]

        Where the product of the distances to all of them is largest (points of Leja, 1957; after
        Trefethen, "Approximation Theory and Approximation Practice", 2013, ch. 5).

        Examples
        --------
        >>> Span(0.0, 1.0, 0.5, 9).next(np.array([0.0, 1.0]))
        0.5
        """
        tried = np.linspace(self.low, self.high, TOLD)
        apart = np.abs(tried[:, None] - solved) / (self.high - self.low)
        return float(tried[int(np.argmax(np.prod(apart, axis=1)))])


@dataclass(frozen=True)
class _Rational:
    """Barycentric form of a rational function through all points: places and weights, (n,)."""

    place: Real
    weight: Complex

    def __call__(self, values: Complex, at: Real) -> Complex:
        """Values (n, ...) of the points carried to other places, shape (n_at, ...)."""
        apart = at[:, None] - self.place
        hit = apart == 0
        share = self.weight / np.where(hit, 1.0, apart)
        share /= share.sum(axis=1, keepdims=True)
        share = np.where(hit.any(axis=1, keepdims=True), hit, share)
        return np.asarray(np.tensordot(share, values, axes=1))


def _through(place: Real, values: Complex, poles: int) -> _Rational:
    """Rational function through all points, with so many poles that all entries share.

    Notes
    -----
    The interpolant with weights w q(z), w those of the polynomial, has the denominator q. Its
    coefficients are those for which the highest divided differences of q times the values vanish
    best, all entries together: the smallest singular vector of their conditions.

    References
    ----------
    .. [1] Y. Nakatsukasa, O. Sete, L. N. Trefethen, "The AAA algorithm for rational
       approximation", SIAM J. Sci. Comput. 40, 2018, A1494 (barycentric form, weights by least
       squares).
    .. [2] C. Schneider and W. Werner, "Some new aspects of rational interpolation", Math. Comp.
       47, 1986, pp. 285-299.
    """
    apart = place[:, None] - place
    np.fill_diagonal(apart, 1.0)
    plain = 1 / np.prod(apart, axis=1)
    if not poles:
        return _Rational(place, plain.astype(complex))
    flat = values.reshape(len(place), -1)
    powers = place ** np.arange(2 * poles)[:, None] * plain
    sums = powers @ flat
    rows = np.concatenate([sums[k : k + poles + 1].T for k in range(poles)])
    q = np.linalg.svd(rows, full_matrices=False)[2][-1].conj()
    return _Rational(place, plain * np.polyval(q[::-1], place))


def _feed_impedances(y_port: Complex, feed: int) -> Complex:
    """Impedance at the feed, all other ports shorted and each of them open, (n_f, n_port). [ohm]

    Whatever hangs on the ports lies between. Definition: elimination of the open port.
    """
    own = np.einsum("npp->np", y_port)
    taken = y_port[:, feed, :] * y_port[:, :, feed] / own
    taken[:, feed] = 0.0
    return np.asarray(1 / (y_port[:, feed, feed, None] - taken))


def _missed(place: Real, y_port: Complex, feed: int, poles: int) -> float:
    """Largest relative error of the feed's impedance where a point is left out. [-]

    The outermost points are kept: beyond the others nothing is told. Infinite for two points.
    """
    if len(place) < 3:
        return float("inf")
    found = 0.0
    for k in np.argsort(place)[1:-1]:
        rest = np.arange(len(place)) != k
        told = _through(place[rest], y_port[rest], poles)(y_port[rest], place[k : k + 1])
        z, true = _feed_impedances(told, feed), _feed_impedances(y_port[k : k + 1], feed)
        found = max(found, float(np.max(np.abs(z / true - 1))))
    return found


def over_band(structure: Structure, span: Span, solved: Real, y_solved: Complex) -> BandBasis:
    """Port matrix at the frequencies that are told, from those at ``solved`` (n,). [Hz]

    ``y_solved`` (n, n_port, n_port) [S]. The error is infinite where two frequencies or fewer are
    solved of a band that has a width.
    """
    told, centre = span.told()
    share, error = np.ones((len(told), 1), complex), 0.0
    if span.high > span.low:
        share, error = _shares(structure, span, solved, y_solved)
    y_told = np.tensordot(share, y_solved[: share.shape[1]], axes=1)
    return BandBasis(structure, told, centre, y_told, solved, y_solved, share, error)


def _shares(
    structure: Structure, span: Span, solved: Real, y_solved: Complex
) -> tuple[Complex, float]:
    """Part of every solved frequency at those that are told, and the error between them."""
    told, _ = span.told()
    place, at = ((2 * f - span.low - span.high) / (span.high - span.low) for f in (solved, told))
    feed = structure.port_index("feed")
    orders = range(min(_MOST_POLES, max(0, len(solved) - 3)) + 1)
    missed = {n: _missed(place, y_solved, feed, n) for n in orders}
    best = min(missed, key=lambda n: missed[n])
    share = _through(place, y_solved, best)(np.eye(len(solved), dtype=complex), at)
    return np.asarray(share), missed[best] / _MISSED


def solve_band(
    structure: Structure, span: Span, y_design: Complex, y_at: Callable[[Real], Complex]
) -> tuple[Real, Complex]:
    """Frequencies of a band and the port matrices there, solved until the error is small.

    ``y_design`` (n_port, n_port) [S] is known; ``y_at`` solves others, (n, n_port, n_port). Not
    more than the band may take: then its error says how far that has come.
    """
    solved = span.first()
    y_solved = np.empty((len(solved), *y_design.shape), complex)
    known = solved == span.design
    y_solved[known], y_solved[~known] = y_design, y_at(solved[~known])
    while len(solved) < span.most and over_band(structure, span, solved, y_solved).error > TARGET:
        more = np.array([span.next(solved)])
        order = np.argsort(np.append(solved, more))
        y_solved = np.concatenate([y_solved, y_at(more)])[order]
        solved = np.append(solved, more)[order]
    return solved, y_solved


def save_band(path: Path, solved: Real, y_solved: Complex) -> None:
    """Write what is solved of a band, whole; arguments as :func:`over_band` has them."""
    write_arrays(path, {"frequency": solved, "y_port": y_solved})


def load_band(path: Path, structure: Structure, span: Span) -> BandBasis:
    """Read what is solved of a band and carry it over all of it."""
    return read_arrays_as(path, lambda a: over_band(structure, span, a["frequency"], a["y_port"]))
