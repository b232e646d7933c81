"""Stages from file to file: what one keeps for the next."""

from __future__ import annotations

import csv
import shutil
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
import yaml

from pipeline.runtime.progress import Telling
from pipeline.solver.band import TOLD
from pipeline.solver.solve_cache import requests
from pipeline.solver.standard_chokes import with_standard_chokes
from pipeline.study.reader import load_study
from pipeline.workflow import stages
from tests.harness.small_study import finished, through_stages

pytestmark = pytest.mark.takes(20)
GAMMA = Path(str(files("models") / "studies" / "gamma_dipole.yaml"))


def matched_by(picofarads: float, folder: Path) -> Path:
    """The gamma dipole without candidates, with another capacitor in series with its feed."""
    data = yaml.safe_load(GAMMA.read_text(encoding="utf-8"))
    data["antenna"]["capacitance"] = f"{picofarads} pF"
    data["band"]["points"] = 3
    # A sum along the soil takes most of a solve, and a capacitor knows no soil.
    data["site"]["ground"] = "free space"
    del data["bond"]
    data["cable"]["route"].remove({"bond": "here"})
    data["choke_design"] = {"most": 2}
    # All that is drawn is known: one installation, many ends.
    drawn = ("route", "height", "lead", "antenna", "jacket", "coil_pitch", "soil")
    data["unknowns"] = dict.fromkeys(drawn, "known") | {"draws": 16}
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


def test_a_coil_that_is_taken_though_the_study_has_none_is_solved_as_its_own_would_be(
    tmp_path: Path,
) -> None:
    home = Path(shutil.copytree(finished(), tmp_path / "home"))
    said: list[str] = []
    study = load_study(home / "small.yaml")
    file, store, results = home / "small.yaml", home / "cache", home / "small"
    on = stages._Work(study, file, store, results, 1, Telling(said.append))
    wanted = requests(study)
    read = stages._checked(on, wanted, stages._centres(on, wanted))
    assert said == []
    # An impedance on the cable asks for nothing.
    assert stages._with_chosen(on, wanted, read)[1] is read
    wound = replace(on, study=with_standard_chokes(study))
    wider, more = stages._with_chosen(wound, wanted, read)
    (coil,) = wider.keys() - wanted.keys()
    assert sum("solved" in line for line in said) == 3
    assert all(f"solved {coil}" in line for line in said)
    over_band = stages._over_band(wound, wider, more)
    assert f"solved {coil} over the band" in said[-1]
    described = stages._described(wound.study, over_band)
    own = described.results[coil.removeprefix("wire-")]
    assert len(own.frequency) == TOLD
    assert own.frequency[own.centre] == study.frequency
    # What was there is as it was.
    for name in wanted:
        assert wider[name].digest() == wanted[name].digest()
        np.testing.assert_array_equal(
            over_band.solved[name].basis.y_port, read.solved[name].basis.y_port
        )
