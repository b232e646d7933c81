"""Runs the Snakemake workflow in this process and shows progress in the reader's words."""

from __future__ import annotations

import logging
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pipeline
from pipeline.commands.time_left import JobKey, Outlook, planned_jobs
from pipeline.commands.workflow import StudyPlan
from pipeline.runtime.process import environment, say
from pipeline.runtime.progress import in_words
from pipeline.runtime.result_locks import unmark
from pipeline.solver.solve_cache import SOLVES, STORE, drop_damaged

_WORDS = {
    "geometry": "drew and checked the geometries",
    "basis": "solved the fields",
    "check": "tested the geometry",
    "combine": "compared the cases",
    "figures": "drew figures",
    "report": "wrote the report",
    "compared": "set the studies side by side",
}

# What a solve leaves in the folder of its geometry.
_SOLVED = {"basis": SOLVES[:1], "check": SOLVES[1:]}


def snakefile() -> Path:
    """The workflow: beside the package in a wheel, one folder up in a checkout."""
    package = Path(str(pipeline.__file__)).parent
    beside = package / "Snakefile"
    return beside if beside.exists() else package.parent / "Snakefile"


@dataclass
class Progress(logging.Handler):
    """Turns the workflow's events into lines of progress with the time left."""

    plans: dict[str, StudyPlan]
    outlook: Outlook
    results: Path = field(default_factory=Path)
    begun: float = field(default_factory=time.monotonic)
    total: int = 0
    announced: dict[int, tuple[str, JobKey]] = field(default_factory=dict)
    done: set[int] = field(default_factory=set)
    failed: list[str] = field(default_factory=list)
    interrupted: bool = False

    def __post_init__(self) -> None:
        logging.Handler.__init__(self)

    def __hash__(self) -> int:
        return id(self)

    def emit(self, record: logging.LogRecord) -> None:
        """Take one event of the workflow."""
        event = getattr(getattr(record, "event", None), "value", "")
        if event == "job_info":
            self._announce(record)
        elif event == "job_finished":
            self._finish(int(getattr(record, "job_id", -1)))
        elif event == "job_error":
            self._fail(record)
        elif event == "run_info":
            self._count(getattr(record, "stats", None))
        elif record.levelno >= logging.ERROR and not event:
            self.failed.append(record.getMessage())

    def _count(self, stats: object) -> None:
        """Note how many jobs of which rule this run has."""
        if isinstance(stats, dict) and stats:
            self.total = int(stats.get("total", 0))
            needed: Counter[str] = Counter()
            for rule, jobs in stats.items():
                needed[_plain_rule(str(rule))] += int(jobs)
            self.outlook.limit_to(needed)

    def _announce(self, record: logging.LogRecord) -> None:
        given = str(getattr(record, "rule_name", ""))
        wildcards = dict(getattr(record, "wildcards", None) or {})
        rule, digest = _plain_rule(given), str(wildcards.get("digest", ""))
        study = str(wildcards.get("study", given.removeprefix("geometry_")))
        what = {"figures": f"{study}/{wildcards.get('group', '')}", "compared": ""}
        key = (rule, digest or what.get(rule, study))
        words = f"{_WORDS.get(rule, rule)}{self._solve_words(rule, digest)}"
        self.announced[int(getattr(record, "jobid", -1))] = (words, key)
        self.outlook.begin(key, time.monotonic())

    def _solve_words(self, rule: str, digest: str) -> str:
        for plan in self.plans.values():
            if digest in plan.sizes:
                n, ports, frequencies = plan.sizes[digest]
                several = "" if ports == 1 else "s"
                at = "one frequency" if frequencies == 1 else f"{frequencies} frequencies"
                where = f" for {ports} port{several} at {at}"
                return f" of {n} segments{where if rule == 'basis' else ''}"
        return ""

    def _finish(self, job: int) -> None:
        words, key = self.announced.get(job, ("", ("", "")))
        if not words or words == "all" or job in self.done:
            return
        self.done.add(job)
        now = time.monotonic()
        self.outlook.end(key, now)
        of = f"/{self.total - 1}" if self.total > 1 else ""
        left = self.outlook.left(now) if len(self.done) < self.total - 1 else None
        tail = "" if left is None else f"  {in_words(left)} left"
        say(f"{now - self.begun:5.0f} s  {len(self.done)}{of}  {words}{tail}")

    def _fail(self, record: logging.LogRecord) -> None:
        # As the workflow gives them, from the folder that it works in.
        logs = [self.results / str(p) for p in (getattr(record, "log", None) or [])]
        text = "\n".join(
            p.read_text(encoding="utf-8", errors="backslashreplace").strip()
            for p in logs
            if p.is_file()
        )
        if "KeyboardInterrupt" in text or self.interrupted:
            self.interrupted = True
            return
        where = ", ".join(str(p) for p in logs)
        self.failed.append(f"{text or 'a job failed without a message'}\n    (log: {where})")


def _plain_rule(name: str) -> str:
    """Rule of a job; those that draw the geometries have one a study."""
    return "geometry" if name.startswith("geometry_") else name


def solved_before(plans: Iterable[StudyPlan], cache: Path) -> frozenset[JobKey]:
    """Solves whose files all lie in the cache."""
    digests = {digest for plan in plans for digest in (*plan.digests, *plan.made_digests)}
    return frozenset(
        (rule, digest)
        for digest in digests
        for rule, names in _SOLVED.items()
        if all((cache / digest / name).exists() for name in names)
    )


def run_workflow(plans: dict[str, StudyPlan], results: Path, cores: int) -> bool:
    """Run everything the studies need; finished results stay whatever happens.

    Parameters
    ----------
    plans : dict
        Studies of this run by name.
    results : Path
        Absolute folder for results.
    cores : int
        Processor cores to use.

    Returns
    -------
    bool
        Whether every job succeeded.
    """
    from snakemake_interface_common.exceptions import WorkflowError

    home = Path.cwd()
    store = results / STORE
    for digest in sorted({digest for plan in plans.values() for digest in plan.sizes}):
        if drop_damaged(store / digest, say):
            for plan in plans.values():
                if digest in plan.sizes:
                    unmark(results / plan.name)
    before = solved_before(plans.values(), store)
    progress = Progress(plans, Outlook(planned_jobs(plans.values(), before), cores), results)
    try:
        # Jobs start Python anew: a folder called "models" where the user stands must not win.
        with environment(PYTHONSAFEPATH="1", PATH=os.environ.get("PATH") or os.defpath):
            _execute(plans, results, cores, progress)
        return True
    except WorkflowError as error:
        if progress.interrupted:
            raise KeyboardInterrupt from error
        for text in progress.failed or [str(error)]:
            print(text, file=sys.stderr)
        print(
            "Some of the work failed; what was finished is kept. Run the same command again to "
            "go on from there.",
            file=sys.stderr,
        )
        return False
    finally:
        os.chdir(home)


def _execute(plans: dict[str, StudyPlan], results: Path, cores: int, progress: Progress) -> None:
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
    }
    output = OutputSettings(quiet={Quietness.ALL}, show_failed_logs=False)
    with SnakemakeApi(output) as api:
        logger.addHandler(progress)
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
