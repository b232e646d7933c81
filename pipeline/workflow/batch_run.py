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
from pipeline.runtime.store import read_json, whole_file
from pipeline.solver.solve_cache import STORE
from pipeline.workflow.batch_progress import Progress
from pipeline.workflow.cluster import execute_there
from pipeline.workflow.execution import Workflow, all_succeeded, execute_here
from pipeline.workflow.failures import Failures
from pipeline.workflow.plans import code_digest
from pipeline.workflow.stages import DRAWINGS
from pipeline.workflow.told import listening

_OURS = Path(__file__).with_name("batch.smk")
_PLAN = Path(".plan") / "plan.json"
# Whole text of Snakemake, of every run in the folder.
LOG = Path("logs") / "workflow.log"


def run_batch(folder: Path, cores: int, profile: str) -> bool:
    """Run the jobs of a planned batch; whether every one succeeded.

    ``folder`` is an absolute path, with the plan in it. Without a ``profile`` jobs run on so many
    ``cores`` of this machine. What is finished stays whatever happens.
    """
    failures, progress = Failures(folder), Progress(say, _left(folder))
    workflow = _workflow(folder)

    def execute() -> None:
        with _text_kept(folder / LOG) as text, listening(folder, progress.hear):
            handlers = [failures, progress, text]
            if profile:
                execute_there(workflow, cores, profile, handlers)
            else:
                execute_here(workflow, cores, handlers)

    return all_succeeded(failures, execute)


def _left(folder: Path) -> int:
    """Number of installations of jobs that are not done yet."""
    chunks = read_json(folder / _PLAN)["chunks"]
    rows = folder / ".rows"
    return sum(c["installations"] for c in chunks if not (rows / f"{c['digest']}.parquet").exists())


def _workflow(folder: Path) -> Workflow:
    """The workflow of a batch, copied beside its plan.

    Machines that share no disk are sent what lies below the folder that a workflow works in.
    """
    plan = folder / _PLAN
    file = plan.with_name(_OURS.name)
    with whole_file(file) as temporary:
        shutil.copyfile(_OURS, temporary)
    config = {
        "store": f"../{STORE}/{DRAWINGS}",
        "made_from": f"plan-{hashlib.sha256(plan.read_bytes()).hexdigest()[:16]}",
        # Results of another version are out of date, though all their files are newer.
        "made_with": f"code-{code_digest()}",
    }
    return Workflow(file, folder, config)


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
