"""Grades at, below and above their limits, and what they are made of."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.wires.structure import Port, Structure, Wire
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.mesh.evidence import (
    GRADES,
    LIMITS,
    GeometryEvidence,
    case_evidence,
    convergence,
    geometry_evidence,
    grade_of,
    worst,
    worst_average_gain,
)
from pipeline.solver.cases import CABLE
from tests.harness.small_study import solved, study

NAMES = sorted(LIMITS)


def geometry(**changes: float) -> GeometryEvidence:
    values = {
        "average_gain": 1.0,
        "reciprocity": 0.0,
        "reciprocity_between_ports": 0.0,
        "neighbour_ratio": 1.0,
        "feed_thickness": 0.3,
    }
    return GeometryEvidence("g", 100, 5, **(values | changes))


# Published


def test_segments_may_differ_by_the_factor_that_the_drawing_rules_allow() -> None:
    # NEC-2 user's guide (Burke and Poggio, 1981): avoid large changes of segment length between
    # neighbours; the factor itself is common practice, no source.
    assert grade_of("segmentation", 2.0) == "sound"
    assert grade_of("segmentation", 10.0) == "unsound"


# Laws


@pytest.mark.parametrize("name", NAMES)
def test_a_value_at_a_limit_is_still_within_it(name: str) -> None:
    limit = LIMITS[name]
    assert 0 < limit.sound < limit.usable
    assert grade_of(name, 0.0) == "sound"
    assert grade_of(name, limit.sound) == "sound"
    assert grade_of(name, math.nextafter(limit.sound, 9)) == "usable"
    assert grade_of(name, limit.usable) == "usable"
    assert grade_of(name, math.nextafter(limit.usable, 9)) == "unsound"


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_not_a_number_is_unsound(name: str, value: float) -> None:
    assert grade_of(name, value) == "unsound"


@given(st.lists(st.sampled_from(GRADES), min_size=1, max_size=5))
def test_the_worst_of_several_is_none_better(grades: list[str]) -> None:
    order = ["sound", "usable", "unsound"]
    assert order.index(worst(grades)) == max(order.index(g) for g in grades)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "moved", "grade"),
    [
        ({}, 0.0, "sound"),
        ({"average_gain": 1.04}, 0.0, "usable"),
        ({"average_gain": 0.96}, 0.0, "usable"),
        ({"average_gain": 0.94}, 0.0, "unsound"),
        ({"reciprocity": 0.07}, 0.0, "usable"),
        ({"neighbour_ratio": 3.0}, 0.0, "usable"),
        ({"feed_thickness": 0.6}, 0.0, "usable"),
        ({"feed_thickness": 0.9}, 0.0, "unsound"),
        ({"neighbour_ratio": 6.0}, 0.0, "unsound"),
        ({}, 0.07, "usable"),
        ({}, 0.2, "unsound"),
        ({"average_gain": 1.04, "reciprocity": 0.2}, 0.0, "unsound"),
        ({"reciprocity_between_ports": 0.9}, 0.0, "sound"),
    ],
)
def test_a_case_is_as_good_as_the_worst_of_its_checks(
    changes: dict[str, float], moved: float, grade: str
) -> None:
    e = case_evidence(geometry(**changes), geometry(), moved)
    assert e.grade == grade
    assert (e.average_gain, e.convergence) == (geometry(**changes).average_gain, moved)


def test_a_run_that_does_not_move_has_converged() -> None:
    assert convergence(50 + 10j, 50 + 10j, 0.3, 0.3, 6.0, 6.0) == 0.0


def test_convergence_is_the_largest_of_three_changes() -> None:
    # By hand: |3 + 4j| / |30 + 40j| = 0.1; 0.02 / 0.2 = 0.1; 0.3 dB of 3 dB = 0.1.
    assert convergence(30 + 40j, 33 + 44j, 0.2, 0.2, 6.0, 6.0) == pytest.approx(0.1)
    assert convergence(50, 50, 0.2, 0.22, 6.0, 6.0) == pytest.approx(0.1)
    assert convergence(50, 50, 0.2, 0.2, 6.0, 5.7) == pytest.approx(0.1)
    assert convergence(30 + 40j, 33 + 44j, 0.2, 0.25, 6.0, 6.6) == pytest.approx(0.25)


def test_a_small_shield_current_is_measured_against_a_tenth_of_the_feed_current() -> None:
    assert convergence(50, 50, 1e-6, 2e-6, 0.0, 0.0) == pytest.approx(1e-5)


def test_an_antenna_that_is_wrong_is_not_made_right_by_its_cable() -> None:
    # A cable that radiates for itself is counted right: 0.97 with it, 0.94 without.
    with_cable, alone = geometry(average_gain=0.97), geometry(average_gain=0.94)
    assert worst_average_gain(with_cable, alone) == 0.94
    assert worst_average_gain(geometry(average_gain=1.04), geometry(average_gain=0.99)) == 1.04
    assert case_evidence(with_cable, alone, 0.0).grade == "unsound"


def test_only_the_feeds_own_row_counts_for_the_grade() -> None:
    # By hand: differences 0.01 and 0.02 over means 0.1 and 0.2, root of sums of squares: a tenth.
    y = np.array([[1.0, 0.105, 0.21], [0.095, 1.0, 0.5], [0.19, 0.1, 1.0]], dtype=complex)
    assert transfer_asymmetry(y, 0) == pytest.approx(0.1)
    assert transfer_asymmetry(y, 1) > 1.0


def test_a_step_between_small_transfer_admittances_is_not_hidden_by_large_ports() -> None:
    # 1 mS against 0.7 mS between ports of 20 mS: 35 %, of which 1.5 % would be left over sqrt(Y Y).
    y = np.array([[0.02, 0.001], [0.0007, 0.02]], dtype=complex)
    assert transfer_asymmetry(y, 0) == pytest.approx(0.3 / 0.85)


def test_evidence_of_a_solved_geometry_repeats_what_was_counted() -> None:
    entry = solved()[CABLE]
    y = entry.basis.y_port[entry.basis.centre]
    e = geometry_evidence(entry.structure, 1.01, y)
    assert e.n_segments == sum(w.n_segments for w in entry.structure.wires)
    assert e.n_ports == len(entry.structure.ports)
    difference = sum(abs(y[0, k] - y[k, 0]) ** 2 for k in range(1, e.n_ports))
    mean = sum(abs(y[0, k] + y[k, 0]) ** 2 for k in range(1, e.n_ports))
    assert e.reciprocity == pytest.approx(2 * math.sqrt(difference / mean), rel=1e-12)
    assert e.data()["average_gain"] == 1.01


def test_the_small_study_is_drawn_well_enough_to_be_judged() -> None:
    for name, entry in solved().items():
        e = geometry_evidence(entry.structure, 1.0, entry.basis.y_port[entry.basis.centre])
        assert grade_of("reciprocity", e.reciprocity) == "sound", name
        assert grade_of("segmentation", e.neighbour_ratio) == "sound", name
        assert grade_of("feed", e.feed_thickness) == "sound", name
    assert study().site.ground is None


# Edges


def test_two_wires_in_line_are_compared_by_the_length_of_their_segments() -> None:
    wires = (
        Wire((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 10, 1e-3, "a"),
        Wire((0.0, 0.0, 1.0), (0.0, 0.0, 2.0), 5, 1e-3, "a"),
    )
    e = geometry_evidence(
        Structure("two", wires, (Port("feed", 0, 0),)), 1.0, np.ones((1, 1), complex)
    )
    assert e.neighbour_ratio == pytest.approx(2.0)


# Refusals


def test_a_check_without_limits_is_no_check() -> None:
    with pytest.raises(KeyError, match="beauty"):
        grade_of("beauty", 0.1)
