"""Odd places and surroundings: a message and an exit code, or it works; never a hang."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.answer.stored_summary import SCHEMA_VERSION, read_summary
from pipeline.commands.cli import main
from pipeline.runtime.result_locks import check_places, unmark_if_unsound
from pipeline.runtime.store import write_json
from pipeline.text.errors import ResultError
from tests.harness.command import braidwise
from tests.harness.small_study import small_study_file

pytestmark = pytest.mark.takes(13)


def a_file(path: Path) -> None:
    path.parent.mkdir(parents=True)
    path.write_text("mine", encoding="utf-8")


def a_folder(path: Path) -> None:
    path.mkdir(parents=True)


def a_fifo(path: Path) -> None:
    path.parent.mkdir(parents=True)
    os.mkfifo(path)


# Laws


def test_results_as_runs_leave_them_are_in_nobodys_way(tmp_path: Path) -> None:
    for name in ("small/tables/cases.csv", "small/build/x.pdf", ".solved/0/basis.npz",
                 "small/my notes", "small/my folder/x"):  # fmt: skip
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    check_places(tmp_path, ("small", "not there yet"))


@pytest.mark.parametrize(
    ("place", "made"),
    [
        ("small", a_file),
        ("small/tables", a_file),
        (".solved", a_file),
        (".snakemake", a_file),
        ("small/summary.json", a_folder),
        ("small/figures/band.svg", a_folder),
        ("small/logs/combine.log", a_fifo),
        ("small/.answered", a_folder),
        ("small/figures/.where.done", a_folder),
        ("small/touchstone/none_feed.s1p", a_folder),
        ("small", a_fifo),
    ],
)
def test_what_is_in_the_way_of_results_is_named_before_a_run(
    tmp_path: Path, place: str, made: Callable[[Path], None]
) -> None:
    made(tmp_path / "out" / place)
    with pytest.raises(ResultError) as caught:
        check_places(tmp_path / "out", ("small",))
    (fault,) = caught.value.faults
    assert fault.place == str(tmp_path / "out" / place)
    assert fault.tag == "results-unwritable"


@pytest.mark.parametrize(
    ("place", "made"),
    [
        ("out/small", a_file),
        ("out/.run.lock", a_folder),
        ("out/.run.lock", a_fifo),
        ("out/small/build/small_cut_list.csv", a_folder),
        ("out", a_fifo),
    ],
)
def test_a_command_refuses_odd_places_with_a_message_of_ours(
    tmp_path: Path, place: str, made: Callable[[Path], None]
) -> None:
    made(tmp_path / "there" / place)
    study = small_study_file(tmp_path / "there")
    done = braidwise(tmp_path / "there", "cut", study.name, "--results", "out")
    assert done.returncode == 5, done.stdout
    assert place in done.stderr
    assert "[results-unwritable]" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_next_command_of_any_kind_sweeps_what_killed_ones_have_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = small_study_file(tmp_path)
    monkeypatch.chdir(tmp_path)
    for command in ("cut", "check"):
        left = tmp_path / "results" / "small" / ".summary.json.part-1.json"
        left.parent.mkdir(parents=True, exist_ok=True)
        left.touch()
        assert main([command, study.name]) == 0
        assert not left.exists()


def test_a_summary_that_is_damaged_or_old_takes_away_the_mark_that_all_is_there(
    tmp_path: Path,
) -> None:
    said: list[str] = []
    signs = [tmp_path / ".answered", tmp_path / "report.html"]
    for sign in signs:
        sign.touch()
    write_json(tmp_path / "summary.json", {"schema_version": SCHEMA_VERSION})
    unmark_if_unsound(tmp_path, said.append, read_summary)
    assert all(sign.exists() for sign in signs)
    assert said == []
    old = '{"schema_version": "2.0", "verdict": {"text": "x"}}'
    for text, why in (('{"a": NaN}', "NaN"), (old, "verdict.text (now answer.text)")):
        for sign in signs:
            sign.touch()
        (tmp_path / "summary.json").write_text(text, encoding="utf-8")
        unmark_if_unsound(tmp_path, said.append, read_summary)
        assert not any(sign.exists() for sign in signs)
        assert why in said[-1]
    assert len(said) == 2


# Surroundings


@pytest.mark.parametrize("of", ["study", "summary"])
def test_a_schema_on_an_output_without_unicode_is_the_same_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], of: str
) -> None:
    assert main(["schema", of]) == 0
    usual = capsys.readouterr().out
    ascii_only = braidwise(tmp_path, "schema", of, given={"PYTHONIOENCODING": "ascii"})
    assert ascii_only.returncode == 0, ascii_only.stderr
    assert ascii_only.stdout.isascii()
    assert json.loads(ascii_only.stdout) == json.loads(usual)


def test_a_cut_list_on_an_output_without_unicode_shows_the_codes(tmp_path: Path) -> None:
    study = small_study_file(tmp_path)
    done = braidwise(tmp_path, "cut", study.name, given={"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0, done.stderr
    assert "\\xb0" in done.stdout
