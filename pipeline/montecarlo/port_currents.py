"""Currents of one drawn geometry per volt at each port, solved or read from where they are kept.

A structure, a frequency and a soil in; currents out. A run that was stopped goes on from the
folder in which it kept them.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.runtime.store import read_arrays_as, write_arrays
from pipeline.solver import field_solver
from pipeline.solver.port_basis import structure_data
from pipeline.text.errors import ResultError


def kept_currents(
    built: Structure, frequency: float, soil: Soil | None, store: Path | None, isolated: bool
) -> NDArray[np.complex128]:
    """Currents on all segments for one volt at each port, shape (1, n_port, n_segment). [A/V]

    ``store`` is a folder in which solves are kept and looked for; ``isolated`` gives the solver a
    process of its own, in which a crash names the geometry.
    """
    path = None if store is None else store / f"{digest(built, frequency, soil)}.npz"
    if path is not None and path.exists():
        try:
            kept: NDArray[np.complex128] = read_arrays_as(path, lambda arrays: arrays["current"])
        except ResultError:
            # Cut short or changed: it is made again, as every solve of the store is.
            path.unlink()
        else:
            return kept
    f = np.array([frequency])
    if isolated:
        found = field_solver.solved_currents(built, f, soil)
    else:
        found = field_solver.SOLVER.unit_source_currents(built, f, soil)
    if path is not None:
        write_arrays(path, {"current": found})
    return found


def kept_average_gain(
    built: Structure, frequency: float, loads: tuple[SeriesLoad, ...], store: Path | None
) -> float:
    """Average gain of a drawing's lossless twin in free space, in a process of its own. [-]

    ``loads`` are those of the twin; ``store`` as of :func:`kept_currents`.
    """
    drawn = [digest(built, frequency, None), [(x.segment, x.impedance.imag) for x in loads]]
    name = hashlib.sha256(json.dumps(drawn).encode()).hexdigest()[:16]
    path = None if store is None else store / f"{name}-gain.npz"
    if path is not None and path.exists():
        try:
            return read_arrays_as(path, lambda arrays: float(arrays["average_gain"]))
        except ResultError:
            path.unlink()
    found = field_solver.solved_average_gain(built, frequency, loads)
    if path is not None:
        write_arrays(path, {"average_gain": np.array(found)})
    return found


def digest(built: Structure, frequency: float, soil: Soil | None) -> str:
    """Short name for all that currents depend on."""
    ground = None if soil is None else [soil.eps_r, soil.sigma]
    text = json.dumps([field_solver.SOLVER.FORMAT, structure_data(built), frequency, ground])
    return hashlib.sha256(text.encode()).hexdigest()[:16]
