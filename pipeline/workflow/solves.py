"""Solves of a study's geometries: made on all cores into the store, and read from there.

A study and the store in; what is missing is solved, the largest first, every file as soon as it is
done: a run that is killed goes on from there. Fields and currents come out, on the study's own
drawings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.case_results import Solved
from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.mesh.evidence import GeometryEvidence, geometry_evidence
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.runtime.progress import Stretch, Telling, basis_seconds
from pipeline.runtime.store import read_arrays_as, write_arrays, write_text
from pipeline.runtime.workers import beside
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.band import load_band, save_band, solve_band
from pipeline.solver.field_solver import solved_average_gain, solved_currents
from pipeline.solver.port_basis import load_basis, save_basis, solve_basis
from pipeline.solver.solve_cache import (
    AVERAGE_GAIN,
    BAND,
    CENTRE,
    REFINED_TWIN,
    REQUEST,
    SolveRequest,
)

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
# Names of these steps in the progress of a run.
FIELDS, CHECKS, OVER_BAND = "fields", "checks", "band"


@dataclass(frozen=True)
class _Job:
    """One file of the store that is to be made."""

    folder: Path
    request: SolveRequest
    file: str


def _centre(job: _Job, isolated: bool) -> None:
    """The design frequency, for every port."""
    r = job.request
    f = r.frequency[r.centre : r.centre + 1]
    found = solve_basis(r.structure, f, 0, r.soil, r.azimuths, isolated)
    save_basis(job.folder / CENTRE, found)


def _band(job: _Job, isolated: bool) -> None:
    """As much of the band as its error asks for, for the ports that something is put on."""
    r, built = job.request, job.request.few_ports

    def y_at(f: Real) -> Complex:
        currents = solved_currents(built, f, r.soil, isolated)
        return np.asarray(built.through_ports(currents).swapaxes(1, 2))

    save_band(job.folder / BAND, *solve_band(built, r.span, _design(job, y_at), y_at))


def _design(job: _Job, y_at: Callable[[Real], Complex]) -> Complex:
    """Port matrix at the design frequency: what is stored, else it is solved. [S]"""
    r, path = job.request, job.folder / CENTRE
    if not path.exists():
        return np.asarray(y_at(np.array([r.span.design]))[0])
    kept = [k for k, port in enumerate(r.structure.ports) if port.name in r.needed]
    return np.asarray(load_basis(path).y_port[0][np.ix_(kept, kept)])


def _refined(job: _Job, isolated: bool) -> None:
    """The twin with segments a quarter shorter, at the design frequency."""
    r = job.request
    f = r.frequency[r.centre : r.centre + 1]
    found = solve_basis(r.refined, f, 0, r.soil, r.azimuths, isolated)
    save_basis(job.folder / REFINED_TWIN, found)


def _average_gain(job: _Job, isolated: bool) -> None:
    """The lossless twin in free space."""
    r = job.request
    f = float(r.frequency[r.centre])
    gain = solved_average_gain(r.structure, f, r.twin_loads, isolated=isolated)
    write_arrays(job.folder / AVERAGE_GAIN, {"average_gain": np.array(gain)})


_MAKE: dict[str, Callable[[_Job, bool], None]] = {
    CENTRE: _centre,
    BAND: _band,
    REFINED_TWIN: _refined,
    AVERAGE_GAIN: _average_gain,
}


def _work(job: _Job, isolated: bool) -> _Job:
    _MAKE[job.file](job, isolated)
    return job


def seconds_of(job: _Job) -> float:
    """Time of a solve on an idle core, roughly: what is long is begun first. [s]"""
    r = job.request
    built = {REFINED_TWIN: r.refined, BAND: r.few_ports}.get(job.file, r.structure)
    ports = 1 if job.file == AVERAGE_GAIN else len(built.ports)
    several = len(r.span.first()) if job.file == BAND else 1
    return basis_seconds((len(built.segments), ports, several))


def missing(wanted: Iterable[SolveRequest], cache: Path, files: Iterable[str]) -> list[_Job]:
    """Files of the store that are not there, the longest to make first."""
    named = list(files)
    jobs = [_Job(cache / r.digest(), r, file) for r in wanted for file in named]
    return sorted(
        (j for j in jobs if not (j.folder / j.file).exists()), key=lambda j: -seconds_of(j)
    )


def write_requests(wanted: Iterable[SolveRequest], cache: Path) -> None:
    """What is to be solved, one file a geometry, named by its content."""
    for r in wanted:
        target = cache / r.digest() / REQUEST
        # Named by its content: what is there already is right.
        if not target.exists():
            write_text(target, r.text())


_WORDS = {
    CENTRE: "solved {name}, {n} segments",
    BAND: "solved {name} over the band",
    REFINED_TWIN: "solved {name} with finer segments",
    AVERAGE_GAIN: "solved {name} without loss",
}


def solve(
    jobs: list[_Job],
    cores: int,
    task: str,
    say: Telling,
    stretch: str,
    meanwhile: Callable[[], None] = lambda: None,
) -> None:
    """Make files of the store, ``cores`` at a time; ``say`` is told of each of this ``task``.

    ``meanwhile`` is done in this process once they are begun.
    """
    say.plan(stretch, Stretch(len(jobs), _weight(jobs, cores) / max(1, len(jobs))))
    for job in side_by_side(_work, jobs, cores, task, len(jobs), meanwhile):
        built = job.request.structure
        say(_WORDS[job.file].format(name=built.name, n=len(built.segments)), stretch)


def _weight(jobs: list[_Job], cores: int) -> float:
    return sum(map(seconds_of, jobs)) / cores


@contextmanager
def solved_meanwhile(
    jobs: list[_Job], cores: int, task: str, say: Telling
) -> Iterator[Callable[[], None]]:
    """Make files of the store while the block runs; what is yielded waits until they are there.

    On one core they are made then: nothing runs beside anything else.
    """
    say.plan(OVER_BAND, Stretch(min(1, len(jobs)), _weight(jobs, cores)))
    work = partial(_solve_all, jobs, cores, task)

    def finish(wait: Callable[[], None]) -> None:
        wait()
        if jobs:
            say("solved the band", OVER_BAND)

    if cores == 1 or not jobs:
        yield partial(finish, work)
        return
    with beside(work, task) as wait:
        yield partial(finish, wait)


def _solve_all(jobs: list[_Job], cores: int, task: str) -> None:
    for _ in side_by_side(_work, jobs, cores, task, len(jobs)):
        pass


@dataclass(frozen=True)
class Solves:
    """Solves of a study by geometry, as drawn and refined, and their checks."""

    solved: dict[str, Solved]
    refined: dict[str, Solved]
    evidence: dict[str, GeometryEvidence]


def read_centres(wanted: dict[str, SolveRequest], cache: Path) -> dict[str, Solved]:
    """Geometries at the design frequency, on the study's own drawings.

    Those of the requests lack what port algebra puts in: a capacitor changes no solve, and two
    studies that differ in one share it.
    """
    return {
        name: Solved(r.structure, load_basis(cache / r.digest() / CENTRE))
        for name, r in wanted.items()
    }


def _evidence(here: Solved, folder: Path) -> GeometryEvidence:
    """What a geometry says about itself, from its own solve and that of its lossless twin."""
    design = here.basis.frequency
    gain = read_arrays_as(folder / AVERAGE_GAIN, lambda a: float(a["average_gain"]))
    own = load_impedances(here.structure, design, float(design[0]))[0]
    loaded = loaded_admittance(here.basis.y_port[here.basis.centre], own)
    return geometry_evidence(here.structure, gain, loaded)


def read_evidence(wanted: dict[str, SolveRequest], cache: Path) -> dict[str, GeometryEvidence]:
    """Checks of every geometry that need no finer segments."""
    centres = read_centres(wanted, cache)
    return {name: _evidence(here, cache / wanted[name].digest()) for name, here in centres.items()}


def read_solves(wanted: dict[str, SolveRequest], solved: dict[str, Solved], cache: Path) -> Solves:
    """What is solved of a study at its design frequency, and what it says about itself.

    ``solved`` are its geometries as drawn (:func:`read_centres`).
    """
    found = Solves(solved, {}, {})
    for name, r in wanted.items():
        folder = cache / r.digest()
        found.refined[name] = Solved(r.refined, load_basis(folder / REFINED_TWIN))
        found.evidence[name] = _evidence(solved[name], folder)
    return found


def with_bands(read: Solves, wanted: dict[str, SolveRequest], cache: Path) -> Solves:
    """The same geometries over their band."""
    bands = {
        name: load_band(cache / r.digest() / BAND, r.few_ports, r.span)
        for name, r in wanted.items()
    }
    solved = {name: replace(one, band=bands[name]) for name, one in read.solved.items()}
    return replace(read, solved=solved)
