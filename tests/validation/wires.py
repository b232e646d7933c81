"""Straight wires, and tubes drawn as cages, for the comparisons with published values.

Lengths in wavelengths: inside the engine ``ONE_METRE`` is the frequency of a wavelength of 1 m.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.pipe_cage import RIM_PER_RADIUS, Cage, cage_ring_radius, ring, ring_nodes
from models.wires.structure import PERFECT, Port, Structure, Wire, grid_point
from pipeline.solver.far_field import Directions, directive_power, far_field, radiated_power
from pipeline.solver.nec2 import unit_source_currents

ONE_METRE = SPEED_OF_LIGHT_NEC
METAL = Soil(1.0, 1e9)
# The correction for thickness goes as one over 2 ln(length / radius): four points, a cubic.
VANISHING = (1e-5, 1e-7, 1e-9, 1e-12)


def upright(length: float, radius: float, n: int, low: float | None = None) -> Structure:
    """A vertical wire fed in its middle, its middle at the origin or its foot at ``low``."""
    foot = -length / 2 if low is None else low
    wire = Wire((0.0, 0.0, foot), (0.0, 0.0, foot + length), n, radius, "antenna")
    return Structure("upright", (wire,), (Port("feed", 0, n // 2),))


def feed_currents(
    built: Structure, frequency: float = ONE_METRE, soil: Soil | None = None
) -> NDArray[np.complex128]:
    """Segment currents for one volt at each port in turn, shape (n_port, n_segment) [A]."""
    return unit_source_currents(built, np.array([frequency]), soil)[0]


def impedance(built: Structure, frequency: float = ONE_METRE, soil: Soil | None = None) -> complex:
    """Input impedance at the first port, the others shorted. [ohm]"""
    current = feed_currents(built, frequency, soil)
    return complex(1 / current[0, built.port_segments[0]])


def thin_limit(z: Callable[[float], complex], length: float) -> complex:
    """What an impedance approaches as the wire's radius vanishes. [ohm]"""
    thickness = [1 / (2 * np.log(length / radius)) for radius in VANISHING]
    values = [z(radius) for radius in VANISHING]
    degree = len(VANISHING) - 1
    real = np.polyfit(thickness, np.real(values), degree)[-1]
    return complex(real, np.polyfit(thickness, np.imag(values), degree)[-1])


def directivity_dbi(
    built: Structure, current: NDArray[np.complex128], soil: Soil | None = None
) -> float:
    """Largest directivity of one set of currents on wires along the z axis. [dBi]

    Over metal the grid ends a twentieth of a degree above the horizon: metal of finite
    conductivity has its last dip a thousandth of a degree up.
    """
    theta = np.arange(0.0, 180.1, 0.5)
    if soil is not None:
        theta = np.append(theta[theta < 90.0], 89.95)
    grid = Directions(np.radians(theta), np.array([0.0]))
    field = far_field(built.segments, current[None], ONE_METRE, soil, grid)[0]
    power = radiated_power(field, grid)
    return float(10 * np.log10(4 * np.pi * directive_power(field).max() / power))


def tube_dipole(
    length: float, tube_radius: float, n: int = 31, wire_radius: float | None = None, wires: int = 4
) -> Structure:
    """A fat dipole as the project draws pipe: a cage with hooped ends, its wires fed alike.

    Unless said otherwise the wires are four of 4/11 of the tube's radius. They stop short of the
    ends as those of the antennas do, since the hoop has a thickness of its own.
    """
    radius = 4 / 11 * tube_radius if wire_radius is None else wire_radius
    ring_radius = cage_ring_radius(tube_radius, radius, wires)
    cage = Cage(wires, ring_radius, radius, "antenna", PERFECT)
    tip = length / 2 - RIM_PER_RADIUS * radius
    path = np.array([(0.0, 0.0, -tip), (0.0, 0.0, tip)])
    nodes = ring_nodes(path, np.array([0.0, -1.0, 0.0]), cage)
    drawn = [
        Wire(grid_point(low), grid_point(high), n, radius, "antenna")
        for low, high in zip(*nodes, strict=True)
    ]
    ports = tuple(Port(f"feed {k}", k, n // 2) for k in range(wires))
    return Structure("tube", (*drawn, *ring(nodes[0], cage), *ring(nodes[1], cage)), ports)


def tube_impedance(built: Structure, frequencies: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Input impedance of a cage whose wires are all fed with the same volt. [ohm]"""
    currents = unit_source_currents(built, frequencies, None)
    # The same volt across all wires: the tube's current is the sum over both indices.
    return np.asarray(1 / currents[:, :, built.port_segments].sum(axis=(1, 2)))
