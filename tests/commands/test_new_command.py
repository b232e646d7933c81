"""The worked example of DEVELOPERS.md: one new file is a new sub-command."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import pipeline.commands
from pipeline.commands.cli import main
from pipeline.commands.command import commands
from tests.harness.small_study import small_study_file

EXAMPLE = Path(__file__).parents[1] / "examples" / "coax.py"


def study(folder: Path, name: str, length: str) -> Path:
    cable = {"type": "10.3 mm foam low-loss", "joins": "short leg", "route": [{"out": length}]}
    chokes = [{"id": "perfect", "kind": "ideal", "position": "0.05 m"}]
    return small_study_file(folder, name, cable=cable, chokes=chokes)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with the command's file beside the project's own."""
    own = tmp_path / "commands"
    own.mkdir()
    shutil.copy(EXAMPLE, own)
    monkeypatch.setattr(pipeline.commands, "__path__", [*pipeline.commands.__path__, str(own)])
    commands.cache_clear()
    yield tmp_path
    monkeypatch.undo()
    commands.cache_clear()
    sys.modules.pop("pipeline.commands.coax", None)


def test_it_is_in_the_help_after_those_of_the_project(folder: Path, capsys) -> None:
    for arguments, said in ((["--help"], "say how much cable there is"),
                            (["coax", "--help"], "Say how much cable there is.")):  # fmt: skip
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == 0
        out = capsys.readouterr().out
        assert said in out
    assert "Example: braidwise coax my_house.yaml" in out
    assert list(commands())[-1] == "coax"
    assert {"study", "check", "tune", "cut", "catalogue", "schema"} <= set(commands())


def test_it_writes_prints_and_ends_as_what_it_found(folder: Path, capsys) -> None:
    for name, length, code in (("near", "2 m", 0), ("far", "6 m", 1)):
        path = study(folder, name, length)
        assert main(["coax", str(path), "--results", str(folder / "out")]) == code
        assert capsys.readouterr().out == f"{name}: {length} of cable\n"
        table = (folder / "out" / name / "coax" / "coax.csv").read_text(encoding="utf-8")
        assert table == f"study,length_m\n{name},{length.removesuffix(' m')}\n"


def test_its_refusal_is_a_message_and_nothing_is_written(folder: Path, capsys) -> None:
    short = study(folder, "short", "0.8 m")
    good = study(folder, "good", "2 m")
    assert main(["coax", str(good), str(short), "--results", str(folder / "out")]) == 2
    said = capsys.readouterr()
    assert "short.yaml = 0.8 m  [coax-short]\n    is too short" in said.err
    assert "Try: 1 m" in said.err
    assert said.out == ""
    assert not (folder / "out").exists()
