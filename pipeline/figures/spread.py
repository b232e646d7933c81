"""Figures of a spread: bands of every candidate, and what makes the spread.

Plain records in, two pictures out; knows nothing of studies.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter

from pipeline.figures.style import (
    BRICK,
    FERN,
    INK,
    MIST,
    OCHRE,
    SEA,
    SMALL,
    STEEL,
    WIDTH,
    Note,
    Words,
    open_page,
    save,
    style,
    wrap,
)
from pipeline.text.formatting import number

LEFT, RIGHT = 2.1, 0.62
WIDE = WIDTH - LEFT - RIGHT
ROW = 0.34
# Nothing below a twentieth of a threshold is worth a place on the axis.
LEAST = 0.05
_STRONG = 3.0
# Enough this often has the colour of what may be taken.
_SURE = 0.95


@dataclass(frozen=True)
class BandRow:
    """One candidate: percentiles and largest value of its score, its score as stated.

    ``enough`` is the chance of no visible change.
    """

    label: str
    p5: float
    p50: float
    p95: float
    worst: float
    stated: float
    enough: float
    chosen: bool


@dataclass(frozen=True)
class ShareRow:
    """One unknown: its share of the spread without a choke and with the chosen one, 0 to 1.

    ``noise`` is what chance alone would show in the first; ``together`` marks a sum of several.
    """

    label: str
    bare: float
    chosen: float | None
    noise: float
    together: bool


def _rows(ax: Axes, labels: list[str], bold: list[bool]) -> None:
    ax.set_ylim(len(labels) - 0.4, -0.6)
    ax.set_yticks(range(len(labels)), [""] * len(labels))
    ax.tick_params(axis="y", length=0)
    ax.grid(visible=False, axis="y")
    for k, (label, heavy) in enumerate(zip(labels, bold, strict=True)):
        ax.text(
            -0.09 / WIDE,
            k,
            "\n".join(wrap(label, LEFT - 0.3, SMALL - 1, heavy)[:2]),
            transform=ax.get_yaxis_transform(),
            ha="right",
            va="center",
            size=SMALL - 1,
            weight="bold" if heavy else "normal",
            color=INK,
            linespacing=1.05,
        )


def _band(ax: Axes, k: int, r: BandRow) -> None:
    """One candidate: its bar, the middle draw, the worst, and as stated."""
    colour = SEA if r.enough >= _SURE else OCHRE if r.enough >= 0.5 else BRICK
    low, middle, high, worst, stated = np.maximum((r.p5, r.p50, r.p95, r.worst, r.stated), LEAST)
    ax.plot([high, worst], [k, k], color=colour, lw=1.0)
    ax.plot([low, high], [k, k], color=colour, lw=7.0, solid_capstyle="butt")
    ax.plot([middle, middle], [k - 0.3, k + 0.3], color=INK, lw=1.6)
    ax.plot([stated], [k], marker="o", ms=5.5, mfc="white", mec=INK, mew=1.1)
    ax.text(
        1 + 0.08 / WIDE,
        k,
        number(100 * r.enough, ".0f") + " %",
        transform=ax.get_yaxis_transform(),
        va="center",
        size=SMALL,
        color=colour if colour != OCHRE else INK,
    )


def draw_bands(target: Path, rows: list[BandRow], title: str, evidence: str, footer: str) -> None:
    """Write the bands of all candidates as ``target`` .png and .svg."""
    notes = (
        Note(
            "Bar: 90 % of all draws; tick: the middle one; thin line: to the worst; circle: "
            "everything as the study states it. Right: draws with no visible change.",
            STEEL,
        ),
    )
    highest = max(max(r.worst, r.stated) for r in rows)
    with style():
        page = open_page(Words(title, notes, evidence, footer), ROW * len(rows) + 0.85)
        ax = page.panel(LEFT, 0.55, WIDE, ROW * len(rows))
        ax.set_xscale("log")
        ax.set_xlim(LEAST, max(4.0, 1.15 * highest))
        ax.axvspan(LEAST, 1.0, color=FERN, alpha=0.13, lw=0)
        for place, colour in ((1.0, FERN), (_STRONG, BRICK)):
            ax.axvline(place, color=colour, lw=1.0)
        for k, r in enumerate(rows):
            _band(ax, k, r)
        _rows(ax, [r.label for r in rows], [r.chosen for r in rows])
        ax.set_xticks([0.1, 0.3, 1, 3])
        ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g}"))
        ax.xaxis.set_minor_formatter(FuncFormatter(lambda x, _: ""))
        ax.set_xlabel("change against an ideal choke, 1 = just visible")
        for x, text in ((1.0, "visible"), (_STRONG, "strong")):
            ax.text(x * 1.04, -0.62, text, size=SMALL - 1, color=STEEL, va="bottom")
        save(page.figure, target, title)


def draw_shares(target: Path, rows: list[ShareRow], title: str, evidence: str, footer: str) -> None:
    """Write what makes the spread as ``target`` .png and .svg."""
    both = any(r.chosen is not None for r in rows)
    notes = [Note("Blue: without a choke. Grey tick: what chance alone would show.", SEA)]
    if both:
        notes.append(Note("Yellow: with the recommended choke.", OCHRE))
    notes.append(
        Note(
            "Each by itself (first-order index, of the logarithm of the change), from 1 % on; what "
            "is left comes from unknowns acting together.",
            STEEL,
        )
    )
    room = 0.40 * len(rows)
    with style():
        page = open_page(Words(title, tuple(notes), evidence, footer), room + 0.75)
        ax = page.panel(LEFT, 0.55, WIDE, room)
        most = max(0.1, *(max(r.bare, r.chosen or 0.0, r.noise) for r in rows))
        ax.set_xlim(0.0, 112 * most)
        for k, r in enumerate(rows):
            hatch = "////" if r.together else None
            ax.barh(k - 0.17, 100 * r.bare, 0.3, color=SEA, hatch=hatch, edgecolor="white", lw=0)
            if r.chosen is not None:
                ax.barh(
                    k + 0.17, 100 * r.chosen, 0.3, color=OCHRE, hatch=hatch, edgecolor="white", lw=0
                )
            if not r.together:
                ax.plot([100 * r.noise] * 2, [k - 0.34, k + 0.34], color=MIST, lw=2.0)
            ax.text(
                1 + 0.08 / WIDE,
                k,
                number(100 * r.bare, ".0f") + " %",
                transform=ax.get_yaxis_transform(),
                va="center",
                size=SMALL,
                color=INK,
            )
        _rows(ax, [r.label for r in rows], [r.together for r in rows])
        ax.set_xlabel("share of the spread [%]")
        save(page.figure, target, title)
