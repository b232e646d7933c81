"""Open formats read back with other people's readers: netCDF, Touchstone, NEC-2 cards."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
import skrf
from scipy.io import netcdf_file

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Material, Port, Structure, Wire
from pipeline.analysis.case_results import CaseResult, Solved
from pipeline.report.exports import write_decks, write_netcdf, write_touchstone
from pipeline.solver.cases import CABLE
from pipeline.solver.decks import card_deck, distributed_loads, nonzero_ports
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.port_basis import PortBasis
from pipeline.solver.solve_cache import requests
from pipeline.solver.terminations import terminations
from pipeline.study.reader import load_study
from tests.harness.small_study import case, small_study_file, solved, study

SHOWN = ("none", "ideal", "no-feedline", "core-x4")


def results() -> list[CaseResult]:
    return [case(name) for name in SHOWN]


def text_rows(variable: np.ndarray) -> list[str]:
    return [b"".join(row).decode().rstrip() for row in variable]


class Card(NamedTuple):
    """One card, taken apart by columns: name in 1-2, four integers, then reals of ten columns."""

    name: str
    integers: tuple[int, ...]
    numbers: tuple[float, ...]


def cut(line: str) -> Card:
    """Columns of the NEC-2 user's guide, part III (Burke and Poggio, 1981); from memory.

    Geometry cards: I1 in 3-5, I2 in 6-10, reals of ten columns from 11. Control cards: I1 in
    3-5, I2 to I4 of five columns to 20, reals of ten columns from 21.
    """
    name = line[:2]
    ends = (2, 5, 10) if name in ("GW", "GE") else (2, 5, 10, 15, 20)
    integers = tuple(int(line[a:b] or 0) for a, b in itertools.pairwise(ends) if line[a:b].strip())
    rest = line[ends[-1] :]
    assert len(rest) % 10 == 0
    return Card(name, integers, tuple(float(rest[k : k + 10]) for k in range(0, len(rest), 10)))


def cards(deck: str) -> list[Card]:
    return [cut(line) for line in deck.splitlines() if line[:2] not in ("CM", "CE")]


def named(deck: str, name: str) -> list[Card]:
    return [c for c in cards(deck) if c.name == name]


@cache
def deck(name: str, over_ground: bool = False) -> str:
    entry = solved()[name]
    s = study()
    z = terminations(entry.structure, s, np.array([s.frequency]))[0]
    soil = Soil(13.0, 0.005) if over_ground else None
    return card_deck(entry.structure, s.title, s.frequency, soil, nonzero_ports(entry.structure, z))


def rebuilt(text: str) -> tuple[Structure, float, tuple[SeriesLoad, ...]]:
    """What another program would understand from a deck: wires, frequency, loads, source."""
    first = np.cumsum([0, *(c.integers[1] for c in named(text, "GW"))])
    loads = named(text, "LD")
    total = int(first[-1])
    sigma, jacket = np.full(total, np.inf), np.zeros(total)
    lumped = []
    for load in loads:
        kind, tag, a, b = load.integers
        assert tag == 0
        span = slice(a - 1, b)
        if kind == 5:
            sigma[span] = load.numbers[0]
        elif kind == 2:
            jacket[span] = load.numbers[1]
        else:
            assert (kind, a) == (4, b)
            lumped.append(SeriesLoad(a - 1, complex(load.numbers[0], load.numbers[1])))
    wires = tuple(
        Wire(
            c.numbers[:3],  # type: ignore[arg-type]
            c.numbers[3:6],  # type: ignore[arg-type]
            c.integers[1],
            c.numbers[6],
            "wire",
            Material(float(sigma[first[k]]), float(jacket[first[k]])),
        )
        for k, c in enumerate(named(text, "GW"))
    )
    (source,) = named(text, "EX")
    feed = Port("feed", source.integers[1] - 1, source.integers[2] - 1)
    (fr,) = named(text, "FR")
    return Structure("deck", wires, (feed,)), fr.numbers[0] * 1e6, tuple(lumped)


def impedance_of(text: str) -> complex:
    structure, f, loads = rebuilt(text)
    current = unit_source_currents(structure, np.array([f]), None, loads=loads)
    return complex(1 / current[0, 0, structure.port_segments[0]])


# Published: fixed columns


def test_cards_stand_in_the_columns_of_the_users_guide() -> None:
    for c in cards(deck(CABLE)):
        assert c.name in {"GW", "GE", "LD", "FR", "EX", "RP", "EN"}
    assert [c.name for c in cards(deck(CABLE, over_ground=True))].count("GN") == 1
    order = [c.name for c in cards(deck(CABLE, over_ground=True))]
    assert list(dict.fromkeys(order)) == ["GW", "GE", "LD", "GN", "FR", "EX", "RP", "EN"]


@pytest.mark.parametrize(
    ("title", "kept"),
    [("Fourteen letters " * 7, "Fourteen letters"), ("Gärtnerei am Fluß", "rtnerei")],
)
def test_comment_cards_come_first_fit_on_a_card_and_say_where_every_port_is(
    title: str, kept: str
) -> None:
    for name, entry in solved().items():
        lines = card_deck(entry.structure, title, 145e6, None, {}).splitlines()
        comments = [line for line in lines if line.startswith("CM")]
        assert lines[: len(comments) + 1] == [*comments, "CE"]
        assert max(map(len, lines)) <= 80
        assert "".join(lines).isascii(), name
        assert any(kept in line for line in comments)
        for port in entry.structure.ports:
            (line,) = [text for text in comments if text.startswith(f"CM port {port.name}: ")]
            segment = entry.structure.port_segment(port) + 1
            place = f"tag {port.wire + 1} segment {port.segment + 1} (absolute {segment})"
            assert line.endswith(place)


# Laws: the deck


@pytest.mark.parametrize("name", ["antenna-alone", CABLE])
def test_a_deck_solved_again_gives_the_feed_impedance_of_the_port_algebra(name: str) -> None:
    result = case("none" if name == CABLE else "no-feedline")
    z = result.z_feed[result.centre]
    # Lengths are printed to a micrometre, loads to four digits: a thousandth covers both.
    assert abs(impedance_of(deck(name)) - z) / abs(z) < 1e-3


def test_the_deck_is_for_the_frequency_of_the_study_to_a_kilohertz() -> None:
    for f in (145.3e6, 144.3875e6, 432.9875e6):
        text = card_deck(solved()["antenna-alone"].structure, "t", f, None, {})
        (fr,) = named(text, "FR")
        assert fr.integers == (0, 1, 0, 0)
        # A channel is 12.5 kHz wide; a kilohertz is invisible in an antenna's impedance.
        assert fr.numbers[0] * 1e6 == pytest.approx(f, abs=1e3)


@pytest.mark.parametrize("name", ["antenna-alone", CABLE])
def test_wires_have_tags_from_one_and_stand_and_meet_where_the_structure_has_them(
    name: str,
) -> None:
    printed: dict[tuple[float, ...], tuple[float, ...]] = {}
    wires = solved()[name].structure.wires
    for k, (c, w) in enumerate(zip(named(deck(name), "GW"), wires, strict=True), 1):
        assert c.integers == (k, w.n_segments)
        # Six decimals of a metre.
        np.testing.assert_allclose(c.numbers[:6], [*w.start, *w.end], atol=5.1e-7)
        assert c.numbers[6] == pytest.approx(w.radius, abs=5.1e-7)
        for point, text in ((w.start, c.numbers[:3]), (w.end, c.numbers[3:6])):
            # To the last digit.
            assert printed.setdefault(point, text) == text


def test_distributed_loads_reach_every_lossy_segment_once() -> None:
    structure = solved()[CABLE].structure
    covered = np.zeros(len(structure.segments), int)
    for kind, a, b, _ in distributed_loads(structure):
        if kind == 5:
            covered[a - 1 : b] += 1
    lossy = np.array(
        [np.isfinite(structure.wires[w].material.conductivity) for w in structure.segments.wire]
    )
    np.testing.assert_array_equal(covered, lossy.astype(int))


def test_loads_on_ports_are_printed_with_their_values() -> None:
    structure = solved()[CABLE].structure
    station = structure.port_segments[structure.port_index("station")] + 1
    found = {c.integers[2]: c.numbers for c in named(deck(CABLE), "LD") if c.integers[0] == 4}
    assert found[int(station)][:2] == (30.0, 20.0)


def test_the_ground_card_is_the_soil_after_sommerfeld() -> None:
    (gn,) = named(deck(CABLE, over_ground=True), "GN")
    assert gn.integers[0] == 2
    assert gn.numbers == (13.0, 0.005)
    (ge,) = named(deck(CABLE, over_ground=True), "GE")
    assert ge.integers[0] == 1
    assert named(deck(CABLE), "GN") == []


def test_more_wires_than_the_tag_has_columns_for_leave_every_card_in_its_columns() -> None:
    # A wound coil of forty turns is drawn with 640 wires, and the antenna and cable with 500.
    wires = tuple(
        Wire((0.0, 0.0, 0.1 * k), (0.0, 0.0, 0.1 * (k + 1)), 1, 1e-3, "stack") for k in range(1100)
    )
    text = card_deck(Structure("tall", wires, (Port("feed", 1050, 0),)), "t", 145e6, None, {})
    found = named(text, "GW")
    assert [c.numbers[2] for c in found] == pytest.approx([0.1 * k for k in range(1100)])
    (source,) = named(text, "EX")
    kind, tag, segment, _ = source.integers
    tags = [c.integers[0] for c in found]
    # Tag 0 stands for segments counted from the first wire on (user's guide, EX card).
    fed = segment if tag == 0 else [k for k, t in enumerate(tags, 1) if t == tag][segment - 1]
    assert (kind, fed) == (0, 1051)


def test_decks_are_written_one_for_each_geometry(tmp_path: Path) -> None:
    write_decks(tmp_path, study(), solved(), study().site.ground)
    written = sorted(p.name for p in tmp_path.iterdir())
    assert written == ["antenna-alone.nec", "cable.nec", "wire-sleeve.nec"]
    assert (tmp_path / "cable.nec").read_text(encoding="utf-8") == deck(CABLE)


# Laws: netCDF


def test_netcdf_opens_elsewhere_with_named_dimensions_units_and_the_same_values(
    tmp_path: Path,
) -> None:
    path = tmp_path / "s.nc"
    write_netcdf(path, study(), results(), solved())
    with netcdf_file(path, "r", mmap=False) as data:
        v = data.variables
        assert text_rows(v["case"][:]) == list(SHOWN)
        expected = {
            "frequency": (("frequency",), b"Hz"),
            "elevation": (("elevation",), b"degree"),
            "azimuth": (("azimuth",), b"degree"),
            "z_feed": (("case", "frequency", "part"), b"ohm"),
            "z_radio": (("case", "frequency", "part"), b"ohm"),
            "station_ratio": (("case", "frequency", "part"), b"1"),
            "line_loss": (("case", "frequency"), b"dB"),
            "gain": (("case", "elevation", "azimuth"), b"dBi"),
        }
        for name, (dimensions, units) in expected.items():
            assert v[name].dimensions == dimensions
            assert v[name].units == units
        np.testing.assert_array_equal(v["frequency"][:], case("none").frequency)
        np.testing.assert_allclose(v["elevation"][:], np.arange(90.0, -91.0, -2.0), atol=1e-9)
        np.testing.assert_allclose(v["azimuth"][:], np.arange(0.0, 360.0, 5.0), atol=1e-9)
        for k, r in enumerate(results()):
            for name in ("z_feed", "z_radio", "station_ratio"):
                parts = v[name][k]
                np.testing.assert_array_equal(parts[:, 0] + 1j * parts[:, 1], getattr(r, name))
            np.testing.assert_array_equal(v["line_loss"][k], r.line_loss_db)
            np.testing.assert_array_equal(v["gain"][k], r.gain)
        assert data.study == b"small"
        assert data.title == b"A short cable in free space"


def test_shield_currents_carry_their_own_positions_and_cases(tmp_path: Path) -> None:
    path = tmp_path / "s.nc"
    write_netcdf(path, study(), results(), solved())
    with netcdf_file(path, "r", mmap=False) as data:
        (name,) = [n for n in data.variables if n.startswith("shield_ratio")]
        variable = data.variables[name]
        rows, along, part = variable.dimensions
        assert part == "part"
        assert text_rows(data.variables[rows][:]) == ["none", "ideal", "core-x4"]
        assert data.variables[along].units == b"m"
        np.testing.assert_array_equal(
            data.variables[along][:], solved()[CABLE].basis.shield_position
        )
        values = variable[:][..., 0] + 1j * variable[:][..., 1]
        for k, member in enumerate(("none", "ideal", "core-x4")):
            np.testing.assert_array_equal(values[k], case(member).shield_ratio)


@pytest.mark.parametrize("title", ["Gärtnerei am Fluß", "5 ° – “quoted”", "果樹園"])
def test_a_title_in_any_language_can_be_exported(tmp_path: Path, title: str) -> None:
    s = replace(study(), title=title)
    write_netcdf(tmp_path / "s.nc", s, results(), solved())
    with netcdf_file(tmp_path / "s.nc", "r", mmap=False) as data:
        assert data.title.decode("utf-8") == title
    write_touchstone(tmp_path, s, [case("none")])
    network = skrf.Network(str(tmp_path / "none_feed.s1p"))
    np.testing.assert_allclose(network.z[:, 0, 0], case("none").z_feed, rtol=1e-6)


# Laws: Touchstone


@pytest.mark.parametrize("name", SHOWN)
@pytest.mark.parametrize("place", ["feed", "radio"])
def test_touchstone_reads_back_as_the_same_impedance(tmp_path: Path, name: str, place: str) -> None:
    write_touchstone(tmp_path, study(), results())
    path = tmp_path / f"{name}_{place}.s1p"
    network = skrf.Network(str(path))
    r = case(name)
    np.testing.assert_allclose(network.f, r.frequency, rtol=1e-12)
    assert (network.z0 == 50).all()
    z = r.z_feed if place == "feed" else r.z_radio
    # scikit-rf writes ten and more digits of the reflection; 50 ohm is next to no amplifier.
    np.testing.assert_allclose(network.z[:, 0, 0], z, rtol=1e-8)
    lines = path.read_text(encoding="utf-8").splitlines()
    # Touchstone 1.1: comments begin with "!", one option line "# Hz S RI R 50".
    (option,) = [line for line in lines if line.startswith("#")]
    assert option.lower().split() == ["#", "hz", "s", "ri", "r", "50.0"]
    assert lines[0].startswith(f"! {study().title}: {name}, {place}")


# Edges


def test_ports_without_an_impedance_need_no_card() -> None:
    structure = solved()[CABLE].structure
    z = np.zeros(len(structure.ports), complex)
    assert nonzero_ports(structure, z) == {}
    z[3] = 1j
    assert nonzero_ports(structure, z) == {structure.ports[3].name: 1j}


def test_a_bonded_cable_over_ground_has_a_deck_with_its_rod(tmp_path: Path) -> None:
    route = [{"out": "0.17 m"}, {"down_to": "0.5 m"}, {"bond": "here"}, {"out": "1 m"}]
    s = load_study(
        small_study_file(
            tmp_path,
            site={"height": "2 m", "ground": "average"},
            cable={"type": "10.3 mm foam low-loss", "route": route},
        )
    )
    structure = requests(s)[CABLE].structure
    none = np.zeros(0)
    empty = none.astype(complex)
    basis = PortBasis(none, 0, empty, empty, none, empty, empty, None)  # type: ignore[arg-type]
    write_decks(tmp_path, s, {CABLE: Solved(structure, basis)}, s.site.ground)
    text = (tmp_path / "cable.nec").read_text(encoding="utf-8")
    rod = structure.port_segments[structure.port_index("rod")] + 1
    found = {c.integers[2]: c.numbers for c in named(text, "LD") if c.integers[0] == 4}
    # A rod in average ground, as the study has it where it is not stated.
    assert s.bond is not None
    assert found[int(rod)][0] == s.bond.rod_impedance.real == pytest.approx(81, abs=1)
