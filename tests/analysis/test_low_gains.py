"""Gain towards the horizon in fine steps, against the kept fields and against image theory."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from models.quantities import SPEED_OF_LIGHT
from pipeline.analysis.case_results import CaseResult, Solved, evaluate, low_gains
from pipeline.analysis.metrics import LOW_ELEVATIONS_DEG, gain_at_elevation
from pipeline.solver.cases import ALONE, NO_FEEDLINE, cases
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness import small_study

ELEVATIONS = np.array(LOW_ELEVATIONS_DEG)
POLAR = np.radians(90.0 - ELEVATIONS)
HEIGHT = 8.0


@cache
def over_ground() -> tuple[Study, dict[str, Solved], CaseResult]:
    """The antenna of the small study without its cable, over average ground."""
    with TemporaryDirectory() as folder:
        site = {"height": f"{HEIGHT} m", "ground": "average ground"}
        study = load_study(small_study.small_study_file(Path(folder), site=site))
    r = requests(study)[ALONE]
    solved = {ALONE: Solved(r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil))}
    alone = next(c for c in cases(study) if c.id == NO_FEEDLINE)
    return study, solved, evaluate(solved[ALONE], study, alone)


# Laws


def test_at_the_elevations_of_the_kept_fields_the_gain_is_theirs_over_ground() -> None:
    _, solved, result = over_ground()
    found = low_gains([result])[NO_FEEDLINE]
    kept = np.degrees(solved[ALONE].basis.directions.theta)
    for degree in range(1, 11):
        fine = LOW_ELEVATIONS_DEG.index(degree)
        coarse = np.argmin(np.abs(90 - kept - degree))
        np.testing.assert_allclose(found[fine], result.gain[coarse], rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", ["no-feedline", "none", "core-x4", "measured"])
def test_at_the_elevations_of_the_kept_fields_the_gain_is_theirs_in_free_space(name: str) -> None:
    result = small_study.case(name)
    found = low_gains([result])[name]
    kept = np.degrees(small_study.solved()[result.case.geometry].basis.directions.theta)
    for degree in (2, 4, 6, 8, 10):
        fine = LOW_ELEVATIONS_DEG.index(degree)
        coarse = np.argmin(np.abs(90 - kept - degree))
        np.testing.assert_allclose(found[fine], result.gain[coarse], rtol=0, atol=1e-9)


def test_lobe_and_null_lie_where_an_image_of_opposite_sign_puts_them() -> None:
    # Below the pseudo-Brewster angle the ground turns a vertical field about: an element at
    # height h and its image add up where sin(e) = wavelength / 4h and cancel at wavelength / 2h
    # (Jordan and Balmain, "Electromagnetic Waves and Radiating Systems", 2nd ed., 1968, chapter
    # 16, from memory). The element is the half wave above the short leg.
    study, _, result = over_ground()
    found = low_gains([result])[NO_FEEDLINE]
    mean = np.array([gain_at_elevation(found, POLAR, e).mean for e in LOW_ELEVATIONS_DEG])
    height = HEIGHT + 0.5 * (1.48 + 0.49)
    wavelength = SPEED_OF_LIGHT / study.frequency
    lobe, null = (np.degrees(np.arcsin(wavelength / (k * height))) for k in (4, 2))
    e = ELEVATIONS
    first, second = e < null, (e > lobe) & (e < 9)
    assert e[first][np.argmax(mean[first])] == pytest.approx(lobe, abs=0.3)
    assert e[second][np.argmin(mean[second])] == pytest.approx(null, abs=0.3)


def test_a_lobe_of_the_highest_gateway_on_the_shed_has_several_points() -> None:
    # Lobes are half a wavelength over the height apart: at 435 MHz and 15 m some 1.3 degrees.
    period = np.degrees(SPEED_OF_LIGHT / 435e6 / (2 * 15.0))
    assert np.diff(ELEVATIONS).max() < period / 4
    assert (ELEVATIONS[0], ELEVATIONS[-1]) == (0.5, 10.0)


# Edges


def test_a_geometry_without_a_case_costs_nothing_and_gives_nothing() -> None:
    result = small_study.case("none")
    found = low_gains([result])
    assert list(found) == ["none"]
    assert found["none"].shape == (len(ELEVATIONS), len(result.gain[0]))
