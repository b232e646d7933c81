"""Wrong studies: patches of a good one, and wrong values for every key that a study may have.

A patch replaces one text of ``good/bench.yaml``; ``wrong.csv`` has them with what has to be told.
The keys come from the published JSON Schema, which also says which of the values are right after
all (a title may be almost any text). Each study is written so that the line of each key is known.
"""

from __future__ import annotations

import copy
import csv
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from pipeline.text.yaml_reading import Document

GOOD = Path(__file__).parents[1] / "studies" / "good"
BENCH = GOOD / "bench.yaml"
Path_ = tuple[str | int, ...]


class Patch(NamedTuple):
    """A change that makes the good study wrong: key, start of the value told, parts of the rest."""

    name: str
    old: str
    new: str
    key: str
    value: str
    rule: str
    remedy: str
    tag: str

    def text(self) -> str:
        """The good study with this change."""
        return good_with(self.old, self.new)

    def lines(self) -> range:
        """Lines of the wrong study that the change is on."""
        before = BENCH.read_text(encoding="utf-8").partition(self.old)[0]
        first = before.count("\n") + 1
        return range(first, first + max(self.new.rstrip("\n").count("\n"), 0) + 1)

    def written(self, folder: Path) -> Path:
        """The wrong study in a folder, with the table that it names."""
        path = folder / f"{self.name}.yaml"
        path.write_text(self.text(), encoding="utf-8")
        (folder / "choke.csv").write_bytes((GOOD / "choke.csv").read_bytes())
        return path


def good_with(old: str, new: str) -> str:
    """Text of the good study with one text in it replaced."""
    text = BENCH.read_text(encoding="utf-8")
    assert text.count(old) == 1, old
    return text.replace(old, new)


def _patches() -> tuple[Patch, ...]:
    with (GOOD.parent / "wrong.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    # A line end is written \\n there.
    ends = [{key: row[key].replace("\\n", "\n") for key in ("old", "new")} for row in rows]
    return tuple(Patch(**(row | texts)) for row, texts in zip(rows, ends, strict=True))


PATCHES = _patches()


@dataclass(frozen=True)
class Raw:
    """Text that goes into the file as it stands, not in quotes, and what it is read as."""

    text: str
    value: Any


# What no key of a study takes, or only one of free text.
WRONG: dict[str, Any] = {
    "nothing": None,
    "true": True,
    "a list in a list": [[1]],
    "an empty list": [],
    "an empty map": {},
    "a map with odd keys": {"odd": 1, "e\x1bvil\n  x = 1  [tag]": 2, "a.b": {"c": [1, {"d": 2}]}},
    "a huge number": Raw("1.0e+300", 1e300),
    "a whole number of eighteen digits": Raw("-999999999999999999", -999999999999999999),
    "a number that is none": Raw(".nan", math.nan),
    "an endless number": Raw(".inf", math.inf),
    "a huge length": "1e99 m",
    "a unit of another kind": "3 kelvin",
    "digits of Arabic script": "\u0663 mm",
    "full-width digits": "\uff15\uff15 mm",
    "full-width digits without a unit": Raw("\uff14", "\uff14"),
    "a terminal's escape": "\x1b[31mred\x1b[0m",
    "a bell": "ring\x07",
    "a direction override": "\u202egnp.exe",
    "a line separator": "one\u2028two",
    "a carriage return": "one\rtwo",
    "a null": "a\x00b",
    "half a surrogate pair": "\ud800",
    "a path": "../../etc/passwd",
    "a long text": "x" * 3000,
    "a formula": "=1+1",
}

STUDY: dict[str, Any] = yaml.safe_load((GOOD / "every_section.yaml").read_text(encoding="utf-8"))


def write_measurements(folder: Path) -> None:
    """The files that the study names."""
    (folder / "choke.csv").write_bytes((GOOD / "choke.csv").read_bytes())
    for name, cells in (
        ("antenna.s1p", "0.1 0.1"),
        ("choke.s2p", "0.9 0 0.1 0 0.1 0 0.9 0"),
        ("empty.s2p", "0.999 0 0.0001 0.001 0.0001 0.001 0.999 0"),
    ):
        rows = "".join(f"{f} {cells}\n" for f in range(140, 151))
        (folder / name).write_text(f"# MHz S RI R 50\n{rows}", encoding="utf-8")


@dataclass(frozen=True)
class Written:
    """A study as text, and the first and the last line of every key and entry."""

    text: str
    lines: dict[Path_, tuple[int, int]]

    def document(self, study: dict[str, Any]) -> Document:
        """What reading the text gives, without reading it."""
        first = {at: line for at, (line, _) in self.lines.items()}
        return Document("study.yaml", plain(study), {(): 1, **first})


def _scalar(value: Any) -> str:
    return value.text if isinstance(value, Raw) else json.dumps(value)


def written(study: dict[str, Any]) -> Written:
    """A study with one key or entry to a line."""
    rows: list[str] = []
    lines: dict[Path_, tuple[int, int]] = {}

    def put(at: Path_, head: str, value: Any, depth: int) -> None:
        first, indent = len(rows) + 1, "  " * depth
        if isinstance(value, dict | list) and value:
            rows.append(indent + head)
            if isinstance(value, dict):
                for key, inner in value.items():
                    put((*at, key), f"{json.dumps(key)}:", inner, depth + 1)
            else:
                for k, inner in enumerate(value):
                    put((*at, k), "-", inner, depth + 1)
            if head == "-":
                # The first key or entry stands beside the hyphen.
                del rows[first - 1]
                rows[first - 1] = f"{indent}- {rows[first - 1].strip()}"
                for inside, (start, stop) in lines.items():
                    if start > first or (inside[: len(at)] == at and inside != at):
                        lines[inside] = (start - 1, stop - 1)
        else:
            empty = {dict: "{}", list: "[]"}.get(type(value))
            rows.append(f"{indent}{head} {empty or _scalar(value)}")
        lines[at] = (first, len(rows))

    for key, value in study.items():
        put((key,), f"{key}:", value, 0)
    return Written("\n".join(rows) + "\n", lines)


def changed(study: dict[str, Any], at: Path_, value: Any) -> dict[str, Any]:
    """A study with one key replaced or added."""
    new = copy.deepcopy(study)
    inside: Any = new
    for step in at[:-1]:
        inside = inside[step]
    inside[at[-1]] = value
    return new


def plain(value: Any) -> Any:
    """A value as reading the file gives it."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return value.value if isinstance(value, Raw) else value


def _parts(schema: dict[str, Any], root: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """A schema and all that it may be instead."""
    if "$ref" in schema:
        target: Any = root
        for step in schema["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        yield from _parts(target, root)
        return
    yield schema
    for one in (*schema.get("anyOf", ()), *schema.get("oneOf", ())):
        yield from _parts(one, root)


def _fits(schema: dict[str, Any], value: dict[str, Any]) -> bool:
    """Whether the words that a schema asks for are those of a section."""
    properties = schema.get("properties", {})
    return all(
        value.get(key, p["const"]) == p["const"] for key, p in properties.items() if "const" in p
    )


def keys_of(schema: dict[str, Any], study: dict[str, Any]) -> dict[Path_, dict[str, Any]]:
    """Every key that a study may have, and entry that it has, with its schema."""
    found: dict[Path_, dict[str, Any]] = {}

    def walk(at: Path_, here: dict[str, Any], value: Any) -> None:
        for part in _parts(here, schema):
            if isinstance(value, dict) and _fits(part, value):
                # A step of the route has one key, and a spread one of three sets of them.
                whole = "maxProperties" in part or "spread of" in part.get("description", "")
                for key, inner in part.get("properties", {}).items():
                    if key in value or not whole:
                        found[*at, key] = inner
                        walk((*at, key), inner, value.get(key))
            if isinstance(value, list) and isinstance(part.get("items"), dict):
                for k, entry in enumerate(value):
                    found[*at, k] = part["items"]
                    walk((*at, k), part["items"], entry)

    walk((), schema, study)
    return found
