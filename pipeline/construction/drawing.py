"""The workshop drawing: an antenna's pipes to scale, with dimension lines, on one page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from models.construction.assembly import Assembly
from models.construction.cutting import Cut, Piece
from models.lengths import beside
from models.wires.structure import Point
from pipeline.construction.cut_plan import CutPlan
from pipeline.construction.cut_text import ends_words, joined, joint_words, landing_words
from pipeline.construction.cut_view import LANE, Dimension, View, choose_views
from pipeline.construction.sheet import (
    BOTTOM,
    EDGE,
    LINE,
    PAGE,
    SMALL_TYPE,
    TEXT_TYPE,
    TITLE_TYPE,
    TOP,
    lines_of,
    open_sheet,
    paragraph,
    rulers,
    save_sheet,
)
from pipeline.figures.style import HAIR, INK, MIST, PAPER, SEA, STEEL, style

# Where a piece's letter may stand, as shares of its length, best first.
_LETTER_PLACES = (0.5, 0.6, 0.4, 0.68, 0.32, 0.76, 0.24, 0.82, 0.18, 0.88, 0.12)


def draw_cut(plan: CutPlan, target: Path) -> None:
    """Write the drawing as SVG and PDF.

    Parameters
    ----------
    plan : CutPlan
    target : Path
        Without the ending.
    """
    with style():
        figure = drawing_page(plan)
        save_sheet(figure, target, f"{plan.study.title}: drawing", ("svg", "pdf"))


def drawing_page(plan: CutPlan) -> Figure:
    """The page; build it inside :func:`style.style`."""
    figure, ax = open_sheet()
    wide = PAGE[0] - 2 * EDGE
    table = _table_lines(plan)
    foot = BOTTOM + 14 + sum(len(lines_of(t, wide, TEXT_TYPE)) for t in table) * TEXT_TYPE * LINE
    scale, views = choose_views(plan, wide, TOP - 20 - foot)
    pipe = plan.joinery.pipe
    title = f"{plan.study.title}: {plan.generator.title}"
    y = paragraph(ax, (EDGE, TOP), title, wide, TITLE_TYPE)
    paragraph(
        ax,
        (EDGE, y - 1),
        f"{pipe.material} pipe {pipe.name}{joined(plan)}. Scale 1:{scale:g}. "
        "Dimensions between pipe axes (dash-dotted) unless named; inches to 1/16, marks to 1/32; "
        "a zigzag leaves pipe out.",
        wide,
        TEXT_TYPE,
        STEEL,
    )
    top = TOP - 18
    for view in views:
        width, height = view.size
        _draw_view(
            ax, plan, view, (EDGE + (wide - width) / 2 + view.left, top - height + view.below)
        )
        top -= height + 8
    y = foot - 2
    for text in table:
        y = paragraph(ax, (EDGE, y), text, wide, TEXT_TYPE)
    rulers(ax, BOTTOM + 4)
    return figure


def _table_lines(plan: CutPlan) -> list[str]:
    """Pieces and marks below the drawing, and what the break lines mean."""
    lines = []
    for row in plan.rows:
        piece = row.piece
        short = "" if piece.short_length is None else f", short side {beside(piece.short_length)}"
        stock = "" if piece.stock == "pipe" else f" of {piece.stock}"
        lines.append(
            f"{row.letter}: {len(row.names)} x {'; '.join(row.names)}{stock}: cut "
            f"{beside(piece.overall_length)} overall{short}; {ends_words(row)}"
        )
    for number, mark in enumerate(plan.marks, start=1):
        lines.append(f"M{number}: {landing_words(mark)}")
    return [*lines, *(landing_words(mark) for mark in plan.landings), *joint_words(plan)]


def _draw_view(ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float]) -> None:
    if view.name == "above":
        ax.text(corner[0], corner[1] + view.y.length + 1, "from above", size=TEXT_TYPE, color=STEEL)
    shapes = sorted(
        ((row.letter, piece) for row in plan.rows for piece in _all_of(plan, row.names)),
        key=lambda pair: len(pair[1].members),
    )
    for _, piece in shapes:
        _draw_piece(ax, plan, view, corner, piece)
    _draw_fittings(ax, plan, view, corner)
    _draw_breaks(ax, plan, view, corner)
    _draw_marks(ax, plan, view, corner)
    for dimension in view.dimensions:
        _draw_dimension(ax, view, dimension, corner)
    _draw_letters(ax, plan, view, corner)
    _draw_slanted(ax, plan, view, corner)


def _all_of(plan: CutPlan, names: Sequence[str]) -> list[Piece]:
    return [piece for piece in plan.pieces if piece.name in names]


def _ends(assembly: Assembly, piece: Piece) -> tuple[Point, Point]:
    return assembly.joint(piece.start.joint).point, assembly.joint(piece.end.joint).point


def _towards(a: Point, b: Point, length: float) -> Point:
    """Point at a distance from a on the way to b."""
    t = length / math.dist(a, b)
    return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2]))


def _draw_piece(
    ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float], piece: Piece
) -> None:
    """Outline of one piece with its cuts; a dot where it is seen end on."""
    a, b = _ends(plan.assembly, piece)
    start = view.at(_towards(a, b, piece.start.takeoff))
    end = view.at(_towards(b, a, piece.end.takeoff))
    half = max(1e3 * piece.diameter / 2 / view.x.scale, 0.2)
    along = (end[0] - start[0], end[1] - start[1])
    length = math.hypot(*along)
    x0, y0 = corner
    if length < 1e-3:
        ax.add_patch(_circle((x0 + start[0], y0 + start[1]), half))
        return
    unit = (along[0] / length, along[1] / length)
    side = (-unit[1], unit[0])
    corners = []
    for point, cut, way, signs in ((start, piece.start, -1, (1, -1)), (end, piece.end, 1, (-1, 1))):
        for sign in signs:
            lean = way * _lean(cut, view, side, sign) * half
            corners.append(
                (
                    x0 + point[0] + sign * half * side[0] + lean * unit[0],
                    y0 + point[1] + sign * half * side[1] + lean * unit[1],
                )
            )
    ax.fill(*zip(*corners, strict=True), facecolor=PAPER, edgecolor=INK, lw=0.8, zorder=2)
    # The axis, from which the dimensions count; thin rods need none.
    if half > 1.5:
        first, last = view.at(a), view.at(b)
        ax.plot(
            [x0 + first[0], x0 + last[0]],
            [y0 + first[1], y0 + last[1]],
            color=STEEL,
            lw=0.4,
            dashes=(14, 3, 2, 3),
            zorder=3.5,
        )


def _lean(cut: Cut, view: View, side: tuple[float, float], sign: int) -> float:
    """How far one side of a cut lies beyond its middle, in radii."""
    if cut.outward is None:
        return 0.0
    across = (cut.outward[0], cut.outward[2] if view.name == "front" else cut.outward[1])
    return math.tan(cut.angle) * sign * (across[0] * side[0] + across[1] * side[1])


def _circle(
    centre: tuple[float, float], radius: float, colour: str = INK, zorder: float = 2
) -> Circle:
    return Circle(centre, radius, facecolor=PAPER, edgecolor=colour, lw=0.8, zorder=zorder)


def _draw_fittings(ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float]) -> None:
    """Every fitting as the sleeves of its arms, from its centre to their rims."""
    wall = plan.joinery.pipe.wall
    half = 1e3 * (plan.joinery.pipe.outside_diameter / 2 + wall) / view.x.scale
    for joint in plan.assembly.joints:
        size = plan.joinery.fitting(plan.assembly, joint)
        if size is None or size.cup_depth is None:
            continue
        reach = size.cup_depth + (size.laying_length or 0.0)
        centre, tips = view.at(joint.point), []
        for member in plan.assembly.at(joint.name):
            far = member.end if joint.name == member.start else member.start
            tips.append(view.at(_towards(joint.point, plan.assembly.joint(far).point, reach)))
        # Outlines of all arms first, so that none runs across another.
        for outline in (True, False):
            for tip in tips:
                _sleeve(ax, corner, (centre, tip), half, outline)


def _sleeve(
    ax: Axes,
    corner: tuple[float, float],
    ends: tuple[tuple[float, float], tuple[float, float]],
    half: float,
    outline: bool,
) -> None:
    a, b = ends
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    if length < 1e-3:
        return
    unit = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    back = (a[0] - half * unit[0], a[1] - half * unit[1])
    side = (-unit[1] * half, unit[0] * half)
    corners = [
        (corner[0] + p[0] + s * side[0], corner[1] + p[1] + s * side[1])
        for p, s in ((back, 1), (b, 1), (b, -1), (back, -1))
    ]
    edge, thick, order = (STEEL, 1.6, 3.0) if outline else ("none", 0.0, 3.1)
    ax.fill(*zip(*corners, strict=True), facecolor=HAIR, edgecolor=edge, lw=thick, zorder=order)


def _draw_breaks(ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float]) -> None:
    """White bands across what is shortened, with a zigzag on both sides."""
    x0, y0 = corner
    for piece in plan.pieces:
        a, b = (view.at(point) for point in _ends(plan.assembly, piece))
        half = 1e3 * piece.diameter / 2 / view.x.scale + 0.8
        for low, high in view.y.breaks:
            if abs(a[0] - b[0]) < 1e-3 and min(a[1], b[1]) < low and high < max(a[1], b[1]):
                _gap(ax, (x0 + a[0], y0 + low), (x0 + a[0], y0 + high), half)
        for low, high in view.x.breaks:
            if abs(a[1] - b[1]) < 1e-3 and min(a[0], b[0]) < low and high < max(a[0], b[0]):
                _gap(ax, (x0 + low, y0 + a[1]), (x0 + high, y0 + a[1]), half)


def _gap(ax: Axes, start: tuple[float, float], end: tuple[float, float], half: float) -> None:
    """A break across a pipe between two points of its axis."""
    upright = abs(start[0] - end[0]) < 1e-6
    shares = (-1.0, -0.3, 0.3, 1.0)
    lifts = (0.0, 0.9, -0.9, 0.0)
    lines = []
    for point, inward in ((start, 1), (end, -1)):
        line = []
        for share, lift in zip(shares, lifts, strict=True):
            across, along = share * half, lift + 1.2 * inward
            line.append(
                (point[0] + across, point[1] + along)
                if upright
                else (point[0] + along, point[1] + across)
            )
        lines.append(line)
    band = [*lines[0], *reversed(lines[1])]
    ax.fill(*zip(*band, strict=True), facecolor=PAPER, edgecolor="none", zorder=4)
    for line in lines:
        ax.plot(*zip(*line, strict=True), color=INK, lw=0.7, zorder=5)


def _draw_marks(ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float]) -> None:
    """A coloured line across the member where each mark lies."""
    for mark in plan.marks:
        (piece,) = (p for p in plan.pieces if p.name == mark.piece)
        a, b = (view.at(point) for point in _ends(plan.assembly, piece))
        length = math.hypot(b[0] - a[0], b[1] - a[1])
        if length < 1e-3:
            continue
        half = 1e3 * piece.diameter / 2 / view.x.scale + 1.0
        side = (-(b[1] - a[1]) / length * half, (b[0] - a[0]) / length * half)
        x, y = (c + p for c, p in zip(corner, view.at(mark.point), strict=True))
        ax.plot([x - side[0], x + side[0]], [y - side[1], y + side[1]], color=SEA, lw=1.6, zorder=6)


def _draw_dimension(
    ax: Axes, view: View, dimension: Dimension, corner: tuple[float, float]
) -> None:
    """Extension lines, a line with arrows, and the text on it."""
    d, (x0, y0) = dimension, corner
    upright = d.along == "y"
    depth = LANE[0] if upright else LANE[1]
    edge = (view.x if upright else view.y).length if d.side > 0 else 0.0
    place = edge + d.side * depth * (d.lane + 0.5)

    def at(along: float, out: float) -> tuple[float, float]:
        return (x0 + out, y0 + along) if upright else (x0 + along, y0 + out)

    beyond = place + d.side * 1.5
    for end in (d.low, d.high):
        ax.plot(
            *zip(at(end, d.feature), at(end, beyond), strict=True), color=MIST, lw=0.5, zorder=1
        )
    tight = d.high - d.low < 6
    for end, inward in ((d.low, 1), (d.high, -1)):
        tail = end - 4 * inward if tight else end + 3 * inward
        arrow = {"arrowstyle": "-|>", "color": STEEL, "lw": 0.6, "mutation_scale": 5}
        ax.annotate("", at(end, place), at(tail, place), arrowprops=arrow, zorder=3)
    ax.plot(*zip(at(d.low, place), at(d.high, place), strict=True), color=STEEL, lw=0.6, zorder=2)
    middle = (d.low + d.high) / 2
    ax.text(
        *at(middle, place),
        d.text,
        size=SMALL_TYPE,
        color=INK,
        ha="center",
        va="center",
        linespacing=1.1,
        zorder=7,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
    )


def _draw_letters(ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float]) -> None:
    """The letter of every piece in a circle on it, clear of marks, breaks and joints."""
    taken = [view.at(mark.point) for mark in plan.marks]
    lettered: list[tuple[tuple[float, float], ...]] = []
    for row in plan.rows:
        for piece in _all_of(plan, row.names):
            a, b = (view.at(point) for point in _ends(plan.assembly, piece))
            hidden = any(max(math.dist(a, p), math.dist(b, q)) < 1 for p, q in lettered)
            if math.dist(a, b) < 8 or hidden:
                continue
            lettered.append((a, b))
            places = [(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in _LETTER_PLACES]
            best = next((p for p in places if _is_clear(p, view, taken)), places[0])
            taken.append(best)
            x, y = corner[0] + best[0], corner[1] + best[1]
            ax.add_patch(_circle((x, y), 2.3, SEA, 8))
            ax.text(x, y, row.letter, size=TEXT_TYPE, color=SEA, ha="center", va="center", zorder=9)


def _draw_slanted(ax: Axes, plan: CutPlan, view: View, corner: tuple[float, float]) -> None:
    """Length beside a piece that lies aslant and is seen in its true length; one of a kind."""
    for row in plan.rows:
        for piece in _all_of(plan, row.names):
            a, b = (view.at(point) for point in _ends(plan.assembly, piece))
            across, up = b[0] - a[0], b[1] - a[1]
            true = 1e3 * piece.axis_length / view.x.scale
            if min(abs(across), abs(up)) < 1 or not math.isclose(math.dist(a, b), true):
                continue
            turn = math.degrees(math.atan(up / across))
            size = math.dist(a, b)
            out = 4.6 + 1e3 * piece.diameter / 2 / view.x.scale
            # On the upper side of the piece, past its letter.
            side = (-up / size, across / size) if across > 0 else (up / size, -across / size)
            x = corner[0] + a[0] + 0.72 * across + out * side[0]
            y = corner[1] + a[1] + 0.72 * up + out * side[1]
            ax.text(
                x, y, beside(piece.axis_length), size=SMALL_TYPE, color=INK, rotation=turn,
                rotation_mode="anchor", ha="center", va="center", zorder=7,
            )  # fmt: skip
            break


def _is_clear(place: tuple[float, float], view: View, taken: Sequence[tuple[float, float]]) -> bool:
    """Whether a letter at a place of a view covers no break and nothing that is there already."""
    room = 5.0
    x, y = place
    in_break = any(low - room < x < high + room for low, high in view.x.breaks) or any(
        low - room < y < high + room for low, high in view.y.breaks
    )
    return not in_break and all(math.dist(place, other) > room for other in taken)
