"""Search for a match over a few lengths: reflection coefficients in, best lengths and slopes out.

Knows no study and no solver: a function gives the reflection coefficient.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pipeline.circuit.line import swr

# Residual per share of its start by which a further variable has moved. A tenth off costs as much
# as a standing wave of 1.02, so it moves where the first two cannot do it alone.
_PULL = 0.1
# Two residuals settle two variables; any more are held near their start.
_SETTLED = 2
# A slope is taken over this share of a length, or one cutting error where that is more.
_SLOPE_STEP = 0.005
# Steps smaller than this share of a length change nothing that a builder could cut.
_SMALLEST_STEP = 5e-4
# Nor does a step that takes less than this share off the square of the reflection.
_SMALLEST_GAIN = 5e-3

Values = tuple[float, ...]
GammaAt = Callable[[Values], complex | None]


class OutOfSolvesError(Exception):
    """The allowed number of field solves is used up."""


class _Matched(Exception):  # noqa: N818
    """Ends the search: what was found is good enough."""


@dataclass(frozen=True)
class Variable:
    """A length that may be changed: where it starts, its limits, how well it can be made.

    ``step`` is an honest cutting error; values are rounded to a tenth of it. All in one unit.
    """

    name: str
    start: float
    low: float
    high: float
    step: float

    @property
    def grid(self) -> float:
        """Step that values are rounded to."""
        return self.step / 10

    def rounded(self, value: float) -> float:
        """The nearest value that is kept, inside the limits."""
        n = round(min(max(value, self.low), self.high) / self.grid)
        # The decimal that a study would write, to the last bit.
        return float(f"{n * self.grid:.12g}")


@dataclass(frozen=True)
class Trial:
    """One set of values and the reflection coefficient there."""

    values: Values
    gamma: complex


@dataclass(frozen=True)
class Search:
    """Outcome of a search.

    ``slopes`` holds the derivative of the reflection coefficient for each variable at the best
    trial, per unit of the variable; not a number where none could be found. ``ended`` is why it
    stopped: "matched", "settled" (no step makes it better) or "out of solves".
    """

    trials: tuple[Trial, ...]
    best: Trial
    slopes: tuple[complex, ...]
    ended: str
    refused: int


class _Trials:
    """Residuals for the optimiser; keeps every trial."""

    def __init__(self, gamma_at: GammaAt, variables: Sequence[Variable], aim: float) -> None:
        self._gamma_at = gamma_at
        self.variables = tuple(variables)
        self._aim = aim
        self.start = np.array([v.start for v in variables])
        self.scale = np.array([max(abs(v.start), v.step) for v in variables])
        self.trials: dict[Values, complex] = {}
        self.refused: set[Values] = set()
        self.slopes: NDArray[np.complex128] | None = None
        self.slopes_at: Values = ()

    def values(self, u: NDArray[np.float64]) -> Values:
        return tuple(v.rounded(x) for v, x in zip(self.variables, u * self.scale, strict=True))

    def gamma(self, values: Values) -> complex | None:
        if values in self.trials:
            return self.trials[values]
        if values in self.refused:
            return None
        gamma = self._gamma_at(values)
        if gamma is None:
            self.refused.add(values)
        else:
            self.trials[values] = gamma
        return gamma

    def residuals(self, u: NDArray[np.float64]) -> NDArray[np.float64]:
        values = self.values(u)
        gamma = self.gamma(values)
        pull = _PULL * (np.array(values) - self.start)[_SETTLED:] / self.scale[_SETTLED:]
        if gamma is None:
            # The optimiser takes what is not finite as a step too long and shortens it.
            return np.full(2 + len(pull), np.nan)
        if abs(gamma) <= self._aim:
            raise _Matched
        return np.concatenate([[gamma.real, gamma.imag], pull])

    def slopes_near(self, values: Values) -> NDArray[np.complex128]:
        """Differences of the reflection coefficient, one way or the other where one is refused."""
        here = self.gamma(values)
        found = np.full(len(values), np.nan + 0j)
        for k, v in enumerate(self.variables):
            h = max(v.step, _SLOPE_STEP * self.scale[k])
            for way in (h, -h) if values[k] + h <= v.high else (-h, h):
                moved = (*values[:k], v.rounded(values[k] + way), *values[k + 1 :])
                there = None if moved[k] == values[k] else self.gamma(moved)
                if there is not None and here is not None:
                    found[k] = (there - here) / (moved[k] - values[k])
                    break
        self.slopes, self.slopes_at = found, values
        return found

    def jacobian(self, u: NDArray[np.float64]) -> NDArray[np.float64]:
        slopes = np.nan_to_num(self.slopes_near(self.values(u))) * self.scale
        n = len(slopes)
        pull = _PULL * np.eye(n)[_SETTLED:]
        return np.vstack([slopes.real, slopes.imag, pull])

    def best(self) -> Trial:
        return min((Trial(v, g) for v, g in self.trials.items()), key=lambda t: abs(t.gamma))


def search(gamma_at: GammaAt, variables: Sequence[Variable], aim: float) -> Search:
    """Values of the variables that bring a reflection coefficient to nothing.

    Parameters
    ----------
    gamma_at : callable
        Values to the reflection coefficient; None where they cannot be built. May raise
        :class:`OutOfSolvesError`.
    variables : sequence of Variable
        The first two are free; further ones are held near their start by a weak pull.
    aim : float
        Magnitude of the reflection coefficient that is good enough. [-]

    Raises
    ------
    ValueError
        If the start itself cannot be built.

    Notes
    -----
    Least squares over both parts of the reflection coefficient with a dog-leg step in a
    rectangular trust region and bounds, slopes by differences. Once slopes were taken, later
    trials correct them by Broyden's rule, so that those at the best trial cost no more solves.

    References
    ----------
    .. [1] C. Voglis, I. E. Lagaris, "A rectangular trust region dogleg approach for
       unconstrained and bound constrained nonlinear optimization", WSEAS Int. Conf. on Applied
       Mathematics, 2004 (the method "dogbox" of scipy.optimize.least_squares).
    .. [2] C. G. Broyden, "A class of methods for solving nonlinear simultaneous equations",
       Math. Comp. 19, 1965, eq. 4.5 (from memory).

    Examples
    --------
    >>> def gamma_at(values):
    ...     return complex(values[0] - 0.4, 2 * (values[1] - 0.05))
    >>> found = search(gamma_at, (Variable("a", 0.5, 0.1, 1.0, 1e-3),
    ...                           Variable("b", 0.06, 0.01, 0.2, 1e-3)), 1e-6)
    >>> [round(v, 4) for v in found.best.values], found.ended
    ([0.4, 0.05], 'matched')
    """
    tried = _Trials(gamma_at, variables, aim)
    begin = tried.values(tried.start / tried.scale)
    if tried.gamma(begin) is None:
        raise ValueError("the start of a search must be something that can be built")
    ended = _descend(tried)
    slopes = _slopes_at_best(tried)
    return Search(
        tuple(Trial(v, g) for v, g in tried.trials.items()),
        tried.best(),
        tuple(complex(s) for s in slopes),
        ended,
        len(tried.refused),
    )


def _descend(tried: _Trials) -> str:
    """Run the optimiser until it is matched, settled or out of solves."""
    from scipy.optimize import least_squares

    low = np.array([v.low for v in tried.variables]) / tried.scale
    high = np.array([v.high for v in tried.variables]) / tried.scale
    begin = np.clip(tried.start / tried.scale, low + 1e-6, high - 1e-6)
    try:
        least_squares(
            tried.residuals,
            begin,
            jac=tried.jacobian,
            bounds=(low, high),
            method="dogbox",
            xtol=_SMALLEST_STEP,
            ftol=_SMALLEST_GAIN,
            gtol=1e-6,
        )
    except _Matched:
        return "matched"
    except OutOfSolvesError:
        return "out of solves"
    return "settled"


def _slopes_at_best(tried: _Trials) -> NDArray[np.complex128]:
    """Slopes at the best trial: those found on the way, corrected by the trials since."""
    best = tried.best().values
    if tried.slopes is None:
        try:
            return tried.slopes_near(best)
        except OutOfSolvesError:
            return np.full(len(best), np.nan + 0j)
    slopes, at = tried.slopes.copy(), tried.slopes_at
    order = list(tried.trials)
    for values in [*order[order.index(at) + 1 :], best]:
        moved = (np.array(values) - np.array(at)) / tried.scale
        if np.count_nonzero(moved) < 1:
            continue
        off = tried.trials[values] - tried.trials[at] - (slopes * tried.scale) @ moved
        if np.isfinite(off):
            slopes = slopes + off * moved / (moved @ moved) / tried.scale
    return np.asarray(slopes)


def swr_of(gamma: complex) -> float:
    """Standing-wave ratio of a reflection coefficient; none is taken above 0.999. Definition.

    Examples
    --------
    >>> round(swr_of(0.2), 3)
    1.5
    """
    return float(swr(min(abs(gamma), 0.999)))


def gamma_of_swr(ratio: float) -> float:
    """Magnitude of the reflection coefficient of a standing-wave ratio. Definition.

    Examples
    --------
    >>> round(gamma_of_swr(1.5), 3)
    0.2
    """
    return (ratio - 1) / (ratio + 1)


def match_shift(slope: complex, slope_f: complex) -> float:
    """Shift of the frequency of the best match with a variable. [Hz/unit]

    ``slope`` [1/unit] and ``slope_f`` [1/Hz] are derivatives of the reflection coefficient for the
    variable and for the frequency.

    Notes
    -----
    Near a match the reflection coefficient is linear in both, and |g + s dv + t df| is least at
    df = -Re(t* (g + s dv)) / |t|^2. Measured here: tests/design/test_tuning.py, on a line stub in
    closed form and by solves of the band.

    Examples
    --------
    >>> round(match_shift(-20 + 5j, 1e-7 + 0j) / 1e6, 6)
    200.0
    """
    return float(-(np.conj(slope_f) * slope).real / abs(slope_f) ** 2)


def expected_swr(gamma: complex, slopes: Sequence[complex], steps: Sequence[float]) -> float:
    """Standing-wave ratio to expect when every length is off by its step, either way alike.

    The mean square of the reflection coefficient is that without errors plus those of all: the
    law of propagation for errors that know nothing of each other.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), eq. 10.

    Examples
    --------
    >>> round(expected_swr(0.0, [10.0, 20.0j], [1e-3, 1e-3]), 3)
    1.046
    """
    spread = sum(abs(s * h) ** 2 for s, h in zip(slopes, steps, strict=True))
    return swr_of(complex(np.sqrt(abs(gamma) ** 2 + spread)))


def worst_swr(gamma: complex, slopes: Sequence[complex], steps: Sequence[float]) -> float:
    """The largest standing-wave ratio when every length is off by its step one way or the other.

    Definition, over all combinations; the reflection coefficient is linear in the lengths.

    Examples
    --------
    >>> round(worst_swr(0.01, [10.0], [1e-3]), 3)
    1.041
    """
    moved = [s * h for s, h in zip(slopes, steps, strict=True)]
    return max(
        swr_of(gamma + sum(w * m for w, m in zip(ways, moved, strict=True)))
        for ways in product((1, -1), repeat=len(moved))
    )
