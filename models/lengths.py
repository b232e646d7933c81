"""Lengths as people read them, metric or in feet and inches: the one place that words them.

Which of the two is a matter of who reads: :func:`lengths_in` sets it for all texts made inside it.
Metres come in; nothing here changes a value.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from fractions import Fraction
from typing import Literal

System = Literal["metric", "imperial"]
Rounding = Literal["nearest", "up", "down"]

METRE_PER_INCH = 0.0254
INCHES_PER_FOOT = 12
# Parts of an inch that pipe is sawn to, and that a mark is set to with a rule.
SAWN, MARKED = 16, 32
# From so many inches on a length is told in feet and inches.
_FEET_FROM = 6 * INCHES_PER_FOOT
_SYSTEM: ContextVar[System] = ContextVar("lengths", default="metric")


@contextmanager
def lengths_in(system: System) -> Iterator[None]:
    """Word all lengths in one system of units for the time being.

    Examples
    --------
    >>> with lengths_in("imperial"):
    ...     print(small(0.0508), large(6.096))
    2 in 20 ft
    """
    token = _SYSTEM.set(system)
    try:
        yield
    finally:
        _SYSTEM.reset(token)


def system() -> System:
    """The system that lengths are worded in now."""
    return _SYSTEM.get()


def small(length: float, decimals: int | None = 0, rounding: Rounding = "nearest") -> str:
    """A length of a part, in millimetres or inches. [m in, text out]

    Parameters
    ----------
    length : float
        [m]
    decimals : int or None
        Of the millimetres; inches have two more. None: as many as it has, to four digits.
    rounding : str
        "up" for the least that will do, "down" for the most.

    Examples
    --------
    >>> small(0.0333), small(0.0333, 1), small(0.0127, None), small(0.0331, 0, "up")
    ('33 mm', '33.3 mm', '12.7 mm', '34 mm')
    >>> with lengths_in("imperial"):
    ...     small(0.0333), small(1.4732), small(0.0127, None), small(0.0331, 0, "up")
    ('1.31 in', '58 in', '0.5 in', '1.31 in')
    """
    if _SYSTEM.get() == "metric":
        return f"{_number(1e3 * length, decimals, rounding)} mm"
    finer = None if decimals is None else decimals + 2
    return f"{_trimmed(length / METRE_PER_INCH, finer, rounding)} in"


def large(length: float, decimals: int | None = 2, rounding: Rounding = "nearest") -> str:
    """A distance, in metres or in feet and inches. [m in, text out]

    Parameters
    ----------
    length : float
        [m]
    decimals : int or None
        Of the metres. Inches have one less, feet are told with whole ones. None: as many as it
        has.
    rounding : str
        "up" for the least that will do, "down" for the most.

    Examples
    --------
    >>> large(6.096), large(8.0, None), large(0.25)
    ('6.10 m', '8 m', '0.25 m')
    >>> with lengths_in("imperial"):
    ...     large(6.096), large(8.0, None), large(0.25), large(-2.5, 1)
    ('20 ft', '26 ft 3 in', '9.8 in', '-8 ft 2 in')
    """
    if _SYSTEM.get() == "metric":
        return f"{_number(length, decimals, rounding)} m"
    inches = length / METRE_PER_INCH
    if abs(inches) < _FEET_FROM:
        # Three digits, where all are wanted: a tape shows no more.
        short = (
            f"{inches:.3g}"
            if decimals is None
            else _trimmed(inches, max(0, decimals - 1), rounding)
        )
        return f"{short} in"
    return _feet(int(_rounded(inches, 0, rounding)))


def both(length: float, decimals: int = 1, rounding: Rounding = "nearest") -> str:
    """A length of a part in the system of now, and in the other one behind it. [m in, text out]

    Examples
    --------
    >>> both(0.055)
    '55.0 mm (2.165 in)'
    >>> with lengths_in("imperial"):
    ...     both(0.0508)
    '2 in (50.8 mm)'
    """
    own: System = _SYSTEM.get()
    other: System = "imperial" if own == "metric" else "metric"
    with lengths_in(other):
        behind = small(length, decimals, rounding)
    return f"{small(length, decimals, rounding)} ({behind})"


def fraction(length: float, parts: int = SAWN) -> str:
    """A length in inches to the nearest mark of a rule. [m in, text out]

    Examples
    --------
    >>> fraction(0.0254), fraction(0.0333), fraction(0.01), fraction(0.0333, 32)
    ('1 in', '1 5/16 in', '3/8 in', '1 5/16 in')
    """
    whole, rest = divmod(round(length / METRE_PER_INCH * parts), parts)
    words = [str(whole)] if whole or not rest else []
    return " ".join([*words, *([str(Fraction(rest, parts))] if rest else []), "in"])


def on_rule(length: float, parts: int = SAWN) -> tuple[str, str]:
    """A length as a rule shows it, in the system of now and in the other. [m in, texts out]

    Examples
    --------
    >>> on_rule(1.4637)
    ('1463.7 mm', '57 5/8 in')
    >>> with lengths_in("imperial"):
    ...     on_rule(1.4637)
    ('57 5/8 in', '1463.7 mm')
    """
    found = (f"{1e3 * length:.1f} mm", fraction(length, parts))
    return found if _SYSTEM.get() == "metric" else found[::-1]


def beside(length: float, parts: int = SAWN) -> str:
    """A length as a rule shows it, the other system in brackets. [m in, text out]

    Examples
    --------
    >>> beside(0.055), beside(0.055, MARKED)
    ('55.0 mm (2 3/16 in)', '55.0 mm (2 5/32 in)')
    """
    own, other = on_rule(length, parts)
    return f"{own} ({other})"


def made_to(length: float, decimals: int) -> str:
    """A length that is set or cut to so many decimals of a millimetre, zeros left out.

    Inches have two more. [m in, text out]

    Examples
    --------
    >>> made_to(0.5002, 1), made_to(0.001, 0)
    ('500.2 mm', '1 mm')
    """
    if _SYSTEM.get() == "metric":
        return f"{round(1e3 * length, decimals):.10g} mm"
    return small(length, decimals)


def round_step(step: float, written: System) -> float:
    """A cutting error [m] as a round number of the units it is made in: 1 mm is 0.04 in. [m]

    Examples
    --------
    >>> round_step(1e-3, "metric"), round(round_step(1e-3, "imperial"), 7)
    (0.001, 0.001016)
    """
    return step if written == "metric" else round(step / METRE_PER_INCH, 2) * METRE_PER_INCH


def axis_unit(fine: bool = False) -> tuple[str, float]:
    """Unit of an axis of lengths and its size [m]: of distances, or of parts where fine.

    Examples
    --------
    >>> axis_unit(), axis_unit(fine=True)
    (('m', 1.0), ('mm', 0.001))
    """
    if _SYSTEM.get() == "metric":
        return ("mm", 1e-3) if fine else ("m", 1.0)
    return ("in", METRE_PER_INCH) if fine else ("ft", INCHES_PER_FOOT * METRE_PER_INCH)


def span(low: float, high: float, decimals: int = 0) -> str:
    """Two lengths of a part and what lies between them. [m in, text out]

    Examples
    --------
    >>> span(0.012, 0.2)
    '12 to 200 mm'
    """
    unit = " mm" if _SYSTEM.get() == "metric" else " in"
    return f"{small(low, decimals).removesuffix(unit)} to {small(high, decimals)}"


def stretch(low: float, high: float, decimals: int = 2) -> str:
    """Two distances and what lies between them. [m in, text out]

    Examples
    --------
    >>> stretch(0.05, 2.0)
    '0.05 to 2.00 m'
    >>> with lengths_in("imperial"):
    ...     stretch(0.05, 0.4), stretch(0.05, 4.0)
    ('2 to 15.7 in', '2 in to 13 ft 1 in')
    """
    near, far = large(low, decimals), large(high, decimals)
    for unit in (" m", " in"):
        if near.endswith(unit) and far.endswith(unit) and " ft" not in near + far:
            near = near.removesuffix(unit)
    return f"{near} to {far}"


def _feet(inches: int) -> str:
    feet, rest = divmod(abs(inches), INCHES_PER_FOOT)
    sign = "-" if inches < 0 else ""
    return f"{sign}{feet} ft" + (f" {rest} in" if rest else "")


def _number(value: float, decimals: int | None, rounding: Rounding) -> str:
    if decimals is None:
        return f"{value:g}"
    return f"{_rounded(value, decimals, rounding):.{decimals}f}"


def _trimmed(value: float, decimals: int | None, rounding: Rounding) -> str:
    """Number without zeros that say nothing."""
    if decimals is None:
        return f"{value:.4g}"
    text = _number(value, decimals, rounding)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _rounded(value: float, decimals: int, rounding: Rounding) -> float:
    """Value to so many decimals; what is a rounding error off a step counts as on it."""
    if rounding == "nearest":
        return round(value, decimals)
    steps = value * 10**decimals
    whole = math.ceil(steps - 1e-6) if rounding == "up" else math.floor(steps + 1e-6)
    return float(whole / 10**decimals)
