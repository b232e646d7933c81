"""What went wrong in a run of the workflow: its events in, messages in the reader's words out."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class Failures(logging.Handler):
    """Collects what failed; what jobs tell of their progress comes another way (:mod:`told`)."""

    results: Path = field(default_factory=Path)
    failed: list[str] = field(default_factory=list)
    interrupted: bool = False

    def __post_init__(self) -> None:
        logging.Handler.__init__(self)

    def __hash__(self) -> int:
        return id(self)

    def emit(self, record: logging.LogRecord) -> None:
        """Take one event of the workflow."""
        event = getattr(getattr(record, "event", None), "value", "")
        if event == "job_error":
            self._fail(record)
        elif record.levelno >= logging.ERROR and not event:
            self.failed.append(record.getMessage())

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
