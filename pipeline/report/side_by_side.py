"""Several studies of one run beside each other: what is compared, as a table and as one page.

Results folders in, drawn from their stored tables only; a folder with figures, a table and one page
out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from models.antennas import generators
from pipeline.figures.compared import PAGE as FIGURES
from pipeline.figures.compared import Entry
from pipeline.figures.data import load_cases
from pipeline.figures.registry import draw_page
from pipeline.report.html import page_text, read_pictures
from pipeline.runtime.csv_tables import write_table
from pipeline.runtime.store import write_text
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import megahertz, plain

# Numbers that the page sets against each other, and what a reader sees them in.
_COMPARED = (
    "swr_feed",
    "horizon_gain_mean_dbi",
    "peak_gain_dbi",
    "shield_current_ratio_max",
    "station_current_ratio",
)


def entries_of(results: list[Path]) -> list[Entry]:
    """The studies named by antenna and frequency, and by their own name where that is not enough.

    ``results`` are their results folders.
    """
    studies = [load_cases(path) for path in results]
    names = [
        f"{generators()[c.summary['study']['antenna']['type']].title.split(' ', 1)[1]}, "
        f"{megahertz(c.frequency)}"
        for c in studies
    ]
    return [
        Entry(name if names.count(name) == 1 else f"{name} ({c.summary['study']['name']})", c)
        for name, c in zip(names, studies, strict=True)
    ]


def rows_of(entries: list[Entry]) -> list[dict[str, Any]]:
    """The comparison as a table, one row a study."""
    rows = []
    for entry in entries:
        cases, chosen = entry.cases, entry.chosen
        study = cases.summary["study"]
        label = cases.of(cases.recommended).label
        row: dict[str, Any] = {
            "study": study["name"],
            "antenna": study["antenna"]["type"],
            "frequency_hz": cases.frequency,
            "choke": "none needed" if chosen == IDEAL else label,
            "effect_of_the_bare_cable": cases.summary["verdict"]["effect_none"],
        }
        for column in (
            *("r_ohm", "x_ohm", "swr_feed", "horizon_gain_mean_dbi", "peak_gain_dbi"),
            *("shield_current_ratio_max", "station_current_ratio"),
        ):
            row[f"{column}_without"] = cases.value(NONE, column)
            row[f"{column}_with"] = cases.value(chosen, column)
        row["grade_without"] = cases.of(NONE).grade
        row["grade_with"] = cases.of(chosen).grade
        rows.append(row)
    return rows


def differences(rows: list[dict[str, Any]]) -> dict[str, float]:
    """Second study less the first, for every number that the page compares, in its own unit.

    ``rows`` are those of :func:`rows_of`; nothing where they are not two.
    """
    if len(rows) != 2:
        return {}
    names = [f"{column}_{which}" for column in _COMPARED for which in ("without", "with")]
    return {name: rows[1][name] - rows[0][name] for name in names}


def headline(rows: list[dict[str, Any]]) -> str:
    """The comparison in one sentence."""
    chokes = sum(row["choke"] != "none needed" for row in rows)
    if not chokes:
        return f"None of these {len(rows)} cables needs a choke."
    if chokes == len(rows):
        every = "Both" if len(rows) == 2 else f"All {len(rows)}"
        return f"{every} cables are better off with a choke."
    return f"{chokes} of {len(rows)} cables are better off with a choke."


def compare_studies(results: list[Path], folder: Path) -> None:
    """Write table, figures and page of studies, in the order of their results folders."""
    entries = entries_of(results)
    rows = rows_of(entries)
    write_table(folder / "compared.csv", rows)
    draw_page(FIGURES, folder, entries)
    shown = [
        {"entry": plain(e.name), "title": e.title, **row}
        for e, row in zip(entries, rows, strict=True)
    ]
    text = page_text(
        "compared",
        read_pictures(folder, FIGURES),
        rows=shown,
        difference=differences(rows),
        headline=headline(rows),
    )
    write_text(folder / "compared.html", text)
