"""All cases of a study judged together, as described: what each does and how sure that is.

Solved geometries in, one record out; nothing is solved or written here, and nothing is advised:
what depends on the case that is taken is asked for by its id (:func:`along_cable`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.analysis.case_results import CaseResult, Solved, at_centre, evaluate
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.judgement.case_merit import CaseMerit, case_merit
from pipeline.judgement.intervals import Interval, case_intervals
from pipeline.judgement.sweeps import SolvedStudy, choke_position_rows
from pipeline.mesh.evidence import GeometryEvidence
from pipeline.mesh.refinement import check_cases
from pipeline.mesh.uncertainty import accuracy, expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import CABLE, IDEAL, cases
from pipeline.solver.terminations import route_length
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
    intervals = {
        n: case_intervals(merits[n], half[n], r.line, float(r.frequency[r.centre]))
        for n, r in results.items()
    }
    centred = {n: at_centre(s) for n, s in solved.items()}
    of = SolvedStudy(study, centred, evidence, half, elevation)
    return Judgement(route, results, found, of, intervals)


def along_cable(of: Judgement, case: str) -> list[Row]:
    """The choke of a case, by its id, at every place of the cable; rows of a table.

    A few cores where the case has none that can be moved.
    """
    return choke_position_rows(of.solved, of.results[case].case)
