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
from itertools import groupby
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
_ABOVE = """# Claims

Every sentence of the answers, and how many tests of the program stand behind it. What a sentence
rests on stands in `claims.csv`, a row for each number, below the same study and claim: the file
with the number, its place there, its value, the tests by name.
"""


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
            "claim": number,
            "part": each["part"],
            "sentence": each["sentence"],
            "producer": f"pipeline.answer.{each['producer']}",
            "file": f"data/{name}/{key['file']}",
            "key": key["place"],
            "value": _value(key, results, summary),
            "tests": "; ".join(_tests(each["producer"], key["place"])),
        }
        for number, each in enumerate(sentences, start=1)
        for key in each["keys"]
    ]


def claims_markdown(rows: list[Row]) -> str:
    """The same for a reader: one line a sentence; what each rests on is in the table."""
    said = [_ABOVE]
    for study in dict.fromkeys(row["study"] for row in rows):
        own = [row for row in rows if row["study"] == study]
        headings = [Heading("claim", True), *map(Heading, ("part", "sentence", "tests"))]
        said += [f"## `{study}`\n", markdown_table(headings, list(_cells(own)))]
    return "\n".join(said)


def _cells(rows: list[Row]) -> Iterator[list[str]]:
    """Cells in print, a line for each sentence."""
    for number, own in groupby(rows, key=lambda row: row["claim"]):
        of = list(own)
        tests = {test for row in of for test in row["tests"].split("; ")}
        yield [str(number), of[0]["part"], of[0]["sentence"], str(len(tests))]


def _value(key: Mapping[str, str], results: Path, summary: Mapping[str, Any]) -> Any:
    """What stands at the place of a key; of a list how many there are."""
    if key["file"] == SUMMARY:
        value = value_at(summary, key["place"])
        return len(value) if isinstance(value, list) else value
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
