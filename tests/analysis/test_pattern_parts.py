"""A pattern taken apart: fields of shares of the current against dipoles of the textbooks."""

from __future__ import annotations

import numpy as np
import pytest

from models.quantities import ETA_NEC, SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.structure import Segments, Structure, Wire
from pipeline.analysis.pattern_parts import (
    BY_ALL,
    BY_ANTENNA,
    BY_CABLE,
    BY_OTHERS,
    carrier_rows,
    carriers,
    cuts_of,
    difference_rows,
    fields_by_carrier,
)
from pipeline.solver.far_field import Directions, directive_power, evenly_round, far_field
from pipeline.solver.far_field import radiated_power as radiated
from tests.harness.small_study import case

F = 145e6
WAVELENGTH = SPEED_OF_LIGHT_NEC / F
SPHERE = Directions(np.radians(np.arange(0.0, 180.5, 1.0)), evenly_round(72))


def line(part: str, length: float, at: tuple[float, float], n: int) -> Wire:
    x, z = at
    return Wire((x, 0.0, z - length / 2), (x, 0.0, z + length / 2), n, 1e-3, part)


def together(*wires: Wire) -> Structure:
    return Structure("two dipoles", wires, ())


def currents(structure: Structure, most: dict[str, complex]) -> np.ndarray:
    """On each wire a sine that is nothing at its ends, with the given current in its middle."""
    segments, found = structure.segments, np.zeros(len(structure.segments), complex)
    for index, wire in enumerate(structure.wires):
        own = segments.wire == index
        from_middle = segments.centre[own, 2] - 0.5 * (wire.start[2] + wire.end[2])
        k = 2 * np.pi / WAVELENGTH
        shape = np.sin(k * (wire.length / 2 - abs(from_middle))) / np.sin(k * wire.length / 2)
        found[own] = most[wire.part] * shape
    return found


def parts(structure: Structure, own: np.ndarray, soil: Soil | None = None, on: Directions = SPHERE):
    masks = carriers(structure)
    return fields_by_carrier(structure.segments, own, masks, F, soil, on)


# Outside checks


def test_a_half_wave_share_radiates_what_the_textbook_says_whatever_else_carries_current() -> None:
    """C. A. Balanis, Antenna Theory, 3rd ed., 2005, section 4.6: 73 ohm and 2.15 dBi (from memory).

    Half the square of the largest current times the radiation resistance is the power.
    """
    structure = together(
        line("antenna", WAVELENGTH / 2, (0.0, 0.0), 81),
        line("shield", WAVELENGTH / 2, (0.3, 1.2), 81),
    )
    own = parts(structure, currents(structure, {"antenna": 2.0, "shield": 0.5j}))
    for name, most in ((BY_ANTENNA, 2.0), (BY_CABLE, 0.5)):
        power = float(radiated(own[name], SPHERE))
        assert power == pytest.approx(0.5 * 73.13 * most**2, rel=2e-3)
        directivity = 4 * np.pi * directive_power(own[name]).max() / power
        assert 10 * np.log10(directivity) == pytest.approx(2.15, abs=0.01)


def test_a_short_share_radiates_as_a_dipole_with_a_triangular_current() -> None:
    """Balanis, section 4.3: 20 pi^2 (length / wavelength)^2 ohm (from memory)."""
    length = 0.05 * WAVELENGTH
    structure = together(
        line("antenna", WAVELENGTH / 2, (0.0, 0.0), 81), line("shield", length, (0.1, 0.0), 41)
    )
    own = parts(structure, currents(structure, {"antenna": 1.0, "shield": 1.0}))
    wanted = 0.5 * 20 * np.pi**2 * 0.05**2 * ETA_NEC / (120 * np.pi)
    assert float(radiated(own[BY_CABLE], SPHERE)) == pytest.approx(wanted, rel=1e-2)


def test_two_dipoles_a_wavelength_apart_exchange_power_that_neither_share_tells() -> None:
    """Balanis, section 8.6: mutual resistance 4.0 ohm side by side one wavelength apart (memory).

    Together they radiate twice the self and twice the mutual resistance.
    """
    structure = together(
        line("antenna", WAVELENGTH / 2, (0.0, 0.0), 81),
        line("shield", WAVELENGTH / 2, (WAVELENGTH, 0.0), 81),
    )
    own = parts(structure, currents(structure, {"antenna": 1.0, "shield": 1.0}))
    apart = sum(float(radiated(field, SPHERE)) for field in own.values())
    joint = float(radiated(own[BY_ANTENNA] + own[BY_CABLE], SPHERE))
    assert joint - apart == pytest.approx(4.0, abs=0.15)


# Laws


@pytest.mark.parametrize("soil", [None, Soil(13.0, 0.005)], ids=["free space", "over ground"])
def test_the_fields_of_all_shares_add_up_to_the_field_of_all_currents(soil: Soil | None) -> None:
    wires = [line(part, 1.0, (k, 5.0), 9) for k, part in enumerate(("antenna", "coil", "gutter"))]
    lead = Wire((0.0, 0.0, 4.5), (0.0, 3.0, 4.5), 21, 1e-3, "bond lead")
    structure = together(*wires, lead)
    masks = carriers(structure)
    assert set(masks) == {BY_CABLE, BY_ANTENNA, BY_OTHERS}
    assert (sum(mask.astype(int) for mask in masks.values()) == 1).all()
    generator = np.random.default_rng(7)
    drawn = generator.normal(size=(2, len(structure.segments)))
    own = drawn[0] + 1j * drawn[1]
    upper = Directions(np.radians(np.arange(0.0, 91.0, 5.0)), evenly_round(24))
    fields = parts(structure, own, soil, upper)
    whole = far_field(structure.segments, own[None], F, soil, upper)[0]
    assert np.abs(sum(fields.values()) - whole).max() <= 1e-9 * np.abs(whole).max()


def test_in_a_solved_case_cable_and_antenna_add_up_to_the_pattern_that_is_judged() -> None:
    result = case("none")
    structure, basis = result.solved.structure, result.solved.basis
    fields = fields_by_carrier(
        structure.segments,
        result.segment_current,
        carriers(structure),
        float(basis.frequency[basis.centre]),
        result.study.site.ground,
        basis.directions,
    )
    error = np.abs(sum(fields.values()) - result.field).max()
    assert error <= 1e-9 * np.abs(result.field).max()


def test_the_table_of_shares_has_both_cuts_of_each_and_less_from_the_cable_with_a_choke() -> None:
    results = {name: case(name) for name in ("none", "ideal")}
    rows = carrier_rows(results, dict.fromkeys(results, "sound"), 3.0)
    share = {(r["case"], r["carrier"]): r["radiated_share"] for r in rows}
    assert {carrier for _, carrier in share} == {BY_CABLE, BY_ANTENNA, BY_ALL}
    assert share["ideal", BY_CABLE] < share["none", BY_CABLE] < 1
    assert 0 < share["none", BY_ALL] <= 1
    for name in results:
        gains = [r["gain_dbi"] for r in rows if (r["case"], r["carrier"]) == (name, BY_ALL)]
        directions = results[name].solved.basis.directions
        assert gains == [g for _, g in cuts_of(results[name].gain, directions, 3.0)]


def test_the_difference_to_the_ideal_is_that_of_the_gains_and_left_out_beside_its_nulls() -> None:
    results = {name: case(name) for name in ("none", "ideal")}
    rows = difference_rows(results, dict.fromkeys(results, "sound"), 3.0)
    directions = results["none"].solved.basis.directions
    own, ideal = (
        np.array([g for _, g in cuts_of(results[n].gain, directions, 3.0)]) for n in results
    )
    assert {r["case"] for r in rows} == {"none"}
    told = np.array([np.nan if r["difference_db"] is None else r["difference_db"] for r in rows])
    weak = ideal < ideal.max() - 10.0
    assert (np.isnan(told) == weak).all()
    np.testing.assert_allclose(told[~weak], (own - ideal)[~weak], atol=1e-12)


def test_segments_keep_their_share_where_wires_of_parts_alternate() -> None:
    wires = [line(part, 0.3, (k, 2.0), 3) for k, part in enumerate(("shield", "antenna") * 2)]
    segments: Segments = together(*wires).segments
    masks = carriers(together(*wires))
    assert masks[BY_CABLE].tolist() == [w % 2 == 0 for w in segments.wire]
