"""The folded J: dimensions, folded dipoles of handbooks and tubes, evidence, laws, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.antennas.folded_j import GENERATOR, FoldedJ, SizedFoldedJ, check, sized
from models.antennas.generator import Drawing
from models.antennas.j_frame import bent_pipe, drawn_spacing
from models.catalogues.parts import pipe
from models.wires.pipe_parts import STRAP_OUT
from models.wires.segmentation import MAX_NEIGHBOUR_RATIO
from pipeline.mesh.evidence import LIMITS
from tests.harness.j_relatives import (
    FAMILY,
    THICK,
    THIN,
    Case,
    build,
    by_rule,
    currents,
    evidence,
    mean_horizon_gain,
    swr,
    vertical_moment,
    z_feed,
)
from tests.validation import joints
from tests.validation.surface.tubes import read_case
from tests.validation.test_surface_joints import compare, tubes_do


def case(diameter: float = 0.022, frequency: float = 145e6, **changes: object) -> Case:
    return Case(GENERATOR, by_rule(GENERATOR, diameter, frequency), diameter, frequency, **changes)


# Published


def test_derived_lengths_are_those_of_the_usual_rule_of_thumb():
    # Common practice, no source: radiator and stub a few per cent from a half and a quarter wave,
    # together about two thirds to three quarters.
    wavelength = 299_792_458.0 / 145e6
    antenna, _ = sized(FoldedJ(0.055), pipe("22x1 mm"), 145e6, 0.008)
    assert 0.64 < antenna.height / wavelength < 0.75
    assert 0.95 < antenna.short_leg / (0.25 * wavelength) < 1.03
    assert 0.03 < antenna.tap / wavelength < 0.06


def test_loop_with_the_strap_of_this_antenna_has_the_frequency_of_the_folded_tubes():
    # B2, a folded dipole of 15 mm tube solved on its walls: frequency within 0.05 %, impedance at
    # the same frequency within 1 %, as tests/validation/test_surface_joints.py holds its drawing.
    b2 = read_case("B2")
    loop = b2.tubes[0]
    radius = loop.diameter / 2
    pen = joints.pen(b2, radius, 0.4 * radius, joints.JOINT, 1.0)
    x, half = loop.axis[:, 0].max(), loop.axis[:, 2].max() + STRAP_OUT * radius
    apart = drawn_spacing(x, Drawing(pen.cage, radius, 2.1, 1.0, 0.0))
    gap = 1.5 * pen.rule.fine
    path = [(0, gap), (0, half), (apart, half), (apart, 0), (apart, -half), (0, -half), (0, -gap)]
    rules = (pen.rule, pen.fine, pen.rule, pen.rule, pen.fine, pen.rule)
    wires, nodes = bent_pipe([(a, 0.0, z) for a, z in path], rules, (1, 2, 4, 5), pen.cage)
    wires += pen.gap(nodes[-1], nodes[0])
    built = joints.finished(b2, wires)
    fed = joints.at_points(built, 0.5 * (nodes[-1] + nodes[0]))
    found = compare(joints.Drawn(built, fed), *tubes_do("B2_Y.csv"))
    assert found.scale == pytest.approx(1, abs=5e-4)
    assert found.raw.max() < 0.01


def test_both_sides_share_the_current_that_radiates():
    # Two equal conductors of a folded dipole carry the same (C. A. Balanis, Antenna Theory, ch. 9:
    # that is why its resistance is four times that of one). Here the second side begins a quarter
    # wave further up and ends in a gap: moments within a third of one another and in phase within
    # 30 degrees.
    antenna = by_rule(GENERATOR, 0.022, 145e6)
    built = build(case())
    current = currents(built, 145e6)
    left = built.segments.centre[:, 0] < antenna.spacing / 2
    low, high = antenna.short_leg + antenna.gap, antenna.height - 0.05
    one = vertical_moment(built, np.where(left, current, 0), low, high)
    other = vertical_moment(built, np.where(left, 0, current), low, high)
    assert 2 / 3 < abs(other / one) < 1.5
    assert abs(np.degrees(np.angle(other / one))) < 30


def test_gain_towards_the_horizon_is_that_of_a_half_wave():
    # 2.15 dBi (C. A. Balanis, Antenna Theory, ch. 4), a little more because the U radiates too.
    assert 2.1 < mean_horizon_gain(build(case()), 145e6) < 3.0


# Laws


@pytest.mark.parametrize(("diameter", "frequency"), FAMILY)
def test_lengths_by_rule_match_at_the_design_frequency(diameter, frequency):
    assert swr(z_feed(build(case(diameter, frequency)), frequency)) < 1.35


@pytest.mark.parametrize(("diameter", "frequency"), FAMILY)
@pytest.mark.parametrize("joins", ["short leg", "long leg"])
def test_average_gain_and_reciprocity_hold_for_pipe_band_and_leg(diameter, frequency, joins):
    found = evidence(case(diameter, frequency, joins=joins))
    assert 0.97 < found.average_gain < 1.03
    # 5.4 % for 28 mm at 145 MHz with the cable on the short leg, where the two partly cancel:
    # usable by the project's own limits; 5 % and less elsewhere.
    thick = (diameter, frequency, joins) == (0.028, 145e6, "short leg")
    limit = LIMITS["reciprocity"]
    assert found.asymmetry < (limit.usable if thick else limit.sound)
    assert found.neighbour_ratio < MAX_NEIGHBOUR_RATIO
    assert found.feed_thickness <= 0.5


def test_a_thin_cable_changes_the_drawing_but_not_the_evidence():
    found = evidence(case(joins="long leg", shield_radius=THIN))
    assert 0.97 < found.average_gain < 1.03
    assert found.asymmetry < 0.05


def test_a_thick_and_a_thin_cable_draw_the_same_antenna():
    thick, thin = (z_feed(build(case(shield_radius=r)), 145e6) for r in (THICK, THIN))
    assert abs(thick - thin) / abs(thick) < 0.12


def test_segments_a_quarter_shorter_move_the_impedance_by_less_than_a_twentieth():
    coarse, fine = (z_feed(build(case(refine=r)), 145e6) for r in (1.0, 0.75))
    assert abs(fine - coarse) / abs(coarse) < 0.05


def test_all_lengths_times_k_and_frequency_over_k_leave_the_impedance_alone():
    k, small = 2.0, case()
    lengths = SizedFoldedJ(*(k * v for v in vars(small.antenna).values()))
    large = Case(GENERATOR, lengths, k * 0.022, 145e6 / k, shield_radius=k * THICK)
    assert abs(z_feed(build(large), 145e6 / k) / z_feed(build(small), 145e6) - 1) < 1e-3


def test_a_bonded_mast_keeps_the_average_gain():
    found = evidence(case(joins="short leg", mast=1.2, frequency=145e6))
    assert 0.97 < found.average_gain < 1.03


def test_a_wider_gap_moves_the_match_up_as_a_shorter_leg_does():
    # Less capacitance at the short leg's tip: the reactance falls the same way.
    antenna = by_rule(GENERATOR, 0.022, 145e6)
    first = z_feed(build(case()), 145e6)
    wide = replace(antenna, gap=antenna.gap + 0.02)
    short = replace(antenna, short_leg=antenna.short_leg - 0.01, gap=antenna.gap + 0.01)
    moved = [z_feed(build(replace(case(), antenna=a)), 145e6).imag for a in (wide, short)]
    assert all(x > first.imag for x in moved) or all(x < first.imag for x in moved)


# Edges


def test_assembly_closes_the_loop_but_for_the_gap():
    antenna = by_rule(GENERATOR, 0.022, 145e6)
    plan = GENERATOR.assembly(antenna, pipe("22x1 mm"), GENERATOR.joints[0])
    end, tip = plan.joint("end of the second side"), plan.joint("short tip")
    assert np.subtract(end.point, tip.point) == pytest.approx([0, 0, antenna.gap])
    length = {
        m.name: np.linalg.norm(np.subtract(plan.joint(m.start).point, plan.joint(m.end).point))
        for m in plan.members
    }
    assert length["strap"] == pytest.approx(length["crossbar"]) == antenna.spacing
    both = length["short leg"] + antenna.gap + length["second side"]
    assert both == pytest.approx(length["long leg"])


# Refusals


@pytest.mark.parametrize(
    ("parameters", "tag"),
    [
        (FoldedJ(0.024), "spacing-small"),
        (FoldedJ(0.055, short_leg=0.49, tap=0.5), "tap-above-stub"),
        (FoldedJ(0.055, tap=0.02), "tap-on-crossbar"),
        (FoldedJ(0.055, gap=0.008), "gap-small"),
        (FoldedJ(0.055, height=0.9, short_leg=0.5, gap=0.03), "side-short"),
    ],
)
def test_what_cannot_be_built_is_named(parameters, tag):
    assert [p.tag for p in check(parameters, pipe("22x1 mm"))] == [tag]


def test_a_sound_antenna_is_not_refused():
    assert check(FoldedJ(0.055, 1.37, 0.52, 0.034, 0.08), pipe("22x1 mm")) == []
