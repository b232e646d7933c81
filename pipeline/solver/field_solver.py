"""The field solver of all studies: what a module has to offer to be one, and its runs.

A checked structure goes in, segment currents for a unit source at each port come out. A solver may
neither say why it refuses nor survive what it accepts, so it runs in a worker process: a crash
costs one geometry and becomes an error that names it.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import TimeoutError as FutureTimeout
from typing import ParamSpec, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.runtime.workers import worker_pool
from pipeline.solver import nec2
from pipeline.text.errors import Fault, SolverError

# The slowest geometry seen takes about two seconds a frequency; a hundred times that is a hang.
SECONDS_PER_FREQUENCY = 200.0

P = ParamSpec("P")
T = TypeVar("T")


class FieldSolver(Protocol):
    """A module that solves fields: three functions, and the mark of what they computed.

    ``FORMAT`` is part of the digest that stored solves are found by: another number for every
    solver, raised whenever content or meaning of a stored solve changes.
    """

    FORMAT: int

    def unit_source_currents(
        self,
        structure: Structure,
        frequencies: NDArray[np.float64],
        soil: Soil | None,
        lossless: bool = False,
        loads: tuple[SeriesLoad, ...] = (),
        sources: tuple[int, ...] | None = None,
    ) -> NDArray[np.complex128]:
        """Peak currents on all segments, shape (n_frequency, n_source, n_segment) [A].

        For a peak of one volt at each source in turn, the others shorted. ``sources`` are
        segments; default: all ports, each with the segments that are driven beside it.
        """

    def average_gain(
        self,
        structure: Structure,
        frequency: float,
        loads: tuple[SeriesLoad, ...] = (),
        step_deg: float = 5.0,
    ) -> float:
        """Power through the whole sphere over input power, without loss in free space. [-]

        One volt at the first port; ``step_deg`` is that of the directions.
        """

    def solve_memory(self, n_segments: int, n_ports: int, n_frequencies: int) -> float:
        """Memory that a solve takes at its peak. [bytes]"""


# The solver of all studies. Another one is a module with the same four names, and this line.
SOLVER: FieldSolver = nec2


def solved_currents(
    structure: Structure,
    frequencies: NDArray[np.float64],
    soil: Soil | None,
    isolated: bool = True,
) -> NDArray[np.complex128]:
    """Currents per volt at each port, by the solver in a worker process.

    Shape (n_frequency, n_port, n_segment) [A/V]. Not ``isolated``: in this process, which is a
    worker itself.
    """
    seconds = SECONDS_PER_FREQUENCY * len(frequencies)
    solve = SOLVER.unit_source_currents
    if not isolated:
        return solve(structure, frequencies, soil)
    return in_worker(structure.name, seconds, solve, structure, frequencies, soil)


def solved_average_gain(
    structure: Structure,
    frequency: float,
    loads: tuple[SeriesLoad, ...] = (),
    step_deg: float = 5.0,
    isolated: bool = True,
) -> float:
    """Average gain of a structure's lossless twin in free space, in a worker process. [-]

    Not ``isolated``: in this process, which is a worker itself.
    """
    solve = SOLVER.average_gain
    if not isolated:
        return solve(structure, frequency, loads, step_deg)
    return in_worker(
        structure.name, SECONDS_PER_FREQUENCY, solve, structure, frequency, loads, step_deg
    )


def in_worker(
    name: str, seconds: float, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs
) -> T:
    """Run a function in a process of its own and give back what it returns.

    Raises SolverError if the worker crashes or does not finish in ``seconds``, WorkerEndedError if
    it is killed.
    """
    try:
        with worker_pool(1, f"geometry {name}") as pool:
            return pool.submit(function, *args, **kwargs).result(timeout=seconds)
    except FutureTimeout as error:
        raise SolverError(
            Fault(
                f"geometry {name}",
                "",
                f"the field solver did not finish within {seconds:.0f} s",
                "use fewer frequencies in band.points or a shorter route",
                "solver-slow",
            )
        ) from error
