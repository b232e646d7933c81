"""Surface, jacket, radius and soil of a straight conductor."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.constants import c, epsilon_0
from scipy.optimize import brentq
from scipy.special import k0e, k1e

from models.antenna import thickness_inductance
from pipeline.conductor import ground_rod_resistance, jacket_inductance, surface_resistance
from tests.validation.published_rows import Published, published


def jacket(row: Published) -> float:
    return jacket_inductance(2 * row.number("a"), 2 * row.number("b"), row.number("eps_r"))


def slowing(row: Published) -> float:
    """Slowing of the surface wave on a wire that carries the jacket's inductance."""
    omega, radius = 2 * np.pi * row.number("f"), row.number("a")
    surface_reactance = omega * jacket(row) * 2 * np.pi * radius

    def mismatch(decay: float) -> float:
        outside = k0e(decay * radius) / k1e(decay * radius)
        return float(decay * outside / (omega * epsilon_0) - surface_reactance)

    decay = brentq(mismatch, 1e-3, 10.0, xtol=1e-12)
    return float(np.hypot(omega / c, decay) / (omega / c) - 1)


def rod(row: Published) -> float:
    return ground_rod_resistance(
        row.number("length"), row.number("diameter") / 2, 1 / row.number("resistivity")
    )


def straight_wire(row: Published) -> float:
    # In Rosa's formula the radius stands only in the logarithm, so a wire of radius 2 l / e
    # has no inductance and the difference to it is the whole of the thin one's.
    return 1e6 * thickness_inductance(1.0, 2 / np.e, row.number("r"))


QUANTITIES = {
    "jacket_inductance_nh": lambda row: 1e9 * jacket(row),
    "slowing": slowing,
    "ground_rod_resistance": rod,
    "straight_wire_difference_uh": straight_wire,
}


# Published


@pytest.mark.parametrize("row", published("conductor.csv"))
def test_conductor_agrees_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


def test_jacket_of_air_or_of_no_thickness_adds_nothing() -> None:
    assert jacket_inductance(8e-3, 10e-3, 1.0) == 0
    assert jacket_inductance(8e-3, 8e-3, 3.0) == 0


def test_jackets_one_over_the_other_add_up() -> None:
    inner, outer = jacket_inductance(4e-3, 5e-3, 2.3), jacket_inductance(5e-3, 7e-3, 2.3)
    assert jacket_inductance(4e-3, 7e-3, 2.3) == pytest.approx(inner + outer, rel=1e-14)


def test_thicker_part_takes_as_much_inductance_as_a_thinner_one_brings() -> None:
    thinner = thickness_inductance(0.03, 4e-3, 2e-3)
    assert thinner == pytest.approx(-thickness_inductance(0.03, 2e-3, 4e-3))
    assert thinner > 0
    assert thickness_inductance(0.03, 4e-3, 4e-3) == 0


def test_inductances_per_metre_depend_on_shape_and_not_on_size() -> None:
    assert jacket_inductance(8e-3, 10e-3, 2.3) == pytest.approx(jacket_inductance(8, 10, 2.3))
    assert thickness_inductance(1, 4e-3, 1e-3) == pytest.approx(thickness_inductance(1, 4, 1))


def test_rod_in_soil_half_as_conductive_has_twice_the_resistance() -> None:
    assert ground_rod_resistance(2.4, 8e-3, 0.005) == pytest.approx(
        2 * ground_rod_resistance(2.4, 8e-3, 0.01)
    )


def test_rod_of_twice_the_size_has_half_the_resistance() -> None:
    assert ground_rod_resistance(4.8, 16e-3, 0.01) == pytest.approx(
        ground_rod_resistance(2.4, 8e-3, 0.01) / 2
    )


def test_surface_resistance_grows_with_the_root_of_frequency() -> None:
    f = np.array([30e6, 120e6, 480e6])
    np.testing.assert_allclose(
        surface_resistance(f, 5.8e7) / surface_resistance(30e6, 5.8e7), [1, 2, 4]
    )


# Edges


def test_surface_resistance_keeps_an_empty_axis() -> None:
    assert surface_resistance(np.zeros(0), 5.8e7).shape == (0,)


# Refusals


@pytest.mark.parametrize("sizes", [(0.0, 1e-3), (2e-3, 1e-3), (float("nan"), 1e-3)])
def test_jacket_inside_its_shield_is_refused(sizes: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="shield_diameter <= jacket_diameter"):
        jacket_inductance(*sizes, 2.3)


def test_permittivity_below_that_of_vacuum_is_refused() -> None:
    with pytest.raises(ValueError, match=r"eps_r = 0\.9 must be at least 1"):
        jacket_inductance(8e-3, 10e-3, 0.9)


@pytest.mark.parametrize("rod", [(0.05, 8e-3, 0.01), (2.4, 0.0, 0.01), (2.4, 8e-3, 0.0)])
def test_rod_that_is_not_slender_or_soil_that_insulates_is_refused(
    rod: tuple[float, float, float],
) -> None:
    with pytest.raises(ValueError, match="at least ten radii"):
        ground_rod_resistance(*rod)


def test_metal_without_conductivity_is_refused() -> None:
    with pytest.raises(ValueError, match="sigma = 0 must be positive"):
        surface_resistance(145e6, 0)
