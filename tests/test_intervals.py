"""Intervals of numbers: they bracket the value, and hold what is inside the disc or the band."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_facts import bare, facts

from pipeline.intervals import around, at_end, gain_interval, impedance_disc
from pipeline.line import reflection_coefficient, swr
from pipeline.uncertainty import Expanded
from pipeline.verdict import score

HALF = Expanded(0.05, 0.04, 0.01, 0.005, 0.02, 0.05)


# Laws


@given(st.floats(0, 10), st.floats(0, 2), st.floats(0, 2))
def test_the_interval_of_a_magnitude_holds_it_and_stays_a_magnitude(value, relative, absolute):
    low, high = around(value, relative, absolute)
    assert 0 <= low <= value <= high


def test_independent_half_widths_add_as_squares():
    # 0.1 times 0.3 and 0.04: a triangle of 3, 4 and 5.
    assert around(0.1, 0.3, 0.04) == pytest.approx((0.05, 0.15))


@given(
    st.complex_numbers(min_magnitude=20, max_magnitude=200),
    st.floats(0.01, 0.2),
    st.floats(0, 1),
    st.floats(0, 2 * np.pi),
)
def test_the_swr_of_the_disc_bounds_that_of_every_impedance_in_it(z, relative, depth, angle):
    # Largest and smallest SWR over a disc lie on its rim, or at the match where that is inside; 24
    # points of the rim leave a fraction of a per cent of reflection.
    z = complex(abs(z.real) + 1, z.imag)
    if relative * abs(z) >= z.real:
        return
    inside = z * (1 + relative * depth * np.exp(1j * angle))
    sizes = np.abs(reflection_coefficient(impedance_disc(z, relative, 50.0), 50.0))
    size = abs(reflection_coefficient(np.array([inside]), 50.0)[0])
    assert sizes.min() - 0.01 < size < sizes.max() + 0.01


def test_a_match_inside_the_disc_is_found():
    # 50 ohm lies 4 % from 52: within 5 % the SWR may be one.
    found = impedance_disc(52 + 0j, 0.05, 50.0)
    assert swr(reflection_coefficient(found, 50.0)).min() == pytest.approx(1.0)


def test_a_direction_near_a_null_is_less_certain_in_decibels():
    mean = gain_interval(6.0, 6.0, 0.02)
    null = gain_interval(-14.0, 6.0, 0.02)
    assert null[1] - null[0] > 8 * (mean[1] - mean[0])
    assert gain_interval(-60.0, 6.0, 0.02)[0] == -120.0


def test_a_field_two_per_cent_off_is_a_sixth_of_a_decibel():
    # 20 log10(1.02) = 0.172 dB.
    assert gain_interval(0.0, 0.0, 0.02)[1] == pytest.approx(0.172, abs=5e-4)


def test_the_ends_of_a_case_lie_on_either_side_of_its_score():
    for f in (facts("c", 0.8, shield_ratio=0.2), bare(2.0)):
        assert score(at_end(f, HALF, 0)) < score(f) < score(at_end(f, HALF, 1))


# Edges


def test_nothing_is_uncertain_about_the_current_on_a_cable_that_is_not_there():
    f = facts("alone", 0.0, shield_ratio=0.0, station_ratio=0.0)
    assert at_end(f, HALF, 1).station_ratio == 0.0
    assert at_end(f, HALF, 1).swr_change == f.swr_change
