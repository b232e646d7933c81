"""Wind load on round pipes: drag, its moment about the base line, and the mass carried.

A first figure for the choice of a mount, not a check of its strength.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from models.catalogues.names import find
from models.catalogues.rows import Row, check_unique, read_rows
from models.wires.structure import Point


@dataclass(frozen=True)
class DragCoefficient:
    """Drag coefficient of a long round cylinder across the wind, between two Reynolds numbers."""

    id: str
    name: str
    low: float
    high: float
    value: float
    source: str
    confidence: str


@dataclass(frozen=True)
class AirProperty:
    """Density [kg/m3] or kinematic viscosity [m2/s] of the air that loads are computed for."""

    id: str
    name: str
    value: float
    source: str
    confidence: str


@dataclass(frozen=True)
class Rod:
    """A straight round part in the wind: ends and diameter [m]."""

    start: Point
    end: Point
    diameter: float


@dataclass(frozen=True)
class WindLoad:
    """Force [N] and moment about the base line [N m] in the worst direction.

    ``area`` [m2] is what that wind sees, ``azimuth`` [rad] where it blows to, ``reynolds`` the
    smallest and largest Reynolds number met, ``coefficients`` what was used.
    """

    force: float
    moment: float
    area: float
    azimuth: float
    reynolds: tuple[float, float]
    coefficients: tuple[DragCoefficient, ...]


def _rows(file: str, *columns: str) -> list[Row]:
    text = (files("models") / "catalogues" / file).read_text(encoding="utf-8")
    return read_rows(text, file, (*columns, "source", "confidence", "note"))


@cache
def drag_coefficients() -> tuple[DragCoefficient, ...]:
    """All rows of drag.csv."""
    columns = ("id", "name", "reynolds_low", "reynolds_high", "drag_coefficient")
    items = tuple(
        DragCoefficient(
            id=row.text("id"),
            name=row.text("name"),
            low=row.number("reynolds_low", 1, 1e9),
            high=row.number("reynolds_high", 1, 1e9),
            value=row.number("drag_coefficient", 0.1, 3),
            source=row.text("source"),
            confidence=row.confidence(),
        )
        for row in _rows("drag.csv", *columns)
    )
    check_unique("drag.csv", items)
    return items


@cache
def air() -> tuple[AirProperty, ...]:
    """All rows of air.csv."""
    items = tuple(
        AirProperty(
            id=row.text("id"),
            name=row.text("name"),
            value=row.number("value", 1e-6, 2),
            source=row.text("source"),
            confidence=row.confidence(),
        )
        for row in _rows("air.csv", "id", "name", "value", "unit")
    )
    check_unique("air.csv", items)
    return items


def air_property(name: str) -> AirProperty:
    """Property of air by id or name; raises UnknownName.

    Examples
    --------
    >>> air_property("density").value
    1.25
    """
    return find("property of air", air(), name)


def drag_coefficient(reynolds: float) -> DragCoefficient:
    """Row of drag.csv for a Reynolds number; ValueError if none covers it.

    Examples
    --------
    >>> drag_coefficient(6e4).value
    1.2
    """
    for row in drag_coefficients():
        if row.low <= reynolds <= row.high:
            return row
    raise ValueError(f"no drag coefficient for a Reynolds number of {reynolds:.3g}")


def drag_force(density: float, speed: float, coefficient: float, area: float) -> float:
    """Force of a flow on a body, half the density times speed squared times Cd A. [N]

    ``density`` [kg/m3], ``speed`` [m/s], drag ``coefficient`` [-], ``area`` across the flow [m2].

    References
    ----------
    .. [1] S. F. Hoerner, Fluid-Dynamic Drag, 1965, chapter 1.

    Examples
    --------
    >>> round(drag_force(1.225, 35.0, 0.2, 9.0), 1)
    1350.6
    """
    return 0.5 * density * speed**2 * coefficient * area


def wind_load(rods: Sequence[Rod], speed: float) -> WindLoad:
    """Force and moment of a level wind from the worst of all sides.

    ``speed`` [m/s] is the same at every height; the moment counts what stands above the base line
    at z = 0. Raises ValueError if there is no part, or no drag coefficient for a Reynolds number.

    Notes
    -----
    A part at an angle to the wind takes only the speed across it (cross-flow principle, Hoerner,
    chapter 3); parts do not shelter each other.

    Examples
    --------
    >>> load = wind_load([Rod((0, 0, 0), (0, 0, 1.48), 0.022)], 40.0)
    >>> round(load.force, 1), round(load.moment, 1)
    (39.1, 28.9)
    """
    if not rods:
        raise ValueError("there is nothing in the wind")
    density, viscosity = air_property("density").value, air_property("viscosity").value
    reynolds = [speed * rod.diameter / viscosity for rod in rods]
    rows = [drag_coefficient(value) for value in reynolds]
    found = []
    for step in range(36):
        azimuth = math.pi * step / 36
        wind = (math.cos(azimuth), math.sin(azimuth), 0.0)
        force = moment = area = 0.0
        for rod, row in zip(rods, rows, strict=True):
            across = _area_across(rod, wind)
            own = drag_force(density, speed, row.value, across)
            share, height = _above(rod)
            force, area, moment = force + own, area + across, moment + own * share * height
        ends = (min(reynolds), max(reynolds))
        found.append(WindLoad(force, moment, area, azimuth, ends, tuple(dict.fromkeys(rows))))
    return max(found, key=lambda load: (round(load.moment, 9), load.force))


def _area_across(rod: Rod, wind: Point) -> float:
    """Side area times the square of the sine between part and wind [m2]."""
    along = [b - a for a, b in zip(rod.start, rod.end, strict=True)]
    length = math.hypot(*along)
    cosine = sum(x * w for x, w in zip(along, wind, strict=True)) / length
    return rod.diameter * length * (1 - cosine**2)


def _above(rod: Rod) -> tuple[float, float]:
    """Share of a part that is above the base line, and the middle height of that share [m]."""
    low, high = sorted((rod.start[2], rod.end[2]))
    if high <= 0:
        return 0.0, 0.0
    if low >= 0:
        return 1.0, (low + high) / 2
    return high / (high - low), high / 2
