"""Which of an answer's candidates and causes stand out: by more than chance, or not at all.

An :class:`Answer` in, some of what it holds out. Whoever says that one thing is more than another
asks here first.
"""

from __future__ import annotations

import math

from pipeline.answer.record import SURE, Answer, Candidate, Cause, Chance, Range
from pipeline.mesh.evidence import Grade, worst
from pipeline.solver.cases import NONE

# What is so in fewer installations than these is no news to a reader.
RARE = 1 - SURE
# A choke that is worse than none in more installations than these is one to warn of.
RISKY = 0.1
# Differences of chances count from so many standard errors on.
_ERRORS = 2.0


def differs(one: Chance | Range, other: Chance | Range) -> bool:
    """Whether two chances or two ranges differ by more than chance: only then one ranks above.

    Chances by more than two standard errors of their difference, those of two independent ones
    [1]_. Ranges where the middle of neither lies inside the other.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2: variances of independent quantities add.

    Examples
    --------
    >>> often = Chance(0.97, 0.01)
    >>> differs(often, Chance(0.96, 0.01)), differs(often, Chance(0.5, 0.1))
    (False, True)
    >>> differs(Range(1.0, 0.5, 1.0, 1.5), Range(2.0, 1.6, 2.0, 2.4))
    True
    """
    if isinstance(one, Chance) and isinstance(other, Chance):
        return abs(one.value - other.value) > _ERRORS * math.hypot(one.error, other.error)
    if isinstance(one, Range) and isinstance(other, Range):
        return not (one.low <= other.middle <= one.high or other.low <= one.middle <= other.high)
    raise TypeError("a chance is compared with a chance, a range with a range")


def told_apart(one: Candidate, other: Candidate) -> bool:
    """Whether two candidates differ by more than their cores scatter.

    Two of different classes of ferrite do only if the ranges of their impedance, all cores
    together, lie apart; all others always do. Definition.
    """
    if one.ohms is None or other.ohms is None or _class_of(one) == _class_of(other):
        return True
    return one.ohms.high < other.ohms.low or other.ohms.high < one.ohms.low


def _class_of(candidate: Candidate) -> frozenset[str]:
    choke = candidate.case.choke
    return frozenset() if choke is None else frozenset(core.material for core in choke.cores)


def above(one: Chance, other: Chance) -> bool:
    """Whether one chance is larger than another by more than chance."""
    return one.value > other.value and differs(one, other)


def rivals(answer: Answer) -> list[Candidate]:
    """Candidates that could have been taken: sound, not barred, the bare cable among them."""
    return [
        c
        for c in answer.candidates.values()
        if c.may_be_taken and not c.barred and (c.id == NONE or not is_unsound(c))
    ]


def passed_over(answer: Answer) -> list[Candidate]:
    """Candidates that are enough, but may not be taken for another reason than their drawing."""
    return [c for c in answer.candidates.values() if c.is_enough and c.barred and not is_unsound(c)]


def is_unsound(candidate: Candidate) -> bool:
    """Whether nothing that is computed of a candidate can be relied on."""
    return candidate.grade == "unsound" or candidate.barred == "unsound"


def unsound_basis(answer: Answer) -> str:
    """What failed a check of all that every number rests on; empty where nothing did."""
    rests_on = {"ideal choke": answer.ideal, "bare cable": answer.bare, "chosen choke": answer.best}
    return next((name for name, c in rests_on.items() if c.grade == "unsound"), "")


def basis_grade(answer: Answer) -> Grade:
    """Worst grade of all that the answer rests on: reference, bare cable, and what is taken."""
    return worst([c.grade for c in (answer.ideal, answer.bare, answer.best)])


def turning(answer: Answer) -> list[Cause]:
    """Unknowns that change the answer by themselves, the largest share first.

    Over part of their range no choke would be needed, or what is taken would not be enough as
    often as it should. Nothing turns an answer that is not enough: it asks for something else.
    """
    if not answer.enough:
        return []
    found = {c.name: c for c in _single(answer, answer.chosen) if c.low < SURE}
    if answer.chosen != NONE:
        found |= {c.name: c for c in _single(answer, NONE) if c.high >= SURE}
    return sorted(found.values(), key=lambda cause: -cause.share.value)


def _single(answer: Answer, name: str) -> list[Cause]:
    return [c for c in answer.causes.get(name, ()) if c.turns and not c.joint]


def is_surely_worse(chance: Chance) -> bool:
    """Whether what is worse than none is told as worse: by more than the error of that chance.

    Two standard errors below it still stands more than :data:`RARE`; else it "may be" worse.

    Examples
    --------
    >>> is_surely_worse(Chance(0.26, 0.21)), is_surely_worse(Chance(0.6, 0.1))
    (False, True)
    """
    return chance.value - _ERRORS * chance.error > RARE


def risky(answer: Answer) -> list[Candidate]:
    """Candidates that are likely to be worse than none: coils first, then by that chance."""
    found = [
        c
        for c in answer.candidates.values()
        if c.origin != "reference"
        and c.id != answer.chosen
        and not is_unsound(c)
        and c.chances["worse"].value > RISKY
        and is_surely_worse(c.chances["worse"])
    ]
    return sorted(found, key=lambda c: (not _hangs_on_making(c), -c.chances["worse"].value))


def _hangs_on_making(candidate: Candidate) -> bool:
    choke = candidate.case.choke
    return choke is not None and choke.hangs_on_making
