"""Results of the small study without figures, as tests of figures and pages take them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.workflow import stages
from tests.harness.small_study import SMALL


@pytest.fixture(scope="session")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Results of the small study without figures."""
    folder = tmp_path_factory.mktemp("figures")
    cache = folder / "cache"
    stages.geometry(SMALL, cache)
    for solve in cache.iterdir():
        stages.basis(solve)
        stages.check(solve)
    stages.combine(SMALL, cache, folder / "small")
    return folder / "small"


@pytest.fixture
def copy(results: Path, tmp_path: Path) -> Path:
    """Results that a test may change."""
    return Path(shutil.copytree(results, tmp_path / "small"))
