"""Whatever a study calls itself, its report stays one; what is smuggled into it does not run."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from models.lengths import lengths_in
from pipeline.live.packing import pack, unpack
from pipeline.report.page import build_report
from tests.page.watched import Watched, unfold, watch

# Markup, ends of what surrounds it, entities, quotes, what turns the direction of writing, what
# closes JSON or a template, and a very long word.
HOSTILE = (
    "<img src=x onerror=document.title=1>",
    "</script><script>document.title=1</script>",
    "</title></h1></details><style>*{display:none}</style>",
    "--><b id=smuggled>&lt;i&gt;&amp;&#60;</b>",
    "\"'`onload=document.title=1 ${document.title=1} {{ 7*7 }} {% x %}",
    "\u202e\u2066\u200btxt.exe\u2069",
    "]]>\\u003cimg src=x\\u003e",
    "w" * 2000,
)
# Keys below which a study has words of its own.
OWN_WORDS = ("title", "label")


def poisoned(value: Any, hostile: Iterator[str], key: str = "") -> Any:
    """The same data with a hostile text behind every text that a study may word."""
    if isinstance(value, dict):
        return {k: poisoned(v, hostile, k) for k, v in value.items()}
    if isinstance(value, list):
        return [poisoned(v, hostile, key) for v in value]
    if isinstance(value, str) and key in OWN_WORDS:
        return f"{value} {next(hostile)}"
    return value


def endless() -> Iterator[str]:
    while True:
        yield from HOSTILE


def poison_page_data(path: Path) -> None:
    """Put hostile texts into the head of the page's data, whose arrays stay as they are."""
    head, arrays = unpack(path.read_bytes())
    path.write_bytes(pack(poisoned(head, endless()), arrays))


@pytest.fixture(scope="module")
def hostile(results: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a study that words everything as badly as it can."""
    copy = tmp_path_factory.mktemp("hostile") / results.name
    shutil.copytree(results, copy, ignore=shutil.ignore_patterns("logs", "decks", "*.nc"))
    summary = copy / "summary.json"
    data = json.loads(summary.read_text(encoding="utf-8"))
    summary.write_text(json.dumps(poisoned(data, endless())), encoding="utf-8")
    poison_page_data(copy / "live.gz")
    with lengths_in("metric"):
        build_report(copy)
    return copy / "report.html"


def test_hostile_text_is_shown_and_is_never_markup(
    hostile: Path, report: Path, opened: Callable[..., Watched]
) -> None:
    count = """() => Object.fromEntries(['script', 'style', 'img', 'b', 'i', 'details', 'table']
      .map((name) => [name, document.querySelectorAll(name).length]))"""
    page, own = opened(hostile).page, opened(report).page
    for each in (page, own):
        each.wait_for_selector("html[data-live]")
        unfold(each)
    # What the page's own script was told stands in its controls.
    assert "onerror=" in page.locator("#live-controls").inner_text()
    assert page.evaluate(count) == own.evaluate(count)
    assert page.title() != "1"
    assert "<img src=x onerror" in page.title()
    assert page.locator("#smuggled").count() == 0
    attributes = """() => [...document.querySelectorAll('*')].flatMap((e) =>
      e.getAttributeNames()).filter((name) => name.startsWith('on'))"""
    assert page.evaluate(attributes) == []


def test_hostile_text_does_not_break_the_layout(
    hostile: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(hostile, viewport={"width": 390, "height": 844}).page
    page.wait_for_selector("html[data-live]")
    unfold(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize(
    ("smuggled", "stopped"),
    [
        ("<script>document.title = 'changed'</script>", "script-src"),
        ("<p onclick='0' id='x'></p><img src='data:,' onerror='document.title=1'>", "script-src"),
        ("<style>h1 { display: none }</style>", "style-src"),
        ("<img src='https://example.org/seen.png'>", "img-src"),
        ("<iframe src='https://example.org/'></iframe>", "frame-src"),
        ("<base href='https://example.org/'>", "base-uri"),
    ],
)
def test_what_is_smuggled_into_the_page_does_not_run_or_load(
    smuggled: str, stopped: str, report: Path, browser: Browser, tmp_path: Path
) -> None:
    text = report.read_text(encoding="utf-8")
    head, body, rest = text.partition("</header>")
    path = tmp_path / "report.html"
    path.write_text(head + smuggled + body + rest, encoding="utf-8", newline="\n")
    watched = watch(browser, path)
    assert any(stopped in message for message in watched.violations())
    assert "does the cable need a choke" in watched.page.title()
    assert watched.page.locator("h1").is_visible()
    assert watched.requests == [path.as_uri()]
    watched.forgiven()
    watched.page.context.close()


def test_the_policy_names_scripts_and_styles_by_their_hash_alone(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy.startswith("default-src 'none';")
    assert not re.search(r"unsafe|https?:|\*|'self'", policy)
