"""All cases of a study judged together, as described: what each does and how sure that is.

Solved geometries in, one record out; nothing is solved or written here, and nothing is advised:
what depends on the case that is taken is asked for by its id (:func:`along_cable`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.analysis.case_results import (
    CaseResult,
    Solved,
    at_centre,
    evaluate,
)
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.judgement.case_merit import CaseMerit, case_merit
from pipeline.judgement.intervals import Interval, case_intervals, wider
from pipeline.judgement.sweeps import SolvedStudy, choke_position_rows
from pipeline.mesh.evidence import GeometryEvidence
from pipeline.mesh.refinement import check_cases
from pipeline.mesh.uncertainty import accuracy, expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import CABLE, IDEAL, cases
from pipeline.solver.terminations import choke_series, route_length
from pipeline.study.records import Study


@dataclass(frozen=True)
class Judgement:
    """Every case by its id with its figures of merit and intervals.

    ``route`` [m] is the length of the cable.
    """

    route: float
    results: dict[str, CaseResult]
    cases: dict[str, CaseMerit]
    solved: SolvedStudy
    intervals: dict[str, dict[str, Interval]]


def judge_study(
    study: Study,
    solved: dict[str, Solved],
    refined: dict[str, Solved],
    geometries: Mapping[str, GeometryEvidence],
) -> Judgement:
    """Judge every case of a study at its design frequency.

    ``solved`` and ``refined`` are its geometries by name, as drawn and with segments a quarter
    shorter, ``geometries`` the checks of each.
    """
    route = route_length(solved[CABLE].structure)
    results = {c.id: evaluate(solved[c.geometry], study, c, route=route) for c in cases(study)}
    theta = solved[CABLE].basis.directions.theta
    elevation = horizon_elevation_deg(results[IDEAL].gain, theta)
    evidence, checks = check_cases(results, refined, geometries, elevation)
    half = {name: expanded(c, accuracy(c.compared)) for name, c in checks.items()}
    best = results[IDEAL].reference(elevation)
    merits = {name: r.merit(best, elevation) for name, r in results.items()}
    found = {n: case_merit(r, merits[n], evidence[n].grade) for n, r in results.items()}
    centred = {n: at_centre(s) for n, s in solved.items()}
    of = SolvedStudy(study, centred, evidence, half, elevation)
    intervals = {n: _intervals(r, merits[n], of) for n, r in results.items()}
    return Judgement(route, results, found, of, intervals)


def _intervals(result: CaseResult, merit: Merit, of: SolvedStudy) -> dict[str, Interval]:
    """Ends of a case's figures: what the computation and the scatter of its core are off by."""
    case, f = result.case, float(result.frequency[result.centre])
    found = case_intervals(merit, of.uncertainty[case.id], result.line, f)
    if case.choke is None or not case.choke.cores:
        return found
    z_choke = choke_series(of.solved[case.geometry].structure, of.study, case.choke, np.array([f]))
    (off,) = of.off_by_core(case.geometry, z_choke, case.choke)
    return wider(found, merit, off)


def along_cable(of: Judgement, case: str) -> list[Row]:
    """The choke of a case, by its id, at every place of the cable; rows of a table.

    A few cores where the case has none that can be moved.
    """
    return choke_position_rows(of.solved, of.results[case].case)
