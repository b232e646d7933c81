"""Draws solved again with the solver's own load cards, to hold the algebra against.

Each is drawn and solved anew with its impedances as loads on segments: neither port basis nor port
algebra takes part, and no port but the feed has a source. Two solves a row, one with the choke and
one with the ideal one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.analysis.case_results import station_current
from pipeline.analysis.figures_of_merit_and_score import Merit, Rows, merit_of, reference_of
from pipeline.analysis.many_cases import ReducedBasis
from pipeline.analysis.metrics import gain_dbi, low_angles, ring_at, series_power
from pipeline.chokes.kind import Choke
from pipeline.circuit.line import power_in
from pipeline.montecarlo.installations import Installation
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

    Of ``reduced`` structure, frequency and elevation are used, its matrices are not; ``directions``
    are those of its port basis. ``z_ends`` and ``z_choke`` (n_port,) [ohm] are impedances without
    the choke, and of the choke alone.
    """
    structure, f = reduced.structure, reduced.frequency
    # All wires of a feed that is several together are driven by the first source of the ports.
    fed = replace(structure, ports=structure.ports[:1])
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
        i_shield=structure.along_shield(current),
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


# What is compared; changes against the reference follow from these.
COMPARED = (
    "r_ohm",
    "x_ohm",
    "swr",
    "station_ratio",
    "shield_ratio",
    "mean_gain_dbi",
    "pattern_rms_db",
)


@dataclass(frozen=True)
class Recheck:
    """One draw both ways: geometry and draw, and for each figure the two values."""

    geometry: int
    draw: int
    algebra: dict[str, float]
    direct: dict[str, float]

    def difference(self, name: str) -> float:
        """Relative difference, absolute where a value is below one (dB and ratios)."""
        a, b = self.algebra[name], self.direct[name]
        return float(abs(a - b) / max(1.0, abs(b)))


def recheck_draw(
    made: Installation,
    choke: Choke | None,
    draw: int,
    merit: Merit,
    drawn: ReducedBasis | None = None,
) -> Recheck:
    """Solve one draw of an installation directly; ``drawn`` is the own geometry of its choke.

    ``merit`` is what the algebra says of all draws.
    """
    soil, own = made.study.site.ground, drawn or made.reduced
    ideal = solve_rows(made.reduced, soil, made.directions, made.ends()[draw], made.reduced.ideal)
    z = _row(made.series(choke, drawn), draw)
    direct = solve_merit(own, soil, made.directions, made.ends(drawn)[draw], z, ideal)
    found = [{n: float(m[n][k]) for n in COMPARED} for m, k in ((merit, draw), (direct, 0))]
    return Recheck(0, draw, *found)


def _row(rows: Complex, number: int) -> Complex:
    """One of several rows; where there is one for all, that."""
    return np.asarray(rows[0 if len(rows) == 1 else number])
