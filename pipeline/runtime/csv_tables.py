"""Tidy CSV tables as text: a row is a mapping, a file has one header; no label is a formula.

Rows in, whole files out; back again cell by cell. What the columns of a table are is said where its
rows are made. A label that begins with = is computed by whoever opens the table. A quote in front
makes it text; our own readers take it off again.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.runtime.store import write_text

Row = dict[str, Any]


# What spreadsheets take for the beginning of a formula, in full width as well, and the quote itself
# so that every text comes back as it was (OWASP, "CSV Injection", owasp.org, as of 2024).
_BEGINNINGS = tuple("=+-@\t\r\n＝＋－＠'")


def to_cell(text: str) -> str:
    """Text as a cell of a table has it; numbers stay as they are.

    Examples
    --------
    >>> to_cell("=1+1"), to_cell("-3.5"), to_cell("nine turns")
    ("'=1+1", '-3.5', 'nine turns')
    """
    if not text.startswith(_BEGINNINGS):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text


def from_cell(text: str) -> str:
    """Text that :func:`to_cell` was given, from that of a cell.

    Examples
    --------
    >>> from_cell("'=1+1"), from_cell("-3.5"), from_cell("nine turns")
    ('=1+1', '-3.5', 'nine turns')
    """
    return text.removeprefix("'")


def write_table(path: Path, rows: list[Row], columns: Sequence[str] = ()) -> None:
    """Write rows with the first one's keys as header; numbers with six significant digits.

    ``columns`` is the header of a table without rows.
    """
    stream = io.StringIO()
    names = list(rows[0]) if rows else list(columns)
    known = set(names)
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(names)
    for row in rows:
        if not row.keys() <= known:
            raise ValueError(f"{path.name} has a row with columns that its first row lacks")
        writer.writerow([_cell(row.get(name)) for name in names])
    write_text(path, stream.getvalue())


def _cell(value: Any) -> str:
    # Tables have ten thousands of numbers: what is most often comes first.
    if type(value) is float:
        return f"{value:.6g}"
    if value is None:
        return ""
    if isinstance(value, np.floating):
        return f"{float(value):.6g}"
    return to_cell(str(value))
