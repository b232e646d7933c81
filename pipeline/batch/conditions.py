"""Conditions of a batch: which combinations of values are kept.

Lines of the batch file's ``only`` in, a yes or no for what the axes show of one combination out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.batch.axes import number_of
from pipeline.text.refusals import FieldError

# Length of the cable's whole way, which follows from its steps. [m]
ROUTE = "route"
_EXAMPLE = "{if: {cable.joins: long leg}, then: {site.height: {from: 6 m}}}"
_NO_RANGE = "is no range, no word and no list of words"


@dataclass(frozen=True)
class Wanted:
    """What one column has to be: within a range, in SI, or one of some words or numbers."""

    column: str
    low: float = float("-inf")
    high: float = float("inf")
    unit: str = ""
    words: tuple[float | str, ...] = ()

    def holds(self, shown: Mapping[str, float | str]) -> bool:
        """Whether a combination has it; one without that column has it not."""
        value = shown.get(self.column)
        if value is None:
            return False
        if self.words:
            return value in self.words
        return isinstance(value, float) and self.low <= value <= self.high


@dataclass(frozen=True)
class Condition:
    """What has to hold of a combination where something else does: always, if nothing is named."""

    given: tuple[Wanted, ...]
    then: tuple[Wanted, ...]

    def keeps(self, shown: Mapping[str, float | str]) -> bool:
        """Whether a combination is kept."""
        return not all(w.holds(shown) for w in self.given) or all(w.holds(shown) for w in self.then)

    @property
    def columns(self) -> frozenset[str]:
        """Columns that it looks at."""
        return frozenset(w.column for w in (*self.given, *self.then))


def read_condition(raw: Any) -> Condition:
    """One line of ``only``; whether there are such columns is seen later."""
    if not isinstance(raw, dict) or not raw:
        raise FieldError("is no condition", _EXAMPLE, "condition-form")
    if set(raw) == {"if", "then"}:
        return Condition(_wanted(raw["if"], "if"), _wanted(raw["then"], "then"))
    return Condition((), _wanted(raw))


def _wanted(raw: Any, *at: str) -> tuple[Wanted, ...]:
    if not isinstance(raw, dict) or not raw:
        raise FieldError("names no column with what it has to be", _EXAMPLE, "condition-form", at)
    found = []
    for column, value in raw.items():
        try:
            found.append(_one(column, value))
        except FieldError as error:
            raise error.below(*at, column) from error
    return tuple(found)


def _one(column: str, raw: Any) -> Wanted:
    if not isinstance(raw, dict):
        words = raw if isinstance(raw, list) else [raw]
        return Wanted(column, words=tuple(_shown(word) for word in words))
    if not raw or set(raw) - {"from", "to"}:
        raise FieldError(_NO_RANGE, "{from: 6 m, to: 9 m}", "condition-form")
    ends = {name: number_of(value) for name, value in raw.items()}
    if None in ends.values():
        raise FieldError(_NO_RANGE, "{from: 6 m, to: 9 m}", "condition-form")
    values = {name: end[0] for name, end in ends.items() if end is not None}
    low, high = values.get("from", float("-inf")), values.get("to", float("inf"))
    return Wanted(column, low, high)


def _shown(raw: Any) -> float | str:
    found = number_of(raw)
    return str(raw) if found is None else found[0]
