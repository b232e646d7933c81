"""Leads down to a ground rod, and the rod's foot as the field solver can draw it.

A wire end on lossy soil has no contact model, so a rod is a star of wires close above the soil with
its impedance in series. Rods that stand nearer to each other than the arms of their stars reach act
as one: their leads meet at one head above one star, with the impedance there once.

Shorter segments at a wire end on soil do not settle; the star of four half-metre wires 2 cm above
it does. With a mast 15 to 50 cm from the cable transfer admittances are 6 to 8.5 % unlike (4 to 5 %
with its foot open, 6 % without a mast), average gain is 1.015, and segments a quarter shorter move
impedance by 0.5 %, the radio's current by 1 %.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from models.antennas.generator import thickness_inductance
from models.faults import Fault
from models.lengths import large
from models.site.shield import ShieldRule
from models.wires.loads import Load, Termination
from models.wires.segmentation import cuts
from models.wires.structure import GeometryError, Material, Point, Port, Wire, grid_point

# Foot of a lead: a star close above the soil, stable where a wire end on it is not.
STAR_HEIGHT = 0.02
STAR_ARM = 0.5
STAR_ARMS = 4
# Height of the place where several leads meet above their star. [m]
HEAD = 0.1
# Rods nearer than this are one: the arms of two stars would cross, and rods of a metre or two
# that stand nearer than they are long share most of their soil.
ONE_ROD_WITHIN = 2 * STAR_ARM


@dataclass(frozen=True)
class Earth:
    """A lead from a piece of metal down to a rod: its radius [m], the rod's impedance [ohm].

    No impedance: the rod is that of the cable's bond, however far away. ``usual`` says that the
    study states none, so that it is a common rod's in its soil.
    """

    lead_radius: float
    impedance: complex | None
    usual: bool = False


@dataclass(frozen=True)
class Footing:
    """Beginning of an earth lead: port and part it is named after, point, and the lead.

    ``radius`` is that of the wires drawn, ``thick`` that of what the lead is joined to [m];
    ``rim`` are nodes of a pipe's end, from which a lead may leave sideways.
    """

    port: str
    part: str
    point: Point
    radius: float
    thick: float
    earth: Earth
    rim: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Rods:
    """The rod of the cable's bond: its head if it is shared, its impedance [ohm] if there is one.

    ``keys`` says where in the study the parts stand.
    """

    head: Head | None
    impedance: complex | None
    keys: Mapping[str, str]


@dataclass(frozen=True)
class Lead:
    """Drawing of a lead to a rod: wire radius [m], part it is counted to, metal, rule."""

    radius: float
    part: str
    metal: Material
    rule: ShieldRule


@dataclass(frozen=True)
class Head:
    """Rod that several leads go to: their common place, wires down to the star, port among them."""

    top: Point
    wires: tuple[Wire, ...]
    port: int

    @property
    def length(self) -> float:
        """Length of the conductor that all leads share. [m]"""
        return self.top[2] - STAR_HEIGHT


def straight_lead(start: Point, end: Point, lead: Lead, at_end: float | None = None) -> list[Wire]:
    """A straight conductor, graded from the fine segments of a joint at both ends.

    ``at_end`` [m] is the wanted length of its last segment, that of a corner unless given.
    """
    rule = lead.rule
    length = float(np.linalg.norm(np.subtract(end, start)))
    places = cuts(length, rule.corner, at_end or rule.corner, rule.general())
    nodes = [
        start,
        *(grid_point(np.asarray(start) + t * np.subtract(end, start)) for t in places[1:-1]),
        end,
    ]
    return [Wire(a, b, 1, lead.radius, lead.part, lead.metal) for a, b in itertools.pairwise(nodes)]


def _star(foot: Point, lead: Lead) -> list[Wire]:
    """The arms around the foot of a lead."""
    x, y, _ = foot
    arms = replace(lead, part="rod star")
    wires = []
    for k in range(STAR_ARMS):
        # Turned by 45 degrees so that no arm lies under a cable that leaves at right angles.
        angle = np.pi / 4 + 2 * np.pi * k / STAR_ARMS
        tip = grid_point((x + STAR_ARM * np.cos(angle), y + STAR_ARM * np.sin(angle), STAR_HEIGHT))
        wires += straight_lead(foot, tip, arms)
    return wires


def lead_to_rod(point: Point, lead: Lead) -> list[Wire]:
    """Lead from a point straight down to a star of its own, the lead before the star."""
    foot = grid_point((point[0], point[1], STAR_HEIGHT))
    fine = replace(lead, rule=replace(lead.rule, corner=lead.rule.bond))
    return straight_lead(point, foot, fine, lead.rule.corner) + _star(foot, lead)


def one_rod(point: Point, place: Point) -> bool:
    """Whether leads from two points end so near to each other that they have one rod."""
    return float(np.hypot(point[0] - place[0], point[1] - place[1])) < ONE_ROD_WITHIN


def shared_head(point: Point, lead: Lead) -> Head:
    """Head and star of a rod straight below a point, for several leads.

    The head is no more than half of the way from the star to the point, and its segments are
    even, since the rod's impedance sits in the middle one.
    """
    length = min(HEAD, 0.5 * (point[2] - STAR_HEIGHT))
    least = lead.rule.least
    if length < 3 * least:
        raise GeometryError(
            Fault(
                "cable.route",
                "",
                f"has its bond {large(point[2])} above ground; for a rod that is shared with "
                f"something else {large(STAR_HEIGHT + 6 * least)} are needed",
                f"end the downward run higher (down_to: {large(STAR_HEIGHT + 6.2 * least)})",
                "earth-low",
            )
        )
    n = max(3, 2 * int(length / lead.rule.corner) + 1)
    n = n if length / n >= least else 3
    x, y, _ = point
    nodes = [grid_point((x, y, STAR_HEIGHT + length * (1 - k / n))) for k in range(n + 1)]
    wires = [
        Wire(a, b, 1, lead.radius, lead.part, lead.metal) for a, b in itertools.pairwise(nodes)
    ]
    return Head(nodes[0], (*wires, *_star(nodes[-1], lead)), n // 2)


def lead_to_head(point: Point, head: Head, lead: Lead) -> list[Wire]:
    """Lead from a point to the head of a rod: straight down first, then across at 45 degrees."""
    rule = lead.rule
    # Shorter than elsewhere: in a loop through two leads and a mast 0.25 m off transfer admittances
    # were 9.2 % unlike with whole ones, 7.8 % with halves.
    lead = replace(lead, rule=replace(rule, corner=rule.bond))
    at_end = head.wires[0].length
    across = float(np.hypot(point[0] - head.top[0], point[1] - head.top[1]))
    bend = head.top[2] + across
    if across == 0 or point[2] < bend + 2 * lead.rule.corner:
        return straight_lead(point, head.top, lead, at_end)
    turn = grid_point((point[0], point[1], bend))
    return straight_lead(point, turn, lead) + straight_lead(turn, head.top, lead, at_end)


@dataclass
class Earths:
    """Leads, stars, ports and loads of everything around an antenna that is joined to the soil."""

    wires: list[Wire] = field(default_factory=list)
    ports: list[Port] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)


@dataclass(frozen=True)
class _Way:
    """Wires from a footing to its rod, which of them is a port, and the lead's length [m]."""

    wires: list[Wire]
    port: int
    length: float


def draw_earths(footings: tuple[Footing, ...], rods: Rods, usual: Lead, first_wire: int) -> Earths:
    """Draw the leads of all footings, each to a rod of its own or to one that it shares.

    ``usual`` gives metal and rule, ``first_wire`` is the index that the first wire will have.
    """
    drawn = Earths()
    shared = [] if rods.head is None else [(rods.head, rods.impedance)]
    for footing in footings:
        lead, asked = _lead_of(footing, usual, rods), footing.earth.impedance
        own = (rods.impedance or 0j) if asked is None else asked
        near = [rod for rod in shared if one_rod(footing.point, rod[0].top)]
        host = next(iter(near or shared[: asked is None]), None)
        if host is not None and own != host[1]:
            raise GeometryError(_two_impedances(footing, own, host[1], rods))
        if host is not None:
            way = _to_head(footing, host[0], lead)
        elif any(one_rod(footing.point, f.point) for f in footings if f is not footing):
            head = shared_head(footing.point, lead)
            shared.append((head, own))
            way = _with_head(footing, head, lead)
        else:
            way = _to_own_star(footing, lead)
        index = first_wire + len(drawn.wires) + way.port
        extra = thickness_inductance(way.length, footing.radius, footing.earth.lead_radius)
        drawn.ports.append(Port(footing.port, index, 0, None, extra))
        if host is None:
            drawn.loads.append(Load(footing.port, Termination(own), index))
        drawn.wires += way.wires
    return drawn


def _to_head(footing: Footing, head: Head, lead: Lead) -> _Way:
    """From the node of a footing that is nearest to the head of a rod that is there already."""
    start = min(footing.rim or (footing.point,), key=lambda p: _apart(p, head.top))
    wires = lead_to_head(start, head, lead)
    return _Way(wires, max(len(wires) - 3, 0), sum(w.length for w in wires))


def _with_head(footing: Footing, head: Head, lead: Lead) -> _Way:
    """Straight down to a rod that others will share."""
    above = lead_to_head(footing.point, head, lead)
    below = [replace(w, part=footing.part) for w in head.wires]
    return _Way([*above, *below], len(above) + head.port, footing.point[2] - STAR_HEIGHT)


def _to_own_star(footing: Footing, lead: Lead) -> _Way:
    """Straight down to a star of its own; the lead comes last."""
    wires = lead_to_rod(footing.point, lead)
    wires.sort(key=lambda w: w.part == lead.part)
    # Where the lead's segments are even: beside the star the port matrix is 4 % unsymmetric.
    port = max(len(wires) - 3, 0)
    drawn = [replace(w, part=footing.part) for w in wires]
    return _Way(drawn, port, footing.point[2] - STAR_HEIGHT)


def _apart(a: Point, b: Point) -> float:
    return float(np.linalg.norm(np.subtract(a, b)))


def _lead_of(footing: Footing, usual: Lead, rods: Rods) -> Lead:
    """Drawing of the lead of a footing."""
    rule = usual.rule
    if footing.point[2] < STAR_HEIGHT + rule.least:
        raise GeometryError(
            Fault(
                rods.keys[footing.part],
                "",
                f"ends {large(footing.point[2])} above ground; a lead to a rod begins at least "
                f"{large(STAR_HEIGHT + rule.least)} above it",
                f"let the {footing.part} end higher",
                "earth-low",
            )
        )
    # The middle of the first segment has to be outside of what it is joined to.
    rule = replace(rule, corner=max(rule.corner, 2.2 * footing.thick))
    return Lead(footing.radius, footing.part, usual.metal, rule)


def _two_impedances(footing: Footing, own: complex, other: complex | None, rods: Rods) -> Fault:
    if other is None:
        rule = "is a rod less than {} away from that of the cable's bond, whose lead is off it: so "
        rule += "near to each other they act as one"
        at, remedy = f"{rods.keys[footing.part]}.foot", f"bond: {{rod_impedance: {abs(own):g} ohm}}"
        return Fault(at, "", rule.format(large(ONE_ROD_WITHIN, None)), remedy, "rod-open")
    return Fault(
        f"{rods.keys[footing.part]}.foot",
        "",
        f"is another rod ({abs(own):g} ohm) than the one of {abs(other):g} ohm less than "
        f"{large(ONE_ROD_WITHIN, None)} away: so near to each other they act as one",
        "foot: shared" if rods.head else f"foot: {{rod_impedance: {abs(other):g} ohm}}",
        "rod-twice",
    )
