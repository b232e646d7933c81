"""A full run: what it says and leaves, and that the same command goes on where one was killed."""

from __future__ import annotations

import csv
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import psutil
import pytest

from pipeline.solver.solve_cache import SOLVES
from pipeline.workflow.plans import code_digest, plans_for
from tests.harness.command import HOME, braidwise, results_of, start
from tests.harness.small_study import quick_study_file

pytestmark = pytest.mark.takes(90)

KILLS = 3
# Fractions of the undisturbed time: from before the first job to a third of a run. What a
# killed run finished is kept, so that a row of them reaches every later stage too.
EARLIEST, LATEST = 0.08, 0.30
WRITER = """
import sys, time
from pathlib import Path
from pipeline.runtime.store import whole_file
with whole_file(Path(sys.argv[1])):
    print("half", flush=True)
    time.sleep(60)
"""
KNOWN_HIDDEN = {".run.lock", ".solved", ".answered", ".told"}


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

    def to_its_tables(self, before: str = "") -> str:
        """The same command once more, ended when its tables are written; what it says until then.

        Pages are another job: these runs are about solves and the answer.
        """
        arguments = ("study", str(self.study), "--results", "out")
        with start(self.folder, *arguments, before=before) as process:
            said = read_to(process, "sets compared")
            kill_group(process)
        return said

    def results(self) -> Path:
        return self.folder / "out"

    def copied(self, folder: Path) -> Run:
        """The same in another folder, for a test that changes it."""
        shutil.copytree(self.folder, folder / "copy")
        return replace(self, folder=folder / "copy", study=folder / "copy" / self.study.name)

    def forget(self) -> None:
        """Take away what says that answer and pages are there."""
        for name in (".answered", "report.html"):
            (self.results() / "small" / name).unlink()


def read_to(process: subprocess.Popen[str], words: str) -> str:
    """What a run says up to a line with these words."""
    assert process.stderr is not None
    said = ""
    for line in process.stderr:
        said += line
        if words in line:
            return said
    raise AssertionError(said)


def kill_group(process: subprocess.Popen[str]) -> None:
    os.killpg(process.pid, signal.SIGKILL)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    folder = tmp_path_factory.mktemp("elsewhere with a space")
    study = quick_study_file(folder)
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
    out, err = first.communicate(timeout=300)
    return Run(folder, study, first.returncode, out, err, time.monotonic() - begun, second)


def solve_times(results: Path) -> dict[str, int]:
    found = {
        str(p.relative_to(results)): p.stat().st_mtime_ns
        for p in (results / ".solved").rglob("*")
        if p.suffix in (".npz", ".json")
    }
    # Two geometries with a request and four solves each; eight drawings of the cable, and the coil
    # that is always judged as described and on the first four; ports along the cable at the three
    # frequencies of the band, on this leg and on the other, and the average gain of that.
    assert len(found) == 2 * 5 + 8 + 5 + 2 * 3 + 1
    return found


# Laws: one run after the other


def test_a_full_run_ends_with_a_report_and_says_where_it_is(run: Run) -> None:
    assert run.code == 0, run.err
    report = run.results() / "small" / "report.html"
    assert report.stat().st_size > 10_000
    answer = json.loads((run.results() / "small" / "summary.json").read_text())["answer"]
    assert f"small: {answer['headline']}\n" in run.out
    assert str(Path("out") / "small" / "report.html") in run.out
    assert "Traceback" not in run.err


def test_progress_tells_of_every_solve_as_time_goes_on(run: Run) -> None:
    told = re.findall(r"^ *(\d+) s  (.*)$", run.err, re.MULTILINE)
    times = [int(seconds) for seconds, _ in told]
    assert times == sorted(times)
    summary = json.loads((run.results() / "small" / "summary.json").read_text())
    solved = {f"solved {g['geometry']}, {g['n_segments']} segments" for g in summary["geometries"]}
    assert solved <= {words.split("  ")[0] for _, words in told}
    assert sum(words.startswith("geometry ") for _, words in told) == 8


def test_what_is_as_described_is_told_before_any_chance(run: Run) -> None:
    first = json.loads((run.results() / "small" / "as_described.json").read_text())
    assert run.err.index(first["text"]) < run.err.index("geometry 1/8")
    with (run.results() / "small" / "tables" / "cases.csv").open(encoding="utf-8") as stream:
        ratios = {r["case"]: float(r["station_current_ratio"]) for r in csv.DictReader(stream)}
    for case, ratio in first["station_current_ratio"].items():
        assert ratio == pytest.approx(ratios[case], rel=1e-5)


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


def test_the_same_run_again_does_nothing_new(run: Run) -> None:
    before = solve_times(run.results())
    report = (run.results() / "small" / "report.html").stat().st_mtime_ns
    again = run.again()
    assert again.returncode == 0, again.stderr
    assert solve_times(run.results()) == before
    assert (run.results() / "small" / "report.html").stat().st_mtime_ns == report
    # No line of progress: no job was needed.
    assert not re.search(r"^ *\d+ s  ", again.stderr, re.MULTILINE)


def test_a_price_a_place_and_another_version_solve_only_what_the_place_changes(
    run: Run, tmp_path: Path
) -> None:
    mine = run.copied(tmp_path)

    def bases() -> dict[Path, int]:
        found = (mine.results() / ".solved").glob("*/centre.npz")
        return {path: path.stat().st_mtime_ns for path in found}

    before, text = bases(), mine.study.read_text(encoding="utf-8")
    # The last one in the file, the measured choke; a row of four cores has no room to move.
    assert text.count("position: 0.05 m") == 2
    assert text.count("3 EUR") == 1
    moved = "position: 0.06 m".join(text.rsplit("position: 0.05 m", 1))
    mine.study.write_text(moved.replace("3 EUR", "3.25 EUR"), encoding="utf-8")
    other = "import pipeline.workflow.plans as w; w.code_digest = lambda: 'of another version'; "
    said = mine.to_its_tables(other)
    assert "geometry 8/8" in said
    new = set(bases()) - set(before)
    assert len(new) == len(re.findall(r"solved \S+, \d+ segments", said)) == 1
    assert {path: at for path, at in bases().items() if path not in new} == before
    summary = json.loads((mine.results() / "small" / "summary.json").read_text())
    assert {c["id"]: c["price"] for c in summary["cases"]}["measured"] == 3.25


def test_another_version_or_price_is_another_job_of_the_same_study(
    run: Run, tmp_path: Path
) -> None:
    """What a job is told by: its study's content and the code's digest, as the Snakefile has it."""
    priced_study = quick_study_file(tmp_path)
    text = priced_study.read_text(encoding="utf-8")
    priced_study.write_text(text.replace("3 EUR", "3.25 EUR"), encoding="utf-8")
    (priced,) = plans_for([priced_study]).values()
    (plain,) = plans_for([run.study]).values()
    assert priced.content != plain.content
    snakefile = (HOME / "Snakefile").read_text(encoding="utf-8")
    assert "made_from=lambda w: PLANS[w.study].content" in snakefile
    assert "made_with=code_digest()" in snakefile


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


# Laws: killed runs


def compared(results: Path) -> dict[str, bytes]:
    """Summary without versions, tables, decks and Touchstone files."""
    found = results_of(results)
    summary = json.loads(found["small/summary.json"])
    del summary["versions"]
    kept = {
        name: content
        for name, content in found.items()
        if name.startswith(("small/tables/", "small/decks/", "small/touchstone/"))
    }
    return {**kept, "summary": json.dumps(summary, sort_keys=True).encode()}


def kill_main_only(process: subprocess.Popen[str]) -> None:
    os.kill(process.pid, signal.SIGKILL)


def killed_before_its_end(
    process: subprocess.Popen[str], seconds: float, kill: Callable[[subprocess.Popen[str]], None]
) -> bool:
    """Whether the blow met a running process; else it had ended by itself, and well."""
    try:
        process.wait(timeout=seconds)
    except subprocess.TimeoutExpired:
        kill(process)
    # A run may end between the last look at it and the blow, which then meets only its remains.
    assert process.wait(timeout=10) in (0, -signal.SIGKILL)
    return process.returncode == -signal.SIGKILL


def hidden(results: Path) -> set[str]:
    return {p.name for p in results.rglob(".*") if p.relative_to(results).parts[0] != ".snakemake"}


@pytest.fixture
def no_stray_children() -> Iterator[list[int]]:
    """Groups of killed runs whose children went on; they are ended when the test is over."""
    groups: list[int] = []
    yield groups
    for group in groups:
        try:
            os.killpg(group, signal.SIGKILL)
        except ProcessLookupError:
            # All of its children have ended by themselves.
            continue


def odd_surroundings(folder: Path) -> tuple[Path, dict[str, str | None]]:
    """Braces, brackets and bytes in a folder; an environment with no home, no path, no letters."""
    odd = folder / os.fsdecode(b"{} {d} <d> \xff")
    odd.mkdir()
    (folder / "home").touch()
    given = {"HOME": str(folder / "home"), "XDG_CACHE_HOME": None, "PATH": None}
    return odd, {**given, "PYTHONIOENCODING": "ascii"}


def test_a_run_killed_three_times_ends_with_the_results_of_an_undisturbed_one(
    tmp_path: Path, run: Run, no_stray_children: list[int]
) -> None:
    # By turns the run with all its children, and the run alone, whose children go on for a while.
    # All in odd surroundings, which the undisturbed one did not have.
    folder, given = odd_surroundings(tmp_path)
    moments = random.Random(20)
    arguments = ("study", quick_study_file(folder).name, "--results", "out")
    results = folder / "out"
    killed = 0
    while killed < KILLS:
        fraction = moments.uniform(EARLIEST, LATEST)
        with start(folder, *arguments, given=given) as process:
            no_stray_children.append(process.pid)
            kill = (kill_group, kill_main_only)[killed % 2]
            if killed_before_its_end(process, fraction * run.seconds, kill):
                killed += 1
                continue
        assert compared(results) == compared(run.results())
        shutil.rmtree(results)
    last = braidwise(folder, *arguments, given=given)
    assert last.returncode == 0, last.stderr
    assert "Traceback" not in last.stderr
    assert compared(results) == compared(run.results())
    assert (results / "small" / "report.html").exists()
    assert hidden(results) <= KNOWN_HIDDEN


def test_where_the_whole_is_moved_nothing_is_solved_again_but_what_is_damaged(
    run: Run, tmp_path: Path
) -> None:
    moved = run.copied(tmp_path)
    store = moved.results() / ".solved"
    entries = sorted(p for p in store.iterdir() if p.name != "drawings")
    for entry in entries:
        (entry / SOLVES[0]).write_bytes(b"cut")
    moved.forget()
    said = moved.to_its_tables()
    assert said.count("it is made again\n") == len(entries)
    assert len(re.findall(r"solved \S+, \d+ segments", said)) == len(entries)
    assert "over the band" not in said
    assert "finer" not in said


def test_a_run_told_to_end_does_not_wait_for_its_jobs(tmp_path: Path) -> None:
    study = quick_study_file(tmp_path)
    with start(tmp_path, "study", str(study), "--cores", "1") as process:
        read_to(process, "solved cable")
        jobs = psutil.Process(process.pid).children(recursive=True)
        process.terminate()
        assert process.wait(timeout=5) == 143
        assert process.stderr is not None
        assert "Ended. What was finished is kept" in process.stderr.read()
        assert psutil.wait_procs(jobs, timeout=5)[1] == []


def test_a_run_of_which_a_worker_is_killed_names_it_and_goes_on_from_there(
    run: Run, tmp_path: Path
) -> None:
    # What is as described is solved; of the drawings none.
    mine = run.copied(tmp_path)
    drawings = mine.results() / ".solved" / "drawings"
    shutil.rmtree(drawings)
    mine.forget()
    arguments = ("study", str(mine.study), "--results", "out", "--cores", "1")
    with start(mine.folder, *arguments) as process:
        read_to(process, "geometry 2/8")
        # The youngest: below the command its job, and below that the job's worker.
        worker = max(psutil.Process(process.pid).children(recursive=True), key=lambda p: p.pid)
        worker.kill()
        _, said = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "small: solving geometries  [worker-ended]" in said
    assert "Traceback" not in said
    kept = set(drawings.iterdir())
    assert len(kept) >= 2
    times = {path: path.stat().st_mtime_ns for path in kept}
    # On one core geometries come in their order: once another is told, those kept were taken.
    with start(mine.folder, *arguments) as process:
        read_to(process, f"geometry {len(kept) + 1}/8")
        kill_group(process)
    assert {path: path.stat().st_mtime_ns for path in kept} == times


def test_what_a_killed_writer_left_is_cleared_by_the_next_run(run: Run) -> None:
    results = run.results()
    place = results / "small" / "summary.json"
    command = [sys.executable, "-c", WRITER, str(place)]
    with subprocess.Popen(command, cwd=HOME, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "half\n"
        process.kill()
    (left,) = hidden(results) - KNOWN_HIDDEN
    assert left.startswith(".summary.json.")
    done = run.again()
    assert done.returncode == 0, done.stderr
    assert hidden(results) <= KNOWN_HIDDEN
    assert compared(results) == compared(run.results())
