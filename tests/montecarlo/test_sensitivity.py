"""Shares of variance: published indices, laws."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.montecarlo.draws import sobol
from pipeline.montecarlo.sensitivity import first_order, grouped, joint

# Published: first-order indices of the Ishigami function with a = 7, b = 0.1 from their closed
# form (Saltelli et al., Global Sensitivity Analysis: The Primer, 2008)

A, B = 7.0, 0.1
TOTAL = A**2 / 8 + B * np.pi**4 / 5 + B**2 * np.pi**8 / 18 + 0.5
FIRST = (0.5 * (1 + B * np.pi**4 / 5) ** 2 / TOTAL, A**2 / 8 / TOTAL, 0.0)
ONE_AND_THREE = FIRST[0] + B**2 * np.pi**8 * (1 / 18 - 1 / 50) / TOTAL


def ishigami(u: np.ndarray) -> np.ndarray:
    x = np.pi * (2 * u - 1)
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_the_closed_form_is_the_one_that_is_printed():
    # Printed to four digits: 0.3139, 0.4424, 0; from memory.
    assert pytest.approx((0.3139, 0.4424, 0.0), abs=1e-4) == FIRST


@pytest.mark.parametrize("k", [0, 1, 2])
def test_shares_of_the_ishigami_function_are_the_analytic_ones(k):
    u = sobol(8192, 3, 11)
    assert first_order(u[:, k], ishigami(u)).value == pytest.approx(FIRST[k], abs=0.015)


def test_two_causes_together_make_what_the_analytic_index_says():
    u = sobol(32768, 3, 11)
    cells = [(32 * u[:, k]).astype(int) for k in (0, 2)]
    found = joint(cells, ishigami(u)).value
    assert found == pytest.approx(ONE_AND_THREE, abs=0.02)


# Laws


def test_without_any_effect_few_samples_show_none_on_average_and_seldom_beyond_the_noise():
    rng = np.random.default_rng(7)
    found = [first_order(rng.random(24), rng.standard_normal(24)) for _ in range(2000)]
    # Nineteen in twenty, and the uncorrected ratio would be 2 / 23 on average.
    assert np.mean([s.certain for s in found]) == pytest.approx(0.05, abs=0.015)
    assert np.mean([s.value for s in found]) < 0.06


def test_a_result_that_never_changes_has_no_causes():
    assert not first_order(np.arange(50.0), np.ones(50)).certain
    assert grouped([np.ones(5), np.ones(5)]).value == 0.0
