"""The verdict in words: sleeves as they may come out, and places along the cable."""

from __future__ import annotations

from dataclasses import replace

from pipeline.judgement.advice import advise
from pipeline.judgement.verdict import Moved, Variation
from tests.harness.made_cases import ALONE, IDEAL, bare, cores, ends, made_case, steady, told

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


def test_a_sleeve_is_told_with_the_length_to_cut_and_which_end_is_open() -> None:
    text = told(bare(3.0), made_case("pipe", 0.1, kind="sleeve", sleeve_length=0.4874)).text
    assert "It is 487 mm long, its open end towards the antenna." in text


def test_where_more_cores_do_not_get_there_the_reader_is_sent_to_other_places() -> None:
    few = told(bare(3.0), cores(2, 1.6), cores(6, 1.2)).text
    assert "begins to count at 5 %. No number of them that was tried is enough" in few
    assert "No number of them" not in told(bare(3.0), cores(2, 1.6), cores(6, 0.9)).text


def test_a_sleeve_out_of_resonance_is_told_by_what_it_is() -> None:
    sleeve = made_case("pipe", 0.1, kind="sleeve", choke_impedance=3 + 400j)
    text = told(bare(3.0), sleeve).text
    assert "It puts 400 ohm in the current's way, mostly reactance: trim it by measurement." in text
    assert "exactly its length" not in text


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


# Laws: where along the cable


ALONG = (
    Moved(0.05, 0.8, near=False), Moved(0.10, 0.6), Moved(0.20, 0.9), Moved(0.40, 1.4),
    Moved(0.60, 3.0), Moved(0.80, 0.04), Moved(1.00, 1.1),
)  # fmt: skip


def test_places_along_the_cable_are_told_by_what_they_do() -> None:
    text = told(bare(2.0), cores(2, 0.8), places=ALONG).text
    assert "The same cores, all at one point, were tried at 7 places from 0.05 to 1.00 m" in text
    assert "enough from 0.05 to 0.20 m and near 0.8 m" in text
    # A place is worse than none by the factor that a candidate is: 3.0 is more than 1.15 times 2.
    assert "worse than none near 0.6 m. Places further on shift with the length" in text


def test_the_best_place_is_that_of_the_first_stretch_however_good_one_further_on_is() -> None:
    text = told(bare(2.0), cores(2, 0.8), places=ALONG).text
    assert "in the first of these best at 0.10 m (0.60 of what is just visible is left)" in text
    alone = told(bare(2.0), cores(2, 0.8), places=(Moved(0.7, 1.2), Moved(0.8, 0.04))).text
    assert "enough near 0.8 m, best at 0.80 m (0.04 of what is just visible is left)" in alone


def test_places_too_far_apart_to_tell_what_lies_between_are_not_joined() -> None:
    apart = tuple(replace(place, near=False) for place in ALONG)
    text = told(bare(2.0), cores(2, 0.8), places=apart).text
    assert "enough near 0.1 m, near 0.2 m and near 0.8 m" in text


def test_where_no_place_is_enough_the_least_bad_is_told() -> None:
    text = told(bare(3.0), cores(1, 1.4), places=(Moved(0.1, 1.4), Moved(0.5, 2.1))).text
    assert (
        "none of the places tried, best at 0.10 m (1.4 times what is just visible is left)." in text
    )


def test_a_cable_that_needs_no_choke_is_not_told_where_to_put_it() -> None:
    assert "Where?" not in told(bare(0.5), cores(1, 0.2), places=ALONG).text


def test_of_very_many_stretches_only_the_first_are_told() -> None:
    waves = tuple(Moved(0.1 * n, 0.5 if n % 2 else 1.5) for n in range(20))
    said = told(bare(2.0), cores(1, 0.5), places=waves).text
    assert "near 0.1 m, near 0.3 m, near 0.5 m, near 0.7 m and in places further on" in said


def test_where_nothing_can_be_recommended_the_reader_is_told_where_a_few_cores_would_do() -> None:
    there = (Moved(0.05, 3.0), Moved(0.1, 2.6), Moved(2.0, 0.8, near=False))
    text = told(bare(2.0), cores(1, 5.0), places=there).text
    assert "A few of the study's first cores, all at one point, were tried at 3 places" in text
    assert "enough near 2.0 m" in text
    assert "The same" not in text
    # Nothing is said of places where nothing is needed.
    assert "A few of" not in told(bare(0.5), cores(1, 0.2), places=there).text
