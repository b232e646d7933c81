"""Examples 1 to 3 of the NEC-2 User's Guide through the project's own solver room.

What the room does not offer is replaced by the nearest it does, and the tolerance says so: a gap
for the current-slope source of example 2, soil of 1e9 S/m and Sommerfeld's ground for the perfect
and the reflection-coefficient ground of example 3, the plain kernel for the extended one.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from models.structure import PERFECT, Material, Port, Structure, Wire
from pipeline.far_field import Directions, directive_power, far_field
from pipeline.solver import SPEED_OF_LIGHT_NEC, SeriesLoad, Soil, unit_source_currents
from tests.validation.published_rows import Published, published

ALUMINIUM = Material(3.72e7)
# The guide's wavelength of 299.8 MHz is one metre; today's engine carries more digits.
ONE_METRE = SPEED_OF_LIGHT_NEC
SOIL = {"3": Soil(1.0, 1e9), "3 over soil": Soil(6.0, 1e-3)}


@cache
def drawn(example: str) -> Structure:
    if example.startswith("1"):
        wire = Wire((0.0, 0.0, -0.25), (0.0, 0.0, 0.25), 7, 1e-3, "antenna")
        return Structure("example 1", (wire,), (Port("feed", 0, 3),))
    if example.startswith("2"):
        metal = ALUMINIUM if "aluminium" in example else PERFECT
        wire = Wire((0.0, 0.0, -0.25), (0.0, 0.0, 0.25), 8, 1e-5, "antenna", metal)
        return Structure("example 2", (wire,), (Port("feed", 0, 4),))
    wire = Wire((0.0, 0.0, 2.0), (0.0, 0.0, 7.0), 9, 0.03, "antenna")
    return Structure("example 3", (wire,), (Port("feed", 0, 4),))


def loads(example: str, f: float) -> tuple[SeriesLoad, ...]:
    if example != "1 loaded":
        return ()
    omega = 2 * np.pi * f
    return (SeriesLoad(3, 10 + 1j * (omega * 3e-9 - 1 / (omega * 5.3e-11))),)


def frequency(row: Published) -> float:
    return row.number("frequency") if "frequency" in row.inputs else ONE_METRE


def feed_current(example: str, f: float) -> complex:
    built = drawn(example)
    current = unit_source_currents(built, np.array([f]), SOIL.get(example), loads=loads(example, f))
    return complex(current[0, 0, built.port_segments[0]])


def impedance(row: Published) -> complex:
    return 1 / feed_current(row.inputs["example"], frequency(row))


def added(row: Published) -> complex:
    return impedance(row) - 1 / feed_current("2", frequency(row))


def peak_gain_dbi(row: Published) -> float:
    """On the guide's own grid of ten degrees; over metal read just above the horizon."""
    example, f = row.inputs["example"], frequency(row)
    built = drawn(example)
    current = unit_source_currents(built, np.array([f]), SOIL[example])[0]
    grid = Directions(np.radians([*np.arange(0.0, 90.0, 10.0), 89.9]), np.array([0.0]))
    density = directive_power(far_field(built.segments, current, f, SOIL[example], grid)[0])
    into_feed = 0.5 * current[0, built.port_segments[0]].real
    return float(10 * np.log10(4 * np.pi * density.max() / into_feed))


QUANTITIES = {
    "resistance": lambda row: impedance(row).real,
    "reactance": lambda row: impedance(row).imag,
    "real_current_ma": lambda row: 1e3 * feed_current("1", frequency(row)).real,
    "imaginary_current_ma": lambda row: 1e3 * feed_current("1", frequency(row)).imag,
    "added_resistance": lambda row: added(row).real,
    "added_reactance": lambda row: added(row).imag,
    "peak_gain_dbi": peak_gain_dbi,
}


# Published


@pytest.mark.parametrize("row", published("nec_examples.csv"))
def test_examples_of_the_users_guide_come_out_as_listed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


def test_a_load_card_on_the_source_segment_adds_its_impedance_to_the_input() -> None:
    # Example 1 loaded is example 1 plus R + jX to rounding: source and load share a matrix entry.
    load = loads("1 loaded", ONE_METRE)[0].impedance
    difference = 1 / feed_current("1 loaded", ONE_METRE) - 1 / feed_current("1", ONE_METRE)
    assert difference == pytest.approx(load, rel=1e-9)


def test_a_source_left_or_right_of_the_middle_of_an_even_dipole_sees_the_same() -> None:
    # Example 2 has eight segments, so no middle one; the two next to it mirror each other.
    built = drawn("2")
    y = unit_source_currents(built, np.array([250e6]), None, sources=(3, 4))[0]
    assert y[0, 3] == pytest.approx(y[1, 4], rel=1e-6)
