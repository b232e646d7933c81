"""Places round an installation at which the field is asked for, and the conductor of each.

Geometry only: wires in, points out. Neither power nor limit is known here, so that no distance
can depend on how the points happened to be chosen for them.

Shells stand round every conductor that carries current. A place belongs to the nearest conductor,
the antenna counted three times nearer, unless the antenna's own places are as strong at that
distance: then it says nothing about the cable. A conductor's distance is that of its farthest place
above the limit, with 30 % on the density for what lies between points. Where people can be comes
first: beside the radio, and up to ``exposure.reach``. Defaults are the worst case, a full carrier
all the time, since six minutes of it is what a rule averages over; ``duty`` of the heat is another
thing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.sleeve import SLEEVE
from models.wires.structure import Segments, Structure

ANTENNA = "antenna"
# Parts that make one conductor for whoever stands beside it; any other part is one of its own.
_TOGETHER = {
    "shield": "cable",
    "coil": "cable",
    SLEEVE: "cable",
    "bond lead": "bond lead",
    "rod star": "bond lead",
    "station lead": "power lead",
}
# The star that stands for a rod lies too close to the soil for its image: nothing is asked there.
_NO_SHELL = "rod star"
# Nearest distance from the antenna and from any other conductor at which the field is asked for,
# and the lowest height above ground, where a point is a place for a person. [m]
NEAREST, NEAREST_OTHER, FLOOR = 0.1, 0.05, 0.1
# From one shell to the next; a point is no nearer to its conductor than this share of its shell.
STEP, _OWN = 1.4, 0.9
# A place is the antenna's unless another conductor is so many times nearer.
_WEIGHT = 3.0
# Points of a shell are this share of its distance apart along the conductor, but no closer than
# the current asks for [wavelengths]; so many lie round each.
_APART, _FINEST, _FINEST_ANTENNA = 0.8, 1 / 10, 1 / 20
_ROUND, _ROUND_ANTENNA = 12, 16
# The directions of a wire's ends at a node cancel, but for an end or a bend of more than this.
_BEND = 0.35
# Places up to which people reach: heights, and azimuths round the antenna's foot.
_HEIGHTS, _SIDES = 5, 8
_GOLDEN = np.pi * (3 - 5**0.5)

Real = NDArray[np.float64]


@dataclass(frozen=True)
class Conductor:
    """A conductor that is told apart: name and indices of its segments."""

    name: str
    chosen: NDArray[np.int64]


@dataclass(frozen=True)
class Places:
    """Points round an installation and how far each conductor is.

    ``place`` (n, 3) and ``distance`` (n_conductor, n) in m, the antenna first; ``owner`` (n,) is
    the index of the conductor that a point belongs to: the nearest, where the antenna counts as
    three times nearer than it is, so that only the neighbourhood of the others is theirs.
    """

    conductors: tuple[str, ...]
    place: Real
    distance: Real

    @cached_property
    def owner(self) -> NDArray[np.int64]:
        """Index of the conductor that each point belongs to, shape (n,)."""
        return np.asarray(_owner(self.distance))


def _owner(distance: Real) -> NDArray[np.int64]:
    weighted = distance.copy()
    weighted[0] /= _WEIGHT
    return np.asarray(weighted.argmin(axis=0))


def segments_of(structure: Structure, wanted: tuple[str, ...]) -> NDArray[np.int64]:
    """Indices of the segments of some parts, by the parts' names."""
    parts = np.array([w.part for w in structure.wires])[structure.segments.wire]
    return np.flatnonzero(np.isin(parts, wanted))


def conductors(structure: Structure) -> tuple[Conductor, ...]:
    """All that carries current: the antenna, the cable outside, leads, mast and metal around."""
    members: dict[str, list[str]] = {ANTENNA: []}
    for part in structure.parts():
        members.setdefault(_TOGETHER.get(part, part), []).append(part)
    return tuple(Conductor(n, segments_of(structure, tuple(p))) for n, p in members.items())


def distances_to(structure: Structure, members: tuple[Conductor, ...], place: Real) -> Real:
    """Distance of points from the axes of conductors' wires, (n_conductor, n). [m] Definition.

    Examples
    --------
    >>> from models.wires.structure import Wire
    >>> rod = Structure("rod", (Wire((0, 0, 0), (0, 0, 1), 4, 1e-3, "antenna"),), ())
    >>> place = np.array([[0.3, 0.0, 0.5]])
    >>> distances_to(rod, (Conductor("antenna", np.arange(4)),), place).round(9).tolist()
    [[0.3]]
    """
    return np.stack([_nearest(structure.segments, c.chosen, place) for c in members])


def _nearest(segments: Segments, chosen: NDArray[np.int64], place: Real) -> Real:
    start, along = segments.start[chosen], segments.direction[chosen]
    length = segments.length[chosen]
    # Squares by the product of coordinates: no array of (n, n_segment, 3).
    origin = start.mean(axis=0)
    start, place = start - origin, place - origin
    found = np.empty(len(place))
    for a in range(0, len(place), 500):
        block = place[a : a + 500]
        way = block @ along.T - (start * along).sum(axis=1)
        square = (block**2).sum(axis=1)[:, None] + (start**2).sum(axis=1) - 2 * block @ start.T
        beyond = np.clip(way, 0.0, length)
        square += beyond * (beyond - 2 * way)
        found[a : a + 500] = np.sqrt(np.maximum(square.min(axis=1), 0.0))
    return found


def _round(count: int) -> Real:
    """Directions spread evenly over a sphere, shape (count, 3) (a spiral of golden angles)."""
    z = 1 - (2 * np.arange(count) + 1) / count
    turn = _GOLDEN * np.arange(count)
    across = np.sqrt(1 - z**2)
    return np.stack([across * np.cos(turn), across * np.sin(turn), z], axis=1)


def _thinned(points: Real, apart: float) -> Real:
    """One of the points in every cell of a grid so wide. [m]"""
    cells = np.floor(points / apart).astype(np.int64)
    return points[np.sort(np.unique(cells, axis=0, return_index=True)[1])]


def _bends(segments: Segments, chosen: NDArray[np.int64]) -> Real:
    """Ends and bends of a conductor, shape (n, 3): charge gathers there. [m]"""
    ends = np.concatenate([segments.start[chosen], segments.end[chosen]])
    out = np.concatenate([segments.direction[chosen], -segments.direction[chosen]])
    nodes, which = np.unique(np.round(ends, 6), axis=0, return_inverse=True)
    sums = np.zeros((len(nodes), 3))
    np.add.at(sums, which.ravel(), out)
    return np.asarray(nodes[np.linalg.norm(sums, axis=1) > _BEND])


def radii(nearest: float, reach: float) -> Real:
    """Distances of shells, from the nearest to the first that is beyond ``reach``. [m]

    Those of a longer reach are the same and more. Definition: each is ``STEP`` times the one
    before.

    Examples
    --------
    >>> radii(0.1, 0.19).round(3).tolist()
    [0.1, 0.14, 0.196]
    """
    count = max(0, int(np.ceil(np.log(reach / nearest) / np.log(STEP)))) + 1
    return np.asarray(nearest * STEP ** np.arange(count))


def shell(
    segments: Segments, chosen: NDArray[np.int64], distance: float, finest: float, count: int
) -> Real:
    """Points so far from a conductor's wires, before those too near to it are left out, (n, 3). [m]

    ``chosen`` are the conductor's segments, ``distance`` [m] that from their axes; points are no
    closer than ``finest`` [m] along it, but for ends and bends, and ``count`` lie round each.
    Measured here: tests/analysis/test_exposure.py.
    """
    middles = _thinned(segments.centre[chosen], max(_APART * distance, finest))
    from_here = np.concatenate([middles, _thinned(_bends(segments, chosen), _APART * distance)])
    # Turned from one to the next, so that neighbours do not leave out the same directions.
    turn = _GOLDEN * np.arange(len(from_here))[:, None]
    x, y, z = _round(count).T
    rays = (x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn))
    around = np.stack([*rays, np.broadcast_to(z, rays[0].shape)], axis=2)
    return np.asarray((from_here[:, None] + distance * around).reshape(-1, 3))


def _up_to(structure: Structure, height: float, distances: Real) -> Real:
    """Points round the antenna's foot from the ground to a height that people reach. [m]"""
    centre = structure.segments.centre[segments_of(structure, (ANTENNA,))]
    x, y = centre[:, :2].mean(axis=0)
    turn = 2 * np.pi * np.arange(_SIDES) / _SIDES
    levels = np.linspace(FLOOR, height, _HEIGHTS)
    r, a, z = (g.ravel() for g in np.meshgrid(distances, turn, levels, indexing="ij"))
    return np.stack([x + r * np.cos(a), y + r * np.sin(a), z], axis=1)


def survey_places(
    structure: Structure, f: float, reach: float, beside: float, height: float | None
) -> Places:
    """Places at which the field is asked for: shells round every conductor, and where people walk.

    ``reach`` [m] from each conductor; ``beside`` [m] is how near people come, a distance with a
    shell of its own; ``height`` [m] up to which people reach above ground, if there is one.
    """
    members, segments = conductors(structure), structure.segments
    wavelength = SPEED_OF_LIGHT_NEC / f
    star = segments_of(structure, (_NO_SHELL,))
    place, distance = [np.zeros((0, 3))], [np.zeros((len(members), 0))]

    def keep(points: Real, own: int | None, nearest: float) -> None:
        if height is not None:
            points = points[points[:, 2] >= FLOOR]
        found = distances_to(structure, members, points)
        fit = found.min(axis=0) >= _OWN * nearest if own is None else found[own] >= _OWN * nearest
        if own is not None:
            fit &= _owner(found) == own
        place.append(points[fit])
        distance.append(found[:, fit])

    for own, member in enumerate(members):
        first = own == 0
        drawn = np.setdiff1d(member.chosen, star)
        finest = wavelength * (_FINEST_ANTENNA if first else _FINEST)
        at = radii(NEAREST if first else NEAREST_OTHER, reach)
        for r in at if first else np.union1d(at, [beside]):
            count = _ROUND_ANTENNA if first else _ROUND
            keep(shell(segments, drawn, float(r), finest, count), own, float(r))
    if height is not None:
        keep(_up_to(structure, height, radii(NEAREST, reach)), None, NEAREST)
    names = tuple(c.name for c in members)
    return Places(names, np.concatenate(place), np.concatenate(distance, axis=1))
