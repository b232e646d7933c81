"""Field solves of a test session: each once, whichever file or worker asks for it.

The two functions that run the field solver are replaced by ones that look into a folder first. It
is empty when a session begins, so that no test leans on what other code once computed. An answer
lies there under the digest of all that the function was given, in the project's own terms
(``structure_data`` and ``FORMAT`` of the solver); a lock makes a second worker wait for the
first instead of solving as well.
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
from time import process_time
from typing import Any

import numpy as np

from pipeline.solver import nec2

# What was solved faster than this is not worth a file. [s]
WORTH_KEEPING = 0.05
# Variable of the environment that turns the folder off, for worker processes as well.
AFRESH = "BRAIDWISE_TESTS_SOLVE_AFRESH"


def _digest(name: str, given: dict[str, Any]) -> str:
    from pipeline.solver.port_basis import structure_data

    plain = {key: value for key, value in given.items() if key != "structure"}
    for key, value in plain.items():
        plain[key] = value.tolist() if isinstance(value, np.ndarray) else repr(value)
    data = [nec2.FORMAT, name, structure_data(given["structure"]), plain]
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:24]


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    with path.open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def once(folder: Path, solve: Callable[..., Any]) -> Callable[..., Any]:
    """A function of the field solver that keeps its answers in a folder."""
    parameters = signature(solve)

    @wraps(solve)
    def kept(*args: Any, **kwargs: Any) -> Any:
        if AFRESH in os.environ:
            return solve(*args, **kwargs)
        given = parameters.bind(*args, **kwargs)
        given.apply_defaults()
        digest = _digest(solve.__name__, dict(given.arguments))
        path = folder / digest
        with _alone(folder / f"{digest}.lock"):
            if path.exists():
                return pickle.loads(path.read_bytes())
            begun = process_time()
            found = solve(*args, **kwargs)
            if process_time() - begun > WORTH_KEEPING:
                path.write_bytes(pickle.dumps(found))
            return found

    return kept


def share(folder: Path) -> None:
    """Let every solve of this process and its workers go through a folder.

    To be called before any module has taken the two functions by name.
    """
    for name in ("unit_source_currents", "solver_pattern"):
        setattr(nec2, name, once(folder, getattr(nec2, name)))
