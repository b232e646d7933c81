"""A railing, boat rail or gutter that the antenna is clamped to, so that the two are one conductor.

A strap from the antenna to one thick wire would be a step in radius at a joint, so the rail is a
cage of wires as thick as the cable's shield, leg by leg. Each leg ends in a cone of spokes on its
corner, where the next one begins; a hoop stands where the clamp is.

Drawn so, the transfer admittances of an antenna on a rail are 2 to 5 % unlike (3 % without the
rail) and its average gain is 1.010.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.faults import Fault
from models.lengths import small
from models.wires.pipe_cage import (
    Cage,
    cage_conductivity,
    cage_ring_radius,
    ring,
    ring_nodes,
    sweep,
)
from models.wires.segmentation import SegmentRule
from models.wires.structure import GeometryError, Material, Point, Wire, grid_point

Real = NDArray[np.float64]

# Wires of a rail's cage: with ten in place of six the impedance at the feed moves by 0.2 %; with
# four transfer admittances are 4.0 % unlike in place of 3.6 %.
RAIL_WIRES = 6
# How far the cage of a leg stands back from a corner, in ring radii: cones of two legs at a right
# angle stay clear of each other.
STAND_BACK = 2.0
# Segments at the clamp, in ring radii.
FINE = 1.1
# Longest segment of a rail, in wavelengths.
LONGEST = 1 / 20
# Thickest wire of a rail's cage in rail radii.
THICKEST_WIRE = 0.4
# Longest clamp between the antenna and a rail: what a bracket spans. [m]
LONGEST_CLAMP = 0.15


@dataclass(frozen=True)
class RailRule:
    """Drawing of a rail: wire radius near the antenna [m], refinement, metal.

    ``part`` is its name, ``key`` its place in the study.
    """

    radius: float
    shortest_wavelength: float
    refine: float
    metal: Material
    part: str
    key: str


def draw_rail(
    points: tuple[Point, ...], radius: float, wires: tuple[Wire, ...], rule: RailRule
) -> tuple[Wire, ...]:
    """Wires of a rail that the antenna is clamped to where the two are nearest.

    ``points`` [m] are its axis from corner to corner, ``wires`` antenna and cable at their height.
    """
    thin = min(rule.radius, THICKEST_WIRE * radius)
    sigma = cage_conductivity(rule.metal.conductivity, radius, thin, RAIL_WIRES)
    material = Material(conductivity=sigma)
    cage = Cage(RAIL_WIRES, cage_ring_radius(radius, thin, RAIL_WIRES), thin, rule.part, material)
    nodes = np.array(sorted({p for w in wires if w.part == "antenna" for p in (w.start, w.end)}))
    leg, clamp, nearest = _clamped(points, nodes)
    drawn: list[Wire] = []
    for k, (a, b) in enumerate(itertools.pairwise(points)):
        if k != leg:
            drawn += _leg(np.array([a, b]), nodes[nearest], cage, rule)[0]
            continue
        more, hoop = _leg(np.array([a, clamp, b]), nodes[nearest], cage, rule)
        drawn += [*more, _clamp(hoop, nodes, cage, rule)]
    return tuple(drawn)


def _clamped(points: tuple[Point, ...], nodes: Real) -> tuple[int, Real, int]:
    """Leg that comes nearest to the antenna, the place on its axis, and the antenna's node."""
    best = (np.inf, 0, np.zeros(3), 0)
    for k, (a, b) in enumerate(itertools.pairwise(np.array(points))):
        t = np.clip((nodes - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
        apart = np.linalg.norm(nodes - (a + t[:, None] * (b - a)), axis=1)
        m = int(apart.argmin())
        if apart[m] < best[0]:
            best = (float(apart[m]), k, a + t[m] * (b - a), m)
    return best[1], best[2], best[3]


def _leg(path: Real, facing: Real, cage: Cage, rule: RailRule) -> tuple[list[Wire], Real]:
    """A straight leg with cones at both ends, and the nodes of its hoop in the middle, if any."""
    start, end = path[0], path[-1]
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    back = STAND_BACK * cage.ring_radius
    fine = max(rule.refine * FINE * cage.ring_radius, 2.5 * cage.wire_radius)
    if length < 2 * back + 4 * fine:
        raise GeometryError(
            Fault(
                f"{rule.key}.points",
                "",
                f"has a leg of {small(length)}, too short for a {rule.part} of that thickness: "
                f"{small(2 * back + 4 * fine)} are needed",
                "leave out one of its two points",
                "points-close",
            )
        )
    stations = [start + back * along, end - back * along]
    if len(path) == 3:
        # Not so near to an end that there is no room for a segment.
        at = np.clip((path[1] - start) @ along, back + 2 * fine, length - back - 2 * fine)
        stations.insert(1, start + at * along)
    towards = facing - stations[len(stations) // 2]
    towards = towards - (towards @ along) * along
    towards = towards / np.linalg.norm(towards)
    nodes = ring_nodes(np.array(stations), np.cross(along, towards), cage)
    longest = max(fine, rule.refine * LONGEST * rule.shortest_wavelength)
    sizes = np.full(len(stations), fine)
    wires = sweep(nodes, sizes, SegmentRule(fine, longest), cage)
    for ends, tip in ((nodes[0], start), (nodes[-1], end)):
        apex = grid_point(tip)
        wires += [
            Wire(grid_point(p), apex, 1, cage.wire_radius, cage.part, cage.material) for p in ends
        ]
    middle = nodes[len(nodes) // 2]
    return (wires + ring(middle, cage) if len(path) == 3 else wires), middle


def _clamp(hoop: Real, nodes: Real, cage: Cage, rule: RailRule) -> Wire:
    """The short conductor from the rail's hoop to the nearest metal of the antenna."""
    apart = np.linalg.norm(nodes[:, None] - hoop[None], axis=2)
    k, m = np.unravel_index(int(apart.argmin()), apart.shape)
    length, radius = float(apart[k, m]), cage.wire_radius
    if not 2.1 * radius <= length <= LONGEST_CLAMP:
        side = "nearer to" if length > LONGEST_CLAMP else "further from"
        by = length - LONGEST_CLAMP if length > LONGEST_CLAMP else 3 * radius
        raise GeometryError(
            Fault(
                f"{rule.key}.joined",
                "yes",
                f"needs a clamp of {small(length)} between the surfaces of {rule.part} and "
                f"antenna; {small(2.1 * radius)} to {small(LONGEST_CLAMP)} can be drawn",
                f"joined: no, or points that lead it {small(by)} {side} the antenna",
                "clamp-length",
            )
        )
    n = max(1, round(length / (3.5 * radius)))
    a, b = grid_point(nodes[int(k)]), grid_point(hoop[int(m)])
    return Wire(a, b, n, radius, rule.part, cage.material)
