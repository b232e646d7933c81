"""The run of a batch: killed runs, jobs that fail, profiles, and what is left in a queue."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.batch.batch_file import load_batch
from pipeline.batch.jobs import write_rows, write_whole
from pipeline.batch.planning import plan_batch, write_plan
from pipeline.text.errors import SolverError, StudyError
from pipeline.workflow.batch_progress import Progress
from pipeline.workflow.cluster import cancel_jobs, job_prefix, profile_folder
from pipeline.workflow.plans import code_digest
from tests.harness.command import HOME, braidwise, start

pytestmark = pytest.mark.takes(18)

# A chunk has installations of one group: two jobs.
SMALL = """
study:
  frequency: 145 MHz
  antenna: {type: ground-plane, pipe: 22x1 mm}
  site: {height: $height, ground: average}
  cable: {type: 10.3 mm foam low-loss, route: [{down_to: 1 m}, {out: 0.5 m}]}
  station: {lead: 0.5 m}
  chokes:
    - {id: nizn-800, kind: ferrite, core: mix-43-clamp-12-7, count: [1, 2], position: 0.05 m}
refined_share: 0
groups:
  - {name: low, axes: {$height: [1.8 m]}}
  - {name: high, axes: {$height: [2.2 m]}}
"""
# Braces would pass for wildcards of the workflow.
PLACE = "a place {of} my own"
RUN = (
    "import sys; from pathlib import Path; from pipeline.workflow.batch_run import run_batch;"
    "sys.exit(0 if run_batch(Path(sys.argv[1]), 2, '') else 1)"
)
# Stands for the commands of SLURM: a queue is a file of names.
SLURM = """#!/bin/sh
case "$0" in
*squeue) cat "$QUEUE" ;;
*scancel) echo "$@" >> "$QUEUE.said"; grep -v braidwise-ours "$QUEUE" > "$QUEUE.new"
    mv "$QUEUE.new" "$QUEUE" ;;
esac
"""


def small_file(folder: Path) -> Path:
    path = folder / "small.yaml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def table_without_a_workflow(batch: Path, folder: Path) -> bytes:
    """The table by the same functions, one after the other in this process."""
    plan = plan_batch(load_batch(batch), code_digest())
    write_plan(plan, folder)
    for chunk in plan.chunks:
        target = folder / ".rows" / f"{chunk.digest}.parquet"
        write_rows(folder / ".plan" / f"{chunk.digest}.json", folder / "store", target, str)
    write_whole(folder / ".plan" / "plan.json", folder / ".rows", folder / "table.parquet")
    return (folder / "table.parquet").read_bytes()


def kill_group(process: subprocess.Popen[str]) -> None:
    os.killpg(process.pid, signal.SIGKILL)


def kill_main_only(process: subprocess.Popen[str]) -> None:
    os.kill(process.pid, signal.SIGKILL)


def killed_once(
    folder: Path, pattern: str, kill: Callable[[subprocess.Popen[str]], None]
) -> subprocess.Popen[str]:
    """A run that is killed as soon as there is a file of a pattern in its results."""
    arguments = ("batch", "small.yaml", "--results", PLACE)
    with start(folder, *arguments) as process:
        last = time.monotonic() + 300
        while not any(p.name[0] != "." for p in (folder / PLACE).glob(pattern)):
            assert process.poll() is None, process.communicate()
            assert time.monotonic() < last
            time.sleep(0.01)
        kill(process)
        process.wait(timeout=10)
    return process


def test_a_batch_killed_three_times_ends_with_the_table_of_an_undisturbed_one(
    tmp_path: Path,
) -> None:
    expected = table_without_a_workflow(small_file(tmp_path), tmp_path / "alone")
    # At its first solve; at the first rows, the other job going on; and when the table is there
    # and the page is not.
    blows = [
        (".solved/drawings/*.npz", kill_group),
        ("small/.rows/*.parquet", kill_main_only),
        ("small/table.parquet", kill_group),
    ]
    for pattern, kill in blows:
        killed = killed_once(tmp_path, pattern, kill)
        assert killed.returncode == -signal.SIGKILL
    results = tmp_path / PLACE / "small"
    assert (results / "table.parquet").read_bytes() == expected
    assert not (results / "batch.html").exists()
    assert "Finished jobid" in (results / "logs" / "workflow.log").read_text(encoding="utf-8")


def test_a_job_that_fails_is_told_in_its_own_words_with_the_place_of_its_log(
    tmp_path: Path,
) -> None:
    chunk = {"digest": "ab", "installations": 1, "seconds": 1.0, "memory_mb": 100}
    (tmp_path / ".plan").mkdir()
    (tmp_path / ".plan" / "plan.json").write_text(json.dumps({"name": "n", "chunks": [chunk]}))
    (tmp_path / ".plan" / "ab.json").write_text("{")
    done = subprocess.run(
        [sys.executable, "-P", "-c", RUN, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": str(HOME)}, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert done.returncode == 1
    assert "a job failed: .rows/ab.parquet" in done.stderr
    assert ".plan/ab.json  [result-damaged]" in done.stderr
    assert f"(log: {tmp_path / 'logs' / 'ab.log'})" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_profile_that_is_not_there_is_refused_before_anything_is_planned(tmp_path: Path) -> None:
    small_file(tmp_path)
    done = braidwise(tmp_path, "batch", "small.yaml", "--profile", "moon")
    assert done.returncode == 2
    assert done.stderr.startswith("--profile = moon  [profile-missing]")
    assert "Try: --profile kubernetes or slurm, or the folder of a profile" in done.stderr
    assert not (tmp_path / "results").exists()


def test_profiles_come_by_name_and_by_folder(tmp_path: Path) -> None:
    assert {path.name for path in profile_folder("slurm").iterdir()} == {"config.yaml"}
    (tmp_path / "config.v9+.yaml").write_text("executor: slurm\n")
    assert profile_folder(str(tmp_path)) == tmp_path
    (tmp_path / "config.v9+.yaml").unlink()
    with pytest.raises(StudyError, match="profile-missing"):
        profile_folder(str(tmp_path))


@pytest.fixture
def queue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Names of jobs in the queue of a cluster that does as it is told."""
    for name in ("squeue", "scancel"):
        (tmp_path / name).write_text(SLURM)
        (tmp_path / name).chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    monkeypatch.setenv("QUEUE", str(tmp_path / "queue"))
    return tmp_path / "queue"


def test_jobs_of_an_earlier_run_in_the_same_folder_are_cancelled_and_no_others(
    queue: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    queue.write_text("braidwise-ours_1\nbraidwise-ours_1\nbraidwise-ours_2\nbraidwise-their_1\n")
    cancel_jobs("braidwise-ours")
    assert queue.read_text() == "braidwise-their_1\n"
    said = queue.with_name("queue.said").read_text()
    assert said == f"--user={os.getuid()} --name=braidwise-ours_1,braidwise-ours_2\n"
    assert "cancelling 3 jobs that an earlier run has left" in capsys.readouterr().err
    cancel_jobs("braidwise-ours")
    assert queue.with_name("queue.said").read_text() == said


def test_each_folder_has_names_of_its_own_that_slurm_takes(tmp_path: Path) -> None:
    first, second = job_prefix(tmp_path / "a b"), job_prefix(tmp_path / "c")
    assert first != second
    # No more than 50 letters, digits, dashes and underscores: the package for SLURM.
    assert all(c.isalnum() or c == "-" for c in first)
    assert len(first) <= 50


def test_a_cluster_that_does_not_answer_is_told(queue: Path) -> None:
    with pytest.raises(SolverError, match=r"squeue .*slurm-failed") as told:
        cancel_jobs("braidwise-ours")
    assert "see whether SLURM is up" in str(told.value)


def test_progress_tells_few_lines_of_many_installations() -> None:
    said: list[str] = []
    progress = Progress(said.append, 1000)
    for _ in range(1200):
        progress.hear("low: installation 3")
    assert [line.split("  ")[-1] for line in (said[0], said[-1])] == [
        "1 of 1000 installations",
        "1000 of 1000 installations",
    ]
    assert len(said) == 2
