"""The port basis of one geometry: what one volt at each port does, at every frequency.

Everything later is a superposition of it: chokes, terminations, patterns, shield currents.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.structure import Material, Port, Structure, Wire
from pipeline.runtime.store import read_arrays_as, read_as, write_arrays
from pipeline.solver.far_field import (
    Directions,
    azimuth_count,
    evenly_round,
    far_field,
    radius_in_plan,
)
from pipeline.solver.field_solver import solved_currents


@dataclass(frozen=True)
class PortBasis:
    """Response of one geometry to one volt at each port in turn, the other ports shorted.

    Shapes: ``frequency`` (n_f,), ``y_port`` (n_f, n_port, n_port) [S], ``i_shield``
    (n_f, n_port, n_shield) [A/V] along the cable at ``shield_position`` (n_shield,) [m],
    ``i_segment`` (n_port, n_segment) [A/V] and ``e_port`` (n_port, 2, n_theta, n_phi) [V/V] at
    the design frequency ``frequency[centre]``.
    """

    frequency: NDArray[np.float64]
    centre: int
    y_port: NDArray[np.complex128]
    i_shield: NDArray[np.complex128]
    shield_position: NDArray[np.float64]
    i_segment: NDArray[np.complex128]
    e_port: NDArray[np.complex128]
    directions: Directions


def direction_grid(over_ground: bool, azimuths: int) -> Directions:
    """Directions at which fields are kept: every degree of elevation, so many azimuths.

    Over ground the upper half, in free space the whole sphere at two degrees.
    """
    polar = np.arange(0.0, 91.0, 1.0) if over_ground else np.arange(0.0, 181.0, 2.0)
    return Directions(np.radians(polar), evenly_round(azimuths))


def solve_basis(
    structure: Structure,
    frequency: NDArray[np.float64],
    centre: int,
    soil: Soil | None,
    azimuths: int | None = None,
    isolated: bool = True,
) -> PortBasis:
    """Solve one geometry, in a worker process, at every frequency and for every port.

    Not ``isolated``: in this process, which is a worker itself. ``frequency`` [Hz] rises; fields
    are kept at the design frequency ``frequency[centre]``, at ``azimuths`` of them or as many as
    the geometry itself needs (:func:`far_field.azimuth_count`).
    """
    currents = solved_currents(structure, frequency, soil, isolated)
    if azimuths is None:
        azimuths = azimuth_count(radius_in_plan(structure.segments), float(frequency[centre]))
    directions = direction_grid(soil is not None, azimuths)
    return basis_of(structure, frequency, centre, soil, currents, directions)


def basis_of(
    structure: Structure,
    frequency: NDArray[np.float64],
    centre: int,
    soil: Soil | None,
    currents: NDArray[np.complex128],
    directions: Directions,
) -> PortBasis:
    """Port basis from solved currents per volt, shape (n_f, n_port, n_segment) [A/V].

    Other arguments as :func:`solve_basis`; fields are kept at ``directions``.
    """
    return PortBasis(
        frequency=frequency,
        centre=centre,
        y_port=structure.through_ports(currents).transpose(0, 2, 1),
        i_shield=structure.along_shield(currents),
        shield_position=np.array([s for _, s in structure.shield_path]),
        i_segment=currents[centre],
        e_port=far_field(
            structure.segments, currents[centre], float(frequency[centre]), soil, directions
        ),
        directions=directions,
    )


# Fields of a basis that are arrays as they stand.
_ARRAYS = ("frequency", "y_port", "i_shield", "shield_position", "i_segment", "e_port")


def save_basis(path: Path, basis: PortBasis) -> None:
    """Write a port basis, whole."""
    arrays = {name: getattr(basis, name) for name in _ARRAYS}
    directions = {"theta": basis.directions.theta, "phi": basis.directions.phi}
    write_arrays(path, {**arrays, **directions, "centre": np.array(basis.centre)})


def load_basis(path: Path) -> PortBasis:
    """Read a port basis."""
    return read_arrays_as(path, _basis_from)


def _basis_from(a: dict[str, NDArray[Any]]) -> PortBasis:
    arrays = {name: a[name] for name in _ARRAYS}
    return PortBasis(**arrays, centre=int(a["centre"]), directions=Directions(a["theta"], a["phi"]))


def structure_data(structure: Structure) -> dict[str, Any]:
    """A structure as plain data for a JSON file; what only a sleeve has is there with one."""
    beside = {"shield_beside": structure.shield_beside} if structure.shield_beside else {}
    return {
        **beside,
        "name": structure.name,
        "wires": [
            [
                *w.start,
                *w.end,
                w.n_segments,
                w.radius,
                w.part,
                w.material.conductivity if np.isfinite(w.material.conductivity) else None,
                w.material.jacket_inductance,
            ]
            for w in structure.wires
        ],
        "ports": [
            [p.name, p.wire, p.segment, p.position, p.series_inductance, p.beside]
            + [p.shunt_capacitance] * (p.shunt_capacitance != 0)
            for p in structure.ports
        ],
        "shield_path": [list(entry) for entry in structure.shield_path],
    }


def structure_from_data(data: dict[str, Any]) -> Structure:
    """The inverse of :func:`structure_data`."""
    wires = tuple(
        Wire(
            (w[0], w[1], w[2]),
            (w[3], w[4], w[5]),
            w[6],
            w[7],
            w[8],
            Material(np.inf if w[9] is None else w[9], w[10]),
        )
        for w in data["wires"]
    )
    ports = tuple(
        Port(
            name, wire, segment, position, extra, tuple((int(w), int(s)) for w, s in beside), *more
        )
        for name, wire, segment, position, extra, beside, *more in data["ports"]
    )
    return Structure(
        data["name"],
        wires,
        ports,
        tuple((int(k), float(s)) for k, s in data["shield_path"]),
        shield_beside=tuple((int(k), tuple(more)) for k, more in data.get("shield_beside", ())),
    )


def load_structure(path: Path) -> Structure:
    """Read a structure that the geometry stage wrote."""
    return read_as(path, lambda data: structure_from_data(data["structure"]))
