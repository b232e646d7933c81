"""Impedance of the circuit elements in an antenna: coils, capacitors, stubs, mouths of sleeves."""

from __future__ import annotations

from functools import singledispatch

import numpy as np
from numpy.typing import NDArray

from models.quantities import SPEED_OF_LIGHT
from models.wires.loads import Capacitor, Coil, SeriesLoad, ShortedLine, SleeveMouth, Termination
from models.wires.structure import Structure
from pipeline.circuit.ferrite_and_sleeve import SleeveSection, sleeve_impedance

NEPER_PER_DB = np.log(10) / 20


@singledispatch
def element_impedance(
    element: object, f: NDArray[np.float64], frequency: float
) -> NDArray[np.complex128]:
    """Series impedance of an element over frequencies, shape (n_f,). [ohm]

    ``frequency`` [Hz] is the design frequency, at which quality factor and loss are stated.

    Notes
    -----
    A coil or capacitor of quality Q has the series resistance |X| / Q at the design frequency,
    and the square root of frequency times it elsewhere (skin effect). A line of length l closed
    at its end has Z0 tanh(gamma l) (Pozar, Microwave Engineering, eq. 2.91, from memory).

    Examples
    --------
    >>> f = np.array([145e6])
    >>> z = element_impedance(Coil(100e-9, 200.0), f, 145e6)[0]
    >>> round(float(z.real), 3), round(float(z.imag), 2)
    (0.456, 91.11)
    """
    raise TypeError(f"no impedance is known for {element!r}")


@element_impedance.register
def _(element: Coil, f: NDArray[np.float64], frequency: float) -> NDArray[np.complex128]:
    loss = 2 * np.pi * frequency * element.inductance / element.quality
    return loss * np.sqrt(f / frequency) + 2j * np.pi * f * element.inductance


@element_impedance.register
def _(element: Capacitor, f: NDArray[np.float64], frequency: float) -> NDArray[np.complex128]:
    loss = 1 / (2 * np.pi * frequency * element.capacitance * element.quality)
    return loss * np.sqrt(f / frequency) + 1 / (2j * np.pi * f * element.capacitance)


@element_impedance.register
def _(element: ShortedLine, f: NDArray[np.float64], frequency: float) -> NDArray[np.complex128]:
    alpha = NEPER_PER_DB * element.loss_db_per_m * np.sqrt(f / frequency)
    beta = 2 * np.pi * f / (SPEED_OF_LIGHT * element.velocity_factor)
    return np.asarray(element.z0 * np.tanh((alpha + 1j * beta) * element.length))


@element_impedance.register
def _(element: SleeveMouth, f: NDArray[np.float64], frequency: float) -> NDArray[np.complex128]:
    del frequency
    section = SleeveSection(
        element.rod,
        element.rod_jacket,
        element.jacket_eps_r,
        element.bore,
        element.rod_conductivity,
        element.wall_conductivity,
    )
    line = sleeve_impedance(f, element.length, section)
    return np.asarray(1 / (1 / line + 2j * np.pi * f * element.capacitance))


@element_impedance.register
def _(element: Termination, f: NDArray[np.float64], frequency: float) -> NDArray[np.complex128]:
    del frequency
    return np.full(len(f), complex(element.impedance))


def load_impedances(
    structure: Structure, f: NDArray[np.float64], frequency: float
) -> NDArray[np.complex128]:
    """Series impedance of the antenna's own elements at every port, shape (n_f, n_port) [ohm].

    ``f`` has shape (n_f,), ``frequency`` is the design frequency [Hz].
    """
    z = np.zeros((len(f), len(structure.ports)), complex)
    for load in structure.loads:
        z[:, structure.port_index(load.name)] += element_impedance(load.element, f, frequency)
    return z


def twin_loads(structure: Structure, frequency: float) -> tuple[SeriesLoad, ...]:
    """The antenna's own elements without their losses, for the lossless twin; not the feed's.

    What is in series with the feed changes neither the power that goes in nor what is radiated.
    """
    z = load_impedances(structure, np.array([frequency]), frequency)[0]
    return tuple(
        SeriesLoad(structure.port_segment(port), 1j * float(value.imag))
        for port, value in zip(structure.ports, z, strict=True)
        if value.imag != 0 and port.name != "feed"
    )
