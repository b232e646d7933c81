"""Catalogues of pipe, coax, ferrite, soil and metal: CSV files in, frozen SI records out.

Every row carries its source and how far it can be trusted; a damaged file is refused whole.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from importlib.resources import files
from itertools import groupby
from typing import TypedDict, TypeVar

import numpy as np

from models.catalogues.names import Sizes, find
from models.catalogues.names import UnknownName as UnknownName
from models.catalogues.records import NO_PARTS, OwnParts
from models.catalogues.records import CoaxClass as CoaxClass
from models.catalogues.records import Conductor as Conductor
from models.catalogues.records import FerriteCore as FerriteCore
from models.catalogues.records import FerriteMaterial as FerriteMaterial
from models.catalogues.records import Pipe as Pipe
from models.catalogues.records import SoilClass as SoilClass
from models.catalogues.rows import DamagedCatalogue as DamagedCatalogue
from models.catalogues.rows import Row, check_unique, read_rows
from models.catalogues.working_limits import working_value
from models.lengths import small

T = TypeVar("T")


class Rating(TypedDict):
    """Average power a cable bears, at which frequency, and who says so."""

    average_power: float | None
    average_power_frequency: float | None
    power_source: str


_END = ("source", "confidence", "note")
PIPE_COLUMNS = (
    *("id", "name", "standard", "material", "conductor", "outside_diameter_mm", "wall_mm"),
    *("mass_kg_per_m", *_END),
)
COAX_COLUMNS = (
    *("id", "name", "also", "z0_ohm", "velocity_factor", "shield_diameter_mm"),
    *("jacket_diameter_mm", "jacket_material", "jacket_eps_r", "bend_radius_install_mm"),
    *("bend_radius_repeated_mm", "k1_db_per_100m_per_sqrt_mhz", "k2_db_per_100m_per_mhz"),
    *("loss_confidence", "mass_kg_per_m", "average_power_w", "average_power_at_mhz"),
    *("power_source", "power_confidence", *_END),
)
CORE_COLUMNS = (
    *("id", "name", "shape", "material", "outer_diameter_mm", "inner_diameter_mm", "length_mm"),
    *("hole_diameter_mm", "mass_g", "on_sale", *_END),
)


def rows_of(file: str, *columns: str) -> list[Row]:
    """Rows of one of the project's own files."""
    text = (files("models") / "catalogues" / file).read_text(encoding="utf-8")
    return read_rows(text, file, columns)


@cache
def conductors() -> tuple[Conductor, ...]:
    """All metals of conductors.csv."""
    rows = rows_of("conductors.csv", "id", "name", "conductivity_s_per_m", *_END)
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


def named_in(row: Row, column: str, find_one: Callable[[str], T]) -> T:
    """Id of a part in another catalogue that a cell names."""
    name = row.text(column)
    try:
        return find_one(name)
    except UnknownName as error:
        raise row.wrong(column, repr(name), error.rule, error.remedy) from error


def pipe_of(row: Row) -> Pipe:
    """Tube of one row."""
    diameter = row.number("outside_diameter_mm", 3, 200)
    metal = named_in(row, "conductor", conductor)
    return Pipe(
        id=row.text("id"),
        name=row.text("name"),
        standard=row.text("standard"),
        material=row.text("material"),
        conductor=metal.id,
        outside_diameter=diameter * 1e-3,
        wall=row.number("wall_mm", 0.2, diameter / 2, 1e-3),
        mass_per_m=row.number("mass_kg_per_m", 0.01, 50),
        sigma=metal.sigma,
        source=row.text("source"),
        confidence=row.confidence(),
    )


@cache
def pipes() -> tuple[Pipe, ...]:
    """All tubes of pipes.csv."""
    items = tuple(pipe_of(row) for row in rows_of("pipes.csv", *PIPE_COLUMNS))
    check_unique("pipes.csv", items)
    return items


def coax_of(row: Row) -> CoaxClass:
    """Cable of one row."""
    jacket = row.number("jacket_diameter_mm", 1, 100)
    return CoaxClass(
        id=row.text("id"),
        name=row.text("name"),
        also=row.cells["also"],
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
    items = tuple(coax_of(row) for row in rows_of("coax.csv", *COAX_COLUMNS))
    check_unique("coax.csv", items)
    return items


def core_of(row: Row) -> FerriteCore:
    """Core of one row."""
    outer = row.number("outer_diameter_mm", 2, 300)
    inner = row.number("inner_diameter_mm", 0.5, outer)
    return FerriteCore(
        id=row.text("id"),
        name=row.text("name"),
        shape=row.word("shape", ("ring", "bead", "clamp-on")),
        material=named_in(row, "material", ferrite_material).id,
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
    items = tuple(core_of(row) for row in rows_of("ferrites.csv", *CORE_COLUMNS))
    check_unique("ferrites.csv", items)
    return items


def ferrite_material_of(rows: Sequence[Row]) -> FerriteMaterial:
    """Gather the rows of one ferrite mix."""
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
    rows = rows_of("ferrite_mu.csv", "material", "name", *values, "source", "confidence")
    groups = groupby(rows, key=lambda row: (row.text("material"), row.text("name")))
    items = tuple(ferrite_material_of(list(group)) for _, group in groups)
    check_unique("ferrite_mu.csv", items)
    return items


@cache
def soil_classes() -> tuple[SoilClass, ...]:
    """All grounds of grounds.csv."""
    rows = rows_of("grounds.csv", "id", "name", "eps_r", "sigma_s_per_m", *_END)
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


def every_pipe(own: OwnParts = NO_PARTS) -> tuple[Pipe, ...]:
    """Tubes of a study's own, then those of the catalogue."""
    return (*own.pipes, *pipes())


def every_cable(own: OwnParts = NO_PARTS) -> tuple[CoaxClass, ...]:
    """Cables of a study's own, then those of the catalogue."""
    return (*own.cables, *coax_classes())


def every_core(own: OwnParts = NO_PARTS) -> tuple[FerriteCore, ...]:
    """Cores of a study's own, then those of the catalogue."""
    return (*own.cores, *ferrite_cores())


# Makers round to a twentieth of a millimetre, and an inch size to a tenth.
_TUBE = Sizes("outside_diameter", 5e-3, "an outside diameter", "a nominal size", "outside")
_JACKET = Sizes("jacket_diameter", 0.01, "a thickness", "", "thick")
# A hole is called by a round number: 6.5 for 6.6 mm, 13 for 12.7 mm.
_HOLE = Sizes("hole_diameter", 0.03, "a hole", "", "of hole")


def pipe(name: str, own: OwnParts = NO_PARTS) -> Pipe:
    """Tube by id or name, as people write it; raises UnknownName.

    Examples
    --------
    >>> pipe("22 x 1 mm").outside_diameter
    0.022
    """
    return find("pipe", every_pipe(own), name, _TUBE, _tube_words)


def _tube_words(tube: Pipe) -> str:
    """Name of a pipe as a study writes it, and its outside: a nominal size does not say it."""
    return f"{tube.name} ({small(tube.outside_diameter, None)} outside)"


def coax_class(name: str, own: OwnParts = NO_PARTS) -> CoaxClass:
    """Cable class by id or name, as people write it; raises UnknownName.

    Examples
    --------
    >>> coax_class("RG213").velocity_factor
    0.66
    """
    return find("cable", every_cable(own), name, _JACKET)


def ferrite_core(name: str, own: OwnParts = NO_PARTS, jacket_diameter: float = 0.0) -> FerriteCore:
    """Core by id or name, as people write it; raises UnknownName.

    Where a name means several, those are offered first that a cable with a jacket [m] goes
    through, and of those the ones that close round a cable with its connectors on.

    Examples
    --------
    >>> ferrite_core("mix-43-bead-25-9").material
    'mix-43'
    """

    def order(core: FerriteCore) -> tuple[bool, bool, bool, float]:
        small = core.hole_diameter < jacket_diameter
        return small, core.shape != "clamp-on", not core.on_sale, core.hole_diameter

    cores = sorted(every_core(own), key=order)
    return find("ferrite core", cores, name, _HOLE, _core_words)


def _core_words(core: FerriteCore) -> str:
    """Name of a core as a study writes it, and what it is."""
    over = "; connectors may stay on" if core.shape == "clamp-on" else ""
    return f"{core.id} ({core.shape}, {small(core.hole_diameter, None)} hole{over})"


@cache
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


# Written lengths and their conversions differ by rounding [m].
_SLACK = 1e-9


def is_split(core: FerriteCore) -> bool:
    """Whether a core closes round a cable that already has its connectors.

    Examples
    --------
    >>> is_split(ferrite_core("mix-43-clamp-12-7")), is_split(ferrite_core("mix-43-ring-21"))
    (True, False)
    """
    return core.shape == "clamp-on"


def least_hole(core: FerriteCore, jacket_diameter: float) -> float:
    """Smallest hole of a core of this shape that a cable is sure to go through. [m]

    The hole of a split core is the thickest cable that its maker names. That of a solid one is a
    nominal bore: bore and jacket scatter, and a cable has to be pulled through.

    Examples
    --------
    >>> round(1e3 * least_hole(ferrite_core("mix-43-bead-14-3"), 6.1e-3), 2)
    6.4
    """
    return jacket_diameter + (0.0 if is_split(core) else working_value("core-clearance"))


def takes_cable(core: FerriteCore, jacket_diameter: float) -> bool:
    """Whether a cable with its jacket [m] goes through a core's hole.

    Examples
    --------
    >>> bead = ferrite_core("mix-43-bead-14-3")
    >>> takes_cable(bead, 4.95e-3), takes_cable(bead, 6.1e-3)
    (True, False)
    """
    return core.hole_diameter >= least_hole(core, jacket_diameter) - _SLACK


def bore(tube: Pipe) -> float:
    """Inner diameter of a pipe. [m]

    Examples
    --------
    >>> round(1e3 * bore(pipe("28x1 mm")), 3)
    26.0
    """
    return tube.outside_diameter - 2 * tube.wall


def goes_into(jacket_diameter: float, tube: Pipe) -> bool:
    """Whether a cable with its jacket [m] goes into a pipe with air to spare.

    Examples
    --------
    >>> goes_into(10.3e-3, pipe("12x0.6 mm")), goes_into(10.3e-3, pipe("12x1 mm"))
    (True, False)
    """
    return bore(tube) > jacket_diameter
