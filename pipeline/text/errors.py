"""Errors of the pipeline: data first, text last; all of them survive pickling.

Every message has four parts: the place, the value, the rule it breaks, the remedy.
"""

from __future__ import annotations

from models.faults import Fault as Fault
from models.faults import visible as visible


class BraidwiseError(Exception):
    """Base of all errors a user may see; ``exit_code`` is what the command returns."""

    exit_code = 1

    def __init__(self, *faults: Fault) -> None:
        super().__init__(*faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(fault.text() for fault in self.faults)


class WorkerEndedError(BraidwiseError):
    """A worker process was killed; what was finished before is kept."""


class StudyError(BraidwiseError):
    """The study file cannot be used as it stands."""

    exit_code = 2


class CatalogueError(BraidwiseError):
    """A catalogue shipped with the project is damaged."""

    exit_code = 3


class SolverError(BraidwiseError):
    """The field solver refused, crashed or returned nonsense for one geometry."""

    exit_code = 4


class ResultError(BraidwiseError):
    """A stored result is missing, damaged or of another version."""

    exit_code = 5
