"""The console command as its users meet it: from another folder, with right and wrong input."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import pytest

from models.catalogues.parts import DamagedCatalogue
from pipeline.commands.cli import build_parser, check_packages, main, no_lost_interrupt
from pipeline.runtime.result_locks import only_run_in
from pipeline.text.errors import StudyError
from pipeline.workflow.plans import code_digest
from tests.harness.command import HOME, braidwise, results_of, start
from tests.harness.small_study import small_study_file
from tests.harness.wrong_studies import PATCHES

pytestmark = pytest.mark.takes(65)


@dataclass(frozen=True)
class Run:
    """A full run of the small study, and a second one that was started while it went on."""

    folder: Path
    study: Path
    code: int
    out: str
    err: str
    seconds: float
    second: subprocess.CompletedProcess[str]

    def again(self) -> subprocess.CompletedProcess[str]:
        return braidwise(self.folder, "study", str(self.study), "--results", "out")

    def results(self) -> Path:
        return self.folder / "out"


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    folder = tmp_path_factory.mktemp("elsewhere with a space")
    study = small_study_file(folder)
    # Strangers' packages of the names of ours, where the user happens to stand.
    for name in ("models", "pipeline"):
        (folder / name).mkdir()
        (folder / name / "__init__.py").write_text("raise SystemExit('a stranger')\n")
    begun = time.monotonic()
    first = start(folder, "study", study.name, "--results", "out")
    while not (folder / "out" / ".snakemake").exists():
        assert first.poll() is None, first.communicate()
        time.sleep(0.02)
    second = braidwise(folder, "study", study.name, "--results", "out")
    out, err = first.communicate(timeout=120)
    return Run(folder, study, first.returncode, out, err, time.monotonic() - begun, second)


def contents(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*"))


def solve_times(results: Path) -> dict[str, int]:
    found = {
        str(p.relative_to(results)): p.stat().st_mtime_ns
        for p in (results / ".solved").rglob("*")
        if p.suffix in (".npz", ".json")
    }
    assert len(found) == 2 * 4
    return found


# Laws: a full run


def test_a_full_run_ends_with_a_report_and_says_where_it_is(run: Run) -> None:
    assert run.code == 0, run.err
    report = run.results() / "small" / "report.html"
    assert report.stat().st_size > 10_000
    verdict = json.loads((run.results() / "small" / "summary.json").read_text())["verdict"]
    assert f"small: {verdict['headline']}\n" in run.out
    assert str(Path("out") / "small" / "report.html") in run.out
    assert "Traceback" not in run.err


def test_progress_counts_up_to_all_jobs_in_words(run: Run) -> None:
    steps = [(int(a), int(b)) for a, b in re.findall(r" s  (\d+)/(\d+)  \w", run.err)]
    assert [a for a, _ in steps] == list(range(1, steps[0][1] + 1))
    solved = re.findall(r"solved the fields of (\d+) segments for (\d+) ports? at 3 freq", run.err)
    summary = json.loads((run.results() / "small" / "summary.json").read_text())
    counts = {(str(g["n_segments"]), str(g["n_ports"])) for g in summary["geometries"]}
    assert set(solved) == counts


def test_a_second_run_at_the_same_time_is_refused_and_harms_nothing(run: Run) -> None:
    assert run.second.returncode == 5
    assert "is in use by another run" in run.second.stderr
    assert "Try: wait for it to end" in run.second.stderr
    assert run.second.stdout == ""


def test_a_package_of_our_name_where_the_user_stands_does_not_take_over(run: Run) -> None:
    assert (run.folder / "models" / "__init__.py").exists()
    assert "a stranger" not in run.out + run.err


def test_results_lie_in_one_folder_and_nothing_lies_beside_it(run: Run) -> None:
    beside = {p.name for p in run.folder.iterdir()}
    assert beside == {"choke.csv", "models", "out", "pipeline", "small.yaml"}
    names = set(results_of(run.results()))
    for wanted in ("small/summary.json", "small/small.nc", "small/tables/cases.csv",
                   "small/decks/cable.nec", "small/touchstone/none_feed.s1p",
                   "small/geometry/cable.json", "small/figures/band.svg",
                   "small/figures/band.png"):  # fmt: skip
        assert wanted in names


def test_the_same_run_again_does_nothing_new_and_is_quick(run: Run) -> None:
    before = solve_times(run.results())
    report = (run.results() / "small" / "report.html").stat().st_mtime_ns
    begun = time.monotonic()
    again = run.again()
    assert again.returncode == 0, again.stderr
    # Only starting and looking at dates: less than half of a run that solves and draws.
    assert time.monotonic() - begun < run.seconds / 2
    assert solve_times(run.results()) == before
    assert (run.results() / "small" / "report.html").stat().st_mtime_ns == report
    assert "solved" not in again.stderr


def test_another_price_solves_nothing_again_and_is_in_the_new_results(run: Run) -> None:
    before = solve_times(run.results())
    text = run.study.read_text(encoding="utf-8")
    assert text.count("14 EUR") == 1
    try:
        run.study.write_text(text.replace("14 EUR", "15.5 EUR"), encoding="utf-8")
        again = run.again()
        assert again.returncode == 0, again.stderr
        assert solve_times(run.results()) == before
        assert "compared the cases" in again.stderr
        assert "solved" not in again.stderr
        summary = json.loads((run.results() / "small" / "summary.json").read_text())
        assert {c["id"]: c["price"] for c in summary["cases"]}["sleeve"] == 15.5
    finally:
        run.study.write_text(text, encoding="utf-8")


def test_results_of_another_version_are_made_again_from_the_same_solves(run: Run) -> None:
    before = solve_times(run.results())
    other = "import pipeline.workflow.plans as w; w.code_digest = lambda: 'of another version'; "
    command = ("study", str(run.study), "--results", "out")
    done = braidwise(run.folder, *command, before=other)
    assert done.returncode == 0, done.stderr
    assert "compared the cases" in done.stderr
    assert "wrote the report" in done.stderr
    assert solve_times(run.results()) == before
    # And once more with what is there now, as the tests beside this one expect.
    assert "compared the cases" in run.again().stderr


def test_a_version_is_its_code_and_catalogues_but_not_the_studies_that_lie_there(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "models"
    for name in ("a.py", "catalogues/coax.csv", "studies/mine.csv"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("1")
    first = code_digest([folder])
    assert code_digest([folder]) == first
    # An editor's lock: a link to nowhere.
    (folder / ".#a.py").symlink_to("somebody@somewhere")
    (folder / "studies" / "mine.csv").write_text("2")
    assert code_digest([folder]) == first
    (folder / "catalogues" / "coax.csv").write_text("2")
    second = code_digest([folder])
    (folder / "a.py").write_text("2")
    assert len({first, second, code_digest([folder])}) == 3
    assert code_digest() == code_digest()


# Laws: other commands


@pytest.mark.parametrize(
    ("of", "file"),
    [
        ("study", files("models") / "studies" / "study.schema.json"),
        ("summary", files("pipeline.report") / "summary.schema.json"),
    ],
)
def test_the_schema_printed_is_the_one_in_the_repository(
    tmp_path: Path, of: str, file: Path
) -> None:
    done = braidwise(tmp_path, "schema", of)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == json.loads(file.read_text(encoding="utf-8"))
    assert contents(tmp_path) == []


def test_check_says_what_was_understood_and_draws_it(tmp_path: Path) -> None:
    study = small_study_file(tmp_path)
    done = braidwise(tmp_path, "check", study.name)
    assert done.returncode == 0, done.stderr
    assert "small: the study is valid (9 candidates)." in done.stdout
    assert re.search(r"cable +sound +average gain 1\.\d+, reciprocity", done.stdout)
    picture = re.search(r"picture +(\S+)", done.stdout)
    assert picture is not None
    assert (tmp_path / picture[1]).stat().st_size > 1000


def test_the_command_knows_its_own_defaults() -> None:
    options = build_parser().parse_args(["study", "a.yaml", "b.yaml"])
    assert options.paths == [Path("a.yaml"), Path("b.yaml")]
    assert (options.cores, options.results) == (2, Path("results"))


# Refusals


@pytest.mark.parametrize("command", ["study", "check"])
def test_a_wrong_study_is_answered_with_its_line_and_nothing_is_written(
    tmp_path: Path, command: str
) -> None:
    there, here = tmp_path / "there", tmp_path / "here"
    there.mkdir()
    here.mkdir()
    for patch in PATCHES[:3]:
        done = braidwise(here, command, str(patch.written(there)))
        assert done.returncode == 2
        assert re.search(rf"{patch.name}\.yaml:\d+  {re.escape(patch.key)}", done.stderr)
        assert patch.rule in done.stderr
        assert f"[{patch.tag}]" in done.stderr
        assert "Try: " in done.stderr
        assert "Traceback" not in done.stderr
        assert contents(here) == []


def test_all_wrong_studies_are_told_at_once(tmp_path: Path) -> None:
    first, second = PATCHES[:2]
    paths = [str(patch.written(tmp_path)) for patch in (first, second)]
    done = braidwise(tmp_path, "study", *paths)
    assert done.returncode == 2
    assert f"[{first.tag}]" in done.stderr
    assert f"[{second.tag}]" in done.stderr


def test_a_study_that_is_not_there_is_named(tmp_path: Path) -> None:
    done = braidwise(tmp_path, "study", "nowhere.yaml")
    assert done.returncode == 2
    assert "nowhere.yaml" in done.stderr
    assert "Traceback" not in done.stderr
    assert contents(tmp_path) == []


def test_two_studies_of_one_name_are_refused(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        small_study_file(tmp_path / name)
    done = braidwise(tmp_path, "study", "a/small.yaml", "b/small.yaml")
    assert done.returncode == 2
    assert "[study-twice]" in done.stderr
    assert "a/small.yaml" in done.stderr
    assert "b/small.yaml" in done.stderr
    assert not (tmp_path / "results").exists()


@pytest.mark.parametrize("arguments", [["studdy", "x"], [], ["study"], ["schema", "results"]])
def test_an_unknown_command_is_answered_with_the_known_ones(
    tmp_path: Path, arguments: list[str]
) -> None:
    done = braidwise(tmp_path, *arguments)
    assert done.returncode == 2
    assert done.stderr.startswith("usage: braidwise")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("command", ["study", "check"])
def test_a_file_where_results_should_go_is_said_plainly(tmp_path: Path, command: str) -> None:
    study = small_study_file(tmp_path)
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    done = braidwise(tmp_path, command, study.name, "--results", "taken")
    assert done.returncode == 5
    assert "taken" in done.stderr
    assert "[results-unwritable]" in done.stderr
    assert "--results FOLDER" in done.stderr
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine"


def test_a_study_can_be_checked_while_a_run_holds_the_folder(tmp_path: Path) -> None:
    study = small_study_file(tmp_path)
    with only_run_in(tmp_path / "out", ()):
        done = braidwise(tmp_path, "check", study.name, "--results", "out")
        assert done.returncode == 0, done.stderr
        assert (tmp_path / "out" / "small" / "check_installation.png").stat().st_size > 10_000
        for command in ("study", "evidence", "tune", "spread", "choke", "cut"):
            refused = braidwise(tmp_path, command, study.name, "--results", "out")
            assert refused.returncode == 5, (command, refused.stdout)
            assert "[results-busy]" in refused.stderr


def test_no_cores_are_too_few(tmp_path: Path) -> None:
    done = braidwise(tmp_path, "study", str(small_study_file(tmp_path)), "--cores", "0")
    assert done.returncode == 2
    assert "--cores = 0" in done.stderr
    assert not (tmp_path / "results").exists()


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
