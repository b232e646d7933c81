"""How half-widths are put together: tables of JCGM 100, limits, and what random draws say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipeline.mesh.uncertainty import (
    Accuracy,
    Checks,
    accuracy,
    expanded,
    half_width,
)

CLEAN = Checks(1.0, 0.0, "apart", 0.0, 0.0, 0.0, 0.0, 0.0)


# Published


@pytest.mark.parametrize(("freedom", "factor"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23)])
def test_few_cases_are_paid_for_with_students_factor(freedom, factor):
    # JCGM 100:2008, table G.2, column of 95 %, as NIST Technical Note 1297 repeats it in its table
    # B.1 (read there); two printed decimals.
    assert half_width(Accuracy(1.0, freedom)) == pytest.approx(factor, abs=0.006)


def test_a_bound_counts_as_a_rectangle():
    # JCGM 100:2008, 4.3.7: u = a / sqrt(3); with nothing measured the factor is that of a normal
    # distribution, 1.960.
    assert half_width(None, 0.3) == pytest.approx(1.960 * 0.3 / np.sqrt(3), rel=1e-3)


# Laws


def test_ohms_that_are_off_stay_where_a_coil_takes_reactance_away():
    # 50 - j 140 ohm behind j 140: three times the share, of what was compared alone.
    known = accuracy("other")
    before = abs(50 - 140j) / 50
    usual, matched = CLEAN, replace(CLEAN, before_match=before)
    wider = expanded(matched, known).impedance / expanded(usual, known).impedance
    assert wider == pytest.approx(before)
    assert expanded(matched, known).field == expanded(usual, known).field


def test_nothing_uncertain_is_certain():
    assert half_width(None, 0.0, 0.0) == 0.0
    assert half_width(None) == 0.0


def test_another_cause_never_makes_an_interval_narrower():
    # The effective degrees of freedom of G.4.1 would: 4.30 * 0.02 = 0.086 alone, 0.072 with them.
    alone = half_width(Accuracy(0.02, 2))
    assert half_width(Accuracy(0.02, 2), 0.03) > alone
    assert half_width(Accuracy(0.02, 2), 0.03) == pytest.approx(
        np.hypot(alone, half_width(None, 0.03))
    )


def test_an_interval_holds_what_random_draws_of_its_causes_give():
    # Measured cause from 30 cases, two bounded ones; 95 % to the noise of 20,000 draws.
    rng = np.random.default_rng(1)
    half = half_width(Accuracy(0.02, 30), 0.03, 0.05)
    error = rng.normal(0, 0.02, 20_000) + rng.uniform(-0.03, 0.03, 20_000)
    error += rng.uniform(-0.05, 0.05, 20_000)
    assert np.mean(np.abs(error) < half) == pytest.approx(0.955, abs=0.015)


@pytest.mark.parametrize(
    ("worse", "wider"),
    [
        ({"average_gain": 0.96}, ("impedance", "field")),
        ({"reciprocity": 0.08}, ("current",)),
        ({"impedance": 0.05}, ("impedance",)),
        ({"shield_current": 0.02}, ("shield_current",)),
        ({"station_current": 0.02}, ("station_current",)),
        ({"gain_db": 0.3}, ("field",)),
        ({"pattern_db": 0.2}, ("pattern_db",)),
    ],
)
def test_a_check_that_fails_widens_what_rests_on_it_and_nothing_else(worse, wider):
    known = accuracy("apart")
    clean, found = expanded(CLEAN, known), expanded(replace(CLEAN, **worse), known)
    for name, value in vars(found).items():
        if name in wider:
            assert value > getattr(clean, name)
        else:
            assert value == getattr(clean, name)


def test_power_missing_counts_like_power_too_much():
    known = accuracy("apart")
    low, high = (expanded(replace(CLEAN, average_gain=g), known) for g in (0.97, 1.03))
    assert low.impedance == pytest.approx(high.impedance)
    assert low.field == pytest.approx(high.field)


def test_legs_that_stand_close_are_less_certain():
    apart, close = accuracy("apart"), accuracy("close")
    assert apart.keys() == close.keys()
    assert half_width(close["impedance"]) > 3 * half_width(apart["impedance"])
    for quantity in ("shield_current", "gain"):
        assert half_width(close[quantity]) > half_width(apart[quantity])
