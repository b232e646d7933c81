"""Installations that agree with a study: drawn, solved, and candidates on them.

A study in; so many drawings out, each solved once and with many draws of all that is only an
impedance, and figures of merit of candidates on them. What changes the drawing costs a field solve
at the design frequency with no more ports than candidates need; a choke that is drawn, a coil or a
sleeve, costs one more a drawing; all else is port algebra. Fields are kept at every second azimuth
of a full run: what that moves is under two hundredths of a threshold (a test holds it).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import (
    ReducedBasis,
    many,
    reduce,
    reference,
    termination_rows,
)
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.chokes.kind import Choke
from pipeline.montecarlo.draws import (
    CircuitDraws,
    Unknown,
    circuit_draws,
    sobol,
    unknowns_of,
    varied_study,
)
from pipeline.montecarlo.port_currents import kept_currents
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.runtime.progress import Stretch, Tell, basis_seconds
from pipeline.solver.before_solving import needed_ports
from pipeline.solver.cases import CABLE, IDEAL, Case, GeometryPlan, cases
from pipeline.solver.far_field import Directions, azimuth_count, evenly_round, radius_in_plan
from pipeline.solver.port_basis import basis_of
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

# What is said to be finished, step by step.
GEOMETRIES = "geometries"
# Draws at hand for each geometry wanted: where half of them cannot be built, ranges are too wide.
_SPARE = 2
# The lowest lobe is looked for up to here, further up only where its top is not found [deg].
_SEARCHED_DEG = (10.0, 30.0, 90.0)
_STEP_DEG = {True: 1.0, False: 2.0}
# One azimuth in so many of a full run is kept.
_AZIMUTHS = 2
# Ports on the shield that the symmetry of a drawn choke's geometry is judged by.
_SYMMETRY_PORTS = 12


@dataclass(frozen=True)
class Installation:
    """One drawing of an uncertain installation, solved, and draws of its impedances.

    ``study`` is the study as drawn, ``u_geometric`` (n,) and ``u_circuit`` (n_draw, m) are
    probabilities of the unknowns in their order; ``directions`` are those of its fields.
    """

    study: Study
    reduced: ReducedBasis
    directions: Directions
    u_geometric: NDArray[np.float64]
    u_circuit: NDArray[np.float64]
    draws: CircuitDraws

    def ends(self, reduced: ReducedBasis | None = None) -> NDArray[np.complex128]:
        """Terminations in every draw, (n_draw, n_port); of another geometry if one is given."""
        built = (reduced or self.reduced).structure
        return termination_rows(built, self.study, self.draws.ends)

    def series(
        self, choke: Choke | None, reduced: ReducedBasis | None = None
    ) -> NDArray[np.complex128]:
        """Impedance of a choke on all ports, (n_draw or 1, n_port) [ohm].

        On those of its own geometry, if one is given. Definition.
        """
        built, f = (reduced or self.reduced).structure, np.array([self.study.frequency])
        return choke_series(built, self.study, choke, f, self.draws.factors)

    def first(self, n: int) -> Installation:
        """The same with its first so many draws."""
        draws = _circuit(self.study, self.u_circuit[:n])
        return replace(self, u_circuit=self.u_circuit[:n], draws=draws)


@dataclass(frozen=True)
class Installations:
    """All drawings of a study in the order in which they were drawn, and candidates on them.

    ``found`` holds figures of merit of every lumped candidate, those of all drawings one after
    the other; ``refused`` why a draw could not be drawn.
    """

    study: Study
    unknowns: tuple[Unknown, ...]
    drawn: tuple[Installation, ...]
    found: dict[str, list[Merit]]
    refused: tuple[str, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Drawings, and draws on each."""
        return len(self.drawn), len(self.drawn[0].u_circuit)


def settled(study: Study) -> Study:
    """The study with its chokes cut once and for all: a sleeve stays as long as it was made."""
    return replace(study, chokes=tuple(c.settled(study.host) for c in study.chokes))


def lumped_cases(study: Study) -> tuple[Case, ...]:
    """Cases on the cable's own geometry."""
    return tuple(c for c in cases(study) if c.geometry == CABLE)


def solves_of(study: Study, cores: int) -> Stretch:
    """Drawings to be solved, and the time that each takes."""
    several = any(x.geometric for x in unknowns_of(study))
    built = cable_of(settled(study))
    each = basis_seconds((len(built.segments), len(built.ports), 1))
    return Stretch(study.unknowns.geometries if several else 1, each / cores)


@dataclass(frozen=True)
class _Job:
    """One draw of what changes the drawing, ``u``, and of all else, ``u_circuit`` (n_draw, m)."""

    study: Study
    u: NDArray[np.float64]
    u_circuit: NDArray[np.float64]
    store: Path | None


def install(
    study: Study,
    cores: int,
    say: Tell = lambda text, stretch: None,
    store: Path | None = None,
    wanted: int | None = None,
    meanwhile: Callable[[], None] = lambda: None,
) -> Installations:
    """Draw and solve the installations of a study, ``cores`` at a time.

    ``say`` is told of every step; ``store`` is a folder in which solves are kept, for a run that
    is stopped to go on from; ``wanted`` is how many drawings, by default as many as the study
    says; ``meanwhile`` is done in this process while others solve. Raises StudyError if the
    study as it stands, or most draws, cannot be drawn.
    """
    study = settled(study)
    # What cannot be drawn as stated is told with its own faults, not as one draw of many.
    cable_of(study)
    jobs, wanted = _jobs(study, wanted or study.unknowns.geometries, store)
    done: list[tuple[Installation, dict[str, Merit]]] = []
    refused: list[str] = []
    task = f"{study.name}: solving geometries"
    for found in side_by_side(_install_one, jobs, cores, task, wanted, meanwhile):
        if isinstance(found, str):
            refused.append(found)
            continue
        done.append(found)
        n = len(found[0].reduced.structure.segments)
        say(f"geometry {len(done)}/{wanted}, {n} segments", GEOMETRIES)
        if len(done) == wanted:
            break
    if len(done) < wanted:
        raise StudyError(_too_wide(study, refused))
    return Installations(
        study,
        unknowns_of(study),
        tuple(one for one, _ in done),
        {c.id: [found[c.id] for _, found in done] for c in lumped_cases(study)},
        tuple(dict.fromkeys(refused)),
    )


def _jobs(study: Study, wanted: int, store: Path | None) -> tuple[list[_Job], int]:
    """Draws in order, more than are wanted, and how many are: one where nothing changes them."""
    unknowns = unknowns_of(study)
    geometric = tuple(x for x in unknowns if x.geometric)
    circuit = sum(not x.geometric for x in unknowns)
    wanted = wanted if geometric else 1
    n_draw, seed = study.unknowns.draws if circuit else 1, study.unknowns.seed
    u = sobol(_SPARE * wanted, len(geometric), seed)
    jobs = [
        _Job(varied_study(study, geometric, row), row, sobol(n_draw, circuit, seed + k), store)
        for k, row in enumerate(u, start=1)
    ]
    return jobs, wanted


def _too_wide(study: Study, refused: list[str]) -> Fault:
    return Fault(
        study.place("unknowns"),
        "",
        f"lets most draws make no installation; among the reasons: {refused[0]}",
        "narrow the ranges of route, height, antenna and lead",
        "unknowns-wide",
    )


def _circuit(study: Study, u: NDArray[np.float64]) -> CircuitDraws:
    return circuit_draws(study, tuple(x for x in unknowns_of(study) if not x.geometric), u)


def _install_one(job: _Job, isolated: bool) -> tuple[Installation, dict[str, Merit]] | str:
    """An installation with its lumped candidates, or why it cannot be drawn."""
    try:
        reduced, directions = solve_cable(job.study, job.store, isolated)
        draws = _circuit(job.study, job.u_circuit)
        made = Installation(job.study, reduced, directions, job.u, job.u_circuit, draws)
        return made, on_cable(made, lumped_cases(job.study))
    except StudyError as error:
        return "; ".join(f"{f.place.split('  ')[-1]} {f.rule}" for f in error.faults)


def cable_of(study: Study, refine: float = 1.0) -> Structure:
    """The cable with the ports that lumped candidates and sets of the catalogue cover.

    ``refine`` is a factor on the lengths of its segments.
    """
    return needed_ports(study, structure(study, GeometryPlan(CABLE, has_feedline=True), refine))


def solve_cable(
    study: Study, store: Path | None = None, isolated: bool = True, one_in: int = _AZIMUTHS
) -> tuple[ReducedBasis, Directions]:
    """A study's cable solved at the design frequency and reduced, and the directions of its fields.

    ``isolated`` gives the solver a process of its own, in which a crash names this geometry; fields
    are kept at one azimuth in so many of a full run.
    """
    solved, (elevation,) = solved_low((study,), store, isolated, one_in)
    return reduce(solved, study, elevation), solved.basis.directions


def solved_low(
    studies: Sequence[Study],
    store: Path | None = None,
    isolated: bool = True,
    one_in: int = _AZIMUTHS,
) -> tuple[Solved, tuple[float, ...]]:
    """The cable of studies that differ in its ends only, with fields up to all their lowest lobes.

    The second are the elevations that stand for the horizon, one a study; other arguments as of
    :func:`solve_cable`. [deg]
    """
    study = studies[0]
    built, soil = cable_of(study), study.site.ground
    currents = kept_currents(built, study.frequency, soil, store, isolated)
    azimuths = azimuth_count(radius_in_plan(built.segments), study.frequency) // one_in
    for top in _SEARCHED_DEG if soil is not None else _SEARCHED_DEG[:1]:
        directions = low_directions(soil is not None, top, azimuths)
        solved = _solved(study, built, currents, directions)
        lobes = tuple(0.0 if soil is None else _lobe(solved, each) for each in studies)
        if max(lobes) < top - 0.5:
            break
    return solved, lobes


def _solved(
    study: Study, built: Structure, currents: NDArray[np.complex128], directions: Directions
) -> Solved:
    f = np.array([study.frequency])
    return Solved(built, basis_of(built, f, 0, study.site.ground, currents, directions))


def low_directions(over_ground: bool, top_deg: float, azimuths: int) -> Directions:
    """The grid of the full run from so many degrees of elevation down to the horizon."""
    elevation = np.arange(top_deg, -1e-9, -_STEP_DEG[over_ground])
    return Directions(np.radians(90.0 - elevation), evenly_round(azimuths))


def _lobe(solved: Solved, study: Study) -> float:
    """Elevation that stands for the horizon: the lowest lobe with an ideal choke. [deg]"""
    ideal = next(c for c in cases(study) if c.id == IDEAL)
    gain = evaluate(solved, study, ideal).gain
    return horizon_elevation_deg(gain, solved.basis.directions.theta)


def on_cable(made: Installation, wanted: Iterable[Case]) -> dict[str, Merit]:
    """Lumped cases on one installation for all of its draws."""
    ends = made.ends()
    ideal = reference(made.reduced, ends)
    return {c.id: many(made.reduced, ends, made.series(c.choke), ideal) for c in wanted}


def drawn_of(
    made: Installation, case: Case, store: Path | None = None, isolated: bool = True
) -> tuple[ReducedBasis, Merit] | None:
    """A drawn choke on one installation, solved; ``None`` where it cannot be drawn.

    It is compared with the ideal choke on the cable's own geometry.
    """
    elevation = made.reduced.elevation_deg
    reduced = solve_drawn(made.study, case, made.directions, elevation, store, isolated)
    if reduced is None:
        return None
    ideal = reference(made.reduced, made.ends())
    series = made.series(own_choke(made.study, case), reduced)
    return reduced, many(reduced, made.ends(reduced), series, ideal)


def own_choke(study: Study, case: Case) -> Choke:
    """The candidate of a draw, not of the study as stated: its pitch or place is another."""
    return next(c for c in study.chokes if c.id == case.id)


def solve_drawn(
    study: Study,
    case: Case,
    directions: Directions,
    elevation_deg: float,
    store: Path | None = None,
    isolated: bool = True,
) -> ReducedBasis | None:
    """A drawn choke on the cable of a study, as the study has it; ``None`` without room.

    Solved with few ports, fields at ``directions``; ``elevation_deg`` stands for the horizon.
    """
    try:
        built = with_few_ports(structure(study, own_plan(study, case)), _SYMMETRY_PORTS)
    except StudyError:
        return None
    return solve_reduced(study, built, (directions, elevation_deg), store, isolated)


def own_plan(study: Study, case: Case) -> GeometryPlan:
    """Geometry of a drawn choke, as a draw of the study has it."""
    return GeometryPlan(case.geometry, has_feedline=True, choke=own_choke(study, case))


def solve_reduced(
    study: Study,
    built: Structure,
    towards: tuple[Directions, float],
    store: Path | None = None,
    isolated: bool = True,
) -> ReducedBasis:
    """Some drawing of a study solved at its design frequency and reduced.

    ``towards`` are the directions of its fields, and the elevation that stands for the horizon.
    """
    directions, elevation_deg = towards
    currents = kept_currents(built, study.frequency, study.site.ground, store, isolated)
    return reduce(_solved(study, built, currents, directions), study, elevation_deg)


def with_few_ports(built: Structure, most: int) -> Structure:
    """The same wires with no more than so many ports on the shield, evenly along it."""
    shield = [p for p in built.ports if p.name.startswith("shield")]
    picked = np.unique(np.linspace(0, len(shield) - 1, most).round().astype(int))
    kept = {shield[k].name for k in picked} if shield else set()
    ports = (p for p in built.ports if not p.name.startswith("shield") or p.name in kept)
    return replace(built, ports=tuple(ports))
