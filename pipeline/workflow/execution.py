"""The run of a workflow by Snakemake: its file and settings in, whether every job succeeded out."""

from __future__ import annotations

import logging
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

from pipeline.runtime.process import environment
from pipeline.workflow.failures import Failures


@dataclass(frozen=True)
class Workflow:
    """A workflow: its file, the folder that it works in, and its settings.

    Paths that its rules match are relative to the folder: braces in the name of a folder further
    up would pass for wildcards.
    """

    file: Path
    folder: Path
    config: dict[str, Any]


def all_succeeded(failures: Failures, execute: Callable[[], None]) -> bool:
    """Whether every job of a run succeeded; says what failed.

    ``execute`` runs the workflow, with ``failures`` attached to what it tells.
    """
    from snakemake_interface_common.exceptions import WorkflowError

    home = Path.cwd()
    try:
        # Jobs start Python anew: a folder called "models" where the user stands must not win.
        with (
            environment(PYTHONSAFEPATH="1", PATH=os.environ.get("PATH") or os.defpath),
            _interrupts_noted(failures),
        ):
            execute()
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


@contextmanager
def _interrupts_noted(failures: Failures) -> Iterator[None]:
    """Note Ctrl-C for a while: Snakemake takes it for a job that failed."""
    usual = signal.getsignal(signal.SIGINT)

    def note(number: int, frame: FrameType | None) -> None:
        failures.interrupted = True
        signal.default_int_handler(number, frame)

    # Where it is ignored, or is another's business, it stays so.
    noted = usual is signal.default_int_handler
    if noted:
        signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        if noted:
            signal.signal(signal.SIGINT, usual)


@contextmanager
def attached(handlers: Sequence[logging.Handler]) -> Iterator[None]:
    """Let handlers take what Snakemake tells, for a while."""
    # Above its own logger, from which it removes whatever it finds when it starts.
    logger = logging.getLogger("snakemake")
    for handler in handlers:
        logger.addHandler(handler)
    try:
        yield
    finally:
        for handler in handlers:
            logger.removeHandler(handler)


def execute_here(workflow: Workflow, cores: int, handlers: Sequence[logging.Handler]) -> None:
    """Run a workflow on some cores of this machine; raises WorkflowError where a job failed.

    No more jobs run at a time than its memory has room for, one in any case.
    """
    import psutil
    from snakemake.api import (
        ConfigSettings,
        DAGSettings,
        ExecutionSettings,
        OutputSettings,
        ResourceSettings,
        SnakemakeApi,
    )
    from snakemake.settings.enums import Quietness

    output = OutputSettings(quiet={Quietness.ALL}, show_failed_logs=False)
    with attached(handlers), SnakemakeApi(output) as api:
        loaded = api.workflow(
            resource_settings=ResourceSettings(
                cores=cores, resources={"mem_mb": psutil.virtual_memory().total // 10**6}
            ),
            config_settings=ConfigSettings(config=workflow.config),
            snakefile=workflow.file,
            workdir=workflow.folder,
        )
        # The command holds its own lock on the folder, which a killed run lets go of by itself;
        # unfinished files of such a run are made again.
        dag = loaded.dag(DAGSettings(force_incomplete=True))
        dag.execute_workflow(
            executor="local",
            execution_settings=ExecutionSettings(lock=False, keep_going=True, latency_wait=2),
        )
