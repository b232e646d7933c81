"""A choke's own impedance table beside a study: CSV text in, frequencies and ohms out."""

from __future__ import annotations

import csv
import math
from itertools import pairwise
from pathlib import Path, PurePosixPath, PureWindowsPath

from pipeline.text.errors import StudyError
from pipeline.text.refusals import FieldError, plain_float, refuse_unprintable
from pipeline.text.yaml_reading import read_text

# Of a file as the study names it: it is shown in tables and on pages.
LONGEST_NAME = 120
LARGEST_TABLE = 1024 * 1024
COLUMNS = ("f_hz", "r_ohm", "x_ohm")

_HIGHEST = 1e7

Table = tuple[tuple[float, ...], tuple[complex, ...]]


def table_path(given: object, folder: Path) -> Path:
    """Path of a file that a study names, which must lie in the study's folder.

    Raises FieldError if it is no text, absolute, climbs out with ".." or leads out by a symbolic
    link.
    """
    if not isinstance(given, str) or not given.strip():
        raise FieldError("is not a file name", 'write it like "choke.csv"', "file-name")
    # The name goes into tables and pages.
    refuse_unprintable(given)
    if len(given) > LONGEST_NAME:
        rule = f"is a file name of more than {LONGEST_NAME} characters"
        raise FieldError(rule, "give the file a shorter name", "file-name")
    relative = PurePosixPath(given)
    # A study written on another system must not mean another place here.
    foreign = PureWindowsPath(given)
    climbs = ".." in relative.parts or ".." in foreign.parts
    if relative.is_absolute() or foreign.drive or foreign.root or climbs:
        raise _outside()
    path = folder / relative
    if not path.resolve().is_relative_to(folder.resolve()):
        raise _outside()
    return path


def read_table(path: Path) -> Table:
    """Rising frequencies [Hz] and impedances [ohm] of a CSV table of at most 1 MiB.

    Raises FieldError if the file cannot be read, columns are missing, a cell is no finite number, a
    resistance is negative, or the frequencies do not rise.
    """
    try:
        text = read_text(path, LARGEST_TABLE, path.name)
    except StudyError as error:
        fault = error.faults[0]
        raise FieldError(f"names a file that {fault.rule}", fault.remedy, fault.tag) from error
    rows = [row for row in csv.reader(text.splitlines()) if row and not row[0].startswith("#")]
    if not rows or tuple(cell.strip() for cell in rows[0]) != COLUMNS:
        raise _wrong("does not begin with the columns " + ",".join(COLUMNS))
    values = [_numbers(row, number) for number, row in enumerate(rows[1:], start=1)]
    if len(values) < 2:
        raise _wrong("holds fewer than two rows of values")
    f = tuple(row[0] for row in values)
    if any(later <= earlier for earlier, later in pairwise(f)):
        raise _wrong("has frequencies that do not rise from row to row")
    return f, tuple(complex(row[1], row[2]) for row in values)


def _outside() -> FieldError:
    return FieldError(
        "leads out of the study's own folder",
        'put the table beside the study and write only its name, like "choke.csv"',
        "file-outside",
    )


def _wrong(what: str) -> FieldError:
    return FieldError(
        f"names a table that {what}",
        "begin with the line  f_hz,r_ohm,x_ohm  and go on with rows like  145e6,820,-310",
        "table-form",
    )


def _numbers(row: list[str], number: int) -> tuple[float, float, float]:
    """Three finite numbers of one row."""
    try:
        f, resistance, reactance = (plain_float(cell) for cell in row)
    except ValueError:
        raise _wrong(f"does not have three numbers in row {number}") from None
    if not all(math.isfinite(x) and abs(x) <= _HIGHEST for x in (resistance, reactance)):
        raise _wrong(f"has an impedance beyond 10 Mohm in row {number}")
    if not (math.isfinite(f) and f > 0):
        raise _wrong(f"has a frequency that is not above zero in row {number}")
    if resistance < 0:
        raise _wrong(f"has a negative resistance, which no choke has, in row {number}")
    return f, resistance, reactance
