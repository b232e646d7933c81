"""The one answer: laws of chances, draws solved again with load cards, choice, coils, catalogue."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from pipeline.answer.candidates import _range, classes, sure_case
from pipeline.answer.drawn_chokes import DrawnChokes
from pipeline.answer.judge import answer_of, one_grade
from pipeline.answer.record import CLASSES, SURE
from pipeline.answer.screen import CloserLook, QuickLook, between_groups, row_weights
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.montecarlo.direct_solves import COMPARED, recheck_draw
from pipeline.montecarlo.installations import drawn_of, install, on_cable, own_choke
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, cases
from pipeline.solver.catalogue_sets import catalogue_sets
from pipeline.solver.standard_chokes import with_standard_chokes
from pipeline.solver.terminations import choke_weights
from tests.harness.answered import (
    comparison,
    described,
    small,
    small_answer,
    small_described,
    small_drawn,
)
from tests.harness.small_study import choke

pytestmark = pytest.mark.takes(40)

COIL = {"id": "wound", "kind": "coil", "turns": 3, "diameter": "0.10 m", "pitch": "12 mm",
        "position": "0.60 m"}  # fmt: skip


# Laws


def test_a_choke_without_any_impedance_is_the_bare_cable_in_every_draw():
    nothing = replace(choke("core-x2"), id="nothing", strength=0.0)
    made = small_drawn().drawn[3]
    found = on_cable(made, [Case("nothing", "nothing", CABLE, nothing)])["nothing"]
    bare = small_drawn().found[NONE][3]
    for name in ("swr", "station_ratio", "pattern_rms_db", "mean_gain_dbi", "shield_ratio"):
        np.testing.assert_allclose(found[name], bare[name], rtol=1e-12, atol=1e-12)
    of = comparison()
    half = {k: dict(enumerate([m] * 8)) for k, m in (("nothing", found), (NONE, bare))}
    case = next(c for c in cases(small()) if c.id == NONE)
    grade = small_described().cases[NONE].grade
    stated = small_described().cases[NONE].merit
    a, b = (of.judge(case, "study", h, stated, grade).enough for h in half.values())
    assert a == b


def test_the_ideal_choke_changes_nothing_against_itself_and_is_always_enough():
    ideal = small_answer().ideal
    for name, change in ideal.changes.items():
        if name != "station_ratio":
            assert change.high < 1e-9 or name == "pattern_rms_db"
    assert ideal.enough.value == 1.0
    assert ideal.score.high < small_answer().bare.score.low


def test_every_draw_is_in_one_class_and_chances_add_up():
    for found in small_answer().candidates.values():
        assert set(found.chances) == set(CLASSES)
        assert sum(c.value for c in found.chances.values()) == pytest.approx(1.0)


def test_classes_are_told_apart_as_they_are_defined():
    own, bare = np.array([0.5, 1.2, 4.0, 4.0, 1.2]), np.array([2.0, 2.0, 4.0, 2.0, 1.1])
    held = classes(own, bare, is_bare=False)
    order = [next(name for name in CLASSES if held[name][k]) for k in range(5)]
    assert order == ["invisible", "noticeable", "strong", "worse", "noticeable"]


def test_a_range_holds_its_median_and_the_chance_is_the_part_of_scores_up_to_one():
    for found in small_answer().candidates.values():
        every = [found.score, *found.figures.values(), *found.changes.values()]
        assert all(r.low <= r.middle <= r.high for r in every)
        # The installation as described is one of those that agree with the study.
        assert all(r.low <= r.stated <= r.high for r in every)
        # 97.5 % of the draws, or more, lie below the high end.
        assert (found.score.high <= 1) <= (found.enough.value >= 0.975)
        assert (found.score.low > 1) <= (found.enough.value <= 0.025)


def test_a_range_is_that_of_the_draws_unless_the_described_lies_beyond():
    # Quantiles of 0, 1, ... 1000 are their hundredths (Hyndman and Fan, 1996, definition 7).
    draws = np.arange(1001.0)
    for stated, ends in ((400.0, (25.0, 975.0)), (3.0, (3.0, 975.0)), (1e4, (25.0, 1e4))):
        found = _range(draws, np.array([stated]))
        assert (found.stated, found.low, found.middle, found.high) == pytest.approx(
            (stated, ends[0], 500.0, ends[1])
        )


def test_a_case_has_one_grade_the_worst_it_was_judged_with_on_any_drawing():
    answer, judged = small_answer(), small_described()
    # Worse on drawings than as described, and the other way about.
    of = answer.candidates
    of = {**of, "core-x1": replace(of["core-x1"], grade="usable")}
    checks = judged.solved.evidence
    checks = {**checks, "core-x2": replace(checks["core-x2"], grade="unsound")}
    found, cases = one_grade(
        replace(answer, candidates=of),
        replace(judged, solved=replace(judged.solved, evidence=checks)),
    )
    for name, grade in (("core-x1", "usable"), ("core-x2", "unsound")):
        assert found.candidates[name].grade == grade
        assert cases.cases[name].grade == cases.solved.evidence[name].grade == grade
    assert found.bare.grade == cases.cases[NONE].grade == of[NONE].grade


def test_more_cores_are_enough_more_often():
    found = small_answer().candidates
    one, two, four = (found[f"core-x{n}"].enough.value for n in (1, 2, 4))
    assert found[NONE].enough.value <= one <= two <= four


def test_the_answer_does_not_depend_on_the_number_of_cores():
    assert small_answer(1) == small_answer(2)


def test_a_run_that_was_stopped_goes_on_from_what_it_kept_and_ends_the_same(tmp_path, monkeypatch):
    before = install(small(), 1, store=tmp_path)

    def again(*_):
        raise AssertionError("solved again")

    monkeypatch.setattr("pipeline.solver.nec2.unit_source_currents", again)
    after = install(small(), 1, store=tmp_path)
    for name, merits in before.found.items():
        for a, b in zip(merits, after.found[name], strict=True):
            np.testing.assert_array_equal(a.score(), b.score())


def test_the_chosen_case_is_the_cheapest_of_those_that_are_enough():
    answer = small_answer()
    assert answer.enough == answer.best.is_enough
    price = {c.id: c.price for c in answer.candidates.values() if c.is_enough and c.price}
    assert answer.chosen in price
    assert price[answer.chosen] == min(price.values())
    assert answer.best.enough.value >= SURE
    assert (answer.best.geometries, answer.geometries, answer.draws) == (8, 8, 64)


def test_the_study_of_the_answer_has_the_chosen_set_among_its_chokes():
    answer = small_answer()
    ids = [c.id for c in answer.study.chokes]
    assert answer.chosen in ids
    assert len(ids) == len(set(ids))


# Against direct solves: LD of the NEC-2 user's guide (Burke and Poggio, 1981), every draw solved
# anew with its impedances as load cards


def picked(seed, n):
    rng = np.random.default_rng(seed)
    return zip(rng.integers(0, 8, n), rng.integers(0, 64, n), strict=True)


def test_twenty_draws_are_what_the_solver_finds_with_its_own_load_cards():
    two = next(s for s in catalogue_sets(small()) if len(s.placed) == 2)
    tried = [choke("core-x2"), two, choke("second"), None]
    for k, (g, draw) in enumerate(picked(9, 20)):
        made, part = small_drawn().drawn[g], tried[k % 4]
        merit = on_cable(made, [Case("tried", "tried", CABLE, part)])["tried"]
        found = recheck_draw(made, part, int(draw), merit)
        assert max(found.difference(name) for name in COMPARED) < 1e-9


@cache
def wound_drawn():
    return install(small(chokes=[COIL]), 2)


def test_draws_of_a_coil_are_what_the_solver_finds_with_its_own_load_cards():
    case = next(c for c in cases(wound_drawn().study) if c.id == "wound")
    for g, draw in list(picked(5, 4)):
        made = wound_drawn().drawn[g]
        reduced, merit = drawn_of(made, case, None, False)
        found = recheck_draw(made, case.choke, int(draw), merit, reduced)
        assert max(found.difference(name) for name in COMPARED) < 1e-9


def test_draws_of_a_sleeve_are_what_the_solver_finds_with_its_own_load_cards():
    # Its length, the cable's place in it and its jacket are impedances at its mouth.
    case = next(c for c in cases(small_drawn().study) if c.id == "sleeve")
    for g, draw in list(picked(7, 4)):
        made = small_drawn().drawn[g]
        reduced, merit = drawn_of(made, case, None, False)
        found = recheck_draw(made, own_choke(made.study, case), int(draw), merit, reduced)
        assert max(found.difference(name) for name in COMPARED) < 1e-9


def test_draws_wind_a_coil_otherwise_and_hang_it_below_the_bend_as_it_is():
    coils = [d.study.chokes[0] for d in wound_drawn().drawn]
    assert len({c.pitch for c in coils}) == 8
    bends = [d.study.cable.route[0].length for d in wound_drawn().drawn]
    below = [c.position - b for c, b in zip(coils, bends, strict=True)]
    assert below == pytest.approx([0.60 - 0.17] * 8)


# Coils are given up on as soon as all drawings could not make them enough


def coils_of(study):
    of = replace(comparison(), drawn=install(study, 2), described=described(study))
    return DrawnChokes(of, 2, None, {"wound"})


def test_a_hopeless_coil_is_given_up_on_and_the_decision_is_that_of_all_drawings():
    study = small(chokes=[COIL])
    answer = answer_of(study, described(study), 2)
    coil = answer.candidates["wound"]
    whole = coils_of(study)
    whole.complete("wound", lambda text, stretch: None)
    every = whole.outcome("wound")
    assert coil.geometries <= len(every.numbers) == 8
    assert coil.is_enough == (every.enough >= SURE)
    if coil.geometries < 8:
        assert every.enough < SURE


# The catalogue


def test_weights_of_many_rows_are_those_of_each():
    built = small_drawn().drawn[0].reduced.structure
    sets = catalogue_sets(small())
    rows = [p for s in sets[::25] for p in s.placed]

    class Row:
        def __init__(self, part):
            self.position, self.length = part.position, part.acts_over

    found = row_weights(built, [Row(p) for p in rows])
    expected = [choke_weights(built, p.position, p.acts_over) for p in rows]
    np.testing.assert_allclose(found, expected, atol=1e-12)


def test_groups_of_one_port_see_the_loaded_admittance():
    made = small_drawn().drawn[0]
    ends = made.ends()[:5]
    found = between_groups(made.reduced.y_port, ends, np.eye(ends.shape[1]))
    for k, z in enumerate(ends):
        expected = loaded_admittance(made.reduced.y_port, z)
        np.testing.assert_allclose(found[k], expected, rtol=1e-8, atol=1e-12)


def test_no_set_that_is_enough_is_lost_by_the_quick_look():
    from pipeline.answer.search import LIKELY

    sets = catalogue_sets(small())[::12]
    drawn = small_drawn().drawn
    quick = np.mean(QuickLook(small(), sets).scores(drawn) <= 1, axis=1)
    closer = CloserLook(drawn)
    enough = [np.mean([m.score() <= 1 for m in closer.merits(s)]) for s in sets]
    assert any(e >= SURE for e in enough)
    assert all(q >= LIKELY for q, e in zip(quick, enough, strict=True) if e >= SURE)


def test_the_closer_look_says_what_all_draws_say():
    # Every second azimuth and elevation and a quarter of the draws.
    made, part = small_drawn(), choke("core-x2")
    closer = np.concatenate([m.score() for m in CloserLook(made.drawn).merits(part)])
    whole = np.concatenate([m.score() for m in made.found["core-x2"]])
    assert sure_case(closer) == pytest.approx(sure_case(whole), rel=0.1)


def test_sets_of_the_catalogue_that_are_judged_can_be_bought():
    for found in small_answer().candidates.values():
        if found.origin == "catalogue":
            assert isinstance(found.case.choke, FerriteChoke) or found.case.choke.is_resonant
            assert found.case.choke.on_sale
            assert found.geometries == small_answer().geometries


def test_nothing_on_the_front_is_bettered_by_another_point_in_all_three():
    front = small_answer().front
    assert front[0].id == NONE
    for a in front:
        assert not any(
            b.cost <= a.cost and b.score <= a.score and b.heat <= a.heat and b != a for b in front
        )


def test_causes_are_those_of_the_bare_cable_and_of_the_chosen():
    answer = small_answer()
    assert set(answer.causes) == set(answer.geometry) == {NONE, answer.chosen}
    for causes in answer.causes.values():
        assert [c.share.value for c in causes] == sorted(
            (c.share.value for c in causes), reverse=True
        )
        assert all(0 <= c.low <= c.high <= 1 for c in causes)
    assert IDEAL in answer.candidates


def test_what_is_known_is_solved_once():
    known = dict.fromkeys(["route", "height", "lead", "antenna", "jacket", "coil_pitch"], "known")
    study = small(unknowns={"draws": 32} | known, choke_design={"most": 1})
    answer = answer_of(study, described(study), 1)
    assert (answer.geometries, answer.draws) == (1, 32)
    assert all(not u.geometric for u in answer.unknowns)
    assert answer.bare.enough.error == 0.0


def test_a_chance_that_is_asked_for_by_itself_is_that_of_the_answer():
    answer, of = small_answer(), comparison()
    for name in (NONE, "core-x1", answer.chosen):
        found = answer.candidates[name]
        assert of.chance(found.case) == found.enough


def test_drawings_that_were_made_before_give_the_same_answer():
    drawn = install(with_standard_chokes(small()), 2)
    assert answer_of(small(), small_described(), 2, drawn=drawn) == small_answer()
