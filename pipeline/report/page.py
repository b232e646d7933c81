"""The report of a study, made from its stored results, and the page of limits beside it.

A results folder in (summary, tables, figures), ``report.html`` and ``limits.html`` out. The answer
stands on the first screen; all else is folded under the question that it answers. Limits of
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

from models.catalogues.core_curves import spread_of_readings
from models.site.earth import STAR_ARM, STAR_ARMS, STAR_HEIGHT
from models.site.feedline_route import LOWEST_RUN
from models.wires.segmentation import MAX_WAVELENGTHS_PER_SEGMENT, MIN_LENGTH_PER_RADIUS
from pipeline.answer.stored_summary import read_summary
from pipeline.figures.data import read_table
from pipeline.figures.registry import REPORT, figures_of
from pipeline.live.embedding import Live, live_of
from pipeline.mesh.evidence import LIMITS
from pipeline.report.answer_rows import answer_rows, core_rows_in_print
from pipeline.report.first_pictures import FirstPictures, first_pictures
from pipeline.report.html import cell, page_text
from pipeline.report.pictures import Picture, read_picture
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
    """One question below the first screen, with what stands under it.

    ``said`` is the part of the answer whose sentence comes first, ``answers`` the question of the
    answer's own whose text follows, then comes ``template``, where ``needs``, a part of the page's
    data, is there. ``live`` names the place for what the page's script draws. Figures are those of
    the section ``id``, before the template unless ``figures_last``. What ``is_live`` is nothing
    without the script.
    """

    id: str
    question: str
    said: str = ""
    answers: str = ""
    template: str = ""
    needs: str = ""
    live: str = ""
    is_live: bool = False
    figures_last: bool = False


FOLDS = (
    Fold("why", "Why?", said="why", template="terms"),
    Fold("many", "How many?", answers="How many?"),
    Fold("place", "Where?", answers="Where?"),
    Fold(
        "sure",
        "How sure is this, and what would change it?",
        answers="How sure?",
        template="causes",
    ),
    Fold(
        "described",
        "What would it be exactly as described?",
        answers="As described?",
        template="described",
    ),
    Fold("avoid", "What to avoid, and why?", said="avoid", template="avoid", figures_last=True),
    Fold("cost", "What does it cost?", answers="What does it cost?"),
    Fold(
        "else",
        "What else would do?",
        answers="What else would do?",
        template="instead",
        needs="instead",
    ),
    Fold("candidates", "What was tried?", template="candidates"),
    Fold("pattern", "What becomes of the pattern?", live="solid"),
    Fold(
        "band",
        "What becomes of the match over the band?",
        template="measured",
        needs="measured",
        live="band",
    ),
    Fold(
        "use",
        "How warm, how noisy, and would another cable do better?",
        template="in_use",
        needs="use",
    ),
    Fold(
        "exposure",
        "Exposure: how far to keep away?",
        template="exposure",
        needs="exposed",
        figures_last=True,
    ),
    Fold("checked", "How was it checked?", answers="What did the checks say?", template="checked"),
    Fold("assumed", "What was understood and assumed?", template="installation"),
    Fold("safety", "What can hurt?", template="safety"),
    Fold("keep", "How do I keep or pass on what I have set?", live="share", is_live=True),
    Fold("files", "Which files are there for re-use?", template="files"),
)


@dataclass(frozen=True)
class OpenFold:
    """A fold as a page shows it: its texts, and the file of what follows, empty without."""

    fold: Fold
    texts: tuple[str, ...]
    template: str


def folds_of(
    answer: Mapping[str, Any], pictures: Sequence[Picture], parts: Mapping[str, Any]
) -> list[OpenFold]:
    """Folds that hold anything: a text, a part of the page's data, a figure, a live picture."""
    drawn = {picture.section for picture in pictures}
    found = []
    for fold in FOLDS:
        said = (answer[fold.said] if fold.said else "", answer["questions"].get(fold.answers, ""))
        texts = tuple(text for text in said if text)
        has_part = bool(fold.template) and (not fold.needs or bool(parts.get(fold.needs)))
        template = f"{fold.template}.html.j2" if has_part else ""
        if texts or template or fold.id in drawn or fold.is_live:
            found.append(OpenFold(fold, texts, template))
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
    drawn: FirstPictures | None = None,
) -> str:
    """The report as text; ``links`` are files beside the page and what they are.

    ``cores`` are those of the catalogue as they are printed (:func:`core_rows_in_print`), ``live``
    is what makes the page compute, ``drawn`` are the pictures of the first screen.
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
        drawn=drawn,
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
    live, drawn = live_of(results), first_pictures(results)
    write_text(results / "report.html", page(summary, pictures, links, cores, live, drawn))


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
        ferrite_spread=spread_of_readings(),
    )


def write_limits(results: Path) -> None:
    """Write the page of limits into a results folder."""
    write_text(results / PAGE, limits_page())
