"""Runs the workflow of a batch, on this machine or by a profile for a cluster.

A planned batch in, its table and page out, and an answer whether every job succeeded.
"""

from __future__ import annotations

import hashlib
import logging
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.runtime.process import say
from pipeline.runtime.store import whole_file
from pipeline.workflow.cluster import execute_there
from pipeline.workflow.execution import Workflow, all_succeeded, execute_here
from pipeline.workflow.failures import Failures, Steps
from pipeline.workflow.plans import code_digest
from pipeline.workflow.told import listening

_OURS = Path(__file__).with_name("batch.smk")
# Whole text of Snakemake, of every run in the folder.
LOG = "workflow.log"


def run_batch(folder: Path, cores: int, profile: str) -> bool:
    """Run the jobs of a planned batch; whether every one succeeded.

    ``folder`` is an absolute path, with the plan in it. Without a ``profile`` jobs run on so many
    ``cores`` of this machine. What is finished stays whatever happens.
    """
    results = folder.parent
    failures = Failures(results)
    workflow = _workflow(folder)

    def execute() -> None:
        with _text_kept(folder / "logs" / LOG) as text:
            handlers = [failures, Steps(say), text]
            if profile:
                # Jobs on other machines have another clock, and may not see this folder: how far
                # they are is told by what Snakemake hears of them.
                execute_there(workflow, cores, profile, handlers)
            else:
                with listening(folder):
                    execute_here(workflow, cores, handlers)

    return all_succeeded(failures, execute)


def _workflow(folder: Path) -> Workflow:
    """The workflow of a batch, copied beside its plan.

    Machines that share no disk are sent what lies below the folder that a workflow works in.
    """
    plan = folder / ".plan" / "plan.json"
    file = plan.with_name(_OURS.name)
    with whole_file(file) as temporary:
        shutil.copyfile(_OURS, temporary)
    config = {
        "batch": folder.name,
        "made_from": f"plan-{hashlib.sha256(plan.read_bytes()).hexdigest()[:16]}",
        # Results of another version are out of date, though all their files are newer.
        "made_with": f"code-{code_digest()}",
    }
    return Workflow(file, folder.parent, config)


@contextmanager
def _text_kept(log: Path) -> Iterator[logging.Handler]:
    """Keeper of all that Snakemake tells, as text in a log."""
    from snakemake.logging import DefaultFormatter

    log.parent.mkdir(parents=True, exist_ok=True)
    keeper = logging.FileHandler(log, encoding="utf-8", errors="backslashreplace")
    keeper.setFormatter(DefaultFormatter())
    try:
        yield keeper
    finally:
        keeper.close()
