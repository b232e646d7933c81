"""The small batch planned and solved once a session, and its studies solved as a study is."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pipeline.analysis.case_results import Solved
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.batch.batch_file import load_batch
from pipeline.batch.planning import Plan, plan_batch
from pipeline.batch.variants import Columns, Installation, rows_of, studies_of
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.study.records import Study
from pipeline.workflow.first_answer import merits

FILE = Path(__file__).with_name("small_batch.yaml")


@cache
def plan() -> Plan:
    return plan_batch(load_batch(FILE), "some code")


@cache
def installations() -> tuple[Installation, ...]:
    return tuple(one for chunk in plan().chunks for one in chunk.installations)


@cache
def rows(number: int) -> tuple[Columns, ...]:
    """Rows of an installation, case by case."""
    ground = plan().batch.groups[0].ground
    return tuple(rows_of(installations()[number], ground, None))


@cache
def studies(number: int) -> tuple[Study, ...]:
    return tuple(studies_of(installations()[number], plan().batch.groups[0].ground))


@cache
def as_a_study(number: int, end: int) -> dict[str, Merit]:
    """Figures of every case as ``braidwise study`` has them of the installation as described."""
    study = studies(number)[end]
    return merits(study, _solved(number))


@cache
def _solved(number: int) -> dict[str, Solved]:
    asked = requests(studies(number)[0])
    return {
        name: Solved(
            r.structure, solve_basis(r.structure, r.frequency[[r.centre]], 0, r.soil, r.azimuths)
        )
        for name, r in asked.items()
    }
