"""Results of the small study without figures, as tests of figures and pages take them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.harness.small_study import finished


@pytest.fixture(scope="session")
def results() -> Path:
    """Results of the small study without figures, not to be changed."""
    return finished() / "small"


@pytest.fixture
def copy(results: Path, tmp_path: Path) -> Path:
    """Results that a test may change."""
    return Path(shutil.copytree(results, tmp_path / "small"))
