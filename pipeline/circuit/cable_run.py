"""The inside of the cable from antenna to radio: pieces of line in a row, in ohms and dB."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass
from pipeline.circuit.line import (
    absorbing,
    attenuation,
    input_impedance,
    propagation_constant,
    total_loss_db,
)


@dataclass(frozen=True)
class LinePiece:
    """A length [m] of one class of cable."""

    cable: CoaxClass
    length: float


@dataclass(frozen=True)
class LineRun:
    """The inside of the cable from the antenna to the radio, and its connectors."""

    pieces: tuple[LinePiece, ...]
    connector_loss_db: float

    def length(self) -> float:
        """Cable in all. [m]"""
        return sum(piece.length for piece in self.pieces)


def through_line(
    run: LineRun, f: NDArray[np.float64], z_feed: NDArray[np.complex128]
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """What the radio sees, and the loss between radio and antenna.

    Parameters
    ----------
    run : LineRun
        Cable from the antenna to the radio.
    f : ndarray, shape (n_f,)
        Frequencies. [Hz]
    z_feed : ndarray, complex, shape (n_f,)
        Impedance of the antenna, taken as :func:`absorbing` has it. [ohm]

    Returns
    -------
    z_radio : ndarray, complex, shape (n_f,)
        Impedance at the radio. [ohm]
    loss_db : ndarray, shape (n_f,)
        Loss with the mismatch at the antenna, connectors included. [dB]
    """
    z, loss = absorbing(z_feed), np.full(len(f), run.connector_loss_db)
    for piece in run.pieces:
        cable = piece.cable
        per_metre = attenuation(f, cable.k1, cable.k2)
        propagation = propagation_constant(f, cable.velocity_factor, per_metre)
        loss = loss + total_loss_db(z, cable.z0, propagation, piece.length)
        z = input_impedance(z, cable.z0, propagation, piece.length)
    return z, loss
