"""Pipe cut for its fittings, and what the wind does to round pipes."""

from __future__ import annotations

import math

import pytest

from models.catalogues.parts import pipe
from models.construction.assembly import Assembly, JointPoint, Member
from models.construction.cutting import Joinery, cut_pieces, fitting_at
from models.construction.fittings import FITTING_KINDS, FittingKind, fitting_size
from models.construction.wind_load import Rod, drag_force, wind_load
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Workshop"
INCH = 0.0254


def kind_of(name: str) -> FittingKind:
    return next(kind for kind in FITTING_KINDS if kind == name)


def beside(
    joint: str, kind: FittingKind, x: float, inward: float
) -> tuple[list[JointPoint], list[Member]]:
    """What has to meet a pipe along x at a joint for a fitting of this kind to go there."""
    turn = math.radians(45 if kind == "elbow 45" else 90)
    tips = [(x - inward * math.cos(turn), 0.0, math.sin(turn))]
    if kind == "tee":
        tips.append((x, 0.0, -1.0))
    joints = [JointPoint(f"{joint} {k}", tip, "open") for k, tip in enumerate(tips)]
    return joints, [Member(f"arm {j.name}", joint, j.name) for j in joints]


def cut(row: Published) -> float:
    """Length of a pipe between two fittings, in inches."""
    length = row.number("distance") * INCH
    start, end = (kind_of(row.inputs[key]) for key in ("start", "end"))
    joints, members = [], [Member("run", "a", "b")]
    for name, kind, x, inward in (("a", start, 0.0, 1.0), ("b", end, length, -1.0)):
        joints.append(JointPoint(name, (x, 0.0, 0.0), "tee" if kind == "tee" else "elbow"))
        more, arms = beside(name, kind, x, inward)
        joints += more
        members += arms
    whole = Assembly(tuple(members), tuple(joints))
    assert [fitting_at(whole, whole.joint(n)) for n in "ab"] == [start, end]
    tube = pipe(row.inputs["pipe"])
    joinery = Joinery("fittings", {k: fitting_size(k, tube) for k in FITTING_KINDS}, tube)
    return cut_pieces(whole, joinery)[0].overall_length / INCH


def cup(row: Published) -> float:
    size = fitting_size(kind_of(row.inputs["fitting"]), pipe(row.inputs["pipe"]))
    assert size.cup_depth is not None
    return size.cup_depth / INCH


def travel(row: Published) -> float:
    """Axis from centre to centre of two 45 degree elbows that make an offset, in inches."""
    x = row.number("offset")
    points = {"a": (0.0, 0.0, -9.0), "b": (0.0, 0.0, 0.0), "c": (x, 0.0, x), "d": (x, 0.0, x + 9)}
    joints = tuple(JointPoint(n, p, "elbow" if n in "bc" else "open") for n, p in points.items())
    members = tuple(Member(n + m, n, m) for n, m in ("ab", "bc", "cd"))
    whole = Assembly(members, joints)
    assert [fitting_at(whole, whole.joint(n)) for n in "bc"] == ["elbow 45", "elbow 45"]
    return whole.length(members[1])


def drag(row: Published) -> float:
    area = row.number("diameter") * row.number("length")
    return drag_force(row.number("density"), row.number("speed"), row.number("coefficient"), area)


def own_drag(row: Published) -> float:
    rod = Rod((0.0, 0.0, 0.0), (0.0, 0.0, row.number("length")), row.number("diameter"))
    return wind_load([rod], row.number("speed")).force


def lever(row: Published) -> float:
    rod = Rod((0.0, 0.0, 0.0), (0.0, 0.0, row.number("height")), row.number("diameter"))
    load = wind_load([rod], row.number("speed"))
    return load.moment / load.force


QUANTITIES = {
    "cut": Quantity("{pipe}, {distance} in from {start} to {end}: pipe to cut", cut),
    "cup": Quantity("{pipe}: cup of the {fitting}", cup),
    "travel": Quantity("45° offset of {offset} in: centre to centre", travel),
    "drag": Quantity("drag of a cylinder {diameter} m thick at {speed} m/s", drag),
    "own_drag": Quantity("the same with our coefficient and air, {diameter} m", own_drag),
    "lever": Quantity("mast of {height} m: moment over force", lever),
}


@pytest.mark.parametrize("row", published("workshop"))
def test_workshop_numbers_agree_with_books(row: Published) -> None:
    row.check(QUANTITIES)
