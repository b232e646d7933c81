"""Does the answer hold when much is unknown: geometries drawn and solved, many draws on each.

A study in, figures of merit of every candidate out, each for all draws. Geometric unknowns cost a
field solve at the design frequency with no more ports than the candidates need; all others are
port algebra on it.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.structure import Structure
from pipeline.choke_model import sleeve_length
from pipeline.compare import Solved, evaluate
from pipeline.ensemble import (
    Outcomes,
    Reduced,
    choke_row,
    joined,
    many,
    nominal_ends,
    reduce,
    reference,
    termination_rows,
    with_ports_for,
)
from pipeline.errors import Fault, StudyError
from pipeline.far_field import Directions, far_field
from pipeline.geometry import soil_of, structure
from pipeline.metrics import horizon_elevation_deg
from pipeline.plan import CABLE, IDEAL, Case, GeometryPlan, cases, ideal_choke, is_wire_coil
from pipeline.port_algebra import transfer_asymmetry
from pipeline.port_basis import SECONDS_PER_FREQUENCY, PortBasis
from pipeline.solver import Soil, in_worker, unit_source_currents
from pipeline.study_types import FerriteChoice, SleeveChoice, Study
from pipeline.unknowns import Unknown, circuit_draws, sobol, unknowns_of, varied_study

# The lowest lobe is looked for up to here, further up only where its top is not found [deg].
_SEARCHED_DEG = (10.0, 30.0, 90.0)
_STEP_DEG = {True: 1.0, False: 2.0}
# Draws at hand for each geometry wanted: where half of them cannot be built, ranges are too wide.
_SPARE = 2


@dataclass(frozen=True)
class Drawn:
    """One geometry of the ensemble: its study, what it was reduced to, how symmetric it is."""

    study: Study
    reduced: Reduced
    asymmetry: float


@dataclass(frozen=True)
class Spread:
    """Everything drawn and found.

    ``u_geometric`` (n_geometry, n) and ``u_circuit`` (n_geometry, n_draw, m) are probabilities of
    the ``unknowns`` in their order; ``found`` holds for every case arrays of shape
    (n_geometry * n_draw,), geometry slowest; ``stated`` one row for the study as it stands.
    ``left_out`` names candidates that would need a geometry of their own, ``refused`` why a draw
    could not be drawn.
    """

    study: Study
    unknowns: tuple[Unknown, ...]
    u_geometric: NDArray[np.float64]
    u_circuit: NDArray[np.float64]
    cases: tuple[Case, ...]
    left_out: tuple[str, ...]
    nominal: Drawn
    drawn: tuple[Drawn, ...]
    stated: dict[str, Outcomes]
    found: dict[str, Outcomes]
    refused: tuple[str, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Geometries, and draws on each."""
        return self.u_circuit.shape[0], self.u_circuit.shape[1]


def candidates(study: Study) -> tuple[Case, ...]:
    """Cases on the common geometry: none, ideal and every lumped candidate."""
    return tuple(c for c in cases(study) if c.geometry == CABLE)


def left_out(study: Study) -> tuple[str, ...]:
    """Candidates that are drawn as wire."""
    return tuple(c.id for c in study.chokes if is_wire_coil(c))


def settled(study: Study) -> Study:
    """The study with its chokes cut once and for all: a sleeve stays as long as it was made."""
    chokes = tuple(
        replace(c, length=sleeve_length(c, study)) if isinstance(c, SleeveChoice) else c
        for c in study.chokes
    )
    return replace(study, chokes=chokes)


def draw_and_solve(study: Study) -> Drawn:
    """One geometry with the ports of all candidates, solved at the design frequency and reduced.

    Raises
    ------
    StudyError
        If it cannot be drawn.
    SolverError
        If the solver refuses, crashes or hangs.
    """
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    lumped = [ideal_choke(study), *(c for c in study.chokes if not is_wire_coil(c))]
    try:
        built = with_ports_for(built, lumped)
    except ValueError as error:
        rule = f"leaves no room for a candidate: {error}"
        remedy = "let the route be longer, or the candidates sit nearer to the antenna"
        place = f"{study.name}.yaml  cable.route"
        raise StudyError(Fault(place, "", rule, remedy, "choke-no-room")) from error
    f, soil = np.array([study.frequency]), soil_of(study)
    current = in_worker(built.name, SECONDS_PER_FREQUENCY, unit_source_currents, built, f, soil)
    for top in _SEARCHED_DEG if soil is not None else _SEARCHED_DEG[:1]:
        solved = Solved(built, _basis(built, current, f, soil, top))
        elevation = 0.0 if soil is None else _lobe(solved, study)
        if elevation < top - 0.5:
            break
    reduced = reduce(solved, study, elevation)
    return Drawn(study, reduced, transfer_asymmetry(reduced.y_port, built.port_index("feed")))


def low_directions(over_ground: bool, top_deg: float) -> Directions:
    """The grid of the full run from so many degrees of elevation down to the horizon."""
    elevation = np.arange(top_deg, -1e-9, -_STEP_DEG[over_ground])
    return Directions(np.radians(90.0 - elevation), np.radians(np.arange(0.0, 360.0, 5.0)))


def _basis(
    built: Structure,
    current: NDArray[np.complex128],
    f: NDArray[np.float64],
    soil: Soil | None,
    top_deg: float,
) -> PortBasis:
    directions = low_directions(soil is not None, top_deg)
    return PortBasis(
        frequency=f,
        centre=0,
        y_port=built.through_ports(current).transpose(0, 2, 1),
        i_shield=current[:, :, [segment for segment, _ in built.shield_path]],
        shield_position=np.array([s for _, s in built.shield_path]),
        i_segment=current[0],
        e_port=far_field(built.segments, current[0], float(f[0]), soil, directions),
        directions=directions,
    )


def _lobe(solved: Solved, study: Study) -> float:
    """Elevation that stands for the horizon: the lowest lobe with an ideal choke. [deg]"""
    ideal = next(c for c in cases(study) if c.id == IDEAL)
    gain = evaluate(solved, study, ideal).gain
    return horizon_elevation_deg(gain, solved.basis.directions.theta)


def outcomes_of(
    drawn: Drawn, over: tuple[Case, ...], unknowns: tuple[Unknown, ...], u: NDArray[np.float64]
) -> dict[str, Outcomes]:
    """Every case of one geometry for n draws of its circuit unknowns, ``u`` (n, n_unknown)."""
    study, reduced = drawn.study, drawn.reduced
    draws = circuit_draws(study, unknowns, u)
    ends = termination_rows(reduced.structure, study, draws.ends)
    return _outcomes(drawn, over, ends, draws.ferrite)


def stated_outcomes(drawn: Drawn, over: tuple[Case, ...]) -> dict[str, Outcomes]:
    """Every case of one geometry with the ends and the ferrite as the study states them."""
    ends = termination_rows(drawn.reduced.structure, drawn.study, nominal_ends(drawn.study))
    return _outcomes(drawn, over, ends, np.ones(1))


def _outcomes(
    drawn: Drawn,
    over: tuple[Case, ...],
    ends: NDArray[np.complex128],
    ferrite: NDArray[np.float64],
) -> dict[str, Outcomes]:
    ideal = reference(drawn.reduced, ends)
    found = {}
    for case in over:
        row = choke_row(drawn.reduced.structure, drawn.study, case.choke)
        scale = ferrite[:, None] if isinstance(case.choke, FerriteChoice) else np.ones((1, 1))
        found[case.id] = many(drawn.reduced, ends, scale * row, ideal)
    return found


def run(study: Study, cores: int, say: Callable[[str], None] = lambda text: None) -> Spread:
    """Draw, solve and combine.

    Parameters
    ----------
    study : Study
        With what is unknown under ``study.unknowns``.
    cores : int
        Geometries solved at a time.
    say : callable
        Told of every step.

    Raises
    ------
    StudyError
        If the study as it stands cannot be drawn, or most draws cannot.
    SolverError
        If the solver refuses, crashes or hangs.
    """
    study = settled(study)
    unknowns = unknowns_of(study)
    geometric = tuple(x for x in unknowns if x.geometric)
    wanted = study.unknowns.geometries if geometric else 1
    plan = _Plan(candidates(study), tuple(x for x in unknowns if not x.geometric))
    n_draw, seed = study.unknowns.draws if plan.circuit else 1, study.unknowns.seed
    u = sobol(_SPARE * wanted, len(geometric), seed)
    jobs = [_Job(study, plan, sobol(1, len(plan.circuit), seed))]
    jobs += [
        _Job(varied_study(study, geometric, row), plan, sobol(n_draw, len(plan.circuit), seed + k))
        for k, row in enumerate(u, start=1)
    ]
    done, refused = _solve(jobs, wanted, cores, say)
    if len(done) <= wanted:
        raise StudyError(_too_wide(study, refused))
    first, *rest = done.values()
    kept = [k - 1 for k in done if k]
    return Spread(
        study=study,
        unknowns=unknowns,
        u_geometric=u[kept],
        u_circuit=np.stack([jobs[k + 1].u for k in kept]),
        cases=plan.over,
        left_out=left_out(study),
        nominal=first.drawn,
        drawn=tuple(d.drawn for d in rest),
        stated=stated_outcomes(first.drawn, plan.over),
        found={c.id: joined([d.found[c.id] for d in rest]) for c in plan.over},
        refused=tuple(dict.fromkeys(refused)),
    )


@dataclass(frozen=True)
class _Plan:
    """What is computed on every geometry: cases, and the unknowns that are only impedances."""

    over: tuple[Case, ...]
    circuit: tuple[Unknown, ...]


@dataclass(frozen=True)
class _Job:
    """One geometry with its draws, ``u`` (n_draw, n_circuit)."""

    study: Study
    plan: _Plan
    u: NDArray[np.float64]


@dataclass(frozen=True)
class _Done:
    """One geometry with its outcomes."""

    drawn: Drawn
    found: dict[str, Outcomes]


def _too_wide(study: Study, refused: list[str]) -> Fault:
    return Fault(
        f"{study.name}.yaml  unknowns",
        "",
        f"lets most draws make no installation; among the reasons: {refused[0]}",
        "narrow the ranges of route, height, antenna and lead",
        "unknowns-wide",
    )


def _solve(
    jobs: list[_Job], wanted: int, cores: int, say: Callable[[str], None]
) -> tuple[dict[int, _Done], list[str]]:
    """Solve the study as stated and the first so many draws that can be built, by their number.

    Also why others could not.
    """
    done: dict[int, _Done] = {}
    refused: list[str] = []
    begun = time.monotonic()
    for k, found in enumerate(_each(jobs, wanted + 1, cores)):
        if isinstance(found, str):
            refused.append(found)
            continue
        done[k] = found
        spent = time.monotonic() - begun
        n = len(found.drawn.reduced.structure.segments)
        say(f"{spent:5.0f} s  geometry {len(done)}/{wanted + 1}, {n} segments")
        if len(done) == wanted + 1:
            break
    return done, refused


def _each(jobs: list[_Job], first: int, cores: int) -> Iterator[_Done | str]:
    """Geometries in order, solved a few at a time; spare ones only once they are asked for."""
    method = "fork" if sys.platform.startswith("linux") else "spawn"
    context = multiprocessing.get_context(method)
    with ProcessPoolExecutor(cores, mp_context=context) as pool:
        # Every solve has a worker of its own inside, so that a crash names its geometry.
        begun = [pool.submit(_attempt, job) for job in jobs[:first]]
        yield from (future.result() for future in begun)
        for job in jobs[first:]:
            yield pool.submit(_attempt, job).result()


def _attempt(job: _Job) -> _Done | str:
    """A geometry with its outcomes, or why it cannot be drawn."""
    try:
        drawn = draw_and_solve(job.study)
    except StudyError as error:
        return "; ".join(f"{f.place.split('  ')[-1]} {f.rule}" for f in error.faults)
    return _Done(drawn, outcomes_of(drawn, job.plan.over, job.plan.circuit, job.u))
