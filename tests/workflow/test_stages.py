"""Stages from file to file: what one keeps for the next."""

from __future__ import annotations

import csv
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
import yaml

from pipeline.workflow import stages
from tests.harness.small_study import through_stages

pytestmark = pytest.mark.takes(15)
GAMMA = Path(str(files("models") / "studies" / "gamma_dipole.yaml"))


def matched_by(picofarads: float, folder: Path) -> Path:
    """The gamma dipole without candidates, with another capacitor in series with its feed."""
    data = yaml.safe_load(GAMMA.read_text(encoding="utf-8"))
    data["antenna"]["capacitance"] = f"{picofarads} pF"
    data["band"]["points"] = 3
    data["unknowns"] = {"geometries": 8, "draws": 16}
    del data["chokes"]
    path = folder / f"with-{picofarads:.0f}.yaml"
    path.write_text(yaml.safe_dump(data, allow_unicode=True), encoding="utf-8")
    return path


def reactances(results: Path) -> dict[str, float]:
    with (results / "tables" / "cases.csv").open(encoding="utf-8", newline="") as stream:
        return {row["case"]: float(row["x_ohm"]) for row in csv.DictReader(stream)}


def test_studies_that_differ_in_a_capacitor_share_their_solves_and_not_their_match(
    tmp_path: Path,
) -> None:
    first = through_stages(matched_by(6.0, tmp_path), tmp_path)
    before = set((tmp_path / "cache").iterdir())
    other = matched_by(12.0, tmp_path)
    stages.answer(other, tmp_path / "cache", tmp_path / "other", 1)
    assert set((tmp_path / "cache").iterdir()) == before
    # A capacitor in series adds -1 / (omega C), any text on circuits; six digits are printed.
    expected = 1 / (2 * np.pi * 145e6) * (1 / 6e-12 - 1 / 12e-12)
    one, two = reactances(first), reactances(tmp_path / "other")
    for case in ("no-feedline", "ideal", "none"):
        assert two[case] - one[case] == pytest.approx(expected, abs=2e-3)
