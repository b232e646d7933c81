"""One straight lossless wire in free space by the method of moments, in NumPy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.quantities import MU_0, SPEED_OF_LIGHT
from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.solver.far_field import Directions, evenly_round, far_field, radiated_power
from pipeline.text.errors import Fault, SolverError

# Of this solver's stored solves: a number that no other solver has.
FORMAT = 1001


def _refuse(structure: Structure, soil: Soil | None) -> None:
    line = structure.segments.direction
    rule = ""
    if soil is not None:
        rule = "stands over soil; this solver knows free space only"
    elif not np.allclose(line, line[0]):
        rule = "is bent; this solver knows one straight wire only"
    if rule:
        place = f"geometry {structure.name}"
        raise SolverError(Fault(place, "", rule, "use another solver", "solver-refused"))


def _psi(edges: NDArray[np.float64], radius: float, k: float) -> NDArray[np.complex128]:
    """exp(-jkR) / (4 pi R) at each cell's middle, averaged over each cell. [1/m]

    The part that is singular in closed form, the rest at the middle (Harrington, "Field
    Computation by Moment Methods", 1968, section 4-2).
    """
    middle, length = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    away = middle[:, None] - middle[None, :]
    ends = np.arcsinh((away + length / 2) / radius) - np.arcsinh((away - length / 2) / radius)
    r = np.hypot(away, radius)
    return np.asarray((ends / length + (np.exp(-1j * k * r) - 1) / r) / (4 * np.pi))


def _impedances(structure: Structure, f: float) -> NDArray[np.complex128]:
    """Voltage along each segment per current in each, shape (n_segment, n_segment). [ohm]

    The charge of two neighbours' difference lies between their centres.
    """
    s, omega = structure.segments, 2 * np.pi * f
    k, radius = omega / SPEED_OF_LIGHT, float(s.radius[0])
    edges = np.concatenate([[0.0], np.cumsum(s.length)])
    centres = 0.5 * (edges[1:] + edges[:-1])
    charges = _psi(np.concatenate([[0.0], centres, edges[-1:]]), radius, k)
    n = len(s)
    # Current n leaves cell n and enters cell n + 1.
    flow = np.eye(n + 1, n, -1) - np.eye(n + 1, n)
    magnetic = 1j * omega * MU_0 * np.outer(s.length, s.length) * _psi(edges, radius, k)
    electric = flow.T @ charges @ flow * MU_0 * SPEED_OF_LIGHT**2 / (1j * omega)
    return np.asarray(magnetic + electric)


def unit_source_currents(
    structure: Structure,
    frequencies: NDArray[np.float64],
    soil: Soil | None,
    lossless: bool = False,
    loads: tuple[SeriesLoad, ...] = (),
    sources: tuple[int, ...] | None = None,
) -> NDArray[np.complex128]:
    """Currents for one volt at each source in turn; ``lossless`` is what this wire always is."""
    _refuse(structure, soil)
    fed = [(s,) for s in sources] if sources is not None else structure.port_groups
    volts = np.zeros((len(structure.segments), len(fed)))
    for column, group in enumerate(fed):
        volts[list(group), column] = 1.0
    found = []
    for f in frequencies:
        z = _impedances(structure, float(f))
        for load in loads:
            z[load.segment, load.segment] += load.impedance
        found.append(np.linalg.solve(z, volts).T)
    return np.array(found)


def average_gain(
    structure: Structure,
    frequency: float,
    loads: tuple[SeriesLoad, ...] = (),
    step_deg: float = 5.0,
) -> float:
    """Radiated over input power, from the far field that the project makes of any currents."""
    current = unit_source_currents(structure, np.array([frequency]), None, True, loads)[0, :1]
    polar = np.radians(np.arange(0.0, 180.0 + step_deg, step_deg))
    sphere = Directions(polar, evenly_round(72))
    field = far_field(structure.segments, current, frequency, None, sphere)[0]
    power = 0.5 * structure.through_ports(current)[0, 0].real
    return float(radiated_power(field, sphere) / power)


def solve_memory(n_segments: int, n_ports: int, n_frequencies: int) -> float:
    """Matrix and its factors, and the currents. [bytes]"""
    return 16.0 * (2 * n_segments**2 + n_frequencies * n_ports * n_segments)
