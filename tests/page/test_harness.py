"""The harness itself: a page that does what it must not is caught."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.page.watched import Watched, watch

# What a page may do that ours must not, and a word of what is noted.
MISDEEDS = {
    "speaks": ("<script>console.log('here')</script>", "log: here"),
    "throws": ("<script>throw new Error('broken')</script>", "broken"),
    "asks": ("<img src='other.png'>", "2 requests"),
    "breaks its policy": (
        "<meta http-equiv='Content-Security-Policy' content=\"script-src 'none'\">"
        "<script>document.title = 'changed'</script>",
        "stopped script-src",
    ),
}


@pytest.mark.parametrize("misdeed", MISDEEDS)
def test_a_page_that_does_what_it_must_not_is_caught(
    misdeed: str, browser: Browser, tmp_path: Path
) -> None:
    text, noted = MISDEEDS[misdeed]
    path = tmp_path / "page.html"
    path.write_text(f"<!doctype html><title>as it was</title>{text}", encoding="utf-8")
    watched = watch(browser, path)
    assert watched.page.title() == "as it was"
    assert noted in watched.closed()


def test_the_report_says_nothing_asks_for_nothing_and_keeps_its_policy(
    report: Path, opened: Callable[..., Watched]
) -> None:
    watched = opened(report)
    assert watched.requests == [report.as_uri()]
    assert watched.page.locator("h1").count() == 1
