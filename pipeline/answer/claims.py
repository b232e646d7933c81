"""Claims about candidates: read out of any text or table, and held against the answer.

The answer as data (``answer`` of ``summary.json``) and a text or the cells of a row in, claims and
contradictions out. What stands on a page, in a title or in a table is in the words of
:mod:`phrases`, so that it can be read back.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pipeline.answer.phrases import clipped, count_of, own_name
from pipeline.solver.cases import NONE

Kind = Literal["taken", "none-needed", "nothing-enough", "chance"]

# A chance in words, and which of a candidate's chances the words before it are about.
_HUNDRED = r"((?:more than |fewer than |just under )?\d+)"
_ABOUT = {
    "enough": "enough",
    "harmless": "enough",
    "helps": "better",
    "worse than none": "worse",
}
_CHANCE = re.compile(rf"\b(?<!would be )({'|'.join(_ABOUT)}) in {_HUNDRED} of 100", re.IGNORECASE)
_WITHOUT = re.compile(rf"\({_HUNDRED} without a choke\)")
_TAKEN = re.compile(r"\bPut (?:on the cable: )?(.+?)\.(?:\s|$)")
_NONE_NEEDED = re.compile(r"\bno choke is needed\b", re.IGNORECASE)
_NOTHING = re.compile(r"\bNothing (?:tried|that may be taken) is enough\b", re.IGNORECASE)
# What holds over a part of a range only is no claim about a candidate.
_CONDITION = re.compile(r"^\W*(?:where|of what)\b", re.IGNORECASE)
# Ends of clauses: each is about one candidate.
_ENDS = re.compile(r"(?<=[.;?!])\s+|\n+")
# Columns of tables with a chance, and the slack of a number that is printed with six digits.
_COLUMNS = ("enough", "worse", "better", "noticeable", "strong", "place")
_PRINTED = 1e-5
# End of a name that is cut, which keeps so many words at least.
_CUT, _LEAST_CUT = "…", 3


@dataclass(frozen=True)
class Claim:
    """Something that is said of a candidate.

    ``subject`` holds the ids of all that go by the name in it, ``value`` a chance in words or
    nothing, ``about`` which of the chances, ``text`` the clause that says it.
    """

    subject: tuple[str, ...]
    kind: Kind
    value: str
    text: str
    about: str = ""


def claims_in(text: str, answer: Mapping[str, Any]) -> list[Claim]:
    """Every claim about a candidate that a text makes; ``answer`` is the answer as data."""
    names = _names_of(answer, _CUT in text)
    clauses = [c for c in _ENDS.split(text) if c and not _CONDITION.match(c)]
    return [claim for c in clauses for claim in _claims(c, names, answer["chosen"])]


# Ids of all candidates that go by a name.
Names = Mapping[str, tuple[str, ...]]


def _claims(clause: str, names: Names, chosen: str) -> Iterator[Claim]:
    named = list(_named(clause, names))
    for match in _CHANCE.finditer(clause):
        words = match[1].lower()
        before = [each for each in named if each[0] < match.start()]
        subject = max(before)[1] if before else (NONE if words == "harmless" else chosen,)
        yield Claim(subject, "chance", match[2].lower(), clause, _ABOUT[words])
    for match in _WITHOUT.finditer(clause):
        yield Claim((NONE,), "chance", match[1], clause, "enough")
    for match in _TAKEN.finditer(clause):
        inside = [ids for at, ids in named if match.start(1) <= at < match.end(1)]
        yield Claim(inside[0] if inside else (), "taken", "", clause)
    if _NONE_NEEDED.search(clause):
        yield Claim((NONE,), "none-needed", "", clause)
    if _NOTHING.search(clause):
        yield Claim((chosen,), "nothing-enough", "", clause)


def _names_of(answer: Mapping[str, Any], are_cut: bool) -> Names:
    """Names of all candidates, the longest first; where any are cut, also their beginnings."""
    found: dict[str, dict[str, None]] = {}
    for c in answer["candidates"]:
        for name in map(own_name, (c["label"], c["name"], c["named"])):
            for told in (name, *(_cut(name) if are_cut else ())):
                found.setdefault(told, {})[c["id"]] = None
    return {name: tuple(found[name]) for name in sorted(found, key=len, reverse=True)}


def _cut(name: str) -> list[str]:
    """Beginnings of a name as it stands where it is cut."""
    return [clipped(name, most) for most in range(_LEAST_CUT, count_of(name))]


def _named(clause: str, names: Names) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Places in a clause at which candidates are named, and which."""
    left = clause
    for name, ids in names.items():
        if name not in left:
            continue
        for match in re.finditer(rf"(?<!\w){re.escape(name)}(?!\w)", left):
            yield match.start(), ids
        left = left.replace(name, "\0" * len(name))


def contradictions(text: str, answer: Mapping[str, Any]) -> list[str]:
    """What a text says that the answer does not bear out, a sentence each."""
    found = (_against(claim, answer) for claim in claims_in(text, answer))
    return [why for why in found if why]


def _against(claim: Claim, answer: Mapping[str, Any]) -> str:
    """Why a claim is not so; empty where it is, of any that go by the name."""
    by_id = {c["id"]: c for c in answer["candidates"]}
    chosen, enough = answer["chosen"], answer["enough"]
    why = ""
    if claim.kind == "chance":
        chances = {name: by_id[name][claim.about] for name in claim.subject}
        if not any(agrees(claim.value, chance) for chance in chances.values()):
            told = ", ".join(f"{name} in {chance:.4f}" for name, chance in chances.items())
            why = f"{claim.about}: {told}, not {claim.value} of 100"
    if claim.kind == "taken" and not (chosen in claim.subject and enough):
        why = f"{' or '.join(claim.subject) or 'nobody'} is taken, and the answer is {chosen}"
    if claim.kind == "none-needed" and not (chosen == NONE and enough):
        why = f"none is needed, and the answer is {chosen}"
    if claim.kind == "nothing-enough" and enough:
        why = f"nothing is enough, and {chosen} is"
    return f"{why}: {claim.text!r}" if why else ""


def agrees(words: str, chance: float) -> bool:
    """Whether a chance in words, of a hundred, is what a number says.

    Examples
    --------
    >>> agrees("97", 0.9651), agrees("97", 0.94), agrees("more than 99", 0.996)
    (True, False, True)
    """
    number = int(words.split()[-1]) / 100
    half = 0.005 + 1e-9
    if words.startswith("more than"):
        return chance > number
    if words.startswith("fewer than"):
        return chance < number
    if words.startswith("just under"):
        return number - 2 * half < chance < number
    return abs(chance - number) <= half


def row_contradictions(row: Mapping[str, Any], answer: Mapping[str, Any]) -> list[str]:
    """What a row of a table says of its case that the answer does not bear out.

    Columns that are read: ``case`` (or ``set``), ``standing``, ``chosen``, chances, ``grade``.
    """
    name = row.get("case", row.get("set"))
    of = next((c for c in answer["candidates"] if c["id"] == name), None)
    if of is None:
        return []
    found = [
        f"{name}: {column} is {of[column]!r}, the row has {row[column]!r}"
        for column in ("standing", "grade")
        if column in row and row[column] != of[column]
    ]
    if "chosen" in row and (row["chosen"] == "yes") != (name == answer["chosen"]):
        found.append(f"{name}: chosen is {answer['chosen']!r}, the row has {row['chosen']!r}")
    found += [
        f"{name}: {column} is {of[column]}, the row has {row[column]}"
        for column in _COLUMNS
        if row.get(column) and abs(float(row[column]) - of[column]) > _PRINTED
    ]
    return found
