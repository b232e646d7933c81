"""Sets of catalogue parts: what fits, where it sits, what it costs, and why others are left out."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from models.catalogues.parts import every_core, ferrite_core, is_split, takes_cable
from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.kind import Choke
from pipeline.solver.cases import CABLE, Case, GeometryPlan, geometry_plans, lumped_chokes
from pipeline.solver.catalogue_sets import catalogue_sets, prices_of, set_cost, worth_trying
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.structures import structure
from pipeline.solver.terminations import placed_weights, with_ports_for
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of, with_rows
from tests.harness.shipped import shipped_studies
from tests.harness.small_study import small_study_file

STUDIES = Path(__file__).parents[2] / "models" / "studies"
PRICES = {"mix-43-clamp-12-7": "4.50 EUR", "mix-31-clamp-12-7": "5.20 EUR"}
SHIPPED = [path.stem for path in shipped_studies()]


@cache
def shipped(name: str) -> Study:
    return load_study(STUDIES / f"{name}.yaml")


@cache
def sets_of(name: str) -> tuple[Choke, ...]:
    return catalogue_sets(shipped(name))


def small(**changes: object) -> Study:
    with tempfile.TemporaryDirectory() as folder:
        return load_study(small_study_file(Path(folder), **changes))


# Places


def test_rows_begin_at_the_antenna_below_the_bend_further_down_and_before_the_radio() -> None:
    study = shipped("orchard_shed")
    quarter = study.host.wavelength / 4
    antenna, bend, down, radio = study.rows
    assert antenna.position == pytest.approx(0.05)
    # The first bend is 0.15 m from the antenna; a row is stiff and begins a bend radius below it.
    assert antenna.room == pytest.approx(0.10)
    assert bend.position == pytest.approx(0.20)
    assert down.position == pytest.approx(0.05 + quarter, abs=1e-3)
    assert radio.position + radio.room < walk_of(study).length


def test_on_a_cable_that_goes_straight_down_the_third_place_is_half_a_wave_down() -> None:
    study = shipped("ground_plane")
    wave = study.host.wavelength
    assert [p.position for p in study.rows[:3]] == pytest.approx(
        [0.05, 0.05 + wave / 4, 0.05 + wave / 2], abs=1e-3
    )


@pytest.mark.parametrize("name", SHIPPED)
def test_no_row_lies_across_a_bend_and_the_first_place_is_that_of_the_reference(name: str) -> None:
    study = shipped(name)
    walk = walk_of(study)
    assert all(not walk.bends_under(p.position, p.room) for p in study.rows)
    assert all(a.position < b.position for a, b in zip(study.rows, study.rows[1:], strict=False))


def test_a_cable_that_is_laid_another_way_has_its_places_there() -> None:
    study = shipped("orchard_shed")
    first, *rest = study.cable.route
    longer = replace(study.cable, route=(replace(first, length=0.30), *rest))
    assert with_rows(replace(study, cable=longer)).rows[1].position == pytest.approx(0.35)


# Sets


@pytest.mark.parametrize("name", SHIPPED)
def test_every_set_fits_its_cable_and_lies_between_two_bends(name: str) -> None:
    study, walk = shipped(name), walk_of(shipped(name))
    assert len(sets_of(name)) > 500
    for tried in sets_of(name):
        assert tried.misfit(study.cable.type) is None
        for row in tried.placed:
            length = row.extent(study.host)
            assert not walk.bends_under(row.position, length)
            assert row.position + length <= walk.length


def test_names_tell_every_set_from_all_others_and_say_where_its_rows_are() -> None:
    sets = sets_of("orchard_shed")
    assert len({s.id for s in sets}) == len({s.label for s in sets}) == len(sets)
    halves = next(s for s in sets if s.id == "mix-43-clamp-12-7-x4-at-0.20m-and-x4-at-0.57m")
    assert halves.label.endswith(", 4 at 0.20 m and 4 at 0.57 m")
    assert halves.count == 8
    assert halves.price == pytest.approx(8 * 4.50)


def test_numbers_go_up_to_the_most_at_one_place_and_halves_are_equal() -> None:
    study = shipped("ground_plane")
    wide = [s for s in sets_of("ground_plane") if s.ferrite_core is not None]
    of = [s for s in wide if s.ferrite_core == ferrite_core("mix-61-clamp-12-7")]
    single = {s.count for s in of if len(s.placed) == 1}
    double = [s for s in of if len(s.placed) == 2]
    assert single == set(range(1, study.choke_design.most + 1))
    assert {s.count for s in double} == {2, 4, 6, 8, 10, 12}
    assert all(a.count == b.count for a, b in (s.placed for s in double))
    fewer = replace(study, choke_design=replace(study.choke_design, most=5))
    assert max(s.count for s in catalogue_sets(with_rows(fewer))) == 5


def test_a_set_that_the_study_lists_is_not_there_a_second_time() -> None:
    study = shipped("orchard_shed")
    listed = next(c for c in study.chokes if c.count == 8)
    names = {s.id for s in sets_of("orchard_shed")}
    same = "mix-43-clamp-12-7-x8-at-0.20m"
    assert (listed.positions, same in names) == ((0.20,), False)
    without = replace(study, chokes=tuple(c for c in study.chokes if c != listed))
    assert same in {s.id for s in catalogue_sets(without)}


# The drawing


def test_currents_under_a_row_of_twelve_are_those_of_segments_a_third_as_long() -> None:
    study = shipped("minimal")
    tried = [
        s
        for s in sets_of("minimal")
        if s.ferrite_core == ferrite_core("mix-31-clamp-12-7")
        and s.count == 12
        and len(s.placed) == 1
    ]
    assert [s.position for s in tried] == [place.position for place in study.rows[1:]]
    coarse, fine = (shield_currents(study, tried, zone) for zone in (1.0, 1 / 3))
    for ours, finer in zip(coarse, fine, strict=True):
        # Of the feed current: at the radio, and the largest on the shield.
        np.testing.assert_allclose(ours, finer, rtol=0.005, atol=2e-4)


def with_places(study: Study, zone: float = 1.0) -> Structure:
    """The cable with the ports of the study's own chokes and of its places for others."""
    built = structure(study, GeometryPlan(CABLE, has_feedline=True), zone=zone)
    stretches = [(place.position, place.room) for place in study.rows]
    return with_ports_for(built, lumped_chokes(study), stretches)


def shield_currents(study: Study, tried: list[Choke], zone: float) -> list[NDArray[np.float64]]:
    """Currents per feed current at the radio and the largest on the shield, for each of chokes."""
    built = with_places(study, zone)
    f = np.array([study.frequency])
    solved = Solved(built, solve_basis(built, f, 0, study.site.ground, azimuths=4))
    cases = (Case(choke.id, choke.label, CABLE, choke) for choke in tried)
    found = [evaluate(solved, study, case) for case in cases]
    return [np.array([abs(r.station_ratio[0]), r.shield_ratio_max]) for r in found]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_one_drawing_of_the_cable_has_ports_for_every_set(name: str) -> None:
    study = shipped(name)
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    kept = with_places(study)
    assert len(kept.ports) <= 70 < len(built.ports)
    assert kept.wires == built.wires
    for tried in (*sets_of(name), *lumped_chokes(study)):
        assert placed_weights(kept, tried).sum() == pytest.approx(1.0, abs=1e-3)


def test_a_coil_has_a_dozen_ports_along_its_cable_and_those_of_its_ends() -> None:
    study = shipped("minimal")
    (plan,) = (p for p in geometry_plans(study) if p.choke is not None)
    names = [port.name for port in structure(study, plan).ports]
    along = [name for name in names if name.startswith("shield")]
    assert 10 <= len(along) <= 14
    assert set(names) - set(along) == {"feed", "station"}


# Prices


def test_the_cheapest_come_first_and_those_without_a_price_behind_them_by_pieces() -> None:
    sets = sets_of("orchard_shed")
    costs = [set_cost(s, "EUR") for s in sets]
    priced = [c for c in costs if c is not None]
    assert costs[: len(priced)] == sorted(priced)
    pieces = [set_cost(s, "") or 0.0 for s in sets[len(priced) :]]
    assert len(pieces) > len(priced) > 100
    assert pieces == sorted(pieces)


def test_a_solid_core_costs_a_connector_more_than_one_that_opens() -> None:
    sets = sets_of("minimal")
    each = {s.ferrite_core: set_cost(s, "") for s in sets if s.count == 1 and s.ferrite_core}
    assert {is_split(core): pieces for core, pieces in each.items()} == {True: 1.0, False: 2.0}
    assert set_cost(None, "EUR") == set_cost(None, "") == 0.0
    assert all(set_cost(s, "EUR") is None for s in sets)


def test_prices_are_the_sections_own_else_those_of_the_candidates() -> None:
    study = small(choke_design={"prices": PRICES})
    assert prices_of(study) == ({"mix-43-clamp-12-7": 4.5, "mix-31-clamp-12-7": 5.2}, "EUR")
    bare = replace(study, choke_design=replace(study.choke_design, prices=()))
    assert prices_of(bare) == ({"mix-43-clamp-12-7": 4.5}, "EUR")


# What is left out, and the sleeve


@pytest.mark.parametrize("name", ["orchard_shed", "minimal"])
def test_every_core_of_the_catalogue_is_tried_or_has_a_reason(name: str) -> None:
    study = shipped(name)
    cores, out = worth_trying(study)
    jacket = study.cable.type.jacket_diameter
    refused = [c for cores in vars(out).values() for c in cores]
    assert sorted(c.id for c in (*cores, *refused)) == sorted(c.id for c in every_core(study.own))
    assert all(not takes_cable(c, jacket) for c in out.unfit)
    assert all(takes_cable(c, jacket) and c.on_sale for c in cores)
    assert all(not c.on_sale for c in out.unsold)
    assert all(c.confidence == "from-memory" for c in out.remembered)
    tried = {s.ferrite_core for s in sets_of(name)} - {None}
    assert tried == set(cores)


def test_a_mix_whose_data_end_below_the_frequency_is_left_out_as_unknown() -> None:
    # Mix 73 is made for below 50 MHz; its data in the catalogue end at 100 MHz.
    thin = small(frequency="145 MHz", cable={"type": "RG-58C/U", "route": [{"out": "3 m"}]})
    _, out = worth_trying(thin)
    assert {c.material for c in (*out.unknown, *out.remembered, *out.unsold)} >= {"mix-73"}
    assert all(c.material != "mix-73" for c in worth_trying(thin)[0])


def test_what_changes_the_drawing_is_no_set_of_the_catalogue() -> None:
    assert not any(s.is_drawn for s in sets_of("minimal"))


def test_a_row_that_no_place_has_room_for_is_not_offered() -> None:
    one = {"id": "one", "kind": "ferrite", "core": "mix-43-clamp-12-7"}
    cable = {"type": "10.3 mm foam low-loss", "route": [{"out": "0.6 m"}]}
    short = small(cable=cable, chokes=[one])
    sets = catalogue_sets(short)
    assert [p.label for p in short.rows] == ["at the antenna"]
    assert all(s.position + s.acts_over <= 0.2 + 1e-9 for s in sets)
    assert not any(isinstance(s, FerriteChoke) and s.also_at for s in sets)
