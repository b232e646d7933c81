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
# Of each window, light and dark.
WINDOWS = {
    "desktop": {"viewport": DESKTOP},
    "phone": {"viewport": PHONE, "has_touch": True},
}


@pytest.mark.parametrize("window", WINDOWS)
def test_the_whole_report_keeps_the_rules_of_wcag(
    window: str, report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, **WINDOWS[window]).page
    unfold(page)
    page.evaluate(AXE.read_text(encoding="utf-8"))
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found: list[Any] = page.evaluate(RUN, TAGS)
        assert found == [], scheme


def test_nothing_but_tables_is_wider_than_the_window(
    report: Path, opened: Callable[..., Watched]
) -> None:
    """WCAG 2.2, success criterion 1.4.10 (reflow): at 320 px nothing scrolls in two directions."""
    page = opened(report).page
    unfold(page)
    for width in (DESKTOP["width"], PHONE["width"], 320):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
