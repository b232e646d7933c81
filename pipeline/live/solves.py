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
from pipeline.live.ports import FEWER_PORTS, MOST_PORTS, Stretch, with_movable_ports
from pipeline.live.variants import request_of, variants_of
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


def live_solves(
    study: Study, source: Source, named: Mapping[str, Sequence[Stretch]]
) -> dict[str, Solved]:
    """Geometries with a cable by name, with their bands and the ports that the page needs.

    ``named`` are the stretches of the cable that have to have ports, by the geometry of each
    variant of the installation that is wanted.
    """
    found = {}
    for variant in variants_of(study):
        wanted = source.wanted[CABLE] if variant.geometry == CABLE else request_of(variant)
        if wanted is not None and variant.geometry in named:
            most = MOST_PORTS if variant.geometry == CABLE else FEWER_PORTS
            built = with_movable_ports(
                variant.study, wanted.structure, named[variant.geometry], most
            )
            found[variant.geometry] = _along_cable(study.name, wanted, built, source)
    for name, one in source.solved.items():
        if name not in (CABLE, ALONE):
            found[name] = _with_few_ports(one)
    return found


def _along_cable(study_name: str, wanted: SolveRequest, built: Structure, source: Source) -> Solved:
    """A geometry with its own ports, at the frequencies at which that of the study was solved."""
    own = source.solved[CABLE]
    f = own.basis.frequency if own.band is None else own.band.solved
    jobs = [_Job(built, float(each), wanted.soil, source.store) for each in f]
    task = f"{study_name}: solving ports along the cable"
    for _ in side_by_side(_kept, jobs, source.cores, task, len(jobs)):
        pass
    read = partial(kept_currents, built, soil=wanted.soil, store=source.store, isolated=True)
    currents = np.concatenate([read(frequency=float(each)) for each in f])
    design = int(np.argmin(np.abs(f - wanted.span.design)))
    basis = basis_of(
        built,
        f[design : design + 1],
        0,
        wanted.soil,
        currents[design : design + 1],
        own.basis.directions,
    )
    y_solved = np.asarray(built.through_ports(currents).swapaxes(1, 2))
    return Solved(built, basis, over_band(built, wanted.span, f, y_solved))


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
