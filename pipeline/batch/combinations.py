"""Combinations of a batch: every value of the axes with every draw, as far as they are kept.

A group in; values by key and what a table shows of them out, in a fixed order.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.batch.axes import Choice, column_of
from pipeline.batch.batch_file import SOBOL, Draws, Group
from pipeline.batch.conditions import ROUTE
from pipeline.batch.described import study_of, with_values
from pipeline.montecarlo.sobol import sobol
from pipeline.study.whole_study import walk_of
from pipeline.text.errors import Fault, StudyError
from pipeline.text.refusals import FieldsError

# Draws looked at for each one wanted: where fewer are kept, conditions are too narrow.
_SPARE = 32


@dataclass(frozen=True)
class Combination:
    """Values of the study by key, ``values``, and of the table by column, ``shown``."""

    values: dict[str, Any]
    shown: dict[str, float | str]


# Values that are only impedances: they cost no solve.
_CHOKES = "chokes"
ALGEBRA = ("station.impedance", "bond.rod_impedance")


def combinations(group: Group) -> Iterator[Combination]:
    """Combinations of a group that its conditions keep.

    Each of the axes and pairs is met by the first draws that go with it, so many as are wanted.
    Raises StudyError where conditions keep too few draws.
    """
    kept = _Kept(group)
    u = None if group.draws is None else _points(group.draws)
    options = [[{axis.key: choice} for choice in axis.choices] for axis in group.axes]
    if group.paired:
        options.append([dict(row) for row in group.paired])
    any_kept = False
    for parts in itertools.product(*options):
        chosen = {key: choice for part in parts for key, choice in part.items()}
        if group.draws is None or u is None:
            found = [made for made in [_made(group, chosen)] if kept.holds(made)]
        else:
            found = _drawn(kept, chosen, group.draws, u)
        any_kept = any_kept or bool(found)
        yield from found
    if not any_kept:
        raise StudyError(_too_narrow(group, 0, 0 if u is None else len(u)))


def _drawn(
    kept: _Kept, chosen: Mapping[str, Choice], draws: Draws, u: NDArray[np.float64]
) -> list[Combination]:
    """Combinations of some values of the axes with draws: as many as are wanted, or none at all.

    None is what conditions on the axes alone leave.
    """
    found = []
    for row in u:
        own = {axis.key: axis.at(float(p)) for axis, p in zip(draws.axes, row, strict=True)}
        made = _made(kept.group, {**own, **chosen})
        if kept.holds(made):
            found.append(made)
        if len(found) == draws.count:
            return found
    if found:
        raise StudyError(_too_narrow(kept.group, len(found), len(u)))
    return []


def _too_narrow(group: Group, found: int, tried: int) -> Fault:
    of = f"{found} of {tried} draws" if tried else "nothing"
    wanted = f", where {group.draws.count} are wanted" if group.draws else ""
    rule = f"keeps {of} of {group.name}{wanted}"
    place = f"{group.ground.name}  only"
    return Fault(place, "", rule, "wider conditions, or fewer draws", "draws-few")


def _points(draws: Draws) -> NDArray[np.float64]:
    """Probabilities of all draws that may be looked at, shape (n, n_axis). Definition."""
    n, width = _SPARE * draws.count, len(draws.axes)
    if draws.order == SOBOL:
        return sobol(n, width, draws.seed)
    return np.random.default_rng(draws.seed).random((n, width))


def _made(group: Group, chosen: Mapping[str, Choice]) -> Combination:
    values = group.fixed | {key: choice.raw for key, choice in chosen.items()}
    return Combination(values, {column_of(key): c.shown for key, c in chosen.items()})


class _Kept:
    """Whether the conditions of a group keep a combination.

    The way of the cable follows from a whole study, and is the same for all that is an impedance
    or a choke: it is looked up once for each of the others.
    """

    def __init__(self, group: Group) -> None:
        self.group = group
        self._asks_way = any(ROUTE in condition.columns for condition in group.conditions)
        self._way: dict[str, dict[str, float | str]] = {}

    def holds(self, made: Combination) -> bool:
        """Whether every condition holds."""
        shown = made.shown
        if self._asks_way:
            own = {
                k: raw for k, raw in made.values.items() if not k.startswith((*ALGEBRA, _CHOKES))
            }
            key = json.dumps(own, sort_keys=True)
            if key not in self._way:
                self._way[key] = self._route(own)
            shown = shown | self._way[key]
        return all(condition.keeps(shown) for condition in self.group.conditions)

    def _route(self, own: dict[str, Any]) -> dict[str, float | str]:
        """Length of the cable's way [m] as a column; none where the study cannot be read."""
        ground = self.group.ground
        data = {key: value for key, value in ground.data.items() if key != _CHOKES}
        try:
            return {ROUTE: float(walk_of(study_of(ground, with_values(data, own))).length)}
        except (StudyError, FieldsError):
            # It becomes a row with its cause, where nothing is asked of its way.
            return {}
