"""Figures of the radiation pattern, on plain rectangular axes, in decibels as they are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from models.antennas import generators
from pipeline.analysis.metrics import MATTERS_WITHIN_DB
from pipeline.figures.data import ALONE, IDEAL, NONE, Cast, Player, Table, load_cast, read_table
from pipeline.figures.style import (
    DASHES,
    INK,
    SMALL,
    STEEL,
    EndLabel,
    Note,
    Page,
    label_ends,
    open_page,
    save,
    shorten,
)
from pipeline.text.formatting import number

LEFT, RIGHT = 0.7, 1.32
WIDE = 5.8 - LEFT - RIGHT
# How far down a null is drawn; nothing is to be read there.
_DEEPEST_DB = 30.0
# A null goes to minus infinity; nobody relies on what lies this far below the strongest lobe.
DEPTH_DB = 30.0


def _limits(ax: Axes, values: list[NDArray[np.float64]], pad: float) -> None:
    flat = np.concatenate(values)
    ax.set_ylim(float(flat.min()) - pad, float(flat.max()) + pad)


def _ends(pairs: list[tuple[Player, NDArray[np.float64]]]) -> list[EndLabel]:
    return [
        EndLabel(float(y[-1]), p.name, p.colour)
        for p, y in pairs
        if p.emphasised or p.grade == "unsound"
    ]


def _how_sure(cast: Cast, column: str, what: str) -> tuple[Note, ...]:
    """How wide the 95 % intervals of the named cases are, and what is surer or less sure."""
    trusted = [p.id for p in cast.players if p.emphasised and p.grade != "unsound"]
    if not trusted:
        return ()
    widest = max(cast.half_width(case, column) for case in trusted)
    return (
        Note(
            f"95 % interval of the computation: {what} ± {widest:.1f} dB at most in a named case, "
            "differences between cases less, gains in a null more",
            STEEL,
        ),
    )


def _largest_change(table: Table, case: str) -> float:
    gain, ideal = (table.where(case=c).number("gain_dbi") for c in (case, IDEAL))
    return float(abs(gain - ideal).max())


def azimuth_cut(results: Path) -> None:
    """Gain round the horizon at the stated low elevation, and its change against the ideal."""
    cast, table = load_cast(results), read_table(results, "azimuth_cut")
    elevation = f"{table.number('elevation_deg')[0]:g}°"
    title = (
        f"Without a choke the gain at {elevation} elevation moves by up to "
        f"{_largest_change(table, NONE):.1f} dB"
    )
    if cast.recommended != NONE:
        change = _largest_change(table, cast.recommended)
        title += f", with the recommended one by up to {change:.1f} dB"
    notes = (*_how_sure(cast, "horizon_gain_mean_dbi", "a gain here"), *cast.notes(table))
    page = open_page(cast.words(title, notes), 4.5)
    top = page.panel(LEFT, 2.62, WIDE, 1.78)
    low = page.panel(LEFT, 0.55, WIDE, 1.78, sharex=top)
    reference = table.where(case=IDEAL).number("gain_dbi")
    gains: list[tuple[Player, NDArray[np.float64]]] = []
    changes: list[tuple[Player, NDArray[np.float64]]] = []
    for player, rows in cast.drawn(table):
        azimuth = np.append(rows.number("azimuth_deg"), 360.0)
        gain = rows.number("gain_dbi")
        for ax, y, store in ((top, gain, gains), (low, gain - reference, changes)):
            closed = np.append(y, y[0])
            ax.plot(azimuth, closed, **player.line)
            store.append((player, closed))
    _limits(top, [y for _, y in gains], 0.3)
    _limits(low, [y for _, y in changes], 0.3)
    top.set_ylabel("gain [dBi]")
    low.set_ylabel("change [dB]")
    _heading(top, f"gain at {elevation} elevation")
    _heading(low, "the same against the ideal choke")
    low.set_xlim(0, 360)
    low.set_xticks(range(0, 361, 45))
    top.tick_params(labelbottom=False)
    low.set_xlabel(f"azimuth [°]; 0° points {_zero(cast)}")
    label_ends(top, _ends(gains), RIGHT)
    label_ends(low, _ends(changes), RIGHT)
    save(page.figure, results / "figures" / "azimuth_cut", title)


def _zero(cast: Cast) -> str:
    return generators()[cast.summary["study"]["antenna"]["type"]].azimuth_zero


def _heading(ax: Axes, text: str) -> None:
    ax.set_title(text, loc="left", size=SMALL, color=STEEL, pad=4)


def _peak(table: Table, case: str) -> tuple[float, float]:
    rows = table.where(case=case)
    k = int(np.argmax(rows.number("gain_dbi")))
    return float(rows.number("gain_dbi")[k]), float(rows.number("elevation_deg")[k])


def _lobe_title(cast: Cast, table: Table) -> str:
    """Strongest lobe without a choke, with an ideal one, and with what is furthest from that."""
    told = [(NONE, "without a choke"), (IDEAL, "with an ideal one")]
    ideal = _peak(table, IDEAL)[0]
    apart = [(abs(_peak(table, p.id)[0] - ideal), p.id) for p, _ in cast.candidates(table)]
    if apart:
        case = max(apart)[1]
        furthest = ", furthest from that" if len(apart) > 1 else ""
        told.append((case, f"with {shorten(case, 30)}{furthest}"))
    said = [
        f"{_peak(table, case)[0]:.1f} dBi at {number(_peak(table, case)[1], '.0f')}° {words}"
        for case, words in told
    ]
    return f"In the antenna's vertical plane the strongest lobe is {', '.join(said)}"


def elevation_cut(results: Path) -> None:
    """Gain from the horizon to the zenith in the antenna's own vertical plane, both sides."""
    cast, table = load_cast(results), read_table(results, "elevation_cut")
    title = _lobe_title(cast, table)
    notes = (
        Note(f"nulls deeper than {DEPTH_DB:g} dB below the strongest lobe are cut off", STEEL),
        *_how_sure(cast, "peak_gain_dbi", "the strongest lobe"),
        *cast.notes(table),
    )
    page = open_page(cast.words(title, notes), 6.1)
    sides = table.distinct("azimuth_deg")
    axes = [page.panel(LEFT, b, WIDE, 2.5) for b in (3.4, 0.5)]
    for ax, side in zip(axes, sides, strict=True):
        _elevation_side(ax, cast, table.where(azimuth_deg=side))
        words = _zero(cast) if side == sides[0] else "the other way"
        _heading(ax, f"towards azimuth {side}°: {words}")
    axes[1].set_xlabel("elevation [°]")
    axes[0].tick_params(labelbottom=False)
    save(page.figure, results / "figures" / "elevation_cut", title)


def _elevation_side(ax: Axes, cast: Cast, table: Table) -> None:
    drawn = []
    for player, rows in cast.drawn(table):
        order = np.argsort(rows.number("elevation_deg"))
        x, y = rows.number("elevation_deg")[order], rows.number("gain_dbi")[order]
        ax.plot(x, y, **player.line)
        drawn.append((player, y))
    x = table.number("elevation_deg")
    highest = max(float(y.max()) for _, y in drawn)
    ax.set_ylim(highest - DEPTH_DB, highest + 1.5)
    ax.set_xlim(float(x.min()), 90)
    ax.set_xticks(range(-90 if x.min() < -1 else 0, 91, 30 if x.min() < -1 else 15))
    ax.set_ylabel("gain [dBi]")
    label_ends(ax, _ends(drawn), RIGHT)


def _relied_on(table: Table) -> NDArray[np.bool_]:
    """Which low elevations count, shape (n,): those at which the ideal has no null.

    Nobody relies on a null, and next to one a decibel says little. At least one counts.
    """
    ideal = table.where(case=IDEAL)
    weakest = ideal.number("gain_min_dbi")
    floor = ideal.number("gain_mean_dbi").max() - MATTERS_WITHIN_DB
    return np.asarray(weakest >= min(floor, weakest.max()))


def _low_title(table: Table) -> str:
    counts = _relied_on(table)
    bare, ideal = table.where(case=NONE), table.where(case=IDEAL)
    mean = abs(bare.number("gain_mean_dbi") - ideal.number("gain_mean_dbi"))[counts].max()
    spread = [
        float((t.number("gain_max_dbi") - t.number("gain_min_dbi"))[counts].max())
        for t in (bare, ideal)
    ]
    return (
        f"No choke: mean gain at low angles within {mean:.1f} dB of the ideal; directions differ "
        f"by up to {spread[0]:.1f} dB (ideal: {spread[1]:.1f} dB)"
    )


def low_elevation(results: Path) -> None:
    """Gain at low elevations: mean of all azimuths, and the band from the worst to the best."""
    cast, table = load_cast(results), read_table(results, "low_elevation")
    title = _low_title(table)
    notes = (
        Note("line: mean of all azimuths; band: weakest to strongest", INK),
        Note(
            f"elevations at which the ideal is anywhere more than {MATTERS_WITHIN_DB:g} dB below "
            "the mean of its strongest lobe count neither in the title nor in the lower scales",
            STEEL,
        ),
        *_how_sure(cast, "horizon_gain_mean_dbi", "a mean gain here"),
        *cast.notes(table),
    )
    panels = [p for p in cast.players if p.emphasised and p.id not in (IDEAL, ALONE)]
    # What the reader has now comes first, then what is advised.
    panels.sort(key=lambda p: (p.id != NONE, p.id != cast.recommended))
    rows = (len(panels) + 1) // 2
    page = open_page(cast.words(title, notes), 2.75 + 1.75 * rows)
    whole = page.panel(LEFT, 0.6 + 1.75 * rows, WIDE, 1.85)
    drawn = []
    for player, lines in cast.drawn(table):
        mean = lines.number("gain_mean_dbi")
        whole.plot(lines.number("elevation_deg"), mean, **player.line)
        drawn.append((player, mean))
    ideal = table.where(case=IDEAL)
    x = ideal.number("elevation_deg")
    whole.fill_between(
        x, ideal.number("gain_min_dbi"), ideal.number("gain_max_dbi"), color=INK, alpha=0.12, lw=0
    )
    whole.set_xlim(0, 10)
    whole.set_ylim(bottom=max(whole.get_ylim()[0], whole.get_ylim()[1] - _DEEPEST_DB))
    whole.set_ylabel("gain [dBi]")
    _heading(whole, "mean gain of every case, and the band of the ideal choke")
    label_ends(whole, _ends(drawn), RIGHT)
    _bands(page, cast, table, panels)
    save(page.figure, results / "figures" / "low_elevation", title)


def _bands(page: Page, cast: Cast, table: Table, panels: list[Player]) -> None:
    """One small panel a case: its mean and band against the mean of the ideal choke."""
    wide, tall = (5.8 - LEFT - 0.5) / 2, 1.2
    ideal = table.where(case=IDEAL)
    reference = ideal.number("gain_mean_dbi")
    counts, rows = _relied_on(table), (len(panels) + 1) // 2
    axes, seen = [], []
    for k, player in enumerate(panels):
        place = (LEFT + (k % 2) * (wide + 0.35), 0.5 + 1.75 * (rows - 1 - k // 2))
        ax = page.panel(*place, wide, tall)
        axes.append(ax)
        for lines, colour in ((ideal, INK), (table.where(case=player.id), player.colour)):
            x = lines.number("elevation_deg")
            low, mean, high = (
                lines.number(f"gain_{n}_dbi") - reference for n in ("min", "mean", "max")
            )
            ax.fill_between(x, low, high, color=colour, alpha=0.16, lw=0)
            style = player.line["ls"] if lines is not ideal else DASHES[INK]
            ax.plot(x, mean, color=colour, lw=1.9, ls=style)
            seen += [low[counts], high[counts]]
        ax.set_title(player.name, loc="left", size=SMALL, color=player.colour, pad=4)
        ax.set_xlim(0, 10)
        if k % 2 == 0:
            ax.set_ylabel("re. ideal [dB]")
        if k >= len(panels) - 2:
            ax.set_xlabel("elevation [°]")
    # Never less than a decibel either way: a tenth drawn large looks like a finding.
    bottom = min(-1.0, 1.1 * float(np.min(seen)))
    top = max(1.0, 1.1 * float(np.max(seen)))
    for k, ax in enumerate(axes):
        ax.set_ylim(bottom, top)
        ax.tick_params(labelleft=k % 2 == 0)
