"""Noise on the way in: reciprocity, direct solves with the source where the noise is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.catalogues.parts import coax_class
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure, Wire
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.analysis.receive_noise import (
    FAINTEST_DB,
    Reception,
    change_db,
    device_place,
    driven_currents,
    house_field,
    receive,
    receive_words,
    receiver_at_feed,
    transfer_db,
)
from pipeline.circuit.line import LinePiece, LineRun, through_line
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.solver.cases import CABLE, Case, cases
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.port_basis import solve_basis
from pipeline.study.records import Study
from tests.harness import small_study

NAMES = [c.id for c in cases(small_study.study())]
WITH_CABLE = [n for n in NAMES if n != "no-feedline"]


def case_of(name: str) -> Case:
    return next(c for c in cases(small_study.study()) if c.id == name)


def heard(name: str) -> Reception:
    found = receive(small_study.case(name))
    assert found is not None
    return found


def heard_in(study: Study, name: str) -> Reception:
    """Noise in a case of a study that differs from the small one in impedances only."""
    found = receive(evaluate(small_study.solved()[CABLE], study, case_of(name)))
    assert found is not None
    return found


def loaded(name: str) -> tuple[Solved, np.ndarray]:
    """Geometry of a case and the series impedance of its ports with the receiver at the feed."""
    study, c = small_study.study(), case_of(name)
    entry = small_study.solved()[c.geometry]
    centre = entry.basis.centre
    series = small_study.case(name).z_series[centre].copy()
    run = LineRun((LinePiece(study.cable.type, 2.15),), 0.1)
    series[entry.structure.port_index("feed")] += receiver_at_feed(run, study.frequency)[0]
    return entry, series


def loads_of(structure: Structure, series: np.ndarray) -> tuple[SeriesLoad, ...]:
    return tuple(
        SeriesLoad(int(s), complex(z))
        for port, s, z in zip(structure.ports, structure.port_segments, series, strict=True)
        if z and not port.beside
    )


# Published


@pytest.mark.parametrize("name", ["none", "core-x4", "measured"])
def test_algebra_and_a_solve_with_the_source_at_the_radio_find_the_same_noise(name: str) -> None:
    # LD and EX cards of the NEC-2 user's guide (Burke and Poggio, 1981): every termination and
    # core is a load of the solver, and one volt stands in the segment at the radio.
    entry, series = loaded(name)
    structure, basis = entry.structure, entry.basis
    station, feed = structure.port_index("station"), structure.port_index("feed")
    assert not structure.ports[feed].beside
    at = np.array([basis.frequency[basis.centre]])
    source = (int(structure.port_segments[station]),)
    direct = unit_source_currents(
        structure, at, None, loads=loads_of(structure, series), sources=source
    )[0, 0, structure.port_segments[feed]]
    algebra = driven_currents(basis.y_port[basis.centre], series, station)[feed]
    assert abs(algebra - direct) < 1e-6 * abs(direct)


@pytest.mark.parametrize("direction", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
def test_a_real_dipole_beside_the_radio_drives_what_reciprocity_says(
    direction: tuple[float, float, float],
) -> None:
    # R. F. Harrington, Time-Harmonic Electromagnetic Fields (1961), sec. 3-8, from memory: the
    # reaction of two sources on each other is the same both ways. Here the other way is solved:
    # a dipole of 6 cm with a source in its middle, beside the cable with four cores on it.
    entry, series = loaded("core-x4")
    study, built = small_study.study(), entry.structure
    place = device_place(built, study.station.noise_beside)
    half = 0.03 * np.array(direction)
    a, b = (tuple(float(x) for x in p) for p in (place - half, place + half))
    dipole = Wire(a, b, 5, 5e-4, "device", built.wires[0].material)
    more = replace(built, wires=(*built.wires, dipole))
    first = len(built.segments)
    at = np.array([study.frequency])
    currents = unit_source_currents(
        more, at, None, loads=loads_of(built, series), sources=(first + 2,)
    )[0, 0]
    moment = currents[first:].sum() * 0.06 / 5
    direct = abs(currents[built.port_segments[built.port_index("feed")]] / moment)
    reciprocal = abs(house_field(small_study.case("core-x4"), series) @ np.array(direction))
    # Five segments of a dipole and the pieces of the near field: a few per cent.
    assert reciprocal == pytest.approx(direct, rel=0.06)


def test_a_matched_receiver_loses_what_the_table_of_its_cable_says() -> None:
    # A two-way-radio training guide, App. H: RG-213/U at 150 MHz loses 8.9 dB in 100 m.
    run = LineRun((LinePiece(coax_class("RG-213/U"), 100.0),), 0.0)
    z, loss = receiver_at_feed(run, 150e6)
    assert loss == pytest.approx(8.9, rel=0.02)
    assert z == pytest.approx(50.0, rel=1e-9)


# Laws


@pytest.mark.parametrize("name", WITH_CABLE)
def test_the_way_in_is_the_way_out_within_the_port_matrix_own_asymmetry(name: str) -> None:
    # What is driven there and back may differ by what Y differs from its transpose, measured as
    # in the evidence. An ideal choke leaves a small difference of large transfers, each of which
    # is as uncertain as that of the bare cable.
    entry, _ = loaded(name)
    y = entry.basis.y_port[entry.basis.centre]
    own = transfer_asymmetry(y, entry.structure.port_index("feed"))
    back_db = heard(name).there_and_back_db
    there, bare = (10 ** (heard(n).station_db / 20) for n in (name, "none"))
    assert there * abs(10 ** (-back_db / 20) - 1) < own * max(there, bare)


@given(st.integers(2, 6), st.integers(0, 2**32 - 1))
def test_any_reciprocal_network_hears_as_well_as_it_sends(n: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    half = rng.normal(size=(n, n)) + 1j * rng.normal(size=(n, n))
    y = 0.01 * (half + half.T) + 0.2 * np.eye(n)
    z = rng.uniform(0, 100, n) + 1j * rng.normal(0, 50, n)
    there, back = driven_currents(y, z, 0)[n - 1], driven_currents(y, z, n - 1)[0]
    assert abs(there - back) < 1e-9 * max(abs(there), 1e-9)


def test_noise_falls_as_the_current_at_the_radio_does_when_sending() -> None:
    # One network: the change in decibels of what is heard is that of the current at the radio per
    # feed current, but for the antenna's own match to the line, under a decibel here.
    for name in ("core-x1", "core-x2", "core-x4", "sleeve", "measured"):
        sent = [abs(small_study.case(k).station_ratio[1]) for k in (name, "none")]
        change, _ = change_db(heard(name), heard("none"))
        assert change == pytest.approx(20 * np.log10(sent[0] / sent[1]), abs=1.0)


def test_more_cores_at_the_antenna_let_less_noise_through() -> None:
    levels = [heard(n).station_db for n in ("none", "core-x1", "core-x2", "core-x4", "ideal")]
    assert levels == sorted(levels, key=lambda level: -float(level or 0))


def test_a_loss_in_the_line_takes_the_same_from_every_noise() -> None:
    study = small_study.study()
    longer = replace(study, cable=replace(study.cable, length=40.0))
    near, far = heard("core-x2"), heard_in(longer, "core-x2")
    lost = far.line_loss_db - near.line_loss_db
    assert lost > 1.5
    assert near.station_db is not None
    assert far.station_db == pytest.approx(near.station_db - lost, abs=1e-9)
    assert far.house_db[0] == pytest.approx(near.house_db[0] - lost, abs=1e-9)


def test_a_matched_line_loses_the_same_both_ways() -> None:
    run = LineRun(
        (LinePiece(coax_class("RG-58C/U"), 3.0), LinePiece(coax_class("RG-213/U"), 12.0)), 0.2
    )
    out = through_line(run, np.array([145e6]), np.array([50.0 + 0j]))[1][0]
    assert receiver_at_feed(run, 145e6)[1] == pytest.approx(float(out), rel=1e-12)


# Edges


def test_without_a_cable_nothing_comes_in_on_it() -> None:
    assert receive(small_study.case("no-feedline")) is None


def test_a_radio_that_floats_is_driven_by_a_current_only() -> None:
    study = small_study.study()
    floating = replace(study, station=replace(study.station, impedance=None))
    found = heard_in(floating, "none")
    assert found.station_db is None
    # Per ampere the impedance at the radio does not matter.
    assert found.station_current_db == pytest.approx(heard("none").station_current_db, abs=1e-6)
    words = receive_words({"none": found, "ideal": found}, "none", 1.0)
    assert words[0].startswith("Without a choke, an ampere of noise")


def test_a_path_that_is_none_has_a_finite_level() -> None:
    assert transfer_db(0.0, 50.0, 50.0, 3.0) == FAINTEST_DB


def test_a_cable_that_ends_straight_down_still_has_a_side() -> None:
    built = small_study.solved()[CABLE].structure
    turned = tuple(
        replace(w, start=(w.start[1], w.start[2], w.start[0]), end=(w.end[1], w.end[2], w.end[0]))
        for w in built.wires
    )
    upright = replace(built, wires=turned)
    end = upright.segments.centre[upright.port_segments[upright.port_index("station")]]
    assert np.linalg.norm(device_place(upright, 2.0) - end) == pytest.approx(2.0)


def test_a_bond_is_heard_where_there_is_one() -> None:
    entry = small_study.solved()[CABLE]
    assert not entry.structure.has_port("rod")
    assert heard("none").bond_db is None
    renamed = tuple(
        replace(p, name="rod") if p.name.startswith("shield") and k == 5 else p
        for k, p in enumerate(entry.structure.ports)
    )
    other = Solved(replace(entry.structure, ports=renamed), entry.basis)
    found = receive(evaluate(other, small_study.study(), case_of("none")))
    assert found is not None
    assert found.bond_db is not None
    assert -100 < found.bond_db < 0


def test_the_words_name_the_decibels_of_the_chosen_choke() -> None:
    found = {n: heard(n) for n in WITH_CABLE}
    change = round(-change_db(found["core-x4"], found["none"])[0])
    text = " ".join(receive_words(found, "core-x4", 1.0))
    assert f"With the chosen choke it is {change} dB weaker" in text
    assert "A perfect choke at the antenna would make it" in " ".join(
        receive_words(found, "none", 1.0)
    )


def test_a_second_solve_gives_the_same_noise() -> None:
    study, c = small_study.study(), case_of("none")
    entry = small_study.solved()[CABLE]
    f = entry.basis.frequency[1:2]
    again = Solved(entry.structure, solve_basis(entry.structure, f, 0, None))
    found = receive(evaluate(again, study, c))
    assert found is not None
    assert found.station_db == pytest.approx(heard("none").station_db, abs=1e-6)
