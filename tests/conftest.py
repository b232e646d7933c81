"""What all tests share: one folder of field solves a session, for both worker processes."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import pytest

from tests.harness import solves

_FOLDER = pytest.StashKey[Path]()


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder, or take that of the process that started this one."""
    given = getattr(config, "workerinput", {}).get("solves")
    folder = Path(given or tempfile.mkdtemp(prefix="solves-"))
    if given is None:
        config.stash[_FOLDER] = folder
    solves.share(folder)


def pytest_unconfigure(config: pytest.Config) -> None:
    """The next session solves afresh."""
    if _FOLDER in config.stash:
        shutil.rmtree(config.stash[_FOLDER], ignore_errors=True)


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: object) -> None:
    """Tell a worker process of the folder."""
    node.workerinput["solves"] = str(node.config.stash[_FOLDER])  # type: ignore[attr-defined]


@pytest.fixture
def solved_afresh(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of the solver itself: nothing is taken from the session's folder."""
    monkeypatch.setenv(solves.AFRESH, "yes")
