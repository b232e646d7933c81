"""The small study judged as described and answered, once a session, for tests of the answer."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from pipeline.analysis.case_results import Solved
from pipeline.answer.choice import Costs
from pipeline.answer.comparison import Comparison
from pipeline.answer.judge import answer_of
from pipeline.answer.record import Answer
from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.judgement.judgement import Judgement, judge_study
from pipeline.mesh.evidence import geometry_evidence
from pipeline.montecarlo.installations import Installations, install
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.field_solver import solved_average_gain
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.small_study import small_study_file

# Eight geometries of the small study and few draws: enough for laws, too few for an answer.
UNKNOWNS = {"geometries": 8, "draws": 64, "seed": 4, "route": "0.1 m", "station": {
    "resistance": {"from": "5 ohm", "to": "500 ohm", "scale": "log"}, "floating": 0.2}}  # fmt: skip


def described(study: Study) -> Judgement:
    """A study judged as it describes the installation."""
    solved, refined, evidence = {}, {}, {}
    for name, r in requests(study).items():
        f = r.frequency[r.centre : r.centre + 1]
        solved[name] = Solved(
            r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil, r.azimuths)
        )
        refined[name] = Solved(r.refined, solve_basis(r.refined, f, 0, r.soil, r.azimuths))
        gain = solved_average_gain(r.structure, float(f[0]), r.twin_loads)
        own = load_impedances(r.structure, f, study.frequency)[0]
        y_port = loaded_admittance(solved[name].basis.y_port[r.centre], own)
        evidence[name] = geometry_evidence(r.structure, gain, y_port)
    return judge_study(study, solved, refined, evidence)


def small(**changes: object) -> Study:
    """The small study with what is unknown about it, and other keys changed."""
    with tempfile.TemporaryDirectory() as folder:
        return load_study(small_study_file(Path(folder), **{"unknowns": UNKNOWNS} | changes))


@cache
def small_described() -> Judgement:
    return described(small())


@cache
def small_drawn() -> Installations:
    return install(small(), 2)


@cache
def small_answer(cores: int = 2) -> Answer:
    return answer_of(small(), small_described(), cores)


def comparison() -> Comparison:
    """The drawings of the small study with no outcome yet."""
    return Comparison(small_described(), small_drawn(), Costs.of(small()))
