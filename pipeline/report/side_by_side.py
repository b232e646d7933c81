"""Several studies of one run beside each other: what is compared, as a table and as one page.

Results folders in, drawn from their stored tables only; a folder with figures, a table and one page
out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from models.antennas import generators
from pipeline.answer.phrases import hundredths
from pipeline.figures.compared import PAGE as FIGURES
from pipeline.figures.compared import Entry
from pipeline.figures.data import load_cases
from pipeline.figures.registry import draw_page
from pipeline.report.answer_rows import chance_words
from pipeline.report.html import page_text
from pipeline.report.pictures import read_pictures
from pipeline.runtime.csv_tables import write_table
from pipeline.runtime.store import write_text
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import in_words, megahertz, plain, sentence_case

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
        study, answer = cases.summary["study"], cases.summary["answer"]
        taken, bare = cases.candidate(cases.chosen), cases.candidate(NONE)
        label = cases.of(cases.chosen).label
        row: dict[str, Any] = {
            "study": study["name"],
            "antenna": study["antenna"]["type"],
            "frequency_hz": cases.frequency,
            "headline": answer["headline"],
            "choke": label if chosen != IDEAL else "none needed" if answer["enough"] else "none",
            "is_enough": "yes" if answer["enough"] else "no",
            "enough": taken["enough"],
            "enough_error": taken["enough_error"],
            "enough_without": bare["enough"],
            "standing_without": bare["standing"],
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
    """The comparison in one sentence: how many need nothing, and where nothing is enough."""
    count = len(rows)
    enough = [row for row in rows if row["is_enough"] == "yes"]
    bare = sum(row["choke"] == "none needed" for row in enough)
    with_one, short = len(enough) - bare, count - len(enough)
    parts = [
        (bare, "no choke is needed"),
        (with_one, "a choke is enough"),
        (short, "nothing that was tried is enough"),
    ]
    said = [f"on {_of(n, count)} {words}" for n, words in parts if n]
    return f"{sentence_case('; '.join(said))}."


def _of(part: int, count: int) -> str:
    """So many of so many cables."""
    if part < count:
        return f"{in_words(part)} of {in_words(count)} cables"
    return {1: "this cable", 2: "both cables"}.get(count, f"all {in_words(count)} cables")


def compare_studies(results: list[Path], folder: Path) -> None:
    """Write table, figures and page of studies, in the order of their results folders."""
    entries = entries_of(results)
    rows = rows_of(entries)
    write_table(folder / "compared.csv", rows)
    draw_page(FIGURES, folder, entries)
    shown = [
        {
            "entry": plain(e.name),
            "title": e.title,
            "chance": chance_words(row["enough"], row["enough_error"]),
            "without": hundredths(row["enough_without"]),
            **row,
        }
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
