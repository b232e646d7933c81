"""Very many series impedances on one solved geometry: the way to figures of merit by the thousand.

The whole of it is four steps::

    built = needed_ports(study, structure(study, plan))    # fewer ports, before the solve
    reduced = reduce(Solved(built, basis), study, elevation_deg)    # once a geometry
    ends = termination_rows(reduced.structure, study, Ends(rod, station, bond_extra))
    merit = many(reduced, ends, scale[:, None] * choke_series(reduced.structure, study, choke, f))

``ends`` and the choke's rows have shape (n, n_port) or (1, n_port). A reference that several
candidates share is computed once with :func:`reference`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved, station_current
from pipeline.analysis.figures_of_merit_and_score import (
    Merit,
    Reference,
    Rows,
    merit_of,
    radio_end,
    reference_of,
)
from pipeline.analysis.metrics import gain_dbi, low_angles, ring_at, series_power
from pipeline.chokes.ideal import IDEAL_CHOKE_OHM
from pipeline.circuit.line import LineRun, power_in
from pipeline.circuit.port_algebra import OPEN, fed_voltages, port_currents, superpose
from pipeline.solver.cases import CABLE, ideal_choke
from pipeline.solver.far_field import directive_power
from pipeline.solver.terminations import choke_weights, terminations
from pipeline.study.records import USUAL, Study, Thresholds

Complex = NDArray[np.complex128]
# Rows worked on at once: their fields fit a processor's cache.
_ROWS = 256


@dataclass(frozen=True)
class ReducedBasis:
    """A port basis at one frequency with nothing left that no figure of merit needs.

    Shapes: ``y_port`` (n_port, n_port) [S]; ``i_shield`` (n_port, n_shield) [A/V]; ``e_low``
    (n_port, 2, n_low, n_phi) and ``e_ring`` (n_port, 2, 1, n_phi) [V/V], the fields from the
    horizon to ten degrees and at the elevation that stands for the horizon; ``ideal`` (n_port,)
    [ohm], the ideal choke, nothing where a coil is drawn as wire: its place may be inside the
    winding, and the reference is that of the cable without a coil. ``z0`` [ohm] is the cable's
    impedance.
    """

    structure: Structure
    frequency: float
    z0: float
    elevation_deg: float
    y_port: Complex
    i_shield: Complex
    e_low: Complex
    e_ring: Complex
    ideal: Complex
    limits: Thresholds = USUAL


@dataclass(frozen=True)
class Ends:
    """Impedances at the ends of the cable, arrays of shape (n,) or one value for all rows.

    ``rod`` [ohm] between bond lead and soil, ``station`` [ohm] between shield and power lead at
    the radio (:data:`port_algebra.OPEN`: floating), ``bond_extra`` [H] of a bond lead
    that is longer than the straight way down.
    """

    rod: NDArray[np.complex128]
    station: NDArray[np.complex128]
    bond_extra: NDArray[np.float64]


@dataclass(frozen=True)
class Transmitter:
    """Feed of the antenna: the inside of the cable, and the power at its far end. [W]"""

    line: LineRun
    power: float


def reduce(solved: Solved, study: Study, elevation_deg: float) -> ReducedBasis:
    """Part of a solved geometry that figures of merit need, at its design frequency.

    Its directions have to hold the horizon to ten degrees and ``elevation_deg``, which stands for
    the horizon (:func:`metrics.horizon_elevation_deg`).
    """
    basis, structure = solved.basis, solved.structure
    theta = basis.directions.theta
    ring = ring_at(theta, elevation_deg)
    ideal = np.zeros(len(structure.ports))
    if structure.name == CABLE:
        ideal = IDEAL_CHOKE_OHM * choke_weights(structure, ideal_choke(study).position, 0.0)
    return ReducedBasis(
        structure=structure,
        frequency=float(basis.frequency[basis.centre]),
        z0=study.cable.type.z0,
        elevation_deg=elevation_deg,
        y_port=basis.y_port[basis.centre],
        i_shield=basis.i_shield[basis.centre],
        e_low=basis.e_port[:, :, low_angles(theta)],
        e_ring=basis.e_port[:, :, ring : ring + 1],
        ideal=ideal.astype(complex),
        limits=study.verdict,
    )


def termination_rows(structure: Structure, study: Study, ends: Ends) -> NDArray[np.complex128]:
    """Series impedance of every port before any choke, shape (n, n_port). [ohm]

    ``ends`` vary; what the structure has no port for is passed over. From the study come the
    antenna's own loads and the design frequency.
    """
    bond = None if study.bond is None else replace(study.bond, rod_impedance=0j)
    plain = replace(study, bond=bond, station=replace(study.station, impedance=0j))
    z = terminations(structure, plain, np.array([study.frequency]))
    varied = {
        "rod": ends.rod,
        "station": ends.station,
        "bond": 2j * np.pi * study.frequency * np.asarray(ends.bond_extra),
    }
    n = max(np.size(values) for values in varied.values())
    rows = np.repeat(z, n, axis=0)
    for name, values in varied.items():
        if structure.has_port(name):
            rows[:, structure.port_index(name)] += values
    return rows


def nominal_ends(study: Study) -> Ends:
    """The ends as the study states them, one row."""
    station = study.station.impedance
    rod = 0j if study.bond is None else study.bond.rod_impedance
    return Ends(
        rod=np.array([OPEN if rod is None else rod], dtype=complex),
        station=np.array([OPEN if station is None else station], dtype=complex),
        bond_extra=np.zeros(1),
    )


def reference(reduced: ReducedBasis, z_ends: Complex) -> Reference:
    """The ideal choke with each row of terminations, ``z_ends`` (n, n_port) [ohm].

    ValueError if the geometry, one with a coil, has no ideal choke.
    """
    if not reduced.ideal.any():
        raise ValueError(f"{reduced.structure.name} has no ideal choke to be compared with")
    ideal = reduced.ideal[None]
    parts = [reference_of(_rows(reduced, ends, ideal)) for ends, _ in _blocks(z_ends, ideal)]
    return Reference(
        np.concatenate([part.gain_low for part in parts]),
        np.concatenate([part.matters for part in parts]),
        _joined([part.values for part in parts]),
    )


def many(
    reduced: ReducedBasis,
    z_ends: Complex,
    z_choke: Complex,
    against: Reference | None = None,
    transmitter: Transmitter | None = None,
) -> Merit:
    """Figures of merit of n combinations of terminations and choke, rows of their own.

    ``z_ends`` and ``z_choke``, (n, n_port) or (1, n_port) [ohm], are series impedances without the
    choke and those of the choke alone; ``against`` a reference of the same terminations, n rows or
    one, computed here by default (ValueError if the geometry has none); ``transmitter`` for the
    figures that need the far end of the line.
    """
    best = reference(reduced, z_ends) if against is None else against
    parts, done = [], 0
    for ends, choke in _blocks(z_ends, z_choke):
        rows = _rows(reduced, ends, choke)
        if transmitter is not None:
            f = np.full(len(rows.i_feed), reduced.frequency)
            end = radio_end(transmitter.line, f, rows.z_feed, transmitter.power)
            rows = replace(rows, radio=end)
        n = len(rows.i_feed)
        parts.append(merit_of(rows, best.rows(slice(done, done + n)), reduced.limits))
        done += n
    return joined(parts)


def joined(parts: Sequence[Merit]) -> Merit:
    """Rows of several, one after the other; limits are those of the first."""
    values, changes = ([getattr(p, name) for p in parts] for name in ("values", "changes"))
    return Merit(_joined(values), _joined(changes), parts[0].limits)


def _joined(parts: Sequence[Mapping[str, NDArray[np.float64]]]) -> dict[str, NDArray[np.float64]]:
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _blocks(z_ends: Complex, z_choke: Complex) -> Iterable[tuple[Complex, Complex]]:
    """Rows of both a few at a time; where one has a single row, that row each time."""
    for a in range(0, max(len(z_ends), len(z_choke)), _ROWS):
        rows = slice(a, a + _ROWS)
        ends, choke = (z if len(z) == 1 else z[rows] for z in (z_ends, z_choke))
        yield ends, choke


def _rows(reduced: ReducedBasis, z_ends: Complex, z_choke: Complex) -> Rows:
    structure, z = reduced.structure, z_ends + z_choke
    feed = structure.port_index("feed")
    w = fed_voltages(reduced.y_port, z, feed)
    current = port_currents(reduced.y_port, w)
    i_feed = current[:, feed]

    def gain(field: Complex) -> NDArray[np.float64]:
        flat = superpose(field.reshape(len(field), -1), w)
        return gain_dbi(directive_power(flat.reshape(-1, *field.shape[1:])), power_in(i_feed))

    return Rows(
        z0=reduced.z0,
        i_feed=i_feed,
        i_station=station_current(structure, current),
        i_shield=superpose(reduced.i_shield, w),
        gain_low=gain(reduced.e_low),
        gain_ring=gain(reduced.e_ring)[:, 0],
        choke_heat=series_power(z_choke, current).sum(axis=1),
        z_choke=np.broadcast_to(z_choke.sum(axis=1), len(z)),
    )
