"""A page of paper to draw on in millimetres, that prints to scale on A4 and on US letter.

Text and lines in, SVG, PDF and PNG out; knows nothing of studies.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from pipeline.figures.style import DPI, HAIR, INK, SEA, STEEL, wrap
from pipeline.runtime.store import whole_file
from pipeline.text.formatting import plain

# The page is A4; what is on it also fits the height of US letter, which is wider.
PAGE = (210.0, 297.0)
EDGE = 14.0
LETTER_HEIGHT = 279.4
BOTTOM = (PAGE[1] - LETTER_HEIGHT) / 2 + 8
TOP = PAGE[1] - BOTTOM
SMALL_TYPE, TEXT_TYPE, TITLE_TYPE = 6.5, 7.5, 12.0
_MM = 25.4 / 72
LINE = 1.35 * _MM
# Place from the left [mm], text, size, colour, whether bold.
Cell = tuple[float, str, float, str, bool]


# Inches and their fractions stay together, and a number with its unit.
_TIE = re.compile(r"(?<=\d) (?=\d+/\d+ in|in\b|mm\b|N\b|kg\b|lbf?\b|ft\b)")
# A blank that nothing takes for one, while lines are broken.
_STAND_IN = "\u2800"


def lines_of(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Text cut into lines no wider than ``width`` [mm]; lengths are not torn apart.

    Examples
    --------
    >>> lines_of("long leg 6 23/32 in", 20.0, 8.0)
    ['long leg', '6\\xa023/32\\xa0in']
    """
    lines = wrap(_TIE.sub(_STAND_IN, text), width / 25.4, size, bold)
    return [line.replace(_STAND_IN, "\u00a0") for line in lines]


def open_sheet() -> tuple[Figure, Axes]:
    """A page whose coordinates are millimetres from its lower left corner."""
    figure = Figure(figsize=(PAGE[0] / 25.4, PAGE[1] / 25.4), dpi=DPI)
    FigureCanvasAgg(figure)
    ax = figure.add_axes((0, 0, 1, 1))
    ax.set_xlim(0, PAGE[0])
    ax.set_ylim(0, PAGE[1])
    ax.set_aspect("equal")
    ax.axis("off")
    return figure, ax


def save_sheet(figure: Figure, target: Path, title: str, kinds: Sequence[str]) -> None:
    """Write a page in some formats, each whole; equal input gives equal bytes."""
    data = {
        "svg": {"Date": None, "Creator": None, "Title": plain(title)},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None, "Title": plain(title)},
        "png": {"Software": None, "Title": plain(title)},
    }
    for kind in kinds:
        with whole_file(target.with_name(f"{target.name}.{kind}")) as temporary:
            figure.savefig(temporary, metadata=data[kind])


def paragraph(
    ax: Axes, at: tuple[float, float], text: str, width: float, size: float, colour: str = INK
) -> float:
    """Wrapped text from its upper left corner [mm]; returns the height left below it."""
    x, y = at
    for line in lines_of(text, width, size):
        ax.text(x, y, line, size=size, color=colour, va="top", ha="left")
        y -= size * LINE
    return y


def rulers(ax: Axes, y: float) -> None:
    """A line of 100 mm and one of 2 in, to see whether the print is to scale."""
    for x, step, count, text in (
        (EDGE, 10.0, 10, "100 mm"),
        (EDGE + 118, 12.7, 4, "2 in, both true when printed at 100 %"),
    ):
        ax.plot([x, x + step * count], [y, y], color=INK, lw=1)
        for k in range(count + 1):
            tall = 2.5 if k % (count // 2) == 0 else 1.5
            ax.plot([x + step * k] * 2, [y, y + tall], color=INK, lw=0.7)
        ax.text(x, y - 1, text, size=SMALL_TYPE, color=STEEL, va="top")


@dataclass
class Column:
    """Text written downwards; without axes it is only measured."""

    ax: Axes | None
    x: float
    y: float
    width: float
    scale: float

    def put(self, x: float, y: float, text: str, size: float, colour: str, bold: bool) -> None:
        """One line of text at a place, its size already to scale."""
        if self.ax is not None:
            weight = "bold" if bold else "normal"
            self.ax.text(x, y, text, size=size, color=colour, weight=weight, va="top")

    def text(self, text: str, size: float, colour: str = INK, bold: bool = False) -> None:
        """A paragraph."""
        size *= self.scale
        for line in lines_of(text, self.width, size, bold):
            self.put(self.x, self.y, line, size, colour, bold)
            self.y -= 1.3 * size * _MM

    def head(self, text: str) -> None:
        """A heading."""
        self.y -= 2.2 * self.scale
        self.text(text, 10.5, SEA, bold=True)
        self.y -= 0.6 * self.scale

    def item(self, text: str, size: float = 8.5) -> None:
        """A paragraph of a list."""
        self.text(text, size)
        self.y -= 0.7 * self.scale

    def row(self, cells: Sequence[Cell], said: str, more: str) -> None:
        """Large cells that can be read from the saw, two texts beside them and a line below."""
        top, scale = self.y, self.scale
        for x, text, size, colour, bold in cells:
            self.put(self.x + x, top, text, size * scale, colour, bold)
        side = Column(self.ax, self.x + 103, top - 0.5 * scale, self.width - 103, scale)
        side.text(said, 9, bold=True)
        side.text(more, 8)
        self.y = min(top - 1.3 * 17 * scale * _MM, side.y) - 1.2 * scale
        if self.ax is not None:
            level = [self.y + 0.4] * 2
            self.ax.plot([self.x, self.x + self.width], level, color=HAIR, lw=0.8)
        self.y -= 0.8 * scale
