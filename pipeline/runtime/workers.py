"""Pools of worker processes: the only place that makes one.

A worker that is killed becomes an error that says what it did; one whose run was killed ends by
itself, so that nothing holds the results folder after it.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import Connection
from types import FrameType
from typing import Any

from pipeline.text.errors import BraidwiseError, Fault, SolverError, WorkerEndedError

# How often a worker looks whether its run is still there. [s]
_LOOK = 0.5
# So much a process gives way that works beside the run itself.
_GIVES_WAY = 10
# What the system or a person ends a process with; anything else is a crash of its own.
_FROM_OUTSIDE = (signal.SIGKILL, signal.SIGTERM, signal.SIGHUP)


@contextmanager
def worker_pool(cores: int, task: str) -> Iterator[ProcessPoolExecutor]:
    """A pool of processes that are gone when the block is left, whichever way.

    ``task`` is what messages call their work. One that is killed becomes a WorkerEndedError, one
    that crashes a SolverError.
    """
    pool = ProcessPoolExecutor(
        cores, mp_context=_context(), initializer=_begin, initargs=(os.getpid(),)
    )
    try:
        yield pool
        pool.shutdown(wait=True)
    except BrokenProcessPool as error:
        processes = list((pool._processes or {}).values())
        pool.shutdown(wait=True)
        raise _lost(task, [process.exitcode for process in processes]) from error
    finally:
        # After a timeout or Ctrl-C nobody wants the rest of the work. The pool is waited for in any
        # case: one that is torn down half-way complains when Python ends.
        for process in (pool._processes or {}).values():
            process.kill()
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def beside(work: Callable[[], None], task: str) -> Iterator[Callable[[], None]]:
    """Do some work in a process of its own while the block runs; what is yielded waits for its end.

    The process gives way to the block's own work and is gone when the block is left, whichever way.
    What the work raises is raised by who waits for it; ``task`` is what messages call it.
    """
    context = _context()
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_work_beside, args=(os.getpid(), work, theirs))
    process.start()
    theirs.close()

    def finish() -> None:
        try:
            error = ours.recv()
        except EOFError:
            process.join()
            raise _lost(task, [process.exitcode]) from None
        if error is not None:
            raise error

    try:
        yield finish
    finally:
        process.kill()
        process.join()
        ours.close()


def _work_beside(run: int, work: Callable[[], None], tell: Connection) -> None:
    _begin(run)
    os.nice(_GIVES_WAY)
    try:
        work()
    except BraidwiseError as error:
        tell.send(error)
    else:
        tell.send(None)


def _context() -> Any:
    # Fork is cheap and safe here: stages are single-threaded. Elsewhere a fresh interpreter.
    method = "fork" if sys.platform.startswith("linux") else "spawn"
    return multiprocessing.get_context(method)


def _begin(run: int) -> None:
    """Leave the run's own ways of ending to the run; end when it is gone.

    Killed outright, a run cannot tell its workers, which would wait for work for ever. They look
    for themselves, by a timer and not by a thread: workers fork as well. Ctrl-C reaches every
    process of a run: a worker that ended by it would look as if it had crashed before the run
    itself has heard of it.
    """
    signal.set_wakeup_fd(-1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)

    def look(number: int, frame: FrameType | None) -> None:
        if os.getppid() != run:
            os._exit(1)

    signal.signal(signal.SIGALRM, look)
    signal.setitimer(signal.ITIMER_REAL, _LOOK, _LOOK)


def _lost(task: str, codes: list[int | None]) -> BraidwiseError:
    """Why a pool broke: the pool itself ends the other processes with SIGTERM."""
    ended = [-code for code in codes if code is not None and code < 0]
    own = [number for number in ended if number != signal.SIGTERM] or ended
    if own and own[0] not in _FROM_OUTSIDE:
        return SolverError(
            Fault(
                task,
                "",
                "the field solver crashed on this geometry; other results are kept",
                "look at its picture with `braidwise check` and report the study if it is sound",
                "solver-crashed",
            )
        )
    which = f" by signal {int(own[0])}" if own else ""
    return WorkerEndedError(
        Fault(
            task,
            "",
            f"its worker process was ended from outside{which}, often because memory ran out",
            "start the same command again: what is stored is not computed again; "
            "on one core it needs less memory",
            "worker-ended",
        )
    )
