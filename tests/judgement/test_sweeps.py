"""What if: more cores, another place; against the same case computed on its own."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from pipeline.analysis.case_results import at_centre
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.judgement.choke_places import tried_places
from pipeline.judgement.sweeps import (
    POSITION_COUNT,
    SWEPT,
    SolvedStudy,
    choke_position_rows,
    core_count_rows,
    core_factors,
    moved_choke,
)
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, cases, ideal_choke
from pipeline.solver.terminations import choke_series
from pipeline.study.sections.unknowns import Distribution
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


def rows(name: str) -> list[Row]:
    return choke_position_rows(solved_study(), case_of(name))


# Laws


def test_a_choke_that_acts_at_one_place_does_there_what_its_own_case_does() -> None:
    turns = case_of("turns")
    assert turns.choke is not None
    own = solved_study().merit(turns).score()[0]
    # Its place is where a segment begins; places are told by the middles of segments.
    there = next(r for r in rows("turns") if r["position_m"] > turns.choke.position)
    assert there["score"] == pytest.approx(own, rel=1e-9)


def test_the_table_of_places_is_of_one_choke_from_the_antenna_on() -> None:
    found = rows("core-x4")
    assert {(r["kind"], r["count"]) for r in found} == {("ferrite", 4)}
    assert np.all(np.diff([r["position_m"] for r in found]) > 0)


def test_cores_are_counted_from_none_to_what_the_study_has_room_for() -> None:
    # Four beads of 28.6 mm from their place on, and no more because the place is not at the tap.
    rows = core_count_rows(solved_study())
    assert [r["count"] for r in rows] == [0, 1, 2, 3, 4]
    for row, name in ((rows[0], NONE), (rows[4], "core-x4")):
        own = solved_study().merit(case_of(name))
        for figure in SWEPT:
            assert row[FIGURES[figure].column] == pytest.approx(own[figure][0], rel=1e-9)


def test_places_far_apart_for_the_wavelength_are_not_taken_for_neighbours() -> None:
    at, scores = ([r[name] for r in rows("core-x4")] for name in ("position_m", "score"))
    wavelength = 299_792_458.0 / study().frequency
    found = tried_places(at, scores, wavelength)
    for one, after in itertools.pairwise(found):
        assert after.near == (after.position - one.position <= wavelength / 20)
    assert {p.near for p in found} == {True, False}


def test_a_figure_is_off_by_what_the_weakest_and_the_strongest_of_its_cores_do() -> None:
    of, case = solved_study(), case_of("core-x4")
    choke = case.choke
    assert isinstance(choke, FerriteChoke)
    by_core = replace(study(), unknowns=replace(study().unknowns, ferrite=Distribution("by core")))
    of = replace(of, study=by_core)
    factors = core_factors(by_core, choke)
    low, high = choke.spread(by_core.host)
    assert factors[[0, -1]] == pytest.approx(low * (high / low) ** np.array([0.025, 0.975]))
    at = np.array([by_core.frequency])
    z = choke_series(of.solved[CABLE].structure, by_core, choke, at)
    (off,) = of.off_by_core(CABLE, z, choke)
    others = [of.merit(replace(case, choke=replace(choke, strength=f))) for f in factors]
    own = of.merit(case)
    for name in SWEPT:
        found = [float(m[name][0]) for m in others]
        below, above = off[FIGURES[name].column]
        assert float(own[name][0]) - below == pytest.approx(min([*found, own[name][0]]))
        assert float(own[name][0]) + above == pytest.approx(max([*found, own[name][0]]))
    assert any(below > 0 and above > 0 for below, above in off.values())


def test_what_a_study_states_of_its_ferrite_goes_before_the_class() -> None:
    core = choke("core-x4")
    spreads = (None, Distribution("uniform", 0.7, 1.3))
    known, stated = (
        replace(study(), unknowns=replace(study().unknowns, ferrite=spread)) for spread in spreads
    )
    assert core_factors(known, core).tolist() == [1.0]
    assert core_factors(stated, core)[[0, -1]] == pytest.approx([0.715, 1.285])
    assert core_factors(stated, choke("sleeve")).tolist() == [1.0]


# Edges


def test_where_nothing_can_be_moved_a_few_cores_of_the_study_are() -> None:
    chosen = moved_choke(study(), case_of(NONE))
    assert isinstance(chosen, FerriteChoke)
    assert chosen.count == POSITION_COUNT
    assert [r["position_m"] for r in rows(NONE)] == [r["position_m"] for r in rows("core-x4")]


def test_an_ideal_choke_is_not_moved() -> None:
    ideal = Case(IDEAL, "ideal", CABLE, ideal_choke(study()))
    bare = replace(study(), chokes=(choke("sleeve"),))
    assert moved_choke(bare, ideal) is None
