"""Cutting: takeoffs, mitres and saddles, short pieces, marks; the catalogue of fittings.

Published values are in tests/validation, workshop.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from models.antennas import generators
from models.antennas.j_pole import SizedJPole
from models.catalogues.parts import DamagedCatalogue, Pipe, pipe, pipes
from models.catalogues.rows import read_rows
from models.construction.assembly import Assembly, JointKind, JointPoint, Member
from models.construction.cutting import Joinery, Piece, Style, cut_pieces, fitting_at, split_long
from models.construction.fittings import (
    FITTING_KINDS,
    FittingKind,
    FittingSize,
    fitting_dimension_of,
    fitting_dimensions,
    fitting_size,
)
from models.construction.joints import (
    choose_joinery,
    find_mark,
    landings,
    least_length,
    short_pieces,
)
from tests.harness.drawn import LAW

TUBE = pipe("3/4 in type L")
MEASURED = {kind: FittingSize(kind, 0.0154, 0.0116, "measured") for kind in FITTING_KINDS}
Sizes = dict[FittingKind, FittingSize]
Line = NDArray[np.float64]


def catalogue_sizes(tube: Pipe) -> Sizes:
    return {kind: fitting_size(kind, tube) for kind in FITTING_KINDS}


def u_shape(spacing: float, long: float, short: float, tube: Pipe, tap: float = 0.05) -> Assembly:
    sized = SizedJPole(spacing, long, short, tap, 0.008)
    return generators()["j-pole"].assembly(sized, tube, "short leg")


def joinery(style: Style, tube: Pipe, sizes: Sizes | None = None) -> Joinery:
    return Joinery(style, sizes or catalogue_sizes(tube), tube)


def by_name(pieces: tuple[Piece, ...]) -> dict[str, Piece]:
    return {piece.name: piece for piece in pieces}


# Putting the pieces together again, from what a cut list prints and a rule measures


def printed(length: float) -> float:
    """What stands in cut_list.csv: hundredths of a millimetre."""
    return round(1e5 * length) * 1e-5


def sawn(piece: Piece) -> Line:
    """Corners of a piece seen from the side, as a saw leaves them: long side on y = 0.

    From its start on the long side round to its start on the short side; every mitre takes the
    diameter times the tangent of its angle off the short side.
    """
    length, d = printed(piece.overall_length), piece.diameter
    a, b = (d * math.tan(cut.angle) for cut in (piece.start, piece.end))
    return np.array([(0.0, 0.0), (length, 0.0), (length - b, d), (a, d)])


def moved(shape: Line, own: Line, onto: Line) -> Line:
    """A shape shifted and turned so that its edge ``own`` falls on the edge ``onto``."""
    p, q = own[1] - own[0], onto[1] - onto[0]
    turn = complex(*q) / complex(*p)
    assert abs(turn) == pytest.approx(1.0, rel=1e-9)
    z = (shape[:, 0] - own[0][0]) + 1j * (shape[:, 1] - own[0][1])
    z = z * turn + complex(*onto[0])
    return np.stack([z.real, z.imag], axis=1)


def crossing_of(one: Line, other: Line) -> Line:
    """Where the middle lines of two pieces meet."""
    (a, b), (c, d) = (((s[0] + s[3]) / 2, (s[1] + s[2]) / 2) for s in (one, other))
    t = np.linalg.solve(np.stack([b - a, c - d], axis=1), c - a)
    return np.asarray(a + t[0] * (b - a))


LENGTHS = {
    "spacing": st.floats(0.07, 0.3),
    "long": st.floats(0.6, 2.9),
    "short": st.floats(0.2, 0.5),
}
COPPER = [p for p in pipes() if p.material == "copper" and 0.012 < p.outside_diameter < 0.03]


@LAW
@given(**LENGTHS, tube=st.sampled_from(COPPER))
def test_mitred_pieces_laid_face_to_face_give_the_electrical_lengths_back(
    spacing: float, long: float, short: float, tube: Pipe
) -> None:
    pieces = by_name(cut_pieces(u_shape(spacing, long, short, tube), joinery("mitred", tube)))
    leg, bar, other = (sawn(pieces[n]) for n in ("long leg", "crossbar", "short leg"))
    # Mirror the long leg, so that its inner side faces the crossbar as that of the other leg does.
    leg = leg * (1, -1)
    bar = moved(bar, bar[[0, 3]], leg[[0, 3]])
    other = moved(other, other[[0, 3]], bar[[1, 2]])
    foot, corner = crossing_of(leg, bar), crossing_of(bar, other)
    tips = [(s[1] + s[2]) / 2 for s in (leg, other)]
    assert math.dist(foot, corner) == pytest.approx(spacing, abs=1e-4)
    assert math.dist(foot, tips[0]) == pytest.approx(long, abs=1e-4)
    assert math.dist(corner, tips[1]) == pytest.approx(short, abs=1e-4)
    # Both legs stand parallel, on one side of the crossbar.
    along = np.stack([s[1] - s[0] for s in (leg, other)])
    assert np.linalg.det(along) == pytest.approx(0.0, abs=1e-9)


SIZED = [p for p in COPPER if fitting_size("elbow 90", p).laying_length is not None]


@LAW
@given(
    **LENGTHS,
    tube=st.sampled_from(SIZED),
    mast=st.sampled_from([0.0, 0.5]),
    bar=st.sampled_from([1.0, 3.0]),
)
def test_pipes_pushed_to_the_stops_of_their_fittings_give_the_electrical_lengths_back(
    spacing: float, long: float, short: float, tube: Pipe, mast: float, bar: float
) -> None:
    own = joinery("fittings", tube)
    whole = split_long(with_mast(u_shape(spacing, long, short, tube), mast), own, bar)
    # One fitting after the other: from the centre to the stop, the pipe, the stop to the centre.
    reached = {"foot of the long leg": np.zeros(3)}
    for piece in [*cut_pieces(whole, own)] * 3:
        (member,) = (m for m in whole.members if m.name == piece.name)
        ends = (member.start, member.end)
        if ends[0] not in reached and ends[1] not in reached:
            continue
        known, new = ends if ends[0] in reached else ends[::-1]
        length = printed(piece.overall_length)
        length += sum(stop_of(whole, joint, own.sizes) for joint in ends)
        way = np.array(whole.direction(member, known))
        reached.setdefault(new, reached[known] + length * way)
    for joint in whole.joints:
        assert reached[joint.name] == pytest.approx(joint.point, abs=1e-4), joint


def stop_of(whole: Assembly, name: str, sizes: Sizes) -> float:
    """Centre of a fitting to its stop, by counting the pipes that meet."""
    joint = whole.joint(name)
    if joint.kind == "open":
        return 0.0
    kind: FittingKind = {1: "cap", 2: "elbow 90", 3: "tee"}[len(whole.at(name))]
    if joint.kind == "coupling":
        kind = "coupling"
    stop = sizes[kind].laying_length
    assert stop is not None
    return stop


def with_mast(whole: Assembly, mast: float) -> Assembly:
    if not mast:
        return whole
    foot = "foot of the long leg"
    joints = tuple(replace(j, kind="tee") if j.name == foot else j for j in whole.joints)
    return replace(
        whole,
        members=(*whole.members, Member("mast", "lower end", foot)),
        joints=(*joints, JointPoint("lower end", (0.0, 0.0, -mast), "open")),
    )


# Laws: single joints


def cross_of(kind: JointKind, diameter: float | None) -> Assembly:
    """A branch of some diameter that lands at right angles on a run."""
    stock = "pipe" if diameter is None else "rod"
    return Assembly(
        members=(
            Member("lower run", "bottom", "middle"),
            Member("upper run", "middle", "top"),
            Member("branch", "middle", "tip", stock, diameter),
        ),
        joints=(
            JointPoint("bottom", (0.0, 0.0, -1.0), "open"),
            JointPoint("middle", (0.0, 0.0, 0.0), kind),
            JointPoint("top", (0.0, 0.0, 1.0), "open"),
            JointPoint("tip", (0.5, 0.0, 0.0), "open"),
        ),
    )


def test_a_brazed_tee_leaves_the_run_whole_and_saddles_the_branch_on_it() -> None:
    whole = cross_of("tee", None)
    run, branch = cut_pieces(whole, joinery("mitred", TUBE))
    assert run.members == ("lower run", "upper run")
    assert run.overall_length == pytest.approx(2.0)
    # The mouth of equal pipes is a radius deep: its ears reach the axis of the run.
    assert branch.overall_length == pytest.approx(0.5)
    assert branch.centre_length == pytest.approx(0.5 - TUBE.outside_diameter / 2)
    assert fitting_at(whole, whole.joint("middle")) == "tee"


@pytest.mark.parametrize("thin", [0.004, 0.010, 0.020])
def test_the_ears_of_a_thinner_branch_lie_on_the_wall_of_the_run(thin: float) -> None:
    _, branch = cut_pieces(cross_of("tee", thin), joinery("mitred", TUBE))
    ear = 0.5 - branch.overall_length
    assert math.hypot(ear, thin / 2) == pytest.approx(TUBE.outside_diameter / 2)


def test_a_rod_that_lands_on_a_pipe_ends_at_its_wall_whether_the_pipe_is_one_member_or_two() -> (
    None
):
    split = cross_of("crossing", 0.008)
    single = replace(split, members=(Member("run", "bottom", "top"), split.members[2]))
    for whole in (split, single):
        pieces = cut_pieces(whole, joinery("fittings", TUBE))
        assert [p.overall_length for p in pieces] == pytest.approx(
            [2.0, 0.5 - TUBE.outside_diameter / 2]
        )
        (landing,) = landings(whole, pieces)
        assert (landing.name, landing.from_edge) == ("axis of the branch", pytest.approx(1.0))


def test_rods_that_land_on_a_pipe_from_two_sides_are_two_pieces() -> None:
    cross = cross_of("crossing", 0.008)
    whole = replace(
        cross,
        members=(
            Member("run", "bottom", "top"),
            cross.members[2],
            Member("other branch", "middle", "other tip", "rod", 0.008),
        ),
        joints=(*cross.joints, JointPoint("other tip", (-0.5, 0.0, 0.0), "open")),
    )
    pieces = cut_pieces(whole, joinery("mitred", TUBE))
    assert [piece.name for piece in pieces] == ["run", "branch", "other branch"]
    assert pieces[1].overall_length == pytest.approx(pieces[2].overall_length)


@LAW
@given(scale=st.floats(1.0, 4.0), spacing=st.floats(0.05, 0.2))
def test_a_mitred_antenna_twice_as_large_has_pieces_twice_as_long(
    scale: float, spacing: float
) -> None:
    fat = replace(TUBE, outside_diameter=scale * TUBE.outside_diameter)
    small = cut_pieces(u_shape(spacing, 1.5, 0.5, TUBE), joinery("mitred", TUBE))
    sizes = catalogue_sizes(TUBE)
    large = cut_pieces(
        u_shape(scale * spacing, scale * 1.5, scale * 0.5, fat), joinery("mitred", fat, sizes)
    )
    for a, b in zip(small, large, strict=True):
        assert b.overall_length == pytest.approx(scale * a.overall_length)


def test_a_bend_of_two_mitres_in_space_says_how_its_long_points_lie() -> None:
    corner = {"a": (0.0, 0.0, 1.0), "b": (0.0, 0.0, 0.0), "c": (1.0, 0.0, 0.0)}
    for tip, sides in (((1.0, 0, 1.0), "same"), ((1.0, 0, -1.0), "opposite"),
                       ((1.0, 1.0, 0), "turned")):  # fmt: skip
        points = {**corner, "d": tip}
        joints = tuple(JointPoint(n, p, "elbow") for n, p in points.items())
        members = tuple(Member(n + m, n, m) for n, m in itertools.pairwise(points))
        middle = cut_pieces(Assembly(members, joints), joinery("mitred", TUBE))[1]
        assert middle.sides == sides
        assert (middle.short_length is None) == (sides != "same")


def test_a_setback_and_the_end_of_a_cap_come_off_the_pipe() -> None:
    joints = (
        JointPoint("low", (0.0, 0.0, 0.0), "insulator", setback=0.004),
        JointPoint("high", (0.0, 0.0, 1.0), "cap"),
    )
    (piece,) = cut_pieces(
        Assembly((Member("rod", "low", "high"),), joints), joinery("mitred", TUBE)
    )
    assert piece.overall_length == pytest.approx(1.0 - 0.004 - TUBE.wall)


# Laws: choice, marks


def test_fittings_where_they_fit_else_mitres_with_the_reason_said() -> None:
    near, far = (u_shape(s, 1.5, 0.5, TUBE) for s in (0.055, 0.070))
    sizes = catalogue_sizes(TUBE)
    wide = choose_joinery(far, TUBE, sizes, "")
    assert (wide.joinery.style, wide.reasons, wide.problems) == ("fittings", (), ())
    close = choose_joinery(near, TUBE, sizes, "")
    assert (close.joinery.style, close.problems) == ("mitred", ())
    assert "cups of its fittings would meet" in close.reasons[0]
    metric = choose_joinery(far, pipe("22x1 mm"), catalogue_sizes(pipe("22x1 mm")), "")
    assert metric.joinery.style == "mitred"
    assert "elbow 90) is not known for this pipe" in metric.reasons[0]


@pytest.mark.parametrize("style", ["fittings", "mitred"])
def test_the_smallest_spacing_that_is_named_works_and_less_does_not(style: Style) -> None:
    own = joinery(style, TUBE)
    bar = by_name(cut_pieces(u_shape(0.2, 1.5, 0.5, TUBE), own))["crossbar"]
    least = least_length(bar)
    elbow = own.sizes["elbow 90"].reach
    assert elbow is not None
    assert least == pytest.approx(2 * elbow if style == "fittings" else TUBE.outside_diameter)
    assert short_pieces(cut_pieces(u_shape(least, 1.5, 0.5, TUBE), own)) == []
    (problem,) = short_pieces(cut_pieces(u_shape(least - 1e-3, 1.5, 0.5, TUBE), own))
    assert f"the smallest that works is {1e3 * least:.1f} mm" in problem.rule


def test_a_tap_is_found_from_the_outer_edge_of_the_crossbar_and_from_the_end_of_the_leg() -> None:
    tap, radius = 0.060, TUBE.outside_diameter / 2
    whole = u_shape(0.08, 1.5, 0.5, TUBE, tap)
    for style, to_end in (("mitred", tap + radius), ("fittings", tap - 0.01349)):
        own = joinery("mitred" if style == "mitred" else "fittings", TUBE)
        pieces = cut_pieces(whole, own)
        for mark in whole.marks:
            found = find_mark(whole, pieces, own, mark)
            assert found.edge == "the upper edge of the crossbar"
            assert found.from_edge == pytest.approx(tap - radius)
            assert found.from_cut == pytest.approx(to_end, abs=1e-9)


# Edges and refusals


def test_the_catalogue_of_fittings_has_one_source_for_each_value() -> None:
    rows = fitting_dimensions()
    assert len({(r.fitting, r.tube_diameter, r.dimension) for r in rows}) == len(rows)
    for row in rows:
        assert len(row.source) > 5
    # Cups get deeper with the tube; a fitting of one standard fits no tube of the other.
    for standard in ("ASME B16.22", "EN 1254-1"):
        cups = sorted(
            (r.tube_diameter, r.value)
            for r in rows
            if (r.standard, r.fitting, r.dimension) == (standard, "tee", "cup depth")
        )
        assert [value for _, value in cups] == sorted(value for _, value in cups)
    assert fitting_size("tee", pipe("15x1 mm")).laying_length is None
    assert fitting_size("tee", pipe("20x2 mm aluminium")).cup_depth is None


def test_a_damaged_row_of_fittings_or_drag_is_refused_with_its_place() -> None:
    header = "id,name,standard,fitting,tube_diameter_mm,dimension,value_mm,source,confidence,note"
    good = "a,a tee,EN,tee,22,cup depth,15.4,a standard,handbook,"
    for wrong in (good.replace("tee,22", "bend,22"), good.replace("15.4", "0.1")):
        (row,) = read_rows(f"{header}\n{wrong}\n", "fittings.csv", header.split(","))
        with pytest.raises(DamagedCatalogue, match=r"fittings\.csv:2"):
            fitting_dimension_of(row)


def test_a_leg_longer_than_a_bar_is_put_together_with_couplings() -> None:
    own = joinery("mitred", TUBE)
    whole = split_long(u_shape(0.08, 4.1, 1.3, TUBE), own, 3.0)
    names = [piece.name for piece in cut_pieces(whole, own)]
    assert names[:2] == ["long leg, part 1 of 2", "long leg, part 2 of 2"]
    assert all(piece.overall_length < 3.0 for piece in cut_pieces(whole, own))
    # The tap is on the lower part.
    on = {mark.name: mark.member for mark in whole.marks}
    assert on["tap, centre conductor"] == "long leg, part 1 of 2"
