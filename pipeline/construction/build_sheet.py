"""The build sheet: one page for the bench with cut lengths, order of work, parts and cautions."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from models.lengths import MARKED, beside, large, on_rule, small
from pipeline.construction.cut_plan import CutPlan, CutRow
from pipeline.construction.cut_text import (
    CAUTIONS,
    ends_words,
    joined,
    joint_words,
    landing_words,
    mass_words,
    money,
    notes,
    part_words,
    wind_words,
    work_steps,
)
from pipeline.construction.sheet import BOTTOM, EDGE, PAGE, TOP, lines_of, open_sheet, save_sheet
from pipeline.figures.style import HAIR, INK, SEA, STEEL, style

_WIDE = PAGE[0] - 2 * EDGE
_GUTTER = 8.0
_MM = 25.4 / 72
# Type shrinks by these steps until all is on the page.
_SIZES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.64, 0.58)


@dataclass
class _Column:
    """A pen that writes downwards; without axes it only measures."""

    ax: Axes | None
    x: float
    y: float
    width: float
    scale: float
    done: list[str] = field(default_factory=list)

    def text(self, text: str, size: float, colour: str = INK, bold: bool = False) -> None:
        size *= self.scale
        for line in lines_of(text, self.width, size, bold):
            if self.ax is not None:
                weight = "bold" if bold else "normal"
                self.ax.text(self.x, self.y, line, size=size, color=colour, weight=weight, va="top")
            self.y -= 1.3 * size * _MM

    def head(self, text: str) -> None:
        self.y -= 2.2 * self.scale
        self.text(text, 10.5, SEA, bold=True)
        self.y -= 0.6 * self.scale

    def item(self, text: str, size: float = 8.5) -> None:
        self.text(text, size)
        self.y -= 0.7 * self.scale


def draw_sheet(plan: CutPlan, target: Path) -> None:
    """Write the build sheet as PDF.

    Parameters
    ----------
    plan : CutPlan
    target : Path
        Without the ending.
    """
    with style():
        figure = sheet_page(plan)
        save_sheet(figure, target, f"{plan.study.title}: build sheet", ("pdf",))


def sheet_page(plan: CutPlan) -> Figure:
    """The page; build it inside :func:`style.style`.

    Raises
    ------
    ValueError
        If it does not fit one page even in the smallest type.
    """
    for scale in _SIZES:
        if _write(plan, None, scale) >= BOTTOM:
            figure, ax = open_sheet()
            _write(plan, ax, scale)
            return figure
    raise ValueError("the build sheet does not fit one page")


def _write(plan: CutPlan, ax: Axes | None, scale: float) -> float:
    """Write or measure the page; returns the lowest place reached [mm]."""
    pipe = plan.joinery.pipe
    head = _Column(ax, EDGE, TOP, _WIDE, scale)
    head.text(f"Build sheet: {plan.study.title}", 15, bold=True)
    head.text(
        f"{plan.generator.title} for {plan.study.frequency / 1e6:.7g} MHz, {pipe.material} pipe "
        f"{pipe.name}{joined(plan)}",
        9.5,
        STEEL,
    )
    head.y -= 2 * scale
    _pieces(plan, head)
    if plan.marks or plan.landings or joint_words(plan):
        _marks(plan, head)
    half = (_WIDE - _GUTTER) / 2
    left = _Column(ax, EDGE, head.y, half, scale)
    right = _Column(ax, EDGE + half + _GUTTER, head.y, half, scale)
    left.head("Order of work")
    for number, step in enumerate(work_steps(plan), start=1):
        left.item(f"{number}. {step}")
    left.head("Notes")
    for line in notes(plan):
        left.item(" ".join(line.split()), 7.5)
    _lists(plan, right)
    right.head("Cautions")
    for caution in CAUTIONS:
        right.item(caution, 8)
    return min(left.y, right.y)


def _pieces(plan: CutPlan, page: _Column) -> None:
    """One line a kind of piece, in figures that can be read from the saw."""
    page.head("Cut: overall lengths, letters as on the drawing")
    for row in plan.rows:
        _piece_line(row, page)
    for entry in plan.stocks:
        name = plan.joinery.pipe.name if entry.stock == "pipe" else entry.stock
        bars = "; ".join(
            f"bar {number}: {' + '.join(letters)}, left over {on_rule(waste)[0]}"
            for number, (letters, waste) in enumerate(entry.bars, start=1)
        )
        kerf = small(plan.study.build.kerf, 1)
        page.item(f"From bars of {large(plan.bar, None)} ({name}), kerf {kerf}: {bars}", 8)


def _piece_line(row: CutRow, page: _Column) -> None:
    piece, scale = row.piece, page.scale
    top = page.y
    own, other = on_rule(piece.overall_length)
    cells: list[tuple[float, str, float, str, bool]] = [
        (0.0, row.letter, 17, SEA, True),
        (11.0, f"{len(row.names)} x", 13, INK, False),
        (25.0, own, 17, INK, True),
        (67.0, other, 13, INK, True),
    ]
    short = "" if piece.short_length is None else f"short side {beside(piece.short_length)}; "
    stock = "" if piece.stock == "pipe" else f" of {piece.stock}"
    side = _Column(page.ax, page.x + 103, top - 0.5 * scale, page.width - 103, scale)
    side.text(f"{'; '.join(row.names)}{stock}", 9, bold=True)
    side.text(f"{short}{ends_words(row)}; electrical length {beside(piece.axis_length)}", 8)
    if page.ax is not None:
        for x, text, size, colour, bold in cells:
            page.ax.text(
                page.x + x,
                top,
                text,
                size=size * scale,
                color=colour,
                weight="bold" if bold else "normal",
                va="top",
            )
    page.y = min(top - 1.3 * 17 * scale * _MM, side.y) - 1.2 * scale
    _rule(page)


def _rule(page: _Column) -> None:
    if page.ax is not None:
        page.ax.plot([page.x, page.x + page.width], [page.y + 0.4] * 2, color=HAIR, lw=0.8)
    page.y -= 0.8 * page.scale


def _marks(plan: CutPlan, page: _Column) -> None:
    """Where the tap and other places lie, from an edge that a tape finds."""
    page.head("Mark: distances on the finished antenna")
    for number, mark in enumerate(plan.marks, start=1):
        top, scale = page.y, page.scale
        own, other = on_rule(mark.from_edge, MARKED)
        if page.ax is not None:
            page.ax.text(
                page.x, top, f"M{number}", size=13 * scale, color=SEA, weight="bold", va="top"
            )
            page.ax.text(
                page.x + 25, top, own, size=17 * scale, color=INK,
                weight="bold", va="top",
            )  # fmt: skip
            page.ax.text(
                page.x + 67, top, other, size=13 * scale, color=INK,
                weight="bold", va="top",
            )  # fmt: skip
        side = _Column(page.ax, page.x + 103, top - 0.5 * scale, page.width - 103, scale)
        side.text(f"{mark.name}: from {mark.edge}", 9, bold=True)
        note = f"; {mark.note}" if mark.note else ""
        side.text(
            f"on the {mark.piece}; before joining {beside(mark.from_cut, MARKED)} from "
            f"{mark.cut_end}{note}",
            8,
        )
        page.y = min(top - 1.3 * 17 * scale * _MM, side.y) - 1.2 * scale
        _rule(page)
    for line in (*(landing_words(mark) for mark in plan.landings), *joint_words(plan)):
        page.item(line)


def _lists(plan: CutPlan, page: _Column) -> None:
    page.head("Parts")
    for part in plan.parts:
        page.item(part_words(plan, part))
    if plan.cost is not None:
        page.item(f"Together {money(plan, plan.cost)}, parts without a price not counted")
    page.head("Mass and wind")
    page.item(f"Mass {mass_words(plan)}.")
    page.item(f"Wind {wind_words(plan)}.")
