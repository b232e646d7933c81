"""The verdict in words: every number in it is one of the data, and nothing reads oddly."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.judgement.purchases import cost
from pipeline.judgement.verdict import OWN_ENDS, Moved, Variation, effect
from pipeline.judgement.verdict_words import Advice, advise, describe
from pipeline.text.formatting import in_words
from tests.harness.made_cases import ALONE, IDEAL, bare, cores, ends, made_case, steady, told


def found(pattern: str, text: str) -> tuple[str, ...]:
    match = re.search(pattern, text)
    assert match is not None, f"{pattern!r} is not in {text!r}"
    return match.groups()


# What is said, what is not

ALONG = (
    Moved(0.05, 0.8, near=False), Moved(0.10, 0.6), Moved(0.20, 0.9), Moved(0.40, 1.4),
    Moved(0.60, 3.0), Moved(0.80, 0.04), Moved(1.00, 1.1),
)  # fmt: skip
APART = tuple(replace(place, near=False) for place in ALONG)
WAVES = tuple(Moved(0.1 * n, 0.5 if n % 2 else 1.5) for n in range(20))
THERE = (Moved(0.05, 3.0), Moved(0.1, 2.6), Moved(2.0, 0.8, near=False))
NEVER_ENOUGH = [Variation(what, 9.0, 2.0) for what in OWN_ENDS]
WEAK = bare(0.0, pattern_rms_db=2.0, station_ratio=0.02)
COILS = [made_case(f"coil-{n}", 5.0 + n, kind="coil", choke_impedance=None) for n in range(3)]
OFTEN = "passed all its own checks"

# By what the reader is told: the advice, what stands in it and what does not.
SAID: dict[str, tuple[Advice, tuple[str, ...], tuple[str, ...]]] = {
    "harmless": (told(bare(0.5), cores(1, 0.2)), ("This cable needs no choke",), ("Where?",)),
    "noticeable": (
        told(bare(2.0), cores(1, 0.2)),
        ("This cable is better off with a choke: take one core, NiZn bead",), (),
    ),
    "strong": (
        told(bare(9.0), cores(1, 0.2)),
        ("This cable needs a choke: take one core, NiZn bead",), ("does not make the cable",),
    ),
    "not enough": (told(bare(9.0), cores(1, 2.0)), ("does not make the cable invisible",), ()),
    "just enough": (told(bare(9.0), cores(1, 1.0)), (), ("does not make",)),
    "nothing helps": (
        told(bare(2.0), cores(1, 5.0)), ("Of all that was tried nothing is better",), (),
    ),
    "hardly helps": (
        told(bare(3.2), cores(4, 3.1)), ("Where the study has it, it hardly helps.",), (),
    ),
    "helps": (told(bare(3.2), cores(4, 2.0)), (), ("hardly",)),
    "nothing to avoid": (told(bare(0.2), cores(1, 0.4)), (), ("avoid",)),
    "unsound is held against nobody": (
        told(bare(2.0), cores(1, 0.5), made_case("broken", 9.0, grade="unsound")), (), ("broken",),
    ),
    "reactive": (
        told(bare(4.0), made_case("x", 0.5, kind="table", choke_impedance=10 - 300j)),
        ("300 ohm in the current's way, mostly reactance",), (),
    ),
    "no price, no impedance": (
        told(bare(4.0), made_case("x", 0.5, choke_impedance=None, price=None, currency="")),
        ("Part of x",), ("ohm in the", "cost"),
    ),
    "no row of steps": (
        told(bare(4.0), cores(1, 0.5), cores(2, 0.4, position=0.5)), (), ("How many?",),
    ),
    "never enough": (
        told(bare(9.0), cores(1, 2.0), tried=NEVER_ENOUGH), (), ("not quite be enough",),
    ),
    "a current that rises": (
        told(WEAK, cores(1, 0.0, station_ratio=0.04)),
        ("radio rises from 2.0 % to 4.0 % (3.8 to 4.2 %)",), (),
    ),
    "a current that stays": (
        told(WEAK, cores(1, 0.0, station_ratio=0.02001)),
        ("radio stays at 2.0 % of the feed current",), (),
    ),
    "cold": (
        told(bare(3.0), made_case("pipe", 0.1, choke_power=0.002)),
        ("it has to get rid of less than 0.01 W.",), (),
    ),
    "cable passed in part": (
        told(bare(4.0, grade="usable"), cores(1, 0.5)), ("only in part",), (OFTEN,),
    ),
    "choke passed in part": (
        told(bare(4.0), cores(1, 0.5, grade="usable")), ("only in part",), (OFTEN,),
    ),
    "all passed": (told(bare(4.0), cores(1, 0.5)), (OFTEN,), ("only in part",)),
    "cable unsound": (
        told(bare(2.0, grade="unsound"), cores(2, 0.5)),
        ("cable without a choke, which every choke is", "did not pass its own checks"),
        ("in part",),
    ),
    "one degree": (told(bare(2.0), elevation=1.0), ("at 1 degree of elevation",), ()),
    "size assumed": (
        told(bare(3.0), made_case("core", 0.5, kind="ferrite", is_size_assumed=True)),
        ("No print was found that gives the size of this core",), (),
    ),
    "size printed": (
        told(bare(3.0), made_case("core", 0.5, kind="ferrite")), (), ("No print was found",),
    ),
    "sleeve to cut": (
        told(bare(3.0), made_case("pipe", 0.1, kind="sleeve", sleeve_length=0.4874)),
        ("It is 487 mm long, its open end towards the antenna.",), (),
    ),
    "sleeve out of resonance": (
        told(bare(3.0), made_case("pipe", 0.1, kind="sleeve", choke_impedance=3 + 400j)),
        ("It puts 400 ohm in the current's way, mostly reactance: trim it by measurement.",),
        ("exactly its length",),
    ),
    "more cores do not get there": (
        told(bare(3.0), cores(2, 1.6), cores(6, 1.2)),
        ("begins to count at 5 %. No number of them that was tried is enough",), (),
    ),
    "more cores get there": (
        told(bare(3.0), cores(2, 1.6), cores(6, 0.9)), (), ("No number of them",),
    ),
    # A place is worse than none by the factor that a candidate is: 3.0 is more than 1.15 times 2.
    "places": (
        told(bare(2.0), cores(2, 0.8), places=ALONG),
        (
            "The same cores, all at one point, were tried at 7 places from 0.05 to 1.00 m",
            "enough from 0.05 to 0.20 m and near 0.8 m",
            "worse than none near 0.6 m. Places further on shift with the length",
            "in the first of these best at 0.10 m (0.60 of what is just visible is left)",
        ), (),
    ),
    "one place": (
        told(bare(2.0), cores(2, 0.8), places=(Moved(0.7, 1.2), Moved(0.8, 0.04))),
        ("enough near 0.8 m, best at 0.80 m (0.04 of what is just visible is left)",), (),
    ),
    "places that are not joined": (
        told(bare(2.0), cores(2, 0.8), places=APART),
        ("enough near 0.1 m, near 0.2 m and near 0.8 m",), (),
    ),
    "no place is enough": (
        told(bare(3.0), cores(1, 1.4), places=(Moved(0.1, 1.4), Moved(0.5, 2.1))),
        ("none of the places tried, best at 0.10 m (1.4 times what is just visible is left).",), (),
    ),
    "no place is wanted": (
        told(bare(0.5), cores(1, 0.2), places=ALONG + THERE), (), ("Where?", "A few of"),
    ),
    "very many stretches": (
        told(bare(2.0), cores(1, 0.5), places=WAVES),
        ("near 0.1 m, near 0.3 m, near 0.5 m, near 0.7 m and in places further on",), (),
    ),
    "a few cores elsewhere": (
        told(bare(2.0), cores(1, 5.0), places=THERE),
        (
            "A few of the study's first cores, all at one point, were tried at 3 places",
            "enough near 2.0 m",
        ),
        ("The same",),
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", SAID)
def test_what_is_told_stands_in_the_advice_and_nothing_else_does(what: str) -> None:
    advice, wanted, unwanted = SAID[what]
    assert [phrase for phrase in wanted if phrase not in advice.text] == []
    assert [phrase for phrase in unwanted if phrase in advice.text] == []


def test_the_case_to_take_and_the_bare_cable_have_their_names() -> None:
    names = {w: (a.recommended_case, a.effect_none) for w, (a, _, _) in SAID.items()}
    assert names["harmless"] == ("none", "harmless")
    assert names["strong"] == ("core-x1", "strong")
    assert names["nothing helps"][0] == "none"
    assert names["hardly helps"][0] == "core-x4"


def test_the_reason_of_several_bad_candidates_is_given_once() -> None:
    assert told(bare(2.0), cores(1, 0.5), *COILS).text.count("far above its own resonance") == 1


# Laws: what to avoid


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


def test_the_steps_of_more_and_more_cores_are_in_order_and_their_own() -> None:
    counts = {8: 0.012, 1: 0.0598, 4: 0.0232, 2: 0.0397}
    candidates = [cores(n, 0.5, station_ratio=r) for n, r in counts.items()]
    text = next(p for p in told(bare(4.0), *candidates).paragraphs if p.startswith("How many?"))
    steps = re.findall(r"(\w+): (\S+) %", text.split("cores:")[1])
    assert steps == [("one", "6.0"), ("two", "4.0"), ("four", "2.3"), ("eight", "1.2")]


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


def test_the_text_is_all_of_it() -> None:
    a = told(bare(4.0), cores(1, 0.5), cores(2, 0.4), made_case("bad", 9.0))
    assert a.text == "\n\n".join((a.headline, *a.paragraphs, a.certainty))


def test_a_coil_says_what_cable_it_takes_what_that_costs_and_what_more_the_line_loses():
    none = bare(2.0)
    coil = made_case("coil", 0.5, coil_cable=8.5, price=18.7, line_loss_db=1.34)
    assert cost(coil, none) == (
        " It takes 8.5 m of cable, and it costs 18.70 EUR; the line loses 0.34 dB more with it."
    )
    same = made_case("coil", 0.5, coil_cable=8.5, price=None)
    assert cost(same, none) == " It takes 8.5 m of cable, and no price of it is given."


# Laws: sleeves


def test_a_sleeve_is_not_sold_by_what_it_would_be_at_its_exact_length() -> None:
    sleeve = made_case("pipe", 0.1, kind="sleeve", choke_impedance=107_522 - 42j)
    advice = told(bare(3.0), sleeve)
    text = advice.text
    assert advice.headline.endswith("a choke: part of pipe, starting 0.05 m from the antenna.")
    assert "107522" not in text
    assert "would put 110000 ohm in the current's way: an upper limit" in text
    off = [
        Variation("a", 3.0, 0.2, made="3 % shorter"),
        Variation("b", 3.0, 0.3, made="3 % longer"),
    ]
    text = told(bare(3.0), sleeve, tried=off).text
    assert "nearly all reactance; 3 % shorter and 3 % longer it would still be enough." in text
    off[1] = replace(off[1], score_recommended=1.3)
    text = told(bare(3.0), sleeve, tried=off).text
    assert "; 3 % longer it is no longer enough: trim it by measurement." in text


def test_a_sleeve_that_only_just_fits_gives_way_to_cores_that_stay_enough() -> None:
    sleeve = made_case("pipe", 0.1, kind="sleeve", price=3.0)
    dearer = cores(2, 0.5)
    everything = {f.id: f for f in (ALONE, IDEAL, bare(3.0), sleeve, dearer)}

    def tried(name: str) -> list[Variation]:
        return [Variation("a sleeve 3 % too long", 3.0, 1.2)] if name == "pipe" else steady()

    intervals = {name: ends(f) for name, f in everything.items()}
    advice, _ = advise(everything, intervals, tried, lambda name: [], 25.0, 3.0)
    assert advice.recommended_case == "core-x2"
    assert "such as a sleeve that is a little too short or too long" in advice.text


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
