"""Parts that a study brings along: rows with the catalogue's columns in, checked records out.

Everything that is wrong is found in one go: a cell that breaks a rule is noted and taken from a
row of the catalogue, so that the cells behind it are read as well.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Generic, TypeVar

from models.catalogues import parts as catalogue
from models.catalogues.names import fold_name
from models.catalogues.parts import (
    COAX_COLUMNS,
    CORE_COLUMNS,
    PIPE_COLUMNS,
    CoaxClass,
    FerriteCore,
    Pipe,
)
from models.catalogues.rows import DamagedCatalogue, Row, is_identifier

PartT = TypeVar("PartT", CoaxClass, FerriteCore, Pipe)

# Cells that may be left out, with what then stands for them.
_LEFT_OUT = {
    "also": "",
    "note": "",
    "standard": "own",
    "jacket_material": "not said",
    "average_power_w": "",
    "average_power_at_mhz": "",
    "power_source": "",
    "power_confidence": "",
    "confidence": "from-memory",
    "loss_confidence": "from-memory",
    "on_sale": "yes",
}
# Sizes that are the limits of others: once one is wrong, what is said of those is no help.
_LIMITS = ("jacket_diameter_mm", "outer_diameter_mm", "inner_diameter_mm", "outside_diameter_mm")
_TEXTS = ("name", "also", "standard", "jacket_material", "power_source", "source", "note")
_LONGEST = 300
# A cell that begins so is a formula to a spreadsheet, which is where results are opened.
_FORMULA = "=+-@"


@dataclass(frozen=True)
class Kind(Generic[PartT]):
    """One kind of parts: its file in the catalogue, its columns, and how a row is read."""

    file: str
    columns: tuple[str, ...]
    read: Callable[[Row], PartT]
    shipped: Callable[[], tuple[PartT, ...]]

    @property
    def needed(self) -> tuple[str, ...]:
        """Columns that may not be left out; a part without a name is called by its id."""
        return tuple(c for c in self.columns if c not in _LEFT_OUT and c != "name")


CABLES = Kind("coax.csv", COAX_COLUMNS, catalogue.coax_of, catalogue.coax_classes)
CORES = Kind("ferrites.csv", CORE_COLUMNS, catalogue.core_of, catalogue.ferrite_cores)
PIPES = Kind("pipes.csv", PIPE_COLUMNS, catalogue.pipe_of, catalogue.pipes)


@dataclass(frozen=True)
class CellFault:
    """Fault of one cell, by the number of its row from zero, and how it could be written."""

    row: int
    column: str
    value: str
    rule: str
    example: str


@cache
def example_of(file: str, *columns: str) -> Mapping[str, str]:
    """Cells of the first part of a catalogue file."""
    return catalogue.rows_of(file, *columns)[0].cells


def read_parts(
    kind: Kind[PartT], rows: Sequence[Mapping[str, str]]
) -> tuple[tuple[PartT, ...], list[CellFault]]:
    """Parts of sound rows, and everything that is wrong with the others.

    ``rows`` are cells by column; those that may be left out need not be there.
    """
    taken = {
        fold_name(label): "is the name of a part of the catalogue"
        for part in kind.shipped()
        for label in (part.id, part.name)
    }
    parts: list[PartT] = []
    faults: list[CellFault] = []
    for number, given in enumerate(rows):
        part, wrong = _read_part(kind, number, given)
        if not {"id", "name"} & {fault.column for fault in wrong}:
            wrong += _name_taken(number, given, taken)
        faults += wrong
        labels = [given.get("id", ""), given.get("name", "") or given.get("id", "")]
        taken |= {fold_name(label): "is there twice" for label in labels if label}
        if part is not None and not wrong:
            parts.append(part)
    return tuple(parts), faults


def _read_part(
    kind: Kind[PartT], number: int, given: Mapping[str, str]
) -> tuple[PartT | None, list[CellFault]]:
    """A part and the faults of its row."""
    example = example_of(kind.file, *kind.columns)
    cells = {column: given.get(column, "").strip() for column in kind.columns}
    cells["name"] = cells["name"] or cells["id"]
    cells |= {c: left for c, left in _LEFT_OUT.items() if c in cells and not cells[c]}
    faults: list[CellFault] = []

    def note(column: str, rule: str, remedy: str = "") -> None:
        shown = remedy or example[column]
        faults.append(CellFault(number, column, given.get(column, ""), rule, shown))
        cells[column] = example[column]

    if cells["id"] and not is_identifier(cells["id"]):
        note("id", "is not made of lower-case letters, digits and single hyphens")
    for column in _TEXTS:
        if column in cells and (rule := _no_plain_text(cells[column])):
            note(column, rule)
    while True:
        try:
            return kind.read(Row(kind.file, number, cells)), faults
        except DamagedCatalogue as damage:
            known = {f.column for f in faults}
            if damage.column in known or known & set(_LIMITS):
                return None, faults
            note(damage.column, damage.rule, damage.remedy)


def _no_plain_text(cell: str) -> str:
    """Reason a cell is no line of text that a table may show; empty where it is one."""
    if len(cell) > _LONGEST or not cell.isprintable():
        return f"is not one line of at most {_LONGEST} characters"
    if cell and cell[0] in _FORMULA:
        return f"begins with a sign that a spreadsheet takes for a formula ({' '.join(_FORMULA)})"
    return ""


def _name_taken(number: int, given: Mapping[str, str], taken: Mapping[str, str]) -> list[CellFault]:
    """Complain about an id or name that another part has."""
    for column in ("id", "name"):
        rule = taken.get(fold_name(given.get(column, "")))
        if rule:
            return [CellFault(number, column, given[column], rule, f"my-{given['id']}")]
    return []
