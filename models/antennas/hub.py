"""A pipe cut through above a hub from which radials leave, the cable from the hub's foot.

What a quarter-wave and a 5/8-wave vertical have in common. The drawing is held against case B1
of tests/validation/joints.py; its foot is closed so that a cable can leave from the axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import Drawing, FinishedAntenna, Joint, filled, thickness_inductance
from models.catalogues.parts import Pipe
from models.construction.assembly import JointPoint, Mark, Member
from models.faults import Fault
from models.lengths import small
from models.quantities import Quantity
from models.wires.pipe_cage import Cage, cage_ring_radius, choose_wire_count, ring, ring_nodes
from models.wires.pipe_parts import ROD_TIP, WireBuilder
from models.wires.segmentation import SegmentRule
from models.wires.structure import GeometryError, Wire, grid_point

Real = NDArray[np.float64]

# Middle of the gap above the plane of the radials, and the hub's foot below it, in pipe diameters:
# those of case B1, where the drawing was held against the tubes.
HUB_ABOVE = HUB_BELOW = 15 / 11
# Segments at the hub in pipe diameters, and shortest in wire radii: chosen on case B1.
HUB_SEGMENT, LEAST_SEGMENT = 0.60, 2.5
# First segment of the shield below the foot, in lengths of the foot's spokes. Transfer admittances
# between the feed of a 5/8-wave of 22 mm and its shield are 3.3 % unlike at 1.4, 1.9 % at 1.7 and
# 0.1 % at 2.4; those of 15 mm at 435 MHz 5.6 and 2.0 % at 1.5 and 1.8, 1.5 % the other way at 2.1.
OUTLET_PER_SPOKE = 2.13
# Thickest wires, in pipe radii, of a cage whose end is closed by spokes of the same wire: a spoke
# may not be shorter than twice its radius, and here it is 2.03.
SPOKED = 0.40
# A wire of a cage stands this many diameters, axis to axis, from the spokes of the others.
CLEAR = 1.02
# A rod up to this much thicker or thinner than the shield is drawn as thick as the shield: rods of
# 3 mm drawn with 3.7 mm move the impedance by 0.6 %, while a shield that grows along the cable from
# 3 to 3.7 mm costs 1.5 % of reciprocity.
ALIKE = 1.25
# First segment of a radial in wire radii, seen from above.
FIRST_PER_RADIUS = 2.2
# Steepest slope [deg]: beyond it thick radials run into the foot of the hub.
STEEPEST = 50.0
# Shortest element or radial in pipe diameters.
SHORTEST = 5.0
# How far the closed end of a pipe radial keeps from hub and neighbours, in wire diameters.
CLEARANCE = 1.1


# Parameters of the radials, as a study gives them.
RadialCount = Annotated[int, Quantity("1", 3, 4, "number of radials", "4")]
RadialLength = Annotated[
    float | None, Quantity("m", 0.08, 4.0, "axis of the hub to the tip of a radial", "515 mm")
]
RadialDiameter = Annotated[
    float | None,
    Quantity("m", 0.002, 0.06, "outside of the radials, rods or the pipe itself", "8 mm"),
]


@dataclass(frozen=True)
class Radials:
    """Radials of a hub: lengths from the hub's axis [m], slope below the horizontal [deg]."""

    count: int
    slope: float
    length: float
    diameter: float

    def along(self, azimuth: float) -> Real:
        """Unit vector of the radial that leaves in an azimuth [rad]."""
        level = np.cos(self.fall)
        return np.array([level * np.cos(azimuth), level * np.sin(azimuth), -np.sin(self.fall)])

    @property
    def fall(self) -> float:
        """The slope. [rad]"""
        return float(np.radians(self.slope))

    @property
    def drop(self) -> float:
        """Depth of the tips below the hub. [m]"""
        return float(self.length * np.sin(self.fall) + 0.5 * self.diameter * np.cos(self.fall))


def thinnest_wire(pipe_diameter: float, radial_diameter: float, shield_diameter: float) -> float:
    """Radius of the wires that hub and radials are drawn with. [m]

    A rod about as thick as the shield, or thinner, is one wire; anything thicker is a cage.
    Measured here: tests/validation/test_surface_joints.py.

    Examples
    --------
    >>> [round(2e3 * thinnest_wire(0.022, d, 0.0081), 2) for d in (0.004, 0.008, 0.022)]
    [4.0, 8.1, 8.1]
    """
    usual = min(shield_diameter / 2, SPOKED * pipe_diameter / 2)
    radius = radial_diameter / 2
    if radius > ALIKE * usual:
        return min(usual, SPOKED * radius)
    return radius if usual > ALIKE * radius else usual


def usual_rod(pipe_diameter: float, shield_diameter: float) -> float:
    """Rod as thick as the shield, where the hub is thick enough for it, in whole mm. [m]

    Definition.

    Examples
    --------
    >>> usual_rod(0.022, 0.00813), usual_rod(0.015, 0.00813), usual_rod(0.022, 0.00366)
    (0.008, 0.006, 0.004)
    """
    return round(1e3 * min(shield_diameter, SPOKED * pipe_diameter)) / 1e3


def sized_hub(
    parameters: object,
    element: tuple[float, str],
    radial: tuple[float, float],
    pipe_diameter: float,
    shield_diameter: float,
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Lengths of element and radials by field [m], wires, and a sentence for each derived one.

    Where they are not given the element is as long as ``element`` [m] says, with its reason, and a
    radial ``radial``, in wavelengths of so many metres.
    """
    waves, wavelength = radial
    rod = usual_rod(pipe_diameter, shield_diameter)
    own = {
        "element": element,
        "radial": (waves * wavelength, f"{waves:g} wavelength"),
        "radial_diameter": (rod, "rod about as thick as the cable's shield"),
    }
    said = {key: (value, f"{small(value)} ({why})") for key, (value, why) in own.items()}
    lengths, sentences = filled(parameters, said)
    wire = thinnest_wire(pipe_diameter, lengths["radial_diameter"], shield_diameter)
    return {**lengths, "wire_radius": wire}, sentences


def hub_cage(drawing: Drawing, count: int) -> Cage:
    """Cage of the pipe with a wire for every radial.

    The number of wires is the next multiple of ``count`` from the drawing's own, or the largest
    one whose wires and spokes do not touch; what the cage loses stays the same.
    """
    a, radius, wanted = drawing.cage.wire_radius, drawing.pipe_radius, drawing.cage.n_wires

    def fits(n: int) -> bool:
        # Distance of one wire's foot from the nearest spoke but its own.
        apart = cage_ring_radius(radius, a, n) * np.sin(min(2 * np.pi / n, np.pi / 2))
        return bool(apart > CLEAR * 2 * a)

    n = count * int(np.ceil(wanted / count))
    while n > count and not fits(n):
        n -= count
    sigma = drawing.cage.material.conductivity * (wanted / n) ** 2
    material = replace(drawing.cage.material, conductivity=sigma)
    return replace(
        drawing.cage, n_wires=n, ring_radius=cage_ring_radius(radius, a, n), material=material
    )


@dataclass(frozen=True)
class _RadialRule:
    """Rule a radial is drawn by; ``start`` [m] is a pipe's closed end, None for a rod."""

    builder: WireBuilder
    start: float | None


def _radial_rule(hub: WireBuilder, pipe_radius: float, radials: Radials) -> _RadialRule:
    """Rule of the radials: a rod where one wire will do, else a cage.

    The closed end of a pipe keeps clear of the hub and of the radials beside it. What is lost goes
    as one over thickness, number of wires and root of conductivity, as in cage_conductivity.
    """
    a, radius = hub.radius, radials.diameter / 2
    is_rod = radius <= ALIKE * a * (1 + 1e-6)
    if not is_rod and a > SPOKED * radius * (1 + 1e-6):
        raise GeometryError(_between(2 * a, 2 * radius))
    n = 1 if is_rod else choose_wire_count(radius, a)
    share = (hub.cage.n_wires * radius / (n * pipe_radius)) ** 2
    material = replace(
        hub.cage.material, conductivity=hub.cage.material.conductivity * float(share)
    )
    if is_rod:
        return _RadialRule(replace(hub, cage=replace(hub.cage, material=material)), None)
    ring_radius = cage_ring_radius(radius, a, n)
    cage = replace(hub.cage, n_wires=n, ring_radius=ring_radius, material=material)
    # No coarser at its ends than the hub is for its own thickness.
    fine = max(LEAST_SEGMENT * a, min(hub.rule.fine, HUB_SEGMENT * 2 * radius))
    turn = float(radials.along(0.0) @ radials.along(2 * np.pi / radials.count))
    beside = (ring_radius + CLEARANCE * a) / np.sqrt((1 - turn) / 2)
    tilted = ring_radius * np.sin(radials.fall)
    wall = (hub.cage.ring_radius + 2 * CLEARANCE * a + tilted) / np.cos(radials.fall)
    return _RadialRule(WireBuilder(cage, replace(hub.rule, fine=fine)), float(max(beside, wall)))


def _between(wire: float, diameter: float) -> Fault:
    return Fault(
        "antenna.radial_diameter",
        small(diameter, 1),
        f"cannot be drawn with wires of {small(wire, 2)}, which the cable's shield asks for: "
        "neither one of them nor a ring of them is as thick",
        f"radial_diameter: {small(wire, 1)}, or at least {small(wire / SPOKED, 1)}; or wind "
        "the coil of the main cable and not of a thinner one",
        "radial-between",
    )


def _builder(drawing: Drawing, count: int) -> WireBuilder:
    cage = hub_cage(drawing, count)
    wanted = drawing.refine * HUB_SEGMENT * 2 * drawing.pipe_radius
    fine = max(wanted, LEAST_SEGMENT * cage.wire_radius)
    return WireBuilder(
        cage, SegmentRule(fine, max(fine, drawing.refine * drawing.shortest_wavelength / 25))
    )


def _radial(
    own: _RadialRule, fine: float, radials: Radials, ring_at: Real, azimuth: float
) -> list[Wire]:
    """One radial from the hub's ring: a rod, or a pipe behind a short wire on its axis."""
    along, builder = radials.along(azimuth), own.builder
    node = ring_at[int(np.argmax(ring_at @ along))]
    # The second segment begins where it is clear of the hub's wire that goes on below.
    first = max(fine, FIRST_PER_RADIUS * builder.radius / float(np.cos(radials.fall)))
    if own.start is None:
        return builder.rod(node, (radials.length - ROD_TIP * builder.radius) * along, first)
    across = np.array([-np.sin(azimuth), np.cos(azimuth), 0.0])
    path = np.array([own.start * along, (radials.length - builder.rim) * along])
    nodes = ring_nodes(path, across, builder.cage)
    short = float(np.linalg.norm(path[0] - node))
    wires = [builder.even(node, path[0], max(1, int(short / first)))]
    wires += builder.spokes(nodes[0], path[0]) + builder.pipes(nodes)
    return wires + ring(nodes[1], builder.cage)


def vertical(element: float, radials: Radials, drawing: Drawing) -> FinishedAntenna:
    """A pipe over a hub of the same pipe with radials, fed in the gap between the two.

    ``element`` [m] reaches from the plane of the radials, at z = 0, to the tip. It is fed by all
    wires of the pipe together; the shield joins the hub's foot. What the short wires in front of
    pipe radials have of inductance too much is taken from the feed, which carries the same current.
    """
    builder = _builder(drawing, radials.count)
    own = _radial_rule(builder, drawing.pipe_radius, radials)
    diameter, reach = 2 * drawing.pipe_radius, builder.cage.ring_radius
    # The fed segment is as long as the real gap, so a finer drawing leaves it alone.
    gap = max(HUB_SEGMENT * diameter, LEAST_SEGMENT * builder.radius)
    middle, half = HUB_ABOVE * diameter, 1.5 * gap
    landing = -reach * float(np.tan(radials.fall))
    foot = -HUB_BELOW * diameter + builder.rim
    nodes = builder.upright([element - builder.rim, middle + half, middle - half, landing, foot])
    wires = builder.pipes(nodes[:2]) + builder.pipes(nodes[2:4], alike=(0,))
    below = landing - foot
    # Cut only as far as the lower pieces are clear of the radials beside them.
    clear = int(below * np.cos(radials.fall) / (FIRST_PER_RADIUS * builder.radius))
    n = max(1, min(clear, round(below / builder.rule.fine)))
    wires += [builder.even(a, b, n) for a, b in zip(nodes[3], nodes[4], strict=True)]
    # No hoop where the radials leave: with one the shield of a 5/8-wave is 4.8 % unsymmetric, not
    # 3.3 %, and B1 0.065 % off in frequency, not 0.014 %.
    wires += ring(nodes[0], builder.cage)
    wires += builder.spokes(nodes[4], np.array([0.0, 0.0, foot]))
    for azimuth in 2 * np.pi * np.arange(radials.count) / radials.count:
        wires += _radial(own, builder.rule.fine, radials, nodes[3], float(azimuth))
    excess = 0.0
    if own.start is not None:
        short = own.start - reach / float(np.cos(radials.fall))
        excess = thickness_inductance(short, builder.radius, radials.diameter / 2) / radials.count
    across = builder.gap(nodes[2], nodes[1])
    outlet = drawing.refine * OUTLET_PER_SPOKE * reach
    return FinishedAntenna(
        wires=(*wires, *across),
        feed_wires=tuple(range(len(wires), len(wires) + len(across))),
        joints={"hub": Joint(grid_point((0.0, 0.0, foot)), (1.0, 0.0, 0.0), 0.0, outlet)},
        feed_inductance=excess,
        lowest=-max(HUB_BELOW * diameter, radials.drop),
    )


def radial_problems(
    element: float | None, radial: float | None, radial_diameter: float | None, pipe: Pipe
) -> list[Fault]:
    """Problems of a hub with radials; only given lengths [m] count."""
    diameter, found = pipe.outside_diameter, []
    least = SHORTEST * diameter
    for key, length in (("element", element), ("radial", radial)):
        if length is not None and length < least:
            found.append(
                Fault(
                    f"antenna.{key}",
                    small(length),
                    f"is shorter than {SHORTEST:g} pipe diameters ({small(least)}): the hub "
                    "takes up most of it",
                    f"{key}: {small(least)} or more, or a thinner pipe",
                    f"{key}-short",
                )
            )
    if radial_diameter is not None and radial_diameter > diameter + 1e-6:
        found.append(
            Fault(
                "antenna.radial_diameter",
                small(radial_diameter, 1),
                f"is thicker than the hub that the radials leave from ({small(diameter, 1)})",
                f"radial_diameter: {small(diameter, 1)} (the pipe's own) or a rod",
                "radial-thick",
            )
        )
    return found


def hub_members(
    element: float, radials: Radials, pipe: Pipe
) -> tuple[tuple[Member, ...], tuple[JointPoint, ...], tuple[Mark, ...]]:
    """Members of hub, element and radials, the joints they end in, and the shield's mark."""
    diameter = pipe.outside_diameter
    # As long as the fed segment of the drawing.
    gap = HUB_SEGMENT * diameter
    same = abs(radials.diameter - diameter) < 1e-6
    stock = "pipe" if same else f"{small(radials.diameter, 1)} rod or tube"
    members = [Member("vertical", "gap", "tip"), Member("hub", "hub's foot", "gap")]
    joints = [
        JointPoint("tip", (0.0, 0.0, element), "open"),
        JointPoint(
            "gap",
            (0.0, 0.0, HUB_ABOVE * diameter),
            "insulator",
            f"{small(gap)} of air between hub and vertical",
            setback=0.5 * gap,
        ),
        JointPoint("hub's middle", (0.0, 0.0, 0.0), "crossing", "the radials' axes meet here"),
        JointPoint(
            "hub's foot",
            (0.0, 0.0, -HUB_BELOW * diameter),
            "cap",
            "a metal cap or washer that the cable's shield is joined to all round",
        ),
    ]
    for k in range(radials.count):
        x, y, z = radials.length * radials.along(2 * np.pi * k / radials.count)
        tip, size = f"tip of radial {k + 1}", None if same else radials.diameter
        members.append(Member(f"radial {k + 1}", "hub's middle", tip, stock, size))
        joints.append(JointPoint(tip, (float(x), float(y), float(z)), "open"))
    foot = joints[3]
    shield = Mark("shield, joined to the hub all round", foot.point, "hub", foot.name)
    return tuple(members), tuple(joints), (shield,)
