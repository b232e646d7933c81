"""Field solves of a test session: each once, whichever file or worker process asks for it.

The functions that run the field solver, and the one that makes a port basis of a solve, are
replaced by ones that look into the session's folder first. It is empty when a session begins, so
that no test leans on what other code once computed. An answer lies there under the digest of all
that the function was given, in the project's own terms (``structure_data`` and ``FORMAT`` of the
solver); a lock makes a second worker wait for the first instead of solving as well.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from inspect import signature
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from pipeline.solver import nec2

# What was solved faster than this is not worth a file. [s]
WORTH_KEEPING = 0.02
# Variables of the environment, so that all processes of a session know them: the session's folder,
# and that nothing is to be taken from it.
FOLDER = "BRAIDWISE_TESTS_FOLDER"
AFRESH = "BRAIDWISE_TESTS_SOLVE_AFRESH"


@contextmanager
def one_at_a_time(name: str) -> Iterator[Path]:
    """A path in the session's folder that no other process makes meanwhile."""
    path = Path(os.environ[FOLDER]) / name
    with path.with_name(f"{name}.lock").open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield path


def _digest(name: str, given: dict[str, Any]) -> str:
    from pipeline.solver.field_solver import SOLVER
    from pipeline.solver.port_basis import structure_data

    plain = {key: value for key, value in given.items() if key != "structure"}
    for key, value in plain.items():
        plain[key] = value.tolist() if isinstance(value, np.ndarray) else repr(value)
    data = [SOLVER.FORMAT, name, structure_data(given["structure"]), plain]
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:24]


def _once(module: ModuleType, name: str) -> None:
    """Let a function of a module keep its answers in the session's folder."""
    solve: Callable[..., Any] = getattr(module, name)
    parameters = signature(solve)

    @wraps(solve)
    def kept(*args: Any, **kwargs: Any) -> Any:
        if AFRESH in os.environ:
            return solve(*args, **kwargs)
        given = parameters.bind(*args, **kwargs)
        given.apply_defaults()
        with one_at_a_time(_digest(name, dict(given.arguments))) as path:
            if path.exists():
                return pickle.loads(path.read_bytes())
            begun = sum(os.times()[:4])
            found = solve(*args, **kwargs)
            if sum(os.times()[:4]) - begun > WORTH_KEEPING:
                path.write_bytes(pickle.dumps(found))
            return found

    setattr(module, name, kept)


def share() -> None:
    """Let every solve of this process and its workers go through the session's folder.

    To be called before any other module has taken the functions by name.
    """
    _once(nec2, "unit_source_currents")
    _once(nec2, "solver_pattern")
    from pipeline.solver import port_basis

    _once(port_basis, "solve_basis")
