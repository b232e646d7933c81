"""The J-pole generator over pipes, bands and legs: evidence, laws, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.antennas.j_pole import JPole, SizedJPole, check, sized
from models.catalogues.parts import pipe
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Step
from models.site.shield import Zone
from models.wires.segmentation import MAX_NEIGHBOUR_RATIO, worst_neighbour_ratio
from models.wires.structure import Structure
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.solver.nec2 import solver_pattern, unit_source_currents
from tests.harness.installations import REFERENCE, Plan, build, by_rule, port_matrix

FAMILY = [(d, f) for d in (0.015, 0.022, 0.028) for f in (52e6, 145e6, 435e6)]


def hanging(diameter: float, frequency: float, joins: str | None, radius: float) -> Plan:
    """A J-pole by rule with 0.9 wavelengths of cable hanging from it."""
    wavelength = SPEED_OF_LIGHT_NEC / frequency
    out = 0.15 if frequency < 400e6 else 0.10
    return Plan(
        antenna=by_rule(diameter, frequency),
        pipe_diameter=diameter,
        shield_radius=radius,
        frequency=frequency,
        joins=joins,
        steps=(Step("out", out), Step("down", 0.6 * wavelength)),
        lead=0.3 * wavelength,
        zones=(Zone(max(0.05, 1.5 * diameter), 0.0),),
    )


def z_feed(built: Structure, frequency: float) -> complex:
    feed = int(built.port_segments[0])
    f = np.array([frequency])
    return complex(1 / unit_source_currents(built, f, None, True, sources=(feed,))[0, 0, feed])


# Published


def test_derived_lengths_are_those_of_the_usual_rule_of_thumb():
    # Common practice, no source: long leg three quarters, short leg a quarter of a wavelength,
    # both a few per cent short of it; tap a few per cent of a wavelength above the crossbar.
    wavelength = 299_792_458.0 / 145e6
    antenna, _ = sized(JPole(0.055), pipe("22x1 mm"), 145e6, 0.008)
    assert 0.92 < antenna.long_leg / (0.75 * wavelength) < 1.0
    assert 0.92 < antenna.short_leg / (0.25 * wavelength) < 1.0
    assert 0.02 < antenna.tap / wavelength < 0.04


# Laws


@pytest.mark.parametrize(("diameter", "frequency"), FAMILY)
@pytest.mark.parametrize("joins", ["short leg", "long leg"])
def test_average_gain_and_reciprocity_hold_for_pipe_band_and_leg(diameter, frequency, joins):
    # A lossless twin radiates what it takes in, 0.97 to 1.03, and the transfer admittances of feed
    # and cable agree both ways within 5 %: the grade "sound". Worst 1.029 (15 mm, 145 MHz, long
    # leg) and 4.0 % (28 mm, 145 MHz, short leg).
    built = build(hanging(diameter, frequency, joins, 0.004065))
    assert worst_neighbour_ratio(built) < MAX_NEIGHBOUR_RATIO
    gain = solver_pattern(built, frequency, None, lossless=True, step_deg=10.0).average_gain
    assert 0.97 < gain < 1.03
    y = port_matrix(unit_source_currents(built, np.array([frequency]), None, True), built)[0]
    assert transfer_asymmetry(y, 0) < 0.05


@pytest.mark.parametrize(("diameter", "frequency"), [(0.022, 145e6), (0.028, 145e6)])
def test_a_thin_cable_changes_the_drawing_but_not_the_evidence(diameter, frequency):
    built = build(hanging(diameter, frequency, "long leg", 0.00183))
    gain = solver_pattern(built, frequency, None, lossless=True, step_deg=10.0).average_gain
    assert 0.97 < gain < 1.03


def test_a_thick_and_a_thin_cable_draw_the_same_antenna():
    # Cages of four thick and six thin wires stand for the same pipe; 0.1 MHz of the design
    # frequency and a few per cent of impedance is what two drawings of it may differ by.
    thick = z_feed(build(Plan(shield_radius=0.004)), 145e6)
    thin = z_feed(build(Plan(shield_radius=0.002)), 145e6)
    assert abs(thick - thin) / abs(thick) < 0.12


def test_all_lengths_times_k_and_frequency_over_k_leave_the_impedance_alone():
    k = 2.0
    large = SizedJPole(*(k * v for v in vars(REFERENCE).values()))
    small = z_feed(build(Plan()), 145e6)
    scaled = build(Plan(large, k * 0.022, k * 0.004, 145e6 / k))
    # Nodes lie on a grid of a micrometre that does not scale.
    assert abs(z_feed(scaled, 145e6 / k) / small - 1) < 1e-3


def test_a_bonded_mast_keeps_the_average_gain():
    built = build(Plan(mast=1.2))
    gain = solver_pattern(built, 145e6, None, lossless=True, step_deg=10.0).average_gain
    assert 0.97 < gain < 1.03


def test_a_thinner_bridge_adds_inductance_at_the_feed():
    # Rosa (1908): mu0 l/(2 pi) ln(r1/r2), 33 mm of visible bridge, 4 mm against 1 mm: 9.1 nH.
    thin = build(replace(Plan(), antenna=replace(REFERENCE, bridge_diameter=0.002)))
    assert thin.ports[0].series_inductance == pytest.approx(9.15e-9, rel=0.01)
    assert build(Plan()).ports[0].series_inductance == pytest.approx(0, abs=1e-15)


# Edges


def test_given_lengths_are_kept_and_only_the_others_derived():
    antenna, sentences = sized(JPole(0.055, tap=0.06), pipe("22x1 mm"), 145e6, 0.008)
    assert antenna.tap == 0.06
    assert [s.split(":")[0] for s in sentences] == [
        "antenna.long_leg",
        "antenna.short_leg",
        "antenna.bridge_diameter",
    ]


# Refusals


@pytest.mark.parametrize(
    ("parameters", "tag"),
    [
        (JPole(0.024), "spacing-small"),
        (JPole(0.055, short_leg=0.49, tap=0.5), "tap-above-stub"),
        (JPole(0.055, tap=0.02), "tap-on-crossbar"),
        (JPole(0.055, long_leg=0.6, short_leg=0.5), "legs-alike"),
    ],
)
def test_what_cannot_be_built_is_named(parameters, tag):
    assert [p.tag for p in check(parameters, pipe("22x1 mm"))] == [tag]


def test_a_sound_antenna_is_not_refused():
    assert check(JPole(0.055, 1.48, 0.49, 0.05), pipe("22x1 mm")) == []
