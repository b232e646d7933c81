"""Figures of the feed line: impedance and SWR over the band, current on the cable's outside."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from pipeline.figures.data import Cases, Curves, Landmark, Table, end_labels, landmarks
from pipeline.figures.page import (
    LEFT,
    RIGHT,
    EndLabel,
    Note,
    Page,
    band_axis,
    heading,
    label_ends,
    length_axis,
    log_ticks,
    open_page,
    shade,
    width_of,
)
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    BRICK,
    INK,
    MARKS,
    PAPER,
    SEA,
    SMALL,
    SOLID,
    STEEL,
    Look,
    shorten,
    text_width,
)
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import megahertz, percent

# Intervals are often narrower than their lines.
BESIDE = "shading beside a line: its 95 % interval, where wider than the line"
# Below this ratio the current on the cable interests nobody; the null at an ideal choke is deeper.
FLOOR = 1e-3
_AT_ANTENNA = (
    ("r_ohm", "R [Ω]", "resistance at the antenna"),
    ("x_ohm", "X [Ω]", "reactance at the antenna"),
    ("swr_feed", "SWR", "SWR at the antenna"),
)
_AT_RADIO = ("swr_radio", "SWR", "SWR at the radio, after the line's loss")


def _panels(
    page: Page, kinds: tuple[tuple[str, str, str], ...], pitch: float, tall: float
) -> Iterator[tuple[str, Axes]]:
    """Columns of a table, each with axes over the band, from the top."""
    last = len(kinds) - 1
    for k, (column, unit, said) in enumerate(kinds):
        ax = page.panel(LEFT, 0.5 + pitch * (last - k), page.width - LEFT - RIGHT, tall)
        yield column, ax
        ax.set_ylabel(unit)
        heading(ax, said)
        ax.tick_params(labelbottom=k == last)
    ax.set_xlabel("frequency [MHz]")


def _band_title(cases: Cases, table: Table) -> str:
    low, high = cases.summary["study"]["band_hz"]
    said: list[str] = []
    for case, words in (
        (NONE, "without a choke"),
        (cases.chosen, "with the chosen one"),
        (IDEAL, "with an ideal one"),
    ):
        if case == NONE and said:
            continue
        said.append(f"{table.select(case=case).number('swr_feed').max():.2f} {words}")
    return f"SWR at the antenna over {low / 1e6:.7g} to {megahertz(high)}: up to {', '.join(said)}"


def _shaded(cases: Cases) -> str:
    """Meaning of the shaded bands, and whose they are."""
    whose = " and ".join(cases.of(c).name for c in cases.with_bands)
    return f"shaded: 95 % interval of the computation for {whose}" if whose else ""


@figure(REPORT, 110, section="band")
def band(cases: Cases, table: Table) -> Page:
    """Impedance and SWR over the band, at the antenna and at the radio."""
    kinds = (*_AT_ANTENNA, _AT_RADIO)
    notes = (Note(_shaded(cases), STEEL), *cases.notes(table))
    page = open_page(cases.texts(_band_title(cases, table), *notes), 0.55 + 1.7 * len(kinds))
    for column, ax in _panels(page, kinds, 1.7, 1.38):
        drawn: Curves = []
        for case, rows in cases.drawn(table):
            x, y = rows.number("frequency_hz") / 1e6, rows.number(column)
            ax.plot(x, y, **case.line)
            if case.id in cases.with_bands:
                shade(ax, x, rows.ends(column), case.colour, case.id)
            drawn.append((case, y))
        ax.set_xlim(x.min(), x.max())
        band_axis(ax, cases.frequency)
        if "swr" in column:
            ax.set_ylim(bottom=1.0)
        label_ends(ax, end_labels(drawn))
    return page


def without_winding(
    position: NDArray[np.float64], start: float, extra: float
) -> NDArray[np.float64]:
    """Distances along a cable with a coil in it, as if the coil's own cable took no room. [m]

    Parameters
    ----------
    position : ndarray, shape (n,)
        Distances along the cable, its windings included. [m]
    start : float
        Where the winding begins. [m]
    extra : float
        How much longer the cable is than one without a coil. [m]

    Examples
    --------
    >>> without_winding(np.array([0.1, 2.0, 9.0]), 0.3, 8.0).tolist()
    [0.1, 0.3, 1.0]
    """
    return np.where(position < start + extra, np.minimum(position, start), position - extra)


def mark_places(ax: Axes, places: tuple[Landmark, ...]) -> None:
    """Thin upright lines at tap, bends, bond and radio, named above the axes."""
    low, high = ax.get_xlim()
    room = ax.figure.get_figwidth() * (1 - ax.get_position().x1)  # type: ignore[union-attr]
    last = -np.inf
    for mark in places:
        ax.axvline(mark.position, color=STEEL, lw=0.8, zorder=1)
        share = (mark.position - low) / (high - low)
        # A name that would run into the one before stands a line higher.
        level = 1.015 if share - last > 0.11 else 1.085
        last = share if level < 1.05 else last
        # What would run off the sheet ends at the edge of the axes.
        beyond = (1 - share) * width_of(ax) + room < 0.5 * text_width(mark.name, SMALL)
        look: Look = {"transform": ax.transAxes, "size": SMALL, "color": STEEL, "va": "bottom"}
        place = (min(share, 1.0) if beyond else share, level)
        ax.text(*place, mark.name, ha="right" if beyond else "center", **look)


def _shield_title(table: Table, cases: Cases) -> str:
    def most(case: str) -> str:
        return percent(float(table.select(case=case).number("current_ratio").max()))

    title = f"Without a choke up to {most(NONE)} of the feed current flows on the cable"
    said = []
    if cases.chosen != NONE:
        said.append(f"{most(cases.chosen)} with the chosen one")
    others = [
        (float(rows.number("current_ratio").max()), case) for case, rows in cases.candidates(table)
    ]
    if others:
        largest, case = max(others, key=lambda pair: pair[0])
        other = "" if cases.chosen == NONE else "other "
        of_all = f", the most of all {other}candidates" if len(others) > 1 else ""
        said.append(f"{percent(largest)} with {shorten(case.id, 30)}{of_all}")
    return f"{title}; {', '.join(said)}" if said else title


@figure(REPORT, 20, section="place")
def shield_current(cases: Cases, table: Table) -> Page:
    """Current on the outside of the cable from the antenna to the radio.

    A good choke lowers the whole line, not only the place where it sits.
    """
    note = Note(
        f"logarithmic scale; what lies below {percent(FLOOR)} is not shown. A coil's own "
        f"cable is drawn at the coil's place, over a sleeve it is the current outside; {BESIDE}",
        STEEL,
    )
    page = open_page(cases.texts(_shield_title(table, cases), note, *cases.notes(table)), 4.35)
    ax = page.panel(LEFT + 0.08, 0.52, page.width - LEFT - RIGHT - 0.08, 3.4)
    length = float(table.select(case=NONE).number("position_m").max())
    drawn: Curves = []
    for case, rows in cases.drawn(table):
        x, y = rows.number("position_m"), np.maximum(rows.number("current_ratio"), FLOOR / 10)
        extra = float(x.max()) - length
        if extra > 1e-3:
            x = without_winding(x, cases.value(case.id, "position_m"), extra)
        ax.plot(x, y, **case.line)
        # Only what the reader has and what is advised: a coil's band would cover all the others.
        if case.id in cases.with_bands:
            low, high = rows.ends("current_ratio")
            shade(ax, x, (np.maximum(low, FLOOR / 10), high), case.colour, case.id)
        drawn.append((case, y))
    ax.set_xlim(0, length)
    percent_axis(ax, max(float(y.max()) for _, y in drawn))
    length_axis(ax.xaxis, "distance along the cable from the antenna")
    ax.set_ylabel("shield current / feed current")
    mark_places(ax, landmarks(cases.cable))
    label_ends(ax, end_labels(drawn))
    return page


def percent_axis(ax: Axes, largest: float) -> None:
    """A logarithmic axis of ratios, ticks in per cent."""
    ax.set(yscale="log", ylim=(FLOOR, max(1.6 * largest, 10 * FLOOR)))
    ticks = [m * 10.0**e for e in range(-3, 2) for m in (1, 3) if m * 10.0**e <= 1.6 * largest]
    log_ticks(ax.yaxis, ticks, lambda ratio: f"{100 * ratio:.3g} %")
    ax.tick_params(axis="y", which="minor", left=False)


# A measured antenna

_MEASURED: tuple[tuple[str, str, Look], ...] = (
    ("computed", "computed", {"color": INK, "lw": 1.9}),
    ("measured", "measured", {"color": BRICK, "lw": 1.4, "marker": MARKS[BRICK]}),
    ("measured, shifted", "measured, shift taken out", {"color": SEA, "lw": 1.1, "marker": "s"}),
)
# From mark to mark on a measured curve, in diagonals of its axes.
_MARKED = 0.12
# Nobody reads an SWR beyond this, or an impedance where the match is that bad.
_HIGHEST_SWR = 6.0


def _measured_notes(summary: dict[str, Any], curves: list[str]) -> tuple[Note, ...]:
    data = summary["measured"]
    notes = [
        Note(f"computed: case {data['case']}; shaded: its 95 % interval", INK, SOLID),
        Note(f"measured: {data['file']}, at the {data['at']}", BRICK, SOLID, MARKS[BRICK]),
    ]
    if data["at"] == "radio":
        notes.append(
            Note("moved to the antenna through the line: R and X are a rough guide only", BRICK)
        )
    if "measured, shifted" in curves and abs(data["offset"]) > 0:
        shift = f"{100 * data['offset']:+.2f} %".replace("-", "−")
        said = f"measured, with its shift of {shift} taken out"
        notes.append(Note(said, SEA, SOLID, MARKS[SEA]))
    return tuple(notes)


@figure(REPORT, 120, table="measured_antenna", part="measured", section="band")
def measured(cases: Cases, table: Table) -> Page:
    """The antenna as measured, beside what was computed for it.

    What is left between the two when the shift is out is what no trimming takes away.
    """
    notes = _measured_notes(cases.summary, table.distinct("curve"))
    texts = cases.texts(str(cases.summary["measured"]["headline"]), *notes)
    page = open_page(texts, 0.4 + 1.9 * len(_AT_ANTENNA))
    for column, ax in _panels(page, _AT_ANTENNA, 1.9, 1.55):
        _measured_curves(ax, table, column)
        band_axis(ax, cases.frequency)
    return page


def _measured_curves(ax: Axes, table: Table, column: str) -> None:
    """One quantity of all curves over the measured and computed frequencies."""
    ends: list[EndLabel] = []
    ax.set(xlim=_span(table), ylim=_limits(table, column))
    right = ax.get_xlim()[1]
    for name, label, line in _MEASURED:
        rows = table.select(curve=name)
        if not len(rows):
            continue
        x, y = rows.number("frequency_hz") / 1e6, rows.number(column)
        ax.plot(x, y, gid=f"curve-{name}", ms=4, markevery=_MARKED, **line)
        if name == "computed":
            ax.fill_between(x, *rows.ends(column), color=line["color"], alpha=0.16, lw=0)
        if x[-1] >= right - 1e-6:
            ends.append(EndLabel(float(np.interp(right, x, y)), label, line["color"]))
            continue
        ax.annotate(
            label,
            (float(x[-1]), float(y[-1])),
            (4, 0),
            textcoords="offset points",
            size=SMALL,
            color=line["color"],
            va="center",
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 0.5},
        )
    label_ends(ax, ends)


def _span(table: Table) -> tuple[float, float]:
    """The computed band and the best match of every curve, with room, as far as measured. [MHz]"""
    every = table.number("frequency_hz") / 1e6
    band = table.select(curve="computed").number("frequency_hz") / 1e6
    shown = [float(band[0]), float(band[-1])]
    for name in table.distinct("curve"):
        rows = table.select(curve=name)
        best = int(np.argmin(rows.number("swr_feed")))
        if 0 < best < len(rows) - 1:
            shown.append(float(rows.number("frequency_hz")[best] / 1e6))
    low, high = min(shown), max(shown)
    room = max(0.3 * (high - low), 0.6 * float(band[-1] - band[0]))
    return max(float(every.min()), low - room), min(float(every.max()), high + room)


def _limits(table: Table, column: str) -> tuple[float, float]:
    """Room for all that belongs to a match; what lies beyond leaves the axes."""
    low, high = _span(table)
    f = table.number("frequency_hz") / 1e6
    shown = (f >= low - 1e-6) & (f <= high + 1e-6)
    ends = table.select(curve="computed").ends(column)
    if column == "swr_feed":
        most = np.concatenate([table.number(column)[shown], ends[1]]).max()
        return 1.0, max(1.2, 1.03 * min(float(most), _HIGHEST_SWR))
    useful = table.number(column)[shown & (table.number("swr_feed") <= _HIGHEST_SWR)]
    values = np.concatenate([useful, *ends])
    low, high = float(values.min()), float(values.max())
    room = 0.06 * max(high - low, 1.0)
    return low - room, high + room
