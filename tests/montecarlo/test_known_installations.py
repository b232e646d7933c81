"""Three installations whose outcome is known: no choke needed, several cores needed, a bad coil."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.analysis.case_results import Solved, evaluate
from pipeline.analysis.many_cases import many, nominal_ends, reference, termination_rows
from pipeline.chokes.coil import CoilChoke
from pipeline.montecarlo.installations import lumped_cases, settled, solve_cable
from pipeline.solver.cases import CABLE, NONE, Case, GeometryPlan
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series
from pipeline.study.reader import load_study

STUDIES = Path(__file__).parents[2] / "models" / "studies"

pytestmark = pytest.mark.takes(5)


@pytest.mark.parametrize(
    ("name", "ranges"),
    [
        # Over radials a choke changes nothing visible.
        ("five_eighths", {NONE: (0, 1), "nizn-800-x4": (0, 1)}),
        # On a gamma-fed dipole it is needed, and one core is not enough.
        ("gamma_dipole", {NONE: (2, np.inf), "nizn-800-x1": (1, np.inf), "nizn-800-x4": (0, 1)}),
    ],
)
def test_a_choke_changes_nothing_over_radials_and_is_needed_on_a_gamma_match(
    name: str, ranges: dict[str, tuple[float, float]]
) -> None:
    study = settled(load_study(STUDIES / f"{name}.yaml"))
    reduced, _ = solve_cable(study, isolated=False)
    ends = termination_rows(reduced.structure, study, nominal_ends(study))
    ideal, f = reference(reduced, ends), np.array([study.frequency])
    chokes = {c.id: c.choke for c in lumped_cases(study)}
    for case, (low, high) in ranges.items():
        series = choke_series(reduced.structure, study, chokes[case], f)
        assert low < float(many(reduced, ends, series, ideal).score()[0]) < high


def test_nine_turns_on_the_shed_bring_more_to_the_cable_than_no_choke() -> None:
    study = settled(load_study(STUDIES / "orchard_shed.yaml"))
    coil = next(c for c in study.chokes if isinstance(c, CoilChoke) and c.id == "coil-9")
    f = np.array([study.frequency])
    largest = {}
    for plan, case in (
        (GeometryPlan(CABLE, has_feedline=True), Case(NONE, NONE, CABLE, None)),
        (GeometryPlan("wound", has_feedline=True, choke=coil), Case("coil", "coil", "wound", coil)),
    ):
        built = structure(study, plan)
        solved = Solved(built, solve_basis(built, f, 0, study.site.ground))
        current = evaluate(solved, study, case).station_ratio
        largest[case.id] = float(np.max(np.abs(current)))
    assert largest["coil"] > 1.15 * largest[NONE]
