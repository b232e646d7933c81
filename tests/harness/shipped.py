"""Study files that the project ships: what lies beside them and is a batch is none."""

from __future__ import annotations

from pathlib import Path

from pipeline.text.yaml_reading import read_yaml

STUDIES = Path(__file__).parents[2] / "models" / "studies"


def shipped_studies() -> list[Path]:
    """Every study of ``models/studies``, by name."""
    return sorted(p for p in STUDIES.glob("*.yaml") if "study" not in read_yaml(p).data)
