"""Runs the workflow of studies in this process.

Plans in, results folders and an answer whether every job succeeded out.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pipeline
from pipeline.runtime.process import say
from pipeline.runtime.result_locks import unmark
from pipeline.solver.solve_cache import STORE, drop_damaged
from pipeline.workflow.execution import Workflow, all_succeeded, execute_here
from pipeline.workflow.failures import Failures
from pipeline.workflow.plans import StudyPlan, handed
from pipeline.workflow.told import listening


def snakefile() -> Path:
    """The workflow: beside the package in a wheel, one folder up in a checkout."""
    package = Path(str(pipeline.__file__)).parent
    beside = package / "Snakefile"
    return beside if beside.exists() else package.parent / "Snakefile"


def run_workflow(
    plans: dict[str, StudyPlan], results: Path, cores: int, changes: Mapping[str, int] | None = None
) -> bool:
    """Run everything the studies need; whether every job succeeded.

    ``results`` is an absolute path, ``changes`` are settings of the workflow
    (:data:`plans.CHANGES`). What is finished stays whatever happens.
    """
    store = results / STORE
    for digest in sorted({digest for plan in plans.values() for digest in plan.digests}):
        if drop_damaged(store / digest, say):
            for plan in plans.values():
                if digest in plan.digests:
                    unmark(results / plan.name)
    failures = Failures(results)
    config = {
        "studies": [str(plan.path) for plan in plans.values()],
        "results": ".",
        **(changes or {}),
    }
    workflow = Workflow(snakefile(), results, config)

    def execute() -> None:
        with listening(results), handed(plans):
            execute_here(workflow, cores, [failures])

    return all_succeeded(failures, execute)
