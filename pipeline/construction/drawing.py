"""The workshop drawing: an antenna's pipes to scale, with dimension lines, on one page."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from models.construction.cutting import Cut, Piece
from models.lengths import beside
from models.wires.structure import Point
from pipeline.construction.cut_plan import CutPlan
from pipeline.construction.cut_text import (
    ends_words,
    joined,
    joint_words,
    landing_words,
    short_words,
)
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
from pipeline.figures.style import HAIR, INK, MIST, PAPER, SEA, STEEL, Look, style

# Where a piece's letter may stand, as shares of its length, best first.
_LETTER_PLACES = (0.5, 0.6, 0.4, 0.68, 0.32, 0.76, 0.24, 0.82, 0.18, 0.88, 0.12)
# Shorter than this on paper a pipe is seen end on. [mm]
_END_ON = 1e-3

XY = tuple[float, float]


def draw_cut(plan: CutPlan, target: Path) -> None:
    """Write the drawing as SVG and PDF; ``target`` is without the ending."""
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
    title = f"{plan.study.title}: {plan.generator.title}"
    y = paragraph(ax, (EDGE, TOP), title, wide, TITLE_TYPE)
    paragraph(
        ax,
        (EDGE, y - 1),
        f"{plan.stock_name('pipe', full=True)}{joined(plan)}. Scale 1:{scale:g}. "
        "Dimensions between pipe axes (dash-dotted) unless named; inches to 1/16, marks to 1/32; "
        "a zigzag leaves pipe out.",
        wide,
        TEXT_TYPE,
        STEEL,
    )
    top = TOP - 18
    for view in views:
        width, height = view.size
        corner = (EDGE + (wide - width) / 2 + view.left, top - height + view.below)
        _Sketch(ax, plan, view, corner).draw()
        top -= height + 8
    y = foot - 2
    for text in table:
        y = paragraph(ax, (EDGE, y), text, wide, TEXT_TYPE)
    rulers(ax, BOTTOM + 4)
    return figure


def _table_lines(plan: CutPlan) -> list[str]:
    """Pieces and marks below the drawing."""
    pieces = (
        f"{row.letter}: {len(row.names)} x {row.label}: cut {beside(row.piece.overall_length)} "
        f"overall{short_words(row, ', short side ')}; {ends_words(row)}"
        for row in plan.rows
    )
    marks = (f"M{number}: {landing_words(mark)}" for number, mark in enumerate(plan.marks, start=1))
    return [*pieces, *marks, *joint_words(plan)]


def _shares(a: XY, b: XY, *shares: float) -> list[XY]:
    """Points on the way from a to b."""
    return [(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in shares]


def _towards(a: Point, b: Point, length: float) -> Point:
    """Point at a distance from a on the way to b."""
    t = length / math.dist(a, b)
    return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2]))


def _directions(a: XY, b: XY) -> tuple[XY, XY] | None:
    """Unit vectors along a line and to its left; None where it is a point."""
    length = math.dist(a, b)
    if length < _END_ON:
        return None
    along = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    return along, (-along[1], along[0])


def _off(at: XY, along: XY, far: float, side: XY, out: float) -> XY:
    """A point moved along two directions."""
    return (at[0] + far * along[0] + out * side[0], at[1] + far * along[1] + out * side[1])


@dataclass(frozen=True)
class _Sketch:
    """One view of the antenna with its lower left corner at a place of the page [mm]."""

    ax: Axes
    plan: CutPlan
    view: View
    corner: XY

    def draw(self) -> None:
        """Pieces, fittings, breaks, marks, dimensions, letters."""
        if self.view.name == "above":
            place = self.corner[0], self.corner[1] + self.view.y.length + 1
            self.ax.text(*place, "from above", size=TEXT_TYPE, color=STEEL)
        in_order = (piece for row in self.plan.rows for piece in row.pieces)
        for piece in sorted(in_order, key=lambda piece: len(piece.members)):
            self._piece(piece)
        self._fittings()
        self._breaks()
        self._marks()
        for dimension in self.view.dimensions:
            self._dimension(dimension)
        self._letters()
        self._slanted()

    def at(self, point: Point) -> XY:
        """Place on the page of a point [m in, mm out]."""
        x, y = self.view.at(point)
        return self.corner[0] + x, self.corner[1] + y

    def half(self, diameter: float) -> float:
        """Half of a pipe's width on paper [m in, mm out]."""
        return 1e3 * diameter / 2 / self.view.x.scale

    def ends(self, piece: Piece) -> tuple[Point, Point]:
        """Joints at both ends of a piece. [m]"""
        assembly = self.plan.assembly
        return assembly.joint(piece.start.joint).point, assembly.joint(piece.end.joint).point

    def projected(self, piece: Piece) -> tuple[XY, XY]:
        """Both ends of a piece's axis on the page. [mm]"""
        a, b = self.ends(piece)
        return self.at(a), self.at(b)

    def _fill(self, corners: Sequence[XY], **look: Any) -> None:
        self.ax.fill(*zip(*corners, strict=True), **look)

    def _line(self, points: Sequence[XY], **look: Any) -> None:
        self.ax.plot(*zip(*points, strict=True), **look)

    def _circle(self, centre: XY, radius: float, colour: str = INK, zorder: float = 2) -> None:
        look = {"facecolor": PAPER, "edgecolor": colour, "lw": 0.8, "zorder": zorder}
        self.ax.add_patch(Circle(centre, radius, **look))

    def _piece(self, piece: Piece) -> None:
        """Outline of one piece with its cuts; a circle where it is seen end on."""
        a, b = self.ends(piece)
        start = self.at(_towards(a, b, piece.start.takeoff))
        end = self.at(_towards(b, a, piece.end.takeoff))
        half = max(self.half(piece.diameter), 0.2)
        directions = _directions(start, end)
        if directions is None:
            self._circle(start, half)
            return
        along, side = directions
        corners = [
            _off(point, along, way * self._lean(cut, side, sign) * half, side, sign * half)
            for point, cut, way in ((start, piece.start, -1), (end, piece.end, 1))
            for sign in (-way, way)
        ]
        self._fill(corners, facecolor=PAPER, edgecolor=INK, lw=0.8, zorder=2)
        # The axis, from which the dimensions count; thin rods need none.
        if half > 1.5:
            dots = {"lw": 0.4, "dashes": (14, 3, 2, 3)}
            self._line(self.projected(piece), color=STEEL, zorder=3.5, **dots)

    def _lean(self, cut: Cut, side: XY, sign: int) -> float:
        """How far one side of a cut lies beyond its middle, in radii."""
        if cut.outward is None:
            return 0.0
        up = cut.outward[2] if self.view.name == "front" else cut.outward[1]
        return math.tan(cut.angle) * sign * (cut.outward[0] * side[0] + up * side[1])

    def _fittings(self) -> None:
        """Every fitting as the sleeves of its arms, from its centre to their rims."""
        assembly, pipe = self.plan.assembly, self.plan.joinery.pipe
        half = self.half(pipe.outside_diameter + 2 * pipe.wall)
        for joint in assembly.joints:
            size = self.plan.joinery.fitting(assembly, joint)
            if size is None or size.cup_depth is None:
                continue
            reach = size.cup_depth + (size.laying_length or 0.0)
            centre, tips = self.at(joint.point), []
            for member in assembly.at(joint.name):
                far = member.end if joint.name == member.start else member.start
                tips.append(self.at(_towards(joint.point, assembly.joint(far).point, reach)))
            # Outlines of all arms first, so that none runs across another.
            for look in (
                {"edgecolor": STEEL, "lw": 1.6, "zorder": 3.0},
                {"edgecolor": "none", "lw": 0.0, "zorder": 3.1},
            ):
                for tip in tips:
                    self._sleeve(centre, tip, half, look)

    def _sleeve(self, a: XY, b: XY, half: float, look: Look) -> None:
        directions = _directions(a, b)
        if directions is None:
            return
        along, side = directions
        corners = [
            _off(point, along, far, side, out)
            for point, far, out in (
                (a, -half, half),
                (b, 0, half),
                (b, 0, -half),
                (a, -half, -half),
            )
        ]
        self._fill(corners, facecolor=HAIR, **look)

    def _breaks(self) -> None:
        """White bands across what is shortened, with a zigzag on both sides."""
        for piece in self.plan.pieces:
            a, b = self.projected(piece)
            half = self.half(piece.diameter) + 0.8
            for k, axis in ((1, self.view.y), (0, self.view.x)):
                if abs(a[1 - k] - b[1 - k]) >= _END_ON:
                    continue
                for low, high in axis.breaks:
                    start, stop = self.corner[k] + low, self.corner[k] + high
                    if min(a[k], b[k]) < start and stop < max(a[k], b[k]):
                        self._gap(k, a[1 - k], (start, stop), half)

    def _gap(self, k: int, middle: float, ends: XY, half: float) -> None:
        """A break across a pipe along x (``k`` 0) or y (1) whose axis lies at ``middle``."""
        lines = []
        for place, inward in zip(ends, (1, -1), strict=True):
            line = []
            for share, lift in ((-1.0, 0.0), (-0.3, 0.9), (0.3, -0.9), (1.0, 0.0)):
                across, along = middle + share * half, place + lift + 1.2 * inward
                line.append((across, along) if k else (along, across))
            lines.append(line)
        self._fill([*lines[0], *reversed(lines[1])], facecolor=PAPER, edgecolor="none", zorder=4)
        for line in lines:
            self._line(line, color=INK, lw=0.7, zorder=5)

    def _marks(self) -> None:
        """A coloured line across the member where each mark lies."""
        for mark in self.plan.marks:
            (piece,) = (p for p in self.plan.pieces if p.name == mark.piece)
            directions = _directions(*self.projected(piece))
            if directions is None:
                continue
            half = self.half(piece.diameter) + 1.0
            across = [_off(self.at(mark.point), directions[0], 0, directions[1], out)
                      for out in (-half, half)]  # fmt: skip
            self._line(across, color=SEA, lw=1.6, zorder=6)

    def _dimension(self, d: Dimension) -> None:
        """Extension lines, a line with arrows, and the text on it."""
        upright = d.along == "y"
        x0, y0 = self.corner
        depth = LANE[0] if upright else LANE[1]
        edge = (self.view.x if upright else self.view.y).length if d.side > 0 else 0.0
        place = edge + d.side * depth * (d.lane + 0.5)

        def at(along: float, out: float) -> XY:
            return (x0 + out, y0 + along) if upright else (x0 + along, y0 + out)

        beyond = place + d.side * 1.5
        tight = d.high - d.low < 6
        for end in (d.low, d.high):
            self._line([at(end, d.feature), at(end, beyond)], color=MIST, lw=0.5, zorder=1)
        for end, inward in ((d.low, 1), (d.high, -1)):
            tail = end - 4 * inward if tight else end + 3 * inward
            arrow = {"arrowstyle": "-|>", "color": STEEL, "lw": 0.6, "mutation_scale": 5}
            self.ax.annotate("", at(end, place), at(tail, place), arrowprops=arrow, zorder=3)
        self._line([at(d.low, place), at(d.high, place)], color=STEEL, lw=0.6, zorder=2)
        self.ax.text(
            *at((d.low + d.high) / 2, place),
            d.text,
            size=SMALL_TYPE,
            color=INK,
            ha="center",
            va="center",
            linespacing=1.1,
            zorder=7,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )

    def _letters(self) -> None:
        """The letter of every piece in a circle on it, clear of marks, breaks and joints."""
        taken = [self.at(mark.point) for mark in self.plan.marks]
        lettered: list[tuple[XY, XY]] = []
        for row in self.plan.rows:
            for a, b in map(self.projected, row.pieces):
                hidden = any(max(math.dist(a, p), math.dist(b, q)) < 1 for p, q in lettered)
                if math.dist(a, b) < 8 or hidden:
                    continue
                lettered.append((a, b))
                places = _shares(a, b, *_LETTER_PLACES)
                best = next((p for p in places if self._is_clear(p, taken)), places[0])
                taken.append(best)
                self._circle(best, 2.3, SEA, 8)
                look: Look = {"ha": "center", "va": "center", "zorder": 9}
                self.ax.text(*best, row.letter, size=TEXT_TYPE, color=SEA, **look)

    def _is_clear(self, place: XY, taken: Sequence[XY]) -> bool:
        """Whether a letter at a place covers no break and nothing that is there already."""
        room = 5.0
        in_break = any(
            corner + low - room < c < corner + high + room
            for c, corner, axis in zip(place, self.corner, (self.view.x, self.view.y), strict=True)
            for low, high in axis.breaks
        )
        return not in_break and all(math.dist(place, other) > room for other in taken)

    def _slanted(self) -> None:
        """Length beside a piece that lies aslant and is seen in its true length; one of a kind."""
        for row in self.plan.rows:
            aslant = next(self._true_lengths(row.pieces), None)
            if aslant is None:
                continue
            piece, a, b = aslant
            along, side = _directions(a, b) or ((1.0, 0.0), (0.0, 1.0))
            # On the upper side of the piece, past its letter.
            out = (4.6 + self.half(piece.diameter)) * (1 if b[0] > a[0] else -1)
            x, y = _off(a, along, 0.72 * math.dist(a, b), side, out)
            turn = math.degrees(math.atan((b[1] - a[1]) / (b[0] - a[0])))
            self.ax.text(
                x, y, beside(piece.axis_length), size=SMALL_TYPE, color=INK, rotation=turn,
                rotation_mode="anchor", ha="center", va="center", zorder=7,
            )  # fmt: skip

    def _true_lengths(self, pieces: Sequence[Piece]) -> Iterator[tuple[Piece, XY, XY]]:
        """Pieces aslant in this view that it shows in their true length, with their ends."""
        for piece in pieces:
            a, b = self.projected(piece)
            true = 1e3 * piece.axis_length / self.view.x.scale
            aslant = min(abs(a[0] - b[0]), abs(a[1] - b[1])) >= 1
            if aslant and math.isclose(math.dist(a, b), true):
                yield piece, a, b
