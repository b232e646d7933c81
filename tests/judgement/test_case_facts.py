"""Results of cases boiled down to what tables and verdict need."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.judgement.case_facts import Judged, judge
from pipeline.mesh.evidence import CaseEvidence
from pipeline.solver.cases import CABLE
from tests.harness.small_study import case, solved, study

EVIDENCE = CaseEvidence(average_gain=1.01, reciprocity=0.02, convergence=0.03, grade="usable")


def judged(name: str, reference: str = "ideal") -> Judged:
    theta = solved()[CABLE].basis.directions.theta
    return judge(case(name), case(reference), theta, 0.0, EVIDENCE)


# Laws


def test_the_reference_does_not_differ_from_itself() -> None:
    j = judged("ideal")
    assert (j.change_max_db, j.change_rms_db) == (0.0, 0.0)
    assert j.facts.mean_gain_change_db == 0.0
    assert j.facts.swr_change == 0.0


def test_changes_are_the_case_less_the_reference() -> None:
    j, reference = judged("none"), judged("ideal")
    f = j.facts
    assert f.mean_gain_change_db == pytest.approx(j.horizon.mean - reference.horizon.mean)
    assert f.swr_change == pytest.approx(f.swr - reference.facts.swr)
    back = judged("ideal", "none").facts
    assert back.mean_gain_change_db == pytest.approx(-f.mean_gain_change_db)
    assert back.swr_change == pytest.approx(-f.swr_change)


def test_facts_repeat_the_result_at_the_design_frequency() -> None:
    j, r = judged("core-x4"), case("core-x4")
    f, i = j.facts, r.centre
    assert r.frequency[i] == study().frequency
    assert f.swr == r.swr_feed[i]
    assert f.station_ratio == pytest.approx(abs(r.station_ratio[i]))
    assert f.shield_ratio == pytest.approx(np.abs(r.shield_ratio[i]).max())
    assert f.line_loss_db == r.line_loss_db[i]
    assert (f.choke_impedance, f.choke_power) == (r.choke_impedance, r.choke_power)
    assert f.hottest_power == pytest.approx(r.hottest_share * r.choke_power)
    assert (f.pattern_max_db, f.pattern_rms_db) == (j.change_max_db, j.change_rms_db)
    assert f.grade == EVIDENCE.grade


def test_gains_are_read_from_the_pattern_of_the_case() -> None:
    j = judged("none")
    gain = case("none").gain
    # Free space: every two degrees from the zenith, the horizon is row 45.
    ring = gain[45]
    # The extremes may lie between two azimuths of the grid.
    assert ring.min() - 0.05 <= j.horizon.minimum <= ring.min() + 1e-9
    assert ring.max() - 1e-9 <= j.horizon.maximum <= ring.max() + 0.05
    assert j.horizon.mean == pytest.approx(10 * np.log10(np.mean(10 ** (ring / 10))))
    row, _ = np.unravel_index(np.argmax(gain), gain.shape)
    assert (j.peak_dbi, j.peak_elevation_deg) == (gain.max(), pytest.approx(90 - 2 * row))


def test_a_ferrite_is_named_after_its_core_and_other_chokes_after_their_label() -> None:
    core, sleeve = judged("core-x4").facts, judged("sleeve").facts
    assert core.part == "NiZn 800 class (mix 43) clamp-on, 12.7 mm hole"
    assert (core.kind, core.count, core.position) == ("ferrite", 4, 0.05)
    assert (core.price, core.currency) == (18.0, "EUR")
    assert sleeve.part == sleeve.label == "shorted sleeve of 28x1 mm pipe"


# Edges


def test_a_case_without_a_choke_has_no_place_no_count_and_no_price() -> None:
    for name in ("none", "no-feedline"):
        f = judged(name).facts
        assert (f.kind, f.count, f.position, f.price, f.currency) == ("none", 0, None, None, "")
        assert f.choke_impedance is None


@pytest.mark.parametrize(("height", "wavelength"), [(8.7, 2.0675), (6.0, 0.689), (2.0, 2.0675)])
def test_the_horizon_is_read_at_the_top_of_the_lowest_lobe(
    height: float, wavelength: float
) -> None:
    # Ray and reflected ray with a coefficient of -1 at grazing: sin(e) = lambda / (4 h), any field
    # text; the grid has one degree.
    theta = np.radians(np.arange(0.0, 91.0))
    ray = np.sin(2 * np.pi * height / wavelength * np.cos(theta)) ** 2
    gain = 10 * np.log10(np.maximum(ray, 1e-12))[:, None]
    lobe = np.degrees(np.arcsin(wavelength / (4 * height)))
    assert horizon_elevation_deg(gain, theta) == pytest.approx(lobe, abs=0.51)


def test_in_free_space_the_horizon_is_the_horizon() -> None:
    theta = np.radians(np.arange(0.0, 181.0, 2.0))
    assert horizon_elevation_deg(np.zeros((91, 4)), theta) == 0.0
