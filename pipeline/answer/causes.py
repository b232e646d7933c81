"""Causes: which unknown makes how much of a candidate's spread, and which turn the answer.

Scores of all draws and the unknowns they were drawn from in; shares and chances over parts of each
range out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.answer.candidates import Outcome
from pipeline.answer.record import Cause
from pipeline.chokes.kinds import own_unknowns
from pipeline.montecarlo.draws import Unknown
from pipeline.montecarlo.installations import Installations
from pipeline.montecarlo.sensitivity import Share, first_order, grouped, joint

Real = NDArray[np.float64]
# Below a hundredth of a threshold nothing differs that anybody could see.
_LEAST_SCORE = 0.01
# Parts of a range over which chances are told, and samples wanted in a cell of a joint cause.
_PARTS_GEOMETRIC, _PARTS_CIRCUIT = 3, 8
_SAMPLES_PER_CELL = 40


@dataclass(frozen=True)
class _Observed:
    """Unknowns of one kind that can matter to a case, and their probabilities, (n, n_unknown)."""

    unknowns: list[Unknown]
    u: Real


def geometry_share(of: Outcome) -> Share:
    """Share of a case's spread that all that changes the drawing makes together."""
    return grouped(list(_effect(of)))


def _effect(of: Outcome) -> Real:
    """Logarithm of a case's score, whose spread is shared out, (n_geometry, n_draw)."""
    return np.log10(np.maximum(of.score, _LEAST_SCORE))


def causes(of: Outcome, drawn: Installations) -> tuple[Cause, ...]:
    """Every unknown with its share of the spread of one case's score, the largest first.

    A geometric unknown is seen in as many points as there are geometries: its share is that of
    the means over the draws, times what the geometry as a whole makes. Unknowns that one look
    settles, such as all of a radio's bonding, stand there once more together. How another
    candidate is made is no cause: what chance shows of it would be taken for an effect.
    """
    y, enough = _effect(of), (of.score <= 1).astype(float)
    geometric, circuit = _concerning(of, drawn, True), _concerning(of, drawn, False)
    means, chances = y.mean(axis=1), enough.mean(axis=1)
    part = float(means.var() / y.var()) if y.var() > 0 else 0.0
    found = []
    for k, unknown in enumerate(geometric.unknowns):
        u, among = geometric.u[:, k], max(1, len(geometric.unknowns))
        share, turns = first_order(u, means, None, among), first_order(u, chances, None, among)
        share = Share(part * share.value, part * share.noise)
        found.append(_cause(unknown, share, turns, u, chances))
    for k, unknown in enumerate(circuit.unknowns):
        u, value, held = circuit.u[:, k], y.ravel(), enough.ravel()
        among = len(circuit.unknowns)
        share, turns = first_order(u, value, None, among), first_order(u, held, None, among)
        found.append(_cause(unknown, share, turns, u, held))
    found += _together(circuit, y.ravel(), found)
    return tuple(sorted(found, key=lambda cause: -cause.share.value))


def _concerning(of: Outcome, drawn: Installations, geometric: bool) -> _Observed:
    """One row a geometry for those that change the drawing, one row a draw for all others."""
    choke = of.case.choke
    its_own = () if choke is None else choke.unknowns
    others = own_unknowns().keys() - {own.key for own in its_own}
    listed = [u for u in drawn.unknowns if u.geometric == geometric]
    kept = [k for k, u in enumerate(listed) if u.name not in others]
    made = [drawn.drawn[number] for number in of.numbers]
    if geometric:
        u = np.stack([one.u_geometric for one in made])
    else:
        u = np.concatenate([one.u_circuit for one in made])
    return _Observed([listed[k] for k in kept], u[:, kept])


def _together(observed: _Observed, y: Real, single: list[Cause]) -> list[Cause]:
    """Causes of several unknowns that a reader finds out at once."""
    circuit, groups = observed.unknowns, dict[str, list[int]]()
    for k, unknown in enumerate(circuit):
        groups.setdefault(unknown.measure, []).append(k)
    found = []
    for columns in (members for members in groups.values() if len(members) > 1):
        # Half a range is no part of a chance: it has two parts of its own.
        ranged = sum(circuit[k].spread.shape != "chance" for k in columns)
        wanted = len(y) / _SAMPLES_PER_CELL / 2 ** (len(columns) - ranged)
        bins = max(2, int(wanted ** (1 / max(1, ranged))))
        names = {circuit[k].name for k in columns}
        # Told by the one of them whose range changes the chances most.
        widest = max((c for c in single if c.name in names), key=lambda c: c.high - c.low)
        cells = [_part_of(observed.u[:, k], _edges(circuit[k], bins)) for k in columns]
        share = joint(cells, y)
        found.append(replace(widest, label=circuit[columns[0]].together, share=share, joint=True))
    return found


def _edges(unknown: Unknown, parts: int) -> Real:
    """Equal parts of an unknown's range as probabilities; a chance has its own two."""
    if unknown.spread.shape == "chance":
        return np.array([0.0, unknown.spread.low, 1.0])
    return np.linspace(0.0, 1.0, parts + 1)


def _part_of(u: Real, edges: Real) -> NDArray[np.int64]:
    return np.clip(np.searchsorted(edges, u, side="right") - 1, 0, len(edges) - 2)


def _cause(unknown: Unknown, share: Share, turns: Share, u: Real, held: Real) -> Cause:
    """Chance of no visible change over equal parts of an unknown's range."""
    edges = _edges(unknown, _PARTS_GEOMETRIC if unknown.geometric else _PARTS_CIRCUIT)
    of = _part_of(u, edges)
    rates = {k: float(held[of == k].mean()) for k in range(len(edges) - 1) if (of == k).any()}
    low, high = min(rates, key=lambda k: rates[k]), max(rates, key=lambda k: rates[k])
    return Cause(
        name=unknown.name,
        label=unknown.label,
        share=share,
        turns=turns.certain,
        low=rates[low],
        high=rates[high],
        at_low=(float(edges[low]), float(edges[low + 1])),
        at_high=(float(edges[high]), float(edges[high + 1])),
    )


def turning(found: tuple[Cause, ...]) -> list[Cause]:
    """Single unknowns over whose range the chance differs by more than chance could make."""
    return [c for c in found if c.turns and not c.joint]
