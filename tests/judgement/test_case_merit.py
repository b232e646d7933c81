"""A case with its figures of merit: what tables and verdict go by."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.judgement.case_merit import CaseMerit, case_merit
from tests.harness.small_study import case, study


def merit(name: str, reference: str = "ideal") -> CaseMerit:
    result = case(name)
    return case_merit(result, result.merit(case(reference).reference(0.0), 0.0), "usable")


# Laws


def test_the_reference_does_not_differ_from_itself() -> None:
    c = merit("ideal")
    assert (c["pattern_max_db"], c["pattern_rms_db"]) == (0.0, 0.0)
    assert (c.change("mean_gain_dbi"), c.change("swr")) == (0.0, 0.0)


def test_changes_are_the_case_less_the_reference() -> None:
    c, reference, back = merit("none"), merit("ideal"), merit("ideal", "none")
    for name in ("mean_gain_dbi", "swr"):
        assert c.change(name) == pytest.approx(c[name] - reference[name])
        assert back.change(name) == pytest.approx(-c.change(name))


def test_figures_are_the_result_at_the_design_frequency() -> None:
    c, r = merit("core-x4"), case("core-x4")
    i = r.centre
    assert r.frequency[i] == study().frequency
    assert c["swr"] == r.swr_feed[i]
    assert c["swr_radio"] == r.swr_radio[i]
    assert complex(c["r_ohm"], c["x_ohm"]) == r.z_feed[i]
    assert c["station_ratio"] == pytest.approx(abs(r.station_ratio[i]))
    assert c["shield_ratio"] == pytest.approx(np.abs(r.shield_ratio).max())
    assert c["line_loss_db"] == r.line_loss_db[i]
    assert c.choke_impedance == r.choke_impedance
    assert c["choke_power"] == pytest.approx(r.choke_power)
    assert c["choke_share"] == pytest.approx(r.balance.chokes)
    assert c.hottest_power == pytest.approx(r.hottest_share * r.choke_power)
    assert c["system_gain_dbi"] == c["mean_gain_dbi"] - c["line_loss_db"]
    assert c.grade == "usable"


def test_gains_are_read_from_the_pattern_of_the_case() -> None:
    c, gain = merit("none"), case("none").gain
    # Free space: every two degrees from the zenith, the horizon is row 45.
    ring = gain[45]
    # The extremes may lie between two azimuths of the grid.
    assert ring.min() - 0.05 <= c["min_gain_dbi"] <= ring.min() + 1e-9
    assert ring.max() - 1e-9 <= c["max_gain_dbi"] <= ring.max() + 0.05
    assert c["mean_gain_dbi"] == pytest.approx(10 * np.log10(np.mean(10 ** (ring / 10))))
    row, _ = np.unravel_index(np.argmax(gain), gain.shape)
    assert c["peak_gain_dbi"] == gain.max()
    assert c["peak_elevation_deg"] == pytest.approx(90 - 2 * row)


def test_what_is_on_the_cable_and_what_it_costs_are_those_of_the_choke() -> None:
    core, sleeve = merit("core-x4"), merit("sleeve")
    assert (core.kind, core.count, core.position) == ("ferrite", 4, 0.05)
    assert (core.price, core.currency) == (18.0, "EUR")
    assert sleeve.label == "28x1 mm sleeve, mouth to antenna"


# Edges


def test_a_case_without_a_choke_has_no_place_no_count_and_no_price() -> None:
    for name in ("none", "no-feedline"):
        f = merit(name)
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
