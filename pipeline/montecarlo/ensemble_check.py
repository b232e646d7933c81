"""The same figures of merit by direct solves with load cards, to hold the algebra against.

A structure with impedances in, one row of figures of merit out. No port
basis and no port algebra takes part: two solves a row, one with the choke and one with the
ideal one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.analysis.case_results import station_current
from pipeline.analysis.figures_of_merit import Merit, Rows, merit_of, reference_of
from pipeline.analysis.many_cases import ReducedBasis
from pipeline.analysis.metrics import gain_dbi, low_angles, ring_at, series_power
from pipeline.circuit.line import power_in
from pipeline.solver.far_field import Directions, directive_power, far_field
from pipeline.solver.nec2 import unit_source_currents

Complex = NDArray[np.complex128]


def solve_rows(
    reduced: ReducedBasis,
    soil: Soil | None,
    directions: Directions,
    z_ends: Complex,
    z_choke: Complex,
) -> Rows:
    """One combination by a direct solve, as one row for figures of merit.

    Parameters
    ----------
    reduced : ReducedBasis
        For its structure, frequency and elevation; its matrices are not used.
    soil : Soil or None
        Ground.
    directions : Directions
        As those of the reduced geometry's port basis.
    z_ends, z_choke : ndarray, shape (n_port,)
        Series impedances without the choke, and those of the choke alone. [ohm]

    Raises
    ------
    SolverError
        If the solver refuses, crashes or hangs.
    """
    structure, f = reduced.structure, reduced.frequency
    # All wires of a feed that is several together are driven by the first source of the ports.
    fed = Structure(structure.name, structure.wires, structure.ports[:1], structure.shield_path)
    loads = _loads(structure, z_ends + z_choke)
    current = unit_source_currents(fed, np.array([f]), soil, loads=loads)[0]
    field = far_field(structure.segments, current, f, soil, directions)
    port = structure.through_ports(current)
    i_feed = port[:, structure.port_index("feed")]
    gain = gain_dbi(directive_power(field), power_in(i_feed))
    return Rows(
        z0=reduced.z0,
        i_feed=i_feed,
        i_station=station_current(structure, port),
        i_shield=current[:, [segment for segment, _ in structure.shield_path]],
        gain_low=gain[:, low_angles(directions.theta)],
        gain_ring=gain[:, ring_at(directions.theta, reduced.elevation_deg)],
        choke_heat=series_power(z_choke, port).sum(axis=1),
        z_choke=z_choke.sum(keepdims=True),
    )


def solve_merit(
    reduced: ReducedBasis,
    soil: Soil | None,
    directions: Directions,
    z_ends: Complex,
    z_choke: Complex,
    against: Rows | None = None,
) -> Merit:
    """Figures of merit of one combination by direct solves; arguments as of :func:`solve_rows`.

    ``against`` is the ideal choke, where it is that of another geometry; default: solved here.
    """
    rows = solve_rows(reduced, soil, directions, z_ends, z_choke)
    ideal = against or solve_rows(reduced, soil, directions, z_ends, reduced.ideal)
    return merit_of(rows, reference_of(ideal), reduced.limits)


def _loads(structure: Structure, z: NDArray[np.complex128]) -> tuple[SeriesLoad, ...]:
    """Impedances of ports as load cards, one for each wire of a port of several in parallel."""
    return tuple(
        SeriesLoad(segment, complex(impedance) * len(group))
        for impedance, group in zip(z, structure.port_groups, strict=True)
        if impedance != 0
        for segment in group
    )
