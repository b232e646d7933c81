"""Words for the numbers of an answer: chances, candidates, how each stands; one way for each.

Sentences, tables, figures and pages take them from here, so that no two of them can differ.
"""

from __future__ import annotations

from models.lengths import large
from pipeline.answer.ranking import RARE, differs, is_surely_worse, is_unsound
from pipeline.answer.record import SURE, Answer, Candidate
from pipeline.solver.cases import IDEAL, NO_FEEDLINE, NONE, Case
from pipeline.text.formatting import in_words

# Why a candidate that is enough is not taken, behind a "but".
_BARRED = {
    "not-sold": "not on sale",
    "remembered": "its size is from memory",
    "hot": "it gets too hot",
    "budget": "above the budget",
}


def of_hundred(chance: float) -> str:
    """A chance as so many of a hundred, never rounded to certainty nor up to what is enough.

    Examples
    --------
    >>> of_hundred(0.634), of_hundred(0.996), of_hundred(1.0), of_hundred(0.004)
    ('63 of 100', 'more than 99 of 100', 'more than 99 of 100', 'fewer than 1 of 100')
    >>> of_hundred(0.948)
    'just under 95 of 100'
    """
    return f"{hundredths(chance)} of 100"


def hundredths(chance: float) -> str:
    """The same without the hundred, for a second chance in one sentence.

    Examples
    --------
    >>> hundredths(0.12)
    '12'
    """
    # A part in a million is rounding of a computer.
    near = chance + 1e-9
    if near >= 0.995:
        return "more than 99"
    if chance < 0.005:
        return "fewer than 1"
    rounded = max(1, round(100 * near))
    if chance < SURE and rounded >= round(100 * SURE):
        return f"just under {100 * SURE:.0f}"
    return str(rounded)


def described(case: Case) -> str:
    """A case as it would be named in a sentence, without its place."""
    choke = case.choke
    if choke is None:
        return "no choke"
    return own_name(choke.counted(choke.count, in_words(choke.count), choke.part))


def named(case: Case) -> str:
    """A case as it would be named in a sentence, with its place on the cable."""
    choke = case.choke
    if choke is None or f"at {large(choke.position)}" in choke.part:
        return described(case)
    return f"{described(case)}, {choke.begins}"


def short_name(case: Case, most: int) -> str:
    """A case with its place in so many words at most, for a sentence that is not about it."""
    return "no choke" if case.choke is None else clipped(own_name(case.choke.short), most)


def own_name(text: str) -> str:
    """A name that a study gives, without a sign at its end that would end a sentence.

    Examples
    --------
    >>> own_name("choke no. 2."), own_name("nine turns")
    ('choke no. 2', 'nine turns')
    """
    return text.rstrip(" .,;:!?")


def clipped(text: str, most: int) -> str:
    """A name of a reader's own, cut where it is longer than so many words.

    Examples
    --------
    >>> clipped("nine turns of the thin jumper", 4), clipped("nine turns", 4)
    ('nine turns of …', 'nine turns')
    """
    words = text.split()
    return text if len(words) <= most else f"{' '.join(words[: most - 1]).rstrip(',;')} …"


def count_of(text: str) -> int:
    """Number of words of a text, as a reader counts them: what stands between two gaps."""
    return len(text.split())


def standing_of(name: str, answer: Answer) -> str:
    """How any case of a study stands, by its id: those without a cable are no candidates."""
    return "no cable" if name == NO_FEEDLINE else standing(answer.candidates[name], answer)


def standing(candidate: Candidate, answer: Answer) -> str:
    """How a candidate stands, in a few words for a table, a title or a legend.

    One of: "reference", "unsound", "harmless" (with a chance where it is not always so), "enough"
    (with the reason where it may not be taken), and for what is not: "worse than none in ..." where
    that is so more often than a clear gain ("may be" before it within the error of that chance),
    "enough in ..." where that chance differs from the one without a choke, "helps in ..." where the
    largest change is clearly smaller, and "as good as none".
    """
    if candidate.id == IDEAL:
        return "reference"
    if is_unsound(candidate):
        return "unsound"
    enough, worse = candidate.enough, candidate.chances["worse"]
    if candidate.id == NONE:
        return "harmless" if candidate.is_enough else f"harmless in {of_hundred(enough.value)}"
    if candidate.is_enough:
        return f"enough, but {_BARRED[candidate.barred]}" if candidate.barred else "enough"
    if worse.value >= RARE and worse.value > max(candidate.better.value, enough.value):
        may = "" if is_surely_worse(worse) else "may be "
        return f"{may}worse than none in {of_hundred(worse.value)}"
    if answer.bare.is_enough or differs(enough, answer.bare.enough):
        return f"enough in {of_hundred(enough.value)}"
    if candidate.better.value >= RARE:
        return f"helps in {of_hundred(candidate.better.value)}"
    return "as good as none"


def barred_words(candidate: Candidate) -> str:
    """Why a candidate that is enough may not be taken, as the end of a sentence."""
    return _BARRED[candidate.barred]
