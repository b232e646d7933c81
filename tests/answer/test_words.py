"""The answer in words: every sentence is held against the numbers that it was made of."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.lengths import lengths_in
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.answer.phrases import (
    clipped,
    count_of,
    hundredths,
    named,
    of_hundred,
    own_name,
    standing,
    standing_of,
)
from pipeline.answer.ranking import above, differs, is_unsound, passed_over, risky, turning
from pipeline.answer.record import SURE, Answer, Candidate, Chance, Range
from pipeline.answer.words import MOST_OF_HEADLINE, MOST_WORDS, Said, said
from pipeline.solver.cases import IDEAL, NO_FEEDLINE, NONE
from pipeline.text.formatting import decibels
from tests.harness.made_answers import SEEDS, made_answer

pytestmark = pytest.mark.takes(10)

MANY = settings(max_examples=80, deadline=None)
CHANCES = st.builds(Chance, st.floats(0, 1), st.floats(0, 0.2))
ENDS = st.tuples(*[st.floats(-50, 50)] * 3).map(sorted)
RANGES = ENDS.map(lambda ends: Range(ends[1], *ends))
OF_HUNDRED = r"((?:more than |fewer than |just under )?\d+)"
RANKS = re.compile(r"\b(better|best|cheapest|dearest|surer|surest|stronger|strongest|worst)\b")


def told(answer: Answer) -> Said:
    with lengths_in(answer.study.lengths):
        return said(answer)


def short_part(found: Said) -> str:
    return " ".join([found.headline, *(t.text for t in found.numbers), *found.sentences])


def every_text(found: Said) -> Iterator[str]:
    yield found.headline
    yield from found.sentences
    yield from found.questions.values()


def holds(words: str, chance: float) -> bool:
    """Whether a chance in words is so, read as a reader reads it."""
    number = int(words.split()[-1]) / 100
    if words.startswith("more than"):
        return chance > number
    if words.startswith("fewer than"):
        return chance < number
    if words.startswith("just under"):
        return number - 0.01 < chance < number
    return abs(chance - number) <= 0.005 + 1e-9 and (chance >= SURE) == (number >= SURE)


def matched(pattern: str, text: str) -> tuple[str, ...]:
    match = re.search(pattern, text)
    assert match is not None, f"{pattern!r} is not in {text!r}"
    return match.groups()


def names_of(candidate: Candidate) -> list[str]:
    """Every way in which a candidate may be named, the longest first."""
    choke = candidate.case.choke
    found = [named(candidate.case), candidate.case.label]
    found += [] if choke is None else [choke.short]
    return [own_name(name) for name in found]


def is_named(candidate: Candidate, text: str, answer: Answer) -> bool:
    """Whether a name, or the beginning of one that is cut, stands in a text."""
    with lengths_in(answer.study.lengths):
        names = names_of(candidate)
    return any(clipped(name, most) in text for name in names for most in range(3, 40))


# Laws: length and form


@MANY
@given(SEEDS)
def test_what_stands_above_the_first_picture_is_short(seed: int) -> None:
    found = told(made_answer(seed))
    assert count_of(found.headline) <= MOST_OF_HEADLINE
    assert count_of(short_part(found)) <= MOST_WORDS
    assert short_part(found).split() == found.text.split()
    assert [t.name for t in found.numbers] == ["station_ratio", "mean_gain_dbi", "swr"]


@MANY
@given(SEEDS)
def test_every_sentence_begins_and_ends_as_one_and_has_no_gaps(seed: int) -> None:
    found = told(made_answer(seed))
    for text in every_text(found):
        assert text.endswith(".")
        assert text[0].isupper() or not text[0].isalpha()
        assert "  " not in text
        assert not re.search(r"\.\.|,,|;;| [,;.]|\bnan\b|\binf\b|None|\(\)|\bcenter|meters", text)
    for question, text in found.questions.items():
        assert question.endswith("?")
        # Two sorts of core whose size no print gives are two sentences among the checks.
        assert len(re.findall(r"\.(?= [A-Z]|$)", text)) <= 5, text
    assert {"As described?", "How sure?", "What did the checks say?"} <= found.questions.keys()
    none_needed = found.headline.endswith("No choke is needed.")
    assert not none_needed or not {"How many?", "Where?"} & found.questions.keys()


# Laws: what to do


@MANY
@given(SEEDS)
def test_the_headline_says_what_the_numbers_say(seed: int) -> None:
    answer = made_answer(seed)
    found, best = told(answer).headline, answer.best
    assert ("No choke is needed" in found) == (answer.chosen == NONE and answer.enough)
    assert ("is enough" in found) == (not answer.enough)
    assert found.startswith("Not to be relied on") == any(
        c.grade == "unsound" for c in (answer.bare, answer.ideal)
    )
    barred = not answer.enough and bool(passed_over(answer))
    assert ("Nothing that may be taken" in found) == barred
    if answer.chosen != NONE:
        assert is_named(best, found, answer)
        assert not best.barred
        assert best.chances["worse"].value <= 1 - SURE + 1e-9


@MANY
@given(SEEDS)
def test_how_many_where_and_what_it_costs_speak_of_what_is_taken(seed: int) -> None:
    answer = made_answer(seed)
    questions, choke = told(answer).questions, answer.best.case.choke
    if choke is not None and not choke.is_counted:
        assert not {"How many?", "Where?"} & questions.keys()
    for question in {"How many?", "Where?"} & questions.keys():
        with lengths_in(answer.study.lengths):
            assert choke is None or choke.part.lower() in questions[question].lower()
    dearer = [p for p in answer.front if p.id != answer.chosen and p.cost > cost_of(answer)]
    if answer.enough and choke is not None:
        # What costs more buys nothing that is wanted.
        assert not any(f"{own_name(p.label)}: enough" in questions["What does it cost?"]
                       for p in dearer if not any(
                           own_name(q.label) == own_name(p.label) and q.cost < cost_of(answer)
                           for q in answer.front))  # fmt: skip


def cost_of(answer: Answer) -> float:
    """Cost of what is taken, as on the front; nothing is dearer than what is not there."""
    return next((p.cost for p in answer.front if p.id == answer.chosen), math.inf)


@MANY
@given(SEEDS)
def test_a_cheaper_choke_of_another_kind_is_the_surest_there_is(seed: int) -> None:
    answer = made_answer(seed)
    text = told(answer).questions.get("What does it cost?", "")
    by_price = bool(answer.currency)

    def paid(c: Candidate) -> float:
        price = c.case.choke.price if by_price else c.pieces + c.case.choke.pieces_beside
        return math.inf if price is None or c.case.choke.currency != answer.currency else price

    def alike(c: Candidate) -> bool:
        mine, own = c.case.choke, answer.best.case.choke
        return (mine.kind, {k.material for k in mine.cores}) == (
            own.kind, {k.material for k in own.cores})  # fmt: skip

    found = re.search(r"Cheaper and of another kind: (.*), for .*?, enough in ([^;]*)\.$", text)
    others = [] if answer.chosen == NONE else [
        c for c in answer.candidates.values()
        if c.case.choke and c.id != IDEAL and not c.barred and not is_unsound(c)
        and not alike(c) and (not by_price or paid(c) < paid(answer.best))
    ]  # fmt: skip
    if found is None:
        return
    said_of = [c for c in others if named_in(answer, c) == found[1]]
    assert said_of
    assert any(holds(found[2].removesuffix(" of 100"), c.enough.value) for c in said_of)
    if by_price:
        surest = max(c.enough.value for c in others)
        assert any(c.enough.value == surest for c in said_of)
        assert surest > answer.bare.enough.value


def named_in(answer: Answer, candidate: Candidate) -> str:
    """A candidate as the answer's own sentences name it."""
    with lengths_in(answer.study.lengths):
        return named(candidate.case)


@MANY
@given(SEEDS)
def test_only_the_one_to_take_is_to_be_put_on(seed: int) -> None:
    answer = made_answer(seed)
    found = told(answer)
    assert ("Put" in found.headline) == (answer.enough and answer.chosen != NONE)
    assert "Put" not in " ".join([*found.sentences, *found.questions.values()])
    assert not re.search(r"\bneeds?\b", short_part(found))
    others = found.headline + found.how_sure
    assert ("needed" in others) == (answer.chosen == NONE and answer.enough)


@MANY
@given(SEEDS)
def test_a_word_that_ranks_stands_only_on_a_difference(seed: int) -> None:
    answer = made_answer(seed)
    found = told(answer)
    for word in RANKS.findall(" ".join(every_text(found))):
        if word == "best":
            others = [c for c in answer.candidates.values() if c.may_be_taken and not c.barred]
            assert all(
                above(answer.best.enough, c.enough)
                for c in others
                if c is not answer.best and not (is_unsound(c) and c.id != NONE)
            )
        else:
            assert word == "surer"
            assert "are no surer" in found.questions["How many?"]
    for text in every_text(found):
        for words in re.findall(r"more than (\w+)", text.lower()):
            ends = (f"more than {words} are no surer", f"more than {words} are not needed")
            assert words == "99" or any(end in text.lower() for end in ends)


# Laws: numbers


@MANY
@given(SEEDS)
def test_the_three_numbers_are_the_figures_of_the_one_to_take(seed: int) -> None:
    answer = made_answer(seed)
    for tile in told(answer).numbers:
        of, bare = answer.best.figures[tile.name], answer.bare.figures[tile.name]
        assert (tile.stated, tile.low, tile.high) == (of.stated, of.low, of.high)
        assert tile.without == bare.stated
        assert (tile.before == "") == (answer.chosen == NONE)
        shown = {
            "station_ratio": f"{100 * of.stated:.0f} %",
            "mean_gain_dbi": f"{decibels(of.stated)} dBi",
            "swr": f"{of.stated:.2f}",
        }
        if tile.name != "station_ratio" or of.stated > 0.1:
            assert tile.value in (shown[tile.name], "over 100")
        assert tile.between.count(" to ") == 1
        assert tile.value in tile.text


@MANY
@given(SEEDS)
def test_how_sure_says_the_chances_with_and_without_a_choke(seed: int) -> None:
    answer = made_answer(seed)
    found, best, bare = told(answer).how_sure, answer.best, answer.bare
    if "unsound" in (bare.grade, answer.ideal.grade):
        assert found.startswith("Unsound: ")
        return
    word = "Harmless" if answer.chosen == NONE else "Enough"
    (chance,) = matched(rf"^{word} in {OF_HUNDRED} of 100 installations like yours", found)
    assert holds(chance, best.enough.value)
    if answer.chosen != NONE:
        (without,) = matched(rf"\({OF_HUNDRED} without a choke\)", found)
        assert holds(without, bare.enough.value)
    assert ("where 95 are wanted" in found) == (not answer.enough)
    also = re.search(rf"enough would be .*, in {OF_HUNDRED}\.$", found)
    if also:
        enough = [i.enough.value for i in answer.instead if i.enough.value >= SURE]
        assert any(holds(also[1], chance) for chance in enough)
    also = re.search(rf"even an ideal choke is enough in {OF_HUNDRED}\.$", found)
    if also:
        assert holds(also[1], answer.ideal.enough.value)
    if found.endswith("nothing else that was computed is enough."):
        assert not any(i.enough.value >= SURE for i in answer.instead)
        assert not passed_over(answer)


@MANY
@given(SEEDS)
def test_what_passed_its_checks_only_in_part_says_so_on_the_first_screen_and_below(
    seed: int,
) -> None:
    answer = made_answer(seed)
    found, part = told(answer), "evidence only usable"
    grades = {c.grade for c in (answer.bare, answer.ideal, answer.best)}
    is_usable = "usable" in grades and "unsound" not in grades
    assert (part in found.how_sure) == is_usable
    below = found.questions["What did the checks say?"]
    assert ("passed the checks only in part" in below) == is_usable
    assert ("passed every check" in below) == (grades == {"sound"})


@MANY
@given(SEEDS)
def test_what_would_change_it_is_what_turns_it(seed: int) -> None:
    answer = made_answer(seed)
    found = told(answer).how_sure
    causes = turning(answer)
    if "what would change it" not in found:
        assert not causes or "Unsound" in found
        return
    measures = {u.name: u.measure for u in answer.unknowns}
    assert found.endswith(f"; first {measures[causes[0].name]}.")
    assert causes[0].label.split(" (1: ")[0] in found
    for cause in causes:
        of_bare = any(c is cause for c in answer.causes[NONE])
        assert cause.turns
        assert cause.low < SURE or (of_bare and cause.high >= SURE)


@MANY
@given(SEEDS)
def test_why_names_the_change_that_counts_and_how_large_it_is(seed: int) -> None:
    answer = made_answer(seed)
    found, bare = told(answer).why, answer.bare
    assert FIGURES[bare.driver].words in found or bare.driver == "station_ratio"
    low, high = matched(r"([\d.]+)(?: to ([\d.]+))? times what is just visible", found)
    change = bare.changes[bare.driver]
    assert float(low) == pytest.approx(change.low, abs=0.051)
    assert float(high or low) == pytest.approx(change.high, abs=0.051)


@MANY
@given(SEEDS)
def test_what_is_to_be_avoided_is_worse_often_enough_and_not_what_is_taken(seed: int) -> None:
    answer = made_answer(seed)
    found, candidates = told(answer).avoid, risky(answer)
    if not found:
        assert not candidates or "unsound" in (answer.bare.grade, answer.ideal.grade)
        return
    first = candidates[0]
    assert is_named(first, found, answer)
    assert answer.chosen not in {c.id for c in candidates}
    low, high = matched(rf"worse than none in {OF_HUNDRED}(?: to {OF_HUNDRED})? of 100", found)
    chances = [c.chances["worse"].value for c in candidates]
    assert any(holds(low, chance) for chance in chances)
    assert high is None or any(holds(high, chance) for chance in chances)
    assert min(chances) > 0.1
    assert all(w.value - 2 * w.error > 0.05 for w in (c.chances["worse"] for c in candidates))
    assert not any(is_unsound(c) for c in candidates)
    coils = [bool(c.case.choke and c.case.choke.hangs_on_making) for c in candidates]
    assert coils == sorted(coils, reverse=True)


@MANY
@given(SEEDS)
def test_as_described_is_a_place_among_the_draws(seed: int) -> None:
    answer = made_answer(seed)
    found = told(answer).questions["As described?"]
    sizes = re.findall(r"([\d.]+) (?:of|times) what is just visible", found)
    places = re.findall(rf"larger than in {OF_HUNDRED} of 100", found)
    of = [answer.bare] if answer.chosen == NONE else [answer.bare, answer.best]
    for size, place, c in zip(sizes, places, of, strict=True):
        assert float(size) == pytest.approx(c.score.stated, abs=0.051)
        assert holds(place, c.place)


# Laws: how a candidate stands


VOCABULARY = re.compile(
    r"reference|unsound|no cable|harmless( in .+ of 100)?|enough( in .+ of 100)?|enough, but .+|"
    r"helps in .+ of 100|(may be )?worse than none in .+ of 100|as good as none"
)


@MANY
@given(SEEDS)
def test_how_a_candidate_stands_is_what_its_chances_say(seed: int) -> None:
    answer = made_answer(seed)
    assert standing_of(NO_FEEDLINE, answer) == "no cable"
    for c in answer.candidates.values():
        words = standing(c, answer)
        assert VOCABULARY.fullmatch(words)
        assert (words == "reference") == (c.id == IDEAL)
        if c.id == IDEAL or is_unsound(c):
            continue
        assert (words == "enough" or words.startswith("enough, but")) == (
            c.is_enough and c.id != NONE
        )
        assert words.startswith("harmless") == (c.id == NONE)
        kinds = {"worse than none": c.chances["worse"], "enough": c.enough, "harmless": c.enough}
        kinds |= {"helps": c.better, "may be worse than none": c.chances["worse"]}
        if "worse than none" in words:
            # Two standard errors below it the chance is still above five of a hundred.
            worse = c.chances["worse"]
            assert words.startswith("may be") == (worse.value - 2 * worse.error <= 0.05 + 1e-9)
        said_chance = re.search(rf"^(.+) in {OF_HUNDRED} of 100$", words)
        if said_chance:
            assert holds(said_chance[2], kinds[said_chance[1]].value)
        if words == "as good as none":
            assert not differs(c.enough, answer.bare.enough)
            assert c.better.value < 0.05 or c.chances["worse"].value > c.better.value


@MANY
@given(SEEDS)
def test_what_is_taken_never_stands_as_worse(seed: int) -> None:
    answer = made_answer(seed)
    words = standing(answer.best, answer)
    if answer.enough:
        assert words in ("enough", "harmless", "unsound")
    assert "worse" not in words


# Laws: chances in words, and differences


@given(st.floats(0, 1))
def test_a_chance_in_words_is_true_and_never_certain(chance: float) -> None:
    assert holds(hundredths(chance), chance)
    assert of_hundred(chance) not in ("100 of 100", "0 of 100")


@given(CHANCES, CHANCES)
def test_chances_differ_both_ways_or_not_at_all(a: Chance, b: Chance) -> None:
    assert differs(a, b) == differs(b, a)
    assert not differs(a, a)
    assert above(a, b) + above(b, a) == differs(a, b)


@given(RANGES, RANGES)
def test_ranges_differ_both_ways_or_not_at_all(a: Range, b: Range) -> None:
    assert differs(a, b) == differs(b, a)
    assert not differs(a, a)


def test_two_chances_differ_from_two_standard_errors_of_their_difference_on() -> None:
    # Two independent errors of 3 and 4 points are 5 together (JCGM 100:2008, 5.1.2).
    a = Chance(0.5, 0.03)
    assert not differs(a, Chance(0.599, 0.04))
    assert differs(a, Chance(0.601, 0.04))


def test_a_chance_is_not_compared_with_a_range() -> None:
    with pytest.raises(TypeError, match="a chance is compared with a chance"):
        differs(Chance(0.5, 0.1), Range(1.0, 1.0, 1.0, 1.0))
