"""Errors of the pipeline: data first, text last; all of them survive pickling.

Every message has four parts: the place, the value, the rule it breaks, the remedy.
"""

from __future__ import annotations

from dataclasses import dataclass


def visible(text: str) -> str:
    """Text for one line of a terminal: what does not print as itself is written as an escape.

    Control characters would move the cursor or colour the screen, line separators break the
    form of a message, and marks of direction show a text backwards.

    Examples
    --------
    >>> print(visible("a" + chr(27) + "[31m" + chr(0x202E) + "b"))
    a\\x1b[31m\\u202eb
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


@dataclass(frozen=True)
class Fault:
    """One thing wrong: where, what was given, what is allowed, what to do."""

    place: str
    value: str
    rule: str
    remedy: str
    tag: str

    def text(self) -> str:
        """Four-part message for a reader, in three lines whatever its parts hold."""
        head = f"{self.place} = {self.value}" if self.value else self.place
        lines = (f"{head}  [{self.tag}]", f"    {self.rule}", f"    Try: {self.remedy}")
        return "\n".join(visible(line) for line in lines)


class BraidwiseError(Exception):
    """Base of all errors a user may see; ``exit_code`` is what the command returns."""

    exit_code = 1

    def __init__(self, *faults: Fault) -> None:
        super().__init__(*faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(fault.text() for fault in self.faults)


class WorkerEndedError(BraidwiseError):
    """A worker process was killed; what was finished before is kept."""


class StudyError(BraidwiseError):
    """The study file cannot be used as it stands."""

    exit_code = 2


class CatalogueError(BraidwiseError):
    """A catalogue shipped with the project is damaged."""

    exit_code = 3


class SolverError(BraidwiseError):
    """The field solver refused, crashed or returned nonsense for one geometry."""

    exit_code = 4


class ResultError(BraidwiseError):
    """A stored result is missing, damaged or of another version."""

    exit_code = 5
