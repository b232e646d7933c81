"""A part of an unknown's range in words: one that turns the answer is told by where it does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.lengths import span, stretch
from pipeline.montecarlo.draws import SINGLE, Unknown, land, quantile
from pipeline.study.records import Study

# From here on an impedance reads better in kilohm.
_OHMS_OF_KILO = 1e3
# A part of a factor's range that is narrower than this needs a third decimal.
_FINE = 0.01


def range_words(unknown: Unknown, between: tuple[float, float]) -> str:
    """A part of an unknown's range, from one probability to another, in the reader's units."""
    low, high = between
    shape = unknown.spread.shape
    if shape == "chance":
        return "nothing" if high <= unknown.spread.low + 1e-9 else "something"
    if shape == "classes":
        classes = land()
        first, last = int(low * len(classes)), int(np.ceil(high * len(classes)))
        return " or ".join(c.name for c in classes[first:last])
    if shape == "by core":
        return _among_pieces(low, high)
    if unknown.name == "reactance" and shape == "log":
        return _either_sign(unknown, between)
    # A normal distribution has no ends.
    tail = 1e-3 if shape == "normal" else 0.0
    ends = quantile(unknown.spread, np.clip(between, tail, 1 - tail), unknown.nominal)
    return _amounts(float(ends[0]), float(ends[1]), unknown.unit)


def clause(unknown: Unknown, between: tuple[float, float]) -> str:
    """The same as a clause: that the unknown lies there."""
    words = range_words(unknown, between)
    if unknown.spread.shape == "chance":
        return f"the radio's case touches {words}"
    return f"{unknown.label} is {words}"


def _among_pieces(low: float, high: float) -> str:
    """A part of the scatter that each core has of its own, as pieces in a hundred."""
    first, last = round(100 * low), round(100 * high)
    if first == 0:
        return f"among the {last} of 100 pieces with the least impedance"
    if last == 100:
        return f"among the {100 - first} of 100 pieces with the most impedance"
    return f"between {first} and {last} of 100 pieces by impedance"


def _either_sign(unknown: Unknown, between: tuple[float, float]) -> str:
    low, high = between
    sizes = quantile(unknown.spread, np.abs(2 * np.array(between) - 1), unknown.nominal)
    if low < 0.5 < high:
        most = quantile(unknown.spread, np.array([1.0]), unknown.nominal)
        return f"either sign, up to {_amounts(float(most[0]), float(most[0]), 'ohm')}"
    kind = "capacitive" if high <= 0.5 + 1e-9 else "inductive"
    return f"{kind}, {_amounts(float(min(sizes)), float(max(sizes)), 'ohm')}"


def _amounts(low: float, high: float, unit: str) -> str:
    """Two ends of a range with the digits that tell them apart."""
    if unit == "m":
        narrow = high - low < 0.1
        return span(low, high, 1 if high - low < 4e-3 else 0) if narrow else stretch(low, high)
    if unit == "S/m":
        factor, name, form = 1e3, "mS/m", ".3g"
    elif unit == "ohm":
        factor, name, form = (1e-3, "kohm", ".2g") if low >= _OHMS_OF_KILO else (1.0, "ohm", ".3g")
    else:
        factor, name, form = 1.0, "", ".2f" if high - low >= _FINE else ".3f"
    # Three digits, and never a power of ten.
    first, last = (
        format(factor * x, ".0f" if form == ".3g" and factor * x >= 100 else form)
        for x in (low, high)
    )
    return (last if first == last else f"{first} to {last}") + (f" {name}" if name else "")


def drawn_words(unknown: Unknown) -> str:
    """The whole range that an unknown is drawn from, as a table says it."""
    shape = unknown.spread.shape
    if shape == "chance":
        return f"nothing in {100 * unknown.spread.low:.0f} of 100"
    if shape == "classes":
        return "any class of the catalogue but open water"
    if shape == "by core":
        return "what is printed of the core, or its class allows"
    return range_words(unknown, (0.0, 1.0))


def assumed(study: Study, unknowns: Sequence[Unknown]) -> list[str]:
    """Keys taken as typical, without those that the study has no part for.

    ``unknowns`` are all that are drawn.
    """
    drawn = {u.name for u in unknowns}
    absent = {f"unknowns.{name}" for name in SINGLE if name not in drawn}
    return [said for said in study.unknowns.defaults if said.split(":")[0] not in absent]
