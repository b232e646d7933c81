"""Curves of chokes keep the tops of their resonances, however sharp those are."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import minimize_scalar

from pipeline.report.tables import with_tops

STEPS = [1e6 * 1.034**k for k in range(180)]


def resonator(f: float, centre: float, quality: float) -> complex:
    """Series inductance and resistance with a capacitance across: any textbook on circuits."""
    reactance, w = 300.0, f / centre
    series = reactance / quality + 1j * w * reactance
    return 1 / (1 / series + 1j * w / reactance)


@pytest.mark.parametrize("quality", [3.0, 80.0, 2e4])
@pytest.mark.parametrize("centre", [7.3e6, 41e6])
def test_a_peak_is_as_high_as_an_optimiser_finds_it(quality: float, centre: float) -> None:
    found = with_tops(STEPS, lambda f: resonator(f, centre, quality))
    # SciPy's bounded search, within a few widths of the resonance.
    ends = tuple(math.log(centre * (1 + side / quality)) for side in (-0.3, 0.3))
    best = minimize_scalar(
        lambda x: -resonator(math.exp(x), centre, quality).real,
        bounds=ends,
        method="bounded",
        options={"xatol": 1e-9 / quality},
    )
    assert max(z.real for z in found.values()) == pytest.approx(-best.fun, rel=0.01)
    assert set(STEPS) <= set(found)
    assert len(found) < len(STEPS) + 60
    # The first point past the resonance is that near to it, so that a zero of X is told right.
    past = next(f for f, z in found.items() if z.imag < 0)
    assert past == pytest.approx(centre, rel=0.2 if quality < 10 else 0.01)


def test_beyond_the_data_of_a_table_there_is_no_point() -> None:
    found = with_tops(STEPS, lambda f: resonator(f, 2e7, 50.0) if f < 3e7 else None)
    assert max(found) < 3e7
