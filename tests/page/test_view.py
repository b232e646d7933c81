"""The live first screen: hands and keys set it, pictures and words follow, paper keeps its own."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Locator, Page

from tests.page.watched import PHONE, Watched

OWN = "#picture-along .moving .set"


@pytest.fixture
def live(standing: Watched) -> Page:
    """The page as it opens: opening it anew for each test would take longer than the tests."""
    page = standing.page
    page.emulate_media(media="screen")
    page.locator("#live-legend input").check()
    for name in ("back to the advice", "As fan and ring"):
        button = page.get_by_role("button", name=name)
        if button.count() and button.is_enabled():
            button.click()
    page.locator("#picture-pattern [role=slider]").press("Home")
    settle(page)
    return page


def settle(page: Page) -> None:
    """Wait until what was set is worked out and drawn."""
    page.evaluate("new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)))")


def handle(page: Page) -> Locator:
    return page.locator("#picture-side [role=slider]").first


def place(page: Page) -> float:
    return float(handle(page).get_attribute("aria-valuenow") or "nan")


def points(page: Page, path: str) -> NDArray[np.float64]:
    """Places of a line of a picture."""
    text = page.locator(path).first.get_attribute("d") or ""
    pairs = [p.split() for p in re.split("[MLZ]", text) if p]
    return np.array([[float(v) for v in pair] for pair in pairs])


def middle(page: Page, node: Locator) -> tuple[float, float]:
    box = node.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


# Laws


@pytest.mark.parametrize("look", ["set", "ideal", "bare"])
def test_the_moving_curve_begins_as_the_still_one_that_python_drew(live: Page, look: str) -> None:
    moving = points(live, f"#picture-along .moving .{look}")
    still = points(live, f"#picture-along .still .{look}")
    assert moving[:, 1] == pytest.approx(still[:, 1], abs=0.6)
    assert moving[:, 0] == pytest.approx(still[:, 0], abs=1.0)


def test_moving_pictures_stand_on_the_screen_and_still_ones_on_paper(live: Page) -> None:
    for media, shown, hidden in (("screen", ".moving", ".still"), ("print", ".still", ".moving")):
        live.emulate_media(media=media)
        assert live.locator(f"#picture-side {shown}").is_visible()
        assert not live.locator(f"#picture-side {hidden}").is_visible()
        assert live.locator("#live-controls").is_visible() == (media == "screen")
        assert live.locator("#live-legend").is_visible() == (media == "screen")


@pytest.mark.parametrize("viewport", [None, PHONE])
def test_a_choke_is_dragged_along_the_cable_of_the_picture(
    viewport: dict[str, int] | None, report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, **({"viewport": viewport} if viewport else {})).page
    page.wait_for_selector("html[data-live]")
    before, shown = place(page), points(page, OWN)
    x, y = middle(page, handle(page).locator(".bead"))
    cable = page.locator("#picture-side .touch").bounding_box()
    assert cable is not None
    page.mouse.move(x, y)
    page.mouse.down()
    top = middle(page, page.locator("#picture-side .moving"))
    page.mouse.move(x, y + 0.3 * cable["height"], steps=8)
    settle(page)
    # What is set has longer words and no intervals, and the picture stays under the hand.
    assert middle(page, page.locator("#picture-side .moving")) == top
    page.mouse.up()
    assert place(page) > before + 0.2
    assert not np.array_equal(points(page, OWN), shown)
    assert re.search(r"\d (m|in) along", handle(page).get_attribute("aria-valuetext") or "")


def test_keys_move_the_choke_and_stop_at_what_was_solved(live: Page) -> None:
    before = place(live)
    handle(live).focus()
    live.keyboard.press("ArrowRight")
    settle(live)
    assert place(live) == pytest.approx(before + 0.01, abs=1e-9)
    live.keyboard.press("Home")
    settle(live)
    assert place(live) == float(handle(live).get_attribute("aria-valuemin") or "nan")
    # The cable hangs down from the antenna: that way is further along it.
    live.keyboard.press("PageDown")
    settle(live)
    assert place(live) > before + 0.1
    live.keyboard.press("End")
    settle(live)
    assert place(live) == float(handle(live).get_attribute("aria-valuemax") or "nan")
    live.keyboard.press("PageDown")
    assert "at the end of what was solved" in live.locator("#picture-side .hint").inner_text()


def test_keys_come_to_every_stretch_that_was_solved_and_to_nothing_between(live: Page) -> None:
    drawn = live.locator("#picture-along .track").get_attribute("d") or ""
    tracks = re.findall(r"M[\d.]+ ([\d.]+)V([\d.]+)", drawn)
    last = float(handle(live).get_attribute("aria-valuemax") or "nan")
    handle(live).focus()
    live.keyboard.press("Home")
    settle(live)
    reached = set()
    while True:
        at = live.locator("#picture-along .grip").first.get_attribute("transform") or ""
        y = float(at.split(" ")[1].rstrip(")"))
        reached |= {t for t in tracks if float(t[0]) - 0.2 <= y <= float(t[1]) + 0.2}
        if place(live) == last:
            break
        before = place(live)
        live.keyboard.press("PageDown")
        settle(live)
        assert place(live) > before
    assert reached == set(tracks)
    assert live.locator("#live-controls [role=alert]").inner_text() == ""


def test_none_and_the_ideal_choke_are_one_key_away_and_back(live: Page) -> None:
    own = live.locator(".score").inner_text()
    lines = {
        key: f"#picture-along .moving .{look}" for key, look in (("n", "bare"), ("i", "ideal"))
    }
    for key, line in lines.items():
        live.keyboard.press(key)
        settle(live)
        assert points(live, OWN) == pytest.approx(points(live, line))
        assert live.locator("#live-legend [aria-pressed=true]").count() == 1
        live.keyboard.press(key)
        settle(live)
        assert live.locator(".score").inner_text() == own


def test_single_keys_can_be_switched_off(live: Page) -> None:
    """WCAG 2.2, success criterion 2.1.4 (character key shortcuts)."""
    own = live.locator(".score").inner_text()
    live.locator("#live-legend input").uncheck()
    live.keyboard.press("n")
    settle(live)
    assert live.locator(".score").inner_text() == own


def test_the_way_back_to_the_advice_is_there_once_something_else_is_set(live: Page) -> None:
    back = live.get_by_role("button", name="back to the advice")
    assert back.is_disabled()
    before = place(live)
    handle(live).focus()
    live.keyboard.press("PageDown")
    settle(live)
    assert "as set" in live.locator("#live-legend").inner_text()
    back.click()
    settle(live)
    assert place(live) == before
    assert "as advised" in live.locator("#live-legend").inner_text()


def test_a_second_choke_has_a_handle_and_lowers_the_current(live: Page) -> None:
    assert live.locator("#picture-side [role=slider]:visible").count() == 1
    kinds = live.locator("#live-controls").get_by_label("Second choke")
    kinds.select_option(index=1)
    settle(live)
    assert live.locator("#picture-side [role=slider]:visible").count() == 2


def test_another_leg_for_the_shield_has_its_own_numbers_and_no_verdict(live: Page) -> None:
    legs = live.get_by_label("cable's shield joined to the")
    own, curve = live.locator(".score").inner_text(), points(live, OWN)
    legs.select_option(index=1)
    settle(live)
    assert "not judged" in live.locator(".score").inner_text()
    assert not np.array_equal(points(live, OWN), curve)
    assert live.locator("#live-numbers .whole").all_inner_texts() == ["", "", ""]
    live.get_by_role("button", name="back to the advice").click()
    settle(live)
    assert live.locator(".score").inner_text() == own


def test_a_burst_of_changes_is_worked_out_once(live: Page) -> None:
    asked = live.evaluate(
        """() => { const ask = window.requestAnimationFrame; let asked = 0;
        window.requestAnimationFrame = (f) => { asked += 1; return ask.call(window, f); };
        const g = document.querySelector('#picture-side [role=slider]');
        for (let k = 0; k < 50; k++)
          g.dispatchEvent(new KeyboardEvent('keydown', {key: 'PageDown', bubbles: true}));
        window.requestAnimationFrame = ask; return asked; }"""
    )
    assert asked == 1


def test_the_needle_turns_the_cut_of_the_fan(live: Page) -> None:
    needle = live.locator("#picture-pattern [role=slider]")
    before = points(live, "#picture-pattern .fan.moving .set")
    needle.focus()
    for _ in range(6):
        live.keyboard.press("PageUp")
    settle(live)
    assert needle.get_attribute("aria-valuetext") == "azimuth 90°"
    assert not np.array_equal(points(live, "#picture-pattern .fan.moving .set"), before)


def test_the_pattern_has_straight_axes_as_well(live: Page) -> None:
    live.get_by_role("button", name="On straight axes").click()
    settle(live)
    assert live.locator("#picture-pattern .flat:visible").count() == 2
    assert not live.locator("#picture-pattern .fan.moving").is_visible()
    assert len(points(live, "#picture-pattern .flat .set")) > 10


def test_the_match_is_drawn_once_its_question_is_opened(live: Page) -> None:
    assert not live.locator("#live-band .smith .set").get_attribute("d")
    live.locator("#band summary").click()
    settle(live)
    assert live.locator("#live-band .smith .set").get_attribute("d")
    assert "SWR" in live.locator("#live-band p").inner_text()


def test_a_link_brings_what_is_shown_and_the_direction_of_the_cut(
    report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, fragment="#show=ideal&cut=90deg").page
    page.wait_for_selector("html[data-live]")
    settle(page)
    assert "ideal" in page.locator("#live-legend [aria-pressed=true]").inner_text()
    needle = page.locator("#picture-pattern [role=slider]")
    assert needle.get_attribute("aria-valuenow") == "90"
    # Its figure in the first fold is the first screen once more.
    page.locator("#why summary").click()
    assert not page.locator("#overview").is_visible()


# Refusals


def test_a_link_that_cannot_be_taken_says_so_above_the_numbers(
    report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, fragment="#choke=50*").page
    page.wait_for_selector("html[data-live]")
    said = page.locator("#first > [role=alert]")
    assert said.inner_text().startswith("The link's settings are not taken: ")


def test_what_was_not_solved_says_so_and_keeps_the_last_picture(live: Page) -> None:
    kinds = live.locator("#live-controls select").first
    count = live.locator("#live-controls input[type=number]").first
    for value in kinds.locator("option").evaluate_all("(all) => all.map((o) => o.value)"):
        kinds.select_option(value)
        settle(live)
        if count.is_visible():
            break
    curve = points(live, OWN)
    count.fill("99")
    count.press("Tab")
    settle(live)
    said = live.locator("#live-controls [role=alert]")
    assert said.inner_text().startswith("Not computed: ")
    assert points(live, OWN) == pytest.approx(curve)
    assert live.locator("#first.old").count() == 1
    live.get_by_role("button", name="back to the advice").click()
    settle(live)
    assert said.inner_text() == ""
    assert live.locator("#first.old").count() == 0
