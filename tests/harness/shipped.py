"""Study files that the project ships: what lies beside them and is a batch is none."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pipeline.text.yaml_reading import read_yaml

STUDIES = Path(__file__).parents[2] / "models" / "studies"


@cache
def shipped_studies() -> tuple[Path, ...]:
    """Every study of ``models/studies``, by name."""
    return tuple(sorted(p for p in STUDIES.glob("*.yaml") if "study" not in read_yaml(p).data))
