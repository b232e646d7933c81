"""The rules of the verdict, on cases made up for each rule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.analysis.figures_of_merit_and_score import FIGURES, scored
from pipeline.judgement.case_merit import CaseMerit
from pipeline.judgement.verdict import (
    WORSE_FACTOR,
    Variation,
    driver,
    effect,
    flips,
    ranked,
    recommend,
)
from pipeline.study.records import USUAL
from tests.harness.made_cases import bare, made_case, steady

ROBUST = lambda name: steady()  # noqa: E731


# Laws: score


@pytest.mark.parametrize(
    ("changes", "expected", "what"),
    [
        ({"pattern_rms_db": 1.0}, 2.0, "the low-angle pattern"),
        ({"mean_gain_change_db": -1.5}, 3.0, "the mean gain towards the horizon"),
        ({"mean_gain_change_db": 1.5}, 3.0, "the mean gain towards the horizon"),
        ({"swr_change": -0.3}, 1.5, "the match"),
        ({"swr_change": 0.3}, 1.5, "the match"),
        ({"station_ratio": 0.2}, 4.0, "the current that reaches the radio"),
    ],
)
def test_the_score_is_the_largest_change_over_its_threshold(
    changes: dict[str, float], expected: float, what: str
) -> None:
    # Thresholds 0.5 dB, 0.5 dB, 0.2 of SWR, a twentieth of the feed current: common practice.
    f = made_case(score=0.0, **changes)
    assert f.score == pytest.approx(expected)
    assert FIGURES[driver(f)].words == what


def test_a_sound_candidate_goes_before_a_cheaper_one_that_passed_only_in_part() -> None:
    rough = made_case("rough", 0.1, price=1.0, grade="usable")
    assert [c.id for c in ranked([rough, made_case("dear", 0.5, price=20.0)])] == ["dear", "rough"]


@given(st.floats(0, 5), st.floats(-5, 5), st.floats(-5, 5), st.floats(0, 1))
def test_the_driver_is_the_change_that_sets_the_score(
    rms: float, gain: float, swr: float, station: float
) -> None:
    changes = {
        "pattern_rms_db": {"pattern_rms_db": rms},
        "mean_gain_dbi": {"mean_gain_change_db": gain},
        "swr": {"swr_change": swr},
        "station_ratio": {"station_ratio": station},
    }
    f = made_case(**{key: value for own in changes.values() for key, value in own.items()})
    assert made_case(score=0.0, **changes[driver(f)]).score == f.score


# Laws: effect


@pytest.mark.parametrize(
    ("own", "expected"),
    [(0.0, "harmless"), (1.0, "harmless"), (1.01, "noticeable"),
     (3.0, "noticeable"), (3.01, "strong"), (50.0, "strong")],
)  # fmt: skip
def test_the_bare_cable_is_harmless_noticeable_or_strong(own: float, expected: str) -> None:
    # Half a decibel of pattern is a score of one, to the last bit.
    cable = bare(0.0, pattern_rms_db=0.5 * own)
    assert effect(cable, cable) == expected


@pytest.mark.parametrize(
    ("own", "expected"),
    [(0.5, "as good as ideal"), (1.0, "as good as ideal"), (1.5, "helps"),
     (1.9, "as good as none"), (2.0, "as good as none"), (2.2, "as good as none"),
     (2.4, "worse than none"), (9.0, "worse than none")],
)  # fmt: skip
def test_a_choke_is_judged_against_the_bare_cable(own: float, expected: str) -> None:
    assert effect(made_case(score=own), bare(2.0)) == expected


def test_what_cannot_be_seen_is_not_worse_than_what_cannot_be_seen_either() -> None:
    assert effect(made_case(score=0.4), bare(0.2)) == "as good as ideal"


def test_the_two_references_are_called_what_they_are() -> None:
    assert effect(made_case("ideal", 9.0), bare(2.0)) == "reference"
    assert effect(made_case("no-feedline", 9.0), bare(2.0)) == "no cable"


# Laws: recommendation


def test_a_part_that_nobody_sells_is_never_recommended() -> None:
    made_up = made_case("made-up", 0.1, price=1.0, on_sale=False)
    assert (
        recommend([made_up, made_case("sold", 0.9, price=20.0)], bare(2.0), ROBUST, {})[0].id
        == "sold"
    )
    assert recommend([made_up], bare(2.0), ROBUST, {})[0].id == "none"


def test_nothing_is_recommended_where_nothing_is_needed() -> None:
    chosen, tried = recommend([made_case(score=0.1, price=0.0)], bare(0.9), ROBUST, {})
    assert chosen.id == "none"
    assert tried == steady()


def test_the_cheapest_that_is_enough_is_taken() -> None:
    candidates = [
        made_case("dear", 0.1, price=20.0),
        made_case("cheap", 0.9, price=5.0),
        made_case("too-weak", 1.1, price=1.0),
    ]
    assert recommend(candidates, bare(2.0), ROBUST, {})[0].id == "cheap"


def test_of_two_at_the_same_price_the_better_is_taken() -> None:
    candidates = [made_case("good", 0.8), made_case("better", 0.3)]
    assert recommend(candidates, bare(2.0), ROBUST, {})[0].id == "better"


def test_without_all_prices_the_fewest_pieces_are_taken() -> None:
    candidates = [
        made_case("four", 0.1, price=1.0, count=4),
        made_case("two", 0.9, price=None, count=2),
    ]
    assert [c.id for c in ranked(candidates)] == ["two", "four"]


def test_prices_in_different_money_are_not_compared_as_numbers() -> None:
    candidates = [
        made_case("four", 0.1, price=4.0, currency="EUR", count=4),
        made_case("two", 0.9, price=300.0, currency="JPY", count=2),
    ]
    assert [c.id for c in ranked(candidates)] == ["two", "four"]


@pytest.mark.parametrize("change", [{"grade": "unsound"}, {"kind": "ideal"}])
def test_neither_an_unsound_nor_an_ideal_choke_is_ever_recommended(change: dict[str, str]) -> None:
    never = made_case("never", 0.0, price=0.0, **change)
    assert ranked([never]) == []
    assert recommend([never, made_case("real", 0.9)], bare(2.0), ROBUST, {})[0].id == "real"
    assert recommend([never], bare(2.0), ROBUST, {})[0].id == "none"
    assert recommend([never, made_case("weak", 1.5)], bare(2.0), ROBUST, {})[0].id == "weak"


def test_one_that_stays_enough_when_assumptions_change_goes_before_a_cheaper_one() -> None:
    def variations(name: str) -> list[Variation]:
        return steady(1.2 if name == "cheap" else 0.9)

    candidates = [made_case("cheap", 0.9, price=1.0), made_case("robust", 0.5, price=9.0)]
    chosen, tried = recommend(candidates, bare(2.0), variations, {})
    assert chosen.id == "robust"
    assert tried == steady(0.9)


def test_if_none_stays_enough_the_cheapest_that_is_enough_as_described_is_taken() -> None:
    candidates = [made_case("dear", 0.2, price=9.0), made_case("cheap", 0.9, price=1.0)]
    chosen, tried = recommend(candidates, bare(2.0), lambda name: steady(1.5), {})
    assert chosen.id == "cheap"
    assert tried == steady(1.5)


def test_if_none_is_enough_the_one_that_helps_most_is_taken() -> None:
    candidates = [made_case("a", 1.8), made_case("b", 1.3)]
    assert recommend(candidates, bare(2.0), ROBUST, {})[0].id == "b"


def test_if_all_are_worse_than_nothing_nothing_is_taken() -> None:
    assert (
        recommend([made_case("a", 3.0), made_case("b", 4.0)], bare(2.0), ROBUST, {})[0].id == "none"
    )


def test_a_bare_cable_whose_computation_is_unsound_is_not_called_harmless() -> None:
    chosen, _ = recommend([made_case("real", 0.5)], bare(0.5, grade="unsound"), ROBUST, {})
    assert chosen.id == "real"


@given(st.lists(st.tuples(st.floats(0, 4), st.floats(0, 99)), max_size=6), st.floats(1.01, 9))
def test_nothing_worse_than_the_bare_cable_is_ever_recommended(
    pairs: list[tuple[float, float]], own: float
) -> None:
    candidates = [made_case(f"c{i}", s, price=p) for i, (s, p) in enumerate(pairs)]
    chosen, _ = recommend(candidates, bare(own), ROBUST, {})
    assert chosen.score <= bare(own).score
    enough = [c for c in candidates if c.score <= 1]
    if enough:
        assert chosen.price == min(c.price for c in enough if c.price is not None)


# Laws: what would change the advice


def test_an_assumption_that_makes_a_choke_worth_having_is_named() -> None:
    tried = [Variation("a", 1.5, 1.5), Variation("b", 0.5, 0.5)]
    assert flips(tried, none_needed=True) == ["a: a choke would then be worth having"]


def test_an_assumption_that_makes_the_choke_needless_or_too_weak_is_named() -> None:
    tried = [Variation("a", 0.9, 0.1), Variation("b", 2.0, 1.1), Variation("c", 2.0, 0.9)]
    assert flips(tried, none_needed=False) == [
        "a: no choke would then be needed",
        "b: the recommended choke would then not quite be enough",
    ]


def test_what_is_not_enough_as_described_cannot_become_too_weak() -> None:
    tried = [Variation("a", 0.9, 1.5), Variation("b", 2.0, 1.5)]
    assert flips(tried, none_needed=False, enough=False) == ["a: no choke would then be needed"]


# Edges


def test_without_candidates_there_is_only_the_bare_cable() -> None:
    assert ranked([]) == []
    chosen, tried = recommend([], bare(2.0), ROBUST, {})
    assert (chosen.id, tried) == ("none", steady())


def test_a_choke_of_no_price_in_a_study_of_prices_is_free_only_if_it_says_so() -> None:
    free: CaseMerit = made_case("free", 0.9, price=0.0)
    assert ranked([made_case("dear", 0.1, price=2.0), free])[0] is free


# Laws: what a case is called


def a_case(values: tuple[float, ...], name: str = "c") -> CaseMerit:
    pattern, gain, swr, station, shield = values
    changes = {
        "pattern_rms_db": pattern, "mean_gain_change_db": gain, "swr_change": swr,
        "station_ratio": station, "shield_ratio": shield,
    }  # fmt: skip
    return bare(0.0, **changes) if name == "none" else made_case(name, 0.0, **changes)


a_case_s = st.tuples(
    st.floats(0, 3), st.floats(-3, 3), st.floats(-1, 1), st.floats(0, 0.5), st.floats(0, 1)
)


def over(case: CaseMerit) -> list[float]:
    return [
        abs(case.change(f.name)) / getattr(case.merit.limits, f.threshold) for f in scored(USUAL)
    ]


@given(a_case_s, a_case_s)
def test_what_is_called_as_good_as_none_is_worse_in_nothing(
    own: tuple[float, ...], none: tuple[float, ...]
) -> None:
    case, without = a_case(own), a_case(none, "none")
    said = effect(case, without)
    pairs = list(zip(over(without), over(case), strict=True))
    if said in ("as good as none", "helps"):
        assert all(a <= 1 or a <= WORSE_FACTOR * b for b, a in pairs)
        assert case["shield_ratio"] <= WORSE_FACTOR * without["shield_ratio"]
    if said == "as good as ideal":
        assert case.score <= 1
    if said == "as good as none":
        assert case.score == pytest.approx(without.score, rel=WORSE_FACTOR - 1 + 0.01)
        assert all(b <= 1 or a >= b / WORSE_FACTOR for b, a in pairs)


def test_a_coil_that_brings_more_of_everything_but_one_is_not_as_good_as_none() -> None:
    # On a railing: pattern 2.0 for 1.5 dB, SWR 2.3 for 1.6, cable 84 for 34 %; radio alike.
    without = a_case((1.5, 0.2, 0.3, 0.4, 0.34), "none")
    assert effect(a_case((2.0, 0.2, 1.0, 0.4, 0.84)), without) == "worse than none"
