"""Straight wires cut the finer the nearer they come to other metal.

Two places at some distance act on each other over about that distance: segments that are shorter
than half of it resolve what one conductor induces on another.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.wires.segmentation import MIN_LENGTH_PER_RADIUS, closest_approach, graded_wires
from models.wires.structure import Material, Point, Wire

Real = NDArray[np.float64]

# Length of a segment over its distance from other metal.
PER_DISTANCE = 0.4
_SAMPLES = 400
# A little above the limit of the segmentation rules.
_SHORTEST = 1.08 * MIN_LENGTH_PER_RADIUS


@dataclass(frozen=True)
class LineRule:
    """Drawing of a straight wire: radius, longest and shortest segment [m], metal, part."""

    radius: float
    longest: float
    shortest: float
    refine: float
    material: Material
    part: str


@dataclass(frozen=True)
class Others:
    """Axes of other wires, shape (n, 3) each [m]."""

    start: Real
    end: Real

    def distance(self, points: Real) -> Real:
        """Distance from points, shape (m, 3), to the nearest axis; infinite without any. [m]"""
        if not len(self.start):
            return np.full(len(points), np.inf)
        along = self.end - self.start
        from_start = points[:, None, :] - self.start[None]
        t = np.einsum("mnk,nk->mn", from_start, along) / np.einsum("nk,nk->n", along, along)
        foot = self.start[None] + np.clip(t, 0, 1)[:, :, None] * along[None]
        return np.asarray(np.linalg.norm(points[:, None, :] - foot, axis=2).min(axis=1))

    def nearest(self, start: Point, end: Point) -> float:
        """Smallest distance from a straight line to any of the axes. [m]"""
        p = np.broadcast_to(np.asarray(start, dtype=float), self.start.shape)
        q = np.broadcast_to(np.asarray(end, dtype=float), self.start.shape)
        return float(closest_approach(p, q, self.start, self.end).min())


def lines_of(wires: Iterable[Wire]) -> Others:
    """Axes of wires."""
    pairs = [(w.start, w.end) for w in wires]
    ends = np.array(pairs, dtype=float).reshape(-1, 2, 3)
    return Others(ends[:, 0], ends[:, 1])


def graded_line(start: Point, end: Point, others: Others, rule: LineRule) -> list[Wire]:
    """A straight wire, its segments at most 0.4 times as long as they are far from other metal.

    Examples
    --------
    >>> from models.wires.structure import PERFECT
    >>> rule = LineRule(0.002, 0.1, 0.01, 1.0, PERFECT, "guy")
    >>> sum(w.n_segments for w in graded_line((0, 0, 1), (0, 0, 2), lines_of([]), rule))
    10
    """
    p, q = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    length = float(np.linalg.norm(q - p))
    t = np.linspace(0.0, 1.0, _SAMPLES + 1)
    far = others.distance(p + t[:, None] * (q - p))
    wanted = np.clip(rule.refine * PER_DISTANCE * far, rule.shortest, rule.longest)
    wanted = np.maximum(wanted, _SHORTEST * rule.radius)
    density = length / wanted
    count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(t))])
    n = max(1, int(np.ceil(count[-1] - 1e-6)))
    if length / n < _SHORTEST * rule.radius:
        n = max(1, int(length / (_SHORTEST * rule.radius)))
    places = np.interp(np.linspace(0.0, count[-1], n + 1), count, t)
    places[0], places[-1] = 0.0, 1.0
    return graded_wires(start, end, places, rule.radius, rule.part, rule.material)
