"""What the page computes with: port bases of a study's geometries, ports where things are moved.

Solves of a study in; the same geometries out, that of the cable with a port on every segment where
something may be moved to (``ports``), and all with the ports alone that something can be put on.
Solved once more are the currents of ports that the study's own solves do not have. They are kept in
the store.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from models.site.soil import Soil
from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved
from pipeline.live.ports import Stretch, with_movable_ports
from pipeline.montecarlo.port_currents import kept_currents
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.solver.band import over_band
from pipeline.solver.cases import ALONE, CABLE
from pipeline.solver.port_basis import basis_of
from pipeline.solver.solve_cache import SolveRequest
from pipeline.study.records import Study


@dataclass(frozen=True)
class _Job:
    """Currents of one geometry at one frequency [Hz], which are to be made or found."""

    built: Structure
    frequency: float
    soil: Soil | None
    store: Path


def _kept(job: _Job, isolated: bool) -> None:
    kept_currents(job.built, job.frequency, job.soil, job.store, isolated)


@dataclass(frozen=True)
class Source:
    """Where a page's data come from: the study's file, and its solves by geometry.

    ``store`` is where currents of drawings are kept.
    """

    file: Path
    wanted: Mapping[str, SolveRequest]
    solved: Mapping[str, Solved]
    store: Path
    cores: int


def live_solves(study: Study, source: Source, named: Sequence[Stretch]) -> dict[str, Solved]:
    """Geometries with a cable by name, with their bands and the ports that the page needs.

    ``named`` are the stretches of the cable that have to have ports.
    """
    found = {CABLE: _along_cable(study, source, named)}
    for name, one in source.solved.items():
        if name not in (CABLE, ALONE):
            found[name] = _with_few_ports(one)
    return found


def _along_cable(study: Study, source: Source, named: Sequence[Stretch]) -> Solved:
    request, own = source.wanted[CABLE], source.solved[CABLE]
    built, band = with_movable_ports(study, own.structure, named), own.band
    f = own.basis.frequency if band is None else band.solved
    jobs = [_Job(built, float(each), request.soil, source.store) for each in f]
    task = f"{study.name}: solving ports along the cable"
    for _ in side_by_side(_kept, jobs, source.cores, task, len(jobs)):
        pass
    read = partial(kept_currents, built, soil=request.soil, store=source.store, isolated=True)
    currents = np.concatenate([read(frequency=float(each)) for each in f])
    design = int(np.argmin(np.abs(f - request.span.design)))
    basis = basis_of(
        built,
        f[design : design + 1],
        0,
        request.soil,
        currents[design : design + 1],
        own.basis.directions,
    )
    y_solved = np.asarray(built.through_ports(currents).swapaxes(1, 2))
    return Solved(built, basis, over_band(built, request.span, f, y_solved))


def _with_few_ports(one: Solved) -> Solved:
    """A geometry with the ports of its band alone."""
    band, basis = one.band, one.basis
    if band is None:
        return one
    names = {port.name for port in band.structure.ports}
    kept = np.array([k for k, port in enumerate(one.structure.ports) if port.name in names])
    built = replace(one.structure, ports=tuple(one.structure.ports[k] for k in kept))
    few = replace(
        basis,
        y_port=basis.y_port[:, kept[:, None], kept],
        i_shield=basis.i_shield[:, kept],
        i_segment=basis.i_segment[kept],
        e_port=basis.e_port[kept],
    )
    return Solved(built, few, band)
