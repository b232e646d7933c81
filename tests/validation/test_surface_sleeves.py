"""Sleeves over a cable as the project draws them against solutions on their walls.

| case | impedance, median and worst | current on the sleeve | below it | gain |
|---|---|---|---|---|
| S1 no sleeve | 1.3 %, 1.9 % | | 0.08, 0.17 dB | 0.07, 0.07 dB |
| S2 mouth up at 0.25 m | 4.2 %, 4.9 % | 0.19, 0.40 dB | 0.15, 0.39 dB | 0.14, 0.18 dB |
| S3 there, mouth down | 3.4 %, 3.9 % | 0.19, 0.48 dB | 0.22, 0.57 dB | 0.05, 0.07 dB |
| S5 mouth down at 1.20 m | 1.1 %, 1.7 % | 0.09, 0.15 dB | 0.33, 0.78 dB | 0.17, 0.31 dB |

Root of the mean square and worst over 139 to 151 MHz. Currents are per feed current, where they are
within 10 dB of the largest and not at the mouth itself. The mouth's capacitance comes from the null
below sleeve dipoles (0.25 pF here, as S2, S3 and S5 want by themselves); the feed's, 0.2 pF, is
what S1 wants, where nothing else is open. Gain is a difference of
fields in shares of that field, or of an isotropic source's where it is weaker: S5 has a null, -18.3
dBi at 147 MHz, that we have at -21.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.site.sleeve import SLEEVE
from models.wires.structure import GeometryError
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.mesh.evidence import LIMITS
from pipeline.report.page import bounds
from tests.validation import sleeves
from tests.validation.sleeves import CASES, errors, lengths, solve

WITH_SLEEVE = tuple(name for name in CASES if name != "S1")


def _of_all(name: str) -> np.ndarray:
    return np.concatenate([getattr(errors(case), name) for case in CASES])


def _rms(errors_db: np.ndarray) -> float:
    return float(np.sqrt(np.mean(errors_db**2)))


# Published


def test_impedance_with_a_sleeve_is_within_four_per_cent_of_the_walls_and_nine_at_worst():
    # 2.3 and 4.9 % found; as a series impedance at the mouth, nothing drawn: 7.9 and 39 %.
    assert np.median(_of_all("impedance")) < 0.04
    assert _of_all("impedance").max() < bounds()["sleeve_impedance"].value


def test_current_below_a_sleeve_is_within_a_third_of_a_decibel_of_the_walls():
    # 0.19 and 0.78 dB found; nothing drawn: 3.1 and 7 dB.
    assert _rms(_of_all("below")) < bounds()["sleeve_below_db"].value
    assert np.abs(_of_all("below")).max() < 1.0


def test_current_on_a_sleeve_is_within_half_a_decibel_of_the_walls():
    # 0.16 and 0.48 dB found; nothing drawn: 2.6 and 7.5 dB.
    assert _rms(_of_all("on")) < bounds()["sleeve_on_db"].value
    assert np.abs(_of_all("on")).max() < 1.3


def test_gain_with_a_sleeve_is_within_a_sixth_of_a_decibel_of_the_walls():
    # 0.12 and 0.31 dB found.
    assert _rms(_of_all("gain")) < 0.15
    assert np.abs(_of_all("gain")).max() < 0.4


def test_a_plain_feed_of_five_radii_lacks_what_the_table_says():
    # S1 without the 0.2 pF across its strip: 5 to 9 % off, with it within 2 %.
    assert errors("S1").impedance.max() < 0.02


def test_mouth_left_open_is_not_what_the_walls_do():
    # Without its capacitance the mouth of S2 is 1.2 % of frequency high.
    of = lengths("S2")
    f = np.array([145e6])
    stored = next(r for r in sleeves.table("S2_Y.csv") if r["f_MHz"] == 145)
    theirs = stored["Y11_re_S"] + 1j * stored["Y11_im_S"]
    found = solve(of, f, across=0.0).y[0]
    assert abs(theirs / found - 1) > 0.09


# Laws


@pytest.mark.parametrize("name", CASES)
def test_what_a_sleeve_radiates_is_what_goes_in(name):
    # 0.984 to 0.997 found.
    off = np.abs(errors(name).average_gain - 1).max()
    assert off < LIMITS["average_gain"].sound


@pytest.mark.parametrize(("name", "found"), [("S2", 0.01), ("S3", 0.01), ("S5", 0.04)])
def test_feed_and_mouth_are_reciprocal(name, found):
    # Of S5, whose mouth is far and hardly coupled, 0.9 % of the root of both own admittances.
    assert errors(name).asymmetry < found


@pytest.mark.parametrize("start", [0.15, 0.5, 0.9])
@pytest.mark.parametrize("opens_to_antenna", [True, False])
def test_a_sleeve_at_other_places_is_reciprocal(start, opens_to_antenna):
    # 0.4 to 3.1 % found from 0.1 to 1.1 m.
    of = lengths("S2")
    assert of.sleeve is not None
    moved = replace(of.sleeve, start=start, opens_to_antenna=opens_to_antenna)
    ports = solve(replace(of, sleeve=moved), np.array([145e6])).ports[0]
    assert transfer_asymmetry(ports, 0) < 0.035


def test_segments_a_quarter_shorter_leave_a_sleeve_where_it_is():
    f = np.array([145e6])
    coarse, fine = (solve(lengths("S3"), f, refine) for refine in (1.0, 0.75))
    assert len(fine.built.segments) > len(coarse.built.segments)
    assert abs(fine.y[0] / coarse.y[0] - 1) < LIMITS["convergence"].sound


def test_current_along_the_cable_is_that_of_the_whole_cage():
    # At the plate what flows outside the sleeve goes on in the cable: no charge is lost.
    solved = solve(lengths("S2"), np.array([145e6]))
    along = np.abs(solved.built.along_shield(solved.current)[0])
    places = np.array([s for _, s in solved.built.shield_path])
    plate = np.searchsorted(places, 0.761)
    assert along[plate] == pytest.approx(along[plate - 1], rel=0.15)
    assert len(solved.built.shield_beside) > 10


# Refusals


def test_a_sleeve_without_straight_cable_for_its_port_is_refused():
    of = lengths("S2")
    assert of.sleeve is not None
    with pytest.raises(GeometryError, match="no room"):
        sleeves.drawing(replace(of, sleeve=replace(of.sleeve, start=0.03)), 151e6)


def test_a_sleeve_too_narrow_for_its_spokes_is_refused():
    of = lengths("S2")
    assert of.sleeve is not None
    with pytest.raises(GeometryError, match="too narrow"):
        sleeves.drawing(replace(of, sleeve=replace(of.sleeve, radius=0.009)), 151e6)


def test_the_port_of_a_mouth_is_the_cables_own_segment_beside_it():
    built = sleeves.drawing(lengths("S3"), 151e6)
    port = built.ports[built.port_index(SLEEVE)]
    assert built.wires[port.wire].part == "shield"
    assert port.position == pytest.approx(0.761 + 0.5 * built.wires[port.wire].length, abs=0.003)
