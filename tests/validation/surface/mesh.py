"""Triangles on the outer walls of a tube structure.

Walls are swept: rings of `facets` corners round the tube, straight lines along it, longer triangles
where nothing happens. Where a tube lands on another one's wall, a block of that wall is taken out
and filled by the mesher around the seam. Only the half y >= 0 is made, then mirrored.

A polygon of n sides on a circle carries less charge than the circle: its corners are moved out so
that its logarithmic capacity is that of the true radius.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from math import ceil, gamma, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from tests.validation.surface.tubes import Case, Port, Tube, distance_to_line, goes_on_as, landing

Real = NDArray[np.float64]
Whole = NDArray[np.int64]
Y = np.array([0.0, 1.0, 0.0])
# Two lengths of neighbouring triangles along a tube differ by this much of their distance.
GROWTH = 0.4
# Share of the clear distance to the nearest other wall that a triangle may be long.
OF_CLEARANCE = 0.5
# Two points of the mesh nearer than this are one [m].
SAME = 1e-7


@dataclass(frozen=True)
class Density:
    """How fine: facets round tubes and the longest triangle on a plain run, in facets."""

    thick: int
    thin: int
    longest: float


DENSITIES = {
    "n8": Density(8, 6, 4.0),
    "n12": Density(12, 8, 4.0),
    "n16": Density(16, 10, 4.0),
}


@dataclass
class Wall:
    """Triangles gathered so far; `tag` is (tube, straight piece, layer), -1 where there is none."""

    points: list[Real] = field(default_factory=list)
    triangles: list[Whole] = field(default_factory=list)
    tags: list[Whole] = field(default_factory=list)
    count: int = 0

    def add(self, points: Real, triangles: Whole, tag: tuple[int, int, int]) -> None:
        self.points.append(points.reshape(-1, 3))
        self.triangles.append(triangles + self.count)
        self.tags.append(np.tile(np.array(tag), (len(triangles), 1)))
        self.count += points.size // 3


@dataclass(frozen=True)
class Layer:
    """A slab of a plain tube run between two rings: middle on the axis, direction, length [m]."""

    tag: tuple[int, int, int]
    middle: Real
    direction: Real
    length: float
    plain: bool


@dataclass(frozen=True)
class Mesh:
    """A closed surface; triangle k + n/2 is the mirror image of triangle k."""

    vertices: Real
    triangles: Whole
    tags: Whole
    layers: list[Layer]


def corner_radius(radius: float, facets: int) -> float:
    """Radius of the corners of a regular polygon with the capacity of a circle [m].

    Side of a regular n-gon over its logarithmic capacity: 2^(1+2/n) sqrt(pi) G(1/2+1/n) / G(1/n).
    """
    n = facets
    side = radius * 2 ** (1 + 2 / n) * sqrt(pi) * gamma(0.5 + 1 / n) / gamma(1 / n)
    return float(side / (2 * np.sin(pi / n)))


def stations(fixed: list[float], sizes: list[tuple[float, float]], limit: Real, fine: Real) -> Real:
    """Places of rings from the first to the last fixed one.

    `sizes` are (place, length there); `limit` is the longest allowed on the places `fine`.
    """
    h = limit.copy()
    for place, size in sizes:
        h = np.minimum(h, size + GROWTH * np.abs(fine - place))
    for i in range(1, len(h)):
        h[i] = min(h[i], h[i - 1] + GROWTH * (fine[i] - fine[i - 1]))
    for i in range(len(h) - 2, -1, -1):
        h[i] = min(h[i], h[i + 1] + GROWTH * (fine[i + 1] - fine[i]))
    count = np.concatenate([[0], np.cumsum(np.diff(fine) * (1 / h[:-1] + 1 / h[1:]) / 2)])
    places = [fixed[0]]
    for a, b in itertools.pairwise(fixed):
        first, last = np.interp([a, b], fine, count)
        n = max(1, ceil(last - first - 0.2))
        places.extend(np.interp(np.linspace(first, last, n + 1)[1:-1], count, fine))
        places.append(b)
    return np.array(places)


def triangulate(outer: Real, hole: Real | None) -> tuple[Real, Whole]:
    """Triangles between plane loops, shape (n, 2); the loops' points come first, unmoved."""
    import gmsh

    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    loops, first = [], 0
    for loop in (outer, hole):
        if loop is None:
            continue
        tags = [
            gmsh.model.geo.addPoint(x, y, 0, tag=first + k + 1) for k, (x, y) in enumerate(loop)
        ]
        lines = [
            gmsh.model.geo.addLine(a, b) for a, b in zip(tags, tags[1:] + tags[:1], strict=True)
        ]
        for line in lines:
            gmsh.model.geo.mesh.setTransfiniteCurve(line, 2)
        loops.append(gmsh.model.geo.addCurveLoop(lines))
        first += len(loop)
    gmsh.model.geo.addPlaneSurface(loops)
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.generate(2)
    tags, places, _ = gmsh.model.mesh.getNodes()
    _, corners = gmsh.model.mesh.getElementsByType(2)
    corner_tags = [int(gmsh.model.mesh.getNodes(0, k + 1)[0][0]) for k in range(first)]
    gmsh.finalize()
    rest = [int(t) for t in tags if int(t) not in set(corner_tags)]
    number = {t: k for k, t in enumerate(corner_tags + rest)}
    where = {int(t): p for t, p in zip(tags, places.reshape(-1, 3)[:, :2], strict=True)}
    points = np.array([where[t] for t in corner_tags + rest])
    return points, np.array([number[int(t)] for t in corners]).reshape(-1, 3)


@dataclass(frozen=True)
class Landing:
    """Where a tube lands on a straight piece: seam in wall coordinates (along [m], angle)."""

    seam: Real
    low: float
    high: float
    sector: tuple[int, int]


@dataclass(frozen=True)
class End:
    """An end of a straight piece.

    `place` on the axis, how far each line of the wall goes `beyond`, and whether it is a "cap",
    a "shoulder" (a cap that a thinner tube comes out of), the "neck" of that thinner tube, a
    "bend" or a "landing" on another tube.
    """

    place: float
    beyond: Real
    kind: str


class Piece:
    """One straight piece of a tube."""

    def __init__(self, case: Case, tube: Tube, k: int, density: Density) -> None:
        self.case, self.tube, self.k = case, tube, k
        self.start, self.stop = tube.legs[k]
        self.length = float(np.linalg.norm(self.stop - self.start))
        self.d = (self.stop - self.start) / self.length
        aside = np.cross(Y, self.d)
        self.u = aside / np.linalg.norm(aside)
        self.v = np.cross(self.d, self.u)
        thickest = max(t.diameter for t in case.tubes)
        thick = tube.diameter > 0.6 * thickest
        self.facets = density.thick if thick else density.thin
        self.radius = corner_radius(tube.diameter / 2, self.facets)
        self.facet = 2 * pi * self.radius / self.facets
        self.longest = density.longest * pi * thickest / density.thick
        turns = 1 if tube.in_plane else 2
        self.angles = np.linspace(0, turns * pi, turns * self.facets // 2 + 1)
        self.round = np.cos(self.angles)[:, None] * self.u + np.sin(self.angles)[:, None] * self.v

    def place(self, along: Real, angle: Real) -> Real:
        """Points of the wall, shape (n, 3)."""
        turned = np.cos(angle)[:, None] * self.u + np.sin(angle)[:, None] * self.v
        return np.asarray(self.start + along[:, None] * self.d + self.radius * turned)

    def neighbour(self, step: int) -> Real | None:
        """Direction of the piece before or behind on the same tube."""
        legs = self.tube.legs
        j = self.k + step
        if not self.tube.closed and not 0 <= j < len(legs):
            return None
        a, b = legs[j % len(legs)]
        return (b - a) / np.linalg.norm(b - a)

    def end(self, step: int, density: Density) -> End:
        """The end at the start (-1) or the stop (+1)."""
        at = 0.0 if step < 0 else self.length
        other = self.neighbour(step)
        if other is not None:
            plane = self.d + other
            return End(at, -self.radius * (self.round @ plane) / (self.d @ plane), "bend")
        tip = self.start if step < 0 else self.stop
        found = landing(self.case, self.tube, tip)
        if found is None:
            return End(at, np.zeros(len(self.angles)), self.closure(tip))
        parent = Piece(self.case, found[0], found[1], density)
        away = -step * self.d
        middle = parent.hit(tip[None], away)[0]
        hits = parent.hit(tip + self.radius * self.round, away)
        return End(float(at - step * middle), -step * (hits - middle), "landing")

    def closure(self, tip: Real) -> str:
        """How an end that lands nowhere is closed."""
        other = goes_on_as(self.case, self.tube, tip)
        if other is None:
            return "cap"
        return "shoulder" if other.diameter < self.tube.diameter else "neck"

    def hit(self, points: Real, direction: Real) -> Real:
        """How far from points inside this wall the wall is, along a direction [m]."""
        off = points - self.start
        off = off - (off @ self.d)[:, None] * self.d
        way = direction - (direction @ self.d) * self.d
        a, b = way @ way, off @ way
        c = np.sum(off**2, axis=1) - self.radius**2
        return np.asarray((-b + np.sqrt(b**2 - a * c)) / a)

    def landings(self, density: Density) -> list[Landing]:
        """Tubes that land on this piece."""
        found = []
        for tube in self.case.tubes:
            for k, step in ((0, -1), (len(tube.legs) - 1, 1)):
                tip = tube.legs[k][0] if step < 0 else tube.legs[k][1]
                where = None if tube.closed else landing(self.case, tube, tip)
                if where is None or where[0] is not self.tube or where[1] != self.k:
                    continue
                branch = Piece(self.case, tube, k, density)
                found.append(self.seam(branch, step, density))
        return found

    def seam(self, branch: Piece, step: int, density: Density) -> Landing:
        """Seam of a branch on this wall and the block of wall around it."""
        end = branch.end(step, density)
        lines = (end.place + end.beyond)[:, None] * branch.d
        points = branch.start + lines + branch.radius * branch.round
        off = points - self.start
        angle = np.arctan2(off @ self.v, off @ self.u)
        if self.tube.in_plane:
            angle = np.where(np.abs(off @ Y) < SAME, np.round(np.abs(angle) / pi) * pi, angle)
        seam = np.stack([off @ self.d, angle], axis=1)
        step_angle = self.angles[1]
        low = max(0, int(np.floor(angle.min() / step_angle - 0.3)))
        high = min(len(self.angles) - 1, ceil(angle.max() / step_angle + 0.3))
        margin = 0.7 * self.facet
        return Landing(
            seam, float(seam[:, 0].min() - margin), float(seam[:, 0].max() + margin), (low, high)
        )

    def ports(self) -> list[tuple[float, Port]]:
        """Places of this piece's ports."""
        return [
            (float((p.at - self.start) @ self.d), p)
            for p in self.case.ports
            if p.tube == self.tube.name and distance_to_line(p.at, self.start, self.stop) < 1e-6
        ]

    def clearance(self, fine: Real) -> Real:
        """Longest triangle beside other walls, per place on the axis."""
        limit = np.full(len(fine), self.longest)
        for tube in self.case.tubes:
            for k, (a, b) in enumerate(tube.legs):
                if tube is self.tube and k == self.k:
                    continue
                clear = np.array([
                    distance_to_line(self.start + s * self.d, a, b) for s in fine
                ]) - (self.tube.diameter + tube.diameter) / 2  # fmt: skip
                limit = np.minimum(limit, np.maximum(OF_CLEARANCE * clear, self.facet))
        return limit
