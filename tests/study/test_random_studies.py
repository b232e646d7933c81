"""Valid studies drawn over the documented ranges: answered, named unsound or refused, never broken.

The same draws in every run. What may come out is a study error before anything is solved; a study
that is accepted has to reach its report with numbers that a reader can use.
"""

from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.site.metalwork import OWN_PARTS
from pipeline.circuit.line import LinePiece, LineRun, through_line
from pipeline.mesh.evidence import convergence, grade_of
from pipeline.solver.far_field import fresnel
from pipeline.solver.solve_cache import SolveRequest, requests
from pipeline.study.reader import load_study
from pipeline.text.errors import StudyError
from tests.harness.random_studies import random_study_file
from tests.harness.small_study import pages_of, study, through_stages

pytestmark = pytest.mark.takes(23)

DRAWN = range(60)


@cache
def accepted(folder: Path) -> dict[Path, dict[str, SolveRequest]]:
    """Studies that can be drawn, with what they ask to be solved."""
    found = {}
    for seed in DRAWN:
        path = random_study_file(folder, seed)
        try:
            found[path] = requests(load_study(path))
        except StudyError:
            continue
    return found


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> dict[Path, dict[str, SolveRequest]]:
    return accepted(tmp_path_factory.mktemp("drawn"))


def run(path: Path) -> dict[str, Any]:
    """Every stage of a study as the workflow runs them; gives its summary."""
    results = through_stages(path, path.parent)
    pages_of(results)
    return dict(json.loads((results / "summary.json").read_text(encoding="utf-8")))


def numbers(data: Any) -> list[float]:
    """All numbers in nested data."""
    if isinstance(data, dict):
        return [x for value in data.values() for x in numbers(value)]
    if isinstance(data, list):
        return [x for value in data for x in numbers(value)]
    return [float(data)] if isinstance(data, int | float) else []


# Drawn


def test_a_good_part_of_what_is_drawn_can_be_computed(drawn):
    assert len(drawn) >= len(DRAWN) // 6


def test_all_kinds_of_antenna_and_surroundings_are_among_them(drawn):
    parts = {p for asked in drawn.values() for r in asked.values() for p in r.structure.parts()}
    assert {"bond lead", "mast", "gutter"} <= parts
    assert parts <= {*OWN_PARTS, "mast", "gutter", "sleeve"}


def test_the_smallest_reaches_its_report_with_finite_numbers(drawn):
    size = {path: sum(len(r.refined.segments) for r in a.values()) for path, a in drawn.items()}
    summary = run(min(drawn, key=size.__getitem__))
    assert summary["answer"]["headline"]
    assert all(math.isfinite(x) for x in numbers(summary))


# What such draws found


def test_soil_as_good_as_air_reflects_nothing_even_along_itself():
    for grazing in (np.array([0.0, 0.3]), np.zeros((2, 3))):
        for coefficient in fresnel(grazing, 1.0, 0.0, 145e6):
            np.testing.assert_array_equal(coefficient, np.zeros(grazing.shape))


def test_a_resistance_that_is_not_positive_is_unsound_and_loses_everything_in_the_line():
    z = np.array([-0.2 + 90j, 0.0 + 1j])
    run_ = LineRun((LinePiece(study().cable.type, 5.0),), 0.0)
    z_radio, loss = through_line(run_, np.array([145e6, 145e6]), z)
    assert np.isfinite(z_radio).all()
    assert np.isfinite(loss).all()
    assert loss.min() > 20.0
    moved = convergence(complex(z[0]), complex(z[0]), 0.1, 0.1, 2.0, 2.0)
    assert grade_of("convergence", moved) == "unsound"
