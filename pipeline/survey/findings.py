"""All that is found in one group of a batch: shares, cores, drawn chokes, rules, grades, failures.

A table's rows in, records out; what is written and shown is made of them in ``batch_summary``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.survey.cores_enough import CoresEnough, best_of, cores_enough, cores_needed
from pipeline.survey.decision_rule import Rule, decision_rule, traits_of
from pipeline.survey.drawn_against_none import AgainstNone, Turns, drawn_against_none, turn_bins
from pipeline.survey.resampled import Share
from pipeline.survey.shares import (
    BareCable,
    Failures,
    Grades,
    bare_cable,
    failures,
    grades,
    nothing_by_end,
    resampled,
)
from pipeline.survey.table_rows import SETTING, TableRows

# Answers to whether a choke is needed.
NEEDED = ("not needed", "needed")


@dataclass(frozen=True)
class Shares:
    """What the rows of a group say, ``None`` or empty where they have none of a kind.

    ``best`` is the one of ``cores`` that needs the fewest.
    """

    installations: int
    settings: int
    bare: BareCable | None
    cores: tuple[CoresEnough, ...]
    best: CoresEnough | None
    drawn: tuple[AgainstNone, ...]


@dataclass(frozen=True)
class Group:
    """A group, or all of them together.

    ``shares`` leave unsound drawings out; ``with_unsound`` are the same with them, ``None`` where
    there are none. ``by_end`` has the share that needs nothing by what differs on one
    installation, by column and word. ``needed`` and ``how_many`` are rules for whether a choke is
    needed and how many cores of the best class.
    """

    name: str
    shares: Shares
    with_unsound: Shares | None
    needed: Rule | None
    how_many: Rule | None
    by_end: Mapping[str, Mapping[str, Share]]
    grades: Grades
    failures: Failures


def groups_of(table: TableRows) -> list[Group]:
    """Every group of a table, in its order."""
    bins = turn_bins(table.trusted)
    return [_group(name, table.of_group(name), bins) for name in table.groups]


def all_together(table: TableRows) -> Group:
    """All groups as one, each installation counted alike; without cores and rules of its own."""
    bins = turn_bins(table.trusted)
    found = grades(table), failures(table)
    trusted = table.trusted
    by_end = nothing_by_end(trusted, resampled(trusted)) if len(trusted) else {}
    return Group("all", _shares(trusted, bins, False), None, None, None, by_end, *found)


def _group(name: str, rows: TableRows, bins: tuple[Turns, ...]) -> Group:
    trusted, scored = rows.trusted, rows.scored
    shares = _shares(trusted, bins)
    return Group(
        name,
        shares,
        _shares(scored, bins) if len(scored) > len(trusted) else None,
        _needed_rule(trusted),
        _cores_rule(trusted, shares.best),
        nothing_by_end(trusted, resampled(trusted)) if len(trusted) else {},
        grades(rows),
        failures(rows),
    )


def _shares(rows: TableRows, bins: tuple[Turns, ...], has_cores: bool = True) -> Shares:
    if not len(rows):
        return Shares(0, 0, None, (), None, ())
    again = resampled(rows)
    cores = cores_enough(rows, again) if has_cores else []
    return Shares(
        len(again.numbers),
        int(rows.frame[SETTING].nunique()),
        bare_cable(rows, again),
        tuple(cores),
        best_of(cores),
        tuple(drawn_against_none(rows, again, bins)),
    )


def _needed_rule(rows: TableRows) -> Rule | None:
    bare = rows.bare
    if not len(bare):
        return None
    answer = (bare.score > 1).astype(np.int64)
    return decision_rule(traits_of(bare), answer, NEEDED, bare.members)


def _cores_rule(rows: TableRows, best: CoresEnough | None) -> Rule | None:
    if best is None:
        return None
    found = cores_needed(rows, best)
    on = found.rows
    return decision_rule(traits_of(on), found.answer, found.answers, on.members)
