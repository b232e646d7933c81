"""Sequences of runs: orders and limits as published, and no limit where none is earned."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.mesh.convergence import (
    FEWEST_VALUES,
    ORDERS,
    Settling,
    extrapolated,
    observed_orders,
    settling,
    settling_words,
)

# Steps of the study of a geometry: a fifth finer each time.
LENGTHS = 0.8 ** np.arange(7)

CELIK = (
    "Celik, Ghia, Roache, Freitas, Coleman, Raad, J. Fluids Eng. 130, 078001 (2008), table 1; "
    "values as listed in public test suites, the print was not seen: handbook"
)
NPARC = (
    "NPARC Alliance, Examining Spatial (Grid) Convergence: pressure recovery on three grids; "
    "values as listed in public test suites, the page was not seen: handbook"
)


# Published


@pytest.mark.parametrize(
    ("lengths", "values", "order", "limit", "percent", "source"),
    [
        # Lengths of a plane grid go as the root of one over the number of cells.
        (
            [4500**-0.5, 8000**-0.5, 18000**-0.5],
            [5.863, 5.972, 6.063],
            (1.53, 0.005),
            (6.1685, 0.00005),
            (2.2, 0.05),
            CELIK,
        ),
        (
            [980**-0.5, 4500**-0.5, 18000**-0.5],
            [10.6050, 10.7250, 10.7880],
            (0.75, 0.005),
            (10.8801, 0.00005),
            (1.1, 0.05),
            CELIK,
        ),
        (
            [4.0, 2.0, 1.0],
            [0.961780, 0.968540, 0.970500],
            (1.786170, 5e-7),
            (0.971300, 5e-7),
            # Half a unit of the sixth digit, and its own rounding of the order before it.
            (0.103083, 1e-6),
            NPARC,
        ),
    ],
)
def test_order_limit_and_uncertainty_are_those_of_the_published_examples(
    lengths, values, order, limit, percent, source
):
    # Tolerances: half a unit of the last digit that is printed.
    h, v = np.array(lengths), np.array(values)
    found = observed_orders(h, v)[0]
    assert found == pytest.approx(order[0], abs=order[1]), source
    at_nil, uncertainty = extrapolated(h, v, found)
    assert at_nil == pytest.approx(limit[0], abs=limit[1]), source
    assert 100 * uncertainty / v[-1] == pytest.approx(percent[0], abs=percent[1]), source


def test_the_trapezoid_rule_is_of_second_order_and_its_limit_is_the_integral():
    # Any text on numerical analysis: error of the composite rule goes as h^2 (common knowledge).
    # The term in h^4 is what is left: under 1e-4 of the error in h^2 at these steps.
    h, areas = [], []
    for n in (8, 11, 14, 20, 28):
        x = np.linspace(0.0, 1.0, n + 1)
        h.append(1 / n)
        areas.append(np.trapezoid(np.exp(x), x))
    orders = observed_orders(np.array(h), np.array(areas))
    np.testing.assert_allclose(orders, 2.0, atol=0.005)
    found = settling(np.array(h), np.array(areas), 1e-9)
    assert found.kind == "settles"
    assert found.limit == pytest.approx(np.e - 1, abs=1e-6)
    assert abs(areas[-1] - (np.e - 1)) < found.uncertainty


# Laws


@given(
    order=st.floats(0.6, 3.9),
    limit=st.floats(-100, 100),
    size=st.floats(0.1, 10),
    uneven=st.floats(-0.05, 0.05),
)
def test_a_pure_power_is_found_again_on_even_and_uneven_steps(order, limit, size, uneven):
    h = LENGTHS * (1 + uneven * np.cos(np.arange(len(LENGTHS))))
    found = settling(h, limit + size * h**order, 1e-6 * size)
    assert found.kind == "settles"
    # Ten digits of the values are left after their differences; the order loses four of them.
    assert found.order == pytest.approx(order, abs=1e-4)
    assert found.limit == pytest.approx(limit, abs=1e-4 * size)


@given(scale=st.floats(1e-3, 1e3), shift=st.floats(-10, 10))
def test_the_order_does_not_depend_on_units(scale, shift):
    v = 3 + 0.5 * LENGTHS**1.5
    np.testing.assert_allclose(
        observed_orders(100 * LENGTHS, shift + scale * v), observed_orders(LENGTHS, v), rtol=1e-4
    )


def test_what_a_sequence_did_before_it_began_to_settle_does_not_count():
    values = np.array([40.0, 60.0, *(50 + 3 * LENGTHS[2:] ** 2)])
    found = settling(LENGTHS, values, 0.01)
    assert (found.kind, found.low, found.high) == ("settles", 40.0, 60.0)
    assert found.limit == pytest.approx(50.0, abs=1e-6)


# Edges


def test_a_sequence_that_goes_to_and_fro_has_no_order_and_no_limit():
    values = 50 + (-1.0) ** np.arange(7) * LENGTHS
    found = settling(LENGTHS, values, 0.01)
    assert found.kind == "moves"
    assert (found.low, found.high) == (values.min(), values.max())
    assert np.isnan([found.order, found.limit, found.uncertainty]).all()


def test_a_sequence_that_runs_away_has_orders_below_zero_and_no_limit():
    values = 1 / LENGTHS**2
    assert (observed_orders(LENGTHS, values) < 0).all()
    assert settling(LENGTHS, values, 0.01).kind == "moves"


@pytest.mark.parametrize("order", [0.5 * ORDERS[0], 1.5 * ORDERS[1]])
def test_orders_outside_their_range_earn_no_limit(order):
    values = 50 + LENGTHS**order
    np.testing.assert_allclose(observed_orders(LENGTHS, values), order, rtol=1e-6)
    assert settling(LENGTHS, values, 0.001).kind == "moves"


def test_noise_hardly_ever_looks_as_if_it_settled():
    # Four numbers in a row fall or rise in 2 of 24 orders, and few of those with steps that
    # shrink alike: one in a hundred is the most that is put up with.
    rng = np.random.default_rng(7)
    kinds = [settling(LENGTHS, rng.normal(size=7), 1e-3).kind for _ in range(2000)]
    assert kinds.count("settles") <= 20
    assert set(kinds) <= {"moves", "settles"}


def test_noise_a_tenth_the_size_of_the_steps_takes_the_limit_away():
    # The last step is a tenth of the first, so the noise is as large as the step.
    rng = np.random.default_rng(8)
    pure = 50 + 3 * LENGTHS**2
    kinds = [settling(LENGTHS, pure + rng.normal(0, 0.1, 7), 1e-3).kind for _ in range(200)]
    assert settling(LENGTHS, pure, 1e-3).kind == "settles"
    assert kinds.count("settles") < 60


def test_three_values_are_too_few_however_well_they_behave():
    n = FEWEST_VALUES - 1
    assert settling(LENGTHS[:n], 50 + LENGTHS[:n] ** 2, 0.01).kind == "short"


def test_what_nobody_would_see_in_print_does_not_move():
    assert settling(LENGTHS, 50 + 0.004 * (-1.0) ** np.arange(7), 0.01).kind == "still"
    assert settling(LENGTHS[:1], np.array([50.0]), 0.01).kind == "still"


def test_equal_neighbours_have_no_order():
    assert np.isnan(observed_orders(LENGTHS[:3], np.array([1.0, 1.0, 2.0]))).all()


def test_steps_too_unlike_for_any_order_are_infinite_and_earn_nothing():
    values = np.array([1e9, 1.0, 1.0 - 1e-9, 1.0 - 2e-9])
    assert observed_orders(LENGTHS[:4], values)[0] == np.inf
    assert observed_orders(LENGTHS[:4], np.array([0.0, 1e-9, 1e9, 2e9]))[0] == -np.inf
    assert settling(LENGTHS[:4], values, 0.01).kind == "moves"


# Words


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Settling("still", 1.0, 1.0), "does not move"),
        (Settling("short", 1.0, 2.0), "too few refinements to judge: between 1.0 Ω and 2.0 Ω"),
        (
            Settling("settles", 1.0, 2.0, 2.04, 0.9, 0.1),
            "settles towards 0.9 Ω, give or take 0.1 Ω (order 2.0)",
        ),
        (Settling("moves", 1.0, 2.0), "does not settle: moves between 1.0 Ω and 2.0 Ω"),
    ],
)
def test_every_verdict_is_said_in_words(found, words):
    assert settling_words(found, "{:.1f} Ω".format) == words
