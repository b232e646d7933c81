"""The 5/8-wave vertical over radials: published gain, evidence, match, refusals."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from models.antennas import five_eighths
from models.antennas.five_eighths import FiveEighths, base_reactance, check, sized, stub_length
from models.antennas.hub import HUB_SEGMENT
from models.catalogues.parts import coax_class, pipe
from models.wires.loads import Coil, ShortedLine
from models.wires.pipe_cage import Cage, cage_ring_radius
from models.wires.pipe_parts import WireBuilder
from models.wires.segmentation import MAX_NEIGHBOUR_RATIO, SegmentRule
from models.wires.structure import PERFECT, GeometryError, Port, Structure
from pipeline.mesh.evidence import LIMITS
from pipeline.solver.antenna_loads import element_impedance
from pipeline.solver.nec2 import solver_pattern, unit_source_currents
from tests.harness.hubs import BANDS, PIPES, THICK, THIN, Hub, drawing_of, evidence
from tests.validation.wires import METAL, directivity_dbi

FAMILY = [(p, f) for p in PIPES for f in BANDS]
# Diameters of a pipe, in wavelengths.
THINNER = (5e-3, 2e-3, 5e-4, 2e-4)
# Wavelength of one metre, at which directivity_dbi looks.
ONE_METRE = 299_792_458.0


@cache
def on_metal(height: float, diameter: float = 0.005) -> tuple[float, complex]:
    """Directivity [dBi] and impedance [ohm] of a caged pipe on metal, in wavelengths."""
    wire = 0.3 * diameter / 2
    cage = Cage(4, cage_ring_radius(diameter / 2, wire, 4), wire, "antenna", PERFECT)
    pen = WireBuilder(cage, SegmentRule(HUB_SEGMENT * diameter, 0.03))
    nodes = pen.upright([height - pen.rim, 3 * HUB_SEGMENT * diameter, 0.0])
    above = pen.pipes(nodes[:2])
    feed = [len(above) + k for k in range(4)]
    wires = (*above, *pen.gap(nodes[2], nodes[1]))
    port = Port("feed", feed[0], 1, beside=tuple((w, 1) for w in feed[1:]))
    built = Structure("on metal", wires, (port,))
    current = unit_source_currents(built, np.array([ONE_METRE]), METAL)
    z = 1 / built.through_ports(current)[0, 0, 0]
    return directivity_dbi(built, current[0, 0], METAL), complex(z)


@cache
def found(hub: Hub):
    return evidence(hub)


# Published


@pytest.mark.parametrize(("height", "expected"), [(0.25, 5.16), (0.625, 8.17)])
def test_the_thinner_a_pipe_on_a_perfect_plane_the_nearer_its_gain_to_that_of_a_sine(
    height, expected
):
    # Image theory (Balanis, Antenna Theory, ch. 4), thin wire. At a two-hundredth of a wavelength
    # 5/8 of a wave has 7.92 dBi, at a five-thousandth 8.12.
    away = [abs(on_metal(height, d)[0] - expected) for d in THINNER]
    assert away == sorted(away, reverse=True)
    assert away[-1] < 0.06


def test_the_thinner_a_quarter_wave_on_a_perfect_plane_the_nearer_it_is_to_half_a_dipole():
    # 36.5 + j21 ohm (image theory, Balanis, ch. 4) for vanishing thickness, of which the
    # resistance keeps a logarithm: 40.2 + j23.0 at a five-thousandth of a wavelength.
    away = [abs(on_metal(0.25, d)[1] - (36.54 + 21.26j)) for d in THINNER]
    assert away == sorted(away, reverse=True)
    assert away[-1] < 4.5


def test_base_of_a_five_eighths_is_capacitive_and_that_of_a_quarter_wave_is_not():
    # X below zero between half a wave and three quarters (common practice, no source).
    assert on_metal(0.25)[1].imag > 0
    assert on_metal(0.625)[1].imag < -50


def test_closed_stub_an_eighth_of_a_wave_long_has_the_reactance_of_its_line():
    # X = Z0 tan(beta l), Pozar, Microwave Engineering, eq. 2.45c (from memory).
    cable = coax_class("RG-58C/U")
    assert stub_length(cable.z0, 2.0, cable) == pytest.approx(cable.velocity_factor * 2.0 / 8)


def test_gain_over_four_radials_falls_short_of_that_over_a_plane():
    # 8.17 dBi is half a space's; in free space a few radials leave no more than a dipole's few dB.
    hub = Hub(five_eighths, FiveEighths())
    pattern = solver_pattern(hub.build(), 145e6, None, lossless=True)
    power = np.abs(pattern.e_theta) ** 2 + np.abs(pattern.e_phi) ** 2
    theta = np.radians(np.linspace(0, 180, len(power)))
    mean = np.trapezoid(power.mean(axis=1) * np.sin(theta), theta) / 2
    assert 2.15 < 10 * np.log10(power.max() / mean) < 6.5


# Laws


@pytest.mark.parametrize("shield", [THICK, THIN])
@pytest.mark.parametrize(("of", "frequency"), FAMILY)
def test_evidence_is_sound_over_pipes_bands_and_cables(of, frequency, shield):
    hub = Hub(five_eighths, FiveEighths(), of, frequency, shield)
    alone, hanging = found(hub), found(replace(hub, hangs=True))
    for gain in (alone.average_gain, hanging.average_gain):
        assert gain == pytest.approx(1, abs=LIMITS["average_gain"].sound)
    # 4.3 % at worst, 15 mm at 435 MHz.
    assert hanging.reciprocity < LIMITS["reciprocity"].sound
    assert hanging.neighbours < MAX_NEIGHBOUR_RATIO
    assert hanging.feed < LIMITS["feed"].sound


@pytest.mark.parametrize(("of", "frequency"), FAMILY)
def test_derived_lengths_and_coil_match_the_cable_before_any_trimming(of, frequency):
    # 1.25 at worst: 15 mm at 52 MHz, where the reactance to be matched is largest.
    assert found(Hub(five_eighths, FiveEighths(), of, frequency)).swr < 1.3


@pytest.mark.parametrize(("of", "frequency"), FAMILY)
def test_a_finer_drawing_has_the_same_impedance(of, frequency):
    # 3 % at worst.
    hub = Hub(five_eighths, FiveEighths(), of, frequency)
    assert abs(found(replace(hub, refine=0.75)).z / found(hub).z - 1) < 0.05


@pytest.mark.parametrize("slope", [0.0, 30.0])
@pytest.mark.parametrize("waves", [0.58, 0.64])
def test_rule_for_the_reactance_is_within_a_tenth_of_what_is_computed(waves, slope):
    element = waves * ONE_METRE / 145e6
    parameters = FiveEighths(slope=slope, element=element, inductance=1e-9, quality=1000.0)
    x = found(Hub(five_eighths, parameters)).z.imag - 2 * np.pi * 145e6 * 1e-9
    rule = base_reactance(waves, 0.022 * 145e6 / ONE_METRE, slope)
    assert rule == pytest.approx(x, rel=0.10)


def test_coil_and_stub_have_the_same_reactance_and_the_coil_less_bandwidth_to_lose():
    coil, stub = (
        five_eighths.build(a, drawing_of(a, pipe("22x1 mm"), 145e6, THICK, 1.0)).loads[0].element
        for a in (
            sized(FiveEighths(match=m), pipe("22x1 mm"), 145e6, THICK)[0] for m in ("coil", "stub")
        )
    )
    assert isinstance(coil, Coil)
    assert isinstance(stub, ShortedLine)
    f = np.array([145e6, 150e6])
    x_coil, x_stub = (element_impedance(e, f, 145e6).imag for e in (coil, stub))
    assert x_stub[0] == pytest.approx(x_coil[0], rel=0.01)
    # Past an eighth of a wave a stub's reactance rises faster than a coil's.
    assert x_stub[1] > x_coil[1]


def test_a_poorer_coil_adds_its_resistance_to_the_feed():
    good, poor = (found(Hub(five_eighths, FiveEighths(quality=q))).z for q in (1000.0, 50.0))
    x = -base_reactance(*_waves(), 0.0)
    assert poor.real - good.real == pytest.approx(x / 50 - x / 1000, rel=0.01)


def _waves() -> tuple[float, float]:
    antenna = sized(FiveEighths(), pipe("22x1 mm"), 145e6, THICK)[0]
    wavelength = ONE_METRE / 145e6
    return antenna.element / wavelength, 0.022 / wavelength


# Edges


def test_given_values_are_kept_and_only_the_match_that_counts_is_derived():
    coil, about = sized(FiveEighths(inductance=1.5e-7), pipe("22x1 mm"), 145e6, THICK)
    assert coil.inductance == 1.5e-7
    assert not any("inductance" in s or "stub" in s for s in about)
    stub, about = sized(FiveEighths(match="stub"), pipe("22x1 mm"), 145e6, THICK)
    assert stub.inductance == 0.0
    assert any(s.startswith("antenna.stub: ") for s in about)


@pytest.mark.parametrize("match", ["coil", "stub"])
def test_assembly_names_the_part_of_the_match(match):
    antenna = sized(FiveEighths(match=match), pipe("22x1 mm"), 145e6, THICK)[0]
    made = five_eighths.assembly(antenna, pipe("22x1 mm"), five_eighths.GENERATOR.joints[0])
    assert match in made.extras[0][1] or antenna.stub_cable in made.extras[0][1]


# Refusals


@pytest.mark.parametrize(
    ("parameters", "tag"),
    [
        (FiveEighths(radial=0.1), "radial-short"),
        (FiveEighths(radial_diameter=0.03), "radial-thick"),
        (FiveEighths(match="stub", stub_cable="7/8 in foam hardline"), "stub-thick"),
        (FiveEighths(match="stub", element=1.2, stub=1.3), "stub-long"),
    ],
)
def test_what_cannot_be_built_is_named(parameters, tag):
    assert [p.tag for p in check(parameters, pipe("22x1 mm"))] == [tag]


def test_a_sound_antenna_is_not_refused():
    assert check(FiveEighths("stub", element=1.27, stub=0.27), pipe("22x1 mm")) == []


def test_an_element_far_from_five_eighths_needs_its_match_given():
    with pytest.raises(GeometryError, match="wavelengths") as raised:
        sized(FiveEighths(element=1.8), pipe("22x1 mm"), 145e6, THICK)
    assert raised.value.problems[0].tag == "element-off"
    assert sized(FiveEighths(element=1.8, inductance=1e-7), pipe("22x1 mm"), 145e6, THICK)[0]
