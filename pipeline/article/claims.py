"""The table of claims: for each sentence of an answer its numbers, their files, the tests behind.

The grounds that a run has left beside its summary in, one row for each number that a sentence rests
on out. A number is read where the grounds say that it stands, never from the sentence; the tests
behind it are those of the function that says the sentence and those of the quantity.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from pipeline.answer.grounds import SUMMARY
from pipeline.article.markup import Heading, markdown_table
from pipeline.figures.data import table_at
from pipeline.runtime.csv_tables import Row
from pipeline.runtime.store import read_json
from pipeline.text.errors import Fault, ResultError

GROUNDS = "grounds.json"
# A step of a path: a name, a name in brackets, or the one entry of a list whose name is so.
_STRING = r"'((?:[^'\\]|\\.)*)'"
_STEP = re.compile(rf"\.(\w+)|\[{_STRING}\]|\[\?@\.(\w+)=={_STRING}\]")
_PLACE = re.compile(r"(\w+)=(.*), (\w+)")
# Quantities by what ends a place; of words no test is known but that of the sentence.
_QUANTITIES = (
    (r"(?:figures\.|changes\.|numbers\[\?@\.name==')(\w+)(?:'\])?\.\w+$", ""),
    (r"\.(?:enough|worse|better|place|chance|enough_least|enough_most)$", "chance"),
    (r"\.\w+_error$", "error"),
    (r"\.score\.\w+$", "score"),
    (r"\.(?:share|noise)$", "share"),
    (r"\.(?:price|cost)$", "cost"),
    (r"\.heat$", "heat"),
    (r"\.grade$", "grade"),
    (r"\.length_m$", "cut_length"),
    (r", z_(?:low|high)_ohm$", "one_pass"),
    (r", own_cable_m$", "wound"),
)
_HEADINGS = ("part", "sentence", "number", "value", "tests")


def claim_rows(results: Path, name: str) -> list[Row]:
    """One row for each number behind each sentence of a study; ``name`` is that of the study.

    Raises
    ------
    ResultError
        If a file is missing or damaged, or a number is not where the grounds say.
    """
    sentences: list[dict[str, Any]] = read_json(results / GROUNDS)["sentences"]
    summary = read_json(results / SUMMARY)
    return [
        {
            "study": name,
            "part": each["part"],
            "sentence": each["sentence"],
            "producer": f"pipeline.answer.{each['producer']}",
            "file": f"data/{name}/{key['file']}",
            "key": key["place"],
            "value": _value(key, results, summary),
            "tests": "; ".join(_tests(each["producer"], key["place"])),
        }
        for each in sentences
        for key in each["keys"]
    ]


def claims_markdown(rows: list[Row]) -> str:
    """The same for a reader: below each study a table of sentences and numbers."""
    said = ["# Claims\n"]
    for study in dict.fromkeys(row["study"] for row in rows):
        own = [row for row in rows if row["study"] == study]
        said += [
            f"## `{study}`\n",
            markdown_table([Heading(h) for h in _HEADINGS], list(_cells(own))),
        ]
    return "\n".join(said)


def _cells(rows: list[Row]) -> Iterator[list[str]]:
    """Cells in print; a sentence stands once, before the first of its numbers."""
    before = None
    for row in rows:
        told = (row["part"], row["sentence"])
        first = told if told != before else ("", "")
        before = told
        value = row["value"]
        shown = f"{value:.6g}" if isinstance(value, float) else "" if value is None else str(value)
        yield [*first, row["key"], shown, row["tests"]]


def _value(key: Mapping[str, str], results: Path, summary: Mapping[str, Any]) -> Any:
    """What stands at the place of a key."""
    if key["file"] == SUMMARY:
        return value_at(summary, key["place"])
    found = _PLACE.fullmatch(key["place"])
    if found is None:
        raise _lost(key["place"])
    column, wanted, name = found.groups()
    rows = table_at(results / key["file"]).select(**{column: wanted})
    if len(rows) != 1:
        raise _lost(key["place"])
    return str(rows.text(name)[0])


def value_at(data: Any, path: str) -> Any:
    """Value of plain data at a path, as far as the grounds use them (RFC 9535).

    Raises
    ------
    ResultError
        If nothing stands there, or more than one thing.

    Examples
    --------
    >>> value_at({"a": [{"id": "x", "b": 1}, {"id": "y", "b": 2}]}, "$.a[?@.id=='y'].b")
    2
    """
    at = 1
    while at < len(path):
        step = _STEP.match(path, at)
        if step is None:
            raise _lost(path)
        name, quoted, key, wanted = step.groups()
        at = step.end()
        if key is None:
            data = _entry(data, name if quoted is None else _unquoted(quoted), path)
            continue
        found = [entry for entry in data if entry.get(key) == _unquoted(wanted)]
        if len(found) != 1:
            raise _lost(path)
        data = found[0]
    return data


def _entry(data: Any, name: str, path: str) -> Any:
    if not isinstance(data, dict) or name not in data:
        raise _lost(path)
    return data[name]


def _unquoted(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text)


def _lost(path: str) -> ResultError:
    rule = "does not stand where the grounds of the answer say"
    remedy = "run the study again; only what is missing is computed"
    return ResultError(Fault(GROUNDS, path, rule, remedy, "ground-lost"))


@cache
def named_tests() -> dict[str, tuple[str, ...]]:
    """Tests by the function that says a sentence, or by the quantity that they hold."""
    table = (files("pipeline.article") / "tests_behind.csv").read_text(encoding="utf-8")
    found: dict[str, list[str]] = {}
    for row in csv.DictReader(table.splitlines()):
        found.setdefault(row["behind"], []).append(row["test"])
    return {name: tuple(tests) for name, tests in found.items()}


def quantity_of(place: str) -> str:
    """Quantity that stands at a place; empty where it is a word or a count.

    Examples
    --------
    >>> quantity_of("$.answer.candidates[?@.id=='x'].figures.swr.low")
    'swr'
    >>> quantity_of("$.answer.candidates[?@.id=='x'].enough"), quantity_of("$.answer.tried")
    ('chance', '')
    """
    for pattern, name in _QUANTITIES:
        if found := re.search(pattern, place):
            return name or found[1]
    return ""


def _tests(producer: str, place: str) -> tuple[str, ...]:
    behind = named_tests()
    return (*behind[producer], *behind.get(quantity_of(place), ()))
