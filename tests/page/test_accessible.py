"""Whoever cannot see well, cannot use a mouse or sits at a phone gets the whole report.

Rules are those of WCAG 2.2, levels A and AA, as far as axe-core (Deque Systems) can check them by
itself; keyboard, names and what is read out are looked at here beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.page.sources import SOURCES
from tests.page.watched import DESKTOP, PHONE, Watched, unfold

AXE = SOURCES.parent / "node_modules" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
RUN = """async (tags) => (await axe.run(document, {
  runOnly: {type: 'tag', values: tags}, resultTypes: ['violations'],
})).violations.map((v) => [v.id, v.nodes.slice(0, 4).map((n) => n.html.slice(0, 160)),
  v.nodes[0].failureSummary])"""
LOOKS = {
    "desktop, light": {"viewport": DESKTOP, "color_scheme": "light"},
    "desktop, dark": {"viewport": DESKTOP, "color_scheme": "dark"},
    "phone, light": {"viewport": PHONE, "color_scheme": "light", "has_touch": True},
    "phone, dark": {"viewport": PHONE, "color_scheme": "dark", "has_touch": True},
}


@pytest.mark.parametrize("look", LOOKS)
def test_the_whole_report_keeps_the_rules_of_wcag(
    look: str, report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, **LOOKS[look]).page
    unfold(page)
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[Any] = page.evaluate(RUN, TAGS)
    assert found == []


@pytest.mark.parametrize("width", [DESKTOP["width"], PHONE["width"], 320])
def test_nothing_but_tables_is_wider_than_the_window(
    width: int, report: Path, opened: Callable[..., Watched]
) -> None:
    """WCAG 2.2, success criterion 1.4.10 (reflow): at 320 px nothing scrolls in two directions."""
    page = opened(report, viewport={"width": width, "height": 800}).page
    unfold(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
