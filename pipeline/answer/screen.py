"""Sets of the catalogue on all drawings: a quick look at every set, a closer one at the likely.

Installations and sets in, chances out. The quick look takes the current along a row of cores for
even, which makes a set a matter of one or two numbers, and asks only for the match and the current
at the radio; what fails clearly there is not looked at closer. The closer look is the full
computation with few draws. Who is taken is judged on all draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.analysis.figures_of_merit_and_score import Merit, Reference
from pipeline.analysis.many_cases import many, reference
from pipeline.chokes.kind import Choke
from pipeline.circuit.line import swr_on
from pipeline.montecarlo.installations import Installation
from pipeline.solver.terminations import choke_at_frequencies
from pipeline.study.records import Study

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
# Draws on each drawing for the quick and for the closer look.
QUICK, CLOSER = 8, 16


@dataclass(frozen=True)
class _Row:
    """One row of cores: place and length along the shield. [m]"""

    position: float
    length: float


@dataclass(frozen=True)
class _Part:
    """What a set's impedance is computed from: one part of it, so many times over."""

    key: object
    choke: Choke
    times: float


class QuickLook:
    """Score of sets by the match and the current at the radio alone, on few draws."""

    def __init__(self, study: Study, sets: Sequence[Choke]) -> None:
        self._limits = study.verdict
        parts = [[_Row(p.position, p.acts_over) for p in s.placed] for s in sets]
        self._rows = tuple(dict.fromkeys(row for rows in parts for row in rows))
        number = {row: k for k, row in enumerate(self._rows)}
        # What is in one place has it twice, with half of the impedance: the algebra is the same.
        self._of = np.array([(number[rows[0]], number[rows[-1]]) for rows in parts], dtype=int)
        self._parts = [_two_parts(choke) for choke in sets]

    def scores(self, drawn: Sequence[Installation]) -> Real:
        """Larger of the two changes over its threshold in every draw, (n_set, n). [-]

        References
        ----------
        .. [1] R. F. Harrington, "Reactively controlled directive arrays", IEEE Trans. AP-26, 1978
           (loaded N-port; from memory), each row taken as one port.
        """
        if not self._parts:
            return np.zeros((0, 1))
        return np.concatenate([self._on(one.first(QUICK)) for one in drawn], axis=1)

    def _on(self, made: Installation) -> Real:
        """Scores on one drawing, (n_set, n_draw)."""
        built, reduced, ends = made.reduced.structure, made.reduced, made.ends()
        feed = built.port_index("feed")
        radio = built.port_index("station") if built.has_port("station") else feed
        each = np.eye(len(built.ports))
        shapes = np.concatenate([each[[feed, radio]], row_weights(built, self._rows)])
        y = between_groups(reduced.y_port, ends, shapes)
        ideal = reference(reduced, ends).values["swr"]
        i_feed, i_radio = self._currents(y, self._impedances(made))
        swr = np.abs(swr_on(1 / i_feed, reduced.z0) - ideal) / self._limits.swr_step
        ratio = np.abs(i_radio / i_feed) / self._limits.station_ratio
        return np.asarray(swr if radio == feed else np.maximum(swr, ratio))

    def _currents(self, y: Complex, z: Complex) -> tuple[Complex, Complex]:
        """Currents at feed and radio with each set, (n_set, n_draw) each.

        ``y`` (n_draw, 2 + n_row, 2 + n_row) [S] joins feed, radio and rows, ``z`` (n_set, 2,
        n_draw) [ohm].
        """
        a, b = 2 + self._of.T
        y = np.moveaxis(y, 0, -1)
        z_a, z_b = z[:, 0], z[:, 1]
        # (1 + Y Z) i = i of the feed alone, for two rows.
        m_aa, m_bb = 1 + z_a * y[a, a], 1 + z_b * y[b, b]
        m_ab, m_ba = z_b * y[a, b], z_a * y[b, a]
        whole = m_aa * m_bb - m_ab * m_ba
        i_a = (m_bb * y[a, 0] - m_ab * y[b, 0]) / whole
        i_b = (m_aa * y[b, 0] - m_ba * y[a, 0]) / whole
        i_feed, i_radio = (y[p, 0] - (z_a * y[p, a] * i_a + z_b * y[p, b] * i_b) for p in (0, 1))
        return i_feed, i_radio

    def _impedances(self, made: Installation) -> Complex:
        """Impedance of both parts of every set in every draw, (n_set, 2, n_draw). [ohm]

        Definition.
        """
        f, n = np.array([made.study.frequency]), len(made.u_circuit)
        known: dict[object, Complex] = {}
        for part in (part for parts in self._parts for part in parts):
            if part.key not in known:
                each = choke_at_frequencies(part.choke, made.study, f, made.draws.factors)
                known[part.key] = np.broadcast_to(each, (n,))
        return np.array([[known[p.key] * p.times for p in parts] for parts in self._parts])


def _two_parts(choke: Choke) -> tuple[_Part, _Part]:
    """Both parts of a set, or two halves of what is in one place."""
    first, *more = choke.placed
    if not more:
        half = _part(first, 0.5)
        return half, half
    return _part(first, 1.0), _part(more[0], 1.0)


def _part(choke: Choke, share: float) -> _Part:
    """Cores count up: one core of each kind is asked for its impedance."""
    core = choke.ferrite_core
    if core is None:
        return _Part(choke.id, choke, share)
    return _Part(core, replace(choke, count=1), share * choke.count)


def row_weights(built: Structure, rows: Sequence[_Row]) -> Real:
    """Share of each row on each port, (n_row, n_port): :func:`choke_weights` of many. [-]"""
    shield = [k for k, p in enumerate(built.ports) if p.name.startswith("shield")]
    along = np.array([built.ports[k].position or 0.0 for k in shield])
    half = np.array([built.segments.length[built.port_segment(built.ports[k])] for k in shield]) / 2
    low, high = along - half, along + half
    begin, length = (
        np.array([getattr(r, name) for r in rows])[:, None] for name in ("position", "length")
    )
    shared = np.minimum(high, begin + length) - np.maximum(low, begin)
    inside = (low - 1e-6 <= begin) & (begin < high - 1e-6)
    found = np.zeros((len(rows), len(built.ports)))
    long = np.where(length > 0, length, 1.0)
    found[:, shield] = np.where(length > 0, np.maximum(0.0, shared) / long, inside)
    return found


def between_groups(y_port: Complex, z_ends: Complex, shapes: Real) -> Complex:
    """Admittances between groups of ports once the ports have their ends. [S]

    Shape (n, n_group, n_group).
    ``z_ends`` (n, n_port) [ohm] are in series with the ports, ``shapes`` (n_group, n_port) says
    how a volt across a group is shared out; its current is the mean so weighted.

    References
    ----------
    .. [1] M. A. Woodbury, "Inverting modified matrices", 1950 (from memory).
    """
    ended = np.flatnonzero((z_ends != 0).any(axis=0))
    z = z_ends[:, ended]
    # Rows divided by 1 + |Z|: an open port must not spoil the pivoting.
    scale = (1 / (1 + np.abs(z)))[..., None]
    inner = y_port[np.ix_(ended, ended)]
    left = scale * (np.eye(len(ended)) + z[..., None] * inner)
    right = scale * z[..., None] * (y_port[ended] @ shapes.T)
    taken = (shapes @ y_port[:, ended]) @ np.linalg.solve(left, right)
    return np.asarray(shapes @ y_port @ shapes.T - taken)


class CloserLook:
    """Figures of merit of a set on all drawings with few draws each."""

    def __init__(self, drawn: Sequence[Installation]) -> None:
        self._drawn = [_coarse(one.first(CLOSER)) for one in drawn]
        self._ends = [one.ends() for one in self._drawn]
        self._ideal: list[Reference] = [
            reference(one.reduced, ends) for one, ends in zip(self._drawn, self._ends, strict=True)
        ]

    def merits(self, choke: Choke) -> tuple[Merit, ...]:
        """Figures of merit by drawing."""
        known = zip(self._drawn, self._ends, self._ideal, strict=True)
        return tuple(many(d.reduced, ends, d.series(choke), best) for d, ends, best in known)


def _coarse(made: Installation) -> Installation:
    """The same with every second azimuth and elevation of its low fields."""
    reduced = made.reduced
    return replace(made, reduced=replace(reduced, e_low=reduced.e_low[..., ::2, ::2]))
