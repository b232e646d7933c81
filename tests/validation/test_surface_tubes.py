"""The generators' antennas against solutions on the real tubes (tests/validation/surface).

J-poles with legs apart are J1 to A6; A5, A7, A8 and A10 have 0.5 to 0.8 diameters between the
legs, no room for five segments in the feed, and limits of their own (A8 and A10 were solved while
the drawing was settled and set nothing in it). One number of the drawing of a U is found on the
others, the crossbar's 0.03 pipe radii; what its bridge does follows from its thickness
(models/antennas/j_stub.py). The surface solutions are good to 0.05 % in frequency, 1 % in
admittance and 1 % in current ratio; their gaps are strips of some millimetres and ours are
segments, which is up to 0.3 pF, so a gap's susceptance is not compared. C1 to C5, other antennas
with a cable, were solved last; no drawing was changed for them.

| case | segments | impedance, median and worst | shield current, median and worst | gain |
|---|---|---|---|---|
| C1 gamma-matched dipole | 194 | 3.4 %, 3.5 % | 0.27 dB, 0.28 dB | 0.02 dB |
| C2 folded J | 377 | 1.8 %, 2.3 % | 0.12 dB, 0.15 dB | 0.07 dB |
| C3 open-sleeve J | 634 | 0.5 %, 0.8 % | 0.14 dB, 0.24 dB | 0.01 dB |
| C4 ground plane | 153 | 0.5 %, 0.6 % | 0.12 dB, 0.16 dB | 0.04 dB |
| C5 collinear J | 532 | 2.1 %, 3.4 % | 0.15 dB, 0.36 dB | 0.14 dB |
| C6 5/8-wave | 204 | 1.8 %, 2.0 % | 0.02 dB, 0.03 dB | 0.03 dB |
| C7 5/8-wave, 435 MHz | 171 | 2.3 %, 2.5 % | 0.06 dB, 0.16 dB | 0.17 dB |
| C8 gamma-matched dipole, 435 MHz | 159 | 5.3 %, 5.7 % | 0.46 dB, 0.51 dB | 0.06 dB |
| C9 folded J, 435 MHz | 309 | 2.3 %, 2.3 % | 0.10 dB, 0.16 dB | 0.08 dB |
| C10 ground plane, 435 MHz | 135 | 1.0 %, 1.1 % | 0.06 dB, 0.06 dB | 0.04 dB |
| E1 sleeve dipole, 22 over 8 mm | 153 | 4.4 %, 5.2 % | 0.14 dB, 0.22 dB | 0.08 dB |
| E2 sleeve dipole, 15 over 5 mm, 435 MHz | 122 | 4.8 %, 7.9 % | 0.16 dB, 0.29 dB | 0.03 dB |
| E3 sleeve dipole, 28 over 5 mm | 211 | 6.9 %, 9.3 % | 0.11 dB, 0.21 dB | 0.00 dB |

C6 to C10 and E1 to E3 were solved after that. Two terms were settled on them: no hoop where radials
leave and the outlet's segment (on the study of a 5/8-wave, not on these tables), and what lies
across the mouth of a sleeve (on the null of E1 to E3 and four more sleeves of 22 and 28 mm). What
is left of impedance belongs to feeds: the flat ends of a sleeve dipole's gap, 5 mm apart, have 0.6
(E1) and 0.9 pF (E3) that wires have not; a gamma's post lacks 0.1 to 0.2 pF, and the 5/8-wave's gap
has 0.14 pF too much, which at 150 to 240 ohm is 2 to 6 %. Behind the capacitor or coil that takes
the reactance away the same ohms are 14 % (C1), 20 % (C8), 5 to 6 % (C6 and C7) of what is left.
"""

from __future__ import annotations

import numpy as np
import pytest

from models.wires.segmentation import feed_thickness
from pipeline.circuit.port_algebra import port_currents, port_voltages
from pipeline.mesh.evidence import grade_of
from pipeline.report.page import bounds
from tests.validation import tubes_in_wire as wire
from tests.validation.published_rows import Published, Quantity, published
from tests.validation.tubes_in_wire import CASES, CLOSE, OTHER, WITH_SHIELD

TITLE = "Antennas on the real tubes"


def _at(row: Published, two: wire.TwoPort) -> int:
    """Index of the frequency of a row."""
    return int(np.argmin(np.abs(two.f - 1e6 * row.number("mhz"))))


def _z_feed(row: Published) -> complex:
    two = wire.ours(row.inputs["case"])
    return complex(two.z_feed[_at(row, two)])


def _shield_current(row: Published) -> float:
    two = wire.ours(row.inputs["case"])
    return float(100 * two.shield_ratio[_at(row, two)])


def _gain(row: Published) -> float:
    case = row.inputs["case"]
    azimuth = ("0", "90", "180").index(row.inputs["azimuth"])
    return float(wire.horizon_gains(case)[_at(row, wire.ours(case)), azimuth])


QUANTITIES = {
    "tube_resistance": Quantity("J-pole {case} at {mhz} MHz: R", lambda row: _z_feed(row).real),
    "tube_reactance": Quantity("J-pole {case} at {mhz} MHz: X", lambda row: _z_feed(row).imag),
    "tube_shield_current": Quantity(
        "J-pole {case} at {mhz} MHz: shield current per feed current, near the joint",
        _shield_current,
    ),
    "other_resistance": Quantity("{kind} {case} at {mhz} MHz: R", lambda row: _z_feed(row).real),
    "other_reactance": Quantity("{kind} {case} at {mhz} MHz: X", lambda row: _z_feed(row).imag),
    "other_shield_current": Quantity(
        "{kind} {case} at {mhz} MHz: shield current per feed current, near the joint",
        _shield_current,
    ),
    "other_gain": Quantity(
        "{kind} {case} at {mhz} MHz: gain at the horizon, azimuth {azimuth}", _gain
    ),
}


# Published


@pytest.mark.parametrize("row", published("surface_tubes"))
def test_antennas_do_what_their_tubes_do(row: Published) -> None:
    row.check(QUANTITIES)


@pytest.mark.parametrize("case", CASES)
def test_frequency_scale_is_within_an_eighth_of_a_per_cent_of_the_tubes(case):
    # Worst measured 0.07 % (J3), reference 0.05 %: 0.17 MHz at 145 MHz, less than a cut.
    assert wire.frequency_scale(case) == pytest.approx(1, abs=bounds()["frequency"].value)


@pytest.mark.parametrize("case", CASES)
def test_impedance_is_within_one_part_in_40_of_the_tubes_at_the_same_frequency(case):
    # Worst measured 2.2 % (A1): a shift of 0.1 % is 2 % of impedance at these slopes.
    assert wire.impedance_error(case).max() < bounds()["impedance"].value


@pytest.mark.parametrize("case", CASES)
def test_impedance_is_within_two_per_cent_of_the_tubes_after_the_shift(case):
    # The reference's admittance is good to 1 %; worst measured 1.8 % (A2).
    assert wire.impedance_error(case, wire.frequency_scale(case)).max() < 0.02


@pytest.mark.parametrize("case", WITH_SHIELD)
def test_current_on_the_shield_is_within_half_a_decibel_of_the_tubes(case):
    # At the same frequency and place; the reference's current ratio is good to 1 % (0.1 dB). Worst
    # 0.33 dB (A2) and 0.32 dB (A3); all four on the short leg are high, by 0.1 to 0.3 dB.
    assert (
        np.abs(20 * np.log10(1 + wire.shield_error(case))).max()
        < bounds()["shield_current_db"].value
    )


@pytest.mark.parametrize("case", [*WITH_SHIELD, *OTHER])
def test_conductance_of_a_gap_in_the_shield_is_within_seven_per_cent(case):
    # Conductance is what the gap's own capacitance leaves alone.
    # In the null below a sleeve little is left of it; there to that share of what E1 has elsewhere.
    ours, theirs = wire.ours(case).y[:, 1, 1].real, wire.reference(case).y[:, 1, 1].real
    size = np.maximum(theirs, 0.0001)
    assert np.abs((ours - theirs) / size)[wire.in_band(case)].max() < bounds()["gap"].value


@pytest.mark.parametrize("case", [*CASES, *CLOSE, *OTHER])
def test_field_towards_the_horizon_is_within_a_third_of_a_decibel_of_its_mean_there(case):
    # Against the tubes' field. Worst 0.17 dB (C7); where half of the feed current flows on the
    # cable 0.29 dB (A2), 0.24 dB (A5); the average gain of A8 is 0.954, which is 0.2 of its 0.31.
    limit = {"A2": 0.3, "A5": 0.25, "A8": 0.32}.get(case, 0.18)
    assert np.abs(wire.gain_error(case)).max() < limit


@pytest.mark.parametrize("case", [*CASES, *CLOSE, *OTHER])
def test_gain_towards_the_horizon_is_within_a_fifth_of_a_decibel_save_in_a_weak_direction(case):
    # Direction by direction: worst 0.19 dB (A5), 0.17 dB (C7); A8 as above. A2 is 0.58 dB off
    # where a quarter of the mean power goes.
    ours, theirs = wire.horizon_fields(case)
    limit = {"A2": 0.6, "A8": 0.33}.get(case, 0.2)
    assert np.abs(20 * np.log10(ours / theirs)).max() < limit


@pytest.mark.parametrize("case", OTHER)
def test_other_antennas_with_a_cable_do_what_their_tubes_do_at_the_same_frequency(case):
    # Found: see above. Nothing fitted, neither a shift in frequency nor the feed's capacitance.
    impedance = {"C8": 0.06, "E1": 0.055, "E2": 0.08, "E3": 0.095}.get(case, 0.04)
    assert wire.impedance_error(case).max() < impedance
    current = {"C8": 0.68}.get(case, 0.4)
    assert np.abs(20 * np.log10(1 + wire.shield_error(case))).max() < current
    # Reflections far from 50 ohm hardly turn with frequency: C8 has 70 + j 220 ohm.
    scale = {"C6": 0.003, "C7": 0.0032, "C8": 0.01, "E3": 0.004}.get(case, 0.002)
    assert wire.frequency_scale(case) == pytest.approx(1, abs=scale)


@pytest.mark.parametrize("case", [c for c in OTHER if c[0] == "E"])
def test_current_in_the_null_below_a_sleeve_is_the_tubes_to_a_four_hundredth_of_the_feeds(case):
    # 0.23, 0.12 and 0.13 % of the feed's current found at all frequencies of the null.
    ours, theirs = wire.ours(case).shield_ratio, wire.reference(case).shield_ratio
    null = theirs < 0.05
    assert null.any()
    assert np.abs(ours - theirs)[null].max() < 0.0025


@pytest.mark.parametrize("case", [c for c in (*WITH_SHIELD, *OTHER) if c != "J3"])
def test_current_along_the_shield_follows_the_tubes(case):
    # Points within 10 dB of the largest: near a null a shift of a centimetre is decibels.
    error, points = wire.error_along_shield(case)
    assert points >= 10
    assert np.abs(20 * np.log10(1 + error)).max() < (0.65 if case == "C8" else 0.6)


@pytest.mark.parametrize("choke", [1000 + 0j, 200j, -200j, 1e7 + 0j], ids=str)
@pytest.mark.parametrize("case", [*WITH_SHIELD, *OTHER])
def test_a_choke_in_the_gap_changes_our_antenna_as_it_changes_the_tubes(case, choke):
    # Both two-ports loaded alike, unshifted, ours with the gap's capacitance of the reference.
    # What a reactance brings near resonance magnifies the few per cent between them.
    ours, theirs = wire.with_gap_of_reference(case), wire.reference(case).y
    source, z = np.array([1.0, 0.0]), np.array([0.0, choke])
    i_ours, i_theirs = (
        port_currents(y, port_voltages(y, np.tile(z, (len(y), 1)), source))[wire.in_band(case)]
        for y in (ours, theirs)
    )
    # What the flat ends of a sleeve dipole's gap have of capacitance is not in its wires.
    assert np.abs(i_theirs[:, 0] / i_ours[:, 0] - 1).max() < (0.10 if case[0] == "E" else 0.06)
    ratio = np.abs((i_ours[:, 1] / i_ours[:, 0]) / (i_theirs[:, 1] / i_theirs[:, 0]))
    assert np.abs(20 * np.log10(ratio)).max() < 1.0


@pytest.mark.parametrize("case", CLOSE)
def test_legs_that_stand_close_are_further_off_and_say_so_themselves(case):
    # 6.5 % of impedance (A8; A7 2.5 %) and 0.57 dB of shield current (A5) in the worst corner of
    # the band; never "sound".
    assert wire.impedance_error(case).max() < bounds()["close"].value
    assert np.abs(20 * np.log10(1 + wire.shield_error(case))).max() < bounds()["close_db"].value
    assert wire.frequency_scale(case) == pytest.approx(1, abs=0.0022)
    assert grade_of("feed", feed_thickness(wire.drawing(case))) == "usable"


# Laws


@pytest.mark.parametrize("case", [*CASES, *OTHER])
def test_a_drawing_of_a_reference_case_passes_its_own_checks(case):
    checks = wire.own_checks(case)
    assert checks.average_gain == pytest.approx(1, abs=0.03)
    assert checks.reciprocity < 0.10


def test_finer_segments_move_the_impedance_by_less_than_the_tubes_differ():
    finer, usual = wire.ours("J1", wire.FINER), wire.ours("J1")
    assert np.median(np.abs(finer.z_feed / usual.z_feed - 1)) < 0.02


def test_a_choke_in_the_gap_follows_the_two_port_formula_with_our_algebra():
    # I2/V1 = Y21/(1 + Y22 Zc), Yin = Y11 - Zc Y12 Y21/(1 + Y22 Zc): elimination of one port, on
    # the reference's own two-port; exact but for rounding.
    y = wire.reference("J3").y
    choke = 200 + 300j
    z, source = np.array([0.0, choke]), np.array([1.0, 0.0])
    current = port_currents(y, port_voltages(y, np.tile(z, (len(y), 1)), source))
    down = 1 + y[:, 1, 1] * choke
    np.testing.assert_allclose(current[:, 1], y[:, 1, 0] / down, rtol=1e-10)
    np.testing.assert_allclose(
        current[:, 0], y[:, 0, 0] - choke * y[:, 0, 1] * y[:, 1, 0] / down, rtol=1e-10
    )
