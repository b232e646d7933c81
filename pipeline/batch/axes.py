"""Axes of a batch: what a key of the study is to be, one value after another or drawn.

What the batch file says of an axis in, choices out; a choice is what goes into the study as if it
had been written there, and what the table shows of it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.study.sections.unknowns import Distribution, quantile
from pipeline.text.refusals import FieldError
from pipeline.text.units import FAMILIES, read_quantity

# What a drawn or even value is written with: more digits than anybody measures.
_DIGITS = 9
MOST_VALUES = 10_000
_SCALES = ("linear", "log")
_RANGE = "{from: 3 m, to: 15 m, points: 5}"
_SPREAD = "{from: 3 m, to: 15 m}"


@dataclass(frozen=True)
class Choice:
    """One value of an axis: as a study would have it, as a table shows it, and its unit there.

    ``shown`` is a number in the SI ``unit``, or a word where the value is none.
    """

    raw: Any
    shown: float | str
    unit: str = ""


@dataclass(frozen=True)
class Axis:
    """A key of the study, or a name that stands in it, and all its choices."""

    key: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class DrawnAxis:
    """A key or name whose value is drawn: of a distribution in a unit, or any of its choices."""

    key: str
    spread: Distribution | None
    unit: str
    choices: tuple[Choice, ...]

    def at(self, u: float) -> Choice:
        """Choice at a probability from 0 to 1. [-]"""
        if self.spread is None:
            return self.choices[min(int(u * len(self.choices)), len(self.choices) - 1)]
        return _number(float(quantile(self.spread, np.array([u]), 0.0)[0]), self.unit)


def column_of(key: str) -> str:
    """Name of an axis in the table."""
    return key.removeprefix("$")


def number_of(raw: Any) -> tuple[float, str] | None:
    """Number in SI and its unit, of what a study says; ``None`` where it is none.

    Examples
    --------
    >>> number_of("55 mm"), number_of(4), number_of("short leg"), number_of("40+10j ohm")
    ((0.055, 'm'), (4.0, '1'), None, None)
    """
    if isinstance(raw, bool) or raw is None:
        return None
    if isinstance(raw, int | float):
        return (float(raw), "1") if math.isfinite(raw) else None
    if isinstance(raw, str):
        for unit in FAMILIES:
            try:
                return read_quantity(raw, unit, f"1 {unit}"), unit
            except FieldError:
                # Not of this kind: the next may be its own.
                continue
    return None


def choice_of(raw: Any) -> Choice:
    """A value of a study as a choice. Definition."""
    found = number_of(raw)
    if found is not None:
        return Choice(raw, *found)
    return Choice(raw, raw if isinstance(raw, str) else json.dumps(raw, ensure_ascii=False))


def _number(value: float, unit: str) -> Choice:
    """A number as a study would have it, rounded as it is written there."""
    value = float(f"{value:.{_DIGITS}g}")
    return Choice(value if unit == "1" else f"{value:.{_DIGITS}g} {unit}", value, unit)


def read_axis(key: str, raw: Any) -> Axis:
    """Axis from a list, words with a value each, or an even range; FieldError else."""
    if isinstance(raw, dict) and "named" not in raw:
        return Axis(key, tuple(_even(raw)))
    choices = _listed(raw, f"[3 m, 8 m], {{named: {{low: 3 m, high: 8 m}}}} or {_RANGE}")
    return Axis(key, choices)


def read_drawn(key: str, raw: Any) -> DrawnAxis:
    """Axis that is drawn, of a distribution or from a list, each as likely; FieldError else."""
    if not isinstance(raw, dict) or "named" in raw:
        example = f"[short leg, long leg], {{named: {{low: 3 m, high: 8 m}}}} or {_SPREAD}"
        return DrawnAxis(key, None, "", _listed(raw, example))
    if set(raw) == {"mean", "deviation"}:
        mean, deviation, unit = _pair(raw, "mean", "deviation")
        _check(deviation > 0, "deviation", "is not above zero", "deviation: 0.5 m")
        return DrawnAxis(key, Distribution("normal", mean, deviation), unit, ())
    _keys(raw, {"from", "to"}, {"scale"}, _SPREAD)
    low, high, unit = _ends(raw)
    is_log = raw.get("scale") == "log"
    return DrawnAxis(key, Distribution("log" if is_log else "uniform", low, high), unit, ())


def _listed(raw: Any, example: str) -> tuple[Choice, ...]:
    if isinstance(raw, dict):
        _keys(raw, {"named"}, set(), example)
        named = raw["named"]
        if not isinstance(named, dict) or not named:
            raise FieldError("has no words with a value each", example, "axis-form", ("named",))
        return tuple(Choice(value, str(word)) for word, value in named.items())
    if not isinstance(raw, list) or not 0 < len(raw) <= MOST_VALUES:
        raise FieldError(f"is no list of 1 to {MOST_VALUES} values", example, "axis-form")
    found = tuple(choice_of(value) for value in raw)
    units = {choice.unit: choice.raw for choice in found if isinstance(choice.shown, float)}
    if len(units) > 1:
        told = ", ".join(str(value) for value in units.values())
        raise FieldError(f"has values of several units: {told}", example, "axis-units")
    return found


def _even(raw: dict[str, Any]) -> Iterable[Choice]:
    """Values from one end to the other, so many or so far apart."""
    by = "step" if "step" in raw else "points"
    _keys(raw, {"from", "to", by}, {"scale"} if by == "points" else set(), _RANGE)
    low, high, unit = _ends(raw)
    if by == "step":
        step = number_of(raw["step"])
        if step is None or step[1] != unit or not step[0] > 0:
            raise FieldError("is no step of that unit", f"step: 1 {unit}", "axis-range", ("step",))
        count = math.floor((high - low) / step[0] + 1e-9) + 1
        values = low + step[0] * np.arange(min(count, MOST_VALUES + 1))
    else:
        count = raw["points"]
        if not isinstance(count, int) or isinstance(count, bool):
            count = 0
        spaced = np.geomspace if raw.get("scale") == "log" else np.linspace
        values = spaced(low, high, min(max(count, 0), MOST_VALUES + 1))
    _check(2 <= count <= MOST_VALUES, by, f"makes no 2 to {MOST_VALUES} values", _RANGE)
    return (_number(float(value), unit) for value in values)


def _ends(raw: dict[str, Any]) -> tuple[float, float, str]:
    low, high, unit = _pair(raw, "from", "to")
    _check(low < high, "to", "is not above the other end", _SPREAD)
    scale = raw.get("scale", "linear")
    _check(scale in _SCALES, "scale", f"is none of {', '.join(_SCALES)}", "scale: log")
    _check(scale != "log" or low > 0, "from", "is not above zero, as log needs", _SPREAD)
    return low, high, unit


def _pair(raw: dict[str, Any], first: str, second: str) -> tuple[float, float, str]:
    """Two numbers of one unit."""
    found = {name: number_of(raw[name]) for name in (first, second)}
    for name, value in found.items():
        if value is None:
            raise FieldError("is no number with a unit", _SPREAD, "axis-range", (name,))
    (low, unit), (high, other) = (v for v in found.values() if v is not None)
    _check(unit == other, second, f"has not the unit of {first}", _SPREAD)
    return low, high, unit


def _keys(raw: dict[str, Any], needed: set[str], more: set[str], example: str) -> None:
    if not needed <= set(raw) <= needed | more:
        wanted = ", ".join(sorted(needed))
        raise FieldError(f"has not just the keys {wanted}", example, "axis-form")


def _check(holds: bool, key: str, rule: str, remedy: str) -> None:
    if not holds:
        raise FieldError(rule, remedy, "axis-range", (key,))
