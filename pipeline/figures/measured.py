"""Figure of a measured antenna laid over the computed one; drawn only where there is one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from pipeline.figures.data import Cast, Table, load_cast, read_table
from pipeline.figures.style import (
    BRICK,
    DASHES,
    INK,
    PAPER,
    SEA,
    SMALL,
    SOLID,
    STEEL,
    EndLabel,
    Note,
    label_ends,
    open_page,
    save,
)

_LEFT, _RIGHT = 0.66, 1.32
_WIDE = 5.8 - _LEFT - _RIGHT
_KINDS = (
    ("r_ohm", "R [Ω]", "resistance at the antenna"),
    ("x_ohm", "X [Ω]", "reactance at the antenna"),
    ("swr_feed", "SWR", "SWR at the antenna"),
)
_CURVES: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("computed", "computed", {"color": INK, "lw": 1.9, "ls": SOLID}),
    ("measured", "measured", {"color": BRICK, "lw": 1.9, "ls": DASHES[SEA]}),
    ("measured, shifted", "measured, shift taken out", {"color": SEA, "lw": 1.1, "ls": "--"}),
)
# Nobody reads an SWR beyond this, or an impedance where the match is that bad.
_HIGHEST_SWR = 6.0


def _notes(summary: dict[str, Any], curves: list[str]) -> tuple[Note, ...]:
    data = summary["measured"]
    notes = [
        Note(f"computed: case {data['case']}; shaded: its 95 % interval", INK, SOLID),
        Note(f"measured: {data['file']}, at the {data['at']}", BRICK, DASHES[SEA]),
    ]
    if data["at"] == "radio":
        notes.append(
            Note("moved to the antenna through the line: R and X are a rough guide only", BRICK)
        )
    if "measured, shifted" in curves and abs(data["offset"]) > 0:
        percent = f"{100 * data['offset']:+.2f} %".replace("-", "−")
        notes.append(Note(f"dashed: measured, with its shift of {percent} taken out", SEA))
    return tuple(notes)


def measured(results: Path) -> None:
    """Resistance, reactance and SWR as computed, as measured, and measured with the shift out."""
    cast, table = load_cast(results), read_table(results, "measured_antenna")
    title = str(cast.summary["measured"]["headline"])
    present = table.distinct("curve")
    page = open_page(cast.words(title, _notes(cast.summary, present)), 0.4 + 1.9 * len(_KINDS))
    for k, (column, unit, heading) in enumerate(_KINDS):
        ax = page.panel(_LEFT, 0.5 + 1.9 * (len(_KINDS) - 1 - k), _WIDE, 1.55)
        _draw(ax, cast, table, column)
        ax.set_ylabel(unit)
        ax.set_title(heading, loc="left", size=SMALL, color=STEEL, pad=4)
        ax.tick_params(labelbottom=k == len(_KINDS) - 1)
    ax.set_xlabel("frequency [MHz]")
    save(page.figure, results / "figures" / "measured", title)


def _draw(ax: Axes, cast: Cast, table: Table, column: str) -> None:
    """One quantity of all curves over the measured and computed frequencies."""
    ends: list[EndLabel] = []
    ax.set_xlim(*_span(table))
    ax.set_ylim(*_limits(table, column))
    for name, label, line in _CURVES:
        rows = table.where(curve=name)
        if not len(rows):
            continue
        x, y = rows.number("frequency_hz") / 1e6, rows.number(column)
        ax.plot(x, y, gid=f"curve-{name}", **line)
        if name == "computed":
            ax.fill_between(x, *rows.ends(column), color=line["color"], alpha=0.16, lw=0)
        right = ax.get_xlim()[1]
        if x[-1] < right - 1e-6:
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
        else:
            ends.append(EndLabel(float(np.interp(right, x, y)), label, line["color"]))
    ax.axvline(cast.frequency / 1e6, color=STEEL, lw=0.8, ls=":")
    ax.ticklabel_format(useOffset=False)
    ax.xaxis.set_major_locator(MaxNLocator(5))
    label_ends(ax, ends, _RIGHT)


def _span(table: Table) -> tuple[float, float]:
    """The computed band and the best match of every curve, with room, as far as measured."""
    every = table.number("frequency_hz") / 1e6
    band = table.where(curve="computed").number("frequency_hz") / 1e6
    shown = [float(band[0]), float(band[-1])]
    for name in table.distinct("curve"):
        rows = table.where(curve=name)
        best = int(np.argmin(rows.number("swr_feed")))
        if 0 < best < len(rows) - 1:
            shown.append(float(rows.number("frequency_hz")[best] / 1e6))
    low, high = min(shown), max(shown)
    room = max(0.3 * (high - low), 0.6 * float(band[-1] - band[0]))
    return max(float(every.min()), low - room), min(float(every.max()), high + room)


def _shown(table: Table) -> NDArray[np.bool_]:
    low, high = _span(table)
    f = table.number("frequency_hz") / 1e6
    return (f >= low - 1e-6) & (f <= high + 1e-6)


def _limits(table: Table, column: str) -> tuple[float, float]:
    """Room for all that belongs to a match; what lies beyond leaves the axes."""
    if column == "swr_feed":
        ends = table.where(curve="computed").ends(column)
        most = np.concatenate([table.number(column)[_shown(table)], ends[1]]).max()
        return 1.0, max(1.2, 1.03 * min(float(most), _HIGHEST_SWR))
    useful = table.number(column)[_shown(table) & (table.number("swr_feed") <= _HIGHEST_SWR)]
    computed = table.where(curve="computed").ends(column)
    values = np.concatenate([useful, *computed])
    low, high = float(values.min()), float(values.max())
    room = 0.06 * max(high - low, 1.0)
    return low - room, high + room
