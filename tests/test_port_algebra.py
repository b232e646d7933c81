"""Chokes and terminations by algebra, against solves with the solver's own load card."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from models.feedline_route import Step
from models.shield import Zone
from models.structure import Material, Structure
from pipeline.far_field import radiated_power
from pipeline.metrics import series_power
from pipeline.port_algebra import (
    OPEN,
    port_currents,
    port_voltages,
    reciprocity_errors,
    superpose,
)
from pipeline.port_basis import solve_basis
from pipeline.solver import SeriesLoad, solver_pattern, unit_source_currents
from tests.installations import AVERAGE, Plan, build, port_matrix

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
HANGING = Plan(joins="short leg", zones=(Zone(0.05, 0.1),))


@cache
def installed() -> tuple[Structure, NDArray[np.complex128]]:
    """Structure over real ground and its unit-source currents, shape (n_port, n_segment)."""
    built = build(INSTALLED)
    return built, unit_source_currents(built, np.array([FREQUENCY]), AVERAGE)[0]


def by_algebra(
    built: Structure, basis: NDArray[np.complex128], z: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Currents on all segments with one volt at the feed, shape (n_segment,)."""
    source = np.zeros(len(built.ports), complex)
    source[built.port_index("feed")] = 1.0
    y = basis[:, built.port_segments].T
    return superpose(basis, port_voltages(y, z, source))


def random_series(rng: np.random.Generator, n: int) -> NDArray[np.complex128]:
    """Series impedances as chokes, rods and leads have them, most ports without any."""
    z = np.zeros(n, complex)
    where = rng.choice(np.arange(1, n), size=rng.integers(1, 8), replace=False)
    z[where] = rng.uniform(0, 3000, len(where)) + 1j * rng.uniform(-2000, 2000, len(where))
    return z


# Published


@pytest.mark.parametrize("seed", range(20))
def test_algebra_and_the_load_card_of_the_solver_give_the_same_currents(seed):
    # One linear system solved in two orders: only rounding may differ. The load card is LD of
    # the NEC-2 user's guide (Burke and Poggio, 1981).
    built, basis = installed()
    z = random_series(np.random.default_rng(seed), len(built.ports))
    loads = tuple(
        SeriesLoad(built.port_segment(p), complex(value))
        for p, value in zip(built.ports, z, strict=True)
        if value
    )
    feed = (built.port_segment(built.ports[0]),)
    direct = unit_source_currents(built, np.array([FREQUENCY]), AVERAGE, loads=loads, sources=feed)[
        0, 0
    ]
    ours = by_algebra(built, basis, z)
    assert np.abs(ours - direct).max() < 1e-9 * np.abs(direct).max()


# Laws


def test_no_series_impedance_leaves_the_basis_of_the_feed():
    built, basis = installed()
    z = np.zeros(len(built.ports), complex)
    np.testing.assert_allclose(by_algebra(built, basis, z), basis[0], rtol=1e-12)


def test_an_open_port_carries_no_current():
    built, basis = installed()
    z = np.zeros(len(built.ports), complex)
    station = built.port_index("station")
    z[station] = OPEN
    current = by_algebra(built, basis, z)
    assert abs(current[built.port_segments[station]]) < 1e-6 * np.abs(current).max()


def test_the_order_in_which_ports_are_listed_does_not_matter():
    # The same network with its ports renumbered; only pivoting, that is rounding, may differ.
    built, basis = installed()
    rng = np.random.default_rng(5)
    z = random_series(rng, len(built.ports))
    y = basis[:, built.port_segments].T
    source = np.zeros(len(z), complex)
    source[0] = 1.0
    order = rng.permutation(len(z))
    turned = port_voltages(y[np.ix_(order, order)], z[order], source[order])
    np.testing.assert_allclose(turned, port_voltages(y, z, source)[order], rtol=1e-9, atol=1e-12)


def test_an_impedance_put_in_twice_over_is_their_sum():
    # Port 3 with a, then b in series with the loaded network seen from port 3 (Thevenin).
    built, basis = installed()
    a, b = 300 + 200j, 70 - 400j
    y = basis[:, built.port_segments].T
    z, source = np.zeros(len(y), complex), np.zeros(len(y), complex)
    source[0] = 1.0
    z[3] = a + b
    together = port_currents(y, port_voltages(y, z, source))[3]
    z[3] = a
    with_a = port_currents(y, port_voltages(y, z, source))[3]
    drive = np.eye(len(y), dtype=complex)[3]
    seen = port_currents(y, port_voltages(y, z, drive))[3]
    assert together == pytest.approx(with_a / (1 + b * seen), rel=1e-10)


def test_doubling_the_source_doubles_every_current():
    built, basis = installed()
    z = random_series(np.random.default_rng(3), len(built.ports))
    y = basis[:, built.port_segments].T
    source = np.zeros(len(built.ports), complex)
    source[0] = 1.0
    one = port_currents(y, port_voltages(y, z, source))
    np.testing.assert_allclose(
        port_currents(y, port_voltages(y, z, 2 * source)), 2 * one, rtol=1e-12
    )


def test_many_sets_at_once_equal_each_set_alone():
    built, basis = installed()
    rng = np.random.default_rng(4)
    z = np.stack([random_series(rng, len(built.ports)) for _ in range(50)])
    y = basis[:, built.port_segments].T
    source = np.zeros(z.shape, complex)
    source[:, 0] = 1.0
    together = port_voltages(y, z, source)
    alone = np.stack([port_voltages(y, row, source[0]) for row in z])
    np.testing.assert_allclose(together, alone, rtol=1e-10, atol=1e-14)


def test_the_feed_and_every_other_port_are_reciprocal_within_five_per_cent():
    # The limit of the grade "sound".
    built, basis = installed()
    error = reciprocity_errors(basis[:, built.port_segments].T)
    assert error[0].max() < 0.05


def test_no_port_delivers_power_whatever_is_connected():
    # Re(v* Y v) >= 0 for any v, up to the asymmetry of a point-matching solver (5 %).
    built, basis = installed()
    y = basis[:, built.port_segments].T
    hermitian = 0.5 * (y + y.conj().T)
    values = np.linalg.eigvalsh(hermitian)
    assert values.min() > -0.05 * values.max()


def test_what_enters_the_feed_in_free_space_is_radiated_or_lost_in_the_chokes():
    # The balance cannot close better than the average gain of the geometry departs from one.
    built = build(HANGING)
    basis = solve_basis(built, np.array([FREQUENCY]), 0, None)
    z = np.zeros(len(built.ports), complex)
    z[1:4] = 150 + 40j
    source = np.zeros(len(built.ports), complex)
    source[0] = 1.0
    w = port_voltages(basis.y_port[0], z, source)
    current = port_currents(basis.y_port[0], w)
    field = superpose(basis.e_port.reshape(len(w), -1), w).reshape(basis.e_port.shape[1:])
    into_feed = 0.5 * current[0].real
    used = radiated_power(field, basis.directions) + series_power(z, current).sum()
    gain = solver_pattern(built, FREQUENCY, None, lossless=True).average_gain
    assert used / into_feed == pytest.approx(1, abs=abs(gain - 1) + 0.01)


def test_a_mirrored_installation_has_the_same_port_matrix():
    # Everything lies in one vertical plane; turning the run indoors left or right is a mirror.
    # Nodes lie on a grid of a micrometre and mirror to within it: one part in ten thousand.
    left, right = (
        build(
            replace(
                INSTALLED,
                steps=(Step("out", 0.15), Step("down_to", 0.5), Step(turn, 1.0)),
            )
        )
        for turn in ("left", "right")
    )
    f = np.array([FREQUENCY])
    a, b = (port_matrix(unit_source_currents(s, f, AVERAGE), s) for s in (left, right))
    np.testing.assert_allclose(a, b, rtol=5e-4, atol=1e-6)


# Edges


def test_one_port_alone_is_a_voltage_divider():
    w = port_voltages(np.array([[0.02 + 0j]]), np.array([50.0 + 0j]), np.array([2.0 + 0j]))
    assert w[0] == pytest.approx(1.0)
