"""Leads of mast, metalwork and bond that go to one ground rod."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.site.earth import HEAD, STAR_HEIGHT, Earth, Lead, shared_head
from models.site.feedline_route import Step
from models.site.metalwork import Piece, Surroundings
from models.site.shield import ShieldRule
from models.wires.segmentation import MAX_NEIGHBOUR_RATIO
from models.wires.structure import GeometryError, Material, Structure
from tests.harness.antenna_with_cable import (
    AVERAGE,
    Plan,
    evidence,
    feed_of,
    mast,
    surrounded,
)


def bonded_beside(stand_off: float, around: Surroundings, refine: float = 1.0) -> Structure:
    """An earthed mast that far from a cable whose bond has a rod of its own, or the same."""
    steps = (Step("out", stand_off), Step("down_to", 0.5), Step("bond", 0.0), Step("left", 1.0))
    plan = Plan(joins="short leg", steps=steps, height=3.0, grounded=True, refine=refine)
    return surrounded(around, plan, rod=40 + 0j)


EARTHED = replace(mast(bonded=True, length=2.6), mast_earth=Earth(0.002, 40 + 0j))


@pytest.mark.parametrize("stand_off", [0.15, 0.20, 0.25, 0.35, 0.50])
def test_mast_and_cable_with_one_rod_have_one_star_and_its_impedance_once(stand_off):
    # Transfer admittances 6 to 8.5 % unlike, average gain 1.015; open at the foot 4 to 5 %.
    built = bonded_beside(stand_off, EARTHED)
    arms = [w for w in built.wires if w.start[2] == w.end[2] < 0.03]
    tips = {w.end[:2] for w in arms} - {w.start[:2] for w in arms}
    assert len(tips) == 4
    assert [load.name for load in built.loads] == []
    found = evidence(built, soil=AVERAGE)
    assert found.neighbour_ratio < MAX_NEIGHBOUR_RATIO
    assert 0.97 < found.average_gain < 1.03
    assert found.reciprocity < 0.10


def at_the_radio(built: Structure) -> tuple[complex, float, float]:
    """Impedance at the feed [ohm], currents at the radio and in the rod per feed current."""
    z, current = feed_of(built, AVERAGE)
    ports = [int(built.port_segments[built.port_index(name)]) for name in ("station", "rod")]
    radio, rod = np.abs(current[ports])
    return z, float(radio), float(rod)


def test_what_flows_past_a_shared_rod_hardly_changes_with_finer_segments():
    # 0.5 % of impedance, 0.5 % at the radio, 1 % in the rod when written.
    (z, radio, rod), (finer, *fine) = (
        at_the_radio(bonded_beside(0.25, EARTHED, refine)) for refine in (1.0, 0.75)
    )
    assert abs(finer / z - 1) < 0.02
    assert [radio, rod] == pytest.approx(fine, rel=0.03)


def test_rods_further_apart_than_their_stars_reach_are_two():
    built = bonded_beside(1.1, EARTHED)
    assert [load.name for load in built.loads] == ["mast foot"]


def test_a_foot_that_is_shared_goes_to_the_rod_of_the_bond_from_further_away():
    shared = replace(EARTHED, mast_earth=Earth(0.002, None))
    built = bonded_beside(1.5, shared)
    assert built.loads == ()
    assert built.has_port("mast foot")


def test_one_rod_cannot_have_two_impedances_and_the_way_out_works():
    two = replace(EARTHED, mast_earth=Earth(0.002, 81 + 0j))
    with pytest.raises(GeometryError) as caught:
        bonded_beside(0.25, two)
    (problem,) = caught.value.problems
    assert (problem.tag, problem.place) == ("rod-twice", "site.mast.foot")
    assert problem.remedy == "foot: shared"
    bonded_beside(0.25, replace(EARTHED, mast_earth=Earth(0.002, None)))


def test_a_gutter_and_a_mast_without_a_bond_share_a_rod_as_well():
    post = Piece("post", 0.004, ((0.3, 0.4, 2.5), (0.3, 0.4, 0.4)), Earth(0.002, 40 + 0j))
    around = replace(EARTHED, pieces=(post,))
    steps = (Step("out", 1.5), Step("down", 1.0), Step("out", 0.5))
    plan = Plan(joins="short leg", steps=steps, height=3.0, grounded=True)
    built = surrounded(around, plan)
    assert [load.name for load in built.loads] == ["mast foot"]
    assert built.has_port("post rod")


@pytest.mark.parametrize(("foot", "length"), [(0.12, 0.05), (0.5, HEAD)])
def test_a_head_takes_no_more_than_half_of_the_way_to_the_lead(foot: float, length: float) -> None:
    rule = ShieldRule(0.01, 0.02, 0.01, 0.1, port_spacing=0.1, least=0.004)
    head = shared_head((0.0, 0.0, foot), Lead(0.002, "lead", Material(), rule))
    # Nodes lie on a grid of a micrometre.
    assert head.top[2] == pytest.approx(STAR_HEIGHT + length, abs=2e-6)
