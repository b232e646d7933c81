"""Pieces into bars of stock, the kerf counted: longest first, each into the first that fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Bar:
    """A bar of stock and the indices of what is cut from it, in order; ``waste`` [m] is left."""

    pieces: tuple[int, ...]
    waste: float


def nest(lengths: Sequence[float], bar: float, kerf: float) -> tuple[Bar, ...]:
    """Bars that hold all pieces (first-fit decreasing).

    Parameters
    ----------
    lengths : sequence of float
        Pieces. [m]
    bar : float
        Length that stock is sold in. [m]
    kerf : float
        Width of one cut. [m]

    Returns
    -------
    tuple of Bar
        Every piece once. A bar of n pieces takes n cuts, or one less where nothing is left.

    Raises
    ------
    ValueError
        If a piece is longer than a bar.

    References
    ----------
    .. [1] D. S. Johnson, Near-optimal bin packing algorithms, MIT, 1973: first-fit decreasing
       takes at most 11/9 of the fewest bars, and four more.

    Examples
    --------
    >>> [b.pieces for b in nest([1.5, 1.4, 0.5, 0.1], 3.0, 0.002)]
    [(0, 1), (2, 3)]
    """
    if any(length > bar + 1e-9 for length in lengths):
        raise ValueError("a piece is longer than a bar")
    bins: list[list[int]] = []
    used: list[float] = []
    for index in sorted(range(len(lengths)), key=lambda i: (-lengths[i], i)):
        length = lengths[index]
        place = next((k for k, full in enumerate(used) if full + kerf + length <= bar + 1e-9), None)
        if place is None:
            bins.append([index])
            used.append(length)
        else:
            bins[place].append(index)
            used[place] += kerf + length
    return tuple(
        Bar(tuple(held), max(0.0, bar - full - kerf)) for held, full in zip(bins, used, strict=True)
    )
