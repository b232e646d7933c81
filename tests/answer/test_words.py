"""The answer in words: every sentence is held against the numbers that it was made of."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.lengths import lengths_in
from pipeline.answer.facts import Answer, Chance
from pipeline.answer.phrases import count_of
from pipeline.answer.words import MOST_OF_HEADLINE, MOST_WORDS, Said, said
from tests.harness.made_answers import answers

pytestmark = pytest.mark.takes(20)

MANY = settings(max_examples=150, deadline=None)
chances = st.builds(Chance, st.floats(0, 1), st.floats(0, 0.2))
NUMBER = re.compile(r"(?<![\w.])[−-]?\d+(?:\.\d+)?")
RANKS = ("better", "best", "cheapest", "dearest", "surer", "surest", "stronger", "strongest")


def told(answer: Answer) -> Said:
    with lengths_in(answer.study.lengths):
        return said(answer)


def short_part(found: Said) -> str:
    return " ".join([found.headline, *(t.text for t in found.numbers), *found.sentences])


def every_text(found: Said) -> Iterator[str]:
    yield found.headline
    yield from found.sentences
    yield from found.questions.values()


# Laws: length and form


@MANY
@given(answers())
def test_what_stands_above_the_first_picture_is_short(answer: Answer) -> None:
    found = told(answer)
    assert count_of(found.headline) <= MOST_OF_HEADLINE
    assert count_of(short_part(found)) <= MOST_WORDS
    assert [t.name for t in found.numbers] == ["station_ratio", "mean_gain_dbi", "swr"]


@MANY
@given(answers())
def test_every_sentence_begins_and_ends_as_one_and_has_no_gaps(answer: Answer) -> None:
    found = told(answer)
    for text in every_text(found):
        assert text.endswith(".")
        assert text[0].isupper() or not text[0].isalpha()
        assert "  " not in text
        assert not re.search(r"\.\.|,,|;;| [,;.]|nan|inf\b|None|\(\)", text)
    assert {"As described?", "How sure?", "What did the checks say?"} <= found.questions.keys()
