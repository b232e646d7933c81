"""Laws of networks and lines that hold whatever their numbers are; the numbers are drawn.

No field solver here: what it adds is in tests/solver/test_properties_of_solves.py.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.catalogues.parts import coax_classes
from pipeline.analysis.metrics import series_power
from pipeline.circuit.line import (
    LinePiece,
    LineRun,
    input_impedance,
    reflection_coefficient,
    through_line,
)
from pipeline.circuit.port_algebra import OPEN, port_currents, port_voltages
from tests.harness.drawn import LAW, assert_near, drive, loaded, loaded_networks, networks, passive

# The algebra alone. Its matrices have condition numbers up to 1e6, so rounding leaves 1e-9.


@LAW
@given(loaded_networks(), st.randoms(use_true_random=False))
def test_the_order_in_which_ports_are_listed_does_not_matter(network, random):
    y, (z,) = network
    order = list(range(len(y)))
    random.shuffle(order)
    assert_near(loaded(y[np.ix_(order, order)], z[order]), loaded(y, z)[np.ix_(order, order)], 1e-9)


@LAW
@given(loaded_networks(n_sets=2))
def test_chokes_may_be_added_in_any_order_or_all_at_once(network):
    y, (first, second) = network
    at_once = loaded(y, first + second)
    assert_near(loaded(loaded(y, first), second), at_once, 1e-9)
    assert_near(loaded(loaded(y, second), first), at_once, 1e-9)


@LAW
@given(networks())
def test_a_choke_of_no_impedance_is_no_choke(y):
    assert_near(loaded(y, np.zeros(len(y), complex)), y, 1e-12)


@LAW
@given(networks(least=2))
def test_an_endless_choke_leaves_the_network_without_its_port(y):
    # Elimination of the port: Y_ab - Y_ak Y_kb / Y_kk. OPEN is 1e9 ohm beside at most 5 kilohm; the
    # open port can stand at several hundred volts for one at another.
    z = np.zeros(len(y), complex)
    z[-1] = OPEN
    rest = y[:-1, :-1] - np.outer(y[:-1, -1], y[-1, :-1]) / y[-1, -1]
    found = loaded(y, z)
    assert_near(found[:-1, :-1], rest, 1e-5)
    assert np.abs(found[-1]).max() < 1e-6


@LAW
@given(loaded_networks(reciprocal=True))
def test_loads_keep_a_network_reciprocal(network):
    y, (z,) = network
    found = loaded(y, z)
    assert_near(found, found.T, 1e-9)


@LAW
@given(loaded_networks())
def test_a_passive_network_with_passive_loads_takes_power_and_all_of_it_is_accounted_for(network):
    y, (z,) = network
    w = port_voltages(y, z, drive(len(y)))
    current = port_currents(y, w)
    taken = 0.5 * current[0].real
    inside = 0.5 * np.vdot(w, y @ w).real
    in_loads = series_power(z, current).sum()
    assert inside >= 0
    assert in_loads >= 0
    # Voltages and currents of one volt: rounding of sums of up to a hundred such terms.
    assert taken == pytest.approx(inside + in_loads, rel=1e-8, abs=1e-13)


@LAW
@given(loaded_networks(), st.floats(0, 1000), st.floats(-1000, 1000))
def test_an_impedance_at_the_feed_itself_adds_to_what_the_feed_sees(network, r, x):
    y, (z,) = network
    before = 1 / loaded(y, z)[0, 0]
    after = 1 / loaded(y, z + (r + 1j * x) * drive(len(y)))[0, 0]
    assert after == pytest.approx(before + r + 1j * x, rel=1e-8)


@LAW
@given(loaded_networks(n_sets=3))
def test_sources_superpose_and_many_sets_at_once_equal_each_alone(network):
    y, (z, a, b) = network
    together = port_voltages(y, np.stack([z, z, z]), np.stack([a, b, 2 * a - 1j * b]))
    assert_near(together[2], 2 * together[0] - 1j * together[1], 1e-9)
    assert_near(together[1], port_voltages(y, z, b), 1e-9)


# The inside of the cable


@LAW
@given(passive(1), st.floats(0, 2), st.floats(0, 20), st.floats(10, 300))
def test_a_passive_line_takes_from_a_reflection_and_never_adds_to_it(z, loss, turn, z0):
    # A wave goes down the line and back: exp(-2 alpha l), whatever the load. Loads of up to three
    # kiloohm on a line of 10 ohm leave rounding of 1e-12 in 1 - |gamma|.
    at_load = abs(reflection_coefficient(z, z0))
    at_radio = abs(reflection_coefficient(input_impedance(z, z0, loss + 1j * turn, 1.0), z0))
    assert at_radio <= at_load + 1e-9
    np.testing.assert_allclose(at_radio, at_load * np.exp(-2 * loss), atol=1e-9)


@LAW
@given(
    st.sampled_from(coax_classes()),
    st.floats(30e6, 500e6),
    st.floats(0, 100),
    st.floats(1, 1000),
    st.floats(-1000, 1000),
)
def test_no_cable_of_the_catalogue_gives_power(cable, f, length, r, x):
    z = np.array([r + 1j * x])
    z_radio, loss_db = through_line(LineRun((LinePiece(cable, length),), 0.0), np.array([f]), z)
    at_load, at_radio = (abs(reflection_coefficient(v, cable.z0))[0] for v in (z, z_radio))
    assert at_radio <= at_load + 1e-12
    assert z_radio[0].real > 0
    assert loss_db[0] >= -1e-9
