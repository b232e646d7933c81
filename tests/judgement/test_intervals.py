"""Intervals of numbers: they bracket the value, and hold what is inside the disc or the band."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.circuit.line import reflection_coefficient, swr
from pipeline.judgement.case_merit import case_merit
from pipeline.judgement.intervals import (
    Interval,
    around,
    at_end,
    band_intervals,
    case_intervals,
    gain_interval,
    impedance_disc,
    wider,
)
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.report.tables import case_rows
from tests.harness.made_cases import bare, made_case
from tests.harness.small_study import case, study

HALF = Expanded(0.05, 0.04, 0.01, 0.005, 0.02, 0.05)
NOTHING = Expanded(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
EVIDENCE = CaseEvidence(1.0, 0.0, 0.0, "sound")
CASES = ("no-feedline", "ideal", "none", "core-x4", "sleeve", "turns")


def merit(name: str) -> Merit:
    return case(name).merit(case("ideal").reference(0.0), 0.0)


def ends(name: str, half: Expanded = HALF) -> dict[str, Interval]:
    return case_intervals(merit(name), half, case(name).line, study().frequency)


def row(name: str, half: Expanded) -> dict[str, float]:
    """The case's row of the comparison, its intervals included."""
    of = case_merit(case(name), merit(name), "sound")
    (found,) = case_rows([of], {name: EVIDENCE}, {name: ends(name, half)}, {name: "?"})
    return found


# Laws


@given(st.floats(0, 10), st.floats(0, 2), st.floats(0, 2))
def test_the_interval_of_a_magnitude_holds_it_and_stays_a_magnitude(value, relative, absolute):
    low, high = around(value, relative, absolute)
    assert 0 <= low <= value <= high


def test_what_a_core_is_off_by_adds_as_squares_on_each_side_alone():
    # 4 below by the computation and 3 by the core: 5; above by the computation alone.
    of = merit("core-x4")
    column, value = "shield_current_ratio_max", float(of["shield_ratio"][0])
    found = wider({column: (value - 4e-3, value + 4e-3)}, of, {column: (3e-3, 0.0)})
    assert found[column] == pytest.approx((value - 5e-3, value + 4e-3))
    assert wider({column: (0.0, value)}, of, {column: (1.0, 0.0)})[column][0] == 0
    assert wider({column: (0.0, value)}, of, {}) == {column: (0.0, value)}


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
    # 20 log10(1.02) = 0.172 dB, 20 log10(0.98) = -0.175 dB.
    assert gain_interval(0.0, 0.0, 0.02) == pytest.approx((-0.175, 0.172), abs=5e-4)


def test_the_ends_of_a_case_lie_on_either_side_of_its_score():
    for f in (made_case("c", 0.8, shield_ratio=0.2), bare(2.0)):
        low, high = (at_end(f.merit, HALF, end).score()[0] for end in (0, 1))
        assert low < f.score < high


@pytest.mark.parametrize("name", CASES)
def test_both_ends_of_every_number_stand_on_either_side_of_it(name: str) -> None:
    found = row(name, HALF)
    columns = [c.removesuffix("_low") for c in found if c.endswith("_low")]
    assert len(columns) == 15
    # To the rounding of the last bits of a superposition.
    slack = 1e-9
    for c in columns:
        assert found[f"{c}_low"] - slack <= found[c] <= found[f"{c}_high"] + slack, c


@pytest.mark.parametrize("name", CASES)
def test_the_swr_of_a_case_bounds_that_of_every_impedance_in_its_disc(name: str) -> None:
    # Brute force, seeded. 24 points of the rim miss at most 1 - cos(7.5 deg) = 0.9 % of the
    # disc's radius in reflection; an SWR near two moves by twice its share of reflection.
    z, rng = complex(case(name).z_feed[case(name).centre]), np.random.default_rng(3)
    depth, turn = np.sqrt(rng.uniform(size=2000)), np.exp(2j * np.pi * rng.uniform(size=2000))
    found = swr(reflection_coefficient(z * (1 + HALF.impedance * depth * turn), 50.0))
    low, high = ends(name)["swr_feed"]
    slack = 0.02 * (high - low)
    assert low - slack < found.min() < low + 0.1 * (high - low)
    assert high - 0.1 * (high - low) < found.max() < high + slack


def test_the_band_at_the_design_frequency_is_the_comparison() -> None:
    result = case("none")
    there = band_intervals(result, HALF)[result.centre]
    whole = ends("none")
    assert there == {name: whole[name] for name in there}


def test_the_loss_of_the_line_does_not_make_a_gain_surer() -> None:
    found = ends("none")
    gain, system = found["horizon_gain_mean_dbi"], found["system_gain_dbi"]
    assert system[1] - system[0] > gain[1] - gain[0]


# Edges


def test_where_nothing_is_uncertain_both_ends_are_the_number() -> None:
    found = row("core-x4", NOTHING)
    for c in (c.removesuffix("_low") for c in found if c.endswith("_low")):
        assert found[f"{c}_low"] == pytest.approx(found[c], abs=1e-9)
        assert found[f"{c}_high"] == pytest.approx(found[c], abs=1e-9)


def test_a_current_next_to_nothing_does_not_turn_a_change_round() -> None:
    f = made_case("c", 0.5, shield_ratio=1e-4, swr_change=0.1, mean_gain_change_db=-0.2)
    low = at_end(f.merit, HALF, 0).changes
    assert (low["swr"], low["mean_gain_dbi"]) == (0.0, 0.0)


def test_a_cable_that_is_not_there_carries_no_interval_either() -> None:
    found = ends("no-feedline")
    for name in ("shield_current_ratio_max", "station_current_ratio", "choke_power_w"):
        assert found[name] == (0.0, 0.0)


def test_nothing_is_uncertain_about_the_current_on_a_cable_that_is_not_there():
    f = made_case("alone", 0.0, shield_ratio=0.0, station_ratio=0.0)
    high = at_end(f.merit, HALF, 1).changes
    assert high["station_ratio"] == 0.0
    assert high["swr"] == f.change("swr")
