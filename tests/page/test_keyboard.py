"""The live page by keys and by ear: every control is reached, shows where one is, and is told.

Success criteria of WCAG 2.2 that no program checks by itself: 2.1.1 and 2.1.2 (keyboard, no trap),
2.4.3 and 2.4.7 (order and sight of the focus), 2.5.8 (size of what is touched), 4.1.3 (messages).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.page.watched import PHONE, Watched, unfold, wait_until

REACHABLE = """() => [...document.querySelectorAll(
    'a[href], button, input, select, textarea, summary, [tabindex]')].filter((e) =>
  e.checkVisibility({visibilityProperty: true}) && e.getClientRects().length && !e.disabled &&
  e.tabIndex >= 0 && !e.closest('[inert]'))"""
# What the focus looks like: the element's own edge, and what is drawn inside of it.
AT_FOCUS = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const look = () => [e, ...e.querySelectorAll('*')].map((n) => {
    const s = getComputedStyle(n);
    return [s.outlineStyle, s.outlineWidth, s.outlineColor, s.stroke, s.strokeWidth, s.boxShadow,
      s.backgroundColor, s.borderColor].join();
  }).join(';');
  const [focused, box] = [look(), e.getBoundingClientRect()];
  e.blur();
  const without = look();
  e.focus({focusVisible: true, preventScroll: true});
  const all = (ALL)();
  return {place: all.indexOf(e), isSeen: focused !== without, width: box.width, height: box.height,
    what: e.outerHTML.slice(0, 120)};
}""".replace("ALL", REACHABLE)


@pytest.fixture
def live(standing: Watched) -> Page:
    """The report with its script at work, all folds open and nothing in focus."""
    page = standing.page
    unfold(page)
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Escape")
    page.evaluate("getSelection().collapse(document.body, 0)")
    return page


def walked(page: Page) -> list[dict[str, Any]]:
    """What the tabulator key comes to, from the top of the page to its end."""
    stops = []
    count = page.evaluate(f"({REACHABLE})().length")
    for _ in range(count + 5):
        page.keyboard.press("Tab")
        found = page.evaluate(AT_FOCUS)
        if found is None:
            break
        stops.append(found)
    return stops


def test_the_tabulator_comes_to_every_control_in_the_order_of_the_page_and_out_again(
    live: Page,
) -> None:
    stops = walked(live)
    assert [stop["place"] for stop in stops] == list(range(len(stops)))
    assert len(stops) == live.evaluate(f"({REACHABLE})().length")
    assert [stop["what"] for stop in stops if not stop["isSeen"]] == []
    assert live.locator("[tabindex]:not([tabindex='0'], [tabindex='-1'])").count() == 0


def test_every_slider_moves_by_arrow_keys_and_says_where_it_is(live: Page) -> None:
    sliders = live.get_by_role("slider")
    assert sliders.count() >= 3
    for k in range(sliders.count()):
        slider = sliders.nth(k)
        if slider.is_disabled() or slider.get_attribute("aria-disabled") == "true":
            continue
        before = slider.evaluate("(e) => e.getAttribute('aria-valuetext') ?? e.value")
        moved = []
        for key in ("ArrowRight", "ArrowLeft"):
            slider.press(key)
            live.wait_for_timeout(60)
            moved.append(slider.evaluate("(e) => e.getAttribute('aria-valuetext') ?? e.value"))
        assert before not in moved[:1] or before != moved[1], slider.evaluate("(e) => e.outerHTML")


def test_results_are_told_once_the_hand_is_still(live: Page) -> None:
    live.evaluate(
        """() => { window.told = 0; document.querySelectorAll('[aria-live], [role=status]')
          .forEach((e) => new MutationObserver(() => { window.told += 1 })
            .observe(e, {childList: true, characterData: true, subtree: true})); }"""
    )
    grip = live.locator("[role=slider]").first
    for _ in range(12):
        grip.press("ArrowRight")
    assert live.evaluate("window.told") == 0
    wait_until(live, "window.told > 0")
    live.wait_for_timeout(500)
    assert live.evaluate("window.told") <= 2
    said = live.locator("[aria-live=polite]").all_inner_texts()
    assert any("SWR" in text for text in said)


def test_none_and_the_ideal_choke_are_a_key_away(live: Page) -> None:
    shown = "() => [...document.querySelectorAll('[aria-pressed=true]')].map((e) => e.innerText)"
    live.keyboard.press("n")
    wait_until(live, "document.querySelector('[aria-pressed=true]').innerText.includes('no ')")
    live.keyboard.press("i")
    live.wait_for_timeout(100)
    assert any("ideal" in text for text in live.evaluate(shown))


def test_what_is_touched_is_large_enough(report: Path, opened: Callable[..., Watched]) -> None:
    """Handles on the pictures may be smaller: each has a slider as well, which is an exception."""
    page = opened(report, viewport=PHONE, has_touch=True, is_mobile=True).page
    page.wait_for_selector("html[data-live]")
    unfold(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, select, input, summary')]
          .filter((e) => e.checkVisibility()).map((e) => {
            const box = (e.closest('label') ?? e).getBoundingClientRect();
            return [e.outerHTML.slice(0, 90), box.width, box.height];
          }).filter(([, width, height]) => Math.min(width, height) < 24)"""
    )
    assert small == []


def test_nothing_moves_by_itself_where_less_motion_is_wanted(
    report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, reduced_motion="reduce").page
    page.wait_for_selector("html[data-live]")
    unfold(page)
    assert page.evaluate("document.getAnimations().length") == 0
    page.keyboard.press("n")
    page.wait_for_timeout(50)
    assert page.evaluate("document.getAnimations().length") == 0


def test_the_page_reads_as_an_outline(live: Page) -> None:
    """What a screen reader goes through: one title, folds with their questions, named controls."""
    outline = live.locator("body").aria_snapshot()
    print(outline)
    assert outline.count("heading") >= 8
    assert live.get_by_role("heading", level=1).count() == 1
    for role in ("slider", "combobox", "button", "checkbox", "spinbutton"):
        for control in live.get_by_role(role).all():
            assert control.evaluate(
                "(e) => (e.ariaLabel ?? '') + (e.labels?.[0]?.innerText ?? '') + e.innerText"
            ).strip()
