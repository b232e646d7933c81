"""The verdict in words: every number in it is one of the data, and nothing reads oddly."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.judgement.advice import advise, describe, in_words
from pipeline.judgement.verdict import OWN_ENDS, Variation, effect
from tests.harness.made_cases import ALONE, IDEAL, bare, cores, ends, made_case, steady, told


def found(pattern: str, text: str) -> tuple[str, ...]:
    match = re.search(pattern, text)
    assert match is not None, f"{pattern!r} is not in {text!r}"
    return match.groups()


# Laws: what the headline says


def test_a_harmless_cable_needs_no_choke() -> None:
    a = told(bare(0.5), cores(1, 0.2))
    assert a.headline.startswith("This cable needs no choke")
    assert (a.recommended_case, a.effect_none) == ("none", "harmless")


def test_a_noticeable_cable_is_better_off_and_a_strong_one_needs_it() -> None:
    assert (
        "is better off with a choke: take one core, NiZn bead"
        in told(bare(2.0), cores(1, 0.2)).headline
    )
    a = told(bare(9.0), cores(1, 0.2))
    assert a.headline.startswith("This cable needs a choke: take one core, NiZn bead")
    assert a.effect_none == "strong"


def test_a_choke_that_is_not_enough_is_said_not_to_be() -> None:
    a = told(bare(9.0), cores(1, 2.0))
    assert "does not make the cable invisible" in a.headline
    assert "does not make" not in told(bare(9.0), cores(1, 1.0)).headline


def test_where_nothing_helps_nothing_is_taken() -> None:
    a = told(bare(2.0), cores(1, 5.0))
    assert a.headline.startswith("Of all that was tried nothing is better")
    assert a.recommended_case == "none"


def test_the_worst_candidate_is_named_as_what_to_avoid_and_why() -> None:
    coil = made_case("coil", 5.0, kind="coil", choke_impedance=None)
    other = made_case("other", 9.0, choke_impedance=1 - 60j)
    a = told(bare(2.0), cores(1, 0.5), coil, other)
    assert a.headline.endswith("What to avoid here: label of other.")
    worse = next(p for p in a.paragraphs if p.startswith("Worse than nothing"))
    assert worse.index("part of other") < worse.index("Worse as well: part of coil")
    assert "resonance" in worse


def test_what_is_said_to_get_worse_is_larger_than_without_a_choke() -> None:
    # Less current at the radio and more on the cable: the second is what is worse.
    coil = made_case("coil", 1.9, kind="coil", choke_impedance=None, shield_ratio=0.26)
    worse = next(p for p in told(bare(2.0), coil).paragraphs if p.startswith("Worse than nothing"))
    assert found(r"here it is (.*) that gets worse", worse) == ("the current on the cable",)
    # The match is worse and still counts for less than the current at the radio, which is not.
    core = made_case("core", 1.9, swr_change=0.35)
    worse = next(p for p in told(bare(2.0, swr_change=0.22), core).paragraphs if "Worse" in p)
    assert found(r"here it is (.*) that gets worse", worse) == ("the match",)


def test_the_reason_of_several_bad_candidates_is_given_once() -> None:
    coils = [made_case(f"coil-{n}", 5.0 + n, kind="coil", choke_impedance=None) for n in range(3)]
    assert told(bare(2.0), cores(1, 0.5), *coils).text.count("far above its own resonance") == 1


def test_an_unsound_cable_without_a_choke_is_told_where_trust_is_asked_for() -> None:
    sure = told(bare(2.0, grade="unsound"), cores(2, 0.5)).certainty
    assert "cable without a choke" in sure
    assert "did not pass its own checks" in sure
    assert "in part" not in sure


def test_an_unsound_case_is_not_held_against_anybody() -> None:
    a = told(bare(2.0), cores(1, 0.5), made_case("broken", 9.0, grade="unsound"))
    assert "broken" not in a.text


def test_nothing_is_to_be_avoided_that_could_not_be_seen() -> None:
    assert "avoid" not in told(bare(0.2), cores(1, 0.4)).headline


# Laws: every number is one of the data


def test_the_numbers_of_the_bare_cable_are_its_own() -> None:
    none = bare(
        2.0, pattern_max_db=2.21, pattern_rms_db=0.498, mean_gain_dbi=6.04, swr=1.337,
        mean_gain_change_db=-0.56, shield_ratio=0.1289, station_ratio=0.0512,
    )  # fmt: skip
    text = told(none, cores(1, 0.2)).paragraphs[0]
    assert found(r"up to (\S+) % of the feed", text) == ("13",)
    assert found(r"and (\S+) % \((\S+) to (\S+) %\) reaches the radio", text) == (
        *("5.1", "4.9", "5.4"),
    )
    assert found(r"at (\S+) degrees of elevation", text) == ("3",)
    assert found(r"is (\S+) ± (\S+) dBi against (\S+) dBi with an", text) == ("6.0", "0.2", "6.6")
    assert found(r"\((\S+) dB\)", text) == ("−0.6",)
    assert found(r"moves by up to (\S+) dB, (\S+) dB rms", text) == ("2.2", "0.5")
    assert found(r"SWR is (\S+) \((\S+) to (\S+)\) instead of (\S+)\. What", text) == (
        *("1.34", "1.29", "1.39", "1.25"),
    )


def test_the_numbers_of_the_choke_are_its_own() -> None:
    none = bare(4.0, station_ratio=0.2)
    core = cores(
        4, 0.5, position=0.123, station_ratio=0.0234, pattern_rms_db=0.14, swr=1.2719,
        choke_impedance=672 + 97j, choke_power=0.2708,
    )  # fmt: skip
    text = told(none, core).paragraphs[1]
    assert text.startswith("Four cores, NiZn bead, starting 0.12 m from the antenna: ")
    assert found(r"from (\S+) % to (\S+) % \((\S+) to (\S+) %\) of the feed", text) == (
        *("20", "2.3", "2.2", "2.5"),
    )
    assert found(r"within (\S+) dB rms", text) == ("0.1",)
    assert found(r"the SWR is (\S+) \((\S+) to (\S+)\)\. It", text) == ("1.27", "1.22", "1.32")
    assert found(r"puts (\S+) ohm", text) == (f"{abs(672 + 97j):.0f}",)
    assert "mostly resistance" in text
    assert found(r"At (\S+) W .* rid of (\S+) W, (\S+) W of it", text) == ("25", "0.27", "0.15")
    assert found(r"costs (\S+) (\S+)\.$", text) == ("18.00", "EUR")


def test_a_reactive_choke_is_called_one() -> None:
    text = told(bare(4.0), made_case("x", 0.5, kind="table", choke_impedance=10 - 300j)).paragraphs[
        1
    ]
    assert "300 ohm in the current's way, mostly reactance" in text


def test_a_choke_without_price_or_lumped_impedance_is_told_without_them() -> None:
    a = told(bare(4.0), made_case("x", 0.5, choke_impedance=None, price=None, currency=""))
    assert "ohm" not in a.paragraphs[1]
    assert "cost" not in a.paragraphs[1]


def test_the_steps_of_more_and_more_cores_are_in_order_and_their_own() -> None:
    counts = {8: 0.012, 1: 0.0598, 4: 0.0232, 2: 0.0397}
    candidates = [cores(n, 0.5, station_ratio=r) for n, r in counts.items()]
    text = next(p for p in told(bare(4.0), *candidates).paragraphs if p.startswith("How many?"))
    steps = re.findall(r"(\w+): (\S+) %", text.split("cores:")[1])
    assert steps == [("one", "6.0"), ("two", "4.0"), ("four", "2.3"), ("eight", "1.2")]


def test_cores_at_different_places_are_no_row_of_steps() -> None:
    a = told(bare(4.0), cores(1, 0.5), cores(2, 0.4, position=0.5))
    assert not any(p.startswith("How many?") for p in a.paragraphs)


def test_certainty_names_what_would_change_the_advice_and_else_what_was_tried() -> None:
    tried = [Variation("a rod of 10 ohm", 0.5, 0.2), Variation("a radio that floats", 3.0, 0.4)]
    a = told(bare(4.0), cores(1, 0.5), tried=tried)
    assert "It could change with a rod of 10 ohm: no choke would then be needed." in a.certainty
    assert "floats" not in a.certainty
    firm = told(bare(4.0), cores(1, 0.5), tried=tried[1:])
    assert "stays the same with: a radio that floats." in firm.certainty


def test_the_computations_own_intervals_are_said_to_have_been_tried() -> None:
    floats = Variation("a radio that floats", 3.0, 0.4)
    own = [Variation(what, 3.0, 0.4) for what in OWN_ENDS]
    kept = told(bare(4.0), cores(1, 0.5), tried=[*own, floats]).certainty
    assert kept.endswith(
        "The advice stays the same at either end of this computation's own 95 % intervals, and "
        "with: a radio that floats."
    )
    turned = [own[0], Variation(OWN_ENDS[1], 3.0, 1.2), floats]
    said = told(bare(4.0), cores(1, 0.5), tried=turned).certainty
    assert "The advice stays the same with: a radio that floats." in said
    assert said.endswith(
        "It could change at the high end of this computation's own 95 % intervals: the recommended "
        "choke would then not quite be enough."
    )


def test_a_choke_that_was_never_enough_is_not_said_to_become_too_weak() -> None:
    own = [Variation(what, 9.0, 2.0) for what in OWN_ENDS]
    assert "not quite be enough" not in told(bare(9.0), cores(1, 2.0), tried=own).certainty


def test_a_current_that_rises_is_not_said_to_fall() -> None:
    none = bare(0.0, pattern_rms_db=2.0, station_ratio=0.02)
    text = told(none, cores(1, 0.0, station_ratio=0.04)).paragraphs[1]
    assert "radio rises from 2.0 % to 4.0 % (3.8 to 4.2 %)" in text
    same = told(none, cores(1, 0.0, station_ratio=0.02001)).paragraphs[1]
    assert "radio stays at 2.0 % of the feed current" in same


def test_a_choke_that_stays_cold_is_not_said_to_take_no_power_at_all() -> None:
    text = told(bare(3.0), made_case("pipe", 0.1, choke_power=0.002)).text
    assert "it has to get rid of less than 0.01 W." in text


def test_next_to_nothing_has_an_upper_end_and_ranges_are_explained() -> None:
    none = bare(0.0, swr_change=0.5, station_ratio=1e-5)
    everything = {f.id: f for f in (ALONE, IDEAL, none)}
    wide = {name: ends(f) | {"station_current_ratio": (0.0, 0.004)} for name, f in
            everything.items()}  # fmt: skip
    text = advise(everything, wide, lambda name: steady(), lambda name: [], 25.0, 3.0)[
        0
    ].paragraphs[0]
    assert "next to none of it (at most 0.4 %) reaches the radio" in text
    assert text.endswith("The ranges are this computation's own 95 % intervals.")
    exact = {
        name: {"station_current_ratio": (1e-5, 1e-5), "swr_feed": (f["swr"], f["swr"]),
               "horizon_gain_mean_dbi": (f["mean_gain_dbi"], f["mean_gain_dbi"])}
        for name, f in everything.items()
    }  # fmt: skip
    text = advise(everything, exact, lambda name: steady(), lambda name: [], 25.0, 3.0)[
        0
    ].paragraphs[0]
    assert "next to none of it reaches the radio" in text
    assert "ranges" not in text


@pytest.mark.parametrize("who", ["none", "choke"])
def test_a_computation_that_passed_only_in_part_is_said_to_have(who: str) -> None:
    none = bare(4.0, grade="usable" if who == "none" else "sound")
    core = cores(1, 0.5, grade="usable" if who == "choke" else "sound")
    assert "only in part" in told(none, core).certainty
    assert "passed all its own checks" in told(bare(4.0), cores(1, 0.5)).certainty


def test_the_text_is_all_of_it() -> None:
    a = told(bare(4.0), cores(1, 0.5), cores(2, 0.4), made_case("bad", 9.0))
    assert a.text == "\n\n".join((a.headline, *a.paragraphs, a.certainty))


# Laws: nothing reads oddly


SIZES = st.sampled_from([0.0, 1e-9, 0.004, 0.0499, 0.0996, 0.5, 0.99951, 3.0, 12.0])
SIGNED = st.one_of(SIZES, SIZES.map(lambda x: -x))
ODD = re.compile(
    r"(?<!\d)-0(\.0+)?(?![\d.])|\bnan\b|\binf\b|\bNone\b|\s\s|\.\.|,\.| \.|: \.|\(\)"
    r"|1 cores|one cores"
)


@settings(max_examples=150)
@given(SIZES, SIGNED, SIGNED, SIGNED, SIZES, SIZES, st.sampled_from(["sound", "usable", "unsound"]))
def test_no_sentence_holds_a_minus_nothing_a_hole_or_a_stutter(
    rms: float, gain: float, change: float, swr_change: float, ratio: float, own: float, grade: str
) -> None:
    none = bare(
        own, pattern_rms_db=rms, mean_gain_dbi=gain, mean_gain_change_db=change,
        swr_change=swr_change, station_ratio=ratio, grade=grade,
    )  # fmt: skip
    other = made_case("other", 20.0, mean_gain_change_db=change, choke_impedance=0.001 - 60j)
    text = told(none, cores(1, 0.5, station_ratio=ratio), cores(2, rms), other).text
    for paragraph in text.split("\n\n"):
        assert ODD.search(paragraph) is None, paragraph
        assert paragraph[0].isupper()
        assert paragraph.endswith(".")


def test_every_case_told_as_worse_is_worse_by_the_rules() -> None:
    candidates = [made_case(f"c{i}", s) for i, s in enumerate((0.5, 1.5, 2.1, 2.5, 4.0, 6.0, 8.0))]
    text = told(bare(2.0), *candidates).text
    for c in candidates:
        named = f"part of {c.id}, starting 0.05 m from the antenna"
        worst, also = f"{named}: here it is", f"{named} (the current that reaches the radio)"
        is_worse = effect(c, bare(2.0)) == "worse than none" and c.score > 2.5
        assert (worst in text or also in text) == is_worse
        assert (worst in text) == (c.score == 8.0)


# Edges


def test_small_numbers_are_words_and_larger_ones_figures() -> None:
    assert [in_words(n) for n in (1, 10, 11, 50)] == ["one", "ten", "11", "50"]


def test_one_core_is_not_called_cores() -> None:
    assert describe(cores(1, 0.5)) == "one core, NiZn bead, starting 0.05 m from the antenna"
    assert describe(cores(12, 0.5)).startswith("12 cores, NiZn bead")
    assert describe(replace(bare(1.0), part="nothing")) == "nothing"


def test_every_mixture_of_candidates_gives_a_verdict() -> None:
    pool = [
        cores(1, 0.5),
        made_case("bad", 9.0),
        made_case("perfect", 0.0, kind="ideal", price=None),
    ]
    for n in range(len(pool) + 1):
        for some in itertools.combinations(pool, n):
            assert told(bare(2.0), *some).headline


def test_what_hardly_changes_anything_is_not_said_to_help() -> None:
    a = told(bare(3.2), cores(4, 3.1))
    assert a.recommended_case == "core-x4"
    assert a.headline.endswith("Where the study has it, it hardly helps.")
    assert "hardly" not in told(bare(3.2), cores(4, 2.0)).headline


def test_one_degree_is_not_called_degrees() -> None:
    assert "at 1 degree of elevation" in told(bare(2.0), elevation=1.0).text


@pytest.mark.parametrize("assumed", [False, True])
def test_a_core_whose_size_stands_in_no_print_is_recommended_with_those_words(
    assumed: bool,
) -> None:
    core = made_case("core", 0.5, kind="ferrite", is_size_assumed=assumed)
    said = told(bare(3.0), core).certainty
    assert ("No print was found that gives the size of this core" in said) == assumed
