"""Candidates of a study: those that could be read, and lists that become one candidate each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from models.lengths import large
from pipeline.chokes.kind import Choke
from pipeline.chokes.kinds import KINDS
from pipeline.study.fields import is_id


@dataclass(frozen=True)
class Candidates:
    """The candidates of a file: those that could be read with their entry's number, and the rest.

    ``unread`` holds entries with a fault as the file has them, so that what else names one of
    them is not called wrong as well; ``partly`` what could be read of those.
    """

    sound: tuple[tuple[int, Choke], ...]
    unread: tuple[Any, ...] = ()
    partly: tuple[tuple[int, Choke], ...] = ()

    def may_be(self, name: str) -> bool:
        """Whether a candidate that could not be read may have a name."""
        ids = [entry.get("id") if isinstance(entry, dict) else None for entry in self.unread]
        return any(not is_id(i) or name == i or name.startswith(f"{i}-") for i in ids)

    def may_hold(self, kind: str) -> bool:
        """Whether a candidate that could not be read may be of a kind."""
        said = [entry.get("kind") if isinstance(entry, dict) else None for entry in self.unread]
        return any(k == kind or k not in tuple(KINDS) for k in said)


@dataclass(frozen=True)
class Variant:
    """One combination of count and position [m] of a candidate, with its own id and label."""

    id: str
    label: str
    count: int
    position: float


def variants(
    name: str, label: str, count: int | tuple[int, ...], position: float | tuple[float, ...]
) -> Iterator[Variant]:
    """Every combination of count and position [m]; ids and labels say which, where there are lists.

    Examples
    --------
    >>> [v.id for v in variants("bead", "bead", (1, 4), 0.05)]
    ['bead-x1', 'bead-x4']
    >>> [v.id for v in variants("bead", "bead", 4, (0.05, 0.567))]
    ['bead-at-0.05m', 'bead-at-0.57m']
    """
    counts = count if isinstance(count, tuple) else (count,)
    positions = position if isinstance(position, tuple) else (position,)
    for n in counts:
        for place in positions:
            id_end, label_end = "", ""
            if isinstance(count, tuple):
                id_end += f"-x{n}"
                label_end += f", {n} pieces" if n > 1 else ", 1 piece"
            if isinstance(position, tuple):
                id_end += f"-at-{place:.2f}m"
                label_end += f", at {large(place)}"
            yield Variant(name + id_end, label + label_end, n, place)
