"""From straight pieces to one closed, mirrored mesh."""

from __future__ import annotations

import itertools
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from tests.validation.surface.mesh import (
    DENSITIES,
    SAME,
    Density,
    End,
    Landing,
    Layer,
    Mesh,
    Piece,
    Wall,
    corner_radius,
    stations,
    triangulate,
)  # fmt: skip
from tests.validation.surface.tubes import ON_AXIS, Case, Turned, distance_to_line, goes_on_as

Real = NDArray[np.float64]
Whole = NDArray[np.int64]


def blocks(landings: list[Landing]) -> list[tuple[float, float]]:
    """Runs of the axis taken up by landings; those at one place share a run."""
    runs: list[tuple[float, float]] = []
    for low, high in sorted((x.low, x.high) for x in landings):
        if runs and low < runs[-1][1] - SAME and abs(low - runs[-1][0]) > SAME:
            raise ValueError(f"two tubes land at {runs[-1]} and {(low, high)} m of one piece")
        if not runs or abs(low - runs[-1][0]) > SAME:
            runs.append((low, high))
    return runs


def quads(rows: int, columns: int, skip: set[tuple[int, int]]) -> Whole:
    """Two triangles per field of a grid of corners, without the fields to skip."""
    made = []
    for i in range(rows - 1):
        for j in range(columns - 1):
            if (i, j) not in skip:
                a, b = i * columns + j, (i + 1) * columns + j
                made += [(a, a + 1, b), (a + 1, b + 1, b)]
    return np.array(made, dtype=np.int64).reshape(-1, 3)


def patch(piece: Piece, found: Landing, rings: Real) -> tuple[Real, Whole]:
    """The wall around a seam; `rings` are the places of the rings of its block."""
    first, last = found.sector
    angle, r = piece.angles[first : last + 1], piece.radius
    seam = found.seam[np.argsort(found.seam[:, 0])] if piece_is_cut(found, piece) else found.seam
    low = np.stack([np.full(len(angle), rings[0]), r * angle], axis=1)
    high = np.stack([np.full(len(angle), rings[-1]), r * angle], axis=1)
    side = np.stack([rings, np.full(len(rings), r)], axis=1)
    near, far = side * [1, angle[0]], side * [1, angle[-1]]
    edge = seam * [1, r]
    if not piece_is_cut(found, piece):
        outer = np.vstack([near[:-1], high[:-1], far[::-1][:-1], low[::-1][:-1]])
        points, triangles = triangulate(outer, edge[:-1])
    elif angle[0] == 0:
        outer = np.vstack([low[:1], edge, high, far[::-1][1:], low[::-1][1:-1]])
        points, triangles = triangulate(outer, None)
    else:
        outer = np.vstack([low[-1:], edge, high[::-1], near[::-1][1:], low[1:-1]])
        points, triangles = triangulate(outer, None)
    return piece.place(points[:, 0], points[:, 1] / r), triangles


def piece_is_cut(found: Landing, piece: Piece) -> bool:
    """Whether the plane y = 0 cuts the seam, so that half of it is seen."""
    angle = found.seam[:, 1]
    return bool(piece.tube.in_plane and (angle.min() < 1e-9 or angle.max() > pi - 1e-9))


def blending(piece: Piece, ends: list[End], taken: list[tuple[float, float]]) -> list[float]:
    """Lengths beside both ends over which rings turn from an end's shape into circles [m]."""
    base = [end.place for end in ends]
    room = (taken[0][0] - base[0], base[1] - taken[-1][1]) if taken else (np.inf, np.inf)
    zones = []
    for end, free in zip(ends, room, strict=True):
        zone = min(2.5 * piece.radius, 0.45 * (base[1] - base[0]), free)
        zones.append(zone if end.kind in ("bend", "landing") else 0.0)
        if np.abs(end.beyond).max() > 0.8 * zones[-1]:
            raise ValueError(
                f"{piece.case.name}: {piece.tube.name}: {zone:.4f} m beside a {end.kind} is too"
                " short, move the port or the landing away from it"
            )
    return zones


def sweep(piece: Piece, number: tuple[int, int], wall: Wall, density: Density) -> list[Layer]:
    """Add one straight piece; its layers, for ports and currents."""
    ends = [piece.end(step, density) for step in (-1, 1)]
    base = [end.place for end in ends]
    landings, ports = piece.landings(density), piece.ports()
    runs = blocks(landings)
    taken = sorted(runs + [(s - p.width / 2, s + p.width / 2) for s, p in ports])
    zones = blending(piece, ends, taken)
    fixed = sorted({*base, *(x for run in taken for x in run), *(s for s, _ in ports)})
    sizes = [(x, piece.facet) for x in (*base, *(x for run in runs for x in run))]
    sizes += [(s, p.width / 2) for s, p in ports]
    fine = np.unique(np.concatenate([np.linspace(base[0], base[1], 600), fixed]))
    s = stations(fixed, sizes, piece.clearance(fine), fine)
    along = np.repeat(s[:, None], len(piece.angles), axis=1)
    for end, zone in zip(ends, zones, strict=True):
        if zone:
            along += np.clip(1 - np.abs(s - end.place) / zone, 0, 1)[:, None] * end.beyond
    points = piece.start + along[:, :, None] * piece.d + piece.radius * piece.round
    add_rows(piece, number, wall, points, (s, landings))
    for end, ring in zip(ends, (points[0], points[-1]), strict=True):
        close(piece, end, ring, wall, density)
    layers = []
    for i, (a, b) in enumerate(itertools.pairwise(s)):
        middle = (a + b) / 2
        plain = base[0] + zones[0] <= a + SAME and b - SAME <= base[1] - zones[1]
        plain = plain and not any(low < middle < high for low, high in runs)
        layers.append(
            Layer((*number, i), piece.start + middle * piece.d, piece.d, b - a, bool(plain))
        )
    return layers


def close(piece: Piece, end: End, ring: Real, wall: Wall, density: Density) -> None:
    """Add the flat end of a piece, with room for the thinner tube that comes out of a shoulder."""
    middle = piece.start + end.place * piece.d
    if end.kind == "cap":
        n = len(ring)
        fan = np.stack([np.arange(n - 1), np.arange(1, n), np.full(n - 1, n)], axis=1)
        wall.add(np.vstack([ring, middle]), fan, (-1, -1, -1))
    if end.kind == "shoulder":
        thin = neck(piece, middle, density)
        # Both rings from the same side of the plane y = 0 to the other, the inner one backwards.
        inner = thin.radius * thin.round
        inner = inner if inner[0] @ (ring[0] - middle) < 0 else inner[::-1]
        loop = np.vstack([ring, middle + inner]) - middle
        flat, triangles = triangulate(np.stack([loop @ piece.u, loop @ piece.v], axis=1), None)
        places = middle + flat[:, :1] * piece.u + flat[:, 1:] * piece.v
        wall.add(places, triangles, (-1, -1, -1))


def neck(piece: Piece, middle: Real, density: Density) -> Piece:
    """The piece of a thinner tube that comes out of the middle of a shoulder of `piece`."""
    thin = goes_on_as(piece.case, piece.tube, middle)
    if thin is None:
        raise ValueError(
            f"{piece.case.name}: {piece.tube.name}: no thinner tube goes on at"
            f" {middle.round(6).tolist()} m, close the end with a cap"
        )
    starts = np.linalg.norm(thin.axis[0] - middle) < ON_AXIS
    return Piece(piece.case, thin, 0 if starts else len(thin.legs) - 1, density)


def add_rows(
    piece: Piece, number: tuple[int, int], wall: Wall, points: Real,
    places: tuple[Real, list[Landing]],
) -> None:  # fmt: skip
    """Add the wall's fields layer by layer and the patches around its landings."""
    s, landings = places
    columns = points.shape[1]
    skip: set[tuple[int, int]] = set()
    for found in landings:
        rows = np.flatnonzero((s > found.low - SAME) & (s < found.high + SAME))
        skip |= {(i, j) for i in rows[:-1].tolist() for j in range(*found.sector)}
        made, triangles = patch(piece, found, s[rows])
        wall.add(made, triangles, (-1, -1, -1))
    for i in range(len(s) - 1):
        row = {(0, j) for k, j in skip if k == i}
        wall.add(points[i : i + 2], quads(2, columns, row), (*number, i))


def turn(body: Turned, number: int, case: Case, wall: Wall, density: Density) -> list[Layer]:
    """Add a body of revolution; its layers run along z."""
    layers = []
    grow = corner_radius(1.0, density.thick)
    angle = np.linspace(0, pi, density.thick // 2 + 1)
    ring = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    up = np.array([0.0, 0.0, 1.0])
    for k, (a, b) in enumerate(itertools.pairwise(body.profile)):
        s = wall_stations(body, k, case, density)
        rz = a + s[:, None] / s[-1] * (b - a)
        points = grow * rz[:, :1, None] * ring + rz[:, 1:, None] * up
        for i in range(len(s) - 1):
            wall.add(points[i : i + 2], quads(2, len(angle), set()), (number, k, i))
            middle = rz[i : i + 2, 1].mean() * up
            layers.append(
                Layer((number, k, i), middle, up, float(s[i + 1] - s[i]), bool(a[0] == b[0]))
            )
    return layers


def wall_stations(body: Turned, k: int, case: Case, density: Density) -> Real:
    """Places of rings along one line of a turned body's wall, from its start [m]."""
    lines = list(itertools.pairwise(body.profile))
    a, b = lines[k]
    length = float(np.linalg.norm(b - a))
    ports = [p for p in case.ports if p.tube == body.name and lies_on(p.at[2], a, b, body)]
    places = [(abs(float(p.at[2] - a[1])), p.width) for p in ports]
    fixed = sorted({0.0, length, *(s + x * w for s, w in places for x in (-0.5, 0, 0.5))})
    facet = 2 * pi * corner_radius(1.0, density.thick) / density.thick
    thickest = facet * body.profile[:, 0].max()
    own = facet * max(min(a[0], b[0]), 0.3 * max(a[0], b[0]))
    sizes = [(0.0, own), (length, own), *((s, w / 2) for s, w in places)]
    fine = np.unique(np.concatenate([np.linspace(0, length, 600), fixed]))
    longest = np.full(len(fine), density.longest * thickest)
    for j, (c, d) in enumerate(lines):
        if abs(j - k) > 1:
            clear = np.array([distance_to_line(a + x / length * (b - a), c, d) for x in fine])
            longest = np.minimum(longest, np.maximum(clear, thickest))
    return stations(fixed, sizes, longest, fine)


def lies_on(z: float, a: Real, b: Real, body: Turned) -> bool:
    """Whether a port at height z is on this wall: the outermost upright one there."""
    if a[0] != b[0] or not min(a[1], b[1]) < z < max(a[1], b[1]):
        return False
    others = [
        p[0] for p, q in zip(body.profile[:-1], body.profile[1:], strict=True)
        if p[0] == q[0] and min(p[1], q[1]) < z < max(p[1], q[1])
    ]  # fmt: skip
    return bool(a[0] == max(others))


def mesh(case: Case, name: str) -> Mesh:
    """The closed surface of a structure at a named density."""
    density, wall, layers = DENSITIES[name], Wall(), []
    for i, tube in enumerate(case.tubes):
        for k in range(len(tube.legs)):
            layers += sweep(Piece(case, tube, k, density), (i, k), wall, density)
    for i, body in enumerate(case.turned):
        layers += turn(body, len(case.tubes) + i, case, wall, density)
    points, triangles = np.vstack(wall.points), np.vstack(wall.triangles)
    tags = np.vstack(wall.tags)
    points[np.abs(points[:, 1]) < SAME, 1] = 0.0
    both = np.vstack([points, points * [1, -1, 1]])
    every = np.vstack([triangles, triangles + len(points)])
    vertices, number = merged(both)
    every = number[every]
    whole = (
        (every[:, 0] != every[:, 1]) & (every[:, 1] != every[:, 2]) & (every[:, 2] != every[:, 0])
    )
    every, tags = every[whole], np.vstack([tags, tags])[whole]
    edges = np.sort(np.concatenate([every[:, [0, 1]], every[:, [1, 2]], every[:, [2, 0]]]), axis=1)
    ends, count = np.unique(edges, axis=0, return_counts=True)
    if np.any(count != 2):
        where = vertices[ends[count != 2]].mean(axis=1)[:4].round(4).tolist()
        raise ValueError(f"{case.name}: {name}: wall is not closed near {where} m")
    return Mesh(vertices, every, tags, layers)


def merged(points: Real) -> tuple[Real, Whole]:
    """Points without repetition, and the new number of each."""
    pairs = cKDTree(points).query_pairs(SAME, output_type="ndarray")
    links = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(points), len(points)))
    _, number = connected_components(links, directed=False)
    _, first = np.unique(number, return_index=True)
    return points[first], number.astype(np.int64)
