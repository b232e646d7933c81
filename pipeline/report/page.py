"""The report of a study: one HTML file that needs nothing else, made from its stored results.

A results folder in (summary, tables, figures), ``report.html`` out. All text of the study is
escaped; the page runs no script and asks for nothing from anywhere.
"""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from models.lengths import large, small
from pipeline.figures.registry import REPORT, figures_of
from pipeline.runtime.store import read_json, write_text
from pipeline.text.errors import Fault, ResultError
from pipeline.text.formatting import (
    between,
    decibels,
    decimals_of,
    fixed,
    impedance_words,
    keep_away,
    passed,
    percent,
    signed,
    unparted,
)

# Where a figure keeps its title, for those who cannot see it.
_TITLE = ".//{http://purl.org/dc/elements/1.1/}title"


@dataclass(frozen=True)
class Picture:
    """A figure inside the page: its data as a URI, what it shows, and what it finds in words."""

    name: str
    source: str
    caption: str
    finding: str = ""


@dataclass(frozen=True)
class Cell:
    """A number of the comparison in print, and its 95 % interval, empty where there is none."""

    value: str
    interval: str


def cell(case: dict[str, Any], column: str, value: float, scale: float = 1.0) -> Cell:
    """A number of a case with as many digits as its interval bears.

    Parameters
    ----------
    case : dict
        The case as in the summary.
    column : str
        Name of the number among its intervals.
    value : float
        The number.
    scale : float
        What both are multiplied by, as 100 for per cent.

    Examples
    --------
    >>> cell({"interval_95": {"swr_feed": [1.2265, 1.3637]}}, "swr_feed", 1.2903)
    Cell(value='1.29', interval='1.23–1.36')
    >>> cell({"interval_95": {"station_current_ratio": [0, 0]}}, "station_current_ratio", 0)
    Cell(value='0', interval='')
    """
    low, high = (scale * end for end in case["interval_95"][column])
    decimals = decimals_of(low, high) if value or high > low else 0
    return Cell(fixed(scale * value, decimals), between(low, high, decimals))


def change(level_db: float) -> str:
    """A change in whole decibels with its sign.

    Examples
    --------
    >>> change(-14.4), change(0.2), change(3.0)
    ('−14', '0', '+3')
    """
    return f"{round(level_db):+d}".replace("-", "−") if round(level_db) else "0"


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


def money(case: dict[str, Any]) -> str:
    """Price and currency, or nothing."""
    if case["price"] is None:
        return ""
    return f"{case['price']:.2f} {case['currency']}".strip()


def read_picture(path: Path, caption: str) -> Picture:
    """A figure for a page from its SVG file; its name is that of the file.

    Raises
    ------
    ResultError
        If the file is missing or damaged.
    """
    try:
        data = path.read_bytes()
        finding = ElementTree.fromstring(data).findtext(_TITLE, "")
    except (OSError, ElementTree.ParseError) as error:
        raise ResultError(
            Fault(
                str(path),
                "",
                f"cannot be read ({type(error).__name__})",
                "run the study again; only what is missing is made",
                "result-damaged",
            )
        ) from error
    source = "data:image/svg+xml;base64," + base64.b64encode(data).decode("ascii")
    return Picture(path.stem, source, caption, finding)


def read_pictures(folder: Path, page: str) -> list[Picture]:
    """All figures of a page that were drawn into a folder, in their order.

    Raises
    ------
    ResultError
        If one that every such page has is missing or damaged.
    """
    return [
        read_picture(folder / f"{name}.svg", each.caption)
        for name, each in figures_of(page).items()
        if not each.optional or (folder / f"{name}.svg").exists()
    ]


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


def _route_words(route: list[dict[str, Any]]) -> str:
    words = []
    for step in route:
        if step["go"] == "bond":
            words.append("bond to the ground rod")
        else:
            words.append(f"{step['go'].replace('_', ' ')} {large(step['length_m'])}")
    return ", ".join(words)


def _ohms(pair: tuple[float, float], decimals: int = 1) -> str:
    """R + jX of an impedance as the summary has it."""
    return impedance_words(complex(*pair), decimals)


def page_environment() -> Environment:
    """Templates of all pages with the filters they share."""
    environment = Environment(
        loader=PackageLoader("pipeline.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(percent=percent, decibels=decibels, change=change)
    environment.filters.update(money=money, words=_route_words, unparted=unparted)
    environment.globals.update(ohms=_ohms, cell=cell, keep_away=keep_away, signed=signed)
    environment.globals.update(small=small, large=large, passed=passed)
    return environment


def style_sheet() -> tuple[Markup, str]:
    """The style sheet and its hash, by which a page's policy names it.

    Whatever is smuggled into a page is so not applied.
    """
    css = (files("pipeline.report") / "templates" / "report.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(css.encode("utf-8")).digest()).decode("ascii")
    # Our own file, not the study's text.
    return Markup(css), digest


def page(summary: dict[str, Any], pictures: list[Picture], links: list[tuple[str, str]]) -> str:
    """The whole page as text.

    Parameters
    ----------
    summary : dict
        As ``summary.schema.json`` describes it.
    pictures : list of Picture
        In the order in which they are shown.
    links : list of (str, str)
        Files beside the page and what they are.

    Returns
    -------
    str
    """
    css, digest = style_sheet()
    cases = {case["id"]: case for case in summary["cases"]}
    template = page_environment().get_template("report.html.j2")
    chosen, bare = cases[summary["verdict"]["recommended_case"]], cases["none"]
    return template.render(
        summary=summary,
        study=summary["study"],
        verdict=summary["verdict"],
        chosen=chosen,
        bare=bare,
        swr_rises=swr_rises(bare, chosen),
        use=summary.get("in_use"),
        exposed={c["case"]: c for c in summary.get("exposure", {}).get("cases", [])},
        unsound=[c for c in summary["cases"] if c["evidence"]["grade"] == "unsound"],
        pictures=pictures,
        links=links,
        css=css,
        digest=digest,
    )


def build_report(results: Path) -> None:
    """Write ``report.html`` into a results folder.

    Raises
    ------
    ResultError
        If the summary or a figure is missing or damaged.
    """
    summary = read_json(results / "summary.json")
    pictures = [
        read_picture(results / "figures" / f"{name}.svg", each.caption)
        for name, each in figures_of(REPORT).items()
        if each.is_shown(results, summary)
    ]
    links = _links(results, summary["study"]["name"])
    write_text(results / "report.html", page(summary, pictures, links))
