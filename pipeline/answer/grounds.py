"""The numbers that each sentence of an answer rests on, by the function that says it.

An :class:`Answer` in, a :class:`Ground` for each sentence out. A function of :mod:`questions` that
says something stands in :data:`_KEYS` with the numbers that it says it of, or nothing can be told.
Numbers are named by where they stand: in ``summary.json`` by a path [1]_, in a table by
``column=value, column``.

References
----------
.. [1] S. Goessner, G. Normington, C. Bormann (eds.), "JSONPath: Query Expressions for JSON", RFC
   9535, 2024: names, and one filter on the value of a name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

from pipeline.answer import questions
from pipeline.answer.questions import MOST_TURNS, QUESTIONS, Producer, sentences_on
from pipeline.answer.ranking import passed_over, risky, turning
from pipeline.answer.record import Answer, Candidate, Cause
from pipeline.answer.words import Said, said
from pipeline.solver.cases import NONE

SUMMARY = "summary.json"
CANDIDATES, CORES = "tables/candidates.csv", "tables/cores.csv"


@dataclass(frozen=True)
class Key:
    """One number, or word, that a sentence rests on: its file in the results, its place there."""

    place: str
    file: str = SUMMARY


@dataclass(frozen=True)
class Ground:
    """A sentence and what it rests on.

    ``part`` is where it stands: a part of the answer or the question it answers. ``producer`` is
    the function that says it, in this room.
    """

    part: str
    sentence: str
    producer: str
    keys: tuple[Key, ...]


def grounds(answer: Answer) -> list[Ground]:
    """Every sentence of an answer in the order in which it is told, with what it rests on."""
    found = said(answer)
    told = [*_short(found, answer), *_questions(answer)]
    return [g for g in told if g.sentence]


def _short(found: Said, answer: Answer) -> Iterator[Ground]:
    """What stands above the first picture."""
    yield Ground("headline", found.headline, "words.headline", _unique(_headline(answer)))
    for tile in found.numbers:
        keys = _unique(_number(tile.name, answer))
        yield Ground("numbers", tile.text, "words.numbers", keys)
    yield Ground("why", found.why, "words.why", _unique(_why(answer)))
    yield Ground("how sure", found.how_sure, "words.how_sure", _unique(_how_sure(answer)))
    yield Ground("avoid", found.avoid, "words.avoid", _unique(_avoid(answer)))


def _questions(answer: Answer) -> Iterator[Ground]:
    """Answers to questions, a ground for each function that says something."""
    for question in QUESTIONS:
        for producer, text in sentences_on(question, answer).items():
            keys = _unique(_KEYS[producer](answer))
            yield Ground(question, text, f"questions.{producer.__name__}", keys)


def grounds_data(answer: Answer) -> dict[str, Any]:
    """The same as plain data, for ``grounds.json`` among the results."""
    return {"sentences": [asdict(ground) for ground in grounds(answer)]}


def producers() -> tuple[str, ...]:
    """Names of all functions that say something of an answer."""
    short = tuple(f"words.{name}" for name in ("headline", "numbers", "why", "how_sure", "avoid"))
    return short + tuple(f"questions.{producer.__name__}" for producer in _KEYS)


def _unique(places: Iterable[str | Key]) -> tuple[Key, ...]:
    found = (Key(place) if isinstance(place, str) else place for place in places)
    return tuple(dict.fromkeys(found))


# Places of the summary


def _quoted(name: str) -> str:
    """A name as a string of a path."""
    escaped = name.replace("\\", "\\\\").replace("'", "\\'")
    return f"'{escaped}'"


def _of(name: str, *keys: str) -> Iterator[str]:
    """Places of a candidate's numbers, by its id."""
    for key in keys:
        yield f"$.answer.candidates[?@.id=={_quoted(name)}].{key}"


def _enough(found: Candidate) -> Iterator[str]:
    yield from _of(found.id, "named", "label", "enough")


def _range(name: str, of: str) -> Iterator[str]:
    yield from _of(name, *(f"{of}.{end}" for end in ("stated", "low", "high")))


def _cause(case: str, cause: Cause, *keys: str) -> Iterator[str]:
    """Places of what is known of a cause, by its label, which it alone has."""
    for key in ("label", *keys):
        at = f"$.answer.causes[{_quoted(case)}].unknowns[?@.label=={_quoted(cause.label)}]"
        yield f"{at}.{key}"


def _unknown(name: str, *keys: str) -> Iterator[str]:
    for key in keys:
        yield f"$.answer.unknowns[?@.name=={_quoted(name)}].{key}"


def _grades(answer: Answer) -> Iterator[str]:
    """What the answer rests on passed which checks."""
    for found in (answer.bare, answer.ideal, answer.best):
        yield from _of(found.id, "grade")


# The short part


def _headline(answer: Answer) -> Iterator[str]:
    yield from ("$.answer.chosen", "$.answer.enough", "$.answer.chance", "$.answer.sure")
    yield from _of(answer.chosen, "named", "name", "pieces")
    yield from _grades(answer)


def _number(name: str, answer: Answer) -> Iterator[str]:
    for key in ("stated", "low", "high", "without"):
        yield f"$.answer.numbers[?@.name=={_quoted(name)}].{key}"
    yield from _range(answer.chosen, f"figures.{name}")
    yield from _of(NONE, f"figures.{name}.stated")


def _why(answer: Answer) -> Iterator[str]:
    yield from _of(NONE, "figures.station_ratio.stated", "driver")
    yield from _of(NONE, *(f"changes.{answer.bare.driver}.{end}" for end in ("low", "high")))


def _how_sure(answer: Answer) -> Iterator[str]:
    yield from _of(answer.chosen, "enough")
    yield from _of(NONE, "enough")
    yield "$.answer.sure"
    yield from _grades(answer)
    for cause in turning(answer):
        yield from _cause(_case_of(cause, answer), cause, "turns")
        yield from _unknown(cause.name, "measure")
    if not answer.enough:
        yield from _tried(answer)
        yield from _of(answer.ideal.id, "enough")
        for other in passed_over(answer):
            yield from _of(other.id, "name", "barred", "enough")


def _case_of(cause: Cause, answer: Answer) -> str:
    """The case that a cause belongs to."""
    return NONE if cause in answer.causes.get(NONE, ()) else answer.chosen


def _tried(answer: Answer) -> Iterator[str]:
    for way in questions.ways(answer):
        at = f"$.answer.instead[?@.what=={_quoted(way.what)}]"
        yield from (f"{at}.{key}" for key in ("what", "with_choke", "label", "enough"))


def _avoid(answer: Answer) -> Iterator[str]:
    for found in risky(answer):
        yield from _of(found.id, "name", "worse", "worse_error", "driver")


# Questions


def _how_many(answer: Answer) -> Iterator[str]:
    for found in questions.counts(answer):
        yield from _enough(found)
        yield from _of(found.id, "enough_error", "pieces")


def _places(answer: Answer) -> Iterator[str]:
    for found in questions.at_places(answer):
        yield from _enough(found)


def _shares(answer: Answer) -> Iterator[str]:
    if not answer.unknowns:
        # How many there are.
        yield "$.answer.unknowns"
    told = questions.told_causes(answer)
    for cause in told or answer.causes.get(NONE, ()):
        yield from _cause(NONE, cause, "share", "noise")


def _turns(answer: Answer) -> Iterator[str]:
    ends = ("enough_least", "least_at", "enough_most", "most_at")
    for cause in turning(answer)[:MOST_TURNS]:
        yield from _cause(_case_of(cause, answer), cause, *ends)


def _errors(answer: Answer) -> Iterator[str]:
    yield from ("$.answer.geometries", "$.answer.draws")
    yield from _of(answer.chosen, "enough_error")
    yield from _of(NONE, "enough_error")


def _as_described(answer: Answer) -> Iterator[str]:
    yield from _of(NONE, "score.stated", "place")
    yield from _of(answer.chosen, "score.stated", "place")


def _cost(answer: Answer) -> Iterator[str | Key]:
    yield from _of(answer.chosen, "price", "pieces", "heat")
    if answer.best.price is None and answer.chosen in {point.id for point in answer.front}:
        # Without a price it is counted, and the count is what the front has.
        yield from _front(answer.chosen)
    yield Key(f"case={answer.chosen}, own_cable_m", CANDIDATES)


def _front(name: str) -> Iterator[str]:
    at = f"$.answer.front[?@.id=={_quoted(name)}]"
    yield from (f"{at}.{key}" for key in ("label", "cost", "enough"))


def _cut_length(answer: Answer) -> Iterator[str]:
    at = f"$.cases[?@.id=={_quoted(answer.chosen)}].choke"
    yield from (f"{at}.{key}" for key in ("length_m", "mouth"))


def _pieces(answer: Answer) -> Iterator[str]:
    yield from _of(answer.chosen, "pieces", "named")


def _on_the_front(answer: Answer) -> Iterator[str]:
    yield "$.answer.currency"
    for point in (p.id for p in questions.neighbours(answer)):
        yield from _front(point)


def _another_kind(answer: Answer) -> Iterator[str]:
    yield "$.answer.currency"
    for found in (answer.best, questions.cheaper_of_another_kind(answer)):
        if found is not None:
            yield from _enough(found)
            yield from _of(found.id, "price", "pieces")


def _enough_too(answer: Answer) -> Iterator[str]:
    for found in questions.also_enough(answer):
        yield from _enough(found)


def _not_taken(answer: Answer) -> Iterator[str]:
    for found in passed_over(answer):
        yield from _of(found.id, "named", "barred", "enough")


def _no_other(answer: Answer) -> Iterator[str]:
    yield from ("$.answer.tried", "$.answer.sure")


def _not_printed(answer: Answer) -> Iterator[Key]:
    choke = answer.best.case.choke
    for core in () if choke is None else choke.cores:
        for column in ("label", "z_low_ohm", "z_high_ohm", "known_from"):
            yield Key(f"core={core.id}, {column}", CORES)


def _left_out(answer: Answer) -> Iterator[str]:
    for found in questions.never_taken(answer):
        yield from _of(found.id, "label", "grade")


def _on_fewer(answer: Answer) -> Iterator[str]:
    yield "$.answer.geometries"
    for found in questions.of_fewer(answer):
        yield from _of(found.id, "label", "geometries")


# Places of what each function says; a new one of QUESTIONS has its line here.
_KEYS: dict[Producer, Callable[[Answer], Iterable[Any]]] = {
    questions.how_many: _how_many,
    questions.places: _places,
    questions.shares: _shares,
    questions.turns: _turns,
    questions.errors: _errors,
    questions.as_described: _as_described,
    questions.cost: _cost,
    questions.cut_length: _cut_length,
    questions.solid_cores: _pieces,
    questions.on_the_front: _on_the_front,
    questions.another_kind: _another_kind,
    questions.enough_too: _enough_too,
    questions.not_taken: _not_taken,
    questions.tried_instead: _tried,
    questions.no_other: _no_other,
    questions.checks: _grades,
    questions.not_printed: _not_printed,
    questions.left_out: _left_out,
    questions.on_fewer: _on_fewer,
}
