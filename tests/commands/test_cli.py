"""The console command as its users meet it: from another folder, with right and wrong input."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import pytest

from models.catalogues.parts import DamagedCatalogue
from pipeline.commands.cli import build_parser, check_packages, main, no_lost_interrupt
from pipeline.commands.command import commands
from pipeline.runtime.result_locks import only_run_in
from pipeline.solver.solve_cache import AVERAGE_GAIN, CENTRE
from pipeline.text.errors import StudyError
from tests.harness.command import HOME, braidwise
from tests.harness.small_study import small_study_file
from tests.harness.wrong_studies import PATCHES

pytestmark = pytest.mark.takes(13)


ON_STUDIES = [name for name in commands() if name not in ("catalogue", "schema", "batch")]


def contents(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*"))


# Laws


@pytest.mark.parametrize(
    ("of", "file"),
    [
        ("study", files("models") / "studies" / "study.schema.json"),
        ("summary", files("pipeline.report") / "summary.schema.json"),
    ],
)
def test_the_schema_printed_is_the_one_in_the_repository(
    here: Path, capsys: pytest.CaptureFixture[str], of: str, file: Path
) -> None:
    assert main(["schema", of]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(file.read_text(encoding="utf-8"))
    assert contents(here) == []


def test_check_says_what_was_understood_and_draws_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    study = small_study_file(tmp_path)
    done = braidwise(tmp_path, "check", study.name)
    assert done.returncode == 0, done.stderr
    assert "small: the study is valid (9 candidates)." in done.stdout
    assert re.search(r"cable +sound +average gain 1\.\d+, reciprocity", done.stdout)
    picture = re.search(r"picture +(\S+)", done.stdout)
    assert picture is not None
    assert (tmp_path / picture[1]).stat().st_size > 1000
    # What it solved is there for the run, and for itself.
    solved = {path: path.stat().st_mtime_ns for path in tmp_path.glob("results/.solved/*/*.npz")}
    assert {path.name for path in solved} == {CENTRE, AVERAGE_GAIN}
    monkeypatch.chdir(tmp_path)
    assert main(["check", study.name]) == 0
    assert capsys.readouterr().out == done.stdout
    assert {path: path.stat().st_mtime_ns for path in solved} == solved


def test_the_command_knows_its_own_defaults() -> None:
    options = build_parser().parse_args(["study", "a.yaml", "b.yaml"])
    assert options.paths == [Path("a.yaml"), Path("b.yaml")]
    assert (options.cores, options.results) == (2, Path("results"))


# Refusals


def refused(capsys: pytest.CaptureFixture[str], *arguments: str, exit_code: int = 2) -> str:
    """The message of a command that says nothing else."""
    assert main(list(arguments)) == exit_code
    out, err = capsys.readouterr()
    assert out == ""
    assert "Try: " in err
    return err


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the user stands: an empty folder beside one with studies."""
    for name in ("there", "here"):
        (tmp_path / name).mkdir()
    monkeypatch.chdir(tmp_path / "here")
    return tmp_path / "here"


@pytest.mark.parametrize("command", ["study", "check"])
def test_a_wrong_study_is_answered_with_its_line_and_nothing_is_written(
    here: Path, capsys, command: str
) -> None:
    paths = [str(patch.written(here.parent / "there")) for patch in PATCHES[:3]]
    for patch, path in zip(PATCHES[:3], paths, strict=True):
        said = refused(capsys, command, path)
        assert re.search(rf"{patch.name}\.yaml:\d+  {re.escape(patch.key)}", said)
        assert patch.rule in said
    # And all of them at once.
    said = refused(capsys, command, *paths)
    assert all(f"[{patch.tag}]" in said for patch in PATCHES[:3])
    assert contents(here) == []


@pytest.mark.parametrize("command", ON_STUDIES)
def test_what_cannot_be_run_is_named_and_nothing_is_written(
    here: Path, capsys, command: str
) -> None:
    paths = []
    for name in ("a", "b"):
        (here.parent / name).mkdir()
        paths.append(str(small_study_file(here.parent / name)))
    assert "nowhere.yaml" in refused(capsys, command, "nowhere.yaml")
    said = refused(capsys, command, *paths)
    assert all(words in said for words in ("[study-twice]", *paths))
    if command == "study":
        said = refused(capsys, command, paths[0], "--cores", "0")
        assert "--cores = 0  [cores-range]" in said
    assert contents(here) == []


@pytest.mark.parametrize(
    ("arguments", "study"),
    [(["spread", "my_house.yaml", "--cores", "1"], "my_house.yaml"), (["choke"], "STUDY")],
)
def test_a_former_command_is_answered_with_the_one_that_stands_for_it(
    here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], study: str
) -> None:
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"braidwise study {study} answers it" in err
    assert err.count("\n") == 1
    assert arguments[0] not in commands()
    assert contents(here) == []


@pytest.mark.parametrize("arguments", [["studdy", "x"], [], ["study"], ["schema", "results"]])
def test_an_unknown_command_is_answered_with_the_known_ones(
    capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(arguments)
    assert capsys.readouterr().err.startswith("usage: braidwise")


def test_a_file_where_results_should_go_is_said_plainly(here: Path, capsys) -> None:
    study = small_study_file(here.parent / "there")
    (here / "taken").write_text("mine", encoding="utf-8")
    for command in ON_STUDIES:
        said = refused(capsys, command, str(study), "--results", "taken", exit_code=5)
        assert "taken" in said
        assert "[results-unwritable]" in said
        assert "--results FOLDER" in said
    assert (here / "taken").read_text(encoding="utf-8") == "mine"


def test_a_study_can_be_checked_while_a_run_holds_the_folder(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = small_study_file(here.parent / "there")
    with only_run_in(here / "out", ()):
        assert main(["check", str(study), "--results", "out"]) == 0
        assert (here / "out" / "small" / "check_installation.png").stat().st_size > 10_000
        capsys.readouterr()
        for command in set(ON_STUDIES) - {"check"}:
            said = refused(capsys, command, str(study), "--results", "out", exit_code=5)
            assert "[results-busy]" in said


def test_a_traceback_is_shown_only_when_asked_for(tmp_path: Path) -> None:
    done = braidwise(tmp_path, "--debug", "study", "nowhere.yaml")
    assert done.returncode != 0
    assert "Traceback" in done.stderr


def test_a_package_that_hides_ours_is_named(tmp_path: Path) -> None:
    ours = str(HOME / "pipeline" / "__init__.py")
    check_packages(str(HOME / "models" / "__init__.py"), ours)
    with pytest.raises(StudyError, match="hides the package of that name"):
        check_packages(str(tmp_path / "models" / "__init__.py"), ours)


def test_a_stage_that_does_not_exist_is_an_error() -> None:
    done = subprocess.run(
        [sys.executable, "-P", "-m", "pipeline", "guess", "x"],
        capture_output=True, text=True, check=False, cwd=HOME,
    )  # fmt: skip
    assert done.returncode != 0


def test_a_study_of_which_a_job_failed_ends_with_one_and_names_no_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("pipeline.workflow.run.run_workflow", lambda *_: False)
    assert main(["study", str(small_study_file(tmp_path)), "--results", str(tmp_path / "out")]) == 1
    assert "Report:" not in capsys.readouterr().out


def test_a_damaged_catalogue_is_named_and_has_an_exit_code_of_its_own(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def damaged(*_: object) -> int:
        raise DamagedCatalogue("coax.csv", 7, "z0_ohm is empty")

    monkeypatch.setattr("pipeline.study.reader.load_study", damaged)
    assert main(["check", "any.yaml"]) == 3
    said = capsys.readouterr().err
    assert "coax.csv:7" in said
    assert "z0_ohm is empty" in said
    assert "[catalogue-damaged]" in said


def test_an_interrupt_lost_in_a_destructor_is_pressed_again() -> None:
    class Dying:
        def __del__(self) -> None:
            raise KeyboardInterrupt

    def lose_it() -> None:
        Dying()
        time.sleep(5)

    # Where the tests were started in the background, Ctrl-C is ignored from the start.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt), no_lost_interrupt():
            lose_it()
    finally:
        signal.signal(signal.SIGINT, before)
