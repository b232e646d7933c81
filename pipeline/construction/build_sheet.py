"""The build sheet: one page with cut lengths, order of work, parts and cautions."""

from __future__ import annotations

from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from models.lengths import MARKED, beside, large, on_rule, small
from pipeline.construction.cut_plan import CutPlan
from pipeline.construction.cut_text import (
    CAUTIONS,
    ends_words,
    joined,
    joint_words,
    mass_words,
    money,
    notes,
    part_words,
    short_words,
    wind_words,
    work_steps,
)
from pipeline.construction.sheet import BOTTOM, EDGE, PAGE, TOP, Column, open_sheet, save_sheet
from pipeline.figures.style import INK, SEA, STEEL, style
from pipeline.text.formatting import megahertz

_WIDE = PAGE[0] - 2 * EDGE
_GUTTER = 8.0
# Type shrinks by these steps until all is on the page.
_SIZES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.64, 0.58)


def draw_sheet(plan: CutPlan, target: Path) -> None:
    """Write the build sheet as PDF; ``target`` is without the ending."""
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
    head = Column(ax, EDGE, TOP, _WIDE, scale)
    head.text(f"Build sheet: {plan.study.title}", 15, bold=True)
    head.text(
        f"{plan.generator.title} for {megahertz(plan.study.frequency)}, "
        f"{plan.stock_name('pipe', full=True)}{joined(plan)}",
        9.5,
        STEEL,
    )
    head.y -= 2 * scale
    _pieces(plan, head)
    if plan.marks or joint_words(plan):
        _marks(plan, head)
    half = (_WIDE - _GUTTER) / 2
    left = Column(ax, EDGE, head.y, half, scale)
    right = Column(ax, EDGE + half + _GUTTER, head.y, half, scale)
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


def _pieces(plan: CutPlan, page: Column) -> None:
    """One line a kind of piece, in figures that can be read from the saw."""
    page.head("Cut: overall lengths, letters as on the drawing")
    for row in plan.rows:
        own, other = on_rule(row.piece.overall_length)
        cells = [
            (0.0, row.letter, 17, SEA, True),
            (11.0, f"{len(row.names)} x", 13, INK, False),
            (25.0, own, 17, INK, True),
            (67.0, other, 13, INK, True),
        ]
        short = short_words(row, "short side ", "; ")
        electrical = f"electrical length {beside(row.piece.axis_length)}"
        page.row(cells, row.label, f"{short}{ends_words(row)}; {electrical}")
    for entry in plan.stocks:
        bars = "; ".join(
            f"bar {number}: {' + '.join(letters)}, left over {on_rule(waste)[0]}"
            for number, (letters, waste) in enumerate(entry.bars, start=1)
        )
        kerf = small(plan.study.build.kerf, 1)
        stock = f"{large(plan.bar, None)} ({plan.stock_name(entry.stock)})"
        page.item(f"From bars of {stock}, kerf {kerf}: {bars}", 8)


def _marks(plan: CutPlan, page: Column) -> None:
    """Where the tap and other places lie, from an edge that a tape finds."""
    page.head("Mark: distances on the finished antenna")
    for number, mark in enumerate(plan.marks, start=1):
        own, other = on_rule(mark.from_edge, MARKED)
        cells = [
            (0.0, f"M{number}", 13, SEA, True),
            (25.0, own, 17, INK, True),
            (67.0, other, 13, INK, True),
        ]
        note = f"; {mark.note}" if mark.note else ""
        before = f"{beside(mark.from_cut, MARKED)} from {mark.cut_end}"
        more = f"on the {mark.piece}; before joining {before}{note}"
        page.row(cells, f"{mark.name}: from {mark.edge}", more)
    for line in joint_words(plan):
        page.item(line)


def _lists(plan: CutPlan, page: Column) -> None:
    page.head("Parts")
    for part in plan.parts:
        page.item(part_words(plan, part))
    if plan.cost is not None:
        page.item(f"Together {money(plan, plan.cost)}, parts without a price not counted")
    page.head("Mass and wind")
    page.item(f"Mass {mass_words(plan)}.")
    page.item(f"Wind {wind_words(plan)}.")
