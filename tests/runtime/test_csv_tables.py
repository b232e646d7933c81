"""Labels in tables: text for a spreadsheet whatever they begin with; the same when read back."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.figures.data import table_at
from pipeline.report.tables import choke_rows
from pipeline.runtime.csv_tables import from_cell, to_cell, write_table
from pipeline.study.reader import load_study
from pipeline.text.errors import StudyError
from tests.harness.small_study import small_study_file

# OWASP, "CSV Injection": cells that begin with one of these may be taken for formulas.
FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1", "\r=1")


@pytest.mark.parametrize("label", [text for text in FORMULAS if text.isprintable()])
def test_a_label_reaches_no_spreadsheet_as_a_formula(tmp_path: Path, label: str) -> None:
    choke = {"id": "own", "kind": "table", "file": "choke.csv", "label": label}
    study = load_study(small_study_file(tmp_path, chokes=[choke]))
    assert study.chokes[0].label == label
    path = tmp_path / "choke_impedance.csv"
    write_table(path, choke_rows(study))
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["label"] for row in rows} == {f"'{label}"}
    # Numbers stay numbers, below zero too, and our own figures show the label as it is.
    assert min(float(row["x_ohm"]) for row in rows) < 0
    assert set(table_at(path).text("label")) == {label}


@given(st.text())
def test_every_text_comes_back_from_its_cell_and_begins_no_formula(text: str) -> None:
    cell = to_cell(text)
    assert from_cell(cell) == text
    assert cell == text or cell == f"'{text}"
    if cell.startswith(tuple("=+-@\t\r")):
        float(cell)


def test_a_file_name_that_would_move_a_cursor_is_refused_though_the_file_is_there(
    tmp_path: Path,
) -> None:
    path = small_study_file(
        tmp_path, chokes=[{"id": "own", "kind": "table", "file": "a\x1b[2J\r.csv"}]
    )
    (tmp_path / "choke.csv").rename(tmp_path / "a\x1b[2J\r.csv")
    with pytest.raises(StudyError) as caught:
        load_study(path)
    (fault,) = caught.value.faults
    assert fault.rule == "holds U+001B, a character that does not print as itself"
    assert "\x1b" not in fault.text()
