"""Progress of a batch: what its jobs and Snakemake tell in, few lines with the time left out."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass

from pipeline.runtime.progress import Stretch, Telling
from pipeline.workflow.failures import event_of

# Lines are so far apart, as a part of the time that the run has taken, and at least. [s]
_APART, _LEAST = 0.03, 5.0
_INSTALLATIONS, _JOBS = "installations", "jobs"
# What Snakemake says on Ctrl-C: on a cluster it waits for its next look at the queue.
_STOPPING = "Terminating processes on user request"


@dataclass
class Progress(logging.Handler):
    """Says how many installations and jobs are finished, how long the rest takes, what failed.

    ``expected`` is the number of installations. Jobs tell of each as soon as it is done, where they
    have a disk in common with the run; elsewhere there is only what Snakemake hears of jobs.
    """

    say: Callable[[str], None]
    expected: int

    def __post_init__(self) -> None:
        logging.Handler.__init__(self)
        self._heard, self._next = 0, 0.0
        self._told = Telling(self._seldom, stretches={_INSTALLATIONS: Stretch(self.expected, 1.0)})
        self._jobs = Telling(self.say)

    def __hash__(self) -> int:
        return id(self)

    def hear(self, line: str) -> None:
        """Take a line that a job tells: one more installation is done."""
        # What a killed job had done is told again by the next one.
        if self._heard < self.expected:
            self._heard += 1
            self._told(f"{self._heard} of {self.expected} installations", _INSTALLATIONS)

    def _seldom(self, line: str) -> None:
        spent = self._told.clock() - self._told.begun
        if spent >= self._next or self._heard == self.expected:
            self._next = spent + max(_LEAST, _APART * spent)
            self.say(line)

    def emit(self, record: logging.LogRecord) -> None:
        """Take one event of the workflow."""
        event, told = event_of(record), record.__dict__
        if event == "job_error":
            self._jobs(f"a job failed: {', '.join(map(str, told['output']))}")
        elif event == "progress" and not self._heard:
            self._jobs.plan(_JOBS, Stretch(told["total"], 1.0))
            self._jobs(f"{told['done']} of {told['total']} jobs", _JOBS)
        elif record.getMessage().startswith(_STOPPING):
            self._jobs("stopping; Ctrl-C once more to leave at once")
