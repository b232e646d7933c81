"""What the page computes with: port bases of a study's geometries, ports all along the cable.

Solves of a study in; the same geometries out, that of the cable with a port on every segment where
something may be moved to, and all with the ports alone that something can be put on. Solved once
more are the currents of ports that the study's own solves do not have. They are kept in the store.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.structure import Port, Structure
from pipeline.analysis.case_results import Solved
from pipeline.chokes.ideal import first_place
from pipeline.montecarlo.port_currents import kept_currents
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.solver.band import over_band
from pipeline.solver.cases import ALONE, CABLE
from pipeline.solver.port_basis import basis_of
from pipeline.solver.solve_cache import SolveRequest
from pipeline.study.records import Study

# Ports along the cable at most: a page has to carry the square of their number.
MOST_PORTS = 64
# How far down the cable something can be moved; from there on the standing wave repeats.
_WAVELENGTHS = 1.0


def with_movable_ports(study: Study, built: Structure) -> Structure:
    """The cable's geometry with a port on each segment from the first place of a core on.

    As far as a wavelength down the cable, the bond, or so many ports; others on the shield go.
    Nothing slides past a bond. Wires and segments are those of ``built``.
    """
    first = first_place(study.pipe.outside_diameter)
    bond = [port.position for port in built.ports if port.name == "bond" and port.position]
    last = min([first + _WAVELENGTHS * SPEED_OF_LIGHT_NEC / study.frequency, *bond])
    own = {built.port_segment(port): port for port in built.ports}
    length, wire = built.segments.length, built.segments.wire
    along: list[Port] = []
    for segment, position in built.shield_path:
        low, high = position - length[segment] / 2, position + length[segment] / 2
        there = own.get(segment)
        is_taken = there is not None and not there.name.startswith("shield")
        if is_taken or high <= first + 1e-6 or low > last - 1e-6 or len(along) == MOST_PORTS:
            continue
        at = int(segment - built.first_segment[wire[segment]])
        name = f"shield segment {segment}"
        along.append(there or Port(name, int(wire[segment]), at, position))
    rest = [port for port in built.ports if not port.name.startswith("shield")]
    return replace(built, ports=(*rest, *along))


def movable_range(structure: Structure) -> tuple[float, float]:
    """First and last place along the cable that ports of a geometry cover without a gap. [m]"""
    _, low, high = structure.shield_spans
    return float(low[0]), float(high[-1])


@dataclass(frozen=True)
class _Job:
    """Currents of one geometry at one frequency [Hz], which are to be made or found."""

    built: Structure
    frequency: float
    soil: Soil | None
    store: Path


def _kept(job: _Job, isolated: bool) -> None:
    kept_currents(job.built, job.frequency, job.soil, job.store, isolated)


def live_solves(
    study: Study,
    wanted: Mapping[str, SolveRequest],
    solved: Mapping[str, Solved],
    store: Path,
    cores: int,
) -> dict[str, Solved]:
    """Geometries with a cable by name, with their bands and the ports that the page needs.

    ``solved`` are the study's own, with their bands; ``store`` is where currents of drawings are
    kept.
    """
    found = {CABLE: _along_cable(study, wanted[CABLE], solved[CABLE], store, cores)}
    for name, one in solved.items():
        if name not in (CABLE, ALONE):
            found[name] = _with_few_ports(one)
    return found


def _along_cable(
    study: Study, request: SolveRequest, own: Solved, store: Path, cores: int
) -> Solved:
    built, band = with_movable_ports(study, own.structure), own.band
    f = own.basis.frequency if band is None else band.solved
    jobs = [_Job(built, float(each), request.soil, store) for each in f]
    task = f"{study.name}: solving ports along the cable"
    for _ in side_by_side(_kept, jobs, cores, task, len(jobs)):
        pass
    read = partial(kept_currents, built, soil=request.soil, store=store, isolated=True)
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
