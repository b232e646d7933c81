"""The page's address and what can be copied: a link that comes back, a history that stays short."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from playwright.sync_api import Browser, Page

from tests.harness.small_study import SMALL
from tests.page.made_heads import made_head
from tests.page.sources import bundled

# A page with nothing but the buttons, and a setting that notes what it was set to.
SHARE = """(head) => {
  const host = document.body.appendChild(document.createElement('div'));
  const listeners = [];
  window.shown = { setting: head.start, wasSet: 0,
    move(position) {
      shown.setting = {...shown.setting, first: {...shown.setting.first, position}};
      listeners.forEach((each) => each());
    }, look: {mode: 'own', cut: 0} };
  tried.share(host, head, {
    current: () => shown.setting,
    set: (setting, mode) => { shown.setting = setting; shown.wasSet += 1; shown.look.mode = mode;
      listeners.forEach((each) => each()); },
    look: () => shown.look,
    turn: (cut) => { shown.look.cut = cut; },
    watch: (listener) => listeners.push(listener),
  });
}"""
HEAD = made_head(SMALL)
PAGE = "<!doctype html><title>t</title><p id='safety'>cautions</p>"


@pytest.fixture
def shared(browser: Browser, tmp_path: Path) -> Iterator[Callable[[str], Page]]:
    """A function that opens a file with the buttons and a fragment."""
    path = tmp_path / "report.html"
    path.write_text(PAGE, encoding="utf-8")
    context = browser.new_context()

    def open_page(fragment: str = "") -> Page:
        page = context.new_page()
        page.goto(path.as_uri() + fragment)
        page.evaluate(f"{bundled('around/share')}; window.tried = tried")
        page.evaluate(SHARE, HEAD)
        return page

    yield open_page
    context.close()


def setting(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate("shown.setting")
    return found


def said(page: Page) -> str:
    return page.get_by_role("status").inner_text()


def test_the_address_follows_a_drag_once_and_adds_nothing_to_the_history(
    shared: Callable[[str], Page],
) -> None:
    page = shared("")
    before = page.evaluate("history.length")
    assert page.evaluate("location.hash") == ""
    page.evaluate("""() => { window.writes = 0; const write = history.replaceState;
      history.replaceState = (...a) => { window.writes += 1; write.apply(history, a); } }""")
    for k in range(100):
        page.evaluate("(position) => shown.move(position)", 0.1 + k / 1000)
    page.wait_for_function("location.hash !== ''")
    assert page.evaluate("location.hash").startswith("#choke=2*mix-43-clamp-12-7@0.199m")
    assert page.evaluate("history.length") == before
    assert page.evaluate("writes") <= 3


def test_a_link_opens_the_page_as_it_was_copied(shared: Callable[[str], Page]) -> None:
    first = shared("")
    first.evaluate("shown.move(0.777)")
    first.wait_for_function("location.hash !== ''")
    second = shared(first.evaluate("location.hash"))
    assert setting(second) == setting(first)


def test_an_address_that_is_changed_by_hand_is_taken(shared: Callable[[str], Page]) -> None:
    page = shared("")
    page.evaluate("location.hash = '#choke=none&radio=open'")
    page.wait_for_function("shown.wasSet === 1")
    assert (setting(page)["first"], setting(page)["radio"]) == (None, "open")


@pytest.mark.parametrize("fragment", ["#choke=2*nothing@0.05m", "#%3Cimg%20src=x%3E", "#=%E0%A4%A"])
def test_an_address_that_does_not_read_is_refused_in_words_and_changes_nothing(
    shared: Callable[[str], Page], fragment: str
) -> None:
    page = shared(fragment)
    refused = page.get_by_role("alert").inner_text()
    assert refused.startswith("The link's settings are not taken: ")
    assert setting(page) == HEAD["start"]
    assert page.locator("img").count() == 0


def test_a_link_to_a_part_of_the_page_is_no_setting(shared: Callable[[str], Page]) -> None:
    page = shared("#safety")
    assert page.get_by_role("alert").inner_text() == ""
    assert page.evaluate("shown.wasSet") == 0


def test_link_and_study_file_go_to_the_clipboard(shared: Callable[[str], Page]) -> None:
    page = shared("")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy link").click()
    page.wait_for_function("document.querySelector('[role=status]').textContent !== ''")
    link = page.evaluate("navigator.clipboard.readText()")
    assert link == f"{page.url}#choke=2*mix-43-clamp-12-7@0.05m&radio=30+20j"
    page.get_by_role("button", name="Copy study file").click()
    page.wait_for_function("document.querySelector('[role=status]').textContent.includes('study')")
    file = yaml.safe_load(page.evaluate("navigator.clipboard.readText()"))
    assert file["chokes"][-1]["count"] == 2


def test_where_a_page_may_not_copy_the_text_stands_there_to_be_copied(
    shared: Callable[[str], Page],
) -> None:
    page = shared("")
    page.evaluate("() => { navigator.clipboard.writeText = () => Promise.reject(new Error('no')) }")
    page.get_by_role("button", name="Copy link").click()
    field = page.get_by_label("Text to copy")
    field.wait_for(state="visible")
    assert field.input_value().startswith(page.url)
    assert page.evaluate("document.getSelection().toString()") == field.input_value()
    page.keyboard.press("Escape")
    assert not field.is_visible()
    assert page.evaluate("document.activeElement.textContent") == "Copy link"
