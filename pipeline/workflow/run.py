"""Runs the Snakemake workflow for some studies in this process.

Plans in, results folders and an answer whether every job succeeded out.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pipeline
from pipeline.runtime.process import environment, say
from pipeline.runtime.result_locks import unmark
from pipeline.solver.solve_cache import STORE, drop_damaged
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
    from snakemake_interface_common.exceptions import WorkflowError

    home = Path.cwd()
    store = results / STORE
    for digest in sorted({digest for plan in plans.values() for digest in plan.digests}):
        if drop_damaged(store / digest, say):
            for plan in plans.values():
                if digest in plan.digests:
                    unmark(results / plan.name)
    failures = Failures(results)
    try:
        # Jobs start Python anew: a folder called "models" where the user stands must not win.
        with (
            environment(PYTHONSAFEPATH="1", PATH=os.environ.get("PATH") or os.defpath),
            listening(results),
            handed(plans),
        ):
            _execute(plans, results, cores, failures, dict(changes or {}))
        return True
    except WorkflowError as error:
        if failures.interrupted:
            raise KeyboardInterrupt from error
        for text in failures.failed or [str(error)]:
            print(text, file=sys.stderr)
        print(
            "Some of the work failed; what was finished is kept. Run the same command again to "
            "go on from there.",
            file=sys.stderr,
        )
        return False
    finally:
        os.chdir(home)


def _execute(
    plans: dict[str, StudyPlan],
    results: Path,
    cores: int,
    failures: Failures,
    changes: dict[str, int],
) -> None:
    from snakemake.api import (
        ConfigSettings,
        DAGSettings,
        ExecutionSettings,
        OutputSettings,
        ResourceSettings,
        SnakemakeApi,
    )
    from snakemake.logging import logger
    from snakemake.settings.enums import Quietness

    config: dict[str, Any] = {
        "studies": [str(plan.path) for plan in plans.values()],
        # Paths that rules match are relative to it: braces in the name of a folder further up
        # would pass for wildcards.
        "results": ".",
        **changes,
    }
    output = OutputSettings(quiet={Quietness.ALL}, show_failed_logs=False)
    with SnakemakeApi(output) as api:
        logger.addHandler(failures)
        workflow = api.workflow(
            resource_settings=ResourceSettings(cores=cores),
            config_settings=ConfigSettings(config=config),
            snakefile=snakefile(),
            workdir=results,
        )
        # The command holds its own lock on the folder, which a killed run lets go of by itself;
        # unfinished files of such a run are made again.
        dag = workflow.dag(DAGSettings(force_incomplete=True))
        dag.execute_workflow(
            executor="local",
            execution_settings=ExecutionSettings(lock=False, keep_going=True, latency_wait=2),
        )
