"""The collinear J: gain of two half waves in phase, dimensions, evidence, laws, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.antennas import j_pole
from models.antennas.collinear_j import GENERATOR, CollinearJ, SizedCollinearJ, check, sized
from models.catalogues.parts import pipe
from models.wires.segmentation import MAX_NEIGHBOUR_RATIO
from pipeline.mesh.evidence import LIMITS
from pipeline.solver.far_field import Directions, directive_power, far_field
from tests.harness.j_relatives import (
    THICK,
    THIN,
    Case,
    build,
    by_rule,
    currents,
    evidence,
    horizon_gain,
    mean_horizon_gain,
    swr,
    vertical_moment,
    z_feed,
)

# Pipes that are slim beside a hairpin: 22 mm and more at 435 MHz make one as wide as half its
# length.
SLIM = [(d, f) for d in (0.015, 0.022, 0.028) for f in (52e6, 145e6)] + [(0.015, 435e6)]
FAT = [(0.022, 435e6), (0.028, 435e6)]


def case(diameter: float = 0.022, frequency: float = 145e6, **changes: object) -> Case:
    return Case(GENERATOR, by_rule(GENERATOR, diameter, frequency), diameter, frequency, **changes)


def directivity_of_two(spacing: float) -> float:
    """Two half waves in phase, middles so many wavelengths apart [dBi]."""
    polar = np.radians(np.arange(0.05, 180.0, 0.1))
    one = np.cos(np.pi / 2 * np.cos(polar)) / np.sin(polar)
    density = (one * np.cos(np.pi * spacing * np.cos(polar))) ** 2
    return float(10 * np.log10(2 / np.trapezoid(density * np.sin(polar), polar)))


# Published


def test_two_half_waves_of_it_alone_have_the_directivity_of_two_in_phase():
    # C. A. Balanis, Antenna Theory, ch. 8, D0 2 / (1 + R21 / R11): currents of both radiators as
    # they are in the whole antenna, their middles where the current's moment has its middle, the
    # fields of U and hairpin left out. 0.3 dB for currents that are not quite alike. The formula
    # gives the printed 4.10 and 5.04 dBi at 0.55 and 0.75 wavelength.
    assert directivity_of_two(0.55) == pytest.approx(4.10, abs=0.02)
    assert directivity_of_two(0.75) == pytest.approx(5.04, abs=0.02)
    antenna, built, f = by_rule(GENERATOR, 0.022, 145e6), build(case()), 145e6
    wavelength = 299_792_458.0 / f
    seg, current = built.segments, currents(built, f)
    height = seg.centre[:, 2]
    upright = np.abs(seg.direction[:, 2]) > 0.9
    beside = np.abs(seg.centre[:, 0]) < 0.02
    lower = upright & beside & (height > antenna.short_leg) & (height < antenna.long_leg)
    upper = upright & beside & (height > antenna.long_leg + antenna.spacing)
    moment = current * seg.direction[:, 2] * seg.length
    middle = [(np.abs(moment[k]) @ height[k]) / np.abs(moment[k]).sum() for k in (lower, upper)]
    polar = np.radians(np.arange(0.5, 180.0, 1.0))
    alone = np.where(lower | upper, current, 0)
    grid = Directions(polar, np.array([0.0]))
    density = directive_power(far_field(seg, alone[None], f, None, grid)[0])[:, 0]
    mean = np.trapezoid(density * np.sin(polar), polar) / 2
    found = 10 * np.log10(density[90] / mean)
    wanted = directivity_of_two((middle[1] - middle[0]) / wavelength)
    assert found == pytest.approx(wanted, abs=0.3)


def test_it_gains_over_a_j_pole_what_two_half_waves_gain_over_one():
    # 3.8 dBi end to end to 5.0 dBi at 0.75 wavelength, over 2.15 dBi: 1.6 to 2.9 dB (from the same
    # table); both have a U below, which radiates a little.
    lengths = by_rule(j_pole.GENERATOR, 0.022, 145e6)
    one = mean_horizon_gain(build(Case(j_pole.GENERATOR, lengths, 0.022, 145e6)), 145e6)
    two = mean_horizon_gain(build(case()), 145e6)
    assert 1.6 < two - one < 2.9


def test_derived_lengths_are_those_of_the_usual_rule_of_thumb():
    # Common practice, no source: half waves and quarter waves, the open ones a few per cent short;
    # the stub below is longer, because the two radiators load it.
    wavelength = 299_792_458.0 / 145e6
    antenna, _ = sized(CollinearJ(0.055), pipe("22x1 mm"), 145e6, 0.008)
    assert 0.90 < antenna.upper / (0.5 * wavelength) < 1.0
    assert 0.90 < antenna.hairpin / (0.25 * wavelength) < 1.0
    assert 0.92 < antenna.long_leg / (0.75 * wavelength) < 1.0
    assert 1.0 < antenna.short_leg / (0.25 * wavelength) < 1.12


# Laws


def test_the_half_waves_are_in_phase_only_with_the_hairpin():
    antenna = by_rule(GENERATOR, 0.022, 145e6)

    def phase(of: SizedCollinearJ) -> float:
        drawn = build(replace(case(), antenna=of))
        current = currents(drawn, 145e6)
        low = vertical_moment(drawn, current, of.short_leg + 0.02, of.long_leg - 0.02)
        high = vertical_moment(drawn, current, of.long_leg + of.spacing + 0.02, 9.0)
        return abs(float(np.degrees(np.angle(high / low))))

    assert phase(antenna) < 30
    assert phase(replace(antenna, hairpin=0.1)) > 90


def test_most_of_it_goes_to_the_horizon_at_every_azimuth():
    assert np.ptp(horizon_gain(build(case()), 145e6)) < 2.5


@pytest.mark.parametrize(("diameter", "frequency"), SLIM)
def test_lengths_by_rule_match_at_the_design_frequency(diameter, frequency):
    assert swr(z_feed(build(case(diameter, frequency)), frequency)) < 1.35


@pytest.mark.parametrize(("diameter", "frequency"), FAT)
def test_with_fat_pipe_the_rule_is_a_starting_point_only(diameter, frequency):
    assert 1.35 < swr(z_feed(build(case(diameter, frequency)), frequency)) < 2.5


@pytest.mark.parametrize(("diameter", "frequency"), SLIM + FAT)
@pytest.mark.parametrize("joins", ["short leg", "long leg"])
def test_average_gain_and_reciprocity_hold_for_pipe_band_and_leg(diameter, frequency, joins):
    found = evidence(case(diameter, frequency, joins=joins))
    # Average gain 1.034 and 1.036, asymmetry 7.5 % with the cable on the long leg, for 28 mm at
    # 435 MHz, whose hairpin is hardly twice as long as its legs are apart: usable by the project's
    # own limits; sound elsewhere.
    stout = (diameter, frequency) == (0.028, 435e6)
    gain, symmetry = LIMITS["average_gain"], LIMITS["reciprocity"]
    assert abs(found.average_gain - 1) < (gain.usable if stout else gain.sound)
    assert found.asymmetry < (symmetry.usable if stout else symmetry.sound)
    assert found.neighbour_ratio < MAX_NEIGHBOUR_RATIO
    assert found.feed_thickness <= 0.5


def test_a_thin_cable_changes_the_drawing_but_not_the_evidence():
    found = evidence(case(joins="long leg", shield_radius=THIN))
    assert 0.97 < found.average_gain < 1.03
    assert found.asymmetry < 0.05


def test_segments_a_quarter_shorter_move_the_impedance_by_less_than_a_twentieth():
    coarse, fine = (z_feed(build(case(refine=r)), 145e6) for r in (1.0, 0.75))
    assert abs(fine - coarse) / abs(coarse) < 0.05


def test_all_lengths_times_k_and_frequency_over_k_leave_the_impedance_alone():
    k, small = 2.0, case()
    lengths = SizedCollinearJ(*(k * v for v in vars(small.antenna).values()))
    large = Case(GENERATOR, lengths, k * 0.022, 145e6 / k, shield_radius=k * THICK)
    assert abs(z_feed(build(large), 145e6 / k) / z_feed(build(small), 145e6) - 1) < 1e-3


def test_a_bonded_mast_keeps_the_average_gain():
    assert 0.97 < evidence(case(joins="short leg", mast=1.2)).average_gain < 1.03


# Edges


def test_assembly_is_one_pipe_from_the_short_tip_to_the_top():
    antenna = by_rule(GENERATOR, 0.022, 145e6)
    plan = GENERATOR.assembly(antenna, pipe("22x1 mm"), GENERATOR.joints[0])
    ends = [end for m in plan.members for end in (m.start, m.end)]
    assert sorted(e for e in ends if ends.count(e) == 1) == ["short tip", "top tip"]
    top = plan.joint("top tip").point
    assert top == pytest.approx((0, 0, antenna.long_leg + antenna.spacing + antenna.upper))


# Refusals


@pytest.mark.parametrize(
    ("parameters", "tag"),
    [
        (CollinearJ(0.024), "spacing-small"),
        (CollinearJ(0.055, short_leg=0.49, tap=0.5), "tap-above-stub"),
        (CollinearJ(0.055, tap=0.02), "tap-on-crossbar"),
        (CollinearJ(0.055, long_leg=0.6, short_leg=0.5), "legs-alike"),
        (CollinearJ(0.055, hairpin=0.06), "hairpin-short"),
    ],
)
def test_what_cannot_be_built_is_named(parameters, tag):
    assert [p.tag for p in check(parameters, pipe("22x1 mm"))] == [tag]


def test_a_sound_antenna_is_not_refused():
    assert check(CollinearJ(0.055, 1.48, 0.49, 0.95, 0.56, 0.11), pipe("22x1 mm")) == []
