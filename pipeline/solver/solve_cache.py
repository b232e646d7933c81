"""Store of solved geometries, each under a digest of everything the solve depends on.

Two studies that need the same geometry share it; changing a choke, a price or a rod solves
nothing again; a stale result cannot be picked up by mistake.

Solves live in ``results/.solved/<digest>``, the digest taken over geometry, frequencies, soil and
the solver's mark (:class:`field_solver.FieldSolver`). An entry carries a checksum, a request is
checked against its digest, and what does not agree is made again. Other commands keep the solves
of a run that is stopped in a store of their own, which goes when they are done.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.runtime.store import UnsoundError, check_arrays, content_of, open_regular, reading
from pipeline.solver import field_solver
from pipeline.solver.antenna_loads import twin_loads
from pipeline.solver.band import Span
from pipeline.solver.before_solving import needed_ports, refuse_chokes
from pipeline.solver.cases import CABLE, REFINED, GeometryPlan, geometry_plans
from pipeline.solver.far_field import azimuth_count, radius_in_plan
from pipeline.solver.port_basis import structure_data
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series
from pipeline.study.records import Study
from pipeline.text.errors import Fault, ResultError, StudyError

# Hidden folder of stored solves, and what the folder of one geometry holds.
STORE = ".solved"
REQUEST = "request.json"
# At the design frequency for every port, over the band, with finer segments, without loss.
CENTRE, BAND = "centre.npz", "band.npz"
REFINED_TWIN, AVERAGE_GAIN = "refined.npz", "average_gain.npz"
SOLVES = (CENTRE, BAND, REFINED_TWIN, AVERAGE_GAIN)


@dataclass(frozen=True)
class SolveRequest:
    """One geometry with its refined twin, the band and the ground: what is solved of it.

    ``frequency`` are those of the study's band, of which no more are solved than its error asks
    for; ``needed`` names the ports that something is put on, which are those of the refined twin
    and over the band. ``azimuths`` at which fields are kept are the same for all geometries of a
    study, whose patterns are compared; None: as many as the geometry needs.
    """

    name: str
    structure: Structure
    refined: Structure
    frequency: NDArray[np.float64]
    centre: int
    soil: Soil | None
    twin_loads: tuple[SeriesLoad, ...] = ()
    azimuths: int | None = None
    needed: tuple[str, ...] = ()

    @property
    def span(self) -> Span:
        """The band, and how many solves it may take."""
        f = self.frequency
        return Span(float(f[0]), float(f[-1]), float(f[self.centre]), len(f))

    @cached_property
    def few_ports(self) -> Structure:
        """The geometry with the ports that something is put on."""
        ports = tuple(p for p in self.structure.ports if p.name in self.needed)
        return replace(self.structure, ports=ports)

    def data(self) -> dict[str, Any]:
        """Plain data that the digest is made of, beside the mark of the solver."""
        return {
            "structure": structure_data(self.structure),
            "refined": structure_data(self.refined),
            "frequency": [float(f) for f in self.frequency],
            "centre": self.centre,
            "soil": None if self.soil is None else [self.soil.eps_r, self.soil.sigma],
            "twin_loads": [[load.segment, load.impedance.imag] for load in self.twin_loads],
            "azimuths": self.azimuths,
            "needed": list(self.needed),
        }

    @cached_property
    def _drawn(self) -> str:
        return json.dumps(self.data(), sort_keys=True)

    def text(self) -> str:
        """The request as JSON, with the mark of the solver in front."""
        return f'{{"format": {field_solver.SOLVER.FORMAT}, {self._drawn[1:]}'

    def digest(self) -> str:
        """Short name for the request; equal requests have equal names."""
        return _digest(self.text().encode())


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


def frequency_grid(study: Study) -> tuple[NDArray[np.float64], int]:
    """Frequencies of the band with the design frequency among them, and its index.

    The point of the even grid nearest to the design frequency is moved onto it.
    """
    grid = np.linspace(study.band.start, study.band.stop, study.band.points)
    centre = int(np.argmin(np.abs(grid - study.frequency)))
    grid[centre] = study.frequency
    return grid, centre


def request(study: Study, plan: GeometryPlan) -> SolveRequest:
    """Everything to be solved for one geometry of a study.

    Raises StudyError if it cannot be drawn, or a choke has no place on it.
    """
    frequency, centre = frequency_grid(study)
    drawn = structure(study, plan)
    if plan.name == CABLE:
        refuse_chokes(study, drawn, frequency)
    return SolveRequest(
        plan.name,
        drawn,
        needed_ports(study, structure(study, plan, REFINED)),
        frequency,
        centre,
        study.site.ground,
        lossless_loads(study, plan, drawn),
        needed=tuple(p.name for p in needed_ports(study, drawn).ports),
    )


def lossless_loads(study: Study, plan: GeometryPlan, drawn: Structure) -> tuple[SeriesLoad, ...]:
    """The antenna's own elements and what a drawn choke has in series, without their losses."""
    loads = twin_loads(drawn, study.frequency)
    z = choke_series(drawn, study, plan.choke, np.array([study.frequency]))[0]
    own = ((drawn.port_segments[k], z[k]) for k in np.flatnonzero(z))
    return (*loads, *(SeriesLoad(int(at), 1j * float(value.imag)) for at, value in own))


def requests(study: Study) -> dict[str, SolveRequest]:
    """All of a study's solves by geometry name, or StudyError with what is wrong with any."""
    found: dict[str, SolveRequest] = {}
    faults: dict[tuple[str, str], Fault] = {}
    for plan in geometry_plans(study):
        try:
            found[plan.name] = request(study, plan)
        except StudyError as error:
            for fault in error.faults:
                # What several geometries share is told once.
                faults.setdefault((fault.place, fault.tag), fault)
    if faults:
        raise StudyError(*faults.values())
    azimuths = _azimuths(study, found[CABLE].structure)
    return {name: replace(r, azimuths=azimuths) for name, r in found.items()}


def _azimuths(study: Study, cable: Structure) -> int:
    """Number of azimuths all geometries of a study need: the one with the cable is the widest.

    A coil adds no more than its radius to that, which the few harmonics on top hold.
    """
    return azimuth_count(radius_in_plan(cable.segments), study.frequency)


def _request_text(path: Path) -> bytes:
    content = content_of(path)
    if _digest(content) != path.parent.name:
        raise UnsoundError("does not agree with the digest that its folder is named by")
    return content


def drop_damaged(folder: Path, say: Callable[[str], None]) -> bool:
    """Take out of the folder of one geometry what cannot be used; each costs a line.

    Files are deleted; a folder where a file should be may be somebody's and is put aside. Returns
    whether there was anything.
    """
    if folder.is_file():
        _drop(folder, "is a file where a folder should be", say)
        return True
    kept = [_keep_if_sound(folder / name, say) for name in (REQUEST, *SOLVES)]
    return not all(kept)


@contextmanager
def solves_to_go_on_from(folder: Path, say: Callable[[str], None]) -> Iterator[Path]:
    """Store of one command in its results, for the run after one that was stopped.

    It goes with the end of the block; an error leaves it.
    """
    store = folder / STORE
    if store.is_file():
        _drop(store, "is a file where a folder should be", say)
    for path in sorted(store.glob("*.npz")):
        _keep_if_sound(path, say)
    kept = len(list(store.glob("*.npz")))
    if kept:
        several = "y" if kept == 1 else "ies"
        say(f"{kept} geometr{several} solved already by a run that was stopped")
    yield store
    shutil.rmtree(store, ignore_errors=True)


def _keep_if_sound(path: Path, say: Callable[[str], None]) -> bool:
    if not os.path.lexists(path):
        return True
    try:
        if path.name == REQUEST:
            reading(path, lambda: _request_text(path))
        elif path.suffix == ".npz":
            check_arrays(path)
        else:
            os.close(reading(path, lambda: open_regular(path)))
    except ResultError as error:
        _drop(path, error.faults[0].rule, say)
        return False
    return True


def _drop(path: Path, why: str, say: Callable[[str], None]) -> None:
    if path.is_dir() and not path.is_symlink():
        taken = sum(1 for _ in path.parent.glob(f"{path.name}.aside-*"))
        path.rename(path.with_name(f"{path.name}.aside-{taken + 1}"))
    else:
        path.unlink()
    say(f"{path} {why}: it is made again")
