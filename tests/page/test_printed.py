"""On paper and without scripts a report is whole: pictures that stand still, nothing folded."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page

from tests.page.watched import Watched

# What of some elements a reader sees; a closed fold hides what is in it.
SHOWN = """(name) => [...document.querySelectorAll(name)].filter((e) => e.checkVisibility({
  visibilityProperty: true, contentVisibilityAuto: false})).length"""


def shown(page: Page, name: str) -> int:
    found: int = page.evaluate(SHOWN, name)
    return found


def test_on_paper_every_fold_is_open_and_every_figure_is_there_on_few_sheets(
    report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, color_scheme="dark").page
    assert shown(page, "details p:not(.live *)") < page.locator("details p:not(.live *)").count()
    page.emulate_media(media="print", color_scheme="dark")
    for name in ("img", "details p:not(.live *)", "table", "figcaption"):
        assert shown(page, name) == page.locator(name).count() > 0, name
    for name in ("canvas", "button", "input", "select"):
        assert shown(page, name) == 0, name
    # White whatever the screen is, and short.
    ground = page.evaluate("getComputedStyle(document.querySelector('img')).backgroundColor")
    scheme = page.evaluate("getComputedStyle(document.querySelector('img')).colorScheme")
    assert (ground, scheme) == ("rgb(255, 255, 255)", "light")
    pdf = page.pdf(prefer_css_page_size=True)
    # Objects of type Page: ISO 32000-1, 7.7.3.3.
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 14


def test_without_scripts_the_report_shows_its_figures(
    report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, java_script_enabled=False).page
    assert shown(page, "#first svg.still") > 0
    assert shown(page, ".live") == 0
    assert page.locator("h1").is_visible()
