"""The outside of the coax as wires: segments graded along its route, with ports on them.

A route and the stretches where chokes may sit come in; wires, ports and the distance along the
cable of every segment go out.

Segments where chokes sit are 16 mm or 1/75 wavelength long at the antenna, whichever is less, grow
down the cable and are nowhere longer than 1/75 wavelength; elsewhere they are 1/30: longer ones put
the shield current up to 0.6 dB off on 15 mm pipe. With a row of twelve cores at any place currents
are within 0.5 % of those on segments a third as long (1/60: 3 %). Short ports at the bend or beside
the joint are 10 to 30 % unlike among themselves; the worst pair is in the summary next to the
feed's own row, which is what a grade looks at. A winding has no ports inside it: between turns that
lie close a source on one segment is not the same thing as a load on it; the port matrix was 40 %
unsymmetric there while the winding as a whole, seen from outside, was within 1 %.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from models.site.feedline_route import CORNERS_PER_TURN, Route
from models.wires.segmentation import SegmentRule, cuts
from models.wires.structure import Material, Port, Wire, grid_points

# Neighbours that grow by no more than this are as good as even for a port.
_ALL_BUT_EVEN = 0.05
# So far along the cable they are as short as at the antenna. [m]
_NEAR = 0.15
# A bend's segments are so many times as long as those where a bond's lead leaves.
BOND = 4.0
# Starts of chokes in one zone that are so many of its segments apart are both boundaries.
_APART = 1.5


@dataclass(frozen=True)
class Zone:
    """A stretch of the shield, from ``start`` over ``extent`` [m], where a choke may sit."""

    start: float
    extent: float


@dataclass(frozen=True)
class ShieldRule:
    """Segment lengths [m] on the shield and the distance between ports.

    ``zone`` is that of a choke at the antenna, ``row`` the longest for one further down the cable,
    ``refine`` the factor on all of them that they hold already.
    """

    joint: float
    corner: float
    zone: float
    longest: float
    port_spacing: float
    least: float
    corners_per_turn: int = CORNERS_PER_TURN
    growth: float = 0.2
    row: float = 0.0
    refine: float = 1.0

    def in_zone(self, position: float) -> float:
        """Length of a segment where a choke sits, at a place along the cable. [m]"""
        return max(self.zone, min(self.row, self.zone + _ALL_BUT_EVEN * (position - _NEAR)))

    @property
    def bond(self) -> float:
        """Length of segments where the bond's lead leaves. [m]

        A junction of three wires is the more unsymmetric the longer they are: transfer admittances
        across it are 3 % unlike with 1/60 wavelength, 1.3 % with 1/180. A J-pole with a sleeve or
        a coil on its cable and a bond is 5.7 % unsymmetric with 1/120, 4.7 % with 1/240.
        """
        return max(self.corner / BOND, self.least)

    def general(self) -> SegmentRule:
        """Grading between the fine places."""
        return SegmentRule(self.corner, self.longest, self.growth, self.least)


@dataclass
class _Cut:
    """Shield being cut: boundaries along the cable with the wanted segment length there."""

    position: float
    size: float
    in_zone: bool = field(default=False)


@dataclass(frozen=True)
class OverCable:
    """Where a pipe over the cable cuts it, and what is not cut further.

    ``wanted`` holds the wanted segment length [m] at each place where the cable must be cut,
    ``held`` are stretches that stay one segment, ``span`` [m] is that cut at the fractions
    ``inner`` (n + 1,).
    """

    wanted: Mapping[float, float]
    held: tuple[tuple[float, float], ...]
    span: tuple[float, float]
    inner: NDArray[np.float64]


# A stretch with chokes: where it starts, where further chokes in it start, where it ends [m].
Span = tuple[float, ...]


def merged_zones(zones: tuple[Zone, ...], least: float) -> list[Span]:
    """Union of choke zones, each at least ``least`` long, with every start and the last end. [m]

    Examples
    --------
    >>> merged_zones((Zone(0.05, 0.1), Zone(0.1, 0.2), Zone(1.0, 0.0)), 0.02)
    [(0.05, 0.1, 0.30000000000000004), (1.0, 1.02)]
    """
    merged: list[Span] = []
    for start, end in sorted({(z.start, z.start + max(z.extent, least)) for z in zones}):
        if merged and start <= merged[-1][-1] + least:
            *starts, last = merged[-1]
            more = () if start in starts else (start,)
            merged[-1] = (*starts, *more, max(end, last))
        else:
            merged.append((start, end))
    return merged


def _boundaries(
    route: Route, zones: list[Span], rule: ShieldRule, over: OverCable | None
) -> list[_Cut]:
    """Places along the cable where a segment must begin, in order."""
    places: dict[float, float] = {} if over is None else dict(over.wanted)
    for node in route.nodes:
        places[node.position] = {"tap": rule.joint, "bond": rule.bond}.get(node.mark, rule.corner)
        if node.mark == "coil" and route.coil is not None:
            # The winding is as fine as its leads where they meet, coarser inside.
            depth = min(node.position - route.coil[0], route.coil[1] - node.position)
            places[node.position] = rule.corner + rule.growth * max(depth, 0.0)
    # One more such segment on either side, so that a port's neighbours are as long as it is.
    padded = [(a - rule.in_zone(a), b + rule.in_zone(b)) for a, *_, b in zones]
    edges = [(edge, 0.75) for span in padded for edge in span]
    # What starts within the zone of another starts with a segment, too, where it leaves room.
    edges += [(start, _APART) for _, *starts, _ in zones for start in starts]
    for edge, apart in edges:
        near = min(abs(p - edge) for p in places)
        # An edge that all but falls on a corner is left out: no sliver between the two.
        size = rule.in_zone(edge)
        if near > apart * size and route.nodes[0].position < edge < route.length:
            places[edge] = size
    marks = sorted(places)
    _smooth(marks, places, rule.growth)
    slack = 0.5 * rule.zone
    inside = [
        any(a - slack <= p and q <= b + slack for a, b in padded)
        for p, q in itertools.pairwise(marks)
    ]
    return [_Cut(p, places[p], flag) for p, flag in zip(marks, [*inside, False], strict=True)]


def _smooth(marks: list[float], places: dict[float, float], growth: float) -> None:
    """Shrink wanted lengths, in place, so that none grows faster along the cable than it may."""
    for order in (marks, marks[::-1]):
        for a, b in itertools.pairwise(order):
            places[b] = min(places[b], places[a] + growth * abs(b - a))


def _zone_cuts(start: float, end: float, rule: ShieldRule) -> NDArray[np.float64]:
    """Places, as fractions of the way, at which a stretch of a zone from ``start`` [m] is cut."""
    s = np.linspace(start, end, 201)
    density = 1.0 / np.array([rule.in_zone(float(place)) for place in s])
    count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(s))])
    at = np.linspace(0.0, count[-1], max(1, round(count[-1])) + 1)
    return (np.interp(at, count, s) - start) / (end - start)


def shield_positions(
    route: Route, zones: list[Span], rule: ShieldRule, over: OverCable | None = None
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Distances along the cable at which the shield is cut [m], and segments in a choke zone.

    ``over`` is a pipe that is drawn over the cable. Shapes (n_segment + 1,) and (n_segment,).
    """
    marks = _boundaries(route, zones, rule, over)
    positions = [marks[0].position]
    for a, b in itertools.pairwise(marks):
        span = b.position - a.position
        if over is not None and (a.position, b.position) == over.span:
            places = over.inner[1:]
        elif over is not None and (a.position, b.position) in over.held:
            places = np.ones(1)
        elif a.in_zone:
            places = _zone_cuts(a.position, b.position, rule)[1:]
        else:
            places = cuts(span, a.size, b.size, rule.general())[1:]
        # The last cut is the boundary itself, to the bit: another conductor may join there.
        positions += [*(a.position + span * places[:-1]), b.position]
    cut = np.array(positions)
    in_zone = np.zeros(len(cut) - 1, dtype=bool)
    for start, *_, end in zones:
        in_zone |= (cut[1:] > start + 1e-6) & (cut[:-1] < end - 1e-6)
    return cut, in_zone


def route_points(route: Route, positions: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points of the route at given distances along the cable, shape (n, 3). [m]

    Definition.
    """
    known = np.array([n.position for n in route.nodes])
    corners = np.array([n.point for n in route.nodes])
    return np.stack([np.interp(positions, known, corners[:, k]) for k in range(3)], axis=1)


def spaced_ports(
    positions: NDArray[np.float64], in_zone: NDArray[np.bool_], spacing: float
) -> list[int]:
    """Segments that become ports: every one in a choke zone, elsewhere at even distances.

    Those stand at most ``spacing`` apart. Where there is a choice they take a
    segment as long as its neighbours: a source where lengths change is what makes the port
    matrix of a point-matching solver unsymmetric.

    Examples
    --------
    >>> spaced_ports(np.linspace(0, 1, 11), np.zeros(10, dtype=bool), 0.3)
    [1, 4, 7]
    """
    length = np.diff(positions)
    centres = 0.5 * (positions[1:] + positions[:-1])
    even = np.zeros(len(length), dtype=bool)
    if len(length) > 2:
        step = np.maximum(length[1:-1], 1e-9)
        even[1:-1] = (abs(length[:-2] / step - 1) < 0.06) & (abs(length[2:] / step - 1) < 0.06)
    chosen: list[int] = []
    last = positions[0] - 0.5 * spacing
    for k in np.flatnonzero(in_zone):
        chosen += _fill(centres, even, last, float(centres[k]), spacing)
        chosen.append(int(k))
        last = float(centres[k])
    return chosen + _fill(centres, even, last, float(positions[-1]) + 0.5 * length[-1], spacing)


def _fill(
    centres: NDArray[np.float64],
    even: NDArray[np.bool_],
    last: float,
    stop: float,
    spacing: float,
) -> list[int]:
    """Segments strictly between two places, none further than ``spacing`` from the next."""
    chosen: list[int] = []
    while stop - last > spacing * (1 + 1e-9):
        reach = (centres > last + 1e-9) & (centres <= last + spacing * (1 + 1e-9))
        reach &= centres < stop
        if not reach.any():
            break
        best = np.flatnonzero(reach & even)
        chosen.append(int(best[-1] if len(best) else np.flatnonzero(reach)[-1]))
        last = float(centres[chosen[-1]])
    return chosen


@dataclass(frozen=True)
class ShieldWires:
    """The cable's outside as wires, with ports and the position of every segment.

    ``rows`` are the wires that carry the current of each segment: more than one under a sleeve.
    """

    wires: tuple[Wire, ...]
    ports: tuple[Port, ...]
    positions: NDArray[np.float64]
    rows: tuple[tuple[int, ...], ...]


def shield_wires(
    route: Route,
    positions: NDArray[np.float64],
    port_segments: Sequence[int],
    radius: NDArray[np.float64],
    material: Material,
) -> ShieldWires:
    """Draw the shield; one wire a segment, every candidate segment a port.

    A winding has no ports inside: between turns that lie this close a source on one segment is
    not the same as a load on it (the port matrix was 40 % unsymmetric there). ``positions`` [m] are
    those of :func:`shield_positions`, ``port_segments`` of :func:`spaced_ports`; ``radius`` [m] has
    one value a segment.
    """
    points = grid_points(route_points(route, positions))
    wires = [
        Wire(points[k], points[k + 1], 1, float(radius[k]), _part(route, positions, k), material)
        for k in range(len(radius))
    ]
    centres = 0.5 * (positions[1:] + positions[:-1])
    ports = [
        Port(f"shield at {centres[k]:.3f} m", k, 0, float(centres[k]))
        for k in port_segments
        if wires[k].part != "coil"
    ]
    return ShieldWires(
        tuple(wires), tuple(ports), positions, tuple((k,) for k in range(len(wires)))
    )


def _part(route: Route, positions: NDArray[np.float64], k: int) -> str:
    if route.coil is None:
        return "shield"
    middle = 0.5 * (positions[k] + positions[k + 1])
    return "coil" if route.coil[0] < middle < route.coil[1] else "shield"
