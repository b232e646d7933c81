"""Rows of catalogues: CSV text in, checked rows out."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.catalogues.names import Named, fold_name

CONFIDENCES = ("measured", "datasheet", "handbook", "derived", "from-memory", "common-practice")


class DamagedCatalogue(ValueError):  # noqa: N818
    """A catalogue file breaks its own rules: which file, which line, what is wrong.

    Of a single cell also which ``column`` it is, the ``rule`` without the column and, where it is
    known, the ``remedy``: what may be written there.
    """

    def __init__(
        self, file: str, line: int, problem: str, column: str = "", rule: str = "", remedy: str = ""
    ) -> None:
        super().__init__(file, line, problem, column, rule, remedy)
        self.file = file
        self.line = line
        self.problem = problem
        self.column = column
        self.rule = rule
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.problem}"


@dataclass(frozen=True)
class Row:
    """One line of a catalogue file, still text."""

    file: str
    line: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """Return the cell, which must not be empty."""
        cell = self.cells[column].strip()
        if not cell:
            rule = "is empty"
            raise DamagedCatalogue(self.file, self.line, f"{column} {rule}", column, rule)
        return cell

    def confidence(self, column: str = "confidence") -> str:
        """Return the cell, which must be one of ``CONFIDENCES``."""
        return self.word(column, CONFIDENCES)

    def word(self, column: str, words: Sequence[str]) -> str:
        """Return the cell, which must be one of a few words."""
        cell = self.text(column)
        if cell not in words:
            raise self.wrong(column, repr(cell), f"is not one of {', '.join(words)}")
        return cell

    def number(self, column: str, low: float, high: float, unit: float = 1.0) -> float:
        """Return the cell as a number times ``unit``; low and high are in the cell's own unit."""
        cell = self.text(column)
        try:
            value = float(cell)
        except ValueError:
            raise self.wrong(column, repr(cell), "is not a number") from None
        if not (math.isfinite(value) and low <= value <= high):
            raise self.wrong(column, cell, f"is outside {low:g} to {high:g}")
        return value * unit

    def wrong(self, column: str, shown: str, rule: str, remedy: str = "") -> DamagedCatalogue:
        """Error of one cell that breaks a rule."""
        problem = f"{column} = {shown} {rule}" + (f"; write {remedy}" if remedy else "")
        return DamagedCatalogue(self.file, self.line, problem, column, rule, remedy)


def read_rows(text: str, file: str, columns: Sequence[str]) -> list[Row]:
    r"""Split a catalogue file into rows, each with its source and confidence.

    Raises DamagedCatalogue if the header is not ``columns``, a line has too few or too many cells,
    there is no line at all, a source is empty, or a confidence is not one of ``CONFIDENCES``.

    Examples
    --------
    >>> rows = read_rows("id,source,confidence\na,a standard,handbook\n", "x.csv",
    ...                  ["id", "source", "confidence"])
    >>> rows[0].text("source")
    'a standard'
    """
    lines = list(csv.reader(io.StringIO(text)))
    if not lines or lines[0] != list(columns):
        raise DamagedCatalogue(file, 1, f"the header must be {','.join(columns)}")
    if len(lines) == 1:
        raise DamagedCatalogue(file, 1, "there are no rows")
    rows = []
    for line, cells in enumerate(lines[1:], start=2):
        if len(cells) != len(columns):
            raise DamagedCatalogue(file, line, f"{len(cells)} cells, need {len(columns)}")
        row = Row(file, line, dict(zip(columns, cells, strict=True)))
        row.text("source")
        row.confidence()
        rows.append(row)
    return rows


def is_identifier(text: str) -> bool:
    """Whether a text is an id: lower-case letters and digits, single hyphens between.

    Examples
    --------
    >>> is_identifier("rg-213-u"), is_identifier("RG-213/U")
    (True, False)
    """
    return re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", text) is not None


def check_unique(file: str, items: Sequence[Named]) -> None:
    """Refuse a catalogue in which one label could mean two items.

    That is an id not in lower case with hyphens, or an id or name that occurs twice.
    """
    owner: dict[str, str] = {}
    for line, item in enumerate(items, start=2):
        if not is_identifier(item.id):
            raise DamagedCatalogue(file, line, f"id {item.id!r} is not lower case with hyphens")
        for label in {fold_name(item.id), fold_name(item.name)}:
            if label in owner:
                raise DamagedCatalogue(file, line, f"{item.name!r} is also {owner[label]!r}")
            owner[label] = item.id
