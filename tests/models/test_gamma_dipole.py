"""The gamma-matched dipole: its tubes, rules of the trade, laws, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.antennas.gamma_dipole import (
    GENERATOR,
    GammaDipole,
    SizedGammaDipole,
    arm_reactance,
    build,
    check,
)
from models.antennas.generator import Drawing
from models.catalogues.parts import pipe
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.installation import assemble, shield_rule
from models.wires.loads import Capacitor
from models.wires.pipe_cage import Cage, cage_ring_radius
from models.wires.segmentation import MAX_NEIGHBOUR_RATIO
from models.wires.structure import PERFECT, GeometryError, Structure
from pipeline.solver.antenna_loads import element_impedance
from tests.harness.dipoles import THICK, THIN, Dipole, evidence, swr
from tests.validation import joints
from tests.validation.test_surface_joints import AIM_SCALE, compare, tubes_do

FAMILY = [(d, c) for d in ("15x1 mm", "22x1 mm", "28x1 mm") for c in (THIN, THICK)]
MIDDLE = Dipole(GENERATOR, "22x1 mm", 145e6)


def structure(antenna: SizedGammaDipole, radius: float, wire: float, refine: float) -> Structure:
    """The antenna alone, of pipe of a radius, at 145 MHz."""
    cage = Cage(4, cage_ring_radius(radius, wire, 4), wire, "antenna", PERFECT)
    wavelength = SPEED_OF_LIGHT_NEC / 145e6
    finished = build(antenna, Drawing(cage, radius, wavelength, refine, 0.0))
    return assemble(
        "drawn", finished, None, shield_rule(2 * radius, wavelength, 1.0, wire), 0.0, False
    )


def arm_of_b3(refine: float) -> joints.Drawn:
    """Case B3 drawn by the generator itself; its capacitor is outside the feed's two terminals."""
    built = structure(SizedGammaDipole(0.96, 0.06, 0.2, 0.01, 7e-12, 500.0), 0.011, 0.005, refine)
    return joints.Drawn(built, built.port_groups[0])


# Published


# On the tubes' own walls. 0.13 % low in frequency and 0.7 % in impedance with the gap's
# capacitance, with segments a quarter shorter too; three segments in the strap in place of four,
# as tests/validation/joints.py has them, are 0.00 % and 0.0 %, but radiate 3.7 % too much.
@pytest.mark.parametrize("refine", [1.0, 0.75])
def test_the_generator_draws_a_gamma_arm_as_its_tubes_have_it(refine):
    found = compare(arm_of_b3(refine), *tubes_do("B3_Y.csv"))
    assert found.scale == pytest.approx(1, abs=AIM_SCALE)
    assert found.raw.max() < 0.02


def test_average_gain_of_the_arm_on_tubes_is_sound():
    # 1.011 found, where the drawing of tests/validation/joints.py has 1.037.
    assert joints.average_gain(arm_of_b3(1.0), 145e6) == pytest.approx(1, abs=0.03)


def test_resistance_is_of_the_order_the_textbooks_line_gives():
    # Gamma match in C. A. Balanis, "Antenna Theory", ch. 9 (from memory): (1 + x)^2 Z / 2 across
    # j Z0 tan(beta l), x = ln v / (ln v - ln u), u and v arm's radius and spacing per pipe radius.
    # It has neither post nor strap nor the place of the tap: 63 ohm where 49 is found. No reactance
    # is asked of it; B3 has 203 ohm on its tubes and 52 by this.
    a, wavelength = MIDDLE.antenna, 299_792_458.0 / 145e6
    rod, radius = a.arm_diameter / 2, 0.011
    u, v = rod / radius, a.spacing / radius
    x = np.log(v) / (np.log(v) - np.log(u))
    squares = a.spacing**2 - rod**2 - radius**2
    line = (
        59.96j * np.arccosh(squares / (2 * rod * radius)) * np.tan(2 * np.pi * a.arm / wavelength)
    )
    stepped = 0.5 * (1 + x) ** 2 * 73.1
    textbook = line * stepped / (line + stepped)
    assert MIDDLE.impedance(145e6).real == pytest.approx(textbook.real, rel=0.35)


@pytest.mark.parametrize("frequency", [52e6, 145e6])
def test_arm_by_rule_is_longer_than_that_of_a_beams_driven_element(frequency):
    # Common practice, no source: 0.04 to 0.05 wavelengths of arm 0.007 wavelengths away, for the
    # driven element of a beam. A lone dipole fed so has 10 ohm here; 50 ohm need 0.080 to 0.084 at
    # two and a half pipe diameters.
    wavelength = 299_792_458.0 / frequency
    by_rule = Dipole(GENERATOR, "22x1 mm", frequency).antenna
    assert 0.07 < by_rule.arm / wavelength < 0.09
    away = max(0.007 * wavelength, 0.0465)
    handbook = {"arm": 0.045 * wavelength, "spacing": away}
    assert (
        5 < Dipole(GENERATOR, "22x1 mm", frequency, given=handbook).impedance(frequency).real < 25
    )


def test_directivity_is_near_that_of_a_half_wave_dipole():
    # 2.15 dBi (C. A. Balanis, "Antenna Theory", ch. 4, from memory), the arm's side and the other
    # taken together.
    gain = MIDDLE.directivity(145e6, np.array([0.0, np.pi]))
    assert 10 * np.log10(gain.mean()) == pytest.approx(2.15, abs=0.3)


# Laws


@pytest.mark.parametrize(("row", "cable"), FAMILY)
@pytest.mark.parametrize("frequency", [52e6, 145e6, 435e6])
@pytest.mark.parametrize("cabled", [False, True])
def test_evidence_is_sound_for_pipe_cable_and_band(row, cable, frequency, cabled):
    # Average gain 0.988 to 1.014, asymmetry 3.4 % at most (15 mm, thick cable, 52 MHz).
    found = evidence(Dipole(GENERATOR, row, frequency, cable, cabled))
    assert 0.97 < found.average_gain < 1.03
    assert found.asymmetry < 0.05
    assert found.neighbour_ratio < MAX_NEIGHBOUR_RATIO
    assert found.feed_thickness <= 0.5


@pytest.mark.parametrize("spacing", [2.0, 3.3, 4.5, 6.0])
def test_average_gain_is_sound_however_far_the_arm_stands(spacing):
    # 0.996, 1.010, 1.004 and 1.002 found; with three segments in the post 1.04 at six diameters.
    dipole = replace(MIDDLE, given={"spacing": spacing * 0.022})
    assert evidence(dipole).average_gain == pytest.approx(1, abs=0.03)


# 2.7, 3.6 and 4.0 % found.
@pytest.mark.parametrize("frequency", [52e6, 145e6, 435e6])
def test_a_finer_drawing_leaves_the_impedance(frequency):
    coarse = Dipole(GENERATOR, "22x1 mm", frequency, cabled=True)
    fine = replace(coarse, refine=0.75)
    assert len(fine.built.segments) > len(coarse.built.segments)
    z = coarse.impedance(frequency)
    assert abs(fine.impedance(frequency) - z) < 0.05 * abs(z)


@pytest.mark.parametrize(("row", "cable"), FAMILY)
@pytest.mark.parametrize("frequency", [52e6, 145e6, 435e6])
def test_by_rule_it_is_matched_within_two_per_cent_of_its_frequency(row, cable, frequency):
    # 1.02 to 1.30 at the frequency itself; 28 mm with an arm of 3.7 mm at 435 MHz has 1.86 there
    # and 1.30 two per cent below.
    dipole = Dipole(GENERATOR, row, frequency, cable)
    assert min(swr(dipole.impedance(k * frequency)) for k in (0.98, 1.0, 1.02)) < 1.5


def test_a_longer_arm_and_a_wider_one_raise_the_resistance():
    r = [
        replace(MIDDLE, given=given).impedance(145e6).real
        for given in ({}, {"arm": 0.18}, {"arm": MIDDLE.antenna.arm, "spacing": 0.066})
    ]
    assert r[1] > 1.1 * r[0]
    assert r[2] > 1.1 * r[0]


def test_the_capacitor_takes_away_what_the_arm_adds():
    # -1 / (2 pi f C) in series, and 1/Q of it as resistance (definition of quality).
    a = MIDDLE.antenna
    z = element_impedance(Capacitor(a.capacitance, a.quality), np.array([145e6]), 145e6)[0]
    reactance = arm_reactance(a.arm, a.spacing, (0.022, a.arm_diameter), 299_792_458.0 / 145e6)
    assert z.imag == pytest.approx(-reactance, rel=1e-9)
    assert z.real == pytest.approx(reactance / 500, rel=1e-9)
    halved = replace(MIDDLE, given={"capacitance": a.capacitance / 2})
    step = halved.impedance(145e6) - MIDDLE.impedance(145e6)
    assert step == pytest.approx(z, rel=1e-6)


def test_arm_and_middle_are_symmetric_about_the_plane_of_the_arm():
    wires = MIDDLE.built.wires
    ends = {tuple(np.round(e, 5)) for w in wires for e in (w.start, w.end)}
    assert {(x, -y + 0.0, z) for x, y, z in ends} == ends


# Edges


def test_given_lengths_are_kept_and_only_the_others_derived():
    given = GammaDipole(arm=0.15, capacitance=8e-12)
    antenna, sentences = GENERATOR.sized(given, pipe("22x1 mm"), 145e6, 0.00813)
    assert (antenna.arm, antenna.capacitance) == (0.15, 8e-12)
    assert [s.split(":")[0] for s in sentences] == [
        "antenna.length",
        "antenna.spacing",
        "antenna.arm_diameter",
        "antenna.quality",
    ]


def test_assembly_has_the_arm_beside_the_upper_half():
    a = MIDDLE.antenna
    made = GENERATOR.assembly(a, pipe("22x1 mm"), GENERATOR.joints[0])
    foot, head = made.joint("foot of the arm").point, made.joint("head of the arm").point
    assert np.subtract(head, foot).tolist() == [0.0, 0.0, a.arm]
    assert abs(foot[0]) == a.spacing
    assert made.joint("upper tip").point[2] == -made.joint("lower tip").point[2] == a.length / 2


# Refusals


@pytest.mark.parametrize(
    ("parameters", "tag"),
    [
        (GammaDipole(arm_diameter=0.012), "arm-thick"),
        (GammaDipole(spacing=0.03, arm_diameter=0.008), "arm-close"),
        (GammaDipole(arm=0.4, length=0.95), "arm-long"),
        (GammaDipole(arm=0.02), "arm-short"),
    ],
)
def test_what_cannot_be_built_is_named(parameters, tag):
    assert [p.tag for p in check(parameters, pipe("22x1 mm"))] == [tag]


def test_an_arm_thicker_than_the_cables_shield_is_refused():
    with pytest.raises(GeometryError, match="thicker than the shield") as refused:
        structure(replace(MIDDLE.antenna, arm_diameter=0.008), 0.011, 0.00183, 1.0)
    assert [p.tag for p in refused.value.problems] == ["arm-over-shield"]


@pytest.mark.parametrize("row", ["15x1 mm", "22x1 mm", "28x1 mm"])
def test_a_sound_antenna_is_not_refused(row):
    assert Dipole(GENERATOR, row, 145e6).problems == []
