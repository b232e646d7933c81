"""Figures of a choice of cores: front, diminishing returns, materials, pure reactance.

Plain records in, four pictures out; knows nothing of studies.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from pipeline.figures.style import (
    BRICK,
    DASHES,
    FERN,
    INK,
    MIST,
    OCHRE,
    PLUM,
    SEA,
    SMALL,
    STEEL,
    WIDTH,
    EndLabel,
    Note,
    Words,
    label_ends,
    open_page,
    save,
    style,
    wrap,
)
from pipeline.text.formatting import number

LEFT, RIGHT = 0.62, 0.25
WIDE = WIDTH - LEFT - RIGHT
# Beside lines that are named at their ends.
NAMES = 1.75
_COLOURS = (SEA, OCHRE, PLUM, FERN, BRICK, STEEL)


@dataclass(frozen=True)
class Dot:
    """One set: cost, 95 % case of its score and of its heat (share of the power)."""

    cost: float
    score: float
    heat: float


@dataclass(frozen=True)
class Curve:
    """Score against number of cores for one kind of core at one place."""

    label: str
    count: tuple[int, ...]
    score: tuple[float, ...]


@dataclass(frozen=True)
class Bars:
    """One material: impedance [ohm] at every frequency, ``None`` beyond what ``ends`` says."""

    label: str
    z: tuple[complex | None, ...]
    ends: str


@dataclass(frozen=True)
class Sweep:
    """Currents per feed current over a pure reactance ``x`` [ohm], and without a choke."""

    x: NDArray[np.float64]
    station: NDArray[np.float64]
    shield: NDArray[np.float64]
    bare_station: float
    bare_shield: float


def _score_axis(ax: Axes, highest: float, lowest: float) -> None:
    low = min(0.5, 0.8 * lowest)
    ax.set_yscale("log")
    ax.set_ylim(low, max(2.0, 1.25 * highest))
    ax.axhspan(low, 1.0, color=FERN, alpha=0.13, lw=0)
    ax.axhline(1.0, color=FERN, lw=1.0)
    ticks = [t for t in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50) if low <= t <= 1.25 * highest]
    ax.set_yticks(ticks)
    ax.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:g}"))
    ax.yaxis.set_minor_formatter(FuncFormatter(lambda y, _: ""))
    ax.set_ylabel("change, 1 = just visible")


def draw_front(
    target: Path, tried: list[Dot], front: list[Dot], chosen: Dot, unit: str, words: Words
) -> None:
    """Write effect and heat against cost as ``target`` .png and .svg.

    Parameters
    ----------
    target : Path
        Without its ending.
    tried, front : list of Dot
        All sets with a cost, and those that no other betters.
    chosen : Dot
        The one to take.
    unit : str
        Of the cost.
    words : Words
        What is said around it.
    """
    notes = (
        *words.notes,
        Note("Grey: every set. Blue: bettered by no other in cost, change and heat.", SEA),
        Note("Red ring: the one to take, or the nearest. Green: no visible change.", BRICK),
    )
    with style():
        page = open_page(Words(words.title, notes, words.evidence, words.footer), 4.9)
        upper = page.panel(LEFT, 2.15, WIDE, 2.65)
        lower = page.panel(LEFT, 0.55, WIDE, 1.4)
        scores = [d.score for d in tried]
        _score_axis(upper, max(scores), min(scores))
        for ax, pick in ((upper, _score_of), (lower, _heat_of)):
            ax.plot([d.cost for d in tried], [pick(d) for d in tried], ".", color=MIST, ms=4)
            ax.plot([d.cost for d in front], [pick(d) for d in front], "o", color=SEA, ms=5)
            ax.plot([chosen.cost], [pick(chosen)], "o", mfc="none", mec=BRICK, mew=1.8, ms=11)
        best = np.minimum.accumulate([d.score for d in front])
        upper.step([d.cost for d in front], best, where="post", color=SEA, lw=1.0)
        upper.set_xticklabels([])
        lower.set_ylim(bottom=0.0)
        lower.set_ylabel("heat [%]")
        lower.set_xlabel(f"cost of the set [{unit}]")
        save(page.figure, target, words.title)


def _score_of(dot: Dot) -> float:
    return dot.score


def _heat_of(dot: Dot) -> float:
    return 100 * dot.heat


def draw_returns(target: Path, curves: list[Curve], bare: float, words: Words) -> None:
    """Write the effect against the number of cores as ``target`` .png and .svg."""
    with style():
        page = open_page(words, 3.6)
        ax = page.panel(LEFT, 0.55, WIDTH - LEFT - NAMES, 2.95)
        every = [bare, *(s for c in curves for s in c.score)]
        most = max(n for c in curves for n in c.count)
        ax.set_xlim(0, most)
        _score_axis(ax, max(every), min(every))
        ends = []
        for k, c in enumerate(curves):
            colour, mark = _COLOURS[k % len(_COLOURS)], "." if k < len(_COLOURS) else "x"
            x, y = [0, *c.count], [bare, *c.score]
            ax.plot(x, y, color=colour, ls=DASHES[colour], marker=mark, lw=1.4)
            ends.append(EndLabel(c.score[-1], c.label, colour))
        ax.xaxis.set_major_locator(MaxNLocator(integer=True))
        ax.set_xlabel("cores in a row")
        label_ends(ax, ends, NAMES)
        save(page.figure, target, words.title)


def draw_materials(target: Path, bars: list[Bars], f: tuple[float, ...], words: Words) -> None:
    """Write resistance and reactance of one pass as ``target`` .png and .svg."""
    left, row = 1.8, 0.36
    gap = 0.14
    each = (WIDTH - left - 0.15 - gap * (len(f) - 1)) / len(f)
    notes = (
        *words.notes,
        Note("Blue: resistance, which chokes whatever the cable is.", SEA),
        Note("Yellow: reactance; where the cable's own has the other sign it cancels.", OCHRE),
    )
    found = [part for b in bars for z in b.z if z is not None for part in (z.real, z.imag)]
    with style():
        page = open_page(
            Words(words.title, notes, words.evidence, words.footer), row * len(bars) + 0.85
        )
        for k, frequency in enumerate(f):
            ax = page.panel(left + k * (each + gap), 0.55, each, row * len(bars))
            ax.set_xlim(min(0.0, 1.05 * min(found)), 1.08 * max(found))
            ax.set_ylim(len(bars) - 0.4, -0.6)
            ax.set_yticks(range(len(bars)), [""] * len(bars))
            ax.tick_params(axis="y", length=0)
            ax.grid(visible=False, axis="y")
            ax.axvline(0.0, color=STEEL, lw=0.8)
            ax.set_title(f"{frequency / 1e6:g} MHz", size=SMALL, color=INK)
            ax.xaxis.set_major_locator(MaxNLocator(3, integer=True))
            for n, b in enumerate(bars):
                _pair(ax, n, b, k)
                if k == 0:
                    _name(ax, n, b.label, left, each)
            ax.set_xlabel("ohm", size=SMALL)
        save(page.figure, target, words.title)


def _pair(ax: Axes, n: int, bars: Bars, k: int) -> None:
    z = bars.z[k]
    if z is None:
        ax.text(8.0, n, bars.ends, size=SMALL - 2.5, color=STEEL, va="center", linespacing=1.05)
        return
    ax.barh(n - 0.18, z.real, 0.32, color=SEA, lw=0)
    ax.barh(n + 0.18, z.imag, 0.32, color=OCHRE, lw=0)


def _name(ax: Axes, n: int, label: str, left: float, wide: float) -> None:
    ax.text(
        -0.09 / wide,
        n,
        "\n".join(wrap(label, left - 0.2, SMALL - 1)[:2]),
        transform=ax.get_yaxis_transform(),
        ha="right",
        va="center",
        size=SMALL - 1,
        color=INK,
        linespacing=1.05,
    )


def draw_reactance(target: Path, sweep: Sweep, words: Words) -> None:
    """Write currents over a pure reactance as ``target`` .png and .svg."""
    parts = (
        ("at the radio", sweep.station, sweep.bare_station, SEA),
        ("largest on the cable", sweep.shield, sweep.bare_shield, OCHRE),
    )
    with style():
        page = open_page(words, 3.4)
        ax = page.panel(LEFT, 0.55, WIDTH - LEFT - 1.3, 2.75)
        ax.set_xlim(float(sweep.x[0]), float(sweep.x[-1]))
        ends = []
        for text, values, bare, colour in parts:
            ax.plot(sweep.x, 100 * values, color=colour, lw=1.6, ls=DASHES[colour])
            ax.axhline(100 * bare, color=colour, lw=0.8)
            worse = values > bare
            ax.fill_between(
                sweep.x,
                100 * bare,
                100 * values,
                where=worse.tolist(),
                color=BRICK,
                alpha=0.25,
                lw=0,
            )
            ends += [
                EndLabel(100 * float(values[-1]), text, colour),
                EndLabel(100 * bare, f"no choke, {text}: {number(100 * bare, '.1f')} %", colour),
            ]
        ax.set_ylim(bottom=0.0)
        ax.set_xlabel("reactance in series with the shield [ohm]")
        ax.set_ylabel("current, share of the feed's [%]")
        label_ends(ax, ends, 1.3)
        save(page.figure, target, words.title)
