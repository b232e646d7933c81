"""Checks of an installation's drawings: average gain, symmetry, segments, and finer segments.

Drawings that are solved in; what each says of itself and the grade of each row out. The limits are
those of a single study. To solve with finer segments costs twice what the drawing itself does: a
batch may do it on a share of its installations, and the others are graded without.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import (
    ReducedBasis,
    many,
    nominal_ends,
    reference,
    termination_rows,
)
from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.mesh.evidence import GeometryEvidence, case_evidence, convergence, geometry_evidence
from pipeline.montecarlo.installations import cable_of, own_plan, solve_reduced
from pipeline.montecarlo.port_currents import kept_average_gain
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.before_solving import needed_ports
from pipeline.solver.cases import ALONE, CABLE, REFINED, Case, GeometryPlan
from pipeline.solver.far_field import Directions
from pipeline.solver.solve_cache import lossless_loads
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series
from pipeline.study.records import Study

Columns = dict[str, NDArray[Any]]
_MOVED = ("shield_ratio", "mean_gain_dbi")


def ends_on(reduced: ReducedBasis, studies: Sequence[Study]) -> NDArray[np.complex128]:
    """Terminations of some studies of one drawing, shape (n_study, n_port). [ohm]"""
    built = reduced.structure
    return np.concatenate([termination_rows(built, s, nominal_ends(s)) for s in studies])


@dataclass(frozen=True)
class DrawingChecks:
    """Checks of the drawings of one installation, whose ``studies`` differ in their ends only.

    ``towards`` are directions of fields, and the elevation that stands for the horizon [deg];
    solves are kept in ``store``; ``is_refined`` says that finer segments are tried.
    """

    studies: Sequence[Study]
    towards: tuple[Directions, float]
    store: Path | None
    is_refined: bool

    def of(self, case: Case, reduced: ReducedBasis, merit: Merit) -> Columns:
        """Checks and grade of the rows of a case, one for each end."""
        own = self._cable(reduced) if case.geometry == CABLE else self._own(case, reduced)
        moved = self._moved(case, merit)
        known = [0.0 if np.isnan(m) else float(m) for m in moved]
        evidence = [case_evidence(own, self._alone, m) for m in known]
        n = len(merit)
        return {
            "average_gain": np.full(n, evidence[0].average_gain),
            "asymmetry": np.full(n, own.reciprocity),
            "convergence": moved,
            "grade": np.array([e.grade for e in evidence]),
        }

    @property
    def _study(self) -> Study:
        return self.studies[0]

    @cached_property
    def _alone(self) -> GeometryEvidence:
        """The antenna without a cable: what a cable radiates dilutes an antenna that is wrong."""
        plan = GeometryPlan(ALONE, has_feedline=False)
        built = needed_ports(self._study, structure(self._study, plan))
        # One port has nothing to be symmetrical with.
        return geometry_evidence(built, self._gain(plan, built), np.ones((1, 1), complex))

    def _cable(self, reduced: ReducedBasis) -> GeometryEvidence:
        # Of all lumped cases alike.
        if CABLE not in self._known:
            plan = GeometryPlan(CABLE, has_feedline=True)
            self._known[CABLE] = self._evidence(plan, reduced)
        return self._known[CABLE]

    def _own(self, case: Case, reduced: ReducedBasis) -> GeometryEvidence:
        return self._evidence(own_plan(self._study, case), reduced)

    @cached_property
    def _known(self) -> dict[str, GeometryEvidence]:
        return {}

    def _evidence(self, plan: GeometryPlan, reduced: ReducedBasis) -> GeometryEvidence:
        built, f = reduced.structure, self._study.frequency
        loads = load_impedances(built, np.array([f]), f)[0]
        loaded = loaded_admittance(reduced.y_port, loads)
        return geometry_evidence(built, self._gain(plan, built), loaded)

    def _gain(self, plan: GeometryPlan, built: Structure) -> float:
        loads = lossless_loads(self._study, plan, built)
        return kept_average_gain(built, self._study.frequency, loads, self.store)

    def _moved(self, case: Case, merit: Merit) -> NDArray[np.float64]:
        """What finer segments move, one number for each end; not a number where none are tried."""
        if not self.is_refined:
            return np.full(len(merit), np.nan)
        pair = (merit, self._finer(case))
        return np.array([_convergence(*(m.row(k) for m in pair)) for k in range(len(merit))])

    def _finer(self, case: Case) -> Merit:
        """The rows of a case with segments a quarter shorter."""
        study, cable = self._study, self._refined_cable
        own = cable
        if case.geometry != CABLE:
            built = structure(study, own_plan(study, case), REFINED)
            own = solve_reduced(study, needed_ports(study, built), self.towards, self.store)
        best = reference(cable, ends_on(cable, self.studies))
        f = np.array([study.frequency])
        return many(
            own, ends_on(own, self.studies), choke_series(own.structure, study, case.choke, f), best
        )

    @cached_property
    def _refined_cable(self) -> ReducedBasis:
        built = cable_of(self._study, REFINED)
        return solve_reduced(self._study, built, self.towards, self.store)


def _convergence(usual: Merit, finer: Merit) -> float:
    """What finer segments move of one row, by the rule of a single study. [-]"""
    z, z_finer = (complex(m["r_ohm"][0], m["x_ohm"][0]) for m in (usual, finer))
    moved = [float(m[name][0]) for name in _MOVED for m in (usual, finer)]
    return convergence(z, z_finer, *moved)
