"""Catalogues for parts at work: still air, Curie points, limits; CSV in, frozen records out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from models.catalogues.names import find
from models.catalogues.rows import DamagedCatalogue, Row, check_unique, read_rows

_ZERO_CELSIUS = 273.15


@dataclass(frozen=True, eq=False)
class AirTable:
    """Dry air at one atmosphere over rising temperature [K], arrays of shape (n,).

    ``conductivity`` in W/(m K), kinematic ``viscosity`` in m2/s, Prandtl number ``prandtl``.
    """

    temperature: NDArray[np.float64]
    conductivity: NDArray[np.float64]
    viscosity: NDArray[np.float64]
    prandtl: NDArray[np.float64]

    def at(self, temperature: float) -> tuple[float, float, float]:
        """Conductivity, viscosity and Prandtl number; the last ones beyond the table's ends."""
        columns = (self.conductivity, self.viscosity, self.prandtl)
        k, nu, pr = (float(np.interp(temperature, self.temperature, c)) for c in columns)
        return k, nu, pr


@dataclass(frozen=True)
class CuriePoint:
    """Least temperature [K] at which a ferrite mix stops being magnetic; ``id`` is the mix's."""

    id: str
    name: str
    temperature: float
    source: str
    confidence: str
    note: str


@dataclass(frozen=True)
class WorkingValue:
    """A value that a judgement on parts at work takes, in the SI unit its row names."""

    id: str
    name: str
    value: float
    unit: str
    source: str
    confidence: str
    note: str


def _rows(file: str, *columns: str) -> list[Row]:
    text = (files("models") / "catalogues" / file).read_text(encoding="utf-8")
    return read_rows(text, file, (*columns, "source", "confidence", "note"))


@cache
def still_air() -> AirTable:
    """All of still_air.csv."""
    names = ("temperature_k", "conductivity_w_per_m_k", "viscosity_m2_per_s", "prandtl")
    highest = (3000.0, 1.0, 1e-3, 10.0)
    rows = _rows("still_air.csv", "id", *names)
    columns = [
        np.array([row.number(name, 1e-7, high) for row in rows])
        for name, high in zip(names, highest, strict=True)
    ]
    falls = np.flatnonzero(np.diff(columns[0]) <= 0)
    if falls.size:
        raise DamagedCatalogue("still_air.csv", rows[falls[0] + 1].line, "it does not get warmer")
    for column in columns:
        # Cached and shared: nobody may write into it.
        column.flags.writeable = False
    return AirTable(*columns)


@cache
def curie_points() -> tuple[CuriePoint, ...]:
    """All of ferrite_curie.csv."""
    items = tuple(
        CuriePoint(
            id=row.text("id"),
            name=row.text("name"),
            temperature=row.number("curie_c", 50, 800) + _ZERO_CELSIUS,
            source=row.text("source"),
            confidence=row.confidence(),
            note=row.cells["note"],
        )
        for row in _rows("ferrite_curie.csv", "id", "name", "curie_c")
    )
    check_unique("ferrite_curie.csv", items)
    return items


@cache
def working_values() -> tuple[WorkingValue, ...]:
    """All of in_use.csv."""
    items = tuple(
        WorkingValue(
            id=row.text("id"),
            name=row.text("name"),
            value=row.number("value", 0, 1e9),
            unit=row.text("unit"),
            source=row.text("source"),
            confidence=row.confidence(),
            note=row.cells["note"],
        )
        for row in _rows("in_use.csv", "id", "name", "value", "unit")
    )
    check_unique("in_use.csv", items)
    return items


def curie_point(name: str) -> CuriePoint:
    """Curie point of a ferrite mix by its id or name; raises UnknownName.

    Examples
    --------
    >>> round(curie_point("mix-43").temperature - 273.15)
    130
    """
    return find("Curie point", curie_points(), name)


def working_value(name: str) -> float:
    """Value of in_use.csv by its id, in SI; raises UnknownName.

    Examples
    --------
    >>> working_value("emissivity")
    0.9
    """
    return find("value", working_values(), name).value
