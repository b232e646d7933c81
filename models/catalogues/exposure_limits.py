"""Exposure limits of two sets of rules over frequency: a CSV file in, the limits that hold out.

Values are root-mean-square, averaged over the time that each rule states.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from models.catalogues.rows import Row, check_unique, read_rows

_FILE = "exposure_limits.csv"
# The lowest frequency that is computed, where the ranges of the file begin. [Hz]
_LOWEST = 30e6
_GROUPS = ("general public", "occupational")
_PARTS = ("whole body", "part of the body")
_COLUMNS = (
    *("id", "name", "rules", "group", "part", "averaging_min", "above_mhz", "to_mhz"),
    *("e_v_per_m", "e_exponent", "h_a_per_m", "h_exponent", "s_w_per_m2", "s_exponent"),
    *("source", "confidence", "note"),
)


@dataclass(frozen=True)
class Law:
    """A limit as a power of frequency: ``factor`` times (frequency in MHz) to ``exponent``."""

    factor: float
    exponent: float

    def at(self, frequency: float) -> float:
        """Limit at a frequency [Hz], in the unit of the factor."""
        return float(self.factor * (frequency / 1e6) ** self.exponent)


@dataclass(frozen=True)
class ExposureLimit:
    """One row of the limits; frequencies [Hz], averaging time [s].

    ``electric`` [V/m] and ``magnetic`` [A/m] are None where the rule gives a power density only;
    ``density`` is that of a plane wave [W/m2]. The range leaves out its lower end.
    """

    id: str
    name: str
    rules: str
    group: str
    part: str
    averaging: float
    above: float
    to: float
    electric: Law | None
    magnetic: Law | None
    density: Law
    source: str
    confidence: str
    note: str


def _law(row: Row, column: str, exponent: str, high: float) -> Law | None:
    if not row.cells[column].strip():
        return None
    return Law(row.number(column, 1e-4, high), row.number(exponent, 0.0, 1.0))


def _limit(row: Row) -> ExposureLimit:
    density = Law(row.number("s_w_per_m2", 1e-3, 100.0), row.number("s_exponent", 0.0, 1.0))
    return ExposureLimit(
        id=row.text("id"),
        name=row.text("name"),
        rules=row.text("rules"),
        group=row.word("group", _GROUPS),
        part=row.word("part", _PARTS),
        averaging=row.number("averaging_min", 1.0, 60.0, 60.0),
        above=row.number("above_mhz", 1.0, 1e4, 1e6),
        to=row.number("to_mhz", 1.0, 1e5, 1e6),
        electric=_law(row, "e_v_per_m", "e_exponent", 1e3),
        magnetic=_law(row, "h_a_per_m", "h_exponent", 10.0),
        density=density,
        source=row.text("source"),
        confidence=row.confidence(),
        note=row.text("note"),
    )


@cache
def exposure_limits() -> tuple[ExposureLimit, ...]:
    """All rows of exposure_limits.csv."""
    text = (files("models") / "catalogues" / _FILE).read_text(encoding="utf-8")
    items = tuple(_limit(row) for row in read_rows(text, _FILE, _COLUMNS))
    check_unique(_FILE, items)
    return items


def limits_at(frequency: float) -> tuple[ExposureLimit, ...]:
    """Limits that hold at a frequency [Hz], in the order of their file.

    Examples
    --------
    >>> [(limit.rules, limit.density.at(145e6)) for limit in limits_at(145e6)][:2]
    [('47 CFR 1.1310', 10.0), ('47 CFR 1.1310', 2.0)]
    """
    return tuple(
        limit
        for limit in exposure_limits()
        if limit.above < frequency <= limit.to or frequency == limit.above == _LOWEST
    )
