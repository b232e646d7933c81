"""Catalogues of pipe, coax, ferrite, soil and metal: CSV files in, frozen SI records out.

Every row carries its source and how far it can be trusted; a damaged file is refused whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import groupby
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from models.catalogue_rows import DamagedCatalogue as DamagedCatalogue
from models.catalogue_rows import Row, check_unique, find, read_rows
from models.catalogue_rows import UnknownName as UnknownName


@dataclass(frozen=True)
class Conductor:
    """A metal and its direct-current conductivity ``sigma`` in S/m."""

    id: str
    name: str
    sigma: float
    source: str
    confidence: str


@dataclass(frozen=True)
class Pipe:
    """A tube as sold: diameter and wall in m, mass in kg/m, ``sigma`` of its metal in S/m."""

    id: str
    name: str
    standard: str
    material: str
    conductor: str
    outside_diameter: float
    wall: float
    mass_per_m: float
    sigma: float
    source: str
    confidence: str


@dataclass(frozen=True)
class CoaxClass:
    """A class of coaxial cable, lengths in m.

    The matched loss is ``k1 * sqrt(f) + k2 * f`` in dB per metre with f in Hz, so k1 is in
    dB/(m sqrt(Hz)) and k2 in dB/(m Hz). ``loss_confidence`` belongs to k1 and k2,
    ``confidence`` to everything else. ``average_power`` [W] is what the maker allows all the time
    into a match at ``average_power_frequency`` [Hz], ``None`` where no source gives it;
    ``power_source`` says where it is from.
    """

    id: str
    name: str
    z0: float
    velocity_factor: float
    shield_diameter: float
    jacket_diameter: float
    jacket_material: str
    jacket_eps_r: float
    bend_radius_install: float
    bend_radius_repeated: float
    k1: float
    k2: float
    loss_confidence: str
    mass_per_m: float
    average_power: float | None
    average_power_frequency: float | None
    power_source: str
    source: str
    confidence: str
    note: str


class Rating(TypedDict):
    """Average power a cable bears, at which frequency, and who says so."""

    average_power: float | None
    average_power_frequency: float | None
    power_source: str


@dataclass(frozen=True)
class FerriteCore:
    """A ring, bead or clamp-on core; lengths in m, mass in kg.

    ``inner_diameter`` is that of the ferrite, ``hole_diameter`` the thickest cable that goes
    through; ``material`` is the id of a :class:`FerriteMaterial`. One that is not ``on_sale`` is
    there to compare materials and is never recommended.
    """

    id: str
    name: str
    shape: str
    material: str
    outer_diameter: float
    inner_diameter: float
    length: float
    hole_diameter: float
    mass: float
    on_sale: bool
    source: str
    confidence: str
    note: str


@dataclass(frozen=True, eq=False)
class FerriteMaterial:
    """Complex permeability ``mu_r`` = mu' - j mu'' over ``frequency`` (Hz, rising)."""

    id: str
    name: str
    frequency: NDArray[np.float64]
    mu_r: NDArray[np.complex128]
    source: str
    confidence: str


@dataclass(frozen=True)
class SoilClass:
    """A class of ground: relative permittivity and conductivity in S/m."""

    id: str
    name: str
    eps_r: float
    sigma: float
    source: str
    confidence: str
    note: str


_END = ("source", "confidence", "note")


def _rows(file: str, *columns: str) -> list[Row]:
    text = (files("models") / "catalogues" / file).read_text(encoding="utf-8")
    return read_rows(text, file, columns)


@cache
def conductors() -> tuple[Conductor, ...]:
    """All metals of conductors.csv."""
    rows = _rows("conductors.csv", "id", "name", "conductivity_s_per_m", *_END)
    items = tuple(
        Conductor(
            id=row.text("id"),
            name=row.text("name"),
            sigma=row.number("conductivity_s_per_m", 1e5, 7e7),
            source=row.text("source"),
            confidence=row.confidence(),
        )
        for row in rows
    )
    check_unique("conductors.csv", items)
    return items


def _pipe(row: Row) -> Pipe:
    diameter = row.number("outside_diameter_mm", 3, 200)
    return Pipe(
        id=row.text("id"),
        name=row.text("name"),
        standard=row.text("standard"),
        material=row.text("material"),
        conductor=row.text("conductor"),
        outside_diameter=diameter * 1e-3,
        wall=row.number("wall_mm", 0.2, diameter / 2, 1e-3),
        mass_per_m=row.number("mass_kg_per_m", 0.01, 50),
        sigma=conductor(row.text("conductor")).sigma,
        source=row.text("source"),
        confidence=row.confidence(),
    )


@cache
def pipes() -> tuple[Pipe, ...]:
    """All tubes of pipes.csv."""
    sizes = ("outside_diameter_mm", "wall_mm", "mass_kg_per_m")
    columns = ("id", "name", "standard", "material", "conductor", *sizes, *_END)
    items = tuple(_pipe(row) for row in _rows("pipes.csv", *columns))
    check_unique("pipes.csv", items)
    return items


def _coax(row: Row) -> CoaxClass:
    jacket = row.number("jacket_diameter_mm", 1, 100)
    return CoaxClass(
        id=row.text("id"),
        name=row.text("name"),
        z0=row.number("z0_ohm", 25, 150),
        velocity_factor=row.number("velocity_factor", 0.4, 1),
        shield_diameter=row.number("shield_diameter_mm", 0.5, jacket, 1e-3),
        jacket_diameter=jacket * 1e-3,
        jacket_material=row.text("jacket_material"),
        jacket_eps_r=row.number("jacket_eps_r", 1, 10),
        bend_radius_install=row.number("bend_radius_install_mm", jacket, 1000, 1e-3),
        bend_radius_repeated=row.number("bend_radius_repeated_mm", jacket, 1000, 1e-3),
        k1=row.number("k1_db_per_100m_per_sqrt_mhz", 0, 10, 1e-5),
        k2=row.number("k2_db_per_100m_per_mhz", 0, 1, 1e-8),
        loss_confidence=row.confidence("loss_confidence"),
        mass_per_m=row.number("mass_kg_per_m", 0.001, 5),
        **_power_rating(row),
        source=row.text("source"),
        confidence=row.confidence(),
        note=row.cells["note"],
    )


def _power_rating(row: Row) -> Rating:
    """Rating of a cable with its source, all or nothing."""
    if not row.cells["average_power_w"].strip():
        return Rating(average_power=None, average_power_frequency=None, power_source="")
    row.confidence("power_confidence")
    return Rating(
        average_power=row.number("average_power_w", 1, 1e5),
        average_power_frequency=row.number("average_power_at_mhz", 1, 3000, 1e6),
        power_source=f"{row.text('power_source')} ({row.text('power_confidence')})",
    )


@cache
def coax_classes() -> tuple[CoaxClass, ...]:
    """All cable classes of coax.csv."""
    columns = (
        *("id", "name", "z0_ohm", "velocity_factor", "shield_diameter_mm", "jacket_diameter_mm"),
        *("jacket_material", "jacket_eps_r", "bend_radius_install_mm", "bend_radius_repeated_mm"),
        *("k1_db_per_100m_per_sqrt_mhz", "k2_db_per_100m_per_mhz", "loss_confidence"),
        *("mass_kg_per_m", "average_power_w", "average_power_at_mhz", "power_source"),
        "power_confidence",
    )
    items = tuple(_coax(row) for row in _rows("coax.csv", *columns, *_END))
    check_unique("coax.csv", items)
    return items


def _core(row: Row) -> FerriteCore:
    outer = row.number("outer_diameter_mm", 2, 300)
    inner = row.number("inner_diameter_mm", 0.5, outer)
    return FerriteCore(
        id=row.text("id"),
        name=row.text("name"),
        shape=row.text("shape"),
        material=ferrite_material(row.text("material")).id,
        outer_diameter=outer * 1e-3,
        inner_diameter=inner * 1e-3,
        length=row.number("length_mm", 1, 100, 1e-3),
        hole_diameter=row.number("hole_diameter_mm", 0.5, inner, 1e-3),
        mass=row.number("mass_g", 0.1, 5000, 1e-3),
        on_sale=row.word("on_sale", ("yes", "no")) == "yes",
        source=row.text("source"),
        confidence=row.confidence(),
        note=row.cells["note"],
    )


@cache
def ferrite_cores() -> tuple[FerriteCore, ...]:
    """All cores of ferrites.csv."""
    sizes = ("outer_diameter_mm", "inner_diameter_mm", "length_mm", "hole_diameter_mm", "mass_g")
    columns = ("id", "name", "shape", "material", *sizes, "on_sale", *_END)
    items = tuple(_core(row) for row in _rows("ferrites.csv", *columns))
    check_unique("ferrites.csv", items)
    return items


def ferrite_material_of(rows: Sequence[Row]) -> FerriteMaterial:
    """Gather the rows of one ferrite mix.

    Raises
    ------
    DamagedCatalogue
        If the frequencies do not rise, or a permeability is not that of a passive material.
    """
    first = rows[0]
    frequency = np.array([row.number("frequency_hz", 1e3, 1e11) for row in rows])
    falls = np.flatnonzero(np.diff(frequency) <= 0)
    if falls.size:
        raise DamagedCatalogue(first.file, rows[falls[0] + 1].line, "frequency does not rise")
    mu_prime = np.array([row.number("mu_r_prime", -100, 1e5) for row in rows])
    mu_double_prime = np.array([row.number("mu_r_double_prime", 0, 1e5) for row in rows])
    mu_r = mu_prime - 1j * mu_double_prime
    # The tables are cached and shared: nobody may write into them.
    frequency.flags.writeable = mu_r.flags.writeable = False
    return FerriteMaterial(
        id=first.text("material"),
        name=first.text("name"),
        frequency=frequency,
        mu_r=mu_r,
        source=first.text("source"),
        confidence=first.confidence(),
    )


@cache
def ferrite_materials() -> tuple[FerriteMaterial, ...]:
    """All mixes of ferrite_mu.csv."""
    values = ("frequency_hz", "mu_r_prime", "mu_r_double_prime")
    rows = _rows("ferrite_mu.csv", "material", "name", *values, "source", "confidence")
    groups = groupby(rows, key=lambda row: (row.text("material"), row.text("name")))
    items = tuple(ferrite_material_of(list(group)) for _, group in groups)
    check_unique("ferrite_mu.csv", items)
    return items


@cache
def soil_classes() -> tuple[SoilClass, ...]:
    """All grounds of grounds.csv."""
    rows = _rows("grounds.csv", "id", "name", "eps_r", "sigma_s_per_m", *_END)
    items = tuple(
        SoilClass(
            id=row.text("id"),
            name=row.text("name"),
            eps_r=row.number("eps_r", 1, 100),
            sigma=row.number("sigma_s_per_m", 0, 10),
            source=row.text("source"),
            confidence=row.confidence(),
            note=row.cells["note"],
        )
        for row in rows
    )
    check_unique("grounds.csv", items)
    return items


def conductor(name: str) -> Conductor:
    """Metal by id or name; raises UnknownName.

    Examples
    --------
    >>> conductor("copper-iacs").sigma
    58000000.0
    """
    return find("conductor", conductors(), name)


def pipe(name: str) -> Pipe:
    """Tube by id or name; raises UnknownName.

    Examples
    --------
    >>> pipe("22 x 1 mm").outside_diameter
    0.022
    """
    return find("pipe", pipes(), name)


def coax_class(name: str) -> CoaxClass:
    """Cable class by id or name; raises UnknownName.

    Examples
    --------
    >>> coax_class("RG-213/U").velocity_factor
    0.66
    """
    return find("cable", coax_classes(), name)


def ferrite_core(name: str) -> FerriteCore:
    """Core by id or name; raises UnknownName.

    Examples
    --------
    >>> ferrite_core("mix-43-bead-25-9").material
    'mix-43'
    """
    return find("ferrite core", ferrite_cores(), name)


def ferrite_material(name: str) -> FerriteMaterial:
    """Ferrite mix by id or name; raises UnknownName.

    Examples
    --------
    >>> ferrite_material("mix-61").frequency[-1]
    np.float64(1000000000.0)
    """
    return find("ferrite material", ferrite_materials(), name)


def soil_class(name: str) -> SoilClass:
    """Ground by id or name; raises UnknownName.

    Examples
    --------
    >>> soil_class("average").eps_r
    13.0
    """
    return find("ground", soil_classes(), name)
