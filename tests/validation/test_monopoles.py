"""Verticals that stand on metal."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from models.wires.structure import Port, Structure, Wire
from tests.validation.published_rows import Published, Quantity, published
from tests.validation.wires import METAL, directivity_dbi, feed_currents, impedance, thin_limit

TITLE = "Verticals over metal"


def monopole(height: float, radius: float, n: int = 80) -> Structure:
    wire = Wire((0.0, 0.0, 0.0), (0.0, 0.0, height), n, radius, "antenna")
    return Structure("monopole", (wire,), (Port("foot", 0, 0),))


@cache
def thin(height: float) -> complex:
    return thin_limit(lambda r: impedance(monopole(height, r), soil=METAL), 2 * height)


def directivity(row: Published) -> float:
    built = monopole(row.number("height"), 1e-9)
    return directivity_dbi(built, feed_currents(built, soil=METAL)[0], METAL)


def over_horizon(row: Published) -> float:
    """Directivity of a height against that of a quarter wave. [dB]"""
    quarter = monopole(0.25, 1e-9)
    return directivity(row) - directivity_dbi(quarter, feed_currents(quarter, soil=METAL)[0], METAL)


@cache
def horizontal(height: float) -> complex:
    """A thin half-wave dipole lying ``height`` wavelengths above metal. [ohm]"""

    def lying(radius: float) -> complex:
        wire = Wire((-0.25, 0.0, height), (0.25, 0.0, height), 101, radius, "antenna")
        return impedance(Structure("lying", (wire,), (Port("feed", 0, 50),)), soil=METAL)

    return thin_limit(lying, 0.5)


QUANTITIES = {
    "resistance": Quantity(
        "vertical {height} wavelengths tall: R", lambda row: thin(row.number("height")).real
    ),
    "reactance": Quantity(
        "vertical {height} wavelengths tall: X", lambda row: thin(row.number("height")).imag
    ),
    "directivity": Quantity("vertical {height} wavelengths tall: directivity", directivity),
    "over_quarter_wave": Quantity(
        "vertical {height} wavelengths tall: directivity above a quarter wave's", over_horizon
    ),
    "horizontal_resistance": Quantity(
        "half-wave dipole lying {height} wavelengths up: R",
        lambda row: horizontal(row.number("height")).real,
    ),
    "horizontal_reactance": Quantity(
        "half-wave dipole lying {height} wavelengths up: X",
        lambda row: horizontal(row.number("height")).imag,
    ),
}


# Published


@pytest.mark.parametrize("row", published("monopoles"))
def test_antennas_over_metal_agree_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


@pytest.mark.parametrize("gap", [0.05, 0.2])
def test_a_vertical_wire_over_metal_is_half_of_itself_with_its_image(gap: float) -> None:
    # Image theory; 1e9 S/m is metal to a part in a million. (NEC-2 theory manual, 1981, IV.)
    def wire(low: float) -> Wire:
        return Wire((0.0, 0.0, low), (0.0, 0.0, low + 0.5), 21, 1e-4, "antenna")

    real = Structure("over metal", (wire(gap),), (Port("feed", 0, 10),))
    twin = Structure(
        "with its image", (wire(gap), wire(-gap - 0.5)), (Port("feed", 0, 10), Port("image", 1, 10))
    )
    both = feed_currents(twin).sum(axis=0)[10]
    assert impedance(real, soil=METAL) == pytest.approx(1 / both, rel=1e-5)


def test_a_monopole_on_metal_has_half_the_impedance_of_the_dipole() -> None:
    # The dipole's two middle segments, one volt each, are the monopole's foot and its image. The
    # engine ends the current basis at a ground differently from a free joint: 0.7 ohm of X.
    n = 20
    whole = Wire((0.0, 0.0, -0.25), (0.0, 0.0, 0.25), 2 * n, 1e-6, "antenna")
    dipole = Structure("dipole", (whole,), (Port("low", 0, n - 1), Port("high", 0, n)))
    expected = 1 / feed_currents(dipole).sum(axis=0)[n]
    found = impedance(monopole(0.25, 1e-6, n), soil=METAL)
    assert found.real == pytest.approx(expected.real, rel=0.005)
    assert found.imag == pytest.approx(expected.imag, abs=1.0)


def test_metal_is_conductive_enough_to_be_taken_for_perfect() -> None:
    # Ten times the conductivity changes the impedance by less than a part in ten thousand.
    better = type(METAL)(1.0, 1e10)
    built = monopole(0.25, 1e-6, 20)
    np.testing.assert_allclose(impedance(built, soil=METAL), impedance(built, soil=better), 1e-4)
