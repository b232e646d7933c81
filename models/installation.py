"""Antenna, mast, cable, bond and radio end put together above the ground.

The one place where all parts meet: from plain descriptions to a :class:`Structure` that has
been checked for everything the field solver would not survive.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.antenna import FinishedAntenna, thickness_inductance
from models.feedline_route import CORNERS_PER_TURN, LOWEST_RUN, Helix, Route, Step, lay_route
from models.loads import Load, Termination
from models.metalwork import Footing, Run, Setting, downward_run, keys_of, stand
from models.segmentation import collisions, cuts, segment_limits
from models.shield import (
    ShieldRule,
    ShieldWires,
    Zone,
    merged_zones,
    shield_positions,
    shield_wires,
)
from models.structure import (
    GeometryError,
    Material,
    Point,
    Port,
    Problem,
    Structure,
    Wire,
    grid_point,
)

# Foot of the bond lead: a star close above the soil, stable where a wire end on it is not.
STAR_HEIGHT = 0.02
STAR_ARM = 0.5
STAR_ARMS = 4
# The radius may step by this much between neighbouring segments, away from any joint.
RADIUS_STEP = 1.15
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
    of lead beyond the radio.
    """

    joins: str
    steps: tuple[Step, ...]
    first: ShieldCable
    rest: ShieldCable
    zones: tuple[Zone, ...]
    helix: Helix | None
    bond_radius: float
    station_lead: float


def shield_rule(
    pipe_diameter: float, wavelength: float, refine: float, radius: float
) -> ShieldRule:
    """Segment lengths on the shield.

    A thirtieth of a wavelength at most, finer at the tap and at corners; ports of the comb at
    most a tenth of a wavelength apart.
    """
    least = 2.15 * radius
    return ShieldRule(
        joint=max(refine * 0.6 * pipe_diameter, least),
        corner=max(refine * wavelength / 60, least),
        zone=max(min(0.016, wavelength / 75) * refine, least),
        longest=refine * wavelength / 30,
        comb=wavelength / 10,
        least=least,
        corners_per_turn=round(CORNERS_PER_TURN / refine),
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


def _lead(
    start: Point, end: Point, radius: float, part: str, material: Material, rule: ShieldRule
) -> list[Wire]:
    """A straight conductor, graded from the fine segments of a joint at both ends."""
    length = float(np.linalg.norm(np.subtract(end, start)))
    places = cuts(length, rule.corner, rule.corner, rule.general())
    nodes = [
        start,
        *(grid_point(np.asarray(start) + t * np.subtract(end, start)) for t in places[1:-1]),
        end,
    ]
    return [Wire(a, b, 1, radius, part, material) for a, b in itertools.pairwise(nodes)]


def _bond(point: Point, radius: float, material: Material, rule: ShieldRule) -> list[Wire]:
    """Lead from the bond down to a star of wires close above the soil."""
    x, y, _ = point
    foot = grid_point((x, y, STAR_HEIGHT))
    wires = _lead(point, foot, radius, "bond lead", material, rule)
    for k in range(STAR_ARMS):
        # Turned by 45 degrees so that no arm lies under a cable that leaves at right angles.
        angle = np.pi / 4 + 2 * np.pi * k / STAR_ARMS
        tip = grid_point((x + STAR_ARM * np.cos(angle), y + STAR_ARM * np.sin(angle), STAR_HEIGHT))
        wires += _lead(foot, tip, radius, "rod star", material, rule)
    return wires


def _raise_to(antenna: FinishedAntenna, height: float) -> FinishedAntenna:
    """Antenna lifted to its height above ground."""

    def lift(point: Point) -> Point:
        return grid_point((point[0], point[1], point[2] + height))

    wires = tuple(replace(w, start=lift(w.start), end=lift(w.end)) for w in antenna.wires)
    joints = {k: replace(j, point=lift(j.point)) for k, j in antenna.joints.items()}
    return replace(antenna, wires=wires, joints=joints, lowest=antenna.lowest + height)


def _check_heights(antenna: FinishedAntenna, route: Route | None, grounded: bool) -> None:
    problems = []
    if grounded and antenna.lowest < LOWEST_RUN:
        problems.append(
            Problem(
                "site.height",
                "",
                f"puts the antenna's lowest metal {antenna.lowest:.2f} m above ground; "
                f"at least {LOWEST_RUN:g} m is needed",
                "raise the antenna or shorten its mast",
                "antenna-low",
            )
        )
    if grounded and route is not None:
        low = min(node.point[2] for node in route.nodes)
        if low < LOWEST_RUN:
            problems.append(
                Problem(
                    "cable.route",
                    "",
                    f"leads the cable to {low:.2f} m above ground; "
                    f"at least {LOWEST_RUN:g} m is needed",
                    "end the downward run higher (down_to: 0.5 m)",
                    "route-low",
                )
            )
    if not grounded and route is not None and route.marked("bond") is not None:
        problems.append(
            Problem(
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

    Parameters
    ----------
    name : str
        Name that errors, files and figures use.
    antenna : FinishedAntenna
        With its base line on z = 0.
    feedline : Feedline or None
        None: the antenna alone, fed without a cable.
    rule : ShieldRule
        Segment lengths on the shield.
    height : float
        Height of the base line above ground. [m]
    grounded : bool
        False in free space.
    setting : Setting, optional
        What stands around it.

    Raises
    ------
    GeometryError
        If parts collide or lie too low.
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
    shield = _draw_shield(route, feedline, rule)
    return _checked(_join(name, raised, own, route, shield, feedline, rule), setting, rule)


def own_run(antenna: FinishedAntenna, feedline: Feedline, height: float) -> Run:
    """The longest downward stretch of the cable without a coil in it.

    ``antenna`` has its base line on z = 0, ``height`` [m] is that of its base line above ground.

    Raises
    ------
    GeometryError
        If a step of the route leads nowhere.
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


def _draw_shield(route: Route, feedline: Feedline, rule: ShieldRule) -> ShieldWires:
    zones = merged_zones(feedline.zones, rule.zone)
    positions, _ = shield_positions(route, zones, rule)
    # A step in radius near a joint is what breaks reciprocity, so it waits well past it.
    after = (route.coil[1] if route.coil else 0.0) + STEP_AFTER
    radii = _radii(positions, after, feedline)
    shield = shield_wires(route, zones, rule, radii, feedline.first.material)
    wires = tuple(
        replace(w, material=feedline.rest.material) if w.radius == feedline.rest.radius else w
        for w in shield.wires
    )
    return replace(shield, wires=wires)


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
    wires += _lead(station.point, end, radius, "station lead", bare, rule)
    bond = route.marked("bond")
    if bond is not None:
        lead = _bond(bond.point, radius, bare, rule)
        last = max(k for k, w in enumerate(lead) if w.part == "bond lead")
        drop = bond.point[2] - STAR_HEIGHT
        extra = thickness_inductance(drop, radius, feedline.bond_radius)
        ports.append(Port("bond", len(wires), 0, bond.position, extra))
        ports.append(Port("rod", len(wires) + last, 0, None))
        wires += lead
    segments = np.arange(first, first + len(shield.wires))
    structure = Structure(name, tuple(wires), tuple(ports), loads=antenna.loads)
    centres = 0.5 * (shield.positions[1:] + shield.positions[:-1])
    path = tuple(
        (int(structure.first_segment[w]), float(s)) for w, s in zip(segments, centres, strict=True)
    )
    return replace(structure, shield_path=path)


def _surrounded(structure: Structure, setting: Setting, rule: ShieldRule) -> Structure:
    """The structure with all that stands around it behind its own wires and ports."""
    around = stand(structure, setting)
    first = len(structure.wires)
    wires = [*structure.wires, *around.wires]
    ports = [*structure.ports, *(replace(p, wire=p.wire + first) for p in around.ports)]
    loads = [*structure.loads, *(replace(x, wire=x.wire + first) for x in around.loads)]
    for footing in around.footings:
        lead = _earth_lead(footing, setting, rule)
        # Where the lead's segments are even: beside the star the port matrix is 4 % unsymmetric.
        last = len(wires) + max(len(lead) - 3, 0)
        drop = footing.point[2] - STAR_HEIGHT
        extra = thickness_inductance(drop, footing.radius, footing.earth.lead_radius)
        ports.append(Port(footing.port, last, 0, None, extra))
        loads.append(Load(footing.port, Termination(footing.earth.impedance), last))
        wires += lead
    return replace(structure, wires=tuple(wires), ports=tuple(ports), loads=tuple(loads))


def _earth_lead(footing: Footing, setting: Setting, rule: ShieldRule) -> list[Wire]:
    """Star and lead of an earth, the lead's lowest segment last."""
    if footing.point[2] < STAR_HEIGHT + rule.least:
        raise GeometryError(
            Problem(
                keys_of(setting.around)[footing.part],
                "",
                f"ends {footing.point[2]:.2f} m above ground; a lead to a rod begins at least "
                f"{STAR_HEIGHT + rule.least:.2f} m above it",
                f"let the {footing.part} end higher",
                "earth-low",
            )
        )
    # The middle of the first segment has to be outside of what it is joined to.
    rule = replace(rule, corner=max(rule.corner, 2.2 * footing.thick))
    wires = _bond(footing.point, footing.radius, setting.metal, rule)
    wires.sort(key=lambda w: w.part == "bond lead")
    return [replace(w, part=footing.part) for w in wires]


def _checked(structure: Structure, setting: Setting | None, rule: ShieldRule) -> Structure:
    keys = {}
    if setting is not None:
        structure = _surrounded(structure, setting, rule)
        keys = keys_of(setting.around)
    problems = collisions(structure, keys)
    if problems:
        raise GeometryError(*problems)
    return structure


def refuse_bad_segments(structure: Structure, wavelength: float, grounded: bool) -> None:
    """Raise if any segment is too long, too short or below ground.

    Raises
    ------
    GeometryError
        With one problem a kind.
    """
    problems = segment_limits(structure, wavelength, grounded)
    if problems:
        raise GeometryError(*problems)
