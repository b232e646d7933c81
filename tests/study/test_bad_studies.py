"""Wrong studies, each the good one with one thing wrong, must be answered with one clear fault."""

from __future__ import annotations

import json
import os
import pickle
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.study.reader import load_study
from pipeline.text.errors import Fault, StudyError
from tests.harness.command import HOME
from tests.harness.wrong_studies import BENCH, GOOD, PATCHES, Patch, good_with

# To load them takes longer than to read and check a study.
HEAVY = {"PyNEC", "jinja2", "matplotlib", "pint", "scipy", "skrf", "snakemake"}
LOADED = """
import contextlib, io, json, sys
from pipeline.commands.cli import main
codes = []
for command in ("study", "check", "evidence", "tune", "cut"):
    with contextlib.redirect_stderr(io.StringIO()):
        codes.append(main([command, *sys.argv[1:]]))
print(json.dumps([codes, sorted({name.split(".")[0] for name in sys.modules})]))
"""


def faults_of(path: Path) -> tuple[Fault, ...]:
    with pytest.raises(StudyError) as caught:
        load_study(path)
    assert caught.value.exit_code == 2
    return caught.value.faults


def only_fault(path: Path) -> Fault:
    faults = faults_of(path)
    assert len(faults) == 1, [fault.text() for fault in faults]
    return faults[0]


def written(folder: Path, text: str | bytes, name: str = "study.yaml") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# One thing wrong


@pytest.mark.parametrize("patch", PATCHES, ids=[patch.name for patch in PATCHES])
def test_one_wrong_thing_gives_one_clear_fault_at_its_line(tmp_path: Path, patch: Patch) -> None:
    path = patch.written(tmp_path)
    fault = only_fault(path)
    place = re.fullmatch(r"(.+)\.yaml:(\d+)(:\d+)?(?:  (.+))?", fault.place)
    assert place is not None, fault.place
    assert (place[1], place[4] or "") == (patch.name, patch.key)
    assert bool(place[3]) == (patch.tag == "yaml-syntax"), "a column"
    assert fault.value.startswith(patch.value)
    assert bool(fault.value) == bool(patch.value) or patch.tag == "key-duplicate"
    assert patch.rule in fault.rule
    assert patch.remedy in fault.remedy
    assert fault.tag == patch.tag
    assert all(row.isprintable() for row in fault.text().split("\n"))
    line, key = int(place[2]), patch.key.rsplit(".", 1)[-1].split("[")[0]
    rows = path.read_text(encoding="utf-8").splitlines()
    # A key that is missing has no line, and a slip of syntax may show on a later one.
    elsewhere = patch.tag in ("key-missing", "yaml-syntax")
    assert elsewhere or line in patch.lines() or (key and key in rows[line - 1])


def test_every_wrong_study_is_mended_by_undoing_its_change() -> None:
    assert load_study(BENCH).name == "bench"
    assert len({patch.name for patch in PATCHES}) == len(PATCHES) >= 100


@pytest.mark.parametrize(
    ("budget", "remedy"), [("30", "30 CHF"), ("7.5", "7.50 CHF"), ('"30"', "30 CHF")]
)
def test_an_amount_without_a_currency_is_shown_in_the_currency_of_the_study(
    tmp_path: Path, budget: str, remedy: str
) -> None:
    text = good_with("file: choke.csv, price: 4.50 EUR", "file: choke.csv, price: 4.50 CHF")
    path = written(tmp_path, f"{text}choke_design: {{budget: {budget}}}\n")
    shutil.copy(GOOD / "choke.csv", tmp_path)
    fault = only_fault(path)
    assert fault.place.endswith("choke_design.budget")
    assert (fault.tag, fault.remedy) == ("price-form", f'write "{remedy}"')
    # What the message proposes is taken.
    mended = path.read_text("utf-8").replace(f"budget: {budget}", f"budget: {remedy}")
    budgeted = load_study(written(tmp_path, mended)).choke_design.budget
    assert budgeted == (float(remedy[:-4]), "CHF")


# YAML that must not be trusted


def test_an_anchor_bomb_is_refused_before_it_grows(tmp_path: Path) -> None:
    bomb = "a: &a [x, x]\n" + "".join(
        f"{b}: &{b} [*{a}, *{a}, *{a}, *{a}, *{a}, *{a}, *{a}, *{a}]\n"
        for a, b in zip("abcdefghijklmnop", "bcdefghijklmnopq", strict=True)
    )
    fault = only_fault(written(tmp_path, bomb))
    assert (fault.tag, fault.place) == ("yaml-feature", "study.yaml:1")


def test_very_deep_nesting_ends_in_a_message_not_in_a_crash(tmp_path: Path) -> None:
    fault = only_fault(written(tmp_path, "a: " + "[" * 200_000))
    assert "nested deeper" in fault.rule


@pytest.mark.parametrize("text", ["- a\n- b\n", "just words\n", "42\n"])
def test_a_file_that_is_no_mapping_is_refused(tmp_path: Path, text: str) -> None:
    assert only_fault(written(tmp_path, text)).tag == "yaml-top"


# Files that are no studies


@pytest.mark.parametrize(
    ("content", "tag"),
    [
        (b"", "file-empty"),
        (b" \n\n", "file-empty"),
        (b"# only a remark\n", "file-empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "file-not-text"),
        ("title: Höhe".encode("latin-1"), "file-not-text"),
        (b"title: \x07", "file-not-text"),
        (b"title: x\n" * 40_000, "file-too-large"),
    ],
)
def test_a_file_that_is_no_text_is_refused(tmp_path: Path, content: bytes, tag: str) -> None:
    fault = only_fault(written(tmp_path, content))
    assert (fault.place, fault.tag) == ("study.yaml", tag)


def test_a_file_of_a_hundred_megabytes_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "study.yaml"
    with path.open("wb") as file:
        file.truncate(100 * 1024 * 1024)
    assert only_fault(path).rule == "is larger than the allowed 256 KiB"


def test_a_missing_file_a_folder_and_a_pipe_are_told_apart(tmp_path: Path) -> None:
    assert only_fault(tmp_path / "none.yaml").tag == "file-missing"
    assert only_fault(tmp_path).tag == "file-not-regular"
    os.mkfifo(tmp_path / "pipe.yaml")
    assert only_fault(tmp_path / "pipe.yaml").tag == "file-not-regular"
    assert only_fault(Path(".")).place == "."


def test_a_name_longer_than_the_system_allows_is_a_message(tmp_path: Path) -> None:
    assert only_fault(tmp_path / ("x" * 5000 + ".yaml")).tag in ("file-unreadable", "file-missing")


def test_a_study_whose_name_cannot_name_results_is_refused(tmp_path: Path) -> None:
    fault = only_fault(written(tmp_path, BENCH.read_bytes(), "my study.yaml"))
    assert fault.tag == "file-name"


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "inside"
    folder.mkdir()
    outside = written(tmp_path, (GOOD / "choke.csv").read_bytes(), "secret.csv")
    (folder / "choke.csv").symlink_to(outside)
    fault = only_fault(written(folder, BENCH.read_bytes()))
    assert (fault.tag, fault.value) == ("file-outside", '"choke.csv"')


# Tables that are no tables


@pytest.mark.parametrize(
    ("table", "rule"),
    [
        ("f,r,x\n140e6,1,1\n150e6,1,1\n", "does not begin with the columns"),
        ("f_hz,r_ohm,x_ohm\n140e6,1,1\n", "fewer than two rows"),
        ("f_hz,r_ohm,x_ohm\n140e6,1,1\n150e6,1\n", "three numbers in row 2"),
        ("f_hz,r_ohm,x_ohm\n140e6,1,1\n150e6,one,1\n", "three numbers in row 2"),
        ("f_hz,r_ohm,x_ohm\n150e6,1,1\n140e6,1,1\n", "do not rise"),
        ("f_hz,r_ohm,x_ohm\n140e6,1,1\n140e6,1,1\n", "do not rise"),
        ("f_hz,r_ohm,x_ohm\n140e6,-1,1\n150e6,1,1\n", "negative resistance"),
        ("f_hz,r_ohm,x_ohm\n140e6,nan,1\n150e6,1,1\n", "beyond 10 Mohm in row 1"),
        ("f_hz,r_ohm,x_ohm\n140e6,1,inf\n150e6,1,1\n", "beyond 10 Mohm in row 1"),
        ("f_hz,r_ohm,x_ohm\nnan,1,1\n150e6,1,1\n", "not above zero in row 1"),
        ("f_hz,r_ohm,x_ohm\n" + "1,1,1\n" * 200_000, "larger than the allowed 1024 KiB"),
    ],
)
def test_a_wrong_table_is_refused_with_its_row(tmp_path: Path, table: str, rule: str) -> None:
    written(tmp_path, table, "choke.csv")
    fault = only_fault(written(tmp_path, BENCH.read_bytes()))
    assert fault.place.endswith("chokes[4].file")
    assert rule in fault.rule


# All at once


def test_all_faults_of_a_file_are_shown_together_in_order_of_lines(tmp_path: Path) -> None:
    text = BENCH.read_text(encoding="utf-8")
    for old, new in (
        ("frequency: 145 MHz", "frequency: 145"),
        ("  spacing: 55 mm", "  spacing: 55 MHz"),
        ("mount: {mast: 2 m}", "mount: {mast: 9 m}"),
        ("lead: 1.5 m", "leed: 1.5 m"),
        ("turns: 9", "turns: 99"),
        ("pipe: 28x1 mm", "pipe: 12x1 mm"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    written(tmp_path, (GOOD / "choke.csv").read_bytes(), "choke.csv")
    faults = faults_of(written(tmp_path, text))
    assert [fault.tag for fault in faults] == [
        "unit-missing",
        "unit-wrong",
        "mast-length",
        "key-unknown",
        "number-range",
        "sleeve-narrow",
    ]


def test_a_cable_too_thick_for_a_sleeve_without_a_length_is_told_beside_all_other_faults(
    tmp_path: Path,
) -> None:
    # No length can be derived of a sleeve that its cable does not go into.
    text = """
frequency: 145 MHz
antenna: {type: j-pole, pipe: 22x1 mm, spacing: 55 mm, tap: 50 mm}
site: {height: 8 m}
cable: {type: 7/8 in foam hardline, length: 2 m, route: [{out: 0.15 m}, {down_to: 2 m}, {out: 2 m}]}
chokes:
  - {id: narrow, kind: sleeve, pipe: 28x1 mm, position: 0.30 m}
  - {id: far, kind: ideal, position: 90 m}
"""
    faults = faults_of(written(tmp_path, text))
    assert [(fault.tag, fault.place.split("  ")[1]) for fault in faults] == [
        ("cable-short", "cable.length"),
        ("sleeve-narrow", "chokes[0].pipe"),
        ("choke-beyond-route", "chokes[1].position"),
    ]


def test_a_message_has_its_four_parts_and_survives_the_way_between_processes(
    tmp_path: Path,
) -> None:
    patch = next(patch for patch in PATCHES if patch.name == "length_below")
    with pytest.raises(StudyError) as caught:
        load_study(patch.written(tmp_path))
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.faults == caught.value.faults
    assert again.faults[0].text().splitlines() == [
        'length_below.yaml:18  cable.length = "76 mm"  [length-range]',
        "    is below the allowed 0.5 m to 200 m",
        "    Try: write it like 18 m",
    ]


# With what reading takes


def test_no_command_loads_what_solves_or_draws_to_refuse_a_file(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text("frequency: 145 MHz\nantena: {type: j-pole}\nsite: {height: 8 m}\n", "utf-8")
    run = [sys.executable, "-c", LOADED, str(wrong), str(tmp_path / "none.yaml")]
    answer = subprocess.run(run, capture_output=True, text=True, check=True, cwd=HOME)
    codes, loaded = json.loads(answer.stdout)
    assert codes == [2] * 5
    assert HEAVY.isdisjoint(loaded)
    assert {"pipeline", "pydantic", "yaml"} <= set(loaded)
