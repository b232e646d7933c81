"""The look of every figure: palette, type sizes, dashes, and text measured, broken and shortened.

Text that comes from a study is never read as markup: no mathematics between dollar signs, no
control characters.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from pipeline.text.formatting import plain

# Dark, and meant to differ in lightness as well as in hue; lines are named at their ends too and
# carry dashes or marks, so that nothing hangs on colour alone, also in a grey print.
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

# The same on a dark page, where what is dark on paper is light: those of its sheet, report.css,
# and the others as far from the ground. A figure's own file keeps those of paper.
IN_THE_DARK = {
    INK: "#e7edf1",
    BRICK: "#f0a184",
    SEA: "#6cc3df",
    OCHRE: "#e3b24c",
    PLUM: "#c6a8e6",
    FERN: "#8ecb9b",
    STEEL: "#a9b6bf",
    MIST: "#5d6c76",
    HAIR: "#25313a",
    PAPER: "#12191e",
}

# Keywords of a line or a patch.
Look = dict[str, Any]
Dash = str | tuple[float, tuple[float, ...]]
SOLID: Dash = "-"


@dataclass(frozen=True)
class Stroke:
    """How the line of one sort of case is drawn; ``width`` in points."""

    colour: str
    dash: Dash
    width: float

    @property
    def look(self) -> Look:
        """Keywords of the line."""
        return {"color": self.colour, "ls": self.dash, "lw": self.width}


# A dash says the same in every figure and in the pictures of the live page, whose classes are in
# report.css: the chosen one solid and thick, no choke dotted, the ideal dashed, every other
# candidate of dash and dot, an unsound case of dash and two dots. What is no case is solid and
# thin, with marks where there are several.
CHOSEN_LINE = Stroke(SEA, SOLID, 2.4)
NONE_LINE = Stroke(BRICK, (0, (1.1, 1.4)), 2.0)
IDEAL_LINE = Stroke(INK, (0, (5.5, 2.5)), 1.5)
NO_CABLE_LINE = Stroke(STEEL, SOLID, 0.9)
OTHER_DASH: Dash = (0, (6, 1.5, 1.2, 1.5))
# Of a second one that is named in the same figure.
LONGER_DASH: Dash = (0, (13, 1.5, 1.2, 1.5))
OTHER_LINE = Stroke(MIST, OTHER_DASH, 0.8)
UNSOUND_DASH: Dash = (0, (6, 1.5, 1.2, 1.5, 1.2, 1.5))
MARKS = {BRICK: "o", SEA: "s", INK: "^", OCHRE: "D", PLUM: "v", FERN: "P", STEEL: "x", MIST: ""}

# A number stays on the line of its unit, and a reactance on that of its resistance.
_TIE = re.compile(
    r"(?<=\d) (?=(?:%|dBi?|m|in|ft|k?Ω|MHz)(?:\W|$))|(?<=\d) (?=[−+] j)|(?<=[−+]) (?=j\d)"
)

EDGE = 0.14
DPI = 160
TITLE, TEXT, SMALL = 12.5, 10.0, 9.0
LINE = 1.28 / 72
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT,
    "axes.edgecolor": STEEL,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.titley": 1.0,
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
    "text.color": INK,
    "text.parse_math": False,
    "lines.solid_capstyle": "round",
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
}


@dataclass(frozen=True)
class Sheet:
    """What a figure is laid out for: its ``width`` [inch], and what stands around the axes.

    ``is_plain`` leaves out what a caption says below a figure in print: finding, evidence, foot,
    and notes that name no colour. Where ``has_evidence`` is false an earlier figure of its family
    has said what the checks found.
    """

    width: float
    is_plain: bool = False
    has_evidence: bool = True


# Narrow pages with large type: at the width of a telephone the text is still readable.
PAGE = Sheet(5.8)
_SHEET: ContextVar[Sheet] = ContextVar("sheet", default=PAGE)


def sheet() -> Sheet:
    """The sheet that figures are laid out for at the moment."""
    return _SHEET.get()


# Installations that a study's unknowns allow, as a report tells its reader and as print does.
LIKE_YOURS, LIKE_THIS = "installations like yours", "installations like this one"


def alike() -> str:
    """Installations like the one that is drawn: print does not speak to its reader."""
    return LIKE_THIS if sheet().is_plain else LIKE_YOURS


@contextmanager
def style(on: Sheet = PAGE) -> Iterator[None]:
    """Context in which every figure is built and saved; nothing of it leaks out."""
    token = _SHEET.set(on)
    try:
        with mpl.rc_context(STYLE):
            yield
    finally:
        _SHEET.reset(token)


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


# The words of a line and the gaps between them are as wide as the line, to within this. [inch]
_UNSURE = 0.1


def wrap(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Text cut into lines no wider than ``width`` [inch]; a word too long is cut as well."""
    lines: list[str] = [""]
    # Most words come again, and are measured once; a line as a whole only where it may be too wide.
    gap, long = text_width("n n", size, bold) - text_width("nn", size, bold), 0.0
    for whole in _TIE.sub("\u00a0", plain(text)).split(" "):
        word = whole
        while word:
            trial = f"{lines[-1]} {word}".strip()
            longer = text_width(word, size, bold) + (long + gap if lines[-1] else 0.0)
            if abs(longer - width) < _UNSURE:
                longer = text_width(trial, size, bold)
            if longer <= width:
                lines[-1], word, long = trial, "", longer
            elif lines[-1]:
                lines.append("")
                long = 0.0
            else:
                fits = max(
                    (n for n in range(1, len(word)) if text_width(word[:n], size, bold) <= width),
                    default=1,
                )
                # After a hyphen, where one fits: ids of candidates are made of words.
                fits = word.rfind("-", 0, fits) + 1 or fits
                lines[-1], word = word[:fits], word[fits:]
                lines.append("")
                long = 0.0
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
