"""Convergence of a number as segments get shorter: arrays in, orders, limits and words out.

An extrapolated value is given only where the sequence earns it. A point-matching solver with fat
wires often does not settle: then the range it moves in is all that can honestly be said.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Kind = Literal["still", "settles", "moves", "short", "untested"]

# What makes a sequence one that settles: this many values at least, every observed order in this
# range, and no two orders further apart than this: else it is not one power of segment length.
FEWEST_VALUES = 4
ORDERS = (0.5, 4.0)
ORDER_SPREAD = 1.0
# Roache's factor for three grids or more.
SAFETY = 1.25
# Beyond this an order says only that two values are all but equal.
_LARGEST_ORDER = 60.0


def observed_orders(
    lengths: NDArray[np.float64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Order p in value = limit + C h^p, from every three neighbours of a sequence. [-]

    ``lengths`` (n,) [m] are mean segment lengths, falling, ``values`` (n,) what was computed with
    them; shape (n - 2,), negative where the steps grow, not a number where they change direction or
    vanish.

    Notes
    -----
    The steps e32 (coarse) and e21 (fine) give e32 / e21 = (h3^p - h2^p) / (h2^p - h1^p), which
    rises with p, so that there is one root. The published fixed-point form has the same root
    where p is positive.

    References
    ----------
    .. [1] I. B. Celik et al., "Procedure for estimation and reporting of uncertainty due to
       discretization in CFD applications", J. Fluids Eng. 130, 078001, 2008, eq. 3.

    Examples
    --------
    >>> h = np.array([4.0, 2.0, 1.0])
    >>> observed_orders(h, 10 + 0.4 * h**2).round(6).tolist()
    [2.0]
    >>> observed_orders(h, np.array([1.0, 2.0, 1.5])).tolist()
    [nan]
    """
    h, v = np.asarray(lengths, float), np.asarray(values, float)
    return np.array([_order(h[k : k + 3], v[k : k + 3]) for k in range(len(h) - 2)])


def _order(h: NDArray[np.float64], v: NDArray[np.float64]) -> float:
    from scipy.optimize import brentq

    coarse, fine = v[0] - v[1], v[1] - v[2]
    if coarse == 0 or fine == 0 or (coarse > 0) != (fine > 0):
        return np.nan
    a, b = np.log(h[1] / h[2]), np.log(h[0] / h[1])
    wanted = np.log(coarse / fine)

    def excess(p: float) -> float:
        ratio = np.expm1(p * b) / np.expm1(p * a) if p else b / a
        return float(p * a + np.log(ratio) - wanted)

    if excess(_LARGEST_ORDER) < 0:
        return np.inf
    if excess(-_LARGEST_ORDER) > 0:
        return -np.inf
    return float(brentq(excess, -_LARGEST_ORDER, _LARGEST_ORDER))


def extrapolated(
    lengths: NDArray[np.float64], values: NDArray[np.float64], order: float
) -> tuple[float, float]:
    """Value at vanishing segment length, and the uncertainty of the finest value.

    Both in the unit of the values, from the two finest of them; ``order`` is that of convergence.

    References
    ----------
    .. [1] P. J. Roache, "Perspective: a method for uniform reporting of grid refinement
       studies", J. Fluids Eng. 116, 1994, pp. 405-413.

    Examples
    --------
    >>> h = np.array([4.0, 2.0, 1.0])
    >>> [round(x, 6) for x in extrapolated(h, 10 + 0.4 * h**2, 2.0)]
    [10.0, 0.5]
    """
    shrink = (lengths[-2] / lengths[-1]) ** order - 1
    step = float(values[-1] - values[-2])
    return float(values[-1] + step / shrink), float(SAFETY * abs(step) / shrink)


@dataclass(frozen=True)
class Settling:
    """Behaviour of a sequence as segments get shorter.

    ``low`` and ``high`` bound all values; ``order``, ``limit`` and ``uncertainty`` are not
    numbers unless ``kind`` is "settles".
    """

    kind: Kind
    low: float
    high: float
    order: float = np.nan
    limit: float = np.nan
    uncertainty: float = np.nan


def settling(
    lengths: NDArray[np.float64],
    values: NDArray[np.float64],
    resolution: float,
    drawn: float = np.inf,
) -> Settling:
    """Judgement of a sequence, coarse to fine.

    A range up to ``resolution`` is no change worth a word, in the unit of the values; ``drawn`` [m]
    is the length that the result is computed with: coarser ones alone say nothing about it.

    "untested" if no length is shorter than ``drawn``; "settles" if the finest four values at least
    are monotonic with orders of one size, the longest such end of the sequence taken; "still" if it
    moves by no more than ``resolution``; "short" if there are too few values to tell; else "moves".

    Examples
    --------
    >>> h = 0.8 ** np.arange(5)
    >>> settling(h, 50 + 3 * h, 0.1).kind, settling(h, 50 + 0.01 * h, 0.1).kind
    ('settles', 'still')
    >>> settling(h, np.array([1.0, 2.0, 1.0, 2.0, 1.0]), 0.1).kind
    'moves'
    >>> settling(np.array([1.25, 1.0]), np.array([50.0, 50.0]), 0.1, drawn=1.0).kind
    'untested'
    """
    low, high = float(np.min(values)), float(np.max(values))
    if not np.min(lengths) < drawn:
        return Settling("untested", low, high)
    if high - low <= resolution:
        return Settling("still", low, high)
    if len(values) < FEWEST_VALUES:
        return Settling("short", low, high)
    orders = observed_orders(lengths, values)
    for first in range(len(orders) - (FEWEST_VALUES - 3)):
        tail = orders[first:]
        # Compared this way round so that what is not a number fails.
        within = np.all((tail >= ORDERS[0]) & (tail <= ORDERS[1]))
        if within and np.ptp(tail) <= ORDER_SPREAD:
            order = float(tail[-1])
            return Settling("settles", low, high, order, *extrapolated(lengths, values, order))
    return Settling("moves", low, high)


def settling_words(found: Settling, shown: Callable[[float], str]) -> str:
    """Behaviour of a sequence in words; ``shown`` writes a number with its unit.

    Examples
    --------
    >>> settling_words(Settling("moves", 53.2, 53.7), "{:.1f} Ω".format)
    'does not settle: moves between 53.2 Ω and 53.7 Ω'
    """
    low, high = shown(found.low), shown(found.high)
    match found.kind:
        case "untested":
            return "not tested"
        case "still":
            return "does not move"
        case "short":
            return f"too few refinements to judge: between {low} and {high}"
        case "settles":
            return (
                f"settles towards {shown(found.limit)}, give or take {shown(found.uncertainty)} "
                f"(order {found.order:.1f})"
            )
        case _:
            return f"does not settle: moves between {low} and {high}"
