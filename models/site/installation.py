"""Antenna, mast, cable, bond and radio end put together above the ground.

The one place where all parts meet: from plain descriptions to a :class:`Structure` that has
been checked for everything the field solver would not survive.

A wire's end carries no current, so a radio is drawn with something beyond it: the power lead, 1.5 m
unless the study says otherwise, behind the impedance between shield and lead.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import FinishedAntenna, Joint, thickness_inductance
from models.faults import Fault
from models.lengths import large
from models.site.earth import (
    STAR_HEIGHT,
    Head,
    Lead,
    Rods,
    draw_earths,
    lead_to_head,
    lead_to_rod,
    one_rod,
    shared_head,
    straight_lead,
)
from models.site.feedline_route import (
    CORNERS_PER_TURN,
    LOWEST_RUN,
    Helix,
    Route,
    RouteNode,
    Step,
    lay_route,
)
from models.site.metalwork import Run, Setting, downward_run, earth_places, keys_of, stand
from models.site.shield import (
    ShieldRule,
    ShieldWires,
    Zone,
    merged_zones,
    shield_positions,
    shield_wires,
    spaced_ports,
)
from models.site.sleeve import DrawnSleeve, Sleeve, put_on
from models.wires.segmentation import collisions, segment_limits, too_many
from models.wires.structure import (
    GeometryError,
    Material,
    Point,
    Port,
    Structure,
    grid_point,
    grid_points,
)

# The radius may step by this much between neighbouring segments, away from any joint. A hub of
# 15 mm at 435 MHz, whose shield grows from 6 to 8.1 mm, is 1 % more unsymmetric with 1.15.
RADIUS_STEP = 1.02
# How far along the cable from the tap, or past a coil, the radius may begin to change [m].
STEP_AFTER = 0.3


@dataclass(frozen=True)
class ShieldCable:
    """Outside of a cable: radius of the shield, jacket as distributed inductance [m, H/m]."""

    radius: float
    material: Material


@dataclass(frozen=True)
class Feedline:
    """The cable and all it meets on its way.

    ``first`` is the cable at the tap (a jumper, where a coil is made of one), ``rest`` what
    follows the coil. ``bond_radius`` is the real lead's radius; ``station_lead`` [m] the length
    of lead beyond the radio; ``sleeve`` a pipe that is drawn over the cable.
    """

    joins: str
    steps: tuple[Step, ...]
    first: ShieldCable
    rest: ShieldCable
    zones: tuple[Zone, ...]
    helix: Helix | None
    bond_radius: float
    station_lead: float
    sleeve: Sleeve | None = None


def shield_rule(
    pipe_diameter: float, shortest_wavelength: float, refine: float, radius: float
) -> ShieldRule:
    """Segment lengths on the shield.

    A thirtieth of a wavelength at most, finer at the tap, at corners and below chokes; ports
    outside choke zones at most a tenth of a wavelength apart.
    """
    least = 2.15 * radius
    return ShieldRule(
        joint=max(refine * 0.6 * pipe_diameter, least),
        corner=max(refine * shortest_wavelength / 60, least),
        zone=max(min(0.016, shortest_wavelength / 75) * refine, least),
        longest=refine * shortest_wavelength / 30,
        port_spacing=shortest_wavelength / 10,
        least=least,
        row=max(refine * shortest_wavelength / 75, least),
        corners_per_turn=round(CORNERS_PER_TURN / refine),
        refine=refine,
    )


def _radii(positions: NDArray[np.float64], after: float, feedline: Feedline) -> NDArray[np.float64]:
    """Radius of each shield segment: the jumper's to the end of the coil, then growing slowly."""
    radii = np.full(len(positions) - 1, feedline.first.radius)
    target = feedline.rest.radius
    for k in range(1, len(radii)):
        if positions[k] > after:
            grown = radii[k - 1] * RADIUS_STEP if target > radii[k - 1] else target
            radii[k] = min(grown, target)
    return radii


def _raise_to(antenna: FinishedAntenna, height: float) -> FinishedAntenna:
    """Antenna lifted to its height above ground."""

    def lift(points: Iterable[Point]) -> list[Point]:
        return grid_points(np.array(list(points)).reshape(-1, 3) + np.array([0.0, 0.0, height]))

    starts, ends = (lift(getattr(w, end) for w in antenna.wires) for end in ("start", "end"))
    wires = tuple(
        replace(w, start=start, end=end)
        for w, start, end in zip(antenna.wires, starts, ends, strict=True)
    )
    points = lift(j.point for j in antenna.joints.values())
    joints = {
        k: replace(j, point=point)
        for (k, j), point in zip(antenna.joints.items(), points, strict=True)
    }
    return replace(antenna, wires=wires, joints=joints, lowest=antenna.lowest + height)


def _check_heights(antenna: FinishedAntenna, route: Route | None, grounded: bool) -> None:
    problems = []
    if grounded and antenna.lowest < LOWEST_RUN:
        problems.append(
            Fault(
                "site.height",
                "",
                f"puts the antenna's lowest metal {large(antenna.lowest)} above ground; "
                f"at least {large(LOWEST_RUN, None)} is needed",
                "raise the antenna or shorten its mast",
                "antenna-low",
            )
        )
    if grounded and route is not None:
        low = min(node.point[2] for node in route.nodes)
        if low < LOWEST_RUN:
            problems.append(
                Fault(
                    "cable.route",
                    "",
                    f"leads the cable to {large(low)} above ground; "
                    f"at least {large(LOWEST_RUN, None)} is needed",
                    f"end the downward run higher (down_to: {large(0.5, 1)})",
                    "route-low",
                )
            )
    if not grounded and route is not None and route.marked("bond") is not None:
        problems.append(
            Fault(
                "cable.route",
                "bond: here",
                "a bond to a ground rod needs a ground, and this study is in free space",
                "give site.ground a soil class, or take the bond out of the route",
                "bond-no-ground",
            )
        )
    if problems:
        raise GeometryError(*problems)


def assemble(
    name: str,
    antenna: FinishedAntenna,
    feedline: Feedline | None,
    rule: ShieldRule,
    height: float,
    grounded: bool,
    setting: Setting | None = None,
) -> Structure:
    """Everything as one structure at its place above the ground.

    The antenna has its base line on z = 0 and gets it to ``height`` [m]; without a ``feedline`` it
    is fed alone, ``setting`` is what stands around it.
    """
    raised = _raise_to(antenna, height)
    own = _antenna_ports(raised)
    if feedline is None:
        _check_heights(raised, None, grounded)
        alone = Structure(name, raised.wires, own, loads=raised.loads)
        return _checked(alone, setting, rule)
    joint = raised.joints[feedline.joins]
    route = lay_route(joint, feedline.steps, feedline.helix, rule.corners_per_turn)
    _check_heights(raised, route, grounded)
    shield = _draw_shield(route, feedline, replace(rule, joint=_first(joint, rule)))
    joined = _join(name, raised, own, route, shield, feedline, rule)
    bond = route.marked("bond")
    if bond is None:
        return _checked(joined, setting, rule)
    bonded, head = _bonded(joined, bond, feedline, rule, setting)
    return _checked(bonded, setting, rule, head)


def own_run(antenna: FinishedAntenna, feedline: Feedline, height: float) -> Run:
    """The longest downward stretch of the cable without a coil in it.

    ``antenna`` has its base line on z = 0, ``height`` [m] is that of its base line above ground.
    """
    joint = _raise_to(antenna, height).joints[feedline.joins]
    return downward_run(lay_route(joint, feedline.steps, None), joint.away)


def _antenna_ports(antenna: FinishedAntenna) -> tuple[Port, ...]:
    """Feed, and every load with a wire of its own."""

    def middle(wire: int) -> int:
        return antenna.wires[wire].n_segments // 2

    first, *rest = antenna.feed_wires
    beside = tuple((wire, middle(wire)) for wire in rest)
    feed = Port("feed", first, middle(first), None, antenna.feed_inductance, beside)
    loads = (Port(x.name, x.wire, middle(x.wire)) for x in antenna.loads if x.name != "feed")
    return (feed, *loads)


def _first(joint: Joint, rule: ShieldRule) -> float:
    """Wanted length of the shield's first segment. [m]"""
    return rule.joint if joint.first is None else max(joint.first, rule.least)


def _draw_shield(route: Route, feedline: Feedline, rule: ShieldRule) -> ShieldWires:
    zones = merged_zones(feedline.zones, rule.zone)
    over = None
    if feedline.sleeve is not None:
        over = DrawnSleeve(feedline.sleeve, feedline.first.radius, rule)
        over.check(route)
    cut = None if over is None else over.cut()
    positions, in_zone = shield_positions(route, zones, rule, cut)
    # A step in radius near a joint is what breaks reciprocity, so it waits well past it.
    after = (route.coil[1] if route.coil else 0.0) + STEP_AFTER
    if feedline.sleeve is not None:
        after = feedline.sleeve.end + STEP_AFTER
    radii = _radii(positions, after, feedline)
    ports = spaced_ports(positions, in_zone, rule.port_spacing)
    shield = shield_wires(route, positions, ports, radii, feedline.first.material)
    wires = tuple(
        replace(w, material=feedline.rest.material) if w.radius == feedline.rest.radius else w
        for w in shield.wires
    )
    shield = replace(shield, wires=wires)
    return shield if over is None else put_on(shield, route, over)


def _join(
    name: str,
    antenna: FinishedAntenna,
    own: tuple[Port, ...],
    route: Route,
    shield: ShieldWires,
    feedline: Feedline,
    rule: ShieldRule,
) -> Structure:
    """Antenna, shield, bond and radio end in one list of wires with all ports."""
    wires = [*antenna.wires]
    first = len(wires)
    wires += shield.wires
    ports = [*own, *(replace(p, wire=p.wire + first) for p in shield.ports)]
    bare = replace(feedline.rest.material, jacket_inductance=0.0)
    radius = feedline.rest.radius
    station = route.nodes[-1]
    end = grid_point(np.asarray(station.point) + feedline.station_lead * route.direction())
    ports.append(Port("station", len(wires), 0, route.length))
    wires += straight_lead(station.point, end, Lead(radius, "station lead", bare, rule))
    structure = Structure(name, tuple(wires), tuple(ports), loads=antenna.loads)
    centres = 0.5 * (shield.positions[1:] + shield.positions[:-1])
    rows = [[int(structure.first_segment[first + w]) for w in row] for row in shield.rows]
    path = tuple((row[0], float(s)) for row, s in zip(rows, centres, strict=True))
    beside = tuple((row[0], tuple(row[1:])) for row in rows if len(row) > 1)
    return replace(structure, shield_path=path, shield_beside=beside)


def _bonded(
    structure: Structure,
    bond: RouteNode,
    feedline: Feedline,
    rule: ShieldRule,
    setting: Setting | None,
) -> tuple[Structure, Head | None]:
    """The structure with the bond's lead and rod, and the head of the rod if it is shared."""
    radius, point = feedline.rest.radius, bond.point
    lead = Lead(radius, "bond lead", replace(feedline.rest.material, jacket_inductance=0.0), rule)
    first = len(structure.wires)
    earths = () if setting is None else earth_places(setting)
    if any(earth.impedance is None or one_rod(point, place) for place, earth in earths):
        head = shared_head(point, lead)
        down = lead_to_head(point, head, lead)
        wires, rod, last = [*down, *head.wires], len(down) + head.port, len(down)
    else:
        head = None
        wires = lead_to_rod(point, lead)
        rod = last = max(k for k, w in enumerate(wires) if w.part == "bond lead")
    extra = thickness_inductance(point[2] - STAR_HEIGHT, radius, feedline.bond_radius)
    ports = (
        *structure.ports,
        # On the second segment, clear of the junction: on the first, bond and rod are 17 % unlike.
        Port("bond", first + (last > 1), 0, bond.position, extra),
        Port("rod", first + rod, 0, None),
    )
    return replace(structure, wires=(*structure.wires, *wires), ports=ports), head


def _surrounded(
    structure: Structure, setting: Setting, rule: ShieldRule, head: Head | None
) -> Structure:
    """The structure with all that stands around it behind its own wires and ports.

    ``head`` is that of the bond's rod where others share it.
    """
    around = stand(structure, setting)
    first = len(structure.wires)
    wires = [*structure.wires, *around.wires]
    earths = draw_earths(
        around.footings,
        Rods(head, setting.rod, keys_of(setting.around)),
        Lead(0.0, "", setting.metal, rule),
        len(wires),
    )
    return replace(
        structure,
        wires=(*wires, *earths.wires),
        ports=(
            *structure.ports,
            *(replace(p, wire=p.wire + first) for p in around.ports),
            *earths.ports,
        ),
        loads=(
            *structure.loads,
            *(replace(x, wire=x.wire + first) for x in around.loads),
            *earths.loads,
        ),
    )


def _checked(
    structure: Structure, setting: Setting | None, rule: ShieldRule, head: Head | None = None
) -> Structure:
    keys = {}
    if setting is not None:
        structure = _surrounded(structure, setting, rule, head)
        keys = keys_of(setting.around)
    # First the size, since the search for collisions looks at all pairs.
    problems = too_many(structure, keys) or collisions(structure, keys)
    if problems:
        raise GeometryError(*problems)
    return structure


def refuse_bad_segments(structure: Structure, shortest_wavelength: float, grounded: bool) -> None:
    """Raise if any segment is too long, too short or below ground."""
    problems = segment_limits(structure, shortest_wavelength, grounded)
    if problems:
        raise GeometryError(*problems)
