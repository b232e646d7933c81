"""Figures of merit against textbook antennas and numbers worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.analysis.metrics import (
    GainRange,
    conductor_power,
    directions_that_matter,
    gain_at_elevation,
    gain_dbi,
    largest_change_db,
    low_angles,
    peak_gain,
    rms_change_db,
    series_power,
)

THETA = np.radians(np.arange(0.0, 91.0, 1.0))
WHOLE = np.radians(np.arange(0.0, 181.0, 2.0))
DECIBELS = st.floats(-30, 30)


def change_db(*grids: np.ndarray) -> tuple[float, float]:
    """Largest and rms change of one gain grid against another, where it matters."""
    return float(largest_change_db(*grids)), float(rms_change_db(*grids))


def short_dipole(theta: np.ndarray) -> np.ndarray:
    """Power per solid angle of a short vertical dipole that radiates one watt, (n, 4)."""
    return np.repeat((3 / (8 * np.pi) * np.sin(theta) ** 2)[:, None], 4, axis=1)


# Published


def test_a_short_dipole_has_a_gain_of_one_and_a_half() -> None:
    # C. A. Balanis, Antenna Theory, ch. 4, directivity of the infinitesimal dipole: 1.5,
    # 1.761 dBi; from memory.
    gain = gain_dbi(short_dipole(WHOLE), 1.0)
    peak, elevation = peak_gain(gain, WHOLE)
    assert peak == pytest.approx(10 * np.log10(1.5), abs=1e-12)
    assert elevation == pytest.approx(0.0, abs=1e-9)
    # sin^2 of 60 degrees from the axis is 3/4.
    at_30 = gain_at_elevation(gain, WHOLE, 30.0)
    assert at_30.mean == pytest.approx(10 * np.log10(1.5 * 0.75), abs=1e-12)


def test_an_isotropic_source_has_no_gain_anywhere() -> None:
    gain = gain_dbi(np.full((91, 72), 2.0 / (4 * np.pi)), 2.0)
    np.testing.assert_allclose(gain, 0.0, atol=1e-12)


# Laws


def test_power_lost_before_it_is_radiated_lowers_the_gain() -> None:
    density = np.full((3, 4), 1 / (4 * np.pi))
    np.testing.assert_allclose(gain_dbi(density, 2.0), -10 * np.log10(2), atol=1e-12)


def test_gains_of_many_cases_use_the_power_of_their_own() -> None:
    density = np.full((2, 3, 4), 1 / (4 * np.pi))
    gain = gain_dbi(density, np.array([1.0, 10.0]))
    np.testing.assert_allclose(gain[0], 0.0, atol=1e-12)
    np.testing.assert_allclose(gain[1], -10.0, atol=1e-12)


def test_the_mean_round_the_horizon_is_that_of_power() -> None:
    # A power of 2 + cos has the mean 2 and lies between 1 and 3.
    ring = 10 * np.log10(2 + np.cos(np.arange(8) * np.pi / 4))[None]
    r = gain_at_elevation(ring, np.array([np.pi / 2]), 0.0)
    decibels = (pytest.approx(10 * np.log10(power), abs=1e-9) for power in (1.0, 2.0, 3.0))
    assert r == GainRange(*decibels)


@given(st.floats(0.0, 2 * np.pi), st.floats(0.1, 0.95))
def test_extremes_are_those_of_the_pattern_wherever_they_lie_between_azimuths(
    turned: float, depth: float
) -> None:
    # 1 + d cos(2 (phi - turned)) lies between 1 - d and 1 + d.
    azimuth = np.arange(12) * np.pi / 6
    ring = 10 * np.log10(1 + depth * np.cos(2 * (azimuth - turned)))[None]
    r = gain_at_elevation(ring, np.array([np.pi / 2]), 0.0)
    assert r.minimum == pytest.approx(10 * np.log10(1 - depth), abs=0.02)
    assert r.maximum == pytest.approx(10 * np.log10(1 + depth), abs=0.001)
    assert r.mean == pytest.approx(0.0, abs=1e-9)


def test_the_ring_at_the_wanted_elevation_is_the_one_taken() -> None:
    gain = np.repeat(90.0 - np.degrees(THETA)[:, None], 3, axis=1)
    for elevation in (0.0, 3.0, 10.0, 90.0):
        assert gain_at_elevation(gain, THETA, elevation).mean == pytest.approx(elevation)


def test_the_peak_is_the_largest_value_and_where_it_is() -> None:
    gain = np.zeros((91, 4))
    gain[62, 3] = 7.5
    assert peak_gain(gain, THETA) == (7.5, pytest.approx(28.0))


def test_only_low_directions_within_ten_decibels_of_the_best_matter() -> None:
    reference = np.zeros((91, 3))
    reference[:, 1] = -9.999
    reference[:, 2] = -10.001
    reference[:80] = 20.0
    # Elevations 10 to 0 degrees are rows 80 to 90; what is higher never counts, however strong.
    assert np.flatnonzero(low_angles(THETA)).tolist() == list(range(80, 91))
    matters = directions_that_matter(reference[low_angles(THETA)])
    assert matters.all(axis=0).tolist() == [True, True, False]
    assert not matters[:, 2].any()


def test_in_free_space_nothing_below_the_horizon_matters() -> None:
    elevation = 90.0 - np.degrees(WHOLE)
    assert low_angles(WHOLE).tolist() == [-0.5 < e < 10.5 for e in elevation]


def test_a_pattern_does_not_differ_from_itself() -> None:
    gain = np.arange(12.0).reshape(3, 4)
    assert change_db(gain, gain, np.ones((3, 4), bool)) == (0.0, 0.0)


def test_a_shift_by_some_decibels_is_that_many_decibels() -> None:
    gain = np.arange(12.0).reshape(3, 4)
    for shift in (-2.0, 0.5):
        largest, rms = change_db(gain + shift, gain, np.ones((3, 4), bool))
        assert largest == pytest.approx(abs(shift))
        assert rms == pytest.approx(abs(shift))


@given(st.lists(st.tuples(DECIBELS, DECIBELS), min_size=2, max_size=9))
def test_rms_never_exceeds_the_largest_change_and_both_ways_are_equal(
    pairs: list[tuple[float, float]],
) -> None:
    a, b = np.array(pairs).T[:, None, :]
    everywhere = np.ones(a.shape, bool)
    largest, rms = change_db(a, b, everywhere)
    assert rms <= largest + 1e-12
    assert change_db(b, a, everywhere) == (largest, rms)


def test_changes_in_directions_that_do_not_matter_do_not_count() -> None:
    gain, reference = np.array([[5.0, 0.0]]), np.array([[0.0, 0.0]])
    assert change_db(gain, reference, np.array([[False, True]])) == (0.0, 0.0)


def test_power_in_an_impedance_is_half_its_resistance_times_the_peak_current_squared() -> None:
    # 50 ohm at 2 A peak: 100 W; a reactance takes nothing whatever flows.
    power = series_power(np.array([50 + 30j, 1e6j]), np.array([2j, 3.0]))
    np.testing.assert_allclose(power, [100.0, 0.0], rtol=1e-12)


def test_power_in_metal_adds_up_over_segments() -> None:
    # 0.5 (0.1 ohm/m 2 m 3^2 + 0.2 ohm/m 1 m 4^2) = 0.5 (1.8 + 3.2) = 2.5 W
    lost = conductor_power(np.array([3j, 4.0]), np.array([2.0, 1.0]), np.array([0.1, 0.2]))
    assert lost == pytest.approx(2.5, rel=1e-12)


# Edges


def test_a_perfect_null_is_a_very_small_number_and_not_minus_infinity() -> None:
    assert gain_dbi(np.zeros((1, 1)), 1.0)[0, 0] == pytest.approx(-120.0)
