"""What the property tests draw, and what they do with it: networks, impedances, loaded networks."""

from __future__ import annotations

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from pipeline.circuit.port_algebra import port_currents, port_voltages

# The same draws in every run: what fails here fails everywhere.
LAW = settings(derandomize=True, deadline=None, max_examples=60)


def passive(n: int) -> st.SearchStrategy[NDArray[np.complex128]]:
    """Impedances that chokes, rods and leads may have, shape (n,) [ohm]."""
    parts = arrays(np.float64, (2, n), elements=st.floats(-1, 1, width=32))
    return parts.map(lambda p: 3000 * np.abs(p[0]) + 2000j * p[1])


@st.composite
def networks(draw: st.DrawFn, least: int = 1, reciprocal: bool = False) -> NDArray[np.complex128]:
    """A passive port matrix, reciprocal if asked for: any that no voltages draw power out of."""
    n = draw(st.integers(least, 6))
    a, b, c = draw(arrays(np.float64, (3, n, n), elements=st.floats(-1, 1, width=32)))
    # Of the size of an antenna's; a floor of 0.2 mS, since none is quite without loss.
    y = a @ a.T + 0.01 * np.eye(n) + 1j * (b + b.T)
    # What is real and changes sign with the direction neither takes power nor gives it.
    return np.asarray(0.02 * (y if reciprocal else y + c - c.T))


@st.composite
def loaded_networks(
    draw: st.DrawFn, n_sets: int = 1, reciprocal: bool = False
) -> tuple[NDArray[np.complex128], list[NDArray[np.complex128]]]:
    """A network and sets of impedances for its ports."""
    y = draw(networks(reciprocal=reciprocal))
    return y, [draw(passive(len(y))) for _ in range(n_sets)]


def drive(n: int, port: int = 0) -> NDArray[np.complex128]:
    """One volt at one port."""
    return np.eye(n, dtype=complex)[port]


def loaded(y: NDArray[np.complex128], z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Port matrix of a network with impedances put in series with its ports."""
    return port_currents(y, port_voltages(y, z, np.eye(len(y), dtype=complex))).T


def assert_near(a: NDArray[np.complex128], b: NDArray[np.complex128], part: float) -> None:
    """Equal to a part of the largest entry."""
    assert np.abs(a - b).max() <= part * np.abs(b).max()
