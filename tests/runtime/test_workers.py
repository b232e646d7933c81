"""A process that is killed is named; what is killed leaves nobody behind."""

from __future__ import annotations

import faulthandler
import os
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import psutil
import pytest

from pipeline.runtime.workers import _lost, beside, worker_pool
from pipeline.text.errors import Fault, SolverError, WorkerEndedError
from tests.harness.command import HOME

# A run with two workers, one of which tells its number and waits; ``ends`` is what it does besides.
RUN = """
import os, signal, sys, time
from contextlib import nullcontext
from pathlib import Path
from pipeline.runtime.result_locks import only_run_in
from pipeline.runtime.process import ends_when_told
from pipeline.runtime.workers import _lost, worker_pool

def work():
    print(os.getpid(), flush=True)
    time.sleep(60)

with ends_when_told(), only_run_in(Path(sys.argv[1]), ()), worker_pool(2, "drawing") as pool:
    # The workflow's own, which waits for what is running.
    signal.signal(signal.SIGTERM, lambda number, frame: None)
    pool.submit(work).result()
"""


def end_by(number: signal.Signals) -> None:
    faulthandler.disable()  # a crash on purpose leaves no trace in the test's output
    os.kill(os.getpid(), number)


def begun(folder: Path) -> tuple[subprocess.Popen[str], psutil.Process]:
    """A run and its worker."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, str(folder)],
        cwd=HOME,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    return process, psutil.Process(int(process.stdout.readline()))


# Laws


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_a_worker_that_is_killed_is_named_with_what_it_did(number: signal.Signals) -> None:
    with pytest.raises(WorkerEndedError) as caught, worker_pool(2, "drawing of gable") as pool:
        pool.submit(end_by, number).result()
    (fault,) = caught.value.faults
    assert fault.place == "drawing of gable"
    assert f"signal {int(number)}" in fault.rule
    assert "start the same command again" in fault.remedy
    assert caught.value.exit_code == 1


def test_a_worker_that_crashes_by_itself_is_no_matter_of_memory() -> None:
    with pytest.raises(SolverError, match="crashed"), worker_pool(2, "gable") as pool:
        pool.submit(end_by, signal.SIGSEGV).result()


def test_workers_of_a_run_that_is_killed_outright_end_by_themselves(tmp_path: Path) -> None:
    process, worker = begun(tmp_path)
    with process:
        process.kill()
        assert process.wait(timeout=10) == -signal.SIGKILL
        worker.wait(timeout=10)
    # And they never held the folder: the next run would have to wait for them.
    process, worker = begun(tmp_path)
    with process:
        process.terminate()
        assert process.wait(timeout=10) == 143


def test_a_run_told_to_end_ends_at_once_with_its_workers_and_says_so(tmp_path: Path) -> None:
    process, worker = begun(tmp_path)
    with process:
        process.terminate()
        told = time.monotonic()
        assert process.wait(timeout=10) == 143
        assert time.monotonic() - told < 5
        worker.wait(timeout=5)
        assert process.stderr is not None
        said = process.stderr.read()
    assert "Ended. What was finished is kept" in said
    assert "Traceback" not in said


def test_a_worker_told_to_end_does_not_pass_it_on_to_its_run(tmp_path: Path) -> None:
    process, worker = begun(tmp_path)
    with process:
        worker.terminate()
        assert process.wait(timeout=10) == 1
        assert process.stderr is not None
        assert "WorkerEndedError: drawing" in process.stderr.read()


@pytest.mark.parametrize(("own", "threads"), [({}, "1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3")])
def test_linear_algebra_has_one_thread_a_process_unless_a_user_says_otherwise(own, threads) -> None:
    plain = {k: v for k, v in os.environ.items() if not k.endswith("_NUM_THREADS")}
    look = "import pipeline, os; print(os.environ['OPENBLAS_NUM_THREADS'])"
    command = [sys.executable, "-c", look]
    done = subprocess.run(command, env=plain | own, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == threads


def test_the_worker_that_crashed_is_told_of_and_not_those_that_the_pool_ended() -> None:
    # The pool ends the others with SIGTERM, in whatever order they stand.
    ended = -int(signal.SIGTERM)
    assert isinstance(_lost("task", [ended, -int(signal.SIGSEGV), ended]), SolverError)
    assert isinstance(_lost("task", [ended, -int(signal.SIGKILL)]), WorkerEndedError)


# Laws: work beside a block


def write_niceness(path: Path) -> None:
    path.write_text(str(os.nice(0)))


def refuse() -> None:
    raise SolverError(Fault("geometry x", "", "was refused", "another one", "solver-refused"))


def test_work_beside_a_block_is_done_by_its_end_and_gives_way_to_it(tmp_path: Path) -> None:
    with beside(partial(write_niceness, tmp_path / "nice"), "solving") as finish:
        finish()
    assert int((tmp_path / "nice").read_text()) > os.nice(0)


def test_an_error_of_work_beside_a_block_is_raised_by_who_waits_for_it() -> None:
    with beside(refuse, "solving") as finish, pytest.raises(SolverError, match="was refused"):
        finish()


@pytest.mark.parametrize(
    ("number", "kind"), [(signal.SIGKILL, WorkerEndedError), (signal.SIGSEGV, SolverError)]
)
def test_work_beside_a_block_that_ends_by_itself_is_named(
    number: signal.Signals, kind: type[Exception]
) -> None:
    with beside(partial(end_by, number), "solving") as finish, pytest.raises(kind, match="solving"):
        finish()


def wait_long(path: Path) -> None:
    path.write_text(str(os.getpid()))
    time.sleep(60)


def left_by_an_error(path: Path) -> None:
    with beside(partial(wait_long, path), "solving"):
        while not (path.exists() and path.read_text()):
            time.sleep(0.01)
        raise KeyboardInterrupt


def test_a_block_that_is_left_by_an_error_leaves_no_work_behind(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        left_by_an_error(tmp_path / "pid")
    assert not psutil.pid_exists(int((tmp_path / "pid").read_text()))


def pressed() -> str:
    os.kill(os.getpid(), signal.SIGINT)
    return "worked on"


def test_a_worker_leaves_ctrl_c_to_its_run() -> None:
    # One that ended by it was taken for a crash where the run had not heard of it yet.
    with worker_pool(1, "solving") as pool:
        assert pool.submit(pressed).result() == "worked on"
