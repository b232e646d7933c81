"""A round mast below or beside an antenna: a cage where a cable runs close, else one wire.

One thick wire holds its charge in the middle, but beside a cable the charge crowds on the facing
side: at three radii of the cable the line of the two would be 20 to 50 % high, and 1 to 3 % at
twenty. A cage of wires as thick as the shield is within 4 and 1 % when solved. What is joined to
something, by a strap or an earth lead, is a cage too: one thick wire would mean a step in radius.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.faults import Fault
from models.lengths import small, span
from models.site.sleeve import ON_CABLE
from models.wires.pipe_cage import (
    RIM_PER_RADIUS,
    Cage,
    cage_conductivity,
    cage_ring_radius,
    ring,
    ring_nodes,
    sweep,
)
from models.wires.proximity import LineRule, Others, graded_line, lines_of
from models.wires.segmentation import SegmentRule
from models.wires.structure import GeometryError, Material, Point, Wire, grid_point

Real = NDArray[np.float64]

SIDES = {
    "front": (1.0, 0.0),
    "back": (-1.0, 0.0),
    "left": (0.0, 1.0),
    "right": (0.0, -1.0),
}
# Metal whose axis is nearer to the mast's surface than this many of its radii wants a cage.
CAGE_WITHIN = 20.0
# Thickest wire of a mast's cage in mast radii: spokes and hoops need room.
THICKEST_WIRE = 0.4
# Air between the lowest metal of the antenna and the mast's top, in wire radii, where the study
# does not say where the mast ends: nothing touches, and a strap has room.
AIR = 3.0
# Longest segment of the cage over the air between mast and cable's axis. At 3.4 radii the transfer
# admittances of feed and cable were 4.5 % unlike with 2, 5.5 % with 3, 8 % with 4.
PER_ROOM = 2.2
# Steps in which a way out is looked for where a cable is too near, and how far. [m]
_STEP, _FARTHEST = 5e-3, 1.0
# A strap longer than this is no short conductor. [wavelengths]
LONGEST_STRAP = 1 / 10


@dataclass(frozen=True)
class Mast:
    """A round mast: radius and length [m], its top below the base line (None: just free).

    ``stand_off`` [m] is the distance of its axis from that of the antenna, on the side
    ``towards`` (front: azimuth zero); ``metal`` is False for wood.
    """

    metal: bool
    radius: float
    length: float
    top: float | None = None
    stand_off: float = 0.0
    towards: str = "back"
    bonded: bool = False

    @property
    def place(self) -> Real:
        """Place of its axis, (x, y). [m]"""
        return self.stand_off * np.asarray(SIDES[self.towards])

    def axis(self, wires: tuple[Wire, ...], base: float) -> tuple[Point, Point]:
        """Top and foot of its axis, for an antenna of these wires with its base line there."""
        x, y = self.place
        high = base - self.top if self.top is not None else self._just_free(wires, base)
        return (float(x), float(y), high), (float(x), float(y), high - self.length)

    def _just_free(self, wires: tuple[Wire, ...], base: float) -> float:
        """Height below everything of the antenna that stands over the mast's end. [m]"""
        own = [w for w in wires if w.part == "antenna"]
        thick = max(w.radius for w in own)
        t = np.linspace(0.0, 1.0, 21)[:, None, None]
        ends = lines_of(own)
        points = (ends.start[None] * (1 - t) + ends.end[None] * t).reshape(-1, 3)
        over = np.linalg.norm(points[:, :2] - self.place, axis=1) < self.radius + AIR * thick
        return float(points[over, 2].min(initial=base)) - AIR * thick


@dataclass(frozen=True)
class MastRule:
    """Drawing of a mast: wire radius near the antenna [m], refinement, metal."""

    radius: float
    shortest_wavelength: float
    refine: float
    metal: Material


@dataclass(frozen=True)
class DrawnMast:
    """Wires of a mast, the middle of its foot and the radius of the wires that meet there.

    ``rim`` are the nodes around its foot, where it is drawn as a cage.
    """

    wires: tuple[Wire, ...]
    foot: Point
    thick: float
    rim: tuple[Point, ...] = ()


def mast_wire_count(mast_radius: float, wire_radius: float) -> int:
    """Number of wires that stand for a mast, so that the air between them is about theirs. [-]

    Measured here: tests/models/test_metalwork.py.

    Examples
    --------
    >>> [mast_wire_count(r, 0.004) for r in (0.0125, 0.021, 0.030)]
    [4, 6, 8]
    """
    return int(np.clip(2 * round(0.58 * mast_radius / wire_radius), 4, 16))


def draw_mast(
    mast: Mast, wires: tuple[Wire, ...], base: float, rule: MastRule, earthed: bool
) -> DrawnMast:
    """Wires of a metal mast beside an installation of ``wires``, antenna and cable at their height.

    ``base`` [m] is the height of the antenna's base line; where ``earthed`` a lead to a rod is
    joined to the mast's foot.
    """
    top, foot = mast.axis(wires, base)
    cable = [w for w in wires if w.part in ON_CABLE]
    # The antenna counts as well: right above the mast one thick wire would reach into it.
    near = mast.radius + CAGE_WITHIN * max(w.radius for w in wires)
    joined = mast.bonded or earthed
    if lines_of(wires).nearest(top, foot) > near and not joined:
        return _single(mast, top, foot, lines_of(wires), rule)
    return _caged(mast, (top, foot), wires, lines_of(cable), rule)


def _single(mast: Mast, top: Point, foot: Point, others: Others, rule: MastRule) -> DrawnMast:
    line = LineRule(
        mast.radius,
        rule.refine * rule.shortest_wavelength / 25,
        2.5 * rule.radius,
        rule.refine,
        rule.metal,
        "mast",
    )
    low = grid_point(foot)
    return DrawnMast(tuple(graded_line(grid_point(top), low, others, line)), low, mast.radius)


def _caged(
    mast: Mast,
    axis: tuple[Point, Point],
    wires: tuple[Wire, ...],
    cable: Others,
    rule: MastRule,
) -> DrawnMast:
    radius = min(rule.radius, THICKEST_WIRE * mast.radius)
    n = mast_wire_count(mast.radius, radius)
    sigma = cage_conductivity(rule.metal.conductivity, mast.radius, radius, n)
    cage = Cage(
        n, cage_ring_radius(mast.radius, radius, n), radius, "mast", Material(conductivity=sigma)
    )
    (x, y, high), (_, _, low) = axis
    rim = RIM_PER_RADIUS * radius
    path = np.array([(x, y, high - rim), (x, y, low + rim)])
    nodes = ring_nodes(path, np.cross([0.0, 0.0, -1.0], _facing(mast, axis, cable)), cage)
    fine = max(rule.refine * 1.1 * mast.radius, 2.5 * radius)
    room = cable.nearest(*axis) - mast.radius if len(cable.start) else np.inf
    longest = min(rule.shortest_wavelength / 30, 4 * mast.radius, PER_ROOM * room)
    longest = max(fine, rule.refine * longest)
    drawn = sweep(nodes, np.full(2, fine), SegmentRule(fine, longest), cage)
    drawn += ring(nodes[0], cage) + ring(nodes[1], cage)
    # The foot is closed, so that a lead may go on from its middle.
    middle = grid_point(path[1])
    drawn += [Wire(grid_point(p), middle, 1, radius, "mast", cage.material) for p in nodes[1]]
    if mast.bonded:
        drawn.append(_strap(nodes[0], wires, radius, cage.material, rule))
    return DrawnMast(tuple(drawn), middle, radius, tuple(grid_point(p) for p in nodes[1]))


def _facing(mast: Mast, axis: tuple[Point, Point], cable: Others) -> Real:
    """Unit vector from the mast's axis to the cable where it runs beside it longest."""
    (x, y, high), (_, _, low) = axis
    ahead = np.array([1.0, 0.0, 0.0])
    if not len(cable.start):
        return ahead
    middle = 0.5 * (cable.start + cable.end)
    beside = (middle[:, 2] < high) & (middle[:, 2] > low)
    if not beside.any():
        return ahead
    away = np.median(middle[beside, :2], axis=0) - (x, y)
    distance = float(np.linalg.norm(away))
    return ahead if distance < mast.radius else np.array([*(away / distance), 0.0])


def _strap(
    rim: Real, wires: tuple[Wire, ...], radius: float, material: Material, rule: MastRule
) -> Wire:
    """The short conductor from the mast's rim to the nearest metal of the antenna."""
    nodes = sorted({p for w in wires if w.part == "antenna" for p in (w.start, w.end)})
    apart = np.linalg.norm(np.array(nodes)[:, None] - rim[None], axis=2)
    k, m = np.unravel_index(int(apart.argmin()), apart.shape)
    length = float(apart[k, m])
    if not 2.1 * radius <= length <= LONGEST_STRAP * rule.shortest_wavelength:
        raise GeometryError(
            Fault(
                "site.mast.bonded",
                "yes",
                f"needs a strap of {small(length)} from the mast's rim to the antenna; "
                f"{span(2.1 * radius, LONGEST_STRAP * rule.shortest_wavelength)} can "
                "be drawn",
                "leave top out, so that the mast ends just below the antenna, or bonded: no",
                "mast-strap",
            )
        )
    n = max(1, round(length / (3.5 * radius)))
    return Wire(nodes[int(k)], grid_point(rim[int(m)]), n, radius, "mast", material)


# A cable that is taped to a mast, or runs inside it, is no pair of thin wires.
def way_past_mast(
    mast: Mast, wires: tuple[Wire, ...], base: float, least: float, shortest_wavelength: float
) -> str:
    """Change that brings cable and mast far enough apart, as a study would write it.

    ``wires`` are antenna and cable at their height, ``base`` [m] that of the antenna's base line;
    ``least`` [m] is wanted between the mast's surface and the cable's axis. A bonded mast may not
    be further away than a strap reaches.
    """
    cable = lines_of(w for w in wires if w.part in ON_CABLE)
    ways = []
    reach = LONGEST_STRAP * shortest_wavelength if mast.bonded else _FARTHEST
    for stand_off in _tried(mast.stand_off, reach):
        moved = replace(mast, stand_off=stand_off)
        if cable.nearest(*moved.axis(wires, base)) - mast.radius >= least:
            ways.append(f"stand_off: {small(stand_off, 0, 'up')}")
            break
    axis = mast.axis(wires, base)
    for more in _tried(0.0, _FARTHEST):
        aside = _further_aside(cable, more)
        if aside is not None and aside.nearest(*axis) - mast.radius >= least:
            ways.append(f"a first step of the cable that is {small(more, 0, 'up')} longer")
            break
    either = ", or ".join(ways) or "lead the cable another way"
    # A shield of 3.6 mm, 6 mm from a mast of 38 mm: transfer admittances 22 % unlike, 4 % at 19 mm.
    bound = "the least that is taken, twice that is computed better; " if ways else ""
    return f"{either} ({bound}taped to a mast or inside it a cable cannot be computed)"


def _tried(now: float, reach: float) -> list[float]:
    """Whole steps up to a length, those nearest to where it is now first. [m]"""
    steps = [_STEP * k for k in range(math.floor(reach / _STEP) + 1)]
    return sorted(steps, key=lambda step: (abs(step - now), step))


def _further_aside(cable: Others, more: float) -> Others | None:
    """The cable with a longer first step, None where that goes down. ``more`` is in metres."""
    along = cable.end - cable.start
    along = along / np.linalg.norm(along, axis=1)[:, None]
    first = along[0]
    if abs(first[2]) > 0.5:
        return None
    turned = np.flatnonzero(along @ first < 0.99)
    later = np.arange(len(along)) >= (turned[0] if len(turned) else len(along))
    shift = more * first
    last = np.arange(len(along)) == (turned[0] - 1 if len(turned) else len(along) - 1)
    return Others(cable.start + later[:, None] * shift, cable.end + (later | last)[:, None] * shift)
