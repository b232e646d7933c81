"""One draw of a spread: its geometries solved, and every candidate on them for many ends.

A study in which nothing is unknown any more in, figures of merit out. Lumped candidates share
the cable's geometry; a coil that is drawn as wire has one of its own and is judged against the
ideal choke on the cable's.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved, choke_series, evaluate
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import (
    ReducedBasis,
    many,
    nominal_ends,
    reduce,
    reference,
    termination_rows,
)
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.chokes.kind import Choke
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.montecarlo.draws import AS_STATED, CircuitDraws, Unknown, circuit_draws
from pipeline.runtime.store import read_arrays_as, write_arrays
from pipeline.solver import field_solver
from pipeline.solver.cases import (
    CABLE,
    IDEAL,
    Case,
    GeometryPlan,
    cases,
    geometry_plans,
    lumped_chokes,
)
from pipeline.solver.far_field import (
    Directions,
    azimuth_count,
    evenly_round,
    radius_in_plan,
)
from pipeline.solver.field_solver import solved_currents
from pipeline.solver.port_basis import PortBasis, basis_of, structure_data
from pipeline.solver.structures import structure
from pipeline.solver.terminations import with_ports_for
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

# The lowest lobe is looked for up to here, further up only where its top is not found [deg].
_SEARCHED_DEG = (10.0, 30.0, 90.0)
_STEP_DEG = {True: 1.0, False: 2.0}


@dataclass(frozen=True)
class Drawn:
    """One draw: its study, what the cable's geometry was reduced to, and those of wire coils.

    ``coils`` are named as :func:`cases.geometry_plans` names them; empty where no coil
    that is drawn as wire takes part.
    """

    study: Study
    reduced: ReducedBasis
    coils: dict[str, ReducedBasis] = field(default_factory=dict)

    def on(self, case: Case) -> ReducedBasis:
        """The geometry that a case is computed on."""
        return self.reduced if case.geometry == CABLE else self.coils[case.geometry]

    @property
    def asymmetry(self) -> float:
        """That of the cable's geometry (:func:`asymmetry_of`)."""
        return asymmetry_of(self.reduced)

    @property
    def coil_asymmetry(self) -> float:
        """The same of the worst coil; zero without any."""
        return max((asymmetry_of(coil) for coil in self.coils.values()), default=0.0)


def asymmetry_of(reduced: ReducedBasis) -> float:
    """Asymmetry of the transfer admittances of the feed and all ports. [-] Definition."""
    return transfer_asymmetry(reduced.y_port, reduced.structure.port_index("feed"))


def _is_left_out(study: Study, choke: Choke) -> bool:
    """Whether a choke drawn as wire stays out: its making is not among the study's unknowns."""
    return choke.is_drawn and choke.unknown.key not in study.unknowns.given


def candidates(study: Study) -> tuple[Case, ...]:
    """Cases that take part: none, ideal, every lumped candidate, and wire coils where wanted."""
    coils = {plan.name for plan in _coil_plans(study)}
    return tuple(c for c in cases(study) if c.geometry == CABLE or c.geometry in coils)


def left_out(study: Study) -> tuple[str, ...]:
    """Candidates that are drawn as wire, where the study does not ask for them."""
    return tuple(c.id for c in study.chokes if _is_left_out(study, c))


def _coil_plans(study: Study) -> tuple[GeometryPlan, ...]:
    plans = geometry_plans(study)
    return tuple(p for p in plans if p.choke is not None and not _is_left_out(study, p.choke))


def settled(study: Study) -> Study:
    """The study with its chokes cut once and for all: a sleeve stays as long as it was made."""
    return replace(study, chokes=tuple(c.settled(study.host) for c in study.chokes))


def draw(study: Study) -> tuple[Structure, tuple[Structure, ...]]:
    """The cable with ports for lumped candidates, and every wire coil that takes part."""
    built = _with_ports(study, structure(study, GeometryPlan(CABLE, has_feedline=True)))
    # A coil keeps the ports of the full study, so that its symmetry is judged as there.
    return built, tuple(structure(study, plan) for plan in _coil_plans(study))


def draw_and_solve(study: Study, store: Path | None = None) -> Drawn:
    """One draw, solved at the design frequency and reduced; nothing in it is unknown any more.

    ``store`` is a folder in which solves are kept and looked for.
    """
    # A draw that makes no installation should cost no solve: everything is drawn first.
    built, coils = draw(study)
    current = _currents(study, built, store)
    largest = max(radius_in_plan(drawn.segments) for drawn in (built, *coils))
    azimuths = azimuth_count(largest, study.frequency)
    for top in _SEARCHED_DEG if study.site.ground is not None else _SEARCHED_DEG[:1]:
        directions = low_directions(study.site.ground is not None, top, azimuths)
        solved = Solved(built, _basis(study, built, current, directions))
        elevation = 0.0 if study.site.ground is None else _lobe(solved, study)
        if elevation < top - 0.5:
            break
    return Drawn(
        study,
        reduce(solved, study, elevation),
        {c.name: _reduced_coil(study, c, directions, elevation, store) for c in coils},
    )


def _with_ports(study: Study, built: Structure) -> Structure:
    """The cable with the ports that lumped candidates cover and no others."""
    try:
        return with_ports_for(built, lumped_chokes(study))
    except ValueError as error:
        rule = f"leaves no room for a candidate: {error}"
        remedy = "let the route be longer, or the candidates sit nearer to the antenna"
        place = study.place("cable.route")
        raise StudyError(Fault(place, "", rule, remedy, "choke-no-room")) from error


def _currents(study: Study, built: Structure, store: Path | None) -> NDArray[np.complex128]:
    """Currents on all segments for one volt at each port, shape (1, n_port, n_segment). [A/V]"""
    f, soil = np.array([study.frequency]), study.site.ground
    path = None if store is None else store / f"{_digest(built, study.frequency, soil)}.npz"
    if path is not None and path.exists():
        kept: NDArray[np.complex128] = read_arrays_as(path, lambda arrays: arrays["current"])
        return kept
    found = solved_currents(built, f, soil)
    if path is not None:
        write_arrays(path, {"current": found})
    return found


def _digest(built: Structure, frequency: float, soil: Soil | None) -> str:
    """Short name for all that currents depend on."""
    ground = None if soil is None else [soil.eps_r, soil.sigma]
    text = json.dumps([field_solver.SOLVER.FORMAT, structure_data(built), frequency, ground])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _reduced_coil(
    study: Study, built: Structure, directions: Directions, elevation: float, store: Path | None
) -> ReducedBasis:
    """A coil's geometry on the directions of the cable's."""
    basis = _basis(study, built, _currents(study, built, store), directions)
    return reduce(Solved(built, basis), study, elevation)


def low_directions(over_ground: bool, top_deg: float, azimuths: int) -> Directions:
    """The grid of the full run from so many degrees of elevation down to the horizon."""
    elevation = np.arange(top_deg, -1e-9, -_STEP_DEG[over_ground])
    return Directions(np.radians(90.0 - elevation), evenly_round(azimuths))


def _basis(
    study: Study, built: Structure, current: NDArray[np.complex128], directions: Directions
) -> PortBasis:
    return basis_of(built, np.array([study.frequency]), 0, study.site.ground, current, directions)


def _lobe(solved: Solved, study: Study) -> float:
    """Elevation that stands for the horizon: the lowest lobe with an ideal choke. [deg]"""
    ideal = next(c for c in cases(study) if c.id == IDEAL)
    gain = evaluate(solved, study, ideal).gain
    return horizon_elevation_deg(gain, solved.basis.directions.theta)


def outcomes_of(
    drawn: Drawn, unknowns: tuple[Unknown, ...], u: NDArray[np.float64]
) -> dict[str, Merit]:
    """Every candidate of one draw for n draws of its circuit unknowns, ``u`` (n, n_unknown)."""
    return _outcomes(drawn, circuit_draws(drawn.study, unknowns, u))


def stated_outcomes(drawn: Drawn) -> dict[str, Merit]:
    """Every candidate of one draw with all impedances as the study states them."""
    return _outcomes(drawn, CircuitDraws(nominal_ends(drawn.study), AS_STATED))


def _outcomes(drawn: Drawn, draws: CircuitDraws) -> dict[str, Merit]:
    ideal = reference(drawn.reduced, end_rows(drawn.reduced, drawn.study, draws))
    found = {}
    # The candidates of the draw, not of the study as stated: a coil's pitch is another.
    for case in candidates(drawn.study):
        reduced = drawn.on(case)
        ends = end_rows(reduced, drawn.study, draws)
        found[case.id] = many(reduced, ends, choke_rows(drawn, case, draws), ideal)
    return found


def end_rows(reduced: ReducedBasis, study: Study, draws: CircuitDraws) -> NDArray[np.complex128]:
    """Terminations of a geometry in every draw, shape (n, n_port). [ohm] Definition."""
    return termination_rows(reduced.structure, study, draws.ends)


def choke_rows(drawn: Drawn, case: Case, draws: CircuitDraws) -> NDArray[np.complex128]:
    """Series impedance of a candidate on all ports in every draw, (n or 1, n_port). [ohm]

    Nothing is in series where a coil is drawn as wire. Definition: its impedance, shared out over
    the ports that it covers.
    """
    choke, built = case.choke, drawn.on(case).structure
    f = np.array([drawn.study.frequency])
    return choke_series(built, drawn.study, choke, f, draws.factors)
