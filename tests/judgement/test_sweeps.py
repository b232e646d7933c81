"""What if: another place, a sleeve off its length; against the same case computed on its own."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from pipeline.analysis.case_results import at_centre
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.sleeve import SLEEVE_SPREAD, SleeveChoke
from pipeline.judgement.sweeps import (
    POSITION_COUNT,
    SWEPT,
    SolvedStudy,
    choke_position_rows,
    core_count_rows,
    moved_choke,
    places,
    variations,
)
from pipeline.judgement.verdict import Moved
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, cases, ideal_choke
from tests.harness.small_study import choke, solved, study

EVIDENCE = CaseEvidence(average_gain=1.0, reciprocity=0.01, convergence=0.01, grade="sound")
HALF = Expanded(0.03, 0.02, 0.002, 0.002, 0.02, 0.1)


@cache
def solved_study() -> SolvedStudy:
    centred = {name: at_centre(entry) for name, entry in solved().items()}
    names = [c.id for c in cases(study())]
    return SolvedStudy(
        study(), centred, dict.fromkeys(names, EVIDENCE), dict.fromkeys(names, HALF), 0.0
    )


def case_of(name: str) -> Case:
    return next(c for c in cases(study()) if c.id == name)


def moved(name: str) -> list[Moved]:
    case = case_of(name)
    return places(solved_study(), case, choke_position_rows(solved_study(), case))


# Laws


def test_a_choke_that_acts_at_one_place_does_there_what_its_own_case_does() -> None:
    sleeve = case_of("sleeve")
    assert sleeve.choke is not None
    own = solved_study().merit(sleeve).score()[0]
    there = min(moved("sleeve"), key=lambda p: abs(p.position - sleeve.choke.position))
    assert there.score == pytest.approx(own, rel=1e-9)


def test_the_table_of_places_and_the_verdict_speak_of_the_same_choke() -> None:
    core = case_of("core-x4")
    rows = choke_position_rows(solved_study(), core)
    assert [(r["position_m"], r["score"]) for r in rows] == [
        (p.position, p.score) for p in moved("core-x4")
    ]
    assert {(r["kind"], r["count"]) for r in rows} == {("ferrite", 4)}
    assert np.all(np.diff([r["position_m"] for r in rows]) > 0)


def test_cores_are_counted_from_none_to_what_the_study_has_room_for() -> None:
    # Four beads of 28.6 mm from their place on, and no more because the place is not at the tap.
    rows = core_count_rows(solved_study())
    assert [r["count"] for r in rows] == [0, 1, 2, 3, 4]
    for row, name in ((rows[0], NONE), (rows[4], "core-x4")):
        own = solved_study().merit(case_of(name))
        for figure in SWEPT:
            assert row[FIGURES[figure].column] == pytest.approx(own[figure][0], rel=1e-9)


def test_a_sleeve_off_its_length_is_one_of_the_variations_and_has_its_reactance() -> None:
    sleeve = case_of("sleeve")
    assert isinstance(sleeve.choke, SleeveChoke)
    tried = {v.what: v.score_recommended for v in variations(solved_study(), sleeve)}
    exact = sleeve.choke.extent(study().host)
    f = np.array([study().frequency])
    for factor, what in zip(SLEEVE_SPREAD, ("3 % shorter", "3 % longer"), strict=True):
        cut = replace(sleeve.choke, length=factor * exact)
        own = solved_study().merit(replace(sleeve, choke=cut))
        assert tried[f"a sleeve {what}"] == pytest.approx(own.score()[0])
        # Z0 tan(beta l) near a quarter wave: Z0 / (pi / 2 off), D. M. Pozar, "Microwave
        # Engineering", ch. 2 (from memory); its sign is that of what is missing in length.
        z = cut.impedance(f, study().host)[0]
        assert z.imag * (1 - factor) > 0
        assert abs(z) < 0.05 * abs(replace(cut, length=exact).impedance(f, study().host)[0])


def test_cores_have_no_variation_of_a_sleeve() -> None:
    tried = [v.what for v in variations(solved_study(), case_of("core-x4"))]
    assert not any("sleeve" in what for what in tried)


def test_places_far_apart_for_the_wavelength_are_not_taken_for_neighbours() -> None:
    found = moved("core-x4")
    step = 299_792_458.0 / study().frequency / 20
    for one, after in itertools.pairwise(found):
        assert after.near == (after.position - one.position <= step)
    assert {p.near for p in found} == {True, False}


# Edges


def test_where_nothing_can_be_moved_a_few_cores_of_the_study_are() -> None:
    chosen = moved_choke(study(), case_of(NONE))
    assert isinstance(chosen, FerriteChoke)
    assert chosen.count == POSITION_COUNT
    assert [p.position for p in moved(NONE)] == [p.position for p in moved("core-x4")]


def test_an_ideal_choke_and_a_coil_of_wire_are_not_moved() -> None:
    ideal = Case(IDEAL, "ideal", CABLE, ideal_choke(study()))
    assert places(solved_study(), ideal, choke_position_rows(solved_study(), ideal)) == []
    bare = replace(study(), chokes=(choke("sleeve"),))
    assert moved_choke(bare, ideal) is None
