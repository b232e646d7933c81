"""Figures of a convergence study: shorter segments, and other ways to draw the same thing.

``evidence/convergence.csv`` in, two figures of small multiples beside it out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from models.lengths import axis_unit
from pipeline.figures.data import Table, table_at
from pipeline.figures.page import Note, Page, Texts, footer_of, heading, open_page
from pipeline.figures.registry import draw_page, figure
from pipeline.figures.style import BRICK, HAIR, INK, OCHRE, PAPER, SEA, SMALL, STEEL
from pipeline.mesh.tracked_quantities import (
    CASES,
    DIFFERENCE,
    FREE_SPACE,
    GEOMETRY,
    PARTS,
    QUANTITIES,
    SEGMENTS,
    amount,
    coarser,
    is_test,
    way_label,
)
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import number

PAGE = "convergence"
COLOURS = {NONE: BRICK, IDEAL: INK, DIFFERENCE: SEA, GEOMETRY: OCHRE}
MARKS = {NONE: "o", IDEAL: "s", DIFFERENCE: "D", GEOMETRY: "o"}
# What is drawn of the geometry is the value itself: there is a right one.
_ABSOLUTE = {"average_gain": 1.0, "reciprocity": 0.0}
# Room [inch] for ticks below the lowest panels, a label under them, between panels, and for the
# heading of the first.
_TICKS, _LABEL, _BETWEEN, _ABOVE = 0.28, 0.22, 0.5, 0.12
# A panel shows at least this multiple of the step that a reader would see in print.
_STEPS_SHOWN = 2.5


@dataclass(frozen=True)
class _Panel:
    """A quantity with its rows: unit of its axis, factor from the table's unit to it."""

    quantity: str
    rows: Table

    @property
    def factor(self) -> float:
        return 100.0 if QUANTITIES[self.quantity].shown(0.5).endswith("%") else 1.0

    @property
    def unit(self) -> str:
        if self.factor > 1:
            return "%"
        return {"ohm": "Ω", "dBi": "dB", "1": ""}[QUANTITIES[self.quantity].unit]

    @property
    def column(self) -> str:
        return "result" if self.quantity in _ABSOLUTE else "change"

    def y(self, rows: Table) -> NDArray[np.float64]:
        return self.factor * rows.number(self.column)

    @property
    def noticed(self) -> float | None:
        step = QUANTITIES[self.quantity].noticed
        return None if step is None else self.factor * step

    def span(self, rows: Table) -> tuple[float, float]:
        """Ends of the panel's axis: all values, what would be noticed, and the right value."""
        q = QUANTITIES[self.quantity]
        right = self.factor * _ABSOLUTE.get(self.quantity, 0.0)
        least = _STEPS_SHOWN * self.factor * q.resolution
        reach = max(least, self.noticed or 0.0, float(np.abs(self.y(rows) - right).max()))
        low = right if self.quantity == "reciprocity" else right - 1.15 * reach
        return low, right + 1.15 * reach

    @property
    def heading(self) -> str:
        unit = f" [{self.unit}]" if self.unit else ""
        return f"{QUANTITIES[self.quantity].label}{unit}"


def _cases(rows: Table) -> list[str]:
    return [c for c in (*CASES, GEOMETRY) if len(rows.select(case=c))]


def _key(*more: str) -> tuple[Note, ...]:
    shapes = {NONE: "dots", IDEAL: "squares", DIFFERENCE: "diamonds"}
    words = {**CASES, DIFFERENCE: "what the choke changes (no choke minus ideal choke)"}
    return (
        *(Note(f"{shapes[c]}: {words[c]}", COLOURS[c]) for c in CASES),
        Note("ochre: the geometry itself, whatever is on the cable", OCHRE),
        Note(
            "Changes are against the model as it is drawn, currents in per cent of the feed "
            "current; the last two panels show values. Hollow: coarser than drawn. Dotted: a "
            "change that would be noticed, as the verdict counts it.",
            STEEL,
        ),
        *(Note(text, STEEL) for text in more),
    )


def _kept(table: Table, keep: Callable[[str, str], bool]) -> Table:
    """The rows of some ways of drawing, chosen by variation and value."""
    return table.keep([keep(*pair) for pair in table.rows("variation", "value")])


def _largest(tests: Table, quantity: str) -> str:
    """Largest change of the two cases, as it is written."""
    rows = [tests.select(quantity=quantity, case=c) for c in (NONE, IDEAL)]
    most = max((float(np.abs(r.number("change")).max()) for r in rows if len(r)), default=0.0)
    return amount(quantity, most)


def _finding(table: Table, who: str) -> str:
    """Largest changes over the drawings that test the usual one; or that there are none."""
    tests = _kept(table, is_test)
    if not len(tests):
        return f"{who.rstrip(',')}: not tested"
    return (
        f"{who} move the SWR {_largest(tests, 'swr_feed')}, the gain "
        f"{_largest(tests, 'horizon_gain_mean')} and the current at the radio "
        f"{_largest(tests, 'station_current_ratio')} of the feed current"
    )


def _frame(ax: Axes, panel: _Panel, axis: str) -> None:
    """Heading, the line of no change, and lines of what would be noticed."""
    line = ax.axhline if axis == "y" else ax.axvline
    line(_ABSOLUTE.get(panel.quantity, 0.0) * panel.factor, color=STEEL, lw=0.9, zorder=1)
    if panel.noticed is not None:
        for side in (-1, 1):
            line(side * panel.noticed, color=STEEL, lw=1.0, zorder=1)
    heading(ax, panel.heading, INK)
    signed = panel.quantity not in _ABSOLUTE

    def tick(value: float, _: int) -> str:
        text = number(value, ".4g")
        return f"+{text}" if signed and value > 0 else text

    which = ax.yaxis if axis == "y" else ax.xaxis
    which.set_major_locator(MaxNLocator(4))
    which.set_major_formatter(FuncFormatter(tick))


def _room(tall: float, below: float) -> float:
    return below + 4 * tall + 3 * _BETWEEN + _ABOVE


def _grid(
    page: Page, table: Table, left: float, wide: float, tall: float, below: float
) -> Iterator[tuple[_Panel, Axes]]:
    """Each quantity with its axes: eight panels in two columns, row by row from the top."""
    gap = page.width - left - 2 * wide - 0.2
    for k, quantity in enumerate(QUANTITIES):
        row, column = divmod(k, 2)
        bottom = below + (3 - row) * (tall + _BETWEEN)
        ax = page.panel(left + column * (wide + gap), bottom, wide, tall)
        yield _Panel(quantity, table.select(quantity=quantity)), ax


def _by_length(rows: Table) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Mean segment lengths in the axis's unit, coarse to fine, and the order of the rows."""
    length = rows.number("mean_segment_m") / axis_unit(fine=True)[1]
    order = np.argsort(-length)
    return length[order], order


@figure(PAGE, 10)
def convergence(table: Table, footer: str) -> Page:
    """Each quantity against the mean length of all segments, finer to the right; the grey stripe is
    the model as it is drawn.
    """
    rows = table.select(variation=SEGMENTS)
    tall, below = 1.15, _TICKS + _LABEL
    page = open_page(Texts(_shorter(table, rows), _key(), "", footer), _room(tall, below))
    for panel, ax in _grid(page, rows, 0.56, 2.1, tall, below):
        _frame(ax, panel, "y")
        for case in _cases(panel.rows):
            own = panel.rows.select(case=case)
            x, order = _by_length(own)
            y, values = panel.y(own)[order], own.text("value")[order]
            ax.plot(x, y, color=COLOURS[case], lw=1.4)
            for at, height, value in zip(x, y, values, strict=True):
                _mark(ax, at, height, case, hollow=coarser(SEGMENTS, str(value)))
        drawn = _by_length(panel.rows.select(value="1"))[0][0]
        ax.axvline(drawn, color=HAIR, lw=3.0, zorder=0)
        ax.set(xlim=(1.03 * x.max(), 0.97 * x.min() - 0.02 * x.max()), ylim=panel.span(panel.rows))
        ax.xaxis.set_major_locator(MaxNLocator(5))
        last = panel.quantity in ("average_gain", "reciprocity")
        ax.tick_params(labelbottom=last)
        if last:
            ax.set_xlabel(f"mean segment length [{axis_unit(fine=True)[0]}]", size=SMALL)
    return page


def _shorter(everything: Table, whole: Table) -> str:
    """Largest changes of shorter segments, of one part at a time where that is all there is."""
    tried = _kept(everything, lambda variation, _: variation in (SEGMENTS, *PARTS))
    if len(_kept(whole, is_test)) or not len(_kept(tried, is_test)):
        return _finding(tried, "Shorter segments")
    return _finding(tried, "Shorter segments, of one part at a time,")


def _mark(ax: Axes, x: float, y: float, case: str, hollow: bool) -> None:
    colour = COLOURS[case]
    face = PAPER if hollow else colour
    ax.plot(x, y, MARKS[case], color=colour, mfc=face, ms=3.6, mew=1.0, zorder=3)


def _off_scale(ax: Axes, places: list[float], height: float, unit: str) -> None:
    """Values beyond the axis: an arrow at the edge they lie beyond, with the numbers."""
    low, high = ax.get_xlim()
    for edge, side, beyond in (
        (low, "left", [p for p in places if p < low]),
        (high, "right", [p for p in places if p > high]),
    ):
        if beyond:
            said = " ".join(f"{number(p, '+.1f')}" for p in beyond) + f" {unit}"
            text = f"◂ {said}" if side == "left" else f"{said} ▸"
            ax.text(edge, height, text, color=STEEL, size=SMALL - 1, ha=side, va="center")


@figure(PAGE, 20)
def other_drawings(table: Table, footer: str) -> Page:
    """Every other way of drawing.

    The simpler ground is the one of plane-wave reflection coefficients; free space is there for
    orientation only.
    """
    others = _kept(table, lambda variation, _: variation != SEGMENTS)
    # Free space is another world, for orientation: it does not set the scale.
    scale = _kept(others, lambda _, value: value != FREE_SPACE)
    ways = list(dict.fromkeys(others.rows("variation", "value")))[::-1]
    title = _finding(others, "Other drawings, as fine or finer,")
    tall = 0.17 * len(ways) + 0.1
    notes = _key(
        "Alone: shorter segments of that part only. Choke segments: those of the cable where "
        "chokes sit. Simpler ground: plane-wave reflection coefficients. Free space: for "
        "orientation only."
    )
    page = open_page(Texts(title, notes, "", footer), _room(tall, _TICKS))
    for k, (panel, ax) in enumerate(_grid(page, others, 1.8, 1.78, tall, _TICKS)):
        _frame(ax, panel, "x")
        ax.set_xlim(*panel.span(scale.select(quantity=panel.quantity)))
        for height, way in enumerate(ways):
            _dots(ax, panel, way, height)
        ax.set_ylim(-0.7, len(ways) - 0.3)
        ax.set_yticks(range(len(ways)), [way_label(*w) for w in ways] if k % 2 == 0 else [])
        ax.tick_params(axis="y", length=0)
    return page


def _dots(ax: Axes, panel: _Panel, way: tuple[str, str], height: int) -> None:
    low, high = ax.get_xlim()
    rows = panel.rows.select(variation=way[0], value=way[1])
    cases = _cases(rows)
    offsets = (0.26, 0.0, -0.26) if len(cases) > 1 else (0.0,)
    beyond = []
    for case, offset in zip(cases, offsets, strict=True):
        place = float(panel.y(rows.select(case=case))[0])
        if low <= place <= high:
            _mark(ax, place, height + offset, case, hollow=coarser(*way))
        else:
            beyond.append(place)
    # Raised a little: the last case may lie on the axis at the same height.
    _off_scale(ax, beyond, height + 0.2, panel.unit)


def draw(folder: Path, title: str, frequency: float) -> None:
    """Draw both figures into the folder that holds ``convergence.csv``.

    ``title`` and design ``frequency`` [Hz] are those of the study.
    """
    table = table_at(folder / "convergence.csv")
    draw_page(PAGE, folder, table, footer_of(title, frequency, 100))
