"""Figures of the feed line: impedance and SWR over the band, current on the cable's outside."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullFormatter
from numpy.typing import NDArray

from pipeline.figures.data import (
    CABLE,
    IDEAL,
    NONE,
    Cast,
    Landmark,
    Player,
    Table,
    landmarks,
    load_cast,
    read_table,
)
from pipeline.figures.style import (
    SMALL,
    STEEL,
    EndLabel,
    Note,
    label_ends,
    length_axis,
    open_page,
    save,
    shorten,
)
from pipeline.solver.port_basis import load_structure
from pipeline.text.formatting import megahertz, percent

LEFT, RIGHT = 0.66, 1.32
WIDE = 5.8 - LEFT - RIGHT
# What the bands are where they are often narrower than their lines.
BESIDE = "shading beside a line: its 95 % interval, where wider than the line"
# Below this ratio the current on the cable interests nobody; the null at an ideal choke is deeper.
FLOOR = 1e-3


def _band_title(cast: Cast, table: Table) -> str:
    low, high = cast.summary["study"]["band_hz"]
    said: list[str] = []
    for case, words in (
        (NONE, "without a choke"),
        (cast.recommended, "with the recommended one"),
        (IDEAL, "with an ideal one"),
    ):
        if case == NONE and said:
            continue
        said.append(f"{table.where(case=case).number('swr_feed').max():.2f} {words}")
    return f"SWR at the antenna over {low / 1e6:.7g} to {megahertz(high)}: up to {', '.join(said)}"


def _shaded(cast: Cast) -> str:
    """What the shaded bands are, and whose."""
    whose = " and ".join(cast.player(c).name for c in cast.with_bands)
    return f"shaded: 95 % interval of the computation for {whose}" if whose else ""


def shade(
    ax: Axes,
    x: NDArray[np.float64],
    ends: tuple[NDArray[np.float64], NDArray[np.float64]],
    colour: str,
    name: str,
) -> None:
    """The 95 % interval of a line as a band behind it."""
    ax.fill_between(x, *ends, color=colour, alpha=0.16, lw=0, zorder=1.5, gid=f"interval-{name}")


def band(results: Path) -> None:
    """Resistance, reactance and SWR at the antenna, and SWR at the radio, over the band."""
    cast, table = load_cast(results), read_table(results, "band")
    title = _band_title(cast, table)
    kinds = (
        ("r_ohm", "R [Ω]", "resistance at the antenna"),
        ("x_ohm", "X [Ω]", "reactance at the antenna"),
        ("swr_feed", "SWR", "SWR at the antenna"),
        ("swr_radio", "SWR", "SWR at the radio, after the line's loss"),
    )
    notes = (Note(_shaded(cast), STEEL), *cast.notes(table))
    page = open_page(cast.words(title, notes), 0.55 + 1.7 * len(kinds))
    for k, (column, unit, heading) in enumerate(kinds):
        ax = page.panel(LEFT, 0.5 + 1.7 * (len(kinds) - 1 - k), WIDE, 1.38)
        drawn = []
        for player, rows in cast.drawn(table):
            x, y = rows.number("frequency_hz") / 1e6, rows.number(column)
            ax.plot(x, y, **player.line)
            if player.id in cast.with_bands:
                shade(ax, x, rows.ends(column), player.colour, player.id)
            drawn.append((player, y))
        ax.set_xlim(x.min(), x.max())
        ax.axvline(cast.frequency / 1e6, color=STEEL, lw=0.8, ls=":")
        ax.set_ylabel(unit)
        ax.set_title(heading, loc="left", size=SMALL, color=STEEL, pad=4)
        ax.tick_params(labelbottom=k == len(kinds) - 1)
        ax.ticklabel_format(useOffset=False)
        ax.xaxis.set_major_locator(MaxNLocator(5))
        if "swr" in column:
            ax.set_ylim(bottom=1.0)
        label_ends(ax, _ends(drawn), RIGHT)
    ax.set_xlabel("frequency [MHz]")
    save(page.figure, results / "figures" / "band", title)


def _ends(drawn: list[tuple[Player, NDArray[np.float64]]]) -> list[EndLabel]:
    return [
        EndLabel(float(y[-1]), p.name, p.colour)
        for p, y in drawn
        if p.emphasised or p.grade == "unsound"
    ]


def without_winding(
    position: NDArray[np.float64], start: float, extra: float
) -> NDArray[np.float64]:
    """Distances along a cable with a coil in it, as if the coil's own cable took no room.

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
    last = -np.inf
    for mark in places:
        ax.axvline(mark.position, color=STEEL, lw=0.8, ls=":", zorder=1)
        share = (mark.position - low) / (high - low)
        share, level = (share, 1.015) if share - last > 0.11 else (share, 1.085)
        last = share if level < 1.05 else last
        ax.text(
            share,
            level,
            mark.name,
            transform=ax.transAxes,
            size=SMALL,
            color=STEEL,
            ha="center",
            va="bottom",
        )


def _shield_title(table: Table, cast: Cast) -> str:
    def most(case: str) -> str:
        return percent(float(table.where(case=case).number("current_ratio").max()))

    title = f"Without a choke up to {most(NONE)} of the feed current flows on the cable"
    said = []
    if cast.recommended != NONE:
        said.append(f"{most(cast.recommended)} with the recommended one")
    others = [(float(rows.number("current_ratio").max()), p) for p, rows in cast.candidates(table)]
    if others:
        largest, player = max(others, key=lambda pair: pair[0])
        other = "" if cast.recommended == NONE else "other "
        of_all = f", the most of all {other}candidates" if len(others) > 1 else ""
        said.append(f"{percent(largest)} with {shorten(player.id, 30)}{of_all}")
    return f"{title}; {', '.join(said)}" if said else title


def shield_current(results: Path) -> None:
    """Current on the outside of the cable from the antenna to the radio, per feed current."""
    cast, table = load_cast(results), read_table(results, "shield_current")
    title = _shield_title(table, cast)
    notes = (
        Note(
            f"logarithmic scale; what lies below {percent(FLOOR)} is not shown. A coil's own "
            f"cable is drawn at the coil's place; {BESIDE}",
            STEEL,
        ),
        *cast.notes(table),
    )
    page = open_page(cast.words(title, notes), 4.35)
    ax = page.panel(LEFT + 0.08, 0.52, WIDE - 0.08, 3.4)
    length = float(table.where(case=NONE).number("position_m").max())
    drawn = []
    for player, rows in cast.drawn(table):
        x, y = rows.number("position_m"), np.maximum(rows.number("current_ratio"), FLOOR / 10)
        extra = float(x.max()) - length
        if extra > 1e-3:
            x = without_winding(x, cast.value(player.id, "position_m"), extra)
        ax.plot(x, y, **player.line)
        # Only what the reader has and what is advised: a coil's band would cover all the others.
        if player.id in cast.with_bands:
            low, high = rows.ends("current_ratio")
            shade(ax, x, (np.maximum(low, FLOOR / 10), high), player.colour, player.id)
        drawn.append((player, y))
    ax.set_xlim(0, length)
    percent_axis(ax, max(float(y.max()) for _, y in drawn))
    length_axis(ax.xaxis, "distance along the cable from the antenna")
    ax.set_ylabel("shield current / feed current")
    mark_places(ax, landmarks(load_structure(results / "geometry" / f"{CABLE}.json")))
    label_ends(ax, _ends(drawn), RIGHT)
    save(page.figure, results / "figures" / "shield_current", title)


def percent_axis(ax: Axes, largest: float) -> None:
    """A logarithmic axis of ratios, ticks in per cent."""
    ax.set_yscale("log")
    ax.set_ylim(FLOOR, max(1.6 * largest, 10 * FLOOR))
    ticks = [m * 10.0**e for e in range(-3, 2) for m in (1, 3) if m * 10.0**e <= 1.6 * largest]
    ax.set_yticks(ticks)
    ax.yaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{100 * v:.3g} %"))
    ax.yaxis.set_minor_formatter(NullFormatter())
    ax.tick_params(axis="y", which="minor", left=False)
