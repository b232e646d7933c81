"""Limits of exposure as printed, and worked examples of the field that is compared with them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from models.catalogues.exposure_limits import ExposureLimit, limits_at
from models.quantities import ETA_NEC, SPEED_OF_LIGHT_NEC
from models.wires.structure import Port, Structure, Wire
from pipeline.analysis.exposure import average_power, far_field_density, far_field_distance
from pipeline.solver.near_field import near_field
from pipeline.solver.nec2 import unit_source_currents
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Exposure: limits, and fields near an antenna"

F = 145e6
WAVELENGTH = SPEED_OF_LIGHT_NEC / F
FOOT = 0.3048


def limit_of(row: Published) -> tuple[ExposureLimit, float]:
    f, wanted = 1e6 * row.number("f_mhz"), tuple(row.inputs[k] for k in ("rules", "group", "part"))
    (found,) = (x for x in limits_at(f) if (x.rules, x.group, x.part) == wanted)
    return found, f


def density(row: Published) -> float:
    limit, f = limit_of(row)
    return limit.density.at(f)


def density_of_electric(row: Published) -> float:
    limit, f = limit_of(row)
    assert limit.electric is not None
    return limit.electric.at(f) ** 2 / ETA_NEC


def density_of_magnetic(row: Published) -> float:
    limit, f = limit_of(row)
    assert limit.magnetic is not None
    return limit.magnetic.at(f) ** 2 * ETA_NEC


def distance(row: Published) -> float:
    eirp = row.number("power") * 10 ** (row.number("gain") / 10)
    return far_field_distance(eirp, row.number("density"), row.number("reflection")) / FOOT


def microwatts(row: Published) -> float:
    """ERP counts against a half-wave dipole, 1.64 times an isotropic radiator. [uW/cm2]"""
    return 100 * far_field_density(1.64 * row.number("erp"), row.number("distance"), 2.56)


def manual_density(row: Published) -> float:
    """Milliwatts and centimetres. [mW/cm2]"""
    return far_field_density(row.number("power"), row.number("distance"))


@cache
def half_wave() -> tuple[Structure, NDArray[np.complex128], float]:
    """A thin half-wave dipole, its currents for one volt [A] and the power it takes [W]."""
    half = 0.239 * WAVELENGTH
    built = Structure(
        "dipole", (Wire((0, 0, -half), (0, 0, half), 31, 1e-4, "x"),), (Port("feed", 0, 15),)
    )
    current = unit_source_currents(built, np.array([F]), None, lossless=True)[0]
    return built, current, 0.5 * float(current[0, 15].real)


def dipole_field(row: Published) -> float:
    """Root mean square, broadside. [V/m]"""
    built, current, taken = half_wave()
    scaled = current * np.sqrt(row.number("power") / taken)
    e, _ = near_field(
        built.segments, scaled, F, None, np.array([[row.number("distance"), 0, 0]]), 0.02
    )
    return float(np.linalg.norm(e)) / np.sqrt(2)


def element(row: Published, electric: bool) -> float:
    """Field beside a short current that falls to nothing at its ends; its moment in A m."""
    k = 2 * np.pi / WAVELENGTH
    half = 0.01 / k
    seg = Structure("e", (Wire((0, 0, -half), (0, 0, half), 21, 1e-5, "x"),), ()).segments
    shape = 1 - abs(seg.centre[:, 2]) / half
    current = (row.number("moment") * shape / half)[None].astype(complex)
    e, h = near_field(seg, current, F, None, np.array([[row.number("kr") / k, 0, 0]]), half)
    return float(np.linalg.norm(e if electric else h))


LIMIT = "{rules}, {group}, {part} at {f_mhz} MHz"
QUANTITIES = {
    "density_mw_cm2": Quantity(f"{LIMIT}: power density", lambda row: density(row) / 10),
    "density": Quantity(f"{LIMIT}: power density", density),
    "averaging": Quantity(f"{LIMIT}: averaging time", lambda row: limit_of(row)[0].averaging / 60),
    "density_of_electric": Quantity(
        f"{LIMIT}: power density of its electric field", density_of_electric
    ),
    "density_of_magnetic": Quantity(
        f"{LIMIT}: power density of its magnetic field", density_of_magnetic
    ),
    "distance": Quantity(
        "{power} W, {gain} dBi, reflection {reflection}: distance to {density} W/m2", distance
    ),
    "microwatts": Quantity("{erp} W ERP at {distance} m, worst reflection", microwatts),
    "average_power": Quantity(
        "{power} W, mode {duty}, on the air {share}: average power",
        lambda row: average_power(
            row.number("power"), 0.0, row.number("duty"), row.number("share")
        ),
    ),
    "manual_density": Quantity(
        "{power} mW, {gain} dBi at {distance} cm: power density", manual_density
    ),
    "dipole_field": Quantity("half-wave dipole, {power} W at {distance} m: field", dipole_field),
    "element_electric": Quantity(
        "short current of {moment} A m at kr = {kr}: electric field",
        lambda row: element(row, electric=True),
    ),
    "element_magnetic": Quantity(
        "short current of {moment} A m at kr = {kr}: magnetic field",
        lambda row: element(row, electric=False),
    ),
}


@pytest.mark.parametrize("row", published("exposure"))
def test_limits_and_fields_are_as_printed(row: Published) -> None:
    row.check(QUANTITIES)
