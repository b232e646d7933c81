"""What each candidate of a study puts in series with the shield, and what it does to the line.

Choices of a study in, impedance over frequency and lengths of cable out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass, conductor, ferrite_material
from pipeline.circuit.choke import (
    IDEAL_CHOKE_OHM,
    SleeveSection,
    ferrite_impedance,
    interpolate_over_log_f,
    sleeve_impedance,
    sleeve_quarter_wave_length,
    tabulated_impedance,
)
from pipeline.circuit.coil import coil_impedance
from pipeline.circuit.line import (
    SHIELD_METAL,
    absorbing,
    attenuation,
    input_impedance,
    propagation_constant,
    total_loss_db,
)
from pipeline.study.coil_making import own_cable
from pipeline.study.records import (
    ChokeChoice,
    CoilChoice,
    FerriteChoice,
    SleeveChoice,
    Study,
    TableChoice,
)


def sleeve_section(choice: SleeveChoice, cable: CoaxClass) -> SleeveSection:
    """Cross-section of a sleeve over a cable."""
    return SleeveSection(
        shield_diameter=cable.shield_diameter,
        jacket_diameter=cable.jacket_diameter,
        jacket_eps_r=cable.jacket_eps_r,
        sleeve_inner_diameter=choice.pipe.outside_diameter - 2 * choice.pipe.wall,
        sigma_shield=conductor(SHIELD_METAL).sigma,
        sigma_sleeve=choice.pipe.sigma,
    )


def sleeve_length(choice: SleeveChoice, study: Study) -> float:
    """Length of a sleeve [m]: as given, or a quarter wave of its line at the design frequency."""
    if choice.length is not None:
        return choice.length
    return sleeve_quarter_wave_length(study.frequency, sleeve_section(choice, study.cable.type))


def sleeve_as_cut(
    choice: SleeveChoice, study: Study, factor: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Impedance of sleeves that came out longer or shorter than the study says.

    Parameters
    ----------
    choice : SleeveChoice
        The candidate.
    study : Study
        For the cable it sits on and the design frequency.
    factor : ndarray, shape (n,)
        Length over that of the candidate. [-]

    Returns
    -------
    ndarray, complex, shape (n,)
        Choking impedance at the design frequency. [ohm]
    """
    section = sleeve_section(choice, study.cable.type)
    return sleeve_impedance(study.frequency, factor * sleeve_length(choice, study), section)


def _ferrite(choice: FerriteChoice, f: NDArray[np.float64]) -> NDArray[np.complex128]:
    material = ferrite_material(choice.core.material)
    mu_r = interpolate_over_log_f(f, material.frequency, material.mu_r)
    core = choice.core
    return ferrite_impedance(
        f, mu_r, core.outer_diameter, core.inner_diameter, core.length, choice.count
    )


def z_choke(choice: ChokeChoice, study: Study, f: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Series impedance of one candidate.

    Parameters
    ----------
    choice : ChokeChoice
        Any kind; a coil is taken as a lumped part, also one that is drawn as wire elsewhere.
    study : Study
        For the cable it sits on and the design frequency.
    f : ndarray, shape (n_f,)
        Frequencies. [Hz]

    Returns
    -------
    ndarray, complex, shape (n_f,)
        Impedance. [ohm]

    Raises
    ------
    ValueError
        If a table does not reach a frequency.
    """
    match choice:
        case FerriteChoice():
            return _ferrite(choice, f)
        case CoilChoice():
            return coil_impedance(
                f,
                choice.turns,
                choice.diameter,
                choice.pitch,
                choice.cable.shield_diameter,
                conductor(SHIELD_METAL).sigma,
            )
        case SleeveChoice():
            section = sleeve_section(choice, study.cable.type)
            return sleeve_impedance(f, sleeve_length(choice, study), section)
        case TableChoice():
            return tabulated_impedance(f, choice.f, choice.z_choke)
        case _:
            return np.full(len(f), IDEAL_CHOKE_OHM, dtype=np.complex128)


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


def line_run(study: Study, choke: ChokeChoice | None, route_length: float) -> LineRun:
    """The cable's inside for one candidate; ``route_length`` [m] is that without any coil.

    A coil needs its cable on top of the run. One of another class of cable is a jumper from the
    tap to the end of the coil, joined to the main cable with one more pair of connectors.
    """
    cable = study.cable
    length = route_length if cable.length is None else cable.length
    if not isinstance(choke, CoilChoice):
        pieces: tuple[LinePiece, ...] = (LinePiece(cable.type, length),)
        return LineRun(pieces, cable.connectors * cable.connector_loss_db)
    if choke.cable == cable.type:
        pieces = (LinePiece(cable.type, length + own_cable(choke, cable.type)),)
        return LineRun(pieces, cable.connectors * cable.connector_loss_db)
    jumper = own_cable(choke, cable.type)
    rest = length - choke.position - choke.turns * choke.pitch
    pieces = (LinePiece(choke.cable, jumper), LinePiece(cable.type, rest))
    return LineRun(pieces, (cable.connectors + 2) * cable.connector_loss_db)


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
