"""From centre lines to pieces of pipe: what each fitting or mitre takes off, and what is sawn.

The electrical lengths run from axis to axis; a saw needs the length of the metal. Pure geometry:
an assembly and the sizes of fittings in, pieces out, and what cannot be cut in the reader's words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Mark, Member
from models.construction.fittings import FittingKind, FittingSize
from models.wires.structure import Point

Style = Literal["fittings", "mitred"]
CutShape = Literal["square", "mitre", "saddle"]

# Directions that differ by less [rad] are one: half a degree, which a joint gives.
_ANGLE = math.radians(0.5)


@dataclass(frozen=True)
class Cut:
    """One end of a piece.

    ``takeoff`` [m] is the distance on the axis from the joint's point to the cut, ``reach`` [m]
    how far the longest metal goes on beyond the cut's middle, ``angle`` [rad] the cut's tilt from
    square, ``cup`` [m] what goes into a fitting. ``outward`` points to the side of the long point
    of a mitre.
    """

    joint: str
    shape: CutShape = "square"
    takeoff: float = 0.0
    reach: float = 0.0
    angle: float = 0.0
    cup: float = 0.0
    outward: Point | None = None


@dataclass(frozen=True)
class Piece:
    """A straight piece of stock as it is sawn; ``axis_length`` [m] is from joint to joint."""

    name: str
    members: tuple[str, ...]
    stock: str
    diameter: float
    axis_length: float
    start: Cut
    end: Cut

    @property
    def centre_length(self) -> float:
        """Length on the axis, from cut to cut [m]."""
        return self.axis_length - self.start.takeoff - self.end.takeoff

    @property
    def overall_length(self) -> float:
        """Length marked on the bar: between the longest points [m]."""
        return self.centre_length + self.start.reach + self.end.reach

    @property
    def mitres(self) -> tuple[Cut, ...]:
        """Ends that are sawn at an angle."""
        return tuple(cut for cut in (self.start, self.end) if cut.shape == "mitre")

    @property
    def sides(self) -> str:
        """Sides of the long points of two mitres: "same", "opposite", "turned", else ""."""
        if len(self.mitres) < 2:
            return ""
        a, b = (cut.outward or (0.0, 0.0, 0.0) for cut in self.mitres)
        along = sum(x * y for x, y in zip(a, b, strict=True))
        if along > math.cos(_ANGLE):
            return "same"
        return "opposite" if along < -math.cos(_ANGLE) else "turned"

    @property
    def short_length(self) -> float | None:
        """Between the short points [m]; None without a mitre, or if they lie on two sides."""
        if not self.mitres or self.sides in ("opposite", "turned"):
            return None
        return self.centre_length - sum(cut.reach for cut in self.mitres)


def deflection(leaving: Point, other: Point) -> float:
    """Angle by which the axis turns where members leave in two directions. [rad]

    Definition.

    Examples
    --------
    >>> round(math.degrees(deflection((0, 0, 1), (1, 0, 0))), 6)
    90.0
    """
    return math.pi - _angle(leaving, other)


def _angle(a: Point, b: Point) -> float:
    dot = sum(x * y for x, y in zip(a, b, strict=True))
    return math.acos(max(-1.0, min(1.0, dot)))


def run_of(assembly: Assembly, joint: str) -> tuple[Member, Member] | None:
    """The two members that lie in line where three or more meet, if there are two."""
    members = assembly.at(joint)
    for i, a in enumerate(members):
        for b in members[i + 1 :]:
            turn = deflection(assembly.direction(a, joint), assembly.direction(b, joint))
            if turn < _ANGLE:
                return a, b
    return None


def fitting_at(assembly: Assembly, joint: JointPoint) -> FittingKind | None:
    """Fitting that a joint would take; None where there is none for it."""
    members = assembly.at(joint.name)
    if any(member.stock != "pipe" for member in members) or joint.setback:
        return None
    if joint.kind in ("cap", "coupling"):
        return "cap" if joint.kind == "cap" else "coupling"
    ways = [assembly.direction(member, joint.name) for member in members]
    if joint.kind == "elbow" and len(ways) == 2:
        turn = deflection(*ways)
        turns: dict[FittingKind, float] = {"elbow 90": math.pi / 2, "elbow 45": math.pi / 4}
        return next((kind for kind, own in turns.items() if abs(turn - own) < _ANGLE), None)
    run = run_of(assembly, joint.name)
    if joint.kind != "tee" or len(ways) != 3 or run is None:
        return None
    branch = next(member for member in members if member not in run)
    turn = deflection(
        assembly.direction(branch, joint.name), assembly.direction(run[0], joint.name)
    )
    return "tee" if abs(turn - math.pi / 2) < _ANGLE else None


@dataclass(frozen=True)
class Joinery:
    """Joints with fittings of these sizes, or mitred and brazed."""

    style: Style
    sizes: Mapping[FittingKind, FittingSize]
    pipe: Pipe

    def diameter(self, member: Member) -> float:
        """Outside diameter of a member [m]."""
        return self.pipe.outside_diameter if member.diameter is None else member.diameter

    def fitting(self, assembly: Assembly, joint: JointPoint) -> FittingSize | None:
        """Fitting used at a joint; couplings and caps are used in both styles."""
        kind = fitting_at(assembly, joint)
        if kind is None or (self.style == "mitred" and kind not in ("coupling", "cap")):
            return None
        size = self.sizes[kind]
        return size if size.laying_length is not None or kind == "coupling" else None


def passes(assembly: Assembly, joint: JointPoint, joinery: Joinery) -> tuple[Member, Member] | None:
    """The two members that are one piece through a joint: a run that is not cut for it."""
    if joint.kind not in ("tee", "crossing") or joinery.fitting(assembly, joint) is not None:
        return None
    run = run_of(assembly, joint.name)
    # Rods that land on a pipe from two sides stop at its wall.
    if run is None or assembly.through(joint.name):
        return None
    a, b = run
    return run if a.stock == b.stock and joinery.diameter(a) == joinery.diameter(b) else None


def cut_of(assembly: Assembly, joint: JointPoint, member: Member, joinery: Joinery) -> Cut:
    """Cut of a member at one of its joints.

    Notes
    -----
    A fitting takes off its laying length. Two equal pipes that meet at a turn are sawn along the
    plane that bisects it, so the long point lies r tan(turn/2) beyond the axis; a pipe of radius r
    that lands on one of radius R at an angle a is cut to R / sin(a) short of that axis, with a
    mouth (R - sqrt(R^2 - r^2)) / sin(a) + r / tan(a) deep (plane trigonometry).
    """
    if joint.setback:
        return Cut(joint.name, takeoff=joint.setback)
    fitting = joinery.fitting(assembly, joint)
    if fitting is not None:
        return Cut(joint.name, takeoff=fitting.laying_length or 0.0, cup=fitting.cup_depth or 0.0)
    others = [other for other in assembly.at(joint.name) if other != member]
    whole = assembly.through(joint.name) if joint.kind == "crossing" else ()
    if joint.kind not in ("elbow", "tee", "crossing") or not (others or whole):
        return Cut(joint.name)
    other = max(whole or others, key=joinery.diameter)
    own, theirs = joinery.diameter(member) / 2, joinery.diameter(other) / 2
    way = assembly.direction(member, joint.name)
    their_way = assembly.direction(other, other.start if whole else joint.name)
    turn = deflection(way, their_way)
    if joint.kind == "elbow" and len(others) == 1 and math.isclose(own, theirs, rel_tol=1e-3):
        return Cut(
            joint.name, "mitre", 0.0, own * math.tan(turn / 2), turn / 2, 0.0,
            _outward(way, their_way),
        )  # fmt: skip
    lean = math.sin(turn)
    if lean < math.sin(_ANGLE):
        return Cut(joint.name)
    if own > theirs:
        # The thicker one goes on until the thinner lands on it with its whole mouth.
        return Cut(joint.name, takeoff=-theirs / lean if joint.kind == "elbow" else 0.0)
    if joint.kind == "crossing":
        return Cut(joint.name, takeoff=theirs / lean)
    mouth = (theirs - math.sqrt(theirs**2 - own**2)) / lean + own * abs(math.cos(turn)) / lean
    return Cut(joint.name, "saddle", theirs / lean, mouth)


def _outward(way: Point, other: Point) -> Point | None:
    """Unit vector across a member, away from the one it meets: where its long point lies."""
    along = sum(x * y for x, y in zip(way, other, strict=True))
    across = [along * w - o for w, o in zip(way, other, strict=True)]
    size = math.hypot(*across)
    if size < math.sin(_ANGLE):
        return None
    x, y, z = (c / size for c in across)
    return (x, y, z)


def cut_pieces(assembly: Assembly, joinery: Joinery) -> tuple[Piece, ...]:
    """All pieces of an assembly, in the order of its members."""
    through: dict[str, tuple[Member, Member]] = {}
    for joint in assembly.joints:
        pair = passes(assembly, joint, joinery)
        if pair is not None:
            through[joint.name] = pair
    pieces, done = [], set[str]()
    for member in assembly.members:
        if member.name in done:
            continue
        chain = _chain(assembly, member, through)
        done |= {m.name for m, _ in chain}
        pieces.append(_piece(assembly, chain, joinery))
    return tuple(pieces)


def _chain(
    assembly: Assembly, member: Member, through: Mapping[str, tuple[Member, Member]]
) -> list[tuple[Member, str]]:
    """Members that are one piece with this one, each with the joint it is entered by."""

    def follow(now: Member, leave: str) -> list[tuple[Member, str]]:
        found: list[tuple[Member, str]] = []
        while leave in through and now in through[leave]:
            a, b = through[leave]
            now = b if now == a else a
            found.append((now, leave))
            leave = now.end if leave == now.start else now.start
        return found

    ahead = follow(member, member.end)
    behind = follow(member, member.start)
    turned = [(m, m.end if joint == m.start else m.start) for m, joint in reversed(behind)]
    return [*turned, (member, member.start), *ahead]


def _piece(assembly: Assembly, chain: Sequence[tuple[Member, str]], joinery: Joinery) -> Piece:
    (first, enter), (last, entered) = chain[0], chain[-1]
    leave = last.end if entered == last.start else last.start
    return Piece(
        name=" with ".join(member.name for member, _ in chain),
        members=tuple(member.name for member, _ in chain),
        stock=first.stock,
        diameter=joinery.diameter(first),
        axis_length=sum(assembly.length(member) for member, _ in chain),
        start=cut_of(assembly, assembly.joint(enter), first, joinery),
        end=cut_of(assembly, assembly.joint(leave), last, joinery),
    )


def split_long(assembly: Assembly, joinery: Joinery, bar: float) -> Assembly:
    """The same assembly with couplings in members that are longer than a bar of stock [m].

    In equal parts; a piece that runs through a joint is left as it is.
    """
    for piece in cut_pieces(assembly, joinery):
        if piece.overall_length > bar and len(piece.members) == 1:
            (member,) = (m for m in assembly.members if m.name == piece.members[0])
            n = math.ceil(piece.overall_length / bar)
            assembly = _split(assembly, member, n)
    return assembly


def _split(assembly: Assembly, member: Member, n: int) -> Assembly:
    a, b = (assembly.joint(name).point for name in (member.start, member.end))
    names = [f"coupling {k} of the {member.name}" for k in range(1, n)]
    points = [
        (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2]))
        for t in (k / n for k in range(1, n))
    ]
    ends = [member.start, *names, member.end]
    parts = tuple(
        replace(member, name=f"{member.name}, part {k + 1} of {n}", start=ends[k], end=ends[k + 1])
        for k in range(n)
    )
    place = assembly.members.index(member)
    marks = tuple(
        replace(mark, member=_part_of(mark, a, b, parts)) if mark.member == member.name else mark
        for mark in assembly.marks
    )
    joints = [JointPoint(q, p, "coupling") for q, p in zip(names, points, strict=True)]
    return replace(
        assembly,
        members=(*assembly.members[:place], *parts, *assembly.members[place + 1 :]),
        joints=(*assembly.joints, *joints),
        marks=marks,
    )


def _part_of(mark: Mark, start: Point, end: Point, parts: Sequence[Member]) -> str:
    share = math.dist(start, mark.point) / math.dist(start, end)
    return parts[min(len(parts) - 1, int(share * len(parts)))].name
