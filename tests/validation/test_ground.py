"""Reflection from the ground, and lobes and nulls of an antenna above it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.structure import Port, Structure, Wire
from pipeline.solver.far_field import Directions, directive_power, far_field, fresnel
from tests.validation.published_rows import Published, Quantity, published
from tests.validation.wires import METAL

TITLE = "Reflection from the ground"


def coefficients(row: Published) -> tuple[complex, complex]:
    v, h = fresnel(
        np.radians([row.number("grazing")]),
        row.number("eps_r"),
        1e-3 * row.number("sigma_ms"),
        1e6 * row.number("f_mhz"),
    )
    return complex(v[0]), complex(h[0])


def pseudo_brewster(row: Published) -> float:
    grazing = np.radians(np.arange(1.0, 45.0, 0.01))
    v, _ = fresnel(grazing, row.number("eps_r"), 0.0, 145e6)
    return float(np.degrees(grazing[np.argmin(np.abs(v))]))


@cache
def gain_of_height(kind: str, height: float, soil: Soil) -> tuple[NDArray, NDArray]:
    """Field of a short current over soil against the same in free space, elevations [deg] up.

    ``height`` in wavelengths at 145 MHz.
    """
    wavelength = SPEED_OF_LIGHT_NEC / 145e6
    z, half = height * wavelength, 0.01 * wavelength
    upright = kind == "vertical"
    low, high = (0.0, 0.0, z - half), (0.0, 0.0, z + half)
    if not upright:
        low, high = (0.0, -half, z), (0.0, half, z)
    built = Structure("element", (Wire(low, high, 1, 1e-4, "x"),), (Port("feed", 0, 0),))
    # A degree up metal of finite conductivity is metal; below, it has a last dip of its own.
    elevation = np.arange(1.0, 60.0, 0.02)
    grid = Directions(np.radians(90 - elevation), np.array([0.0]))
    current = np.ones((1, 1), complex)
    over, free = (
        directive_power(far_field(built.segments, current, 145e6, s, grid)[0])[:, 0]
        for s in (soil, None)
    )
    return elevation, np.sqrt(over / free)


def turning(row: Published, lobe: bool) -> float:
    """Elevation of the first lobe or null above one degree. [deg]"""
    elevation, factor = gain_of_height(row.inputs["kind"], row.number("height"), METAL)
    size = factor if lobe else -factor
    inside = (size[1:-1] > size[:-2]) & (size[1:-1] > size[2:])
    return float(elevation[1:-1][inside][0])


def factor_over_soil(row: Published) -> float:
    soil = Soil(row.number("eps_r"), 1e-3 * row.number("sigma_ms"))
    elevation, factor = gain_of_height(row.inputs["kind"], row.number("height"), soil)
    return float(np.interp(row.number("elevation"), elevation, 20 * np.log10(factor)))


SOIL = "soil of permittivity {eps_r} and {sigma_ms} mS/m"
QUANTITIES = {
    "vertical_size": Quantity(
        f"{SOIL}, {{f_mhz}} MHz, {{grazing}} degrees: vertical reflection",
        lambda row: abs(coefficients(row)[0]),
    ),
    "horizontal_size": Quantity(
        f"{SOIL}, {{f_mhz}} MHz, {{grazing}} degrees: horizontal reflection",
        lambda row: abs(coefficients(row)[1]),
    ),
    "pseudo_brewster": Quantity(
        "ground of permittivity {eps_r}, no loss: angle of least vertical reflection",
        pseudo_brewster,
    ),
    "first_null": Quantity(
        "{kind} current {height} wavelengths above metal: elevation of the first null",
        lambda row: turning(row, lobe=False),
    ),
    "first_lobe": Quantity(
        "{kind} current {height} wavelengths above metal: elevation of the first lobe",
        lambda row: turning(row, lobe=True),
    ),
    "factor_over_soil": Quantity(
        f"{{kind}} current {{height}} wavelengths above {SOIL}: field at {{elevation}} degrees "
        "over that in free space",
        factor_over_soil,
    ),
}


@pytest.mark.parametrize("row", published("ground"))
def test_the_ground_reflects_as_printed(row: Published) -> None:
    row.check(QUANTITIES)
