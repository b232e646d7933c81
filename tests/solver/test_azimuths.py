"""Azimuths close enough for what an installation radiates: extremes are seen, not missed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import jv

from models.quantities import SPEED_OF_LIGHT_NEC
from models.wires.structure import Structure, Wire
from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.analysis.metrics import all_the_way_round, gain_dbi
from pipeline.circuit.port_algebra import fed_voltages, superpose
from pipeline.judgement.case_merit import case_merit
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.report.tables import azimuth_rows
from pipeline.solver.cases import CABLE, GeometryPlan, cases
from pipeline.solver.far_field import (
    Directions,
    azimuth_count,
    directive_power,
    evenly_round,
    far_field,
    harmonics,
    radius_in_plan,
)
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import request, requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness import small_study

LONG_RUN = {
    "site": {"height": "6 m", "ground": "average"},
    "cable": {
        "type": "10.3 mm foam low-loss",
        "route": [{"out": "0.15 m"}, {"down_to": "4 m"}, {"out": "6 m"}, {"left": "4 m"}],
    },
}
SHORT_WAVE = {
    "frequency": "440 MHz",
    "antenna": {"type": "j-pole", "pipe": "15x1 mm", "spacing": "40 mm"},
    "site": {"height": "3 m", "ground": "average"},
    "cable": {
        "type": "10.3 mm foam low-loss",
        "route": [{"out": "0.1 m"}, {"down": "0.7 m"}, {"left": "2 m"}, {"back": "2 m"}],
    },
}
SURE = Expanded(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
SOUND = CaseEvidence(average_gain=1.0, reciprocity=0.0, convergence=0.0, grade="sound")
STUDIES = {"long run": LONG_RUN, "440 MHz": SHORT_WAVE}


@cache
def bare(name: str) -> tuple[Study, Solved, CaseResult]:
    """A study without a choke at its design frequency."""
    kept = {"frequency", "antenna"}
    with TemporaryDirectory() as folder:
        path = small_study.small_study_file(Path(folder), **STUDIES[name])
        whole = yaml.safe_load(path.read_text(encoding="utf-8"))
        few = {k: v for k, v in whole.items() if k in kept | set(STUDIES[name])}
        path.write_text(yaml.safe_dump(few), encoding="utf-8")
        study = load_study(path)
    wanted = request(study, GeometryPlan(CABLE, has_feedline=True))
    ends = tuple(p for p in wanted.structure.ports if not p.name.startswith("shield"))
    built = replace(wanted.structure, ports=ends)
    solved = Solved(built, solve_basis(built, np.array([study.frequency]), 0, wanted.soil))
    return study, solved, evaluate(solved, study, next(c for c in cases(study) if c.id == "none"))


def cut(solved: Solved, result: CaseResult, study: Study, count: int) -> np.ndarray:
    """Gain all the way round at three degrees, from the currents themselves. [dBi]"""
    ring = Directions(np.radians([87.0]), evenly_round(count))
    feed = solved.structure.port_index("feed")
    w = fed_voltages(solved.basis.y_port, result.z_series, feed)
    current = superpose(solved.basis.i_segment, w[0])
    segments = solved.structure.segments
    field = far_field(segments, current[None], study.frequency, study.site.ground, ring)
    return gain_dbi(directive_power(field), 0.5 * float((1 / result.z_feed[0]).real))[0, 0]


# Published


@pytest.mark.parametrize("size", [0.1, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0])
def test_the_harmonics_that_are_left_out_are_under_two_hundredths(size: float) -> None:
    # Jacobi and Anger: exp(jx cos phi) has the harmonics J_n(x); NIST DLMF 10.12.2 (from memory).
    last = harmonics(size * SPEED_OF_LIGHT_NEC / (2 * np.pi * 1e8), 1e8)
    rest = 2 * np.abs(jv(np.arange(last + 1, last + 200), size)).sum()
    assert rest < 0.02
    # Not wasteful either: a quarter fewer would not do.
    if size >= 10:
        assert 2 * np.abs(jv(np.arange(int(0.75 * last), last + 200), size)).sum() > 0.1


# Laws


@given(st.floats(0.0, 60.0), st.floats(30e6, 500e6))
def test_the_step_is_a_round_part_of_the_circle_and_holds_the_power(
    radius: float, f: float
) -> None:
    count = azimuth_count(radius, f)
    assert count >= 72
    assert count % 4 == 0
    assert count > 4 * harmonics(radius, f)
    assert 36000 % count == 0 or count > 36000


@given(st.integers(0, 9), st.integers(0, 2**32 - 1))
def test_a_sum_of_harmonics_is_known_between_the_places_where_it_is_kept(
    highest: int, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    parts = rng.normal(size=highest + 1) + 1j * rng.normal(size=highest + 1)

    def power(count: int) -> np.ndarray:
        turn = np.exp(1j * np.outer(np.arange(count) * 2 * np.pi / count, np.arange(highest + 1)))
        return np.abs(turn @ parts) ** 2 + 0.01

    kept = 10 * np.log10(power(20))
    found = all_the_way_round(kept, 7)
    np.testing.assert_allclose(10 ** (found / 10), power(140), rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(found[::7], kept, rtol=0, atol=1e-6)


def test_the_radius_is_that_of_what_is_drawn_wherever_it_stands() -> None:
    wires = (
        Wire((5, 1, 0), (5, 1, 9), 3, 1e-3, "antenna"),
        Wire((5, 1, 9), (8, 5, 9), 5, 1e-3, "shield"),
    )
    assert radius_in_plan(Structure("r", wires, ()).segments) == pytest.approx(2.5)


@pytest.mark.parametrize("name", STUDIES)
def test_half_the_step_moves_no_extreme_of_the_cut(name: str) -> None:
    study, solved, result = bare(name)
    count = len(solved.basis.directions.phi)
    finest = cut(solved, result, study, 16 * count)
    assert np.ptp(finest) > 1.4
    of = case_merit(result, result.merit(result.reference(3.0), 3.0), "sound")
    drawn = azimuth_rows([of], {"none": result}, {"none": SURE}, 3.0)
    shown = np.array([row["gain_dbi"] for row in drawn])
    halved = all_the_way_round(cut(solved, result, study, 2 * count))
    for least, most in ((of["min_gain_dbi"], of["max_gain_dbi"]), (shown.min(), shown.max())):
        assert least == pytest.approx(halved.min(), abs=0.05)
        assert most == pytest.approx(halved.max(), abs=0.05)
        assert least == pytest.approx(finest.min(), abs=0.05)
        assert most == pytest.approx(finest.max(), abs=0.05)


@pytest.mark.parametrize("name", STUDIES)
def test_neighbours_of_the_drawn_cut_lie_on_one_smooth_curve(name: str) -> None:
    study, solved, result = bare(name)
    row = int(np.argmin(abs(np.degrees(solved.basis.directions.theta) - 87)))
    drawn = all_the_way_round(result.gain[row])
    np.testing.assert_allclose(drawn, cut(solved, result, study, len(drawn)), atol=0.05)


def test_geometries_of_a_study_keep_their_fields_at_the_same_azimuths() -> None:
    study, _, _ = bare("440 MHz")
    found = requests(study)
    needed = azimuth_count(radius_in_plan(found[CABLE].structure.segments), study.frequency)
    assert {r.azimuths for r in found.values()} == {needed}
    assert needed > 72
