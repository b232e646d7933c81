"""What went wrong in a run of the workflow: its events in, messages in the reader's words out."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from pathlib import Path

# Of a log that tells of a long job its end is what says why it failed. [lines]
_LAST_LINES = 60
_SILENT = "a job ended without a message: it was killed, or there was no more memory"
# Logs of the machines that ran a job, beside the job's own.
_MACHINES = ".snakemake"


def event_of(record: logging.LogRecord) -> str:
    """Kind of what is told; empty for a plain message."""
    return str(getattr(getattr(record, "event", None), "value", ""))


@dataclass
class Failures(logging.Handler):
    """Collects what failed; what jobs tell of their progress comes another way (:mod:`told`).

    ``results`` is the folder that the workflow works in. A job that failed and succeeded when it
    was tried again has not failed.
    """

    results: Path = field(default_factory=Path)
    jobs: dict[int, str] = field(default_factory=dict)
    others: list[str] = field(default_factory=list)
    interrupted: bool = False

    def __post_init__(self) -> None:
        logging.Handler.__init__(self)

    def __hash__(self) -> int:
        return id(self)

    @property
    def failed(self) -> list[str]:
        """Messages of the jobs that failed; where none did, of the workflow."""
        return list(self.jobs.values()) or self.others

    def emit(self, record: logging.LogRecord) -> None:
        """Take one event of the workflow."""
        event = event_of(record)
        if event == "job_error":
            self._fail(record)
        elif event == "job_finished":
            self.jobs.pop(record.__dict__["job_id"], None)
        elif record.levelno >= logging.ERROR and event in ("", "error"):
            self.others.append(record.getMessage())

    def _fail(self, record: logging.LogRecord) -> None:
        # As the workflow gives them: addresses in a storage, or from the folder that it works in.
        given = [str(p) for p in (getattr(record, "log", None) or [])]
        logs = [self.results / p for p in given if "://" not in p]
        text = "\n".join(_end_of(p) for p in logs if p.is_file() and _MACHINES not in p.parts)
        if "KeyboardInterrupt" in text or self.interrupted:
            self.interrupted = True
            return
        names = ", ".join([*map(str, logs), *(p for p in given if "://" in p)])
        why = text or getattr(record, "rule_msg", None) or _SILENT
        self.jobs[record.__dict__["jobid"]] = f"{why}\n    (log: {names})"


def _end_of(log: Path) -> str:
    text = log.read_text(encoding="utf-8", errors="backslashreplace").strip()
    return "\n".join(text.splitlines()[-_LAST_LINES:])
