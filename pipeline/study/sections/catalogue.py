"""The section ``catalogue`` of a study: cables, cores and pipes of its own.

Each key holds a list of parts, or the name of a CSV file beside the study; both have the columns
of the catalogue's own files. Parts and every fault of them come out.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from models.catalogues.own_parts import (
    CABLES,
    CORES,
    PIPES,
    CellFault,
    Kind,
    example_of,
    read_parts,
)
from models.catalogues.records import NO_PARTS, OwnParts
from pipeline.chokes.table_file import LARGEST_TABLE, table_path
from pipeline.study.faults import missing_key, shown_value, unknown_key
from pipeline.study.fields import Context, FieldKind, as_text
from pipeline.text.errors import StudyError
from pipeline.text.refusals import FieldError
from pipeline.text.yaml_reading import Document, KeyPath, read_text

SECTION = "catalogue"
_KINDS: Mapping[str, Kind[Any]] = {"cables": CABLES, "cores": CORES, "pipes": PIPES}
_MOST = 200


@dataclass
class OwnCatalogue:
    """Parts of a study's own, and what is wrong with them."""

    parts: OwnParts = NO_PARTS
    complaints: list[FieldError] = field(default_factory=list)

    def hides(self, complaint: FieldError) -> bool:
        """Whether a name may be unknown only because of a fault that is told already."""
        return bool(self.complaints) and complaint.tag in ("name-unknown", "name-ambiguous")


@dataclass(frozen=True)
class _Table:
    """Rows of one kind of parts: cells by column, and where each row stands."""

    rows: list[dict[str, str]]
    lines: list[int]
    file: str


def read_catalogue(document: Document, folder: Path) -> OwnCatalogue:
    """Parts that a study brings along, in itself or in files of its folder."""
    found = OwnCatalogue()
    if SECTION not in document.data:
        return found
    raw = document.data[SECTION]
    if not isinstance(raw, dict) or not raw:
        rule, remedy = "is not a set of keys and values", "write cables:, cores: or pipes: below it"
        found.complaints.append(FieldError(rule, remedy, "value-kind", (SECTION,)))
        return found
    parts: dict[str, tuple[Any, ...]] = {}
    files: list[str] = []
    for key, value in raw.items():
        at: KeyPath = (SECTION, key)
        if key not in _KINDS:
            found.complaints.append(unknown_key(at, list(_KINDS)))
            continue
        table, complaints = _table(value, at, folder, _KINDS[key])
        found.complaints += complaints
        if table is None:
            continue
        parts[key], faults = read_parts(_KINDS[key], table.rows)
        found.complaints += [_cell_complaint(f, at, table) for f in faults]
        files += [table.file] if table.file else []
    found.parts = OwnParts(files=tuple(files), **parts)
    return found


def _table(
    raw: Any, at: KeyPath, folder: Path, kind: Kind[Any]
) -> tuple[_Table | None, list[FieldError]]:
    """Rows of a list in the study, or of the file that it names."""
    if isinstance(raw, str):
        return _file_table(raw, at, folder, kind)
    if not isinstance(raw, list) or not 1 <= len(raw) <= _MOST:
        rule = f"is neither a file name nor a list of parts, 1 to {_MOST} of them"
        remedy = f"{at[-1]}: my_{at[-1]}.csv  or a list with  - id: my-{at[-1]}"
        return None, [FieldError(rule, remedy, "value-kind", at)]
    rows, complaints = [], []
    for number, entry in enumerate(raw):
        here = (*at, number)
        if not isinstance(entry, dict):
            rule, remedy = "is not a set of columns and values", f"id: my-{at[-1]}, then the rest"
            complaints.append(FieldError(rule, remedy, "value-kind", here))
            continue
        complaints += [
            unknown_key((*here, column), list(kind.columns))
            for column in entry
            if column not in kind.columns
        ]
        example = example_of(kind.file, *kind.columns)
        complaints += [
            missing_key((*here, column), f"your part's own, as in {example[column]}")
            for column in kind.needed
            if column not in entry
        ]
        rows.append({str(c): _cell(value) for c, value in entry.items()})
    return (None, complaints) if complaints else (_Table(rows, [], ""), [])


def _cell(value: Any) -> str:
    """A value of the study as a cell of a table has it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(as_text(value))


def _file_table(
    name: str, at: KeyPath, folder: Path, kind: Kind[Any]
) -> tuple[_Table | None, list[FieldError]]:
    """Rows of a CSV file beside the study."""
    try:
        path = table_path(name, folder)
        text = read_text(path, LARGEST_TABLE, path.name)
    except FieldError as error:
        return None, [FieldError(error.rule, error.remedy, error.tag, at)]
    except StudyError as error:
        fault = error.faults[0]
        return None, [FieldError(f"names a file that {fault.rule}", fault.remedy, fault.tag, at)]
    try:
        lines = list(csv.reader(text.splitlines()))
    except csv.Error as error:
        rule, remedy = f"names a file that is no table of cells ({error})", "save it as CSV again"
        return None, [FieldError(rule, remedy, "table-form", at)]
    header = [cell.strip() for cell in lines[0]] if lines else []
    complaints = _header_complaints(header, at, path.name, kind)
    rows, numbers = [], []
    for number, cells in enumerate(lines[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(header):
            rule = f"has {len(cells)} cells, need {len(header)}"
            remedy = "give each column one cell, and put cells with a comma in quotes"
            complaints.append(_in_file(at, f"{path.name}:{number}", "", rule, remedy))
            continue
        rows.append(dict(zip(header, cells, strict=True)))
        numbers.append(number)
    if not rows and not complaints:
        rule = "names a file with a header only: there are no rows"
        complaints = [FieldError(rule, "add a line for each part", "table-form", at)]
    return (None, complaints) if complaints else (_Table(rows, numbers, name), [])


def _header_complaints(
    header: list[str], at: KeyPath, file: str, kind: Kind[Any]
) -> list[FieldError]:
    """Columns in the first line of a file that are unknown, there twice or missing."""
    place = f"{file}:1"
    unknown = [c for c in dict.fromkeys(header) if c not in kind.columns]
    found = [
        _in_file(at, place, shown_value(column), told.rule, told.remedy.rstrip(":"))
        for column in unknown
        for told in [unknown_key((column,), list(kind.columns))]
    ]
    twice = [c for c in dict.fromkeys(header) if header.count(c) > 1]
    found += [
        _in_file(at, place, shown_value(c), "is there twice", "leave one of the two out")
        for c in twice
    ]
    missing = [c for c in kind.needed if c not in header]
    if missing and not unknown:
        rule = f"has no column {', '.join(missing)}"
        found.append(_in_file(at, place, "", rule, f"begin with {','.join(kind.columns)}"))
    return found


def _in_file(at: KeyPath, place: str, value: str, rule: str, remedy: str) -> FieldError:
    return FieldError(rule, remedy, "part-form", at, place, value)


def _cell_complaint(fault: CellFault, at: KeyPath, table: _Table) -> FieldError:
    """Complain about a cell where it stands: in the study or in the file."""
    remedy = f"write it like {fault.example}" if fault.example else "leave it out"
    if not table.file:
        here = (*at, fault.row, fault.column)
        return FieldError(fault.rule, remedy, "part-form", here)
    place = f"{Path(table.file).name}:{table.lines[fault.row]}  {fault.column}"
    return _in_file(at, place, shown_value(fault.value), fault.rule, remedy)


def _not_by_itself(raw: Any, context: Context) -> OwnParts:
    """The parts that were read before anything else."""
    del raw
    return context.own


def _part_schema(kind: Kind[Any]) -> dict[str, Any]:
    cell = {"type": ["string", "number", "boolean"]}
    entry = {
        "type": "object",
        "properties": dict.fromkeys(kind.columns, cell),
        "required": list(kind.needed),
        "additionalProperties": False,
    }
    listed = {"type": "array", "items": entry, "minItems": 1, "maxItems": _MOST}
    text = f"parts with the columns of {kind.file}, or a CSV file with them beside the study"
    return {"anyOf": [{"type": "string"}, listed], "description": text}


CATALOGUE = FieldKind(
    _not_by_itself,
    "{cables: my_cables.csv}",
    {
        "type": "object",
        "properties": {key: _part_schema(kind) for key, kind in _KINDS.items()},
        "additionalProperties": False,
        "minProperties": 1,
        "description": "parts of the study's own",
    },
)
