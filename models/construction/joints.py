"""Fittings or mitres: what a joint can be made of, what is too short, and where marks lie.

Says what cannot be cut in the reader's words, with the smallest distance that works.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Mark
from models.construction.cutting import Cut, Joinery, Piece, cut_pieces, deflection, fitting_at
from models.construction.fittings import FittingKind, FittingSize
from models.faults import Fault
from models.lengths import both, small
from models.wires.structure import Point

# A mark whose distance from an edge is less than this [m] cannot be found with a tape.
_LEAST = 5e-4


@dataclass(frozen=True)
class Choice:
    """Joinery chosen, and a sentence for whatever decided it."""

    joinery: Joinery
    reasons: tuple[str, ...]
    problems: tuple[Fault, ...]


def least_length(piece: Piece) -> float:
    """Smallest distance between the joints of a piece that can be cut. [m]

    Definition: a pipe must fill the cups at both ends; a mitred one must have something left on its
    short side.
    """
    at_least = sum(cut.takeoff + cut.cup for cut in (piece.start, piece.end))
    return max(at_least, 0.0) + sum(cut.reach for cut in piece.mitres)


def short_pieces(pieces: Sequence[Piece]) -> list[Fault]:
    """Pieces that are too short for their joints, each with the smallest distance that works."""
    problems = []
    for piece in pieces:
        least = least_length(piece)
        if piece.axis_length >= least - 1e-9:
            continue
        cups = piece.start.cup > 0 or piece.end.cup > 0
        why = "the cups of its fittings would meet" if cups else "nothing is left on its short side"
        problems.append(
            Fault(
                "build.joints",
                f"{small(piece.axis_length, 1)} for the {piece.name}",
                f"is too short from axis to axis: {why}; the smallest that works is "
                f"{small(least, 1)}",
                f"make the {piece.name} {both(least, 0, 'up')} or longer in the antenna's own keys"
                + (", or joints: mitred" if cups else ""),
                "piece-short",
            )
        )
    return problems


def unknown_fittings(
    assembly: Assembly, pipe: Pipe, sizes: Mapping[FittingKind, FittingSize]
) -> list[Fault]:
    """Elbows and tees of this assembly whose centre is in no catalogue."""
    kinds = dict.fromkeys(fitting_at(assembly, joint) for joint in assembly.joints)
    problems = []
    for kind in kinds:
        if kind in (None, "cap", "coupling"):
            continue
        size = sizes[kind]
        missing = [
            key
            for key, value in (("cup", size.cup_depth), ("centre_to_end", size.laying_length))
            if value is None
        ]
        if missing:
            key = kind.replace(" ", "_")
            problems.append(
                Fault(
                    f"build.fittings.{key}",
                    "",
                    f"is not known for {pipe.name}: no standard and no table at hand says how far "
                    "the centre of this fitting lies from its end",
                    f"measure one: fittings: {{{key}: {{centre_to_end: {small(0.027)}, "
                    f"cup: {small(0.0154, 1)}}}}}, or joints: mitred",
                    "fitting-unknown",
                )
            )
    return problems


def choose_joinery(
    assembly: Assembly,
    pipe: Pipe,
    sizes: Mapping[FittingKind, FittingSize],
    wanted: str,
) -> Choice:
    """Joints as wanted, or with fittings where they go and mitred where they do not.

    ``sizes`` are every kind of fitting for the pipe, ``wanted`` is "fittings", "mitred" or "" to
    choose; the choice has problems where what is wanted cannot be made.
    """
    fitted, mitred = (Joinery(style, sizes, pipe) for style in ("fittings", "mitred"))
    if wanted != "mitred":
        problems = [
            *unknown_fittings(assembly, pipe, sizes),
            *short_pieces(cut_pieces(assembly, fitted)),
        ]
        if not problems or wanted == "fittings":
            return Choice(fitted, _odd_joints(assembly), tuple(problems))
        reasons = tuple(_reason(problem) for problem in problems)
    else:
        reasons = ()
    left = short_pieces(cut_pieces(assembly, mitred))
    return Choice(mitred, reasons, tuple(left))


def _reason(problem: Fault) -> str:
    if problem.tag == "fitting-unknown":
        kind = problem.place.rpartition(".")[2].replace("_", " ")
        return (
            f"mitred, because the size of a fitting ({kind}) is not known for this pipe; measured "
            f"ones may be given as {problem.place}"
        )
    return f"mitred, because {problem.value} {problem.rule}"


def _odd_joints(assembly: Assembly) -> tuple[str, ...]:
    """Turns that no fitting makes; they are mitred or saddled whatever the style."""
    return tuple(
        f"the joint {joint.name} is brazed: there is no fitting for its shape"
        for joint in assembly.joints
        if joint.kind in ("elbow", "tee") and fitting_at(assembly, joint) is None
    )


@dataclass(frozen=True)
class FoundMark:
    """A mark as a tape measure finds it.

    ``from_edge`` [m] is measured along the member from ``edge``, on whose level ``start`` lies on
    the axis, to ``point``; ``from_cut`` [m] from the end
    of the piece that is nearer to that edge, before it is joined; ``cut_end`` says from where.
    """

    name: str
    piece: str
    edge: str
    from_edge: float
    from_cut: float
    cut_end: str
    start: Point
    point: Point
    note: str = ""


def find_mark(
    assembly: Assembly, pieces: Sequence[Piece], joinery: Joinery, mark: Mark
) -> FoundMark:
    """Place of a mark from an edge that a builder can touch.

    Notes
    -----
    Where another member meets the edge's joint, the edge is that of its outer wall: its radius
    over the sine of the angle nearer than the point on the axis.
    """
    joint = assembly.joint(mark.edge)
    piece = next(p for p in pieces if mark.member in p.members)
    off, edge = _edge(assembly, joinery, joint, mark)

    def away(cut: Cut) -> float:
        return math.dist(assembly.joint(cut.joint).point, joint.point)

    cut = min(piece.start, piece.end, key=away)
    length = math.dist(joint.point, mark.point)
    share = off / length if length else 0.0
    x, y, z = (j + share * (m - j) for j, m in zip(joint.point, mark.point, strict=True))
    to_end = math.dist(assembly.joint(cut.joint).point, mark.point)
    return FoundMark(
        name=mark.name,
        piece=piece.name,
        edge=edge,
        from_edge=length - off,
        from_cut=to_end - cut.takeoff + cut.reach,
        cut_end=_end_words(cut),
        start=(x, y, z),
        point=mark.point,
        note=mark.note,
    )


def landings(assembly: Assembly, pieces: Sequence[Piece]) -> tuple[FoundMark, ...]:
    """Places at which other members land on pieces that run through, from the piece's first end."""
    found = []
    for piece in pieces:
        first = assembly.joint(piece.start.joint).point
        inner = [j for j in assembly.joints if j.name not in (piece.start.joint, piece.end.joint)]
        for joint in inner:
            names = [member.name for member in assembly.at(joint.name)]
            whole = [member.name for member in assembly.through(joint.name)]
            inside = sum(name in piece.members for name in (*names, *whole, *whole))
            if joint.kind not in ("tee", "crossing") or inside < 2:
                continue
            length = math.dist(first, joint.point) - piece.start.takeoff + piece.start.reach
            landing = [name for name in names if name not in piece.members]
            if landing:
                word = "axis" if len(landing) == 1 else "axes"
                found.append(
                    FoundMark(
                        name=f"{word} of the {', '.join(landing)}",
                        piece=piece.name,
                        edge=_end_words(piece.start),
                        from_edge=length,
                        from_cut=length,
                        cut_end=_end_words(piece.start),
                        start=first,
                        point=joint.point,
                    )
                )
    return tuple(found)


def _end_words(cut: Cut) -> str:
    part = "the long point of its mitre" if cut.shape == "mitre" else "its end"
    return f"{part} at the {cut.joint}"


def _edge(assembly: Assembly, joinery: Joinery, joint: JointPoint, mark: Mark) -> tuple[float, str]:
    """Distance of the edge from the joint's point towards the mark [m], and its name."""
    up = mark.point[2] - joint.point[2]
    side = "upper" if up > _LEAST else "lower" if up < -_LEAST else "near"
    size = math.dist(mark.point, joint.point)
    if size < _LEAST:
        return 0.0, f"the {joint.name}"
    way = tuple((m - j) / size for m, j in zip(mark.point, joint.point, strict=True))
    across = []
    for other in assembly.at(joint.name):
        turn = deflection((way[0], way[1], way[2]), assembly.direction(other, joint.name))
        if math.sin(turn) > 0.5:
            across.append((joinery.diameter(other) / 2 / math.sin(turn), other.name))
    if not across:
        return 0.0, f"the end at the {joint.name}"
    off, name = max(across)
    return off, f"the {side} edge of the {name}"
