"""Parts of an antenna for the workshop: runs of stock, joints, and marks to measure by.

All points lie on centre lines, in the drawing's own frame (base line on z = 0). What is cut, and
with which fittings, follows from these elsewhere; nothing here knows a fitting's size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from models.wires.structure import Point

# How members meet: two in line or at an angle, three, one that ends, or one that only touches.
# "fold" is an elbow pair or a bend; "crossing" a rod through or onto a pipe's wall; "insulator" a
# piece that holds two members apart; "plate" a disc that several members are fixed to.
JointKind = Literal["elbow", "tee", "open", "cap", "coupling", "crossing", "insulator", "plate"]


@dataclass(frozen=True)
class Member:
    """A straight run of stock between two points of its centre line.

    ``stock`` is "pipe" for the study's own pipe, else what to buy ("8 mm rod", "sleeve pipe");
    ``diameter`` [m] is None for the study's pipe. ``start`` and ``end`` name joints. ``wall`` [m]
    is that of other tube than the study's; None is a solid rod, or where the stock is called pipe
    or tube, a wall like that of the study's pipe.
    """

    name: str
    start: str
    end: str
    stock: str = "pipe"
    diameter: float | None = None
    wall: float | None = None


@dataclass(frozen=True)
class JointPoint:
    """A point where members end or meet, electrical centre to electrical centre.

    ``setback`` [m] is how far short of the point the stock is cut where neither a fitting nor a
    pipe in its way decides it: half an insulator's gap, the rim of a plate.
    """

    name: str
    point: Point
    kind: JointKind
    note: str = ""
    setback: float = 0.0


@dataclass(frozen=True)
class Mark:
    """A place on a member that a builder has to find: tap, hole, clamp.

    ``member`` is the run it lies on, ``point`` where on its centre line, ``edge`` the joint whose
    pipe's outer edge it is measured from.
    """

    name: str
    point: Point
    member: str
    edge: str
    note: str = ""


@dataclass(frozen=True)
class Assembly:
    """Members, the joints they end in, marks on them, bought parts and the order of work.

    ``extras`` are parts that are bought, not cut: (quantity, description). ``steps`` are
    sentences in the order of work.
    """

    members: tuple[Member, ...]
    joints: tuple[JointPoint, ...]
    marks: tuple[Mark, ...] = ()
    extras: tuple[tuple[int, str], ...] = ()
    steps: tuple[str, ...] = ()

    def joint(self, name: str) -> JointPoint:
        """Joint of a name."""
        for joint in self.joints:
            if joint.name == name:
                return joint
        raise KeyError(name)

    def length(self, member: Member) -> float:
        """Distance between the two joints of a member [m]."""
        return math.dist(self.joint(member.start).point, self.joint(member.end).point)

    def direction(self, member: Member, joint: str) -> Point:
        """Unit vector in which a member leaves one of its joints."""
        if joint not in (member.start, member.end):
            raise KeyError(joint)
        far = member.end if joint == member.start else member.start
        a, b = self.joint(joint).point, self.joint(far).point
        length = math.dist(a, b)
        return ((b[0] - a[0]) / length, (b[1] - a[1]) / length, (b[2] - a[2]) / length)

    def at(self, joint: str) -> tuple[Member, ...]:
        """Members that end in a joint."""
        return tuple(m for m in self.members if joint in (m.start, m.end))

    def through(self, joint: str) -> tuple[Member, ...]:
        """Members whose axis goes on through a joint that is not one of their ends."""
        point = self.joint(joint).point
        found = []
        for member in self.members:
            a, b = self.joint(member.start).point, self.joint(member.end).point
            ends = joint in (member.start, member.end)
            detour = math.dist(a, point) + math.dist(point, b) - math.dist(a, b)
            if not ends and detour < 1e-9:
                found.append(member)
        return tuple(found)
