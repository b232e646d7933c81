"""Lengths as a rule or a shop has them: 5/8 in, 1 1/2 in, 4 ft 10 in, 4' 10", 20', 2".

Text in, a number and the name of its unit out; what the units are worth is not known here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from models.lengths import INCHES_PER_FOOT, System

_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
FRACTION = r"(?:[0-9]{1,4}(?:\s+|-))?[0-9]{1,2}/[0-9]{1,2}"
_UNIT = r"(?:[A-Za-z]{1,16}|['\"])"
_FEET, _INCHES = r"(?:'|ft|feet|foot)", r"(?:\"|in|inch|inches)"
_ONE = re.compile(rf"([+-]?)(?:({FRACTION})|({_NUMBER}))\s*({_UNIT})")
_TWO = re.compile(rf"([+-]?)({_NUMBER})\s*{_FEET}\s*-?\s*({FRACTION}|{_NUMBER})\s*({_INCHES}?)")
_MARKS = {"'": "ft", '"': "in"}
_IMPERIAL = frozenset({"in", "inch", "inches", "ft", "foot", "feet", "yd", "yard", "yards"})
_METRIC = frozenset({"mm", "cm", "dm", "m", "km", "metre", "metres", "meter", "meters"})

# What a JSON Schema can say about such a length.
SCHEMA_PATTERN = (
    rf"[+-]?({FRACTION}|{_NUMBER})\s*{_UNIT}"
    rf"|[+-]?{_NUMBER}\s*{_FEET}\s*-?\s*({FRACTION}|{_NUMBER})\s*{_INCHES}"
)


class OddLengthError(ValueError):
    """A length that could mean more than one thing, or none; an empty remedy is an example."""

    def __init__(self, rule: str, remedy: str, tag: str) -> None:
        super().__init__(rule, remedy, tag)
        self.rule, self.remedy, self.tag = rule, remedy, tag


def parse_length(text: str) -> tuple[float, str] | None:
    """Number and unit of a length with a fraction or in feet and inches; None for other texts.

    Feet and inches become inches. An :class:`OddLengthError` says that the form is right and the
    numbers are not.

    Examples
    --------
    >>> parse_length("1 1/2 in"), parse_length("4' 10\\""), parse_length("20'")
    ((1.5, 'in'), (58.0, 'in'), (20.0, 'ft'))
    """
    match = _ONE.fullmatch(text)
    if match is not None:
        sign, part, number, unit = match.groups()
        value = _fraction(part) if part else float(number)
        return -value if sign == "-" else value, _MARKS.get(unit, unit)
    match = _TWO.fullmatch(text)
    return None if match is None else (_feet_and_inches(*match.groups()), "in")


def system_of(texts: Iterable[str]) -> System:
    """System of units that most of the lengths among some texts are written in.

    Where there are as many of both, and where there are none, metric.

    Examples
    --------
    >>> system_of(["20 ft", "1/2 in", "8 m", "146 MHz"]), system_of(["8 m", "20'"])
    ('imperial', 'metric')
    """
    balance = 0
    for text in texts:
        one = _ONE.fullmatch(text)
        unit = one[4] if one else "ft" if _TWO.fullmatch(text) else ""
        balance += (_MARKS.get(unit, unit) in _IMPERIAL) - (unit in _METRIC)
    return "imperial" if balance > 0 else "metric"


def _fraction(text: str) -> float:
    """Value of "5/8" or "1 1/2"; refuses what is no part of one."""
    whole, _, part = text.replace("-", " ").rpartition(" ")
    above, below = (int(number) for number in part.split("/"))
    if below == 0 or (whole and above >= below):
        raise OddLengthError(f"is no length: {part} is no fraction of one", "", "fraction-form")
    return float(Fraction(above, below) + int(whole or 0))


def _feet_and_inches(sign: str, feet: str, rest: str, mark: str) -> float:
    """Inches of both together; refuses what could mean more than one length."""
    if not mark:
        rule = f"has no unit on its second number, {rest}"
        remedy = f'write "{feet} ft {rest} in" if you mean inches'
        raise OddLengthError(rule, remedy, "unit-missing")
    inches = _fraction(rest) if "/" in rest else float(rest)
    whole = float(feet) * INCHES_PER_FOOT + inches
    if inches >= INCHES_PER_FOOT or not float(feet).is_integer():
        rule = "is not whole feet and less than 12 inches, so one of the two may be a slip"
        raise OddLengthError(rule, f'write "{whole:g} in" if it is none', "feet-inches")
    return -whole if sign == "-" else whole
