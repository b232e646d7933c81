"""Coils of one layer: inductance, self-capacitance, first self-resonance."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.circuit.coil import (
    coil_self_resonance,
    helix_capacitance,
    helix_inductance,
    nagaoka_coefficient,
)
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Coils"
INCH = 0.0254


def lundin(ratio: float) -> float:
    """R. Lundin, Proc. IEEE 73 (1985), 1428: fit of the Nagaoka coefficient, 3 ppm."""

    def first(z: float) -> float:
        return (1 + 0.383901 * z + 0.017108 * z**2) / (1 + 0.258952 * z)

    if ratio <= 1:
        return first(ratio**2) - 4 * ratio / (3 * np.pi)
    y = 1 / ratio
    second = 0.093842 * y**2 + 0.002029 * y**4 - 0.000801 * y**6
    return float(2 * y / np.pi * ((np.log(4 * ratio) - 0.5) * first(y**2) + second))


def departure_from_lundin(row: Published) -> float:
    """Largest departure from the fit over a range of D/l. [parts per million]"""
    ratios = np.geomspace(row.number("low"), row.number("high"), 41)
    fit = np.array([lundin(float(r)) for r in ratios])
    return float(1e6 * np.abs(nagaoka_coefficient(ratios, 1.0) / fit - 1).max())


def inductance(row: Published) -> float:
    turns, pitch = row.number("turns"), 1e-3 * row.number("pitch_mm")
    return 1e6 * helix_inductance(turns, 1e-3 * row.number("diameter_mm"), pitch)


def inch_inductance(row: Published) -> float:
    turns, length = row.number("turns"), row.number("length_in")
    return 1e6 * helix_inductance(turns, 2 * row.number("radius_in") * INCH, length * INCH / turns)


def capacitance_per_diameter(row: Published) -> float:
    """pF per cm of diameter."""
    return 1e12 * helix_capacitance(0.01, 0.01 * row.number("ratio"))


def self_resonance(row: Published) -> float:
    turns, pitch = row.number("turns"), 1e-3 * row.number("pitch_mm")
    return 1e-6 * coil_self_resonance(turns, 1e-3 * row.number("diameter_mm"), pitch)


QUANTITIES = {
    "nagaoka": Quantity(
        "Nagaoka's coefficient, diameter {ratio} lengths",
        lambda row: nagaoka_coefficient(row.number("ratio"), 1.0),
    ),
    "departure_from_lundin": Quantity(
        "Nagaoka's coefficient against Lundin's fit, diameter {low} to {high} lengths: worst",
        departure_from_lundin,
    ),
    "inductance": Quantity(
        "coil of {turns} turns, {diameter_mm} mm across, pitch {pitch_mm} mm: inductance",
        inductance,
    ),
    "inch_inductance": Quantity(
        "coil of {turns} turns, radius {radius_in} in, length {length_in} in: inductance",
        inch_inductance,
    ),
    "capacitance": Quantity(
        "coil {ratio} diameters long: self-capacitance per diameter", capacitance_per_diameter
    ),
    "self_resonance": Quantity(
        "coil of {turns} turns, {diameter_mm} mm across, pitch {pitch_mm} mm: first resonance",
        self_resonance,
    ),
}


@pytest.mark.parametrize("row", published("coils"))
def test_coils_agree_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)
