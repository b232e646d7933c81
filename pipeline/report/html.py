"""Pages: one HTML file each that needs nothing else, with the figures in it.

A template, pictures and its context in, the page's text out. All text of a study is escaped; a page
runs no script but the live page's own and asks for nothing from anywhere.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from models.lengths import large, small
from pipeline.live.embedding import Live
from pipeline.report.pictures import Picture
from pipeline.text.formatting import (
    between,
    decibels,
    decimals_of,
    fixed,
    impedance_words,
    keep_away,
    megahertz,
    passed,
    percent,
    signed,
    unparted,
)


@dataclass(frozen=True)
class Cell:
    """A number of the comparison in print, and its 95 % interval, empty where there is none."""

    value: str
    interval: str


def cell(case: dict[str, Any], column: str, value: float, scale: float = 1.0) -> Cell:
    """A number of a case of the summary with as many digits as its interval bears.

    ``column`` is its name among the intervals; both are multiplied by ``scale``.

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


def money(case: dict[str, Any]) -> str:
    """Price and currency, or nothing."""
    if case["price"] is None:
        return ""
    return f"{case['price']:.2f} {case['currency']}".strip()


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


@cache
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
    environment.globals.update(small=small, large=large, passed=passed, megahertz=megahertz)
    return environment


def _hash_of(text: str) -> str:
    """A text's hash as a page's policy names it."""
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def page_text(
    template: str, pictures: Sequence[Picture] = (), live: Live | None = None, **context: Any
) -> str:
    """The whole page that a template makes of its figures and context.

    Style sheet and, of a page that is ``live``, the script stand in the page, and its policy names
    them by their hashes: whatever is smuggled in is not applied and does not run.
    """
    css = (files("pipeline.report") / "templates" / "report.css").read_text(encoding="utf-8")
    if live is not None:
        css += live.style
        context["script"], context["script_digest"] = Markup(live.script), _hash_of(live.script)
    return (
        page_environment()
        .get_template(f"{template}.html.j2")
        # Our own files, not the study's text.
        .render(css=Markup(css), digest=_hash_of(css), pictures=pictures, live=live, **context)
    )
