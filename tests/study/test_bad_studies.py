"""Wrong studies, each the good one with one thing wrong, must be answered with one clear fault."""

from __future__ import annotations

import difflib
import os
import pickle
import re
import shutil
from pathlib import Path

import pytest

from pipeline.study.reader import load_study
from pipeline.text.errors import Fault, StudyError
from tests.harness.bad_cases import CASES, Case

HERE = Path(__file__).parents[1] / "studies"
GOOD = HERE / "good" / "bench.yaml"


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


def good_with(old: str, new: str) -> str:
    text = GOOD.read_text(encoding="utf-8")
    assert text.count(old) == 1
    return text.replace(old, new)


# One thing wrong


@pytest.mark.parametrize("case", CASES, ids=[case.file for case in CASES])
def test_one_wrong_thing_gives_one_clear_fault(case: Case) -> None:
    fault = only_fault(HERE / "bad" / f"{case.file}.yaml")
    assert re.match(rf"{case.file}\.yaml:\d+  ", fault.place)
    assert fault.place.split("  ")[1] == case.key
    assert fault.value.startswith(case.value)
    assert bool(fault.value) == bool(case.value)
    assert case.rule in fault.rule
    assert case.remedy in fault.remedy
    assert fault.tag == case.tag


@pytest.mark.parametrize("case", CASES, ids=[case.file for case in CASES])
def test_the_line_named_is_the_line_that_was_changed(case: Case) -> None:
    wrong = (HERE / "bad" / f"{case.file}.yaml").read_text(encoding="utf-8").splitlines()
    good = GOOD.read_text(encoding="utf-8").splitlines()
    blocks = difflib.SequenceMatcher(None, good, wrong, autojunk=False).get_opcodes()
    changed = [block for block in blocks if block[0] != "equal"]
    line = int(only_fault(HERE / "bad" / f"{case.file}.yaml").place.split(":")[1].split()[0])
    start, stop = changed[0][3], changed[-1][4]
    key = case.key.rsplit(".", 1)[-1].split("[")[0]
    assert start < line <= stop or key in wrong[line - 1] or case.tag == "key-missing"


def test_there_is_a_case_for_every_wrong_file_and_a_file_for_every_case() -> None:
    files = sorted(path.stem for path in (HERE / "bad").glob("*.yaml"))
    assert files == sorted(case.file for case in CASES)
    assert len(files) >= 45


def test_every_wrong_file_is_mended_by_undoing_its_change() -> None:
    assert load_study(GOOD).name == "bench"


@pytest.mark.parametrize(
    ("budget", "remedy"), [("30", "30 CHF"), ("7.5", "7.50 CHF"), ('"30"', "30 CHF")]
)
def test_an_amount_without_a_currency_is_shown_in_the_currency_of_the_study(
    tmp_path: Path, budget: str, remedy: str
) -> None:
    text = good_with("file: choke.csv, price: 4.50 EUR", "file: choke.csv, price: 4.50 CHF")
    path = written(tmp_path, f"{text}choke_design: {{budget: {budget}}}\n")
    shutil.copy(GOOD.with_name("choke.csv"), tmp_path)
    fault = only_fault(path)
    assert fault.place.endswith("choke_design.budget")
    assert (fault.tag, fault.remedy) == ("price-form", f'write "{remedy}"')
    # What the message proposes is taken.
    mended = path.read_text("utf-8").replace(f"budget: {budget}", f"budget: {remedy}")
    assert load_study(written(tmp_path, mended)).choke_design.budget == (float(remedy[:-4]), "CHF")


@pytest.mark.parametrize(("given", "meant"), [("true", "yes"), ("false", "no")])
def test_true_and_false_are_answered_with_yes_and_no(
    tmp_path: Path, given: str, meant: str
) -> None:
    mast = f"mast: {{material: metal, diameter: 42 mm, length: 2 m, bonded: {given}}}"
    path = written(tmp_path, good_with("mount: {mast: 2 m}", mast))
    shutil.copy(GOOD.with_name("choke.csv"), tmp_path)
    fault = only_fault(path)
    assert fault.place.endswith("site.mast.bonded")
    assert (fault.tag, fault.remedy) == ("choice-unknown", meant)


# YAML that must not be trusted


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("power: 10 W", "power: !!python/object/apply:os.system [exit]", "YAML tag"),
        ("power: 10 W", "power: !!str 10 W", "YAML tag"),
        ("power: 10 W", "power: !own 10 W", "YAML tag"),
        ("power: 10 W", "power: &p 10 W", "anchor or alias"),
        ("title: A study", "title: *t #", "anchor or alias"),
        ("power: 10 W", "power: " + "[" * 13 + "]" * 13, "nested deeper than 12"),
        ("power: 10 W", "power: " + "{a: " * 13 + "1" + "}" * 13, "nested deeper than 12"),
        ("power: 10 W", "power: 10 W\n---\npower: 10 W", "second document"),
    ],
)
def test_dangerous_yaml_is_refused(tmp_path: Path, old: str, new: str, rule: str) -> None:
    fault = only_fault(written(tmp_path, good_with(old, new)))
    assert rule in fault.rule
    assert fault.tag == "yaml-feature"
    assert re.fullmatch(r"study\.yaml:\d+", fault.place)


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


def test_a_key_given_twice_names_both_lines(tmp_path: Path) -> None:
    shutil.copy(GOOD.with_name("choke.csv"), tmp_path)
    fault = only_fault(written(tmp_path, good_with("power: 10 W", "power: 10 W\npower: 20 W")))
    assert fault.place == "study.yaml:5  power"
    assert "first on line 4" in fault.rule
    assert fault.tag == "key-duplicate"


def test_a_list_as_a_key_is_refused(tmp_path: Path) -> None:
    shutil.copy(GOOD.with_name("choke.csv"), tmp_path)
    fault = only_fault(written(tmp_path, good_with("power: 10 W", "? [a, b]\n: 10 W")))
    assert fault.tag == "key-form"


@pytest.mark.parametrize(
    ("old", "new", "remedy"),
    [
        ("power: 10 W", "power: [10 W", "indentation"),
        ("power: 10 W", "power: 10 W\n\tx: 1", "spaces"),
        ("power: 10 W", 'power: "10 W', "indentation"),
        ("power: 10 W", "power 10 W", "space after each colon"),
    ],
)
def test_a_slip_of_syntax_names_line_and_column(
    tmp_path: Path, old: str, new: str, remedy: str
) -> None:
    fault = only_fault(written(tmp_path, good_with(old, new)))
    assert re.fullmatch(r"study\.yaml:\d+:\d+", fault.place)
    assert remedy in fault.remedy
    assert fault.tag == "yaml-syntax"


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
    text = good_with("file: choke.csv, ", "file: choke.csv, ")
    assert only_fault(written(tmp_path, text, "my study.yaml")).tag == "file-name"


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "inside"
    folder.mkdir()
    outside = written(tmp_path, (HERE / "good" / "choke.csv").read_bytes(), "secret.csv")
    (folder / "choke.csv").symlink_to(outside)
    fault = only_fault(written(folder, GOOD.read_bytes()))
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
    fault = only_fault(written(tmp_path, GOOD.read_bytes()))
    assert fault.place.endswith("chokes[4].file")
    assert rule in fault.rule


# All at once


def test_all_faults_of_a_file_are_shown_together_in_order_of_lines(tmp_path: Path) -> None:
    text = GOOD.read_text(encoding="utf-8")
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
    written(tmp_path, (HERE / "good" / "choke.csv").read_bytes(), "choke.csv")
    faults = faults_of(written(tmp_path, text))
    assert [fault.tag for fault in faults] == [
        "unit-missing",
        "unit-wrong",
        "mast-length",
        "key-unknown",
        "number-range",
        "sleeve-narrow",
    ]


def test_a_message_has_its_four_parts() -> None:
    text = only_fault(HERE / "bad" / "length_below.yaml").text()
    assert text.splitlines() == [
        'length_below.yaml:18  cable.length = "76 mm"  [length-range]',
        "    is below the allowed 0.5 m to 200 m",
        "    Try: write it like 18 m",
    ]


def test_the_error_survives_the_way_between_processes() -> None:
    with pytest.raises(StudyError) as caught:
        load_study(HERE / "bad" / "length_below.yaml")
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.faults == caught.value.faults
