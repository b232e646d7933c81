"""The answer in words: what to do, three numbers, why, how sure, what to avoid; then questions.

An :class:`Answer` in, sentences out; nothing is worked out here but what is said of it. All that
stands above the first picture has at most :data:`MOST_WORDS` words. A word that ranks stands only
where the difference is larger than chance (:func:`phrases.differs`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.answer.phrases import (
    barred_words,
    clipped,
    count_of,
    hundredths,
    named,
    of_hundred,
    own_name,
    short_name,
)
from pipeline.answer.questions import answers_to_questions
from pipeline.answer.ranking import (
    RARE,
    above,
    basis_grade,
    passed_over,
    risky,
    rivals,
    turning,
    unsound_basis,
)
from pipeline.answer.record import SURE, Answer, Candidate, Cause, Range
from pipeline.solver.cases import NONE
from pipeline.text.formatting import decibels, fixed, in_words, listed, percent

# Above the first picture, and in the headline.
MOST_WORDS, MOST_OF_HEADLINE = 150, 25
# Words of a name below the headline, of another way with its choke, of all causes that are named.
_SHORT_NAME, _WAY, _CAUSES = 11, 16, 10
# Fewer words of a name say nothing.
_LEAST_NAME = 3
# Below this share of the feed current nothing reaches a radio, as when its case floats.
_NOTHING = 5e-4
# Above this a standing wave ratio is no number to a reader.
_MOST_SWR = 100.0


@dataclass(frozen=True)
class Tile:
    """One of the three numbers: as described, its 95 % range over the draws, and without a choke.

    ``name`` is that of the figure of merit; ``value``, ``between`` and ``before`` are the numbers
    as they are printed, the last empty where no choke is taken.
    """

    name: str
    label: str
    stated: float
    low: float
    high: float
    without: float
    value: str
    between: str
    before: str

    @property
    def text(self) -> str:
        """The number in one line."""
        without = f", without {self.before}" if self.before else ""
        return f"{self.label}: {self.value} ({self.between}){without}"


@dataclass(frozen=True)
class Said:
    """Everything that an answer says, the short part first; ``avoid`` is empty where nothing is.

    ``questions`` are questions of a reader with their answers, in the order in which they are
    asked.
    """

    headline: str
    numbers: tuple[Tile, ...]
    why: str
    how_sure: str
    avoid: str
    questions: Mapping[str, str]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Sentences below the numbers."""
        return tuple(text for text in (self.why, self.how_sure, self.avoid) if text)

    @property
    def text(self) -> str:
        """Headline, numbers and sentences as one text."""
        numbers = "\n".join(tile.text for tile in self.numbers)
        return "\n\n".join((self.headline, numbers, *self.sentences))


def said(answer: Answer) -> Said:
    """An answer in words; lengths are worded as the reader has them (:mod:`models.lengths`)."""
    tiles = numbers(answer)
    first = (headline(answer), *(tile.text for tile in tiles), why(answer), how_sure(answer))
    left = MOST_WORDS - count_of(" ".join(first))
    return Said(
        headline=first[0],
        numbers=tiles,
        why=first[-2],
        how_sure=first[-1],
        avoid=avoid(answer, left),
        questions=answers_to_questions(answer),
    )


# What to do


def headline(answer: Answer) -> str:
    """What to do, in at most :data:`MOST_OF_HEADLINE` words."""
    best, choke = answer.best, answer.best.case.choke
    doubt = "Not to be relied on: " if unsound_basis(answer) else ""
    if best.id == NONE:
        no = "No choke is needed."
        return f"{doubt}{no if answer.enough else f'{_nothing(answer)} is enough; go without.'}"
    if not answer.enough:
        start = f"{doubt}{_nothing(answer)} is enough; {_rank(answer)}:"
    else:
        start = f"{doubt}{'Put' if choke and choke.is_counted else 'Put on the cable:'}"
    left = MOST_OF_HEADLINE - count_of(start)
    name = named(best.case)
    return f"{start} {name if count_of(name) <= left else short_name(best.case, left)}."


def _nothing(answer: Answer) -> str:
    """Subject of the sentence that nothing is enough: something barred may well be."""
    return "Nothing that may be taken" if passed_over(answer) else "Nothing tried"


def _rank(answer: Answer) -> str:
    """Rank of a choice that is not enough: the best only where no other comes near."""
    best = answer.best
    others = [c for c in rivals(answer) if c.id != best.id]
    if all(above(best.enough, c.enough) for c in others):
        return "best"
    if above(best.enough, answer.bare.enough) or best.better.value >= RARE:
        return "as good as any"
    return "as good as none"


# Three numbers


def numbers(answer: Answer) -> tuple[Tile, ...]:
    """Current at the radio, mean gain in the lowest lobe and SWR, of the one to take."""
    return (
        _tile(answer, "station_ratio", "Current at the radio", _share),
        _tile(answer, "mean_gain_dbi", "Mean gain, lowest lobe", lambda v: f"{decibels(v)} dBi"),
        _tile(answer, "swr", "SWR", _swr),
    )


def _tile(answer: Answer, name: str, label: str, say: Callable[[float], str]) -> Tile:
    found, without = answer.best.figures[name], answer.bare.figures[name].stated
    return Tile(
        name=name,
        label=label,
        stated=found.stated,
        low=found.low,
        high=found.high,
        without=without,
        value=say(found.stated),
        between=_between(found, say),
        before="" if answer.chosen == NONE else say(without),
    )


def _between(found: Range, say: Callable[[float], str]) -> str:
    """Both ends of a range, the unit once."""
    low, high = say(found.low), say(found.high)
    for unit in (" %", " dBi"):
        if low.endswith(unit) and high.endswith(unit):
            low = low.removesuffix(unit)
    return f"{low} to {high}"


def _share(ratio: float) -> str:
    return percent(ratio)


def _swr(value: float) -> str:
    return f"{value:.2f}" if value < _MOST_SWR else f"over {_MOST_SWR:.0f}"


# Why


def why(answer: Answer) -> str:
    """What the bare cable does as described, and how large a change counts most often."""
    bare = answer.bare
    ratio = bare.figures["station_ratio"].stated
    share = percent(ratio) if ratio >= _NOTHING else "next to none"
    reaches = f"Without a choke {share} of the feed current reaches the radio"
    change = bare.changes[bare.driver]
    low, high = (fixed(end, 1) for end in (change.low, change.high))
    size = f"{low if low == high else f'{low} to {high}'} times what is just visible"
    if bare.driver == "station_ratio":
        return f"{reaches}, {size}; that counts most often."
    return f"{reaches}; what counts most often is {FIGURES[bare.driver].words}, {size}."


# How sure


def how_sure(answer: Answer) -> str:
    """How often it is enough, with and without, and what would change that."""
    bare, best = answer.bare, answer.best
    failed = unsound_basis(answer)
    if failed:
        return f"Unsound: the drawing of the {failed} failed a check, so rely on nothing here."
    if best.id == NONE:
        chance = f"Harmless in {of_hundred(best.enough.value)} installations like yours"
    else:
        chance = (
            f"Enough in {of_hundred(best.enough.value)} installations like yours "
            f"({hundredths(bare.enough.value)} without a choke)"
        )
    if basis_grade(answer) != "sound":
        chance += ", evidence only usable"
    if answer.enough:
        return f"{chance}; {_turning_words(answer)}."
    wanted = f"{chance}, where {100 * SURE:.0f} are wanted"
    return f"{wanted}; {_what_would_do(answer)}."


def _turning_words(answer: Answer) -> str:
    """Clause on what would change the answer, and what to measure first."""
    if not answer.unknowns:
        return "nothing is left open"
    causes = turning(answer)
    if not causes:
        return "no single unknown changes that beyond chance"
    labels = [_cause_label(c) for c in causes]
    named_ones = labels[: 2 if count_of(" ".join(labels[:2])) <= _CAUSES else 1]
    measure = next(u.measure for u in answer.unknowns if u.name == causes[0].name)
    return f"what would change it: {listed(named_ones)}; first {measure}"


def _cause_label(cause: Cause) -> str:
    """Name of a cause without what it is counted in."""
    return cause.label.split(" (")[0] if cause.label.endswith("as stated)") else cause.label


def _what_would_do(answer: Answer) -> str:
    """Clause of an answer that is not enough: what else would be, or comes nearest."""
    known = sorted(answer.instead, key=lambda i: -i.enough.value)
    if known and known[0].enough.value >= SURE:
        best = known[0]
        way = best.what if best.with_choke == NONE else f"{best.what} with {own_name(best.label)}"
        if count_of(way) > _WAY:
            way = f"{clipped(best.what, _WAY - 4)} with a choke"
        return f"enough would be {way}, in {hundredths(best.enough.value)}"
    if others := passed_over(answer):
        other = max(others, key=lambda c: c.enough.value)
        return f"enough would be {short_name(other.case, _SHORT_NAME)}, but {barred_words(other)}"
    if answer.ideal.enough.value < SURE:
        return f"even an ideal choke is enough in {hundredths(answer.ideal.enough.value)}"
    return "nothing else that was computed is enough"


# What to avoid


def avoid(answer: Answer, left: int) -> str:
    """What to keep off the cable and why, in so many words as are left; empty where nothing is."""
    found = risky(answer)
    if not found or unsound_basis(answer):
        return ""
    first = found[0]
    alike = [c.chances["worse"].value for c in found if _kind(c) == _kind(first)]
    low, high = hundredths(min(alike)), hundredths(max(alike))
    chance = f"worse than none in {high if low == high else f'{low} to {high}'} of 100"
    more = f" and {in_words(len(alike) - 1)} more" if len(alike) > 1 else ""
    plain = f"{more}: {chance}"
    said = f"Avoid {short_name(first.case, _SHORT_NAME)}{plain}, since {_reason(first)}."
    if count_of(said) <= left:
        return said
    if left - 1 - count_of(plain) < _LEAST_NAME:
        plain = f": {chance}"
    room = left - 1 - count_of(plain)
    return f"Avoid {short_name(first.case, min(room, _SHORT_NAME))}{plain}."


def _kind(candidate: Candidate) -> str:
    choke = candidate.case.choke
    return "" if choke is None else choke.kind


def _reason(candidate: Candidate) -> str:
    """Why a candidate may be worse than none: its kind's reason, or what it changes most often."""
    choke = candidate.case.choke
    own = "" if choke is None else choke.why_worse
    return own or f"{FIGURES[candidate.driver].words} changes most often"
