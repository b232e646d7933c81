"""The batch file: a study, axes over its keys, draws, conditions, and groups of them.

A path in, a frozen :class:`Batch` out, or all that is wrong with the file at once. What a key of a
study may be is not known here: values are read by the study's own reader, one by one, later.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from io import StringIO
from pathlib import Path
from typing import Any, TypeVar

from pipeline.batch.axes import Axis, Choice, DrawnAxis, choice_of, column_of, read_axis, read_drawn
from pipeline.batch.conditions import ROUTE, Condition, read_condition
from pipeline.batch.described import NAME, Ground, names_in, path_of
from pipeline.study.faults import all_faults, nearest, unknown_key
from pipeline.study.reader import file_section
from pipeline.text.errors import Fault, StudyError
from pipeline.text.refusals import FieldError, FieldsError
from pipeline.text.yaml_reading import Document, KeyPath, read_text, read_yaml

T = TypeVar("T")
# Draws of one group, and rows of a table of values.
MOST_DRAWS = 100_000
_LARGEST_TABLE = 4 * 1024 * 1024
SOBOL, RANDOM = "sobol", "random"
_DRAWS_EXAMPLE = "{count: 64, of: {site.height: {from: 3 m, to: 15 m}}}"
_SHARED = ("set", "axes", "draws", "only", "table")
_TOP = ("title", "study", "groups", "refined_share", "standard_chokes", *_SHARED)
_GROUP = ("name", *_SHARED)


@dataclass(frozen=True)
class Draws:
    """Values that are drawn together: how many, in which order, from which seed."""

    count: int
    order: str
    seed: int
    axes: tuple[DrawnAxis, ...]


@dataclass(frozen=True)
class Group:
    """Studies that differ in their axes only.

    ``fixed`` are values of keys; every combination of ``axes`` and of the rows of ``paired``, each
    row values by key, is tried with all draws that the conditions keep.
    """

    name: str
    ground: Ground
    fixed: dict[str, Any]
    axes: tuple[Axis, ...]
    paired: tuple[dict[str, Choice], ...]
    draws: Draws | None
    conditions: tuple[Condition, ...]

    @property
    def columns(self) -> list[str]:
        """Names of its axes in the table."""
        keys = [axis.key for axis in self.axes]
        keys += [] if self.draws is None else [axis.key for axis in self.draws.axes]
        keys += list(self.paired[0]) if self.paired else []
        return [column_of(key) for key in keys]


@dataclass(frozen=True)
class Batch:
    """A whole batch; ``refined_share`` of the drawings are solved with finer segments as well."""

    name: str
    title: str
    groups: tuple[Group, ...]
    refined_share: float
    folder: Path


def load_batch(path: Path) -> Batch:
    """Batch of a YAML file; StudyError with every fault found."""
    document = read_yaml(path)
    reader = _Reader(document, path.parent)
    batch = reader.batch(path.stem)
    faults = all_faults(reader.complaints, document)
    if faults or batch is None:
        raise StudyError(*faults)
    return batch


class _Reader:
    """Reads a document part by part and keeps what is wrong."""

    def __init__(self, document: Document, folder: Path) -> None:
        self.document, self.folder = document, folder
        self.complaints: list[FieldError] = []
        self._known = set(file_section().model_fields)

    def batch(self, name: str) -> Batch | None:
        """The whole file; ``None`` where nothing can be made of it."""
        data = self.document.data
        self._unknown(data, _TOP, ())
        ground = self._try(lambda: self._ground(data.get("study")), ("study",))
        share = self._try(lambda: _share(data.get("refined_share", 1.0)), ("refined_share",))
        listed = data.get("groups", [{"name": name}])
        if ground is None or not self._is_list(listed, ("groups",)):
            return None
        if not listed:
            error = FieldError("is an empty list", "- name: ...", "groups-empty", ("groups",))
            self.complaints.append(error)
            return None
        groups = [self._group(raw, ("groups", k), ground) for k, raw in enumerate(listed)]
        title = self._try(lambda: _text(data.get("title", name)), ("title",))
        if None in groups or share is None or title is None:
            return None
        whole = tuple(group for group in groups if group is not None)
        twice = {g.name for g in whole if sum(h.name == g.name for h in whole) > 1}
        if twice:
            rule = f"has two groups named {min(twice)}"
            self.complaints.append(FieldError(rule, "name each by itself", "group", ("groups",)))
        return Batch(name, title, whole, share, self.folder)

    def _ground(self, raw: Any) -> Ground:
        standard = self.document.data.get("standard_chokes", False)
        if not isinstance(standard, bool):
            remedy = "standard_chokes: true"
            raise FieldError("stands beside no true or false", remedy, "batch-standard")
        if isinstance(raw, str):
            other = read_yaml(self.folder / raw)
            return Ground(other.name, other.data, other.lines, (self.folder / raw).parent, standard)
        if not isinstance(raw, dict):
            raise FieldError(
                "is no study", "a study's keys, or the name of its file", "batch-study"
            )
        lines = {at[1:]: line for at, line in self.document.lines.items() if at[:1] == ("study",)}
        return Ground(self.document.name, raw, lines, self.folder, standard)

    def _group(self, raw: Any, at: KeyPath, ground: Ground) -> Group | None:
        """A group, with what it shares with the others from the top of the file."""
        data = self.document.data
        if not isinstance(raw, dict):
            self.complaints.append(FieldError("is no group", "- name: ...", "group", at))
            return None
        if "groups" in data:
            self._unknown(raw, _GROUP, at)
        before = len(self.complaints)
        both: list[tuple[dict[str, Any], KeyPath]] = [(data, ()), (raw, at)]
        fixed = {k: v for part, here in both for k, v in self._keys(part, "set", here)}
        axes: dict[str, Axis] = {}
        for part, here in both:
            for key, value in self._keys(part, "axes", here):
                self._store(axes, key, read_axis, value, (*here, "axes", key))
        draws = self._draws(both)
        conditions = [c for part, here in both for c in self._lines(part, here)]
        paired = [r for part, here in both for r in self._table(part, here)]
        name = self._try(lambda: _text(raw.get("name")), (*at, "name"))
        if len(self.complaints) > before or name is None:
            return None
        found = tuple(axes.values()), tuple(paired), draws, tuple(conditions)
        group = Group(name, ground, fixed, *found)
        self._check(group, at)
        return group

    def _draws(self, both: list[tuple[dict[str, Any], KeyPath]]) -> Draws | None:
        drawn: dict[str, DrawnAxis] = {}
        said: dict[str, Any] = {"order": SOBOL, "seed": 1}
        for part, here in both:
            raw = part.get("draws")
            if raw is None:
                continue
            if not isinstance(raw, dict):
                error = FieldError("has no keys", _DRAWS_EXAMPLE, "draws", (*here, "draws"))
                self.complaints.append(error)
                return None
            self._unknown(raw, ("count", "order", "seed", "of"), (*here, "draws"))
            said |= {k: v for k, v in raw.items() if k != "of"}
            for key, value in self._keys(raw, "of", (*here, "draws")):
                self._store(drawn, key, read_drawn, value, (*here, "draws", "of", key))
        if not drawn:
            return None
        return self._try(lambda: _counted(said, tuple(drawn.values())), ("draws",))

    def _store(
        self,
        found: dict[str, T],
        key: str,
        read: Callable[[str, Any], T],
        value: Any,
        at: KeyPath,
    ) -> None:
        axis = self._try(lambda: read(key, value), at)
        if axis is not None:
            found[key] = axis

    def _lines(self, part: dict[str, Any], here: KeyPath) -> Iterator[Condition]:
        listed = part.get("only", [])
        if not self._is_list(listed, (*here, "only")):
            return
        for k, raw in enumerate(listed):
            found = self._try(partial(read_condition, raw), (*here, "only", k))
            if found is not None:
                yield found

    def _table(self, part: dict[str, Any], here: KeyPath) -> list[dict[str, Choice]]:
        if "table" not in part:
            return []
        return self._try(lambda: self._pairs(part["table"]), (*here, "table")) or []

    def _pairs(self, name: Any) -> list[dict[str, Choice]]:
        """Rows of a table whose columns are keys or names."""
        if not isinstance(name, str):
            raise FieldError("is no name of a file", "table: sizes.csv", "batch-table")
        text = read_text(self.folder / name, _LARGEST_TABLE, name)
        rows = list(csv.reader(StringIO(text)))
        keys, *values = rows
        for key in keys:
            self._check_key(key)
        if not values or any(len(row) != len(keys) for row in rows):
            raise FieldError(f"has no rows of {len(keys)} values each", "fill it in", "batch-table")
        return [dict(zip(keys, map(_cell, row), strict=True)) for row in values]

    def _check(self, group: Group, at: KeyPath) -> None:
        """What is wrong between the parts of a group."""
        columns = group.columns
        for condition in group.conditions:
            for odd in sorted(condition.columns - {*columns, ROUTE}):
                near = nearest(odd, [*columns, ROUTE])
                remedy = near or f"one of {', '.join([*columns, ROUTE])}"
                rule = f"speaks of {odd}, which is no axis of {group.name}"
                self.complaints.append(FieldError(rule, remedy, "condition-column", ("only",)))
        twice = sorted({name for name in columns if columns.count(name) > 1})
        for name in twice:
            rule = f"gives {name} twice, by axes, draws or the table"
            self.complaints.append(FieldError(rule, "leave one out", "axis-twice", at))
        values = [c.raw for a in group.axes for c in a.choices]
        if group.draws is not None:
            values += [c.raw for a in group.draws.axes for c in a.choices]
        values += [c.raw for row in group.paired for c in row.values()]
        known = {f"${name}" for name in columns}
        used = set(names_in([group.ground.data, group.fixed, values]))
        for odd in sorted(used - known):
            rule = f"has no axis {odd}, which stands in its study"
            self.complaints.append(FieldError(rule, f"{odd}: [..]", "axis-name", at))

    def _keys(self, part: dict[str, Any], name: str, at: KeyPath) -> Iterator[tuple[str, Any]]:
        """Keys of the study below one of ours, with what they are to be."""
        raw = part.get(name)
        if raw is None:
            return
        if not isinstance(raw, dict):
            error = FieldError("is no set of keys", "site.height: ...", "value-kind", (*at, name))
            self.complaints.append(error)
            return
        for key, value in raw.items():
            try:
                self._check_key(key)
            except FieldError as error:
                self.complaints.append(error.below(*at, name, key))
            else:
                yield key, value

    def _check_key(self, key: str) -> None:
        if NAME.fullmatch(key):
            return
        first = str(path_of(key)[0])
        if first not in self._known:
            near = nearest(first, self._known)
            raise FieldError("is no key of a study", near or "a key, or $name", "axis-key")

    def _unknown(self, raw: dict[str, Any], known: tuple[str, ...], at: KeyPath) -> None:
        self.complaints += [unknown_key((*at, key), known) for key in raw if key not in known]

    def _is_list(self, raw: Any, at: KeyPath) -> bool:
        if isinstance(raw, list):
            return True
        self.complaints.append(FieldError("is not a list", "start with a hyphen", "list", at))
        return False

    def _try(self, read: Callable[[], T], at: KeyPath) -> T | None:
        """What a reader makes; what it refuses is kept."""
        try:
            return read()
        except FieldsError as refused:
            self.complaints += [error.below(*at) for error in refused.errors]
        except StudyError as error:
            self.complaints += [_of_file(fault, at) for fault in error.faults]
        return None


def _of_file(fault: Fault, at: KeyPath) -> FieldError:
    return FieldError(f"{fault.place} {fault.rule}", fault.remedy, fault.tag, at)


def _cell(text: str) -> Choice:
    """A cell of a table as YAML would read it: a whole number, a number, or text."""
    for kind in (int, float):
        try:
            return choice_of(kind(text))
        except ValueError:
            continue
    return choice_of(text)


def _text(raw: Any) -> str:
    if not isinstance(raw, str) or not raw.strip() or not raw.isprintable() or len(raw) > 120:
        raise FieldError("is no short text", "j-pole, 145 MHz", "text-form")
    return raw


def _share(raw: Any) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not 0 <= raw <= 1:
        raise FieldError("is no number from 0 to 1", "refined_share: 0.25", "share-range")
    return float(raw)


def _counted(said: dict[str, Any], axes: tuple[DrawnAxis, ...]) -> Draws:
    count, order, seed = said.get("count"), said["order"], said["seed"]
    if not isinstance(count, int) or not _is_whole(count, 1, MOST_DRAWS):
        rule = f"is no whole number from 1 to {MOST_DRAWS}"
        raise FieldError(rule, "count: 64", "draws", ("count",))
    if order not in (SOBOL, RANDOM):
        raise FieldError(f"is neither {SOBOL} nor {RANDOM}", "order: sobol", "draws", ("order",))
    if not _is_whole(seed, 0, 2**31):
        raise FieldError("is no whole number", "seed: 1", "draws", ("seed",))
    return Draws(count, order, seed, axes)


def _is_whole(value: Any, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high
