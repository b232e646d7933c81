"""One solved geometry, very many series impedances on it: figures of merit as arrays.

What :func:`case_results.evaluate` and :func:`case_facts.judge` say about one case at the
design frequency, for as many combinations of choke and termination as one likes. The whole of
it is four steps::

    built = with_ports_for(structure(study, plan), study.chokes)    # fewer ports, before the solve
    reduced = reduce(Solved(built, basis), elevation_deg)           # once a geometry
    ends = termination_rows(reduced.structure, study, Ends(rod, station, bond_extra))
    out = many(reduced, ends, scale[:, None] * choke_row(reduced.structure, study, choke))

``ends`` and the choke's rows have shape (n, n_port) or (1, n_port). A reference that several
candidates share is computed once with :func:`reference`. Ports whose impedance is zero in every
row fall out of the algebra: they are shorted, and a shorted port without a source has no voltage.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.analysis.case_results import Solved
from pipeline.analysis.metrics import MATTERS_BELOW_DEG, MATTERS_WITHIN_DB, gain_dbi
from pipeline.chokes.ideal import IDEAL_CHOKE_OHM
from pipeline.chokes.kind import Choke
from pipeline.circuit.line import swr_on
from pipeline.circuit.port_algebra import OPEN, port_voltages
from pipeline.solver.cases import CABLE, ideal_choke
from pipeline.solver.far_field import directive_power
from pipeline.solver.terminations import choke_at_frequencies, choke_weights, terminations
from pipeline.study.records import USUAL, Study, Thresholds

# Rows worked on at once: their fields fit a processor's cache.
_ROWS = 256


@dataclass(frozen=True)
class Reduced:
    """One geometry at one frequency with nothing left that no outcome needs.

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
    y_port: NDArray[np.complex128]
    i_shield: NDArray[np.complex128]
    e_low: NDArray[np.complex128]
    e_ring: NDArray[np.complex128]
    ideal: NDArray[np.complex128]
    limits: Thresholds = USUAL


@dataclass(frozen=True)
class Reference:
    """The ideal choke on the same terminations; shapes (n, ...) or (1, ...).

    ``gain_low`` (n, n_low, n_phi) [dBi], ``matters`` the same shape, ``mean_gain_dbi`` and
    ``swr`` (n,).
    """

    gain_low: NDArray[np.float64]
    matters: NDArray[np.bool_]
    mean_gain_dbi: NDArray[np.float64]
    swr: NDArray[np.float64]


@dataclass(frozen=True)
class Outcomes:
    """Figures of merit of n combinations, each of shape (n,); changes count from the reference.

    ``station_ratio`` and ``shield_ratio`` are currents per feed current, the latter the largest
    along the cable; ``choke_share`` is the part of the power into the feed that the choke turns
    into heat.
    """

    z_feed: NDArray[np.complex128]
    swr: NDArray[np.float64]
    swr_change: NDArray[np.float64]
    station_ratio: NDArray[np.float64]
    shield_ratio: NDArray[np.float64]
    mean_gain_dbi: NDArray[np.float64]
    mean_gain_change_db: NDArray[np.float64]
    pattern_rms_db: NDArray[np.float64]
    choke_share: NDArray[np.float64]
    limits: Thresholds = USUAL

    def score(self) -> NDArray[np.float64]:
        """:func:`verdict.score` of every row: one or less is no visible change."""
        changes = (
            self.pattern_rms_db / self.limits.pattern_rms_db,
            np.abs(self.mean_gain_change_db) / self.limits.mean_gain_db,
            np.abs(self.swr_change) / self.limits.swr_step,
            self.station_ratio / self.limits.station_ratio,
        )
        return np.asarray(np.maximum.reduce(changes))


@dataclass(frozen=True)
class Ends:
    """What the cable meets at its ends, arrays of shape (n,) or one value for all rows.

    ``rod`` [ohm] between bond lead and soil, ``station`` [ohm] between shield and power lead at
    the radio (:data:`port_algebra.OPEN`: floating), ``bond_extra`` [H] of a bond lead
    that is longer than the straight way down.
    """

    rod: NDArray[np.complex128]
    station: NDArray[np.complex128]
    bond_extra: NDArray[np.float64]


def with_ports_for(built: Structure, chokes: Iterable[Choke]) -> Structure:
    """The same wires without the ports on the shield that none of the chokes, nor ideal, covers.

    Parameters
    ----------
    built : Structure
        A geometry with a cable.
    chokes : iterable of Choke
        Candidates; coils that are drawn as wire are passed over. Name an ideal one among them
        (:func:`cases.ideal_choke`): the reference needs its port.
    """
    covered = np.zeros(len(built.ports), dtype=bool)
    for choke in chokes:
        if not choke.is_drawn:
            covered |= choke_weights(built, choke.position, choke.acts_over) > 0
    kept = tuple(
        port
        for port, used in zip(built.ports, covered, strict=True)
        if used or not port.name.startswith("shield")
    )
    return replace(built, ports=kept)


def reduce(solved: Solved, study: Study, elevation_deg: float) -> Reduced:
    """What outcomes need of a solved geometry, at its design frequency.

    Parameters
    ----------
    solved : Solved
        A geometry with a cable; its directions have to hold the horizon to ten degrees and the
        elevation asked for.
    study : Study
        For the cable and the place of the ideal choke.
    elevation_deg : float
        Elevation that stands for the horizon
        (:func:`metrics.horizon_elevation_deg`). [deg]
    """
    basis, structure = solved.basis, solved.structure
    elevation = 90.0 - np.degrees(basis.directions.theta)
    low = (elevation >= -1e-9) & (elevation <= MATTERS_BELOW_DEG + 1e-9)
    ring = int(np.argmin(np.abs(elevation - elevation_deg)))
    ideal = np.zeros(len(structure.ports))
    if structure.name == CABLE:
        ideal = IDEAL_CHOKE_OHM * choke_weights(structure, ideal_choke(study).position, 0.0)
    return Reduced(
        structure=structure,
        frequency=float(basis.frequency[basis.centre]),
        z0=study.cable.type.z0,
        elevation_deg=elevation_deg,
        y_port=basis.y_port[basis.centre],
        i_shield=basis.i_shield[basis.centre],
        e_low=basis.e_port[:, :, low],
        e_ring=basis.e_port[:, :, ring : ring + 1],
        ideal=ideal.astype(complex),
        limits=study.verdict,
    )


def termination_rows(structure: Structure, study: Study, ends: Ends) -> NDArray[np.complex128]:
    """Series impedance of every port before any choke, shape (n, n_port). [ohm]

    Parameters
    ----------
    structure : Structure
        Of the reduced geometry.
    study : Study
        For what does not vary: the antenna's own loads and the design frequency.
    ends : Ends
        What varies; what the structure has no port for is passed over.
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
    return Ends(
        rod=np.array([0j if study.bond is None else study.bond.rod_impedance]),
        station=np.array([OPEN if station is None else station], dtype=complex),
        bond_extra=np.zeros(1),
    )


def choke_row(structure: Structure, study: Study, choke: Choke | None) -> NDArray[np.complex128]:
    """Series impedance of a lumped choke on every port, shape (n_port,). [ohm]

    Zero without one, and for a coil that is drawn as wire: the geometry has it.

    Raises
    ------
    StudyError
        If the choke's data do not reach the design frequency.
    ValueError
        If the structure has no ports where the choke sits.
    """
    if choke is None or choke.is_drawn:
        return np.zeros(len(structure.ports), complex)
    z = choke_at_frequencies(choke, study, np.array([study.frequency]))[0]
    return np.asarray(z * choke_weights(structure, choke.position, choke.acts_over))


def reference(reduced: Reduced, z_ends: NDArray[np.complex128]) -> Reference:
    """The ideal choke with each row of terminations, ``z_ends`` (n, n_port) [ohm]."""
    blocks = [_reference(reduced, z_ends[a : a + _ROWS]) for a in range(0, len(z_ends), _ROWS)]
    return joined(blocks)


def many(
    reduced: Reduced,
    z_ends: NDArray[np.complex128],
    z_choke: NDArray[np.complex128],
    against: Reference | None = None,
) -> Outcomes:
    """Figures of merit of n combinations of terminations and choke.

    Parameters
    ----------
    reduced : Reduced
        The geometry.
    z_ends, z_choke : ndarray, shape (n, n_port) or (1, n_port)
        Series impedances without the choke, and those of the choke alone. [ohm]
    against : Reference, optional
        Of the same terminations, n rows or one; default: computed here.

    Returns
    -------
    Outcomes
        Rows are independent of each other.

    Raises
    ------
    ValueError
        If there is no reference and the geometry, one with a coil, has no ideal choke.
    """
    if against is None and not reduced.ideal.any():
        raise ValueError(f"{reduced.structure.name} has no ideal choke to be compared with")
    n = max(len(z_ends), len(z_choke))
    blocks = []
    for a in range(0, n, _ROWS):
        rows = slice(a, min(a + _ROWS, n))
        ends, choke = _rows(z_ends, rows), _rows(z_choke, rows)
        if against is None:
            ideal = _reference(reduced, ends)
        else:
            parts = {f.name: _rows(getattr(against, f.name), rows) for f in fields(Reference)}
            ideal = Reference(**parts)
        blocks.append(_outcomes(reduced, ends, choke, ideal))
    return joined(blocks)


R = TypeVar("R", "Reference", "Outcomes")


def _rows(values: NDArray[Any], rows: slice) -> NDArray[Any]:
    return values if len(values) == 1 else values[rows]


def joined(parts: Sequence[R]) -> R:
    """Records of arrays, one after the other; what is no array is that of the first.

    Parameters
    ----------
    parts : sequence of Reference or Outcomes
        At least one.
    """
    first = parts[0]
    arrays = [f.name for f in fields(first) if isinstance(getattr(first, f.name), np.ndarray)]
    whole: dict[str, Any] = {n: np.concatenate([getattr(p, n) for p in parts]) for n in arrays}
    return replace(first, **whole)


@dataclass(frozen=True)
class _Driven:
    """One volt at the feed: ports that matter, voltages there (n, n_active), all currents."""

    active: NDArray[np.int64]
    w: NDArray[np.complex128]
    current: NDArray[np.complex128]
    i_feed: NDArray[np.complex128]

    def field(self, basis: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """Superposition of a basis of shape (n_port, ...), shape (n, ...)."""
        flat = basis[self.active].reshape(len(self.active), -1)
        return np.asarray((self.w @ flat).reshape(len(self.w), *basis.shape[1:]))

    def gain(self, basis: NDArray[np.complex128]) -> NDArray[np.float64]:
        """Gain [dBi] of fields of shape (n_port, 2, n_theta, n_phi)."""
        return gain_dbi(directive_power(self.field(basis)), 0.5 * self.i_feed.real)


def _drive(reduced: Reduced, z: NDArray[np.complex128]) -> _Driven:
    feed = reduced.structure.port_index("feed")
    used = (z != 0).any(axis=0)
    used[feed] = True
    active = np.flatnonzero(used)
    y = reduced.y_port[:, active]
    source = np.zeros((1, len(active)), complex)
    source[:, np.searchsorted(active, feed)] = 1.0
    w = port_voltages(y[active], z[:, active], source)
    current = w @ y.T
    return _Driven(active, w, current, current[:, feed])


def _mean_gain(reduced: Reduced, driven: _Driven) -> NDArray[np.float64]:
    powers = 10 ** (driven.gain(reduced.e_ring) / 10)
    return np.asarray(10 * np.log10(powers.mean(axis=(1, 2))))


def _reference(reduced: Reduced, z_ends: NDArray[np.complex128]) -> Reference:
    driven = _drive(reduced, z_ends + reduced.ideal)
    gain = driven.gain(reduced.e_low)
    least = gain.max(axis=(1, 2), keepdims=True) - MATTERS_WITHIN_DB
    swr = swr_on(1 / driven.i_feed, reduced.z0)
    return Reference(gain, gain >= least, _mean_gain(reduced, driven), swr)


def _outcomes(
    reduced: Reduced,
    z_ends: NDArray[np.complex128],
    z_choke: NDArray[np.complex128],
    ideal: Reference,
) -> Outcomes:
    driven = _drive(reduced, z_ends + z_choke)
    squares = (driven.gain(reduced.e_low) - ideal.gain_low) ** 2 * ideal.matters
    rms = np.sqrt(squares.sum(axis=(1, 2)) / ideal.matters.sum(axis=(1, 2)))
    size = np.abs(driven.i_feed)
    shield = np.abs(driven.field(reduced.i_shield)).max(axis=1, initial=0.0) / size
    station = np.zeros(len(size))
    if reduced.structure.has_port("station"):
        station = np.abs(driven.current[:, reduced.structure.port_index("station")]) / size
    heat = (z_choke.real * np.abs(driven.current) ** 2).sum(axis=1) / driven.i_feed.real
    swr, mean = swr_on(1 / driven.i_feed, reduced.z0), _mean_gain(reduced, driven)
    return Outcomes(
        z_feed=1 / driven.i_feed,
        swr=swr,
        swr_change=swr - ideal.swr,
        station_ratio=station,
        shield_ratio=shield,
        mean_gain_dbi=mean,
        mean_gain_change_db=mean - ideal.mean_gain_dbi,
        pattern_rms_db=rms,
        choke_share=heat,
        limits=reduced.limits,
    )
