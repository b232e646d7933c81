"""Jobs side by side in worker processes, in order, each isolated only once one has crashed.

A solver may crash or hang, and its geometry has to be named. A process of its own for every solve
costs its start; so jobs run in a pool, and where a worker of it dies by itself, or does not come
back, all that is left runs again with a process and a time limit of its own for each solve.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import TimeoutError as FutureTimeout
from typing import TypeVar

from pipeline.runtime.workers import worker_pool
from pipeline.solver.field_solver import SECONDS_PER_FREQUENCY
from pipeline.text.errors import SolverError

# A job may wait for others before it; far longer than that is a hang. [s]
_PATIENCE = 3 * SECONDS_PER_FREQUENCY
JobT = TypeVar("JobT")
T = TypeVar("T")


def side_by_side(
    work: Callable[[JobT, bool], T],
    jobs: Sequence[JobT],
    cores: int,
    task: str,
    first: int,
    meanwhile: Callable[[], None] = lambda: None,
) -> Iterator[T]:
    """What ``work`` makes of each job, in order; its second argument asks for isolated solves.

    The ``first`` so many are begun at once, the others when they are asked for. ``task`` is what
    messages call the work; ``meanwhile`` is done in this process once they are begun. Raises
    SolverError naming the geometry that crashed the solver.
    """
    done, beside = 0, [meanwhile]
    for isolated in (False, True):
        rest, begin = jobs[done:], max(1, first - done)
        try:
            for found in _in_pool(work, rest, cores, task, begin, isolated, beside):
                done += 1
                yield found
            return
        except FutureTimeout:
            if isolated:
                raise
        except SolverError as error:
            if isolated or error.faults[0].tag != "solver-crashed":
                raise


def _in_pool(
    work: Callable[[JobT, bool], T],
    jobs: Sequence[JobT],
    cores: int,
    task: str,
    first: int,
    isolated: bool,
    beside: list[Callable[[], None]],
) -> Iterator[T]:
    # An isolated solve has a limit of its own, which names it.
    patience = None if isolated else _PATIENCE
    with worker_pool(cores, task) as pool:
        begun = [pool.submit(work, job, isolated) for job in jobs[:first]]
        while beside:
            beside.pop()()
        yield from (future.result(patience) for future in begun)
        for job in jobs[first:]:
            yield pool.submit(work, job, isolated).result(patience)
