"""How every figure looks: palette, page with title and foot, direct labels, whole files.

Text and axes in, PNG and SVG out; knows nothing of studies. Text that comes from a study is never
read as markup: no mathematics between dollar signs, no control characters.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from models.lengths import axis_unit
from pipeline.runtime.store import whole_file
from pipeline.text.formatting import plain

# Dark, and meant to differ in lightness as well as in hue; lines are named at their ends too and
# carry dashes of their own, so that nothing hangs on colour alone, also in a grey print.
INK = "#1c2b36"
BRICK = "#b5452c"
SEA = "#0b6f8f"
OCHRE = "#c58a12"
PLUM = "#6f4a8e"
FERN = "#6aa377"
STEEL = "#7c8b96"
MIST = "#b6c0c7"
HAIR = "#e3e8eb"
PAPER = "#ffffff"

Dash = str | tuple[float, tuple[float, ...]]
SOLID: Dash = "-"
# An unsound case, wherever it is drawn: the only one with gaps as long as its strokes.
UNSOUND_DASH: Dash = (0, (3, 3))
DASHES: dict[str, Dash] = {
    BRICK: SOLID,
    SEA: (0, (7, 1.5)),
    INK: (0, (1.2, 1.2)),
    PLUM: (0, (7, 1.5, 1.2, 1.5)),
    OCHRE: (0, (4, 1.2, 1.2, 1.2, 1.2, 1.2)),
    FERN: (0, (2.4, 1.2)),
    STEEL: (0, (1.2, 2.6)),
    MIST: SOLID,
}

# A number stays on the line of its unit, and a reactance on that of its resistance.
_TIE = re.compile(
    r"(?<=\d) (?=(?:%|dBi?|m|in|ft|k?Ω|MHz)(?:\W|$))|(?<=\d) (?=[−+] j)|(?<=[−+]) (?=j\d)"
)

# Narrow pages with large type: at the width of a telephone the text is still readable.
WIDTH = 5.8
EDGE = 0.14
DPI = 160
TITLE, TEXT, SMALL = 12.5, 10.0, 9.0
LINE = 1.28 / 72
# Length of a line drawn before the note that names it, and the air behind it. [inch]
SAMPLE = 0.46
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT,
    "axes.edgecolor": STEEL,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "grid.color": HAIR,
    "grid.linewidth": 0.8,
    "xtick.color": STEEL,
    "ytick.color": STEEL,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "axes.labelsize": TEXT,
    "svg.hashsalt": "braidwise",
    "svg.fonttype": "none",
    "text.parse_math": False,
    "lines.solid_capstyle": "round",
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
}


def style() -> Any:
    """Context in which every figure is built and saved; nothing of it leaks out."""
    return mpl.rc_context(STYLE)


@dataclass(frozen=True)
class Note:
    """A line of text below the plot, in the colour of what it speaks of.

    ``dash`` is that of the curve it names, a sample of which is drawn before it, if any.
    """

    text: str
    colour: str = INK
    dash: Dash | None = None


@dataclass(frozen=True)
class Words:
    """Everything that is said around a plot: finding, notes, evidence, foot."""

    title: str
    notes: tuple[Note, ...]
    evidence: str
    footer: str


@lru_cache(maxsize=1)
def _ruler() -> FigureCanvasAgg:
    return FigureCanvasAgg(Figure(dpi=DPI))


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text. [inch]"""
    properties = FontProperties(
        family="DejaVu Sans", size=size, weight="bold" if bold else "normal"
    )
    renderer = _ruler().get_renderer()  # type: ignore[no-untyped-call]
    width, _, _ = renderer.get_text_width_height_descent(text, properties, False)
    return float(width) / DPI


def wrap(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Text cut into lines no wider than ``width`` [inch]; a word too long is cut as well."""
    lines: list[str] = [""]
    for whole in _TIE.sub("\u00a0", plain(text)).split(" "):
        word = whole
        while word:
            trial = f"{lines[-1]} {word}".strip()
            if text_width(trial, size, bold) <= width:
                lines[-1], word = trial, ""
            elif lines[-1]:
                lines.append("")
            else:
                fits = max(
                    (n for n in range(1, len(word)) if text_width(word[:n], size, bold) <= width),
                    default=1,
                )
                # After a hyphen, where one fits: ids of candidates are made of words.
                fits = word.rfind("-", 0, fits) + 1 or fits
                lines[-1], word = word[:fits], word[fits:]
                lines.append("")
    return [line for line in lines if line]


def shorten(text: str, limit: int) -> str:
    """A label no longer than ``limit`` characters.

    What follows the first comma goes first, as the lesser detail; then the end is cut off.

    Examples
    --------
    >>> shorten("NiZn core, 12.7 mm hole", 15), shorten("a very long label of a part", 15)
    ('NiZn core', 'a very long la…')
    """
    text = plain(text)
    if len(text) > limit:
        text = text.split(",")[0]
    return text if len(text) <= limit else f"{text[: limit - 1].rstrip()}…"


@dataclass(frozen=True)
class Page:
    """A figure whose words stand; ``bottom`` [inch] is where the room for axes begins."""

    figure: Figure
    bottom: float

    def panel(self, left: float, bottom: float, width: float, height: float, **more: Any) -> Axes:
        """Axes at a place in the room for them, all in inches; for anything ``add_axes`` takes."""
        tall = self.figure.get_figheight()
        box = (left / WIDTH, (self.bottom + bottom) / tall, width / WIDTH, height / tall)
        return self.figure.add_axes(box, **more)


def open_page(words: Words, room: float) -> Page:
    """A page with ``room`` [inch] of height for axes between its title and its notes."""
    wide = WIDTH - 2 * EDGE
    title = wrap(words.title, wide, TITLE, bold=True)
    foot = [row for note in words.notes for row in _rows(note, SMALL)]
    for text in (words.evidence, words.footer):
        foot += _rows(Note(text, STEEL), SMALL - 0.5)
    below = sum(row.size * LINE for row in foot) + 2 * EDGE
    above = len(title) * TITLE * LINE + 2 * EDGE
    height = below + room + above
    figure = Figure(figsize=(WIDTH, height), dpi=DPI)
    FigureCanvasAgg(figure)
    y = height - EDGE
    for line in title:
        _line(figure, y, line, INK, TITLE, weight="bold")
        y -= TITLE * LINE
    y = below - EDGE
    for row in foot:
        _line(figure, y, row.text, row.colour, row.size, x=row.left)
        if row.dash is not None:
            _sample(figure, y - 0.5 * row.size * LINE, row.colour, row.dash)
        y -= row.size * LINE
    return Page(figure, below)


@dataclass(frozen=True)
class _Row:
    """A line of small print; ``left`` is where it begins [inch]."""

    text: str
    colour: str
    size: float
    left: float
    dash: Dash | None


def _rows(note: Note, size: float) -> list[_Row]:
    """A note cut into lines; the sample of the line it names stands before the first."""
    left = EDGE if note.dash is None else EDGE + SAMPLE
    texts = wrap(note.text, WIDTH - EDGE - left, size)
    return [
        _Row(text, note.colour, size, left, None if k else note.dash)
        for k, text in enumerate(texts)
    ]


def _sample(figure: Figure, y: float, colour: str, dash: Dash) -> None:
    ends = np.array([EDGE, EDGE + SAMPLE - 0.08]) / WIDTH
    height = [y / figure.get_figheight()] * 2
    figure.add_artist(Line2D(ends, height, color=colour, lw=1.9, ls=dash))


def _line(
    figure: Figure, y: float, text: str, colour: str, size: float, x: float = EDGE, **more: Any
) -> None:
    place = x / WIDTH, y / figure.get_figheight()
    figure.text(*place, text, color=colour, size=size, va="top", **more)


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


def label_ends(ax: Axes, ends: Iterable[EndLabel], room: float) -> None:
    """Name lines at the right edge of the axes, in ``room`` [inch] beside them."""
    figure = ax.figure
    tall = float(ax.get_position().height * figure.get_figheight())  # type: ignore[union-attr]
    wide = float(ax.get_position().width * WIDTH)
    to_axes = ax.transData + ax.transAxes.inverted()

    def place(end: EndLabel) -> float:
        y = float(to_axes.transform((ax.get_xlim()[1], end.y))[1])
        return tall * float(np.clip(y if np.isfinite(y) else 0.0, 0.0, 1.0))

    order = sorted(ends, key=place, reverse=True)
    texts = [wrap(e.text, room - 0.2, SMALL) for e in order]
    heights = [len(t) * SMALL * LINE for t in texts]
    wanted = [place(e) for e in order]
    for end, text, y0, y1 in zip(order, texts, wanted, spread(wanted, heights, tall), strict=True):
        ax.plot(
            [1.0, 1 + 0.14 / wide],
            [y0 / tall, y1 / tall],
            transform=ax.transAxes,
            color=end.colour,
            lw=0.8,
            clip_on=False,
        )
        ax.text(
            1 + 0.18 / wide,
            y1 / tall,
            "\n".join(text),
            transform=ax.transAxes,
            color=end.colour,
            size=SMALL,
            va="center",
            linespacing=1.1,
        )


def save(figure: Figure, target: Path, title: str) -> None:
    """Write ``target`` as .png and as .svg, each whole; equal input gives equal bytes."""
    with whole_file(target.with_name(target.name + ".png")) as temporary:
        figure.savefig(temporary, dpi=DPI, metadata={"Software": None, "Title": plain(title)})
    with whole_file(target.with_name(target.name + ".svg")) as temporary:
        figure.savefig(temporary, metadata={"Date": None, "Creator": None, "Title": plain(title)})


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
