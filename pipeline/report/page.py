"""The report of a study, made from its stored results, and the page of limits beside it.

A results folder in (summary, tables, figures), ``report.html`` and ``limits.html`` out. Limits of
grades are taken from the code that grades, what was measured once from ``known_limits.csv``.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from models.site.earth import STAR_ARM, STAR_ARMS, STAR_HEIGHT
from models.site.feedline_route import LOWEST_RUN
from models.wires.segmentation import MAX_WAVELENGTHS_PER_SEGMENT, MIN_LENGTH_PER_RADIUS
from pipeline.chokes.ferrite import FERRITE_SPREAD
from pipeline.figures.registry import REPORT, figures_of
from pipeline.mesh.evidence import LIMITS
from pipeline.report.html import Picture, cell, page_text, read_picture
from pipeline.runtime.store import read_json, write_text
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


def page(summary: dict[str, Any], pictures: list[Picture], links: list[tuple[str, str]]) -> str:
    """The report as text; ``links`` are files beside the page and what they are."""
    cases = {case["id"]: case for case in summary["cases"]}
    chosen, bare = cases[summary["verdict"]["recommended_case"]], cases["none"]
    return page_text(
        "report",
        pictures,
        summary=summary,
        study=summary["study"],
        verdict=summary["verdict"],
        headline=summary["verdict"]["headline"],
        chosen=chosen,
        bare=bare,
        swr_rises=swr_rises(bare, chosen),
        use=summary.get("in_use"),
        exposed={c["case"]: c for c in summary.get("exposure", {}).get("cases", [])},
        unsound=[c for c in summary["cases"] if c["evidence"]["grade"] == "unsound"],
        links=links,
    )


def build_report(results: Path) -> None:
    """Write ``report.html`` into a results folder."""
    summary = read_json(results / "summary.json")
    pictures = [
        read_picture(results / "figures" / f"{name}.svg", each.caption)
        for name, each in figures_of(REPORT).items()
        if each.is_shown(results, summary)
    ]
    links = _links(results, summary["study"]["name"])
    write_text(results / "report.html", page(summary, pictures, links))


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
        ferrite_spread=FERRITE_SPREAD,
    )


def write_limits(results: Path) -> None:
    """Write the page of limits into a results folder."""
    write_text(results / PAGE, limits_page())
