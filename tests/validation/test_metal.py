"""Sleeve, ground rod, skin of metal, straight conductor: closed formulas of the text books."""

from __future__ import annotations

import numpy as np
import pytest

from models.antennas.generator import thickness_inductance
from models.catalogues.parts import conductor
from models.site.soil import ground_rod_resistance
from models.wires.pipe_cage import cage_equivalent_radius
from pipeline.circuit.ferrite_and_sleeve import (
    SleeveSection,
    sleeve_impedance,
    sleeve_line,
    sleeve_quarter_wave_length,
)
from pipeline.circuit.line import surface_resistance
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Sleeve, rod and metal"
FREQUENCY = 145e6


def skin_depth(row: Published) -> float:
    """From the surface resistance: one over conductivity times resistance of a square. [um]"""
    sigma = 1e6 * row.number("sigma_ms_per_m")
    return 1e6 / (sigma * float(surface_resistance(1e6 * row.number("f_mhz"), sigma)))


def section_of(row: Published) -> SleeveSection:
    shield, jacket, sleeve = (1e-3 * row.number(k) for k in ("shield", "jacket", "sleeve"))
    return SleeveSection(shield, jacket, row.number("eps_r"), sleeve, 5.8e7, 5.8e7)


def quarter_wave(row: Published) -> float:
    return sleeve_quarter_wave_length(FREQUENCY, section_of(row))


def best_size(row: Published) -> float:
    """Largest impedance at the mouth, a quarter wave from the joint. [kiloohm]"""
    z = sleeve_impedance(FREQUENCY, quarter_wave(row), section_of(row))
    return 1e-3 * abs(complex(z))


def rod(row: Published) -> float:
    radius = 0.5e-3 * row.number("diameter_mm")
    return ground_rod_resistance(row.number("length"), radius, 1 / row.number("resistivity"))


def straight_wire(row: Published) -> float:
    # In Rosa's formula the radius stands only in the logarithm, so a wire of radius 2 l / e
    # has no inductance and the difference to it is the whole of the thin one's.
    length = row.number("length")
    radius = 0.5e-3 * row.number("diameter_mm")
    return 1e6 * thickness_inductance(length, 2 * length / np.e, radius)


SLEEVE = "{sleeve} mm sleeve over {shield} mm shield, {jacket} mm jacket of permittivity {eps_r}"
QUANTITIES = {
    "surface_resistance": Quantity(
        "metal of {sigma_ms_per_m} MS/m at {f_mhz} MHz: surface resistance",
        lambda row: (
            1e3 * surface_resistance(1e6 * row.number("f_mhz"), 1e6 * row.number("sigma_ms_per_m"))
        ),
    ),
    "skin_depth": Quantity("metal of {sigma_ms_per_m} MS/m at {f_mhz} MHz: skin depth", skin_depth),
    "resistivity": Quantity(
        "{metal}: resistivity", lambda row: 1e8 / conductor(row.inputs["metal"]).sigma
    ),
    "sleeve_z0": Quantity(
        f"{SLEEVE}: impedance of its line",
        lambda row: sleeve_line(FREQUENCY, section_of(row))[0].real,
    ),
    "sleeve_quarter_wave": Quantity(
        f"{SLEEVE}: quarter wave at 145 MHz", lambda row: 1e3 * quarter_wave(row)
    ),
    "sleeve_best": Quantity(f"{SLEEVE}: largest impedance at 145 MHz", best_size),
    "ground_rod": Quantity(
        "rod {length} m long, {diameter_mm} mm thick, soil of {resistivity} ohm m: resistance", rod
    ),
    "straight_wire": Quantity(
        "straight wire {length} m long, {diameter_mm} mm thick: inductance", straight_wire
    ),
    "cage_radius": Quantity(
        "{n} wires of {wire_mm} mm radius on a circle of {ring_mm} mm: equivalent radius",
        lambda row: cage_equivalent_radius(
            row.number("ring_mm"), row.number("wire_mm"), int(row.inputs["n"])
        ),
    ),
}


@pytest.mark.parametrize("row", published("metal"))
def test_metal_agrees_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)
