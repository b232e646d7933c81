"""Figures of a choice of cores: front, diminishing returns, materials, pure reactance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from pipeline.circuit.choke_materials import SHOWN_HZ, MaterialRow
from pipeline.design.choke_design import Design, RatedSet
from pipeline.design.choke_reactance import Reactance
from pipeline.figures.page import (
    EndLabel,
    Note,
    Page,
    Texts,
    footer_of,
    label_ends,
    label_rows,
    log_ticks,
    open_page,
    open_rows,
)
from pipeline.figures.registry import figure
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
    Look,
)
from pipeline.text.formatting import megahertz, number

PAGE = "choke"
_LEFT, _RIGHT = 0.62, 0.25
_WIDE = WIDTH - _LEFT - _RIGHT
# Room beside lines that are named at their ends, and for the names of materials. [inch]
_NAMES, _MATERIALS = 1.75, 1.8
_COLOURS = (SEA, OCHRE, PLUM, FERN, BRICK, STEEL)
# More lines than these no reader follows.
_MOST_CURVES = 6


@dataclass(frozen=True)
class CoreChoice:
    """A choice of cores as it is drawn; ``titles`` are findings by the name of their figure."""

    found: Design
    sweep: Reactance
    materials: tuple[MaterialRow, ...]
    titles: Mapping[str, str]

    def texts(self, title: str, evidence: str, *notes: Note) -> Texts:
        """Texts around one of the figures."""
        study = self.found.study
        return Texts(title, notes, evidence, footer_of(study.title, study.frequency))

    @property
    def drawn(self) -> str:
        """Draws behind every score."""
        n_geometry, n_draw = self.found.spread.shape
        return f"95 % case of {n_geometry} geometries with {n_draw} draws of impedances on each"

    @property
    def place(self) -> str:
        """Where the chosen cores sit."""
        rows = self.found.chosen.set.rows
        return rows[0][1].label if rows else self.found.places[0].label


def _score_axis(ax: Axes, scores: Sequence[float]) -> None:
    low, high = min(0.5, 0.8 * min(scores)), 1.25 * max(scores)
    ax.set_yscale("log")
    ax.set_ylim(low, max(2.0, high))
    ax.axhspan(low, 1.0, color=FERN, alpha=0.13, lw=0)
    ax.axhline(1.0, color=FERN, lw=1.0)
    ticks = [t for t in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50) if low <= t <= high]
    log_ticks(ax.yaxis, ticks, "{:g}".format)
    ax.set_ylabel("change, 1 = just visible")


@figure(PAGE, 10)
def front(choice: CoreChoice) -> Page:
    """What money or pieces buy: change against an ideal choke, and heat."""
    found = choice.found
    texts = choice.texts(
        choice.titles["front"],
        choice.drawn,
        Note("Grey: every set. Blue: bettered by no other in cost, change and heat.", SEA),
        Note("Red ring: the one to take, or the nearest. Green: no visible change.", BRICK),
    )
    page = open_page(texts, 4.9)
    upper = page.panel(_LEFT, 2.15, _WIDE, 2.65)
    lower = page.panel(_LEFT, 0.55, _WIDE, 1.4)
    priced = [j for j in found.tried if j.cost is not None]
    _score_axis(upper, [j.score for j in priced])
    marks: tuple[tuple[Sequence[RatedSet], str, Look], ...] = (
        (priced, ".", {"color": MIST, "ms": 4}),
        (found.front, "o", {"color": SEA, "ms": 5}),
        ([found.chosen], "o", {"mfc": "none", "mec": BRICK, "mew": 1.8, "ms": 11}),
    )
    for ax, scale, name in ((upper, 1, "score"), (lower, 100, "heat")):
        for sets, mark, look in marks:
            values = [scale * getattr(j, name) for j in sets]
            ax.plot([j.cost or 0.0 for j in sets], values, mark, **look)
    best = np.minimum.accumulate([j.score for j in found.front])
    costs = [j.cost or 0.0 for j in found.front]
    upper.step(costs, best, where="post", color=SEA, lw=1.0)
    upper.set_xticklabels([])
    lower.set_ylim(bottom=0.0)
    lower.set_ylabel("heat [%]")
    lower.set_xlabel(f"cost of the set [{found.currency or 'pieces'}]")
    return page


def _rows_of_cores(choice: CoreChoice) -> list[list[RatedSet]]:
    """Sets of more and more cores at the chosen place, one core of each material, best first.

    Of each material the core whose longest row does most; the chosen core for its own.
    """
    series: dict[str, list[RatedSet]] = {}
    for j in choice.found.tried:
        rows = j.set.rows
        if j.set.core is not None and len(rows) == 1 and rows[0][1].label == choice.place:
            series.setdefault(j.set.core.id, []).append(j)
    own = choice.found.chosen.set.core_id
    first: dict[str, list[RatedSet]] = {}
    for row in sorted(series.values(), key=lambda s: (s[0].set.core_id != own, s[-1].score)):
        core = row[0].set.core
        if core is not None:
            first.setdefault(core.material, row)
    return list(first.values())[:_MOST_CURVES]


@figure(PAGE, 20, optional=True)
def returns(choice: CoreChoice) -> Page | None:
    """One core more, and one more: what each still changes."""
    rows, bare = _rows_of_cores(choice), choice.found.bare.score
    if not rows:
        return None
    title = f"What each core more still changes, {choice.place}."
    page = open_page(choice.texts(title, choice.drawn), 3.6)
    ax = page.panel(_LEFT, 0.55, WIDTH - _LEFT - _NAMES, 2.95)
    ax.set_xlim(0, max(j.set.pieces for row in rows for j in row))
    _score_axis(ax, [bare, *(j.score for row in rows for j in row)])
    ends = []
    for k, row in enumerate(rows):
        colour, mark = _COLOURS[k % len(_COLOURS)], "." if k < len(_COLOURS) else "x"
        x, y = [0, *(j.set.pieces for j in row)], [bare, *(j.score for j in row)]
        ax.plot(x, y, color=colour, ls=DASHES[colour], marker=mark, lw=1.4)
        ends.append(EndLabel(y[-1], row[0].set.core_name, colour))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_xlabel("cores in a row")
    label_ends(ax, ends, _NAMES)
    return page


@figure(PAGE, 30)
def materials(choice: CoreChoice) -> Page:
    """The same size in every material of the catalogue."""
    rows, gap = choice.materials, 0.14
    tall = 0.36 * len(rows)
    each = (WIDTH - _MATERIALS - 0.15 - gap * (len(SHOWN_HZ) - 1)) / len(SHOWN_HZ)
    found = [part for row in rows for z in row.z if z is not None for part in (z.real, z.imag)]
    texts = choice.texts(
        choice.titles["materials"],
        "from the catalogue's permeability, none beyond its data",
        Note("Blue: resistance, which chokes whatever the cable is.", SEA),
        Note("Yellow: reactance; where the cable's own has the other sign it cancels.", OCHRE),
    )
    page = open_page(texts, tall + 0.85)
    for k, frequency in enumerate(SHOWN_HZ):
        ax = page.panel(_MATERIALS + k * (each + gap), 0.55, each, tall)
        ax.set_xlim(min(0.0, 1.05 * min(found)), 1.08 * max(found))
        open_rows(ax, len(rows))
        ax.axvline(0.0, color=STEEL, lw=0.8)
        ax.set_title(f"{frequency / 1e6:g} MHz", size=SMALL, color=INK)
        ax.xaxis.set_major_locator(MaxNLocator(3, integer=True))
        for n, row in enumerate(rows):
            _pair(ax, n, row, row.z[k])
        if k == 0:
            label_rows(ax, [row.material for row in rows], _MATERIALS - 0.2)
        ax.set_xlabel("ohm", size=SMALL)
    return page


def _pair(ax: Axes, n: int, row: MaterialRow, z: complex | None) -> None:
    if z is None:
        ends = f"data end at\n{megahertz(row.highest)}"
        ax.text(8.0, n, ends, size=SMALL - 2.5, color=STEEL, va="center", linespacing=1.05)
        return
    ax.barh(n - 0.18, z.real, 0.32, color=SEA, lw=0)
    ax.barh(n + 0.18, z.imag, 0.32, color=OCHRE, lw=0)


@figure(PAGE, 40)
def reactance(choice: CoreChoice) -> Page:
    """A choke without resistance."""
    sweep, room = choice.sweep, 1.3
    stated = "the installation as the study states it; algebra on one field solution"
    page = open_page(choice.texts(choice.titles["reactance"], stated), 3.4)
    ax = page.panel(_LEFT, 0.55, WIDTH - _LEFT - room, 2.75)
    ax.set_xlim(float(sweep.x[0]), float(sweep.x[-1]))
    ends = []
    for text, name, colour in (
        ("at the radio", "station_ratio", SEA),
        ("largest on the cable", "shield_ratio", OCHRE),
    ):
        values = 100 * sweep.swept[name]
        bare = 100 * float(sweep.bare[name][0])
        ax.plot(sweep.x, values, color=colour, lw=1.6, ls=DASHES[colour])
        ax.axhline(bare, color=colour, lw=0.8)
        worse = (values > bare).tolist()
        ax.fill_between(sweep.x, bare, values, where=worse, color=BRICK, alpha=0.25, lw=0)
        ends += [
            EndLabel(float(values[-1]), text, colour),
            EndLabel(bare, f"no choke, {text}: {number(bare, '.1f')} %", colour),
        ]
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("reactance in series with the shield [ohm]")
    ax.set_ylabel("current, share of the feed's [%]")
    label_ends(ax, ends, room)
    return page
