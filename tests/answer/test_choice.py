"""The choice: the cheapest that is enough, what bars a case, and what is taken where none is."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from models.catalogues.parts import ferrite_core
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.answer.candidates import Outcome, chance, sure_case
from pipeline.answer.choice import Costs, barred, choose, front_of
from pipeline.answer.ranking import told_apart
from pipeline.answer.record import Candidate, Chance, Range
from pipeline.solver.cases import CABLE, NONE, Case
from tests.harness.answered import small, small_answer, small_described
from tests.harness.small_study import choke

EUR = Costs("EUR", math.inf)


def candidate(name, enough, price, score=0.5, heat=0.01, worse=0.0, barred="") -> Candidate:
    """An invented case; only what the choice looks at is filled in."""
    made = None if name == NONE else replace(choke("core-x1"), id=name, price=price, currency="EUR")
    chances = {"invisible": Chance(enough, 0.0), "worse": Chance(worse, 0.0)}
    return Candidate(
        case=Case(name, name, CABLE, made), origin="study", chances=chances,
        better=Chance(0.0 if name == NONE else 1.0, 0.0), figures={}, changes={},
        score=Range(score, 0.0, score / 2, score), driver="swr", place=0.5, grade="sound",
        geometries=24, heat=heat, barred=barred,
    )  # fmt: skip


def chosen(*made: Candidate, costs: Costs = EUR) -> tuple[str, bool]:
    return choose({c.id: c for c in made}, costs)


@pytest.mark.parametrize(
    ("bare", "cheap", "dear", "expected"),
    [
        (0.96, 1.0, 1.0, (NONE, True)),
        (0.60, 0.96, 1.0, ("cheap", True)),
        (0.60, 0.949, 0.97, ("dear", True)),
        (0.60, 0.80, 0.70, ("cheap", False)),
        (0.60, 0.70, 0.80, ("dear", False)),
    ],
)
def test_the_cheapest_that_is_enough_nineteen_times_in_twenty_is_taken(bare, cheap, dear, expected):
    made = (
        candidate("dear", dear, 9.0),
        candidate(NONE, bare, None),
        candidate("cheap", cheap, 4.0),
    )
    assert chosen(*made) == expected


def test_of_several_that_cost_the_same_the_one_that_leaves_least_then_the_coolest():
    bare = candidate(NONE, 0.1, None)
    made = [candidate("a", 1.0, 4.0, 0.9), candidate("b", 1.0, 4.0, 0.4)]
    assert chosen(bare, *made) == ("b", True)
    made = [candidate("a", 1.0, 4.0, 0.4, 0.02), candidate("b", 1.0, 4.0, 0.4, 0.01)]
    assert chosen(bare, *made) == ("b", True)


@pytest.mark.parametrize("why", ["unsound", "not-sold", "remembered", "hot", "budget"])
def test_what_is_barred_is_not_taken_however_well_it_does(why):
    bare, dear = candidate(NONE, 0.1, None), candidate("dear", 0.96, 9.0)
    assert chosen(bare, candidate("a", 1.0, 4.0, barred=why), dear) == ("dear", True)
    assert chosen(bare, candidate("a", 1.0, 4.0, barred=why)) == (NONE, False)


def test_where_none_is_enough_what_often_makes_it_worse_is_not_taken():
    bare, b = candidate(NONE, 0.1, None, 3.0), candidate("b", 0.6, 9.0)
    assert chosen(bare, candidate("a", 0.8, 4.0, worse=0.06), b) == ("b", False)
    assert chosen(bare, candidate("a", 0.8, 4.0, worse=0.04), b) == ("a", False)
    assert chosen(bare, candidate("a", 0.8, 4.0, worse=0.06)) == (NONE, False)


def test_a_choke_that_helps_in_no_installation_is_not_taken():
    bare = candidate(NONE, 0.1, None, 3.0)
    useless = replace(candidate("a", 0.1, 4.0, 2.9), better=Chance(0.3, 0.0))
    assert chosen(bare, useless) == (NONE, False)
    assert chosen(bare, replace(useless, better=Chance(0.97, 0.0))) == ("a", False)


def test_a_reference_that_nobody_can_buy_is_never_taken():
    perfect = candidate("perfect", 1.0, None)
    perfect = replace(perfect, case=replace(perfect.case, choke=choke("perfect")))
    assert chosen(candidate(NONE, 0.3, None), perfect) == (NONE, False)


def test_without_prices_pieces_count():
    four = replace(candidate("a", 1.0, None), case=Case("a", "a", CABLE, choke("core-x4")))
    two = replace(candidate("b", 1.0, None), case=Case("b", "b", CABLE, choke("core-x2")))
    bare = candidate(NONE, 0.1, None)
    assert chosen(bare, four, two, costs=Costs("", math.inf)) == ("b", True)


def outcome(made, heat=0.01, grade="sound") -> Outcome:
    """An invented case in two draws of which only the heat matters."""
    merit = Merit({"choke_share": np.full(2, heat)}, {})
    return Outcome(Case(made.id, made.id, CABLE, made), "study", (merit,), (0,), merit, grade)


def test_why_a_case_is_not_taken():
    of, core = small_described().solved, choke("core-x2")
    assert barred(outcome(core), of, EUR) == ""
    assert barred(outcome(core, grade="unsound"), of, EUR) == "unsound"
    assert barred(outcome(core), of, Costs("EUR", core.price - 0.01)) == "budget"
    unsold = replace(core, core=replace(core.core, on_sale=False))
    assert barred(outcome(unsold), of, EUR) == "not-sold"
    remembered = replace(core, core=replace(core.core, confidence="from-memory"))
    assert barred(outcome(remembered), of, EUR) == "remembered"


def test_a_set_that_comes_to_its_curie_point_is_barred_at_that_power_only():
    of, core = small_described().solved, choke("core-x2")
    strong = replace(of, study=replace(of.study, power=1500.0, duty=1.0))
    assert barred(outcome(core, heat=0.3), strong, EUR) == "hot"
    assert barred(outcome(core, heat=0.3), of, EUR) == ""


def test_a_budget_in_another_money_limits_nothing():
    assert Costs.of(small(choke_design={"budget": "5 EUR"})) == Costs("EUR", 5.0)
    assert Costs.of(small()).budget == math.inf


def test_a_front_leaves_out_what_another_set_betters_in_all_three():
    bare, a = candidate(NONE, 0.1, None, 3.0, 0.0), candidate("a", 0.9, 4.0, 0.9, 0.02)
    b, c = candidate("b", 0.9, 5.0, 0.95, 0.03), candidate("c", 0.9, 6.0, 0.5, 0.03)
    assert [p.id for p in front_of([b, c, bare, a], EUR)] == [NONE, "a", "c"]


def of_class(made: Candidate, core: str, low: float, high: float) -> Candidate:
    """The same of another core, whose pieces have an impedance between two sizes [ohm]."""
    choke = replace(made.case.choke, core=ferrite_core(core))
    middle = (low + high) / 2
    ohms = Range(middle, low, middle, high)
    return replace(made, case=replace(made.case, choke=choke), ohms=ohms)


def test_no_class_of_ferrite_goes_before_another_whose_impedance_it_overlaps():
    one = of_class(candidate("a", 0.97, 4.0, 0.5, 0.03), "mix-43-clamp-12-7", 135.0, 271.0)
    other = of_class(candidate("b", 0.97, 4.0, 0.6, 0.02), "mix-31-clamp-12-7", 212.0, 397.0)
    apart = of_class(candidate("c", 0.97, 4.0, 0.6, 0.02), "mix-31-clamp-12-7", 300.0, 397.0)
    same = of_class(candidate("d", 0.97, 4.0, 0.6, 0.02), "mix-43-clamp-18", 100.0, 271.0)
    assert (told_apart(one, other), told_apart(one, apart), told_apart(one, same)) == (
        False,
        True,
        True,
    )
    assert [p.id for p in front_of([one, other], EUR)] == ["a"]
    assert [p.id for p in front_of([one, apart], EUR)] == ["a", "c"]
    assert [p.id for p in front_of([one, same], EUR)] == ["a", "d"]


def test_a_class_that_alone_is_enough_stays_on_the_front():
    one = of_class(candidate("a", 0.90, 4.0, 0.5), "mix-43-clamp-12-7", 135.0, 271.0)
    other = of_class(candidate("b", 0.97, 4.0, 0.6), "mix-31-clamp-12-7", 212.0, 397.0)
    assert [p.id for p in front_of([one, other], EUR)] == ["a", "b"]
    assert chosen(candidate(NONE, 0.1, None, 3.0), one, other) == ("b", True)


def test_the_chance_is_the_mean_and_its_error_that_of_the_drawings():
    # sigma / sqrt(n) of n drawings that are alike inside (Efron and Tibshirani 1993, ch. 5).
    held = np.repeat((np.arange(40) % 4 > 0)[:, None], 64, axis=1)
    found = chance(held, 1)
    assert found.value == 0.75
    assert found.error == pytest.approx(np.sqrt(0.75 * 0.25 / 40), rel=0.15)


def test_nineteen_of_twenty_do_not_exceed_the_sure_case():
    assert sure_case(np.arange(1.0, 21.0)) == 19.0


def test_the_answer_of_the_small_study_is_what_the_rule_says_of_its_own_candidates():
    answer = small_answer()
    assert chosen(*answer.candidates.values(), costs=Costs.of(answer.study)) == (
        answer.chosen,
        answer.enough,
    )
