"""Refusals of single values, and checks for text that no reader takes.

A refusal says rule, remedy and tag; file, line and value are added where the file is known.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable
from typing import TypeVar

T = TypeVar("T")


class FieldsError(ValueError):
    """One or several values below a key of a study that cannot be taken."""

    @property
    def errors(self) -> tuple[FieldError, ...]:
        """Each of them."""
        return tuple(self.args)


class FieldError(FieldsError):
    """One value of a study that cannot be taken, and what to do.

    Raised where a value is read, listed where several are held against each other. ``at`` is the
    path of its key from there; ``place`` and ``value`` are those of another file that the study
    names, where the fault is in there.
    """

    def __init__(
        self,
        rule: str,
        remedy: str,
        tag: str,
        at: tuple[str | int, ...] = (),
        place: str = "",
        value: str = "",
    ) -> None:
        super().__init__(rule, remedy, tag, at)
        self.rule, self.remedy, self.tag, self.at = rule, remedy, tag, at
        self.place, self.value = place, value

    @property
    def errors(self) -> tuple[FieldError, ...]:
        """Itself alone."""
        return (self,)

    def below(self, *at: str | int) -> FieldError:
        """The same, seen from a key or entry further up."""
        return FieldError(self.rule, self.remedy, self.tag, (*at, *self.at), self.place, self.value)

    def __str__(self) -> str:
        return f"{self.rule} [{self.tag}]"


def each(entries: Iterable[tuple[str | int, Callable[[], T]]]) -> list[T]:
    """Values below one key, each read by itself; what is wrong with any is raised together.

    ``entries`` say where below it each stands, and what reads it.
    """
    values, errors = [], []
    for at, read in entries:
        try:
            values.append(read())
        except FieldsError as refused:
            errors += [error.below(at) for error in refused.errors]
    if errors:
        raise FieldsError(*errors)
    return values


def refuse_foreign_digits(text: str) -> None:
    """Refuse digits of another script, full-width ones among them.

    Python takes them for numbers; a reader cannot tell them from what they look like.
    """
    if text.isascii() or not any(c.isdecimal() and not c.isascii() for c in text):
        return
    repaired = "".join(str(unicodedata.decimal(c, c)) for c in text)
    rule = "has digits of another script; only 0 to 9 are taken as numbers"
    raise FieldError(rule, f'write it like "{repaired}"', "digits-foreign")


def plain_float(text: str) -> float:
    """Number of a cell of a table, in digits from 0 to 9; else a ValueError.

    Python's own float takes digits of any script, and _ between them.
    """
    if not text.isascii() or "_" in text:
        raise ValueError(f"no plain number: {text!a}")
    return float(text)


def refuse_unprintable(text: str) -> None:
    """Refuse characters that do not print as themselves: they would reach tables and pages."""
    odd = next((c for c in text if not c.isprintable()), None)
    if odd is not None:
        rule = f"holds U+{ord(odd):04X}, a character that does not print as itself"
        raise FieldError(rule, "delete it, and write the text again by hand", "text-form")
