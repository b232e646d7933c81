"""What a choke that is drawn does beside no choke on the same installation and radio end.

Rows of one group in; shares of better, no matter and worse, by the turns of a coil, out. What is
better and what is worse is as in the answer of a single study (``answer.candidates``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import WORSE_FACTOR
from pipeline.chokes.kinds import kind_of
from pipeline.solver.cases import IDEAL, NONE
from pipeline.survey.resampled import Resampled, Share
from pipeline.survey.table_rows import TableRows, turns_of

# A reader tells no more bins of turns apart than these.
_BINS = 6


@dataclass(frozen=True)
class Turns:
    """Turns of a coil from the fewest to the most of a bin, both among them."""

    fewest: int
    most: int

    @property
    def words(self) -> str:
        """The bin as a table has it."""
        return str(self.fewest) if self.fewest == self.most else f"{self.fewest}–{self.most}"


@dataclass(frozen=True)
class Needed:
    """The same where the bare cable is not enough: how often the choke is, and how often worse."""

    enough: Share
    worse: Share


@dataclass(frozen=True)
class AgainstNone:
    """A kind of choke, or a coil of some turns, beside the bare cable.

    ``better``, ``no_matter`` and ``worse`` add up to one. ``enough`` is the share with no visible
    change, ``enough_without`` that of the bare cable in the same settings; ``harm`` is the share
    with a visible change where the bare cable has none, ``needed`` what it does where one is
    needed: ``None`` where that never is. ``unmatched`` rows stand beside no bare cable and are not
    counted.
    """

    kind: str
    turns: Turns | None
    better: Share
    no_matter: Share
    worse: Share
    enough: Share
    enough_without: Share
    harm: Share | None
    needed: Needed | None
    unmatched: int

    @property
    def label(self) -> str:
        """Kind and turns."""
        return f"{self.kind}, {self.turns.words} turns" if self.turns else self.kind


def is_own_kind(kind: str) -> bool:
    """Whether a kind is something on the cable that is neither counted out nor a reference.

    Examples
    --------
    >>> [is_own_kind(kind) for kind in ("coil", "sleeve", "ferrite", "ideal", "none")]
    [True, True, False, False, False]
    """
    found = kind_of(kind)
    return kind not in (NONE, IDEAL) and found.is_real and not found.is_counted


def is_wound(kind: str) -> bool:
    """Whether a kind has turns.

    Examples
    --------
    >>> is_wound("coil"), is_wound("sleeve"), is_wound("none")
    (True, False, False)
    """
    return any(field.name == "turns" for field in fields(kind_of(kind)))


def turns_column(rows: TableRows) -> str:
    """ColumnMeaning that holds the turns of coils; empty where none does."""
    return next((name for name in rows.columns if turns_of(name)), "")


def turn_bins(rows: TableRows) -> tuple[Turns, ...]:
    """Bins of turns with about equally many coils each, the same for all groups of a table."""
    wound = rows.keep([is_wound(str(kind)) for kind in rows.frame["kind"]])
    turns = np.unique(_turns(wound), return_counts=True)
    values, counts = turns[0][np.isfinite(turns[0])], turns[1][np.isfinite(turns[0])]
    if len(values) <= _BINS:
        return tuple(Turns(int(v), int(v)) for v in values)
    before = np.cumsum(counts) - counts
    number = before * _BINS // counts.sum()
    return tuple(
        Turns(int(values[number == k].min()), int(values[number == k].max()))
        for k in np.unique(number)
    )


def _turns(rows: TableRows) -> NDArray[np.float64]:
    name = turns_column(rows)
    return np.rint(rows.number(name)) if name else np.full(len(rows), np.nan)


def drawn_against_none(
    rows: TableRows, again: Resampled, bins: tuple[Turns, ...]
) -> list[AgainstNone]:
    """Every kind as a whole, and a coil bin by bin, in the order of the table."""
    found = [_against(*part, rows.bare, again) for part in _parts(rows, bins)]
    return [each for each in found if each is not None]


def _parts(
    rows: TableRows, bins: tuple[Turns, ...]
) -> Iterator[tuple[str, Turns | None, TableRows]]:
    for kind in (str(k) for k in rows.frame["kind"].unique()):
        if not is_own_kind(kind):
            continue
        own = rows.of_kind(kind)
        yield kind, None, own
        turns = _turns(own)
        for each in bins if is_wound(kind) and len(bins) > 1 else ():
            yield kind, each, own.keep((turns >= each.fewest) & (turns <= each.most))


def _against(
    kind: str, turns: Turns | None, own: TableRows, bare: TableRows, again: Resampled
) -> AgainstNone | None:
    beside = score_beside(own, bare)
    known = np.isfinite(beside)
    unmatched = int(np.count_nonzero(~known))
    own, beside = own.keep(known), beside[known]
    if not len(own):
        return None
    score, members = own.score, own.members
    better = score < beside / WORSE_FACTOR
    worse = (score > 1) & (score > WORSE_FACTOR * beside)
    needs = beside > 1

    def share(held: NDArray[np.bool_], of: NDArray[np.bool_]) -> Share:
        return again.share(held[of], members.keep(of))

    every = np.ones(len(own), dtype=bool)
    needed = Needed(share(score <= 1, needs), share(worse, needs)) if needs.any() else None
    return AgainstNone(
        kind,
        turns,
        share(better, every),
        share(~better & ~worse, every),
        share(worse, every),
        share(score <= 1, every),
        share(~needs, every),
        share(score > 1, ~needs) if not needs.all() else None,
        needed,
        unmatched,
    )


def score_beside(own: TableRows, bare: TableRows) -> NDArray[np.float64]:
    """Score of the bare cable in the setting of each row; not a number where there is none."""
    settings, first = np.unique(bare.setting, return_index=True)
    if not len(settings):
        return np.full(len(own), np.nan)
    place = np.minimum(np.searchsorted(settings, own.setting), len(settings) - 1)
    return np.where(settings[place] == own.setting, bare.score[first][place], np.nan)
