"""The report of a study, made from its stored results, and the page of limits beside it.

A results folder in (summary, tables, figures), ``report.html`` and ``limits.html`` out. The answer
stands above the first picture; all else is folded under the question that it answers. Limits of
grades are taken from the code that grades, what was measured once from ``known_limits.csv``.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from models.catalogues.core_curves import scatters
from models.site.earth import STAR_ARM, STAR_ARMS, STAR_HEIGHT
from models.site.feedline_route import LOWEST_RUN
from models.wires.segmentation import MAX_WAVELENGTHS_PER_SEGMENT, MIN_LENGTH_PER_RADIUS
from pipeline.answer.stored_summary import read_summary
from pipeline.figures.data import read_table
from pipeline.figures.registry import REPORT, figures_of
from pipeline.live.embedding import Live, live_of
from pipeline.mesh.evidence import LIMITS
from pipeline.report.answer_rows import answer_rows, core_rows_in_print
from pipeline.report.html import Picture, cell, page_text, read_picture
from pipeline.runtime.store import write_text
from pipeline.study.sections.antenna_and_cable import HIGHEST_FREQUENCY, LOWEST_FREQUENCY


def swr_rises(bare: dict[str, Any], chosen: dict[str, Any]) -> bool:
    """Whether the SWR at the antenna with the advised choke reads higher in print than without.

    A choke only takes the cable out of the antenna, so what rises is a match that the cable's
    current was a part of.

    Examples
    --------
    >>> ends = {"interval_95": {"swr_feed": [1.0, 1.4]}}
    >>> swr_rises({"swr": 1.2, **ends}, {"swr": 1.31, **ends})
    True
    >>> swr_rises({"swr": 1.2, **ends}, {"swr": 1.201, **ends})
    False
    """
    before, after = (cell(case, "swr_feed", case["swr"]).value for case in (bare, chosen))
    return float(after) > float(before)


@dataclass(frozen=True)
class Fold:
    """One question below the first picture, with what stands under it.

    ``answers`` is the question of the answer's own whose text comes first, ``template`` what
    follows, ``needs`` the part of the page's data without which there is none of that. Figures
    are those of the section ``id``, before the template unless ``figures_last``. One that
    ``is_wide`` holds a table that wants a sheet sideways.
    """

    id: str
    question: str
    answers: str = ""
    template: str = ""
    needs: str = ""
    is_wide: bool = False
    figures_last: bool = False


FOLDS = (
    Fold("many", "How many?", "How many?"),
    Fold("place", "Where?", "Where?"),
    Fold("sure", "How sure is this, and what would change it?", "How sure?", "causes"),
    Fold("described", "What would it be as described?", "As described?", "described", is_wide=True),
    Fold("avoid", "What to avoid, and why?", "", "avoid", figures_last=True),
    Fold("cost", "What does it cost?", "What does it cost?"),
    Fold("else", "What else would do?", "What else would do?", "instead", "instead"),
    Fold("candidates", "All candidates", "", "candidates", is_wide=True),
    Fold("pattern", "Pattern"),
    Fold("band", "Match over the band", "", "measured", "measured"),
    Fold("use", "Heat, noise, other cables", "", "in_use", "use"),
    Fold(
        "exposure", "Exposure: how far to keep away?", "", "exposure", "exposed", figures_last=True
    ),
    Fold("checked", "How was it checked?", "What did the checks say?", "checked"),
    Fold("assumed", "What was understood and assumed?", "", "installation"),
    Fold("safety", "All cautions", "", "safety"),
    Fold("files", "Files for re-use", "", "files"),
)


@dataclass(frozen=True)
class OpenFold:
    """A fold as a page shows it: its text, and the file of what follows, each empty without."""

    id: str
    question: str
    text: str
    template: str
    is_wide: bool
    figures_last: bool


def folds_of(
    answer: Mapping[str, Any], pictures: Sequence[Picture], parts: Mapping[str, Any]
) -> list[OpenFold]:
    """Folds that hold anything: a text, a part of the page's data, or a figure."""
    drawn = {picture.section for picture in pictures}
    found = []
    for fold in FOLDS:
        text = answer["questions"].get(fold.answers, "")
        has_part = bool(fold.template) and (not fold.needs or bool(parts.get(fold.needs)))
        template = f"{fold.template}.html.j2" if has_part else ""
        if text or template or fold.id in drawn:
            shown = (fold.id, fold.question, text, template)
            found.append(OpenFold(*shown, fold.is_wide, fold.figures_last))
    return found


def _links(results: Path, study: str) -> list[tuple[str, str]]:
    """Files for re-use as (path from the page, what it is), those that are there."""
    wanted = [
        ("summary.json", "everything below as data"),
        ("tables/", "one CSV a figure"),
        ("figures/", "figures as PNG and SVG"),
        (f"{study}.nc", "labelled arrays (netCDF)"),
        ("touchstone/", "feed point and radio end of every case (Touchstone)"),
        ("decks/", "NEC-2 card deck of every geometry"),
        ("geometry/", "wires and ports of every geometry"),
    ]
    return [(path, what) for path, what in wanted if (results / path).exists()]


def page(
    summary: dict[str, Any],
    pictures: list[Picture],
    links: list[tuple[str, str]],
    cores: Mapping[str, Any],
    live: Live | None = None,
) -> str:
    """The report as text; ``links`` are files beside the page and what they are.

    ``cores`` are those of the catalogue as they are printed (:func:`core_rows_in_print`), ``live``
    is what makes the page compute.
    """
    cases = {case["id"]: case for case in summary["cases"]}
    answer = summary["answer"]
    chosen, bare = cases[answer["chosen"]], cases["none"]
    exposed = {c["case"]: c for c in summary.get("exposure", {}).get("cases", [])}
    rows = answer_rows(answer)
    parts = {
        **rows,
        "cores": cores,
        "use": summary.get("in_use"),
        "exposed": exposed,
        "measured": summary.get("measured"),
    }
    return page_text(
        "report",
        pictures,
        live,
        summary=summary,
        answer=answer,
        headline=answer["headline"],
        study=summary["study"],
        chosen=chosen,
        bare=bare,
        swr_rises=swr_rises(bare, chosen),
        above=[p for p in exposed.get(chosen["id"], {}).get("people", []) if p["above"]],
        unsound=[c for c in summary["cases"] if c["evidence"]["grade"] == "unsound"],
        folds=folds_of(answer, pictures, parts),
        links=links,
        **parts,
    )


def build_report(results: Path) -> None:
    """Write ``report.html`` into a results folder."""
    summary = read_summary(results)
    pictures = [
        read_picture(results / "figures" / f"{name}.svg", each.caption, each.section)
        for name, each in figures_of(REPORT).items()
        if each.is_shown(results, summary)
    ]
    links = _links(results, summary["study"]["name"])
    cores = core_rows_in_print(read_table(results, "cores"))
    write_text(results / "report.html", page(summary, pictures, links, cores, live_of(results)))


# The page of limits beside a report.
PAGE = "limits.html"


@dataclass(frozen=True)
class Bound:
    """A limit that a test keeps: what it is of, its value, what was measured, and by which test."""

    name: str
    value: float
    measured: str
    statement: str
    file: str


@cache
def bounds() -> dict[str, Bound]:
    """Limits that were measured once, in the order in which the page shows them.

    Page and tests read the same table, so that a limit is loosened in both or in neither.
    """
    text = (files("pipeline.report") / "known_limits.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return {
        r["name"]: Bound(r["name"], float(r["value"]), r["measured"], r["statement"], r["file"])
        for r in rows
    }


def limits_page() -> str:
    """What NEC-2 and this project cannot do, the same for every study."""
    return page_text(
        "limits",
        limits=LIMITS,
        bounds=bounds(),
        numbers={name: k for k, name in enumerate(bounds(), start=1)},
        star=(STAR_ARMS, STAR_ARM, STAR_HEIGHT),
        lowest_run=LOWEST_RUN,
        wavelengths_per_segment=MAX_WAVELENGTHS_PER_SEGMENT,
        radii_per_segment=MIN_LENGTH_PER_RADIUS,
        frequencies=(LOWEST_FREQUENCY, HIGHEST_FREQUENCY),
        ferrite_spread=(min(s.low for s in scatters()), max(s.high for s in scatters())),
    )


def write_limits(results: Path) -> None:
    """Write the page of limits into a results folder."""
    write_text(results / PAGE, limits_page())
