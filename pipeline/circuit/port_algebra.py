"""Series impedances on ports as exact linear algebra; NumPy only.

A source in a segment and a series load in the same segment are the same entry of the moment
matrix. So from the currents at all ports for one volt at each (the port admittance matrix Y)
every set of series impedances follows by i = (I + Y Z)^-1 Y v, without another field solve.

Currents per volt so contain every choke, count, position and termination; the solver's own load
card says the same (tests/circuit/test_port_algebra.py).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# Series impedance that stands for an open port; the algebra stays finite with it.
OPEN = 1e9


def port_voltages(
    y_port: NDArray[np.complex128],
    z_series: NDArray[np.complex128],
    source: NDArray[np.complex128],
) -> NDArray[np.complex128]:
    """Voltages left across the segments of all ports, once sources and impedances act. [V]

    Parameters
    ----------
    y_port : ndarray, shape (..., n_port, n_port)
        Port admittance matrix: current at i for one volt at j. [S]
    z_series : ndarray, shape (..., n_port)
        Series impedance at each port. [ohm]
    source : ndarray, shape (..., n_port)
        Source voltage in series with each impedance. [V]

    Returns
    -------
    ndarray, shape (..., n_port)
        w = v - Z i. Every current and field is the sum over ports of w times the basis.

    Notes
    -----
    i = Y w and w = v - Z i give (I + Z Y) w = v. Solving for w and not for i keeps an open port
    (very large Z) accurate: its row reads (Y w)_i = v_i / Z_i.

    References
    ----------
    .. [1] R. F. Harrington, "Reactively controlled directive arrays", IEEE Trans. AP-26, 1978,
       eq. 4 (loaded N-port; from memory).

    Examples
    --------
    >>> y = np.array([[0.02, 0.0], [0.0, 0.01]], dtype=complex)
    >>> w = port_voltages(y, np.array([50.0, 0.0]), np.array([1.0, 0.0]))
    >>> w.real.tolist()
    [0.5, 0.0]
    """
    z = np.asarray(z_series, complex)
    # Rows divided by 1 + |Z|: a row with a huge impedance must not spoil the pivoting.
    scale = 1.0 / (1.0 + np.abs(z))
    matrix = (z * scale)[..., :, None] * y_port
    n = y_port.shape[-1]
    matrix = matrix + scale[..., :, None] * np.eye(n)
    right = (np.asarray(source, complex) * scale)[..., None]
    matrix, right = np.broadcast_arrays(matrix, right)[0], right
    return np.asarray(np.linalg.solve(matrix, np.broadcast_to(right, (*matrix.shape[:-1], 1))))[
        ..., 0
    ]


def fed_voltages(
    y_port: NDArray[np.complex128], z_series: NDArray[np.complex128], feed: int
) -> NDArray[np.complex128]:
    """Voltages of :func:`port_voltages` for one volt behind the port ``feed`` alone. [V]

    Definition.

    Examples
    --------
    >>> fed_voltages(np.diag([0.02 + 0j, 0.01]), np.array([50.0, 0.0]), 0).real.tolist()
    [0.5, 0.0]
    """
    z = np.asarray(z_series, complex)
    used = (z != 0).any(axis=tuple(range(z.ndim - 1)))
    used[feed] = True
    # A port that is shorted everywhere and has no source has no voltage: it falls out.
    active = np.flatnonzero(used)
    source = np.zeros((1,) * (z.ndim - 1) + (len(active),), complex)
    source[..., np.searchsorted(active, feed)] = 1.0
    w = np.zeros(np.broadcast_shapes(z.shape, y_port.shape[:-1]), complex)
    w[..., active] = port_voltages(y_port[..., active[:, None], active], z[..., active], source)
    return w


def loaded_admittance(
    y_port: NDArray[np.complex128], z_series: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Port admittance matrix with impedances in series with the ports, Y (I + Z Y)^-1. [S]

    ``y_port`` (n_port, n_port) [S] is without them, ``z_series`` (n_port,) [ohm]. Reference as for
    :func:`port_voltages` (Harrington, 1978).

    Examples
    --------
    >>> y = np.array([[0.02, 0.0], [0.0, 0.01]], dtype=complex)
    >>> loaded_admittance(y, np.array([50.0, 0.0])).real.tolist()
    [[0.01, 0.0], [0.0, 0.01]]
    """
    n = y_port.shape[-1]
    w = port_voltages(y_port, z_series, np.eye(n, dtype=complex))
    # Row j of w holds the voltages for a source at port j.
    return np.asarray(y_port @ w.T)


def port_currents(
    y_port: NDArray[np.complex128], w: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Currents at all ports, shape (..., n_port), from the voltages of :func:`port_voltages`. [A]

    Definition: i = Y w.

    Examples
    --------
    >>> port_currents(np.diag([0.02 + 0j, 0.01]), np.array([0.5, 0.0])).real.tolist()
    [0.01, 0.0]
    """
    return superpose(np.swapaxes(y_port, -1, -2), w)


def superpose(basis: NDArray[np.complex128], w: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Any linear quantity of the whole structure: sum over ports of w times its basis.

    ``basis`` has shape (..., n_port, n), ``w`` shape (..., n_port); the result (..., n).
    Definition: superposition of the responses to each port.

    Examples
    --------
    >>> superpose(np.array([[1.0, 2.0], [10.0, 20.0]]), np.array([1.0, 0.5])).tolist()
    [6.0, 12.0]
    """
    if basis.ndim > 2:
        return np.asarray(np.einsum("...pn,...p->...n", basis, w))
    # Most ports are shorted and have no voltage.
    used = np.flatnonzero((w != 0).any(axis=tuple(range(w.ndim - 1))))
    return np.asarray(w[..., used] @ basis[used])


def reciprocity_errors(y_port: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Departure from symmetry of every pair of ports, |Yij - Yji| / sqrt(|Yii Yjj|). [-]

    ``y_port`` (..., n_port, n_port) [S]. A transfer admittance far below sqrt(|Yii Yjj|) carries no
    power between its ports, so the difference is measured against that and not against itself.
    Definition.

    Examples
    --------
    >>> y = np.array([[1.0, 0.5], [0.4, 1.0]])
    >>> np.round(reciprocity_errors(y), 3).tolist()
    [[0.0, 0.1], [0.1, 0.0]]
    """
    own = np.sqrt(np.abs(np.einsum("...ii->...i", y_port)))
    difference = np.abs(y_port - np.swapaxes(y_port, -1, -2))
    return np.asarray(difference / (own[..., :, None] * own[..., None, :]))


def transfer_asymmetry(y_port: NDArray[np.complex128], port: int) -> float:
    """Asymmetry of the transfer admittances between one port and all others. [-]

    Definition: root of the sum of |Yij - Yji|^2 over that of |(Yij + Yji) / 2|^2, the relative
    error of a current driven from this port, the larger admittances counting most. Zero where there
    is no other port. ``y_port`` (n_port, n_port) [S].

    Examples
    --------
    >>> round(transfer_asymmetry(np.array([[1.0, 0.5], [0.4, 1.0]]), 0), 3)
    0.222
    """
    there = np.delete(y_port[port], port)
    back = np.delete(y_port[:, port], port)
    size = float(np.linalg.norm(0.5 * (there + back)))
    return float(np.linalg.norm(there - back)) / size if size else 0.0
