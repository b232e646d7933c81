"""The same figures of merit by direct solves with load cards, to hold the algebra against.

A structure with impedances in, one row of :class:`ensemble.Outcomes` out. No port
basis and no port algebra takes part: two solves a row, one with the choke and one with the
ideal one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.analysis.metrics import (
    directions_that_matter,
    gain_at_elevation,
    gain_dbi,
    pattern_change_db,
    series_power,
)
from pipeline.circuit.line import swr_on
from pipeline.montecarlo.ensemble import Outcomes, Reduced
from pipeline.solver import field_solver
from pipeline.solver.far_field import Directions, directive_power, far_field


@dataclass(frozen=True)
class Solve:
    """One direct solve: gain grid [dBi], feed impedance [ohm], currents [A]."""

    gain: NDArray[np.float64]
    z_feed: complex
    port: NDArray[np.complex128]
    shield: NDArray[np.complex128]


def solve_ideal(
    reduced: Reduced, soil: Soil | None, directions: Directions, z_ends: NDArray[np.complex128]
) -> Solve:
    """The ideal choke with one row of terminations, ``z_ends`` (n_port,) [ohm], by a direct solve.

    Raises
    ------
    SolverError
        If the solver refuses, crashes or hangs.
    """
    return _solve(reduced, soil, directions, z_ends + reduced.ideal)


def solve_row(
    reduced: Reduced,
    soil: Soil | None,
    directions: Directions,
    z_ends: NDArray[np.complex128],
    z_choke: NDArray[np.complex128],
    against: Solve | None = None,
) -> Outcomes:
    """Figures of merit of one combination by direct solves.

    Parameters
    ----------
    reduced : Reduced
        For its structure, frequency and elevation; its matrices are not used.
    soil : Soil or None
        Ground.
    directions : Directions
        As those of the reduced geometry's port basis.
    z_ends, z_choke : ndarray, shape (n_port,)
        Series impedances without the choke, and those of the choke alone. [ohm]
    against : Solve, optional
        The ideal choke, where it is that of another geometry; default: solved here.

    Returns
    -------
    Outcomes
        Arrays of shape (1,).

    Raises
    ------
    SolverError
        If the solver refuses, crashes or hangs.
    """
    case = _solve(reduced, soil, directions, z_ends + z_choke)
    ideal = against or solve_ideal(reduced, soil, directions, z_ends)
    theta, elevation = directions.theta, reduced.elevation_deg
    mean, best = (gain_at_elevation(s.gain, theta, elevation).mean for s in (case, ideal))
    matters = directions_that_matter(ideal.gain, theta)
    swr, swr_ideal = (float(swr_on(np.array([s.z_feed]), reduced.z0)[0]) for s in (case, ideal))
    i_feed = 1 / case.z_feed
    structure = reduced.structure
    station = case.port[structure.port_index("station")] if structure.has_port("station") else 0.0
    heat = series_power(z_choke, case.port).sum() / (0.5 * i_feed.real)
    row = {
        "z_feed": case.z_feed,
        "swr": swr,
        "swr_change": swr - swr_ideal,
        "station_ratio": abs(station / i_feed),
        "shield_ratio": np.abs(case.shield).max(initial=0.0) / abs(i_feed),
        "mean_gain_dbi": mean,
        "mean_gain_change_db": mean - best,
        "pattern_rms_db": pattern_change_db(case.gain, ideal.gain, matters)[1],
        "choke_share": heat,
    }
    arrays: dict[str, Any] = {name: np.array([value]) for name, value in row.items()}
    return Outcomes(**arrays, limits=reduced.limits)


def _solve(
    reduced: Reduced, soil: Soil | None, directions: Directions, z: NDArray[np.complex128]
) -> Solve:
    structure, f = reduced.structure, reduced.frequency
    loads = _loads(structure, z)
    # All wires of a feed that is several together are driven by the first source of the ports.
    fed = Structure(structure.name, structure.wires, structure.ports[:1], structure.shield_path)
    current = field_solver.SOLVER.unit_source_currents(fed, np.array([f]), soil, loads=loads)[0]
    field = far_field(structure.segments, current, f, soil, directions)[0]
    port = structure.through_ports(current)[0]
    i_feed = complex(port[structure.port_index("feed")])
    shield = current[0, [segment for segment, _ in structure.shield_path]]
    gain = gain_dbi(directive_power(field), 0.5 * i_feed.real)
    return Solve(gain, 1 / i_feed, port, shield)


def _loads(structure: Structure, z: NDArray[np.complex128]) -> tuple[SeriesLoad, ...]:
    """Impedances of ports as load cards, one for each wire of a port of several in parallel."""
    return tuple(
        SeriesLoad(segment, complex(impedance) * len(group))
        for impedance, group in zip(z, structure.port_groups, strict=True)
        if impedance != 0
        for segment in group
    )
