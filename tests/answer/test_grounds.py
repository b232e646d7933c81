"""Every sentence of an answer has its ground, and its ground holds every number that it prints."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from hypothesis import given, settings

from models.lengths import large, lengths_in, small
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.answer import questions
from pipeline.answer.grounds import CANDIDATES, CORES, SUMMARY, Key, grounds, producers
from pipeline.answer.phrases import hundredths
from pipeline.answer.record import Answer
from pipeline.article.claims import value_at
from pipeline.report.answer_tables import candidate_rows, core_rows
from pipeline.text.formatting import fixed, in_words, percent, times
from tests.harness.made_answers import SEEDS, made_answer, summary_of

pytestmark = pytest.mark.takes(8)

MANY = settings(max_examples=25, deadline=None)
NUMBER = re.compile(r"\d+(?:[.,]\d+)*(?:/\d+)?")
# Numbers that no key has: the hundred that chances are of, a bound, a count of what is not named.
FIXED = {"100"}
UNNAMED = re.compile(r"under 0\.1|; \d+ more\.$")


class Values:
    """What stands at the places of an answer's numbers, as its summary and tables have it."""

    def __init__(self, answer: Answer) -> None:
        self.summary = summary_of(answer)
        self.tables = {CANDIDATES: candidate_rows(answer), CORES: core_rows(answer)}

    def at(self, key: Key) -> Any:
        if key.file == SUMMARY:
            return value_at(self.summary, key.place)
        found = re.fullmatch(r"(\w+)=(.*), (\w+)", key.place)
        assert found is not None
        (row,) = [row for row in self.tables[key.file] if row[found[1]] == found[2]]
        return row[found[3]]

    def numbers(self, keys: Iterable[Key]) -> set[str]:
        """All numbers that may be printed of them."""
        values = [self.at(key) for key in keys]
        return FIXED | {n for v in values for form in forms(v) for n in printed(form)}


def forms(value: Any) -> Iterator[str]:
    """Every way in which a value may be printed."""
    if isinstance(value, str):
        yield value
        # A name of a figure of merit stands for its words.
        yield FIGURES[value].words if value in FIGURES else ""
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield from (percent(value), hundredths(value), times(value), in_words(abs(round(value))))
        yield from (fixed(value, k) for k in (0, 1, 2))
        yield from (fixed(100 * value, 1), large(value), large(value, 1), small(value))


def printed(text: str) -> set[str]:
    return set(NUMBER.findall(text))


def check(answer: Answer) -> None:
    with lengths_in(answer.study.lengths):
        values, found = Values(answer), grounds(answer)
        for ground in found:
            known = values.numbers(ground.keys)
            assert printed(UNNAMED.sub("", ground.sentence)) <= known, ground
            assert ground.producer in producers()
    data = values.summary["answer"]
    told = {part: [g.sentence for g in found if g.part == part] for part in (g.part for g in found)}
    # All that is said, in the order in which it is said, and nothing else.
    assert told.pop("headline") == [data["headline"]]
    assert told.pop("why") == [data["why"]]
    assert told.pop("how sure") == [data["how_sure"]]
    assert told.pop("avoid", [""]) == [data["avoid"]]
    assert "\n".join(told.pop("numbers")) in data["text"]
    assert {part: " ".join(texts) for part, texts in told.items()} == data["questions"]


# Laws


@MANY
@given(SEEDS)
def test_every_number_of_every_sentence_is_one_that_it_rests_on(seed: int) -> None:
    check(made_answer(seed))


def test_everything_that_says_something_has_its_line() -> None:
    said = [producer for each in questions.QUESTIONS.values() for producer in each]
    assert len(said) == len(set(said))
    named = {name.removeprefix("questions.") for name in producers() if "questions." in name}
    assert named == {producer.__name__ for producer in said}


# Edges


def test_a_number_without_a_ground_would_be_found() -> None:
    answer = made_answer(1)
    with lengths_in(answer.study.lengths):
        ground = next(g for g in grounds(answer) if g.part == "numbers")
        known = Values(answer).numbers(ground.keys[4:5])
    assert not printed(ground.sentence) <= known
