"""What all tests share: one folder a session, in which both worker processes keep field solves."""

from __future__ import annotations

import os
import shutil
import tempfile

import pytest

import pipeline  # noqa: F401  -- before NumPy: one thread a process
from tests.harness import solves

# Worked examples enter themselves where they belong when they are imported; their tests do that.
collect_ignore = ["examples"]


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder, unless the process that started this one has."""
    if not hasattr(config, "workerinput"):
        os.environ[solves.FOLDER] = tempfile.mkdtemp(prefix="solves-")
    solves.share()


def pytest_unconfigure(config: pytest.Config) -> None:
    """The next session solves afresh."""
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(solves.FOLDER), ignore_errors=True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files that take long begin first, so that neither process waits for the other at the end."""

    def seconds(item: pytest.Item) -> float:
        mark = item.get_closest_marker("takes")
        return float(mark.args[0]) if mark else 0.0

    items.sort(key=seconds, reverse=True)


@pytest.fixture
def solved_afresh(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of the solver itself: nothing is taken from the session's folder."""
    monkeypatch.setenv(solves.AFRESH, "yes")
