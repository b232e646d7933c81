"""A study of a batch: values put into what the batch says of all its studies, and read as a study.

Plain data and choices in, plain data or a checked Study out. A value stands where its key is, or
wherever the name of it stands in the data ("$aside").
"""

from __future__ import annotations

import copy
import itertools
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.study.reader import read_study
from pipeline.study.records import Study
from pipeline.text.refusals import FieldError
from pipeline.text.yaml_reading import Document, KeyPath

# Section of the bond, and the step of the way that has one.
BOND = "bond"
NAME = re.compile(r"\$[a-z][a-z0-9_]{0,39}")
_STEP = re.compile(r"([^.\[\]]+)|\[(\d{1,3})\]")
_PATH = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+|\[\d{1,3}\])*")


@dataclass(frozen=True)
class Ground:
    """What the studies of a group share: data, lines of the file they stand on, its name, folder.

    ``folder`` is where the files that a study names are looked for; ``with_standard`` adds the coil
    and the sleeve that a study is always judged with.
    """

    name: str
    data: dict[str, Any]
    lines: dict[KeyPath, int]
    folder: Path
    with_standard: bool = False


def path_of(key: str) -> KeyPath:
    """Steps of a key as messages write it.

    Examples
    --------
    >>> path_of("cable.route[1].down_to")
    ('cable', 'route', 1, 'down_to')
    """
    if _PATH.fullmatch(key) is None:
        raise FieldError(
            "is no key of a study", "site.height, cable.route[1].down_to or $aside", "axis-key"
        )
    return tuple(int(m[2]) if m[2] else m[1] for m in _STEP.finditer(key))


def with_values(data: dict[str, Any], values: Mapping[str, Any]) -> dict[str, Any]:
    """Data of a study with values by key, then by name; the data themselves stay as they are.

    FieldError where a key leads nowhere, or a name has no value. What is said of a bond is left
    out where the way has none.
    """
    made = copy.deepcopy(data)
    for key, raw in values.items():
        if not key.startswith("$"):
            _put(made, path_of(key), copy.deepcopy(raw))
    names = {key: raw for key, raw in values.items() if key.startswith("$")}
    made = {key: _named(value, names, 0) for key, value in made.items()}
    if not has_bond(made):
        # Whether there is a bond may be an axis; what is said of it holds where there is one.
        made.pop(BOND, None)
    return made


def has_bond(data: Mapping[str, Any]) -> bool:
    """Whether the way of the cable has a bond."""
    cable = data.get("cable")
    route = cable.get("route") if isinstance(cable, dict) else None
    steps = route if isinstance(route, list) else []
    return any(isinstance(step, dict) and BOND in step for step in steps)


def _put(data: dict[str, Any], path: KeyPath, raw: Any) -> None:
    at: Any = data
    for step, further in itertools.pairwise(path):
        at = _inside(at, step, {} if isinstance(further, str) else [])
    last = path[-1]
    if isinstance(at, list):
        number = _number_in(at, last)
        if number is None:
            raise FieldError("is not in the list", "count from [0]", "axis-key")
        at[number] = raw
    elif isinstance(at, dict) and isinstance(last, str):
        at[last] = raw
    else:
        raise FieldError("leads into what has no keys", "name the key above it", "axis-key")


def _inside(at: Any, step: str | int, fresh: Any) -> Any:
    """What stands below a key; a section that is not there is begun."""
    if isinstance(at, list):
        number = _number_in(at, step)
        if number is None:
            raise FieldError(
                "leads to an entry that is not there", "its id, or count from [0]", "axis-key"
            )
        return at[number]
    if not isinstance(at, dict) or not isinstance(step, str):
        raise FieldError("leads into what has no keys", "name the key above it", "axis-key")
    return at.setdefault(step, fresh)


def _number_in(entries: list[Any], step: str | int) -> int | None:
    """Number of an entry of a list by its place, or by its id."""
    if isinstance(step, int):
        return step if step < len(entries) else None
    ids = [entry.get("id") if isinstance(entry, dict) else None for entry in entries]
    return ids.index(step) if step in ids else None


# A name's value may itself hold a name; no deeper than this.
_DEEPEST = 4


def _named(raw: Any, names: Mapping[str, Any], depth: int) -> Any:
    if isinstance(raw, dict):
        return {key: _named(value, names, depth) for key, value in raw.items()}
    if isinstance(raw, list):
        return [_named(value, names, depth) for value in raw]
    if not isinstance(raw, str) or NAME.fullmatch(raw) is None:
        return raw
    if raw not in names or depth > _DEEPEST:
        rule = f"has {raw}, and no axis of that name gives it a value"
        raise FieldError(rule, f"an axis {raw}, or a value in its place", "axis-name")
    return _named(names[raw], names, depth + 1)


def names_in(raw: Any) -> Iterator[str]:
    """Names that stand in some data in place of a value."""
    if isinstance(raw, dict | list):
        for value in raw.values() if isinstance(raw, dict) else raw:
            yield from names_in(value)
    elif isinstance(raw, str) and NAME.fullmatch(raw):
        yield raw


def study_of(ground: Ground, data: dict[str, Any]) -> Study:
    """Study of some data, complete and checked; StudyError with all that is wrong with it."""
    return read_study(Document(ground.name, data, ground.lines), ground.folder)
