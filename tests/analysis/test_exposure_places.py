"""Shells round conductors, and how far a place is from each of them."""

from __future__ import annotations

import numpy as np
import pytest

from models.wires.structure import Structure, Wire
from pipeline.analysis.exposure_places import conductors, distances_to, radii, survey_places


def test_shells_of_a_longer_reach_are_the_same_and_more() -> None:
    short, long = radii(0.1, 1.0), radii(0.1, 7.3)
    np.testing.assert_array_equal(long[: len(short)], short)
    assert short[-1] >= 1.0 > short[-2]
    assert long[-1] >= 7.3 > long[-2]


def test_distances_are_those_from_the_nearest_point_of_a_wire() -> None:
    wires = (
        Wire((0, 0, 1), (0, 0, 2), 3, 1e-3, "antenna"),
        Wire((0, 0, 1), (4, 0, 1), 2, 1e-3, "shield"),
    )
    built = Structure("d", wires, ())
    points = np.array([[0.0, 3, 1.5], [0, 0, 6], [2.3, 0, 1.5], [5, 0, 1]])
    found = distances_to(built, conductors(built), points)
    assert found[0] == pytest.approx([3.0, 4.0, 2.3, 5.0])
    assert found[1] == pytest.approx([9.25**0.5, 5.0, 0.5, 1.0])


def test_a_place_near_a_cable_is_the_cables_and_one_far_from_both_the_antennas() -> None:
    wires = (
        Wire((0, 0, 0), (0, 0, 1), 10, 1e-3, "antenna"),
        Wire((0, 0, 0), (0, 0, -6), 40, 1e-3, "shield"),
        Wire((0, 0, -6), (1, 0, -6), 8, 1e-3, "station lead"),
    )
    places = survey_places(Structure("d", wires, ()), 145e6, 4.0, 0.2, None)
    assert places.conductors == ("antenna", "cable", "power lead")
    cable = places.distance[1] < places.distance[0] / 3
    beside = cable & (places.distance[1] < places.distance[2])
    assert (places.owner[beside] == 1).all()
    assert (places.owner[places.distance[1:].min(axis=0) > places.distance[0]] == 0).all()
    # Every shell is there all along: no stretch of the cable is farther than a shell's step away.
    near = places.place[(places.owner == 1) & (places.distance[1] < 0.06)]
    assert np.diff(np.sort(near[:, 2])).max() < 0.3
