"""Files are whole or not there, whatever happens to the process that writes them."""

from __future__ import annotations

import csv
import json
import os
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import pipeline
from pipeline.figures.data import table_at
from pipeline.report.tables import choke_rows
from pipeline.runtime.csv_tables import from_cell, to_cell, write_table
from pipeline.runtime.store import (
    check_arrays,
    clear_leftovers,
    read_arrays_as,
    read_as,
    read_json,
    whole_file,
    write_arrays,
    write_json,
    write_text,
)
from pipeline.study.reader import load_study
from pipeline.text.errors import ResultError
from tests.harness.small_study import small_study_file

ROOT = Path(pipeline.__file__).parents[1]
HALF_WRITTEN = """
import sys, time
from pathlib import Path
from pipeline.runtime.store import whole_file
with whole_file(Path(sys.argv[1])) as temporary:
    temporary.write_text("half")
    print("half", flush=True)
    time.sleep(60)
"""


class InterruptedWritingError(Exception):
    """Stands for anything that goes wrong while a file is written."""


def write_half(path: Path) -> None:
    with whole_file(path) as temporary:
        temporary.write_text("half", encoding="utf-8")
        raise InterruptedWritingError


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


# Laws


def test_what_is_written_reads_back(tmp_path: Path) -> None:
    data = {"a": [1, 2.5, None], "ö": "ü"}
    write_json(tmp_path / "d" / "x.json", data)
    assert read_json(tmp_path / "d" / "x.json") == data
    assert json.loads((tmp_path / "d" / "x.json").read_bytes()) == data
    arrays = {"z": np.array([1 + 2j, 3.0]), "n": np.arange(3)}
    write_arrays(tmp_path / "x.npz", arrays)
    back = read_arrays_as(tmp_path / "x.npz", dict)
    assert back.keys() == arrays.keys()
    for key, value in arrays.items():
        np.testing.assert_array_equal(back[key], value)
        assert back[key].dtype == value.dtype
    assert names(tmp_path) == ["d", "x.npz"]


def test_lines_end_alike_everywhere(tmp_path: Path) -> None:
    write_text(tmp_path / "t", "a\nb\n")
    assert (tmp_path / "t").read_bytes() == b"a\nb\n"
    write_text(tmp_path / "t", "")
    assert (tmp_path / "t").read_bytes() == b""


def test_an_error_in_the_middle_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    write_text(path, "old")
    with pytest.raises(InterruptedWritingError):
        write_half(path)
    assert path.read_text(encoding="utf-8") == "old"
    assert names(tmp_path) == ["x.txt"]


def test_an_error_before_there_was_a_file_leaves_none(tmp_path: Path) -> None:
    with pytest.raises(InterruptedWritingError):
        write_half(tmp_path / "x.txt")
    assert names(tmp_path) == []


@pytest.mark.parametrize("old", ["old", None])
def test_a_process_killed_in_the_middle_leaves_the_old_file_or_none(
    tmp_path: Path, old: str | None
) -> None:
    path = tmp_path / "x.txt"
    if old is not None:
        write_text(path, old)
    command = [sys.executable, "-c", HALF_WRITTEN, str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "half\n"
        os.kill(writer.pid, signal.SIGKILL)
        writer.wait(timeout=10)
    assert writer.returncode == -signal.SIGKILL
    assert (path.read_text(encoding="utf-8") if path.exists() else None) == old
    # What it leaves is hidden, so no pattern of results takes it for one.
    assert all(name.startswith(".x.txt.") for name in names(tmp_path) if name != "x.txt")


def test_of_two_writers_at_once_one_wins_whole(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    with whole_file(path) as first, whole_file(path) as second:
        first.write_text("1" * 1000, encoding="utf-8")
        second.write_text("2" * 1000, encoding="utf-8")
    assert path.read_text(encoding="utf-8") in ("1" * 1000, "2" * 1000)
    assert names(tmp_path) == ["x.txt"]


def test_clearing_leaves_a_living_writer_its_file_and_takes_that_of_a_dead_one(
    tmp_path: Path,
) -> None:
    command = [sys.executable, "-c", HALF_WRITTEN, str(tmp_path / "dead.txt")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "half\n"
        with whole_file(tmp_path / "alive.txt") as temporary:
            temporary.write_text("whole", encoding="utf-8")
            clear_leftovers(tmp_path)
            assert len(names(tmp_path)) == 2
            os.kill(writer.pid, signal.SIGKILL)
            writer.wait(timeout=10)
            clear_leftovers(tmp_path)
            assert names(tmp_path) == [temporary.name]
    assert names(tmp_path) == ["alive.txt"]
    assert (tmp_path / "alive.txt").read_text(encoding="utf-8") == "whole"


def test_clearing_leaves_alone_what_another_user_has_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    theirs, ours = tmp_path / ".theirs.part-1", tmp_path / ".ours.part-2"
    for path in (theirs, ours):
        path.touch()
    opened = os.open

    def as_another_user_would(path: Any, *args: Any) -> int:
        # Tests may run as root, who may read everything.
        if path == theirs:
            raise PermissionError(13, "Permission denied", str(path))
        return opened(path, *args)

    monkeypatch.setattr(os, "open", as_another_user_would)
    clear_leftovers(tmp_path)
    assert names(tmp_path) == [theirs.name]


def test_files_have_the_permissions_that_the_user_asked_for_and_are_new(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_text(tmp_path / "x", "x")
        kept = os.umask(0o027)
    finally:
        os.umask(before)
    assert kept == 0o027
    assert stat.S_IMODE((tmp_path / "x").stat().st_mode) == 0o640
    assert abs((tmp_path / "x").stat().st_mtime - time.time()) < 60


# Refusals


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_json_does_not_have_is_refused(tmp_path: Path, value: float) -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        write_json(tmp_path / "x.json", {"a": value})
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        '{"a": 1',
        "\udcff",
        '{"a": NaN}',
        '{"a": -Infinity}',
        "[" * 100_000 + "]" * 100_000,
        "null",
    ],
)
def test_damaged_json_names_the_file_and_what_to_do(tmp_path: Path, text: str) -> None:
    path = tmp_path / "summary.json"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(ResultError) as caught:
        read_as(path, lambda data: data["b"])
    (fault,) = caught.value.faults
    assert (fault.place, fault.tag) == (str(path), "result-damaged")
    assert "delete this file" in fault.remedy
    assert caught.value.exit_code == 5


def content(made: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    """Damage by what is made of the whole content."""

    def damage(path: Path) -> None:
        path.write_bytes(made(path.read_bytes()))

    return damage


def overwritten(whole: bytes) -> bytes:
    middle = len(whole) // 2
    return whole[:middle] + bytes(8) + b"\xff" * 8 + whole[middle + 16 :]


def number_changed(path: Path) -> None:
    with np.load(path) as archive:
        arrays = dict(archive)
    arrays["y"][3] += 1e-9
    np.savez(path, **arrays)


def of_another_place(path: Path) -> None:
    write_arrays(path.parent.with_name("other") / path.name, {"y": np.arange(100.0)})
    path.write_bytes((path.parent.with_name("other") / path.name).read_bytes())


def encrypted(path: Path) -> None:
    content = bytearray(path.read_bytes())
    # The flag of the first entry, in its own header and in the directory at the end.
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content[content.find(mark) + offset] |= 1
    path.write_bytes(content)


def fifo(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def link(path: Path) -> None:
    path.rename(path.with_name("real.npz"))
    path.symlink_to(path.with_name("real.npz"))


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def swollen(path: Path) -> None:
    # A hole: it takes no room on the disk, and all memory when it is read.
    os.truncate(path, 2**40)


DAMAGES = {
    "empty": content(lambda whole: b""),
    "text": content(lambda whole: b"not an archive"),
    "pickle": content(lambda whole: b"\x80\x04N."),
    "cut": content(lambda whole: whole[: len(whole) // 2]),
    "middle": content(overwritten),
    "missing": Path.unlink,
    **{damage.__name__: damage for damage in (number_changed, of_another_place, encrypted, fifo)},
    **{damage.__name__: damage for damage in (link, folder, swollen)},
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_arrays_that_are_not_those_written_are_refused(
    tmp_path: Path, damage: Callable[[Path], None]
) -> None:
    path = tmp_path / "digest" / "basis.npz"
    write_arrays(path, {"y": np.arange(100.0)})
    check_arrays(path)
    damage(path)
    for read in (check_arrays, lambda place: read_arrays_as(place, dict)):
        with pytest.raises(ResultError) as caught:
            read(path)
        assert caught.value.faults[0].place == str(path)
        assert caught.value.exit_code == 5


def test_a_file_that_cannot_go_to_its_place_says_what_is_there(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    (tmp_path / "x.txt").mkdir()
    for path, rule in ((tmp_path / "taken" / "x.txt", "a file where a folder should be"),
                       (tmp_path / "x.txt", "a folder where a file should be")):  # fmt: skip
        with pytest.raises(ResultError, match=rule):
            write_text(path, "new")
    assert names(tmp_path) == ["taken", "x.txt"]


def test_clearing_passes_by_what_no_writer_has_left(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / ".x.part-1")
    (tmp_path / ".y.part-2").mkdir()
    clear_leftovers(tmp_path)
    assert names(tmp_path) == [".x.part-1", ".y.part-2"]


def test_a_file_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(ResultError) as caught:
        read_json(tmp_path / "summary.json")
    (fault,) = caught.value.faults
    assert (fault.place, fault.rule) == (str(tmp_path / "summary.json"), "is missing")
    assert "delete" not in fault.remedy


# Labels in tables: text for a spreadsheet whatever they begin with

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


def test_a_table_holds_six_digits_of_every_number(tmp_path: Path) -> None:
    write_table(tmp_path / "t.csv", [{"a_m": 1 / 3, "f_hz": 145.3125e6, "n": 4, "none": None}])
    assert (tmp_path / "t.csv").read_text() == "a_m,f_hz,n,none\n0.333333,1.45312e+08,4,\n"
