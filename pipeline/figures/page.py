"""The page that every figure stands on, and what figures share on their axes.

Finding as title, axes, notes in the colour of what they name, evidence and foot; names at the ends
of curves, 95 % intervals, axes of lengths and frequencies. Knows nothing of studies.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from models.lengths import axis_unit
from pipeline.figures.style import (
    DPI,
    EDGE,
    INK,
    LINE,
    SMALL,
    STEEL,
    TITLE,
    Dash,
    Look,
    sheet,
    shorten,
    wrap,
)
from pipeline.runtime.store import whole_file
from pipeline.text.formatting import megahertz, plain

# Length of a line drawn before the note that names it, and the air behind it. [inch]
_SAMPLE = 0.46
# Left and right of axes: numbers with the label beside them, names at the ends of curves. [inch]
LEFT, RIGHT = 0.66, 1.32


@dataclass(frozen=True)
class Note:
    """A line of text below the plot, in the colour of what it speaks of.

    ``dash`` and ``mark`` are those of the curve it names, a sample of which is drawn before it.
    """

    text: str
    colour: str = INK
    dash: Dash | None = None
    mark: str = ""

    @property
    def is_key(self) -> bool:
        """Whether a plot is not understood without it: it names a dash, or a colour by itself."""
        return self.dash is not None or self.colour not in (INK, STEEL)


@dataclass(frozen=True)
class Texts:
    """Everything that is said around a plot: finding, notes, evidence, foot."""

    title: str
    notes: tuple[Note, ...]
    evidence: str
    footer: str

    def noting(self, *notes: Note) -> Texts:
        """The same with more notes."""
        return replace(self, notes=(*self.notes, *notes))


def footer_of(title: str, frequency: float, limit: int | None = None) -> str:
    """Foot of a figure: title of the study, shortened to ``limit`` characters, and its frequency.

    Examples
    --------
    >>> footer_of("A J-pole on a shed", 145e6)
    'A J-pole on a shed · 145 MHz · Braidwise'
    """
    said = plain(title) if limit is None else shorten(title, limit)
    return f"{said} · {megahertz(frequency)} · Braidwise"


@dataclass(frozen=True)
class Page:
    """A figure whose texts stand; ``bottom`` [inch] is where the room for axes begins.

    ``untold`` is what is said around a plot and stands in none on a plain sheet, ``evidence`` how
    far it can be trusted.
    """

    figure: Figure
    bottom: float
    title: str
    untold: tuple[str, ...] = ()
    evidence: str = ""

    @property
    def width(self) -> float:
        """Width of the sheet. [inch]"""
        return float(self.figure.get_figwidth())

    def panel(self, left: float, bottom: float, width: float, height: float, **more: Any) -> Axes:
        """Axes at a place in the room for them, all in inches; for anything ``add_axes`` takes."""
        tall = self.figure.get_figheight()
        wide = self.width
        box = (left / wide, (self.bottom + bottom) / tall, width / wide, height / tall)
        return self.figure.add_axes(box, **more)

    def save(self, target: Path) -> None:
        """Write ``target`` as .png and as .svg, each whole; equal input gives equal bytes."""
        title = plain(self.title)
        for kind, data in (("png", {"Software": None}), ("svg", {"Date": None, "Creator": None})):
            with whole_file(target.with_name(f"{target.name}.{kind}")) as temporary:
                self.figure.savefig(temporary, dpi=DPI, metadata={**data, "Title": title})


def open_page(texts: Texts, room: float) -> Page:
    """A page with ``room`` [inch] of height for axes between its title and its notes."""
    on = sheet()
    title = [] if on.is_plain else wrap(texts.title, on.width - 2 * EDGE, TITLE, bold=True)
    drawn = [note for note in texts.notes if note.is_key or not on.is_plain]
    foot = [row for note in drawn for row in _rows(note, SMALL, on.width)]
    if not on.is_plain:
        for text in filter(None, (texts.evidence, texts.footer)):
            foot += _rows(Note(text, STEEL), SMALL - 0.5, on.width)
    below = sum(row.size * LINE for row in foot) + (2 if foot else 0.5) * EDGE
    height = below + room + (len(title) * TITLE * LINE + (2 if title else 1.5) * EDGE)
    figure = Figure(figsize=(on.width, height), dpi=DPI)
    FigureCanvasAgg(figure)
    y = height - EDGE
    for line in title:
        _line(figure, y, line, INK, TITLE, weight="bold")
        y -= TITLE * LINE
    y = below - EDGE
    for row in foot:
        _line(figure, y, row.text, row.colour, row.size, x=row.left)
        if row.dash is not None:
            along = np.linspace(EDGE, EDGE + _SAMPLE - 0.08, 3) / on.width
            level = [(y - 0.5 * row.size * LINE) / height] * 3
            look: Look = {"lw": 1.9, "ls": row.dash, "marker": row.mark, "ms": 4, "markevery": [1]}
            figure.add_artist(Line2D(along, level, color=row.colour, **look))
        y -= row.size * LINE
    untold = tuple(note.text for note in texts.notes if note not in drawn)
    return Page(figure, below, texts.title, untold, texts.evidence)


@dataclass(frozen=True)
class _Row:
    """A line of small print; ``left`` is where it begins [inch]."""

    text: str
    colour: str
    size: float
    left: float
    dash: Dash | None
    mark: str


def _rows(note: Note, size: float, width: float) -> list[_Row]:
    """A note cut into lines; the sample of the line it names stands before the first."""
    left = EDGE if note.dash is None else EDGE + _SAMPLE
    texts = wrap(note.text, width - EDGE - left, size)
    return [
        _Row(text, note.colour, size, left, None if k else note.dash, note.mark)
        for k, text in enumerate(texts)
    ]


def _line(
    figure: Figure, y: float, text: str, colour: str, size: float, x: float = EDGE, **more: Any
) -> None:
    place = x / figure.get_figwidth(), y / figure.get_figheight()
    figure.text(*place, text, color=colour, size=size, va="top", **more)


# On the axes


@dataclass(frozen=True)
class EndLabel:
    """A label beside the end of a line at height ``y`` (data)."""

    y: float
    text: str
    colour: str


def spread(wanted: Sequence[float], heights: Sequence[float], top: float) -> list[float]:
    """Places for labels near where they are wanted, without overlap, from 0 to ``top``.

    ``wanted`` falls; ``heights`` are those of the labels. Where there is not room enough for all,
    the lowest ones go below zero.

    Examples
    --------
    >>> spread([1.0, 0.95], [0.2, 0.2], 1.0)
    [0.9, 0.7]
    """
    places: list[float] = []
    ceiling = top
    for y, h in zip(wanted, heights, strict=True):
        places.append(min(y, ceiling - h / 2))
        ceiling = places[-1] - h / 2
    floor = min(0.0, top - sum(heights))
    for k in reversed(range(len(places))):
        places[k] = max(places[k], floor + heights[k] / 2)
        floor = places[k] + heights[k] / 2
    return [round(p, 6) for p in places]


def width_of(ax: Axes) -> float:
    """Width of axes. [inch]"""
    return float(ax.get_position().width * ax.figure.get_figwidth())  # type: ignore[union-attr]


def height_of(ax: Axes) -> float:
    """Height of axes. [inch]"""
    return float(ax.get_position().height * ax.figure.get_figheight())  # type: ignore[union-attr]


def label_ends(ax: Axes, ends: Iterable[EndLabel], room: float = RIGHT) -> None:
    """Name lines at the right edge of the axes, in ``room`` [inch] beside them."""
    tall, wide = height_of(ax), width_of(ax)
    to_axes = ax.transData + ax.transAxes.inverted()

    def place(end: EndLabel) -> float:
        y = float(to_axes.transform((ax.get_xlim()[1], end.y))[1])
        return tall * float(np.clip(y if np.isfinite(y) else 0.0, 0.0, 1.0))

    order = sorted(ends, key=place, reverse=True)
    texts = [wrap(e.text, room - 0.2, SMALL) for e in order]
    heights = [len(t) * SMALL * LINE for t in texts]
    wanted = [place(e) for e in order]
    inside: Look = {"transform": ax.transAxes}
    for end, text, y0, y1 in zip(order, texts, wanted, spread(wanted, heights, tall), strict=True):
        lead = [1.0, 1 + 0.14 / wide], [y0 / tall, y1 / tall]
        ax.plot(*lead, color=end.colour, lw=0.8, clip_on=False, **inside)
        said, at = "\n".join(text), (1 + 0.18 / wide, y1 / tall)
        ax.text(*at, said, color=end.colour, size=SMALL, va="center", linespacing=1.1, **inside)


def label_rows(ax: Axes, labels: Sequence[str], room: float, bold: Sequence[bool] = ()) -> None:
    """Rows from the top with their names at the left, in ``room`` [inch]; no labels: rows only."""
    heavy = bold or [False] * len(labels)
    wide = width_of(ax)
    for k, (label, is_bold) in enumerate(zip(labels, heavy, strict=True)):
        ax.text(
            -0.09 / wide,
            k,
            "\n".join(wrap(label, room, SMALL - 1, is_bold)[:2]),
            transform=ax.get_yaxis_transform(),
            ha="right",
            va="center",
            size=SMALL - 1,
            weight="bold" if is_bold else "normal",
            color=INK,
            linespacing=1.05,
        )


def open_rows(ax: Axes, count: int) -> None:
    """A vertical axis of so many rows, the first at the top, without numbers."""
    ax.set_ylim(count - 0.4, -0.6)
    ax.set_yticks(range(count), [""] * count)
    ax.tick_params(axis="y", length=0)
    ax.grid(visible=False, axis="y")


def heading(ax: Axes, text: str, colour: str = STEEL) -> None:
    """Heading of a panel, above its left edge."""
    ax.set_title(text, loc="left", size=SMALL, color=colour, pad=4)


def shade(
    ax: Axes,
    x: NDArray[np.float64],
    ends: tuple[NDArray[np.float64], NDArray[np.float64]],
    colour: str,
    name: str,
) -> None:
    """The 95 % interval of a line as a band behind it."""
    ax.fill_between(x, *ends, color=colour, alpha=0.16, lw=0, zorder=1.5, gid=f"interval-{name}")


class _RoundIn(MaxNLocator):
    """Ticks at round numbers of a unit of some size."""

    def __init__(self, size: float) -> None:
        super().__init__("auto", steps=[1, 2, 2.5, 5, 10])
        self._size = size

    def tick_values(self, vmin: float, vmax: float) -> Any:
        """Ticks between two places of the axis."""
        ticks = super().tick_values(vmin / self._size, vmax / self._size)
        return self._size * np.asarray(ticks)


def length_axis(axis: Axis, name: str = "") -> None:
    """Count an axis of lengths [m] in the unit that lengths are worded in, named if it has one."""
    unit, size = axis_unit()
    if name:
        axis.set_label_text(f"{name} [{unit}]")
    if size != 1.0:
        axis.set_major_locator(_RoundIn(size))
        axis.set_major_formatter(FuncFormatter(lambda place, _: f"{round(place / size, 6):g}"))


def band_axis(ax: Axes, frequency: float, ticks: int = 5) -> None:
    """A horizontal axis in MHz without an offset, the design ``frequency`` [Hz] a thin line."""
    ax.axvline(frequency / 1e6, color=STEEL, lw=0.8)
    ax.ticklabel_format(useOffset=False)
    ax.xaxis.set_major_locator(MaxNLocator(ticks))


def log_ticks(axis: Axis, ticks: Sequence[float], form: Any) -> None:
    """Ticks of a logarithmic axis at these places only, worded by ``form``."""
    axis.set_ticks(ticks)
    axis.set_major_formatter(FuncFormatter(lambda value, _: form(value)))
    axis.set_minor_formatter(FuncFormatter(lambda value, _: ""))
