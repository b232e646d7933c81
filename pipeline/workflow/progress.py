"""Progress of a run of the workflow: its events in, lines in the reader's words out."""

from __future__ import annotations

import logging
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.runtime.process import say
from pipeline.runtime.progress import in_words
from pipeline.workflow.plans import StudyPlan
from pipeline.workflow.stages import STAGES
from pipeline.workflow.time_left import JobKey, Outlook


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
        words = f"{STAGES[rule].words if rule in STAGES else rule}{self._solve_words(rule, digest)}"
        self.announced[int(getattr(record, "jobid", -1))] = (words, key)
        self.outlook.begin(key, time.monotonic())

    def _solve_words(self, rule: str, digest: str) -> str:
        for plan in self.plans.values():
            if digest in plan.sizes:
                n, ports, frequencies = plan.sizes[digest]
                several = "" if ports == 1 else "s"
                at = "one frequency" if frequencies == 1 else f"{frequencies} frequencies"
                ports_said = f" for {ports} port{several} at {at}"
                return f" of {n} segments{ports_said if rule == 'basis' else ''}"
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
        names = ", ".join(str(p) for p in logs)
        self.failed.append(f"{text or 'a job failed without a message'}\n    (log: {names})")


def _plain_rule(name: str) -> str:
    """Rule of a job; those that draw the geometries have one a study."""
    return "geometry" if name.startswith("geometry_") else name
