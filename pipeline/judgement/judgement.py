"""All cases of a study judged together: what each does, how sure that is, which one to take.

Solved geometries in, one record out; nothing is solved or written here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from pipeline.analysis.case_results import CaseResult, Solved, at_centre, case_line, evaluate
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.circuit.line import LineRun
from pipeline.judgement.advice import Advice, advise
from pipeline.judgement.case_facts import Judged, judge
from pipeline.judgement.coil_variants import with_making
from pipeline.judgement.intervals import Interval
from pipeline.judgement.sweeps import Bench, choke_position_rows, places, variations
from pipeline.judgement.verdict import Facts, Variation, effect
from pipeline.mesh.evidence import GeometryEvidence
from pipeline.mesh.refinement import check_cases
from pipeline.mesh.uncertainty import accuracy, expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import CABLE, IDEAL, NONE, cases
from pipeline.solver.terminations import route_length
from pipeline.study.records import Study


@dataclass(frozen=True)
class Judgement:
    """Every case by its id with its figures of merit, intervals and effect; and the advice.

    ``route`` [m] is the length of the cable, ``lines`` its inside in each case, ``tried`` what was
    varied on the recommended case, ``along`` that case at other places of the cable.
    """

    route: float
    judged: dict[str, Judged]
    lines: dict[str, LineRun]
    bench: Bench
    intervals: dict[str, dict[str, Interval]]
    effects: dict[str, str]
    advice: Advice
    tried: list[Variation]
    along: list[Row]


def judge_study(
    study: Study,
    solved: dict[str, Solved],
    refined: dict[str, Solved],
    geometries: Mapping[str, GeometryEvidence],
    made: dict[str, Solved],
) -> Judgement:
    """Judge every case of a study at its design frequency.

    Parameters
    ----------
    study : Study
    solved, refined : dict
        Every geometry by its name, as drawn and with segments a quarter shorter.
    geometries : mapping
        Checks of each.
    made : dict
        Coils as they may come out.

    Raises
    ------
    StudyError
        If a choke's data do not reach the band.
    """
    route = route_length(solved[CABLE].structure)
    found, lines = {}, {}
    for case in cases(study):
        entry = solved[case.geometry]
        found[case.id] = evaluate(entry, study, case, route=route)
        lines[case.id] = case_line(entry.structure, study, case, route)
    theta = solved[CABLE].basis.directions.theta
    elevation = horizon_elevation_deg(found[IDEAL].gain, theta)
    evidence, checks = check_cases(study, solved, refined, geometries, elevation)
    half = {name: expanded(c, accuracy(c.compared)) for name, c in checks.items()}
    judged = {
        name: judge(r, found[IDEAL], theta, elevation, evidence[name], study.verdict)
        for name, r in found.items()
    }
    facts = {name: j.facts for name, j in judged.items()}
    centred = {n: at_centre(s) for n, s in solved.items()} | made
    bench, intervals = with_making(Bench(study, centred, evidence, half, elevation), judged, lines)
    advice, tried, along = _advised(bench, facts, intervals, found)
    effects = {name: effect(f, facts[NONE]) for name, f in facts.items()}
    return Judgement(route, judged, lines, bench, intervals, effects, advice, tried, along)


def _advised(
    bench: Bench,
    facts: dict[str, Facts],
    intervals: dict[str, dict[str, Interval]],
    found: dict[str, CaseResult],
) -> tuple[Advice, list[Variation], list[Row]]:
    """The verdict on all cases, the variations it was tried on, and its choke along the cable."""

    @cache
    def along(name: str) -> list[Row]:
        return choke_position_rows(bench, found[name].case)

    @cache
    def tried(name: str) -> list[Variation]:
        return variations(bench, found[name].case)

    advice, varied = advise(
        facts,
        intervals,
        tried,
        lambda name: places(bench, found[name].case, along(name)),
        bench.study.power,
        bench.elevation_deg,
    )
    return advice, varied, along(advice.recommended_case)
