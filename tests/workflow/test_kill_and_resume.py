"""A run may be killed at any moment; the same command goes on and ends with the same results."""

from __future__ import annotations

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
from dataclasses import dataclass
from pathlib import Path

import psutil
import pytest

from pipeline.figures import FIGURE_GROUPS
from tests.harness.command import HOME, braidwise, results_of, start
from tests.harness.small_study import small_study_file

pytestmark = pytest.mark.takes(45)

KILLS = 10
# Fractions of the undisturbed time: from before the first job to the middle of a run. What a
# killed run finished is kept, so that a row of them reaches every later stage too.
EARLIEST, LATEST = 0.10, 0.42
WRITER = """
import sys, time
from pathlib import Path
from pipeline.runtime.store import whole_file
with whole_file(Path(sys.argv[1])):
    print("half", flush=True)
    time.sleep(60)
"""
KNOWN_HIDDEN = {".run.lock", ".solved", ".combined", *(f".{g}.done" for g in FIGURE_GROUPS)}


@dataclass(frozen=True)
class Undisturbed:
    """The small study run in peace: how long it took and what came out."""

    study: Path
    folder: Path
    seconds: float
    results: dict[str, bytes]


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> Undisturbed:
    folder = tmp_path_factory.mktemp("peace")
    study = small_study_file(folder)
    begun = time.monotonic()
    done = braidwise(folder, "study", str(study), "--results", "out")
    seconds = time.monotonic() - begun
    assert done.returncode == 0, done.stderr
    return Undisturbed(study, folder, seconds, compared(folder / "out"))


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


def kill_group(process: subprocess.Popen[str]) -> None:
    os.killpg(process.pid, signal.SIGKILL)


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


# Laws


def test_a_run_killed_ten_times_ends_with_the_results_of_an_undisturbed_one(
    tmp_path: Path, undisturbed: Undisturbed, no_stray_children: list[int]
) -> None:
    # By turns the run with all its children, and the run alone, whose children go on for a while.
    moments = random.Random(20)
    arguments = ("study", str(undisturbed.study), "--results", "out")
    results = tmp_path / "out"
    killed = 0
    while killed < KILLS:
        fraction = moments.uniform(EARLIEST, LATEST)
        with start(tmp_path, *arguments) as process:
            no_stray_children.append(process.pid)
            kill = (kill_group, kill_main_only)[killed % 2]
            if killed_before_its_end(process, fraction * undisturbed.seconds, kill):
                killed += 1
                continue
        assert compared(results) == undisturbed.results
        shutil.rmtree(results)
    last = braidwise(tmp_path, *arguments)
    assert last.returncode == 0, last.stderr
    assert compared(results) == undisturbed.results
    assert (results / "small" / "report.html").exists()
    assert hidden(results) <= KNOWN_HIDDEN


def read_to(process: subprocess.Popen[str], words: str) -> None:
    """Read what a run says up to a line with these words."""
    assert process.stderr is not None
    for line in process.stderr:
        if words in line:
            return
    raise AssertionError(words)


def test_a_run_told_to_end_does_not_wait_for_its_jobs(tmp_path: Path) -> None:
    study = small_study_file(tmp_path)
    with start(tmp_path, "study", str(study), "--cores", "1") as process:
        read_to(process, "drew and checked the geometries")
        jobs = psutil.Process(process.pid).children(recursive=True)
        process.terminate()
        assert process.wait(timeout=5) == 143
        assert process.stderr is not None
        assert "Ended. What was finished is kept" in process.stderr.read()
        assert psutil.wait_procs(jobs, timeout=5)[1] == []


def test_a_spread_of_which_a_worker_is_killed_names_it_and_goes_on_from_there(
    tmp_path: Path,
) -> None:
    study = small_study_file(tmp_path, unknowns={"geometries": 8, "draws": 16})
    arguments = ("spread", str(study), "--cores", "1")
    with start(tmp_path, *arguments) as process:
        read_to(process, "geometry 2/9")
        (worker,) = psutil.Process(process.pid).children()
        worker.kill()
        _, said = process.communicate(timeout=30)
    assert process.returncode == 1
    assert "small: solving geometries  [worker-ended]" in said
    assert "Traceback" not in said
    again = braidwise(tmp_path, *arguments)
    assert again.returncode == 0, again.stderr
    begun = re.match(r"(\d) geometries solved already by a run that was stopped\n", again.stderr)
    assert begun is not None
    assert int(begun[1]) >= 2
    assert hidden(tmp_path / "results") == {".run.lock"}


def test_what_a_killed_writer_left_is_cleared_by_the_next_run(undisturbed: Undisturbed) -> None:
    results = undisturbed.folder / "out"
    place = results / "small" / "summary.json"
    command = [sys.executable, "-c", WRITER, str(place)]
    with subprocess.Popen(command, cwd=HOME, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "half\n"
        process.kill()
    (left,) = hidden(results) - KNOWN_HIDDEN
    assert left.startswith(".summary.json.")
    done = braidwise(undisturbed.folder, "study", str(undisturbed.study), "--results", "out")
    assert done.returncode == 0, done.stderr
    assert hidden(results) <= KNOWN_HIDDEN
    assert compared(results) == undisturbed.results
