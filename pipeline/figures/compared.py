"""Figures of several studies beside each other: pattern, band and cable current.

Drawn from the stored tables of each study's results only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from models.lengths import axis_unit
from pipeline.figures.data import Cases, Table, read_table
from pipeline.figures.feed_line import FLOOR, percent_axis
from pipeline.figures.page import Note, Page, Texts, band_axis, heading, length_axis, open_page
from pipeline.figures.registry import figure
from pipeline.figures.style import (
    BRICK,
    CHOSEN_LINE,
    FERN,
    IDEAL_LINE,
    INK,
    MARKS,
    NONE_LINE,
    OCHRE,
    PLUM,
    SEA,
    SMALL,
    SOLID,
    STEEL,
    Look,
    Stroke,
    shorten,
    wrap,
)
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import percent, plain

PAGE = "compared"
# Room of one panel with its heading and the numbers of its axes. [inch]
_TALL, _ROW, _WIDE, _LEFT, _COLUMN = 1.25, 2.25, 2.0, 0.7, 2.82
# Gain further below is of no use to anybody. [dBi]
_LEAST_DBI = -15.0
# More curves than these on the same axes cannot be told apart.
_COLOURS = (BRICK, SEA, INK, OCHRE, PLUM, FERN)


@dataclass(frozen=True)
class Entry:
    """One study of the comparison: its name there, its cases, the one that is "with a choke"."""

    name: str
    cases: Cases

    @property
    def chosen(self) -> str:
        """The case that is taken; the ideal choke where that is none."""
        return IDEAL if self.cases.chosen == NONE else self.cases.chosen

    @property
    def remark(self) -> str:
        """Why a panel may not be believed, if so."""
        unsound = any(self.cases.of(c).is_unsound for c in (NONE, self.chosen))
        return "; unsound, do not rely on it" if unsound else ""

    @property
    def title(self) -> str:
        """The study's own title."""
        return plain(str(self.cases.summary["study"]["title"]))

    def table(self, name: str) -> Table:
        """A table of the study; of the elevation cut the side towards azimuth zero."""
        table = read_table(self.cases.results, name)
        if name == "elevation_cut":
            table = table.select(azimuth_deg=table.distinct("azimuth_deg")[0])
        return table

    def lines(self, table: Table) -> list[tuple[Look, Table]]:
        """Rows of a table without and with a choke, each with the look of its line."""
        with_one = IDEAL_LINE if self.chosen == IDEAL else CHOSEN_LINE
        return [
            (line.look, table.select(case=case))
            for case, line in ((NONE, NONE_LINE), (self.chosen, with_one))
        ]


Entries = list[Entry]
XY = tuple[NDArray[np.float64], NDArray[np.float64]]


def _gain(rows: Table) -> XY:
    """Elevation in order [deg] and gain, not below what is shown [dBi]."""
    order = np.argsort(rows.number("elevation_deg"))
    gain = np.maximum(rows.number("gain_dbi")[order], _LEAST_DBI)
    return rows.number("elevation_deg")[order], gain


def _current(rows: Table) -> XY:
    """Distance along the cable [m] and current per feed current, not below what is shown."""
    return rows.number("position_m"), np.maximum(rows.number("current_ratio"), FLOOR / 10)


def _page(entries: Entries, title: str, *notes: Note) -> Page:
    def named(text: str, line: Stroke) -> Note:
        return Note(text, line.colour, line.dash)

    colours = [
        named("without a choke", NONE_LINE),
        named("with the choke that its own report takes", CHOSEN_LINE),
    ]
    if any(e.chosen == IDEAL for e in entries):
        colours.append(named("with an ideal choke, where none is taken", IDEAL_LINE))
    return open_page(_texts(title, *colours, *notes), 0.2 + _ROW * ((len(entries) + 1) // 2))


def _texts(title: str, *notes: Note) -> Texts:
    return Texts(title, notes, "evidence: in each study's own report", "Braidwise")


def _panels(page: Page, entries: Entries, below: str, beside: str) -> Iterator[tuple[Entry, Axes]]:
    """Each study with its axes, two in a row."""
    count = (len(entries) + 1) // 2
    for k, entry in enumerate(entries):
        row, column = divmod(k, 2)
        bottom = 0.5 + _ROW * (count - 1 - row)
        ax = page.panel(_LEFT + _COLUMN * column, bottom, _WIDE, _TALL)
        said = f"{shorten(entry.title, 60)}: {entry.name}{entry.remark}"
        heading(ax, "\n".join(wrap(said, _WIDE + 0.3, SMALL)))
        yield entry, ax
        _name_axes(ax, below, beside)


def _name_axes(ax: Axes, below: str, beside: str) -> None:
    ax.set_xlabel(below, size=SMALL, labelpad=1)
    ax.set_ylabel(beside, size=SMALL)


@figure(PAGE, 10, optional=True)
def overlay(entries: Entries) -> Page | None:
    """All of them on the same axes, each with the choke that its own report takes, or with an
    ideal one where none is needed.
    """
    if not 2 <= len(entries) <= len(_COLOURS):
        return None
    gains = {e.title: e.cases.value(e.chosen, "horizon_gain_mean_dbi") for e in entries}
    best = max(gains, key=lambda name: gains[name])
    title = f"With its choke the most gain in the lowest lobe: {gains[best]:.1f} dBi, {best}"
    coloured = list(zip(entries, _COLOURS, strict=False))
    notes = [Note(f"{e.title}: {e.name}{e.remark}", c, SOLID, MARKS[c]) for e, c in coloured]
    page = open_page(_texts(title, *notes), 6.5)
    axes = [page.panel(_LEFT, bottom, 4.85, 1.5) for bottom in (4.62, 2.52, 0.45)]
    gain, match, current = axes
    largest = 0.0
    for entry, colour in coloured:
        rows, *others = (
            entry.table(name).select(case=entry.chosen)
            for name in ("band", "elevation_cut", "shield_current")
        )
        off = 100 * (rows.number("frequency_hz") / entry.cases.frequency - 1)
        curves = (_gain(others[0]), (off, rows.number("swr_feed")), _current(others[1]))
        for ax, (x, y) in zip(axes, curves, strict=True):
            # Every curve begins its marks elsewhere, so that they do not hide each other.
            every = (0.02 * (1 + _COLOURS.index(colour)), 0.14)
            look: Look = {"lw": 1.4, "marker": MARKS[colour], "ms": 4, "markevery": every}
            ax.plot(x, y, color=colour, **look)
        largest = max(largest, float(curves[2][1].max()))
    gain.set_xlim(0, 90)
    gain.set_ylim(bottom=_LEAST_DBI)
    match.set_ylim(1, min(match.get_ylim()[1], 6))
    current.set_xlim(left=0)
    length_axis(current.xaxis)
    percent_axis(current, largest)
    _name_axes(gain, "elevation [°]", "gain [dBi]")
    _name_axes(match, "off the design frequency [%]", "SWR")
    _name_axes(current, f"along the cable [{axis_unit()[0]}]", "share of feed")
    return page


@figure(PAGE, 20)
def pattern(entries: Entries) -> Page:
    """Gain over elevation towards azimuth zero of each installation."""
    peaks = {
        e.name: max(e.cases.value(case, "peak_gain_dbi") for case in (NONE, e.chosen))
        for e in entries
    }
    best = max(peaks, key=lambda name: peaks[name])
    note = Note(f"what lies below {_LEAST_DBI:g} dBi is not shown".replace("-", "−"), STEEL)
    page = _page(entries, f"Strongest lobe of all: {peaks[best]:.1f} dBi, the {best}", note)
    for entry, ax in _panels(page, entries, "elevation [°]", "gain [dBi]"):
        for look, rows in entry.lines(entry.table("elevation_cut")):
            ax.plot(*_gain(rows), **look)
        ax.set_xlim(0, 90)
        ax.set_ylim(_LEAST_DBI, max(10.0, max(peaks.values()) + 1))
        ax.set_xticks(range(0, 91, 30))
    return page


@figure(PAGE, 30)
def band(entries: Entries) -> Page:
    """SWR at the antenna over each study's own band."""
    good = sum(e.cases.value(NONE, "swr_feed") <= 1.5 for e in entries)
    title = f"{good} of {len(entries)} are matched within SWR 1.5 at their frequency, bare cable"
    page = _page(entries, title)
    for entry, ax in _panels(page, entries, "frequency [MHz]", "SWR"):
        top = 2.0
        for look, rows in entry.lines(entry.table("band")):
            x, y = rows.number("frequency_hz") / 1e6, rows.number("swr_feed")
            ax.plot(x, y, **look)
            ax.set_xlim(x.min(), x.max())
            top = max(top, float(y.max()))
        band_axis(ax, entry.cases.frequency, 4)
        ax.set_ylim(1, min(1.05 * top, 6))
    return page


@figure(PAGE, 40)
def shield_current(entries: Entries) -> Page:
    """Current on the outside of the cable, per feed current, on its way down."""
    most = {e.name: e.cases.value(NONE, "shield_current_ratio_max") for e in entries}
    worst, least = (pick(most, key=lambda name: most[name]) for pick in (max, min))
    title = (
        f"Most on a bare cable: {percent(most[worst])}, the {worst}; "
        f"least: {percent(most[least])}, the {least}"
    )
    note = Note(f"logarithmic scale; what lies below {percent(FLOOR)} is not shown", STEEL)
    page = _page(entries, title, note)
    below = f"along the cable [{axis_unit()[0]}]"
    for entry, ax in _panels(page, entries, below, "share of feed"):
        table = entry.table("shield_current")
        for look, rows in entry.lines(table):
            ax.plot(*_current(rows), **look)
        ax.set_xlim(0, float(table.select(case=NONE).number("position_m").max()))
        percent_axis(ax, max(most.values()))
        length_axis(ax.xaxis)
    return page
