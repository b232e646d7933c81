"""A sleeve over the cable as wires: its outside as a cage, a port in the cable beside its mouth.

The cable as drawn comes in, with where the sleeve begins and which way it opens; the cable with a
cage from plate to mouth, spokes at both ends and the port goes out. The cable inside is not drawn:
its line is in series with the port (``wires.sleeve_wires``).

The port and its neighbour lie outside of the mouth and are even; the cable has to run straight
along them and along the sleeve.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.faults import Fault
from models.lengths import METRE_PER_INCH, Rounding, large, small
from models.site.feedline_route import Route
from models.site.shield import OverCable, ShieldRule, ShieldWires, route_points
from models.wires.pipe_cage import CLEAR_OF_HOOP_PER_RADIUS, RIM_PER_RADIUS, Cage, ring_nodes
from models.wires.segmentation import SegmentRule, cuts
from models.wires.sleeve_wires import fits, mouth_capacitance, port_length, sleeve_cage
from models.wires.structure import GeometryError, Port, Wire, grid_point

Real = NDArray[np.float64]

# Name of the port beside the mouth, and of the wires of the outside.
SLEEVE = "sleeve"
# Parts that our cable and what is on it are drawn as.
ON_CABLE = ("shield", "coil", SLEEVE)
# Segments of a sleeve in its diameters at either end, as on pipes.
_FINE = 0.55
# The cable's segment at the plate in those of the port; 0.4 to 1 do alike against the walls.
_AT_PLATE = 0.8


@dataclass(frozen=True)
class Sleeve:
    """A pipe over the cable, closed on it at one end.

    ``start`` [m] is where along the cable its end nearer to the antenna lies, ``inside`` its length
    from the mouth to the plate, which is as thick as the ``wall``; ``radius`` is that of its
    outside and ``shield_radius`` that of the cable's shield [m]. ``opens_to_antenna`` says which
    way the mouth points.
    """

    start: float
    inside: float
    radius: float
    wall: float
    shield_radius: float
    conductivity: float
    opens_to_antenna: bool

    @property
    def end(self) -> float:
        """Where along the cable the end further from the antenna lies. [m]"""
        return self.start + self.inside + self.wall


@dataclass(frozen=True)
class DrawnSleeve:
    """A sleeve with the wire radius [m] and the rule that it is drawn with."""

    of: Sleeve
    wire_radius: float
    rule: ShieldRule

    @cached_property
    def cage(self) -> Cage:
        """Wires of the outside."""
        return sleeve_cage(self.of.radius, self.wire_radius, self.of.conductivity, SLEEVE)

    @cached_property
    def port(self) -> float:
        """Length of the port and of its neighbour. [m]"""
        return port_length(self.cage)

    @property
    def span(self) -> tuple[float, float]:
        """Where along the cable the stars of its ends are drawn, from the antenna on. [m]"""
        rim = RIM_PER_RADIUS * self.wire_radius
        if self.of.opens_to_antenna:
            return self.of.start + rim, self.of.end
        return self.of.start, self.of.end - rim

    @property
    def held(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Port and neighbour, each one segment, from the antenna on. [m]"""
        begin, end = self.span
        if self.of.opens_to_antenna:
            near, middle, far = begin - 2 * self.port, begin - self.port, begin
        else:
            near, middle, far = end, end + self.port, end + 2 * self.port
        return (near, middle), (middle, far)

    def cut(self) -> OverCable:
        """Where it cuts the cable: in even segments beside the mouth, over its length as pipes."""
        begin, end = self.span
        at_plate = end if self.of.opens_to_antenna else begin
        wanted = dict.fromkeys((p for pair in self.held for p in pair), self.port)
        fine = max(self.rule.refine * _FINE * 2 * self.of.radius, 2.5 * self.wire_radius)
        longest = max(fine, self.rule.longest)
        rule = SegmentRule(fine, longest, least=CLEAR_OF_HOOP_PER_RADIUS * self.wire_radius)
        return OverCable(
            wanted | {at_plate: _AT_PLATE * self.port},
            self.held,
            self.span,
            cuts(end - begin, fine, fine, rule),
        )

    def check(self, route: Route) -> None:
        """Raise where it has no room on the cable or cannot be drawn."""
        if not fits(self.of.radius, self.wire_radius):
            raise GeometryError(_too_narrow(self.of))
        first, last = self.held[0][0], self.held[1][1]
        low, high = min(first, self.span[0]), max(last, self.span[1])
        bends = [node.position for node in route.nodes]
        # Between a bend and what is cut for the sleeve lies a segment that is not much shorter.
        margin = _AT_PLATE * self.port
        before = max((b for b in bends if b <= self.of.start), default=bends[0])
        after = min((b for b in bends if b > before + 1e-6), default=bends[-1])
        if before + margin > low or high + margin > after:
            raise GeometryError(_no_room(self.of, (before, after), (low - margin, high + margin)))


def _too_narrow(of: Sleeve) -> Fault:
    return Fault(
        "chokes.pipe",
        small(2 * of.radius, 1),
        f"is too narrow for a shield of {small(2 * of.shield_radius, 2)}: the mouth between them "
        "cannot be drawn as it is",
        f"a pipe of {small(5.2 * of.shield_radius, 1, 'up')} or more",
        "mouth-narrow",
    )


def _no_room(of: Sleeve, straight: tuple[float, float], needed: tuple[float, float]) -> Fault:
    ahead, length = of.start - needed[0], needed[1] - needed[0]
    first, last = straight[0] + ahead, straight[1] - (needed[1] - of.start)
    # The nearest place, where one is left when it is rounded.
    nearer: Rounding = "up" if of.start < first else "down"
    place = large(first if nearer == "up" else last, 2, nearer)
    return Fault(
        "chokes.position",
        large(of.start),
        f"leaves the sleeve no room: with the cable beside its mouth it takes {large(length)} of "
        f"straight cable from {large(ahead)} before that place on, and the cable is straight from "
        f"{large(straight[0])} to {large(straight[1])}",
        f"position: {place}"
        if last - first >= METRE_PER_INCH
        else "a longer straight run of cable",
        "sleeve-no-room",
    )


def put_on(shield: ShieldWires, route: Route, drawn: DrawnSleeve) -> ShieldWires:
    """The cable with the sleeve over it in place of its own wires there.

    ``shield`` has one wire a segment, cut where the sleeve wants it.
    """
    begin, end = drawn.span
    middle = 0.5 * (shield.positions[1:] + shield.positions[:-1])
    over = (middle > begin) & (middle < end)
    axis = route_points(route, shield.positions)
    nodes = _nodes(axis[np.append(over, False) | np.append(False, over)], drawn.cage)
    wires: list[Wire] = []
    rows: list[tuple[int, ...]] = []
    station = 0
    for k, wire in enumerate(shield.wires):
        if not over[k]:
            rows.append((len(wires),))
            wires.append(wire)
            continue
        rows.append(tuple(range(len(wires), len(wires) + drawn.cage.n_wires)))
        wires += _between(nodes[station], nodes[station + 1], drawn.cage)
        station += 1
    inside = np.flatnonzero(over)
    stars = (shield.wires[inside[0] - 1].end, shield.wires[inside[-1] + 1].start)
    for ends, star in zip((nodes[0], nodes[-1]), stars, strict=True):
        wires += _between(ends, np.broadcast_to(star, ends.shape), drawn.cage)
    beside = int(inside[0]) - 1 if drawn.of.opens_to_antenna else int(inside[-1]) + 1
    ports = [
        replace(port, wire=rows[port.wire][0])
        for port in shield.ports
        if not over[port.wire] and port.wire != beside
    ]
    across = mouth_capacitance(drawn.of.shield_radius, drawn.port, drawn.wire_radius, drawn.of.wall)
    mouth = Port(SLEEVE, rows[beside][0], 0, float(middle[beside]), shunt_capacitance=across)
    return replace(shield, wires=tuple(wires), ports=(*ports, mouth), rows=tuple(rows))


def _nodes(axis: Real, cage: Cage) -> Real:
    """Places of the cage's wires along a straight axis, shape (n_station, n_wires, 3). [m]"""
    way = (axis[-1] - axis[0]) / np.linalg.norm(axis[-1] - axis[0])
    # Any direction across it will do; that of a level or upright run lies along an axis.
    across = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    return ring_nodes(axis, across / np.linalg.norm(across), cage)


def _between(first: Real, last: Real, cage: Cage) -> Iterator[Wire]:
    """A wire of one segment from every node to its fellow."""
    for a, b in zip(first, last, strict=True):
        yield Wire(grid_point(a), grid_point(b), 1, cage.wire_radius, cage.part, cage.material)
