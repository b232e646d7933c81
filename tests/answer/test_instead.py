"""What else than a choke would do: changes that can be built, and what each of them brings."""

from __future__ import annotations

import math
from dataclasses import fields
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from models.site.soil import common_rod
from pipeline.answer.alternatives import GOOD_ROD, Alternative, alternatives
from pipeline.answer.choice import Costs
from pipeline.answer.comparison import Comparison
from pipeline.answer.instead import (
    DRAWINGS,
    best_lumped,
    drawn_alike,
    instead,
    places_for,
    solves_allowed,
    stand_ins,
)
from pipeline.answer.record import Instead
from pipeline.montecarlo.draws import circuit_draws, unknowns_of
from pipeline.montecarlo.installations import (
    Installation,
    install,
    lumped_cases,
    on_cable,
    solve_cable,
)
from pipeline.runtime.progress import Telling
from pipeline.solver.cases import CABLE, NONE, Case, GeometryPlan
from pipeline.solver.catalogue_sets import catalogue_sets
from pipeline.solver.structures import structure
from pipeline.solver.terminations import route_length
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of
from tests.harness.answered import described, small
from tests.harness.shipped import shipped_studies

pytestmark = pytest.mark.takes(15)

STUDIES = Path(__file__).parents[2] / "models" / "studies"
SHIPPED = [path.stem for path in shipped_studies()]
# A tenth of what is usually just visible: nothing on the small study's cable is enough.
STRICT = {"pattern_rms": "0.05 dB", "mean_gain": "0.05 dB", "swr": 0.02, "radio_current": 0.005}
GROUND = {"height": "4 m", "ground": "average"}
ROUTE = [{"out": "0.17 m"}, {"down_to": "0.5 m"}, {"bond": "here"}, {"out": "3 m"}]


@cache
def shipped(name: str) -> Study:
    return load_study(STUDIES / f"{name}.yaml")


def by_phrase(study: Study) -> dict[str, Alternative]:
    return {a.what: a for a in alternatives(study)}


def grounded(**changes: object) -> Study:
    cable = {"type": "10.3 mm foam low-loss", "route": ROUTE}
    return small(**({"site": GROUND, "cable": cable} | changes))


# What can be changed


@pytest.mark.parametrize("name", SHIPPED)
def test_every_change_can_be_drawn_and_changes_the_wires_or_only_an_impedance(name: str) -> None:
    plan = GeometryPlan(CABLE, has_feedline=True)
    own = structure(shipped(name), plan)
    found = alternatives(shipped(name))
    assert len(found) == len({a.what for a in found}) >= 4
    for a in found:
        drawn = structure(a.study, plan)
        assert (drawn.wires != own.wires) == a.is_drawn_anew, a.what


def test_a_bond_goes_out_of_the_route_and_comes_in_where_the_cable_is_near_the_ground() -> None:
    without = by_phrase(shipped("orchard_shed"))["no bond"].study
    assert without.bond is None
    assert not any(step.go == "bond" for step in without.cable.route)
    what = "a bond to a rod where the cable is 0.50 m above ground"
    bonded = by_phrase(shipped("minimal"))[what].study
    assert [step.go for step in bonded.cable.route] == ["out", "down_to", "bond", "out"]
    assert bonded.bond is not None
    # A common rod in average soil: Dwight (1936), by models/site/soil.py.
    assert bonded.bond.rod_impedance == common_rod(shipped("minimal").site.ground.sigma)


def test_nothing_is_bonded_in_free_space_or_high_above_the_ground() -> None:
    assert not any("bond" in what for what in by_phrase(small()))
    high = small(site=GROUND | {"height": "6 m"})
    assert not any("bond" in what for what in by_phrase(high))


@pytest.mark.parametrize(
    ("foot", "stays"), [("shared", True), ({"rod_impedance": "40 ohm"}, False)]
)
def test_a_bond_stays_where_something_else_stands_on_its_rod(foot: object, stays: bool) -> None:
    mast = {"material": "metal", "diameter": "40 mm", "length": "2 m", "stand_off": "0.5 m"}
    assert "no bond" in by_phrase(grounded())
    beside = grounded(site=GROUND | {"mast": mast | {"foot": foot}})
    assert ("no bond" not in by_phrase(beside)) == stays


def test_a_rod_that_is_good_already_is_not_bettered() -> None:
    assert f"a rod of {GOOD_ROD:g} ohm" in by_phrase(grounded(bond={"rod_impedance": "40 ohm"}))
    good = grounded(bond={"rod_impedance": "12 ohm"})
    assert not any(what.startswith("a rod") for what in by_phrase(good))


@pytest.mark.parametrize("name", ["orchard_shed", "minimal", "ground_plane"])
def test_cable_is_longer_by_parts_of_a_wavelength_of_which_no_two_differ_by_half(name: str) -> None:
    study = shipped(name)
    wave = study.host.wavelength
    own = walk_of(study).length
    more = [
        (walk_of(a.study).length - own) / wave
        for what, a in by_phrase(study).items()
        if "cable before the radio" in what
    ]
    assert sorted(more) == pytest.approx([-1 / 8, 1 / 8, 1 / 4])
    # The standing wave on the cable repeats itself every half of one.
    assert len({round((part % 0.5) * 8) for part in more}) == 3


def test_places_for_cores_go_with_the_end_of_the_cable() -> None:
    study = shipped("minimal")
    longer = by_phrase(study)["0.52 m more cable before the radio"].study
    before, after = study.rows[-1].position, longer.rows[-1].position
    assert after - before == pytest.approx(study.host.wavelength / 4, abs=2e-3)


def test_lengths_are_derived_only_where_the_study_states_some() -> None:
    stated, derived = shipped("orchard_shed"), shipped("minimal")
    tuned = by_phrase(stated)["lengths as derived for 145 MHz"].study.antenna.parameters
    assert (tuned.long_leg, tuned.short_leg, tuned.tap) == (None, None, None)
    assert tuned.spacing == stated.antenna.parameters.spacing
    assert not any(what.startswith("lengths") for what in by_phrase(derived))


@pytest.mark.parametrize("name", SHIPPED)
def test_each_change_is_one_thing(name: str) -> None:
    study = shipped(name)
    together = {frozenset({"cable"}), frozenset({"bond"}), frozenset({"antenna"})}
    together |= {frozenset({"cable", "bond"})}
    for a in alternatives(study):
        changed = {
            f.name for f in fields(Study) if getattr(a.study, f.name) != getattr(study, f.name)
        }
        assert changed - {"rows"} in together, a.what


# On which drawings


@cache
def comparison() -> Comparison:
    study = small(verdict=STRICT)
    made = Comparison(described(study), install(study, 2), Costs.of(study))
    for case in lumped_cases(study):
        made.lumped(case, "study")
    return made


def test_four_drawings_stand_for_all_of_them() -> None:
    best = best_lumped(comparison())
    numbers = stand_ins(best)
    assert len(set(numbers)) == DRAWINGS
    held = np.mean(best.score <= 1, axis=1)
    # Equal parts, one of each: their mean is that of all but for what a part spreads.
    parts = np.array_split(np.sort(held), DRAWINGS)
    most = max(float(np.ptp(part)) for part in parts)
    assert abs(held[numbers].mean() - held.mean()) <= most + 1e-12
    assert held[numbers[0]] == min(held[numbers])


def test_a_changed_study_is_drawn_like_the_drawing_that_it_is_held_against() -> None:
    study = grounded()
    drawn = install(study, 2, wanted=2)
    for a in alternatives(study):
        changed, u_circuit = drawn_alike(a.study, drawn, 1)
        own = drawn.drawn[1].study
        last = "cable before the radio" in a.what
        moves = [s.length for s in changed.cable.route if s.go != "bond"][: 2 if last else 3]
        kept = [s.length for s in own.cable.route if s.go != "bond"][: 2 if last else 3]
        assert moves == pytest.approx(kept)
        assert changed.site.height == own.site.height
        names, known = (
            [u.name for u in unknowns_of(of) if not u.geometric] for of in (a.study, study)
        )
        shared = [name for name in names if name in known]
        assert len(shared) >= len(known) - 2
        for name in shared:
            theirs = drawn.drawn[1].u_circuit[:, known.index(name)]
            np.testing.assert_array_equal(u_circuit[:, names.index(name)], theirs)


def test_small_drawings_are_solved_more_often_than_large_ones() -> None:
    assert solves_allowed(small()) == 12
    assert solves_allowed(shipped("collinear_j")) < solves_allowed(shipped("orchard_shed")) <= 12
    assert solves_allowed(shipped("collinear_j")) >= 6


def test_a_choke_is_moved_to_places_that_have_ports_and_no_bend() -> None:
    study = comparison().drawn.study
    made = comparison().drawn.drawn[:3]
    choke = next(c for c in catalogue_sets(study) if c.count == 2 and len(c.placed) == 1)
    found = places_for(choke, study, made)
    assert len(found) > 10
    assert len({c.id for c in found}) == len(found)
    for moved in found:
        assert (moved.count, moved.ferrite_core) == (choke.count, choke.ferrite_core)
        assert not walk_of(study).bends_under(moved.position, moved.acts_over)
        assert moved.position + moved.acts_over <= route_length(made[0].reduced.structure)


# What is told


@cache
def told() -> tuple[Instead, ...]:
    return instead(comparison(), 0.0, 2, Telling(lambda text: None))


def test_changes_that_help_are_told_the_best_first_and_no_others() -> None:
    best = best_lumped(comparison()).enough
    assert best < 0.95
    assert told()
    chances = [way.enough.value for way in told()]
    assert chances == sorted(chances, reverse=True)
    # By more than chance makes, with the error that each has.
    assert all(way.enough.error < way.enough.value <= 1 for way in told())
    assert all(4 <= way.geometries <= 8 for way in told())
    many = instead(comparison(), 1.0, 2, Telling(lambda text: None))
    assert many == ()


def test_a_chance_is_that_of_the_best_choke_and_what_the_change_does_to_it() -> None:
    # Worked out again from the drawings of the changed study, for the case that is told.
    of, best = comparison(), best_lumped(comparison())
    numbers = stand_ins(best)
    changed = by_phrase(of.drawn.study)
    solved = [way for way in told() if way.what in changed and changed[way.what].is_drawn_anew]
    assert solved
    for way in solved:
        study = changed[way.what].study
        known = {c.id: c for c in (*study.chokes, *catalogue_sets(study))}
        case = Case(way.with_choke, way.label, CABLE, known.get(way.with_choke))
        gains = []
        for k in numbers:
            drawn, u = drawn_alike(study, of.drawn, k)
            one = made_of(drawn, u)
            merit = of.moved(case, k, on_cable(one, [case])[case.id])
            gains.append(np.mean(merit.score() <= 1) - np.mean(best.score[k] <= 1))
        assert way.enough.value == pytest.approx(best.enough + np.mean(gains), abs=1e-9)
        spread = np.std(gains, ddof=1) / math.sqrt(len(gains))
        assert way.enough.error >= spread - 1e-12


def made_of(study: Study, u_circuit: np.ndarray) -> Installation:
    """One drawing of a changed study, by the functions that all drawings are made with."""
    reduced, directions = solve_cable(study)
    circuit = tuple(u for u in unknowns_of(study) if not u.geometric)
    draws = circuit_draws(study, circuit, u_circuit)
    return Installation(study, reduced, directions, np.zeros(0), u_circuit, draws)


def test_without_a_choke_a_change_is_told_with_none() -> None:
    ids = {c.id for c in catalogue_sets(comparison().drawn.study)}
    ids |= {c.id for c in comparison().drawn.study.chokes} | {NONE}
    assert all("-moved-to-" in way.with_choke or way.with_choke in ids for way in told())
