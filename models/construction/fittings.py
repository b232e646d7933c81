"""Solder fittings for copper tube: how deep their cups are and how far their stops lie apart.

One row of fittings.csv is one dimension of one fitting, so that each has a source of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from models.catalogues.parts import Pipe
from models.catalogues.rows import Row, check_unique, read_rows

FittingKind = Literal["elbow 90", "elbow 45", "tee", "coupling", "cap"]
FITTING_KINDS: tuple[FittingKind, ...] = ("elbow 90", "elbow 45", "tee", "coupling", "cap")

# Tubes of two standards that would go into each other's cups differ by more than this [m].
_SAME_SIZE = 5e-5
_DIMENSIONS = ("cup depth", "laying length")


@dataclass(frozen=True)
class FittingDimension:
    """One dimension [m] of a fitting, for tube of one diameter [m], with its source."""

    id: str
    name: str
    standard: str
    fitting: str
    tube_diameter: float
    dimension: str
    value: float
    source: str
    confidence: str


@dataclass(frozen=True)
class FittingSize:
    """A fitting for the tube at hand; ``None`` is not known.

    ``cup_depth`` [m] is how far a tube goes in, ``laying_length`` [m] how far its end then
    stops from the fitting's centre (for a cap: the thickness of its end).
    """

    kind: FittingKind
    cup_depth: float | None
    laying_length: float | None
    source: str

    @property
    def reach(self) -> float | None:
        """Centre to the rim of the cup [m], as a rule measures it from outside."""
        if self.cup_depth is None or self.laying_length is None:
            return None
        return self.cup_depth + self.laying_length


def fitting_dimension_of(row: Row) -> FittingDimension:
    """Record of one row."""
    return FittingDimension(
        id=row.text("id"),
        name=row.text("name"),
        standard=row.text("standard"),
        fitting=row.word("fitting", FITTING_KINDS),
        tube_diameter=row.number("tube_diameter_mm", 3, 200, 1e-3),
        dimension=row.word("dimension", _DIMENSIONS),
        value=row.number("value_mm", 0.5, 200, 1e-3),
        source=row.text("source"),
        confidence=row.confidence(),
    )


@cache
def fitting_dimensions() -> tuple[FittingDimension, ...]:
    """All rows of fittings.csv."""
    columns = ("id", "name", "standard", "fitting", "tube_diameter_mm", "dimension", "value_mm")
    text = (files("models") / "catalogues" / "fittings.csv").read_text(encoding="utf-8")
    rows = read_rows(text, "fittings.csv", (*columns, "source", "confidence", "note"))
    items = tuple(fitting_dimension_of(row) for row in rows)
    check_unique("fittings.csv", items)
    return items


def fitting_size(kind: FittingKind, pipe: Pipe) -> FittingSize:
    """Size of a fitting, one of ``FITTING_KINDS``, for a pipe, as the catalogue knows it.

    ``None`` for what is in no row; only copper tube has solder fittings here. The end of a cap is
    taken as thick as the tube.

    Examples
    --------
    >>> from models.catalogues.parts import pipe
    >>> size = fitting_size("elbow 90", pipe("3/4 in type L"))
    >>> round(1e3 * size.laying_length, 2), round(1e3 * size.reach, 2)
    (13.49, 32.54)
    >>> fitting_size("elbow 90", pipe("22x1 mm")).laying_length is None
    True
    """
    found = {
        row.dimension: row
        for row in fitting_dimensions()
        if pipe.material == "copper"
        and row.fitting == kind
        and abs(row.tube_diameter - pipe.outside_diameter) <= _SAME_SIZE
    }
    cup, laying = (found.get(dimension) for dimension in _DIMENSIONS)
    sources = dict.fromkeys(f"{row.source} ({row.confidence})" for row in found.values())
    return FittingSize(
        kind=kind,
        cup_depth=cup.value if cup else None,
        laying_length=pipe.wall if kind == "cap" else (laying.value if laying else None),
        source="; ".join(sources),
    )
