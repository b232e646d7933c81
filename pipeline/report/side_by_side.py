"""Several studies of one run beside each other: pattern, band and cable current in one figure set.

Results folders in, drawn from their stored tables only; a folder with figures, a table and one page
out.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from models.antennas import generators
from models.lengths import axis_unit
from pipeline.figures.data import IDEAL, NONE, Cast, Table, load_cast, read_table
from pipeline.figures.line import FLOOR, percent_axis
from pipeline.figures.style import (
    BRICK,
    DASHES,
    FERN,
    INK,
    OCHRE,
    PLUM,
    SEA,
    SMALL,
    STEEL,
    Note,
    Page,
    Words,
    length_axis,
    open_page,
    save,
    shorten,
    style,
    wrap,
)
from pipeline.report.page import page_environment, read_picture, style_sheet
from pipeline.runtime.csv_tables import write_table
from pipeline.runtime.store import write_text
from pipeline.text.formatting import megahertz, percent, plain

CAPTIONS = {
    "overlay": (
        "All of them on the same axes, each with the choke that its own report recommends, or "
        "with an ideal one where none is needed."
    ),
    "pattern": "Gain over elevation towards azimuth zero of each installation.",
    "band": "SWR at the antenna over each study's own band.",
    "shield_current": "Current on the outside of the cable, per feed current, on its way down.",
}
# Room of one panel with its heading and the numbers of its axes. [inch]
_TALL, _ROW, _WIDE, _LEFT, _COLUMN = 1.25, 2.25, 2.0, 0.7, 2.82
# Gain further below is of no use to anybody. [dBi]
_LEAST_DBI = -15.0
# More curves than these on the same axes cannot be told apart.
_COLOURS = (BRICK, SEA, INK, OCHRE, PLUM, FERN)
# Numbers that the page sets against each other, and what a reader sees them in.
_COMPARED = (
    "swr_feed",
    "horizon_gain_mean_dbi",
    "peak_gain_dbi",
    "shield_current_ratio_max",
    "station_current_ratio",
)


@dataclass(frozen=True)
class Entry:
    """One study of the comparison: its name there, its cases, the one that is "with a choke"."""

    name: str
    cast: Cast

    @property
    def chosen(self) -> str:
        """The recommended case; the ideal choke where none is needed."""
        return IDEAL if self.cast.recommended == NONE else self.cast.recommended

    @property
    def remark(self) -> str:
        """Why a panel may not be believed, if so."""
        grades = {c: self.cast.player(c).grade for c in (NONE, self.chosen)}
        return "; unsound, do not rely on it" if "unsound" in grades.values() else ""

    @property
    def title(self) -> str:
        """The study's own title."""
        return plain(str(self.cast.summary["study"]["title"]))

    def lines(self, table: Table) -> list[tuple[str, Table]]:
        """Rows of a table without and with a choke, each with its colour."""
        with_one = INK if self.chosen == IDEAL else SEA
        return [
            (colour, table.where(case=case))
            for case, colour in ((NONE, BRICK), (self.chosen, with_one))
        ]


def entries_of(results: list[Path]) -> list[Entry]:
    """The studies named by antenna and frequency, and by their own name where that is not enough.

    ``results`` are their results folders.
    """
    casts = [load_cast(path) for path in results]
    names = [
        f"{generators()[c.summary['study']['antenna']['type']].title.split(' ', 1)[1]}, "
        f"{megahertz(c.frequency)}"
        for c in casts
    ]
    return [
        Entry(name if names.count(name) == 1 else f"{name} ({c.summary['study']['name']})", c)
        for name, c in zip(names, casts, strict=True)
    ]


def rows_of(entries: list[Entry]) -> list[dict[str, Any]]:
    """The comparison as a table, one row a study."""
    rows = []
    for entry in entries:
        cast, chosen = entry.cast, entry.chosen
        study = cast.summary["study"]
        label = cast.player(cast.recommended).label
        row: dict[str, Any] = {
            "study": study["name"],
            "antenna": study["antenna"]["type"],
            "frequency_hz": cast.frequency,
            "choke": "none needed" if chosen == IDEAL else label,
            "effect_of_the_bare_cable": cast.summary["verdict"]["effect_none"],
        }
        for column in (
            *("r_ohm", "x_ohm", "swr_feed", "horizon_gain_mean_dbi", "peak_gain_dbi"),
            *("shield_current_ratio_max", "station_current_ratio"),
        ):
            row[f"{column}_without"] = cast.value(NONE, column)
            row[f"{column}_with"] = cast.value(chosen, column)
        row["grade_without"] = cast.player(NONE).grade
        row["grade_with"] = cast.player(chosen).grade
        rows.append(row)
    return rows


def _title_lines(entry: Entry) -> str:
    said = f"{shorten(entry.title, 60)}: {entry.name}{entry.remark}"
    return "\n".join(wrap(said, _WIDE + 0.3, SMALL))


def _panels(page: Page, entries: list[Entry]) -> list[Axes]:
    count = (len(entries) + 1) // 2
    axes = []
    for k, entry in enumerate(entries):
        row, column = divmod(k, 2)
        bottom = 0.5 + _ROW * (count - 1 - row)
        ax = page.panel(_LEFT + _COLUMN * column, bottom, _WIDE, _TALL)
        ax.set_title(_title_lines(entry), loc="left", size=SMALL, color=STEEL, pad=4)
        axes.append(ax)
    return axes


def _open(entries: list[Entry], title: str, notes: tuple[Note, ...]) -> Page:
    colours: tuple[Note, ...] = (
        Note("without a choke", BRICK, DASHES[BRICK]),
        Note("with the choke that its own report recommends", SEA, DASHES[SEA]),
    )
    if any(e.chosen == IDEAL for e in entries):
        ideal = Note("with an ideal choke, where none is needed", INK, DASHES[INK])
        colours = (*colours, ideal)
    said = Words(title, (*colours, *notes), "evidence: in each study's own report", "Braidwise")
    return open_page(said, 0.2 + _ROW * ((len(entries) + 1) // 2))


def _pattern(entries: list[Entry], folder: Path) -> None:
    peaks = {
        e.name: max(e.cast.value(case, "peak_gain_dbi") for case in (NONE, e.chosen))
        for e in entries
    }
    best = max(peaks, key=lambda name: peaks[name])
    title = f"Strongest lobe of all: {peaks[best]:.1f} dBi, the {best}"
    note = Note(f"what lies below {_LEAST_DBI:g} dBi is not shown".replace("-", "−"), STEEL)
    page = _open(entries, title, (note,))
    for entry, ax in zip(entries, _panels(page, entries), strict=True):
        table = read_table(entry.cast.results, "elevation_cut")
        side = table.distinct("azimuth_deg")[0]
        for colour, rows in entry.lines(table.where(azimuth_deg=side)):
            order = np.argsort(rows.number("elevation_deg"))
            x, y = rows.number("elevation_deg")[order], rows.number("gain_dbi")[order]
            ax.plot(x, np.maximum(y, _LEAST_DBI), color=colour, ls=DASHES[colour], lw=1.5)
        ax.set_xlim(0, 90)
        ax.set_ylim(_LEAST_DBI, max(10.0, max(peaks.values()) + 1))
        ax.set_xticks(range(0, 91, 30))
        ax.set_ylabel("gain [dBi]", size=SMALL)
        ax.set_xlabel("elevation [°]", size=SMALL, labelpad=1)
    save(page.figure, folder / "pattern", title)


def _band(entries: list[Entry], folder: Path) -> None:
    swr = {e.name: e.cast.value(NONE, "swr_feed") for e in entries}
    good = sum(value <= 1.5 for value in swr.values())
    title = f"{good} of {len(swr)} are matched within SWR 1.5 at their frequency, bare cable"
    page = _open(entries, title, ())
    for entry, ax in zip(entries, _panels(page, entries), strict=True):
        table = read_table(entry.cast.results, "band")
        top = 2.0
        for colour, rows in entry.lines(table):
            x, y = rows.number("frequency_hz") / 1e6, rows.number("swr_feed")
            ax.plot(x, y, color=colour, ls=DASHES[colour], lw=1.5)
            ax.set_xlim(x.min(), x.max())
            top = max(top, float(y.max()))
        ax.axvline(entry.cast.frequency / 1e6, color=STEEL, lw=0.8, ls=":")
        ax.set_ylim(1, min(1.05 * top, 6))
        ax.ticklabel_format(useOffset=False)
        ax.xaxis.set_major_locator(MaxNLocator(4))
        ax.set_ylabel("SWR", size=SMALL)
        ax.set_xlabel("frequency [MHz]", size=SMALL, labelpad=1)
    save(page.figure, folder / "band", title)


def _shield_current(entries: list[Entry], folder: Path) -> None:
    most = {e.name: e.cast.value(NONE, "shield_current_ratio_max") for e in entries}
    worst, least = (pick(most, key=lambda name: most[name]) for pick in (max, min))
    title = (
        f"Most on a bare cable: {percent(most[worst])}, the {worst}; "
        f"least: {percent(most[least])}, the {least}"
    )
    note = Note(f"logarithmic scale; what lies below {percent(FLOOR)} is not shown", STEEL)
    page = _open(entries, title, (note,))
    for entry, ax in zip(entries, _panels(page, entries), strict=True):
        table = read_table(entry.cast.results, "shield_current")
        for colour, rows in entry.lines(table):
            x, y = rows.number("position_m"), rows.number("current_ratio")
            ax.plot(x, np.maximum(y, FLOOR / 10), color=colour, ls=DASHES[colour], lw=1.3)
        ax.set_xlim(0, float(table.where(case=NONE).number("position_m").max()))
        percent_axis(ax, max(most.values()))
        ax.set_ylabel("share of feed", size=SMALL)
        length_axis(ax.xaxis, "along the cable")
        ax.xaxis.label.set_fontsize(SMALL)
        ax.xaxis.labelpad = 1
    save(page.figure, folder / "shield_current", title)


def _overlay(entries: list[Entry], folder: Path) -> None:
    """Pattern, match and cable current of all studies on the same axes, each with its choke."""
    best = max(entries, key=lambda e: e.cast.value(e.chosen, "horizon_gain_mean_dbi"))
    title = (
        f"With its choke the most gain in the lowest lobe: "
        f"{best.cast.value(best.chosen, 'horizon_gain_mean_dbi'):.1f} dBi, {best.title}"
    )
    notes = tuple(
        Note(f"{e.title}: {e.name}{e.remark}", colour, DASHES[colour])
        for e, colour in zip(entries, _COLOURS, strict=False)
    )
    page = open_page(Words(title, notes, "evidence: in each study's own report", "Braidwise"), 6.5)
    places = (4.62, 2.52, 0.45)
    axes = [page.panel(_LEFT, bottom, 4.85, 1.5) for bottom in places]
    for entry, colour in zip(entries, _COLOURS, strict=False):
        tables = (_elevation(entry), _match(entry), _along(entry))
        for ax, (x, y) in zip(axes, tables, strict=True):
            ax.plot(x, y, color=colour, ls=DASHES[colour], lw=1.5)
    gain, match, current = axes
    gain.set_xlim(0, 90)
    gain.set_ylim(bottom=_LEAST_DBI)
    match.set_ylim(1, min(match.get_ylim()[1], 6))
    current.set_xlim(left=0)
    length_axis(current.xaxis)
    percent_axis(current, max(float(np.max(_along(e)[1])) for e in entries))
    for ax, below, beside in (
        (gain, "elevation [°]", "gain [dBi]"),
        (match, "off the design frequency [%]", "SWR"),
        (current, f"along the cable [{axis_unit()[0]}]", "share of feed"),
    ):
        ax.set_xlabel(below, size=SMALL, labelpad=1)
        ax.set_ylabel(beside, size=SMALL)
    save(page.figure, folder / "overlay", title)


def _elevation(entry: Entry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    table = read_table(entry.cast.results, "elevation_cut").where(case=entry.chosen)
    rows = table.where(azimuth_deg=table.distinct("azimuth_deg")[0])
    order = np.argsort(rows.number("elevation_deg"))
    gain = np.maximum(rows.number("gain_dbi")[order], _LEAST_DBI)
    return rows.number("elevation_deg")[order], gain


def _match(entry: Entry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows = read_table(entry.cast.results, "band").where(case=entry.chosen)
    off = 100 * (rows.number("frequency_hz") / entry.cast.frequency - 1)
    return off, rows.number("swr_feed")


def _along(entry: Entry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows = read_table(entry.cast.results, "shield_current").where(case=entry.chosen)
    return rows.number("position_m"), np.maximum(rows.number("current_ratio"), FLOOR / 10)


def differences(rows: list[dict[str, Any]]) -> dict[str, float]:
    """Second study less the first, for every number that the page compares, in its own unit.

    ``rows`` are those of :func:`rows_of`; nothing where they are not two.
    """
    if len(rows) != 2:
        return {}
    names = [f"{column}_{which}" for column in _COMPARED for which in ("without", "with")]
    return {name: rows[1][name] - rows[0][name] for name in names}


def headline(rows: list[dict[str, Any]]) -> str:
    """What the comparison says in one sentence."""
    chokes = sum(row["choke"] != "none needed" for row in rows)
    if not chokes:
        return f"None of these {len(rows)} cables needs a choke."
    if chokes == len(rows):
        every = "Both" if len(rows) == 2 else f"All {len(rows)}"
        return f"{every} cables are better off with a choke."
    return f"{chokes} of {len(rows)} cables are better off with a choke."


def compare_studies(results: list[Path], folder: Path) -> None:
    """Write table, figures and page of a comparison.

    Parameters
    ----------
    results : list of Path
        Results folders of the studies, in the order in which they are shown.
    folder : Path
        Where the comparison goes.

    Raises
    ------
    ResultError
        If a result is missing or damaged.
    """
    entries = entries_of(results)
    rows = rows_of(entries)
    write_table(folder / "compared.csv", rows)
    overlaid = 2 <= len(entries) <= len(_COLOURS)
    with style():
        for draw in (*([_overlay] if overlaid else []), _pattern, _band, _shield_current):
            draw(entries, folder)
    css, digest = style_sheet()
    shown_figures = {k: said for k, said in CAPTIONS.items() if overlaid or k != "overlay"}
    pictures = [read_picture(folder / f"{name}.svg", said) for name, said in shown_figures.items()]
    shown = [
        {"entry": plain(e.name), "title": e.title, **row}
        for e, row in zip(entries, rows, strict=True)
    ]
    template = page_environment().get_template("compared.html.j2")
    text = template.render(
        css=css,
        digest=digest,
        rows=shown,
        difference=differences(rows),
        pictures=pictures,
        headline=headline(rows),
    )
    write_text(folder / "compared.html", text)
