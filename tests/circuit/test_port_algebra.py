"""Chokes and terminations by algebra, against solves with the solver's own load card.

What holds for any network is in tests/analysis/test_properties.py.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from models.site.feedline_route import Step
from models.site.shield import Zone
from models.wires.loads import SeriesLoad
from models.wires.structure import Material, Structure
from pipeline.circuit.port_algebra import (
    OPEN,
    port_currents,
    port_voltages,
    reciprocity_errors,
    superpose,
)
from pipeline.solver.nec2 import unit_source_currents
from tests.harness.antenna_with_cable import AVERAGE, Plan, build
from tests.harness.drawn import LAW, drive, passive

FREQUENCY = 145e6
# A whole installation, low and short so that a direct solve takes a fifth of a second.
INSTALLED = Plan(
    joins="long leg",
    steps=(Step("out", 0.15), Step("down_to", 0.5), Step("bond", 0.0), Step("out", 1.5)),
    lead=0.6,
    zones=(Zone(0.05, 0.12), Zone(0.6, 0.06)),
    jacket=Material(5.8e7, 26.6e-9),
    height=2.2,
    grounded=True,
)


@cache
def installed() -> tuple[Structure, NDArray[np.complex128]]:
    """Structure over real ground and its unit-source currents, shape (n_port, n_segment)."""
    built = build(INSTALLED)
    return built, unit_source_currents(built, np.array([FREQUENCY]), AVERAGE)[0]


def by_algebra(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Currents on all segments with one volt at the feed, shape (n_segment,)."""
    built, basis = installed()
    y = basis[:, built.port_segments].T
    return superpose(basis, port_voltages(y, z, drive(len(y))))


# Published


@settings(LAW, max_examples=10, phases=[Phase.generate])
@given(st.data())
def test_algebra_and_the_load_card_of_the_solver_give_the_same_currents(data):
    # One linear system solved in two orders: only rounding may differ. The load card is LD of
    # the NEC-2 user's guide (Burke and Poggio, 1981).
    built, _ = installed()
    n = len(built.ports)
    where = data.draw(st.sets(st.integers(1, n - 1), min_size=1, max_size=7))
    z = np.where(np.isin(np.arange(n), list(where)), data.draw(passive(n)), 0)
    loads = tuple(SeriesLoad(built.port_segment(built.ports[k]), complex(z[k])) for k in where)
    feed = (built.port_segment(built.ports[0]),)
    at = np.array([FREQUENCY])
    direct = unit_source_currents(built, at, AVERAGE, loads=loads, sources=feed)[0, 0]
    assert np.abs(by_algebra(z) - direct).max() < 1e-9 * np.abs(direct).max()


@pytest.mark.parametrize(("z_load", "expected"), [(0.0, 0.02), (50.0, 0.01), (OPEN, 0.0)])
def test_a_load_across_a_source_of_fifty_ohm_draws_what_ohm_says(z_load, expected):
    # I = V / (R + Z), by hand; OPEN is 1e9 ohm, so it leaves a nanoampere.
    y = np.array([[0.02 + 0j]])
    w = port_voltages(y, np.array([z_load + 0j]), np.array([1.0 + 0j]))
    assert port_currents(y, w)[0] == pytest.approx(expected, abs=1.1e-9)


# Laws


def test_an_open_port_of_an_installation_carries_no_current():
    # A volt at the feed over 1e9 ohm at the radio, beside milliamperes.
    built, _ = installed()
    station = built.port_index("station")
    current = by_algebra(OPEN * drive(len(built.ports), station))
    assert abs(current[built.port_segments[station]]) < 1e-6 * np.abs(current).max()


# Edges


def test_one_port_alone_is_a_voltage_divider():
    w = port_voltages(np.array([[0.02 + 0j]]), np.array([50.0 + 0j]), np.array([2.0 + 0j]))
    assert w[0] == pytest.approx(1.0)


def test_asymmetry_is_measured_against_the_ports_own_admittances():
    # |0.5 - 0.3| / sqrt(4 * 0.25) = 0.2, by hand; a transfer of nothing against little is nothing.
    y = np.array([[4.0, 0.5, 0.0], [0.3, 0.25, 0.0], [1e-9, 0.0, 1.0]])
    error = reciprocity_errors(y)
    assert error[0, 1] == error[1, 0] == pytest.approx(0.2)
    assert error[0, 2] < 1e-9
