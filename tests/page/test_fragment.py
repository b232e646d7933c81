"""A setting as the fragment of a link: it comes back as it was, nonsense is refused in words."""

from __future__ import annotations

import random
import re
import unicodedata
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.harness.small_study import SMALL
from tests.page.made_heads import made_head, made_variant

# Berners-Lee, Fielding, Masinter, RFC 3986 (2005), section 3.5: what a fragment may hold.
FRAGMENT = re.compile(r"#(?:[A-Za-z0-9\-._~!$&'()*+,;=:@/?]|%[0-9A-F]{2})*")
AT_FIRST = {"mode": "own", "cut": 0}
VARIANTS = [made_variant("as-described", {}), made_variant("drop & 2*1 @ 3m", {})]
HEAD = made_head(SMALL, hasBond=True, variants=VARIANTS)
ODD = {**HEAD["kinds"][0], "id": "50% of *two*@once&more=#ü😀"}
HEAD["kinds"] = [*HEAD["kinds"], ODD]
MALFORMED = (
    "choke",
    "choke=",
    "choke=2",
    "choke=2*unknown@0.05m",
    "choke=0*mix-43-clamp-12-7@0.05m",
    "choke=13*mix-43-clamp-12-7@0.05m",
    "choke=2*perfect@0.05m",
    "choke=mix-43-clamp-12-7@9m",
    "choke=mix-43-clamp-12-7@-1m",
    "choke=mix-43-clamp-12-7@NaNm",
    "choke=mix-43-clamp-12-7@0.05",
    "choke=sleeve@0.31m",
    "choke=%E0%A4%A@0.05m",
    "choke=50*",
    "show=all",
    "cut=360deg",
    "cut=-5deg",
    "choke=none&choke=none",
    "radio=short",
    "radio=-1",
    "radio=1e999",
    "bond=40+j10",
    "at=150MHz",
    "at=145",
    "drawn=another",
    "__proto__=1",
    "constructor=1",
    "toString",
    "&",
    "=",
    "%",
    "<script>alert(1)</script>",
    "choke=<img src=x onerror=alert(1)>@0.05m",
    "choke=%E2%80%AEevil@0.05m",
    "x" * 100_000,
)


@pytest.fixture(scope="module")
def fragment(module: Callable[[str], Page]) -> Page:
    return module("around/fragment")


def settings(number: int) -> list[dict[str, Any]]:
    draw = random.Random(1)

    def on_cable() -> dict[str, Any] | None:
        kind = draw.choice([*HEAD["kinds"], None])
        if kind is None:
            return None
        count = draw.randint(1, kind["most"]) if kind["counted"] else 1
        place = draw.choice([draw.uniform(0.05, 2.1), round(draw.uniform(0.05, 2.1), 3)])
        position = place if kind["fixed"] is None else kind["fixed"]
        return {"kind": kind["id"], "count": count, "position": position}

    def ohms() -> list[float]:
        return [draw.choice([0, 22, draw.uniform(0, 1e4)]), draw.choice([0, draw.gauss(0, 1e3)])]

    return [
        {
            "variant": draw.choice(VARIANTS)["id"],
            "first": on_cable(),
            "second": on_cable(),
            "bond": draw.choice(["none", ohms()]),
            "radio": draw.choice(["open", ohms()]),
            "frequency": draw.choice([145.3e6, round(draw.uniform(144.1e6, 145.9e6), -3)]),
        }
        for _ in range(number)
    ]


def read(fragment: Page, texts: list[str]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = fragment.evaluate(
        "([texts, head]) => texts.map((text) => tried.settingOf(text, head))", [texts, HEAD]
    )
    return found


def test_a_setting_comes_back_from_its_fragment_as_it_was(fragment: Page) -> None:
    wanted = settings(500)
    texts = fragment.evaluate(
        "([all, head]) => all.map((setting) => tried.fragmentOf(setting, head))", [wanted, HEAD]
    )
    assert [text for text in texts if not FRAGMENT.fullmatch(text)] == []
    found = read(fragment, texts)
    for setting, back, text in zip(wanted, found, texts, strict=True):
        at = pytest.approx(setting["frequency"])
        assert back == {"setting": {**setting, "frequency": at}, "look": AT_FIRST}, text


def test_how_a_setting_is_looked_at_comes_back_as_well(fragment: Page) -> None:
    for look in ({"mode": "bare", "cut": 0}, {"mode": "ideal", "cut": 275}):
        text = fragment.evaluate(
            "([look, head]) => tried.fragmentOf(head.start, head, look)", [look, HEAD]
        )
        assert FRAGMENT.fullmatch(text)
        assert read(fragment, [text]) == [{"setting": HEAD["start"], "look": look}]


def test_a_fragment_is_short_and_says_what_is_set(fragment: Page) -> None:
    setting = {**HEAD["start"], "radio": "open", "bond": [40, -10], "frequency": 145.2e6}
    text = fragment.evaluate("([s, head]) => tried.fragmentOf(s, head)", [setting, HEAD])
    assert text == (
        "#choke=2*mix-43-clamp-12-7@0.05m&bond=40-10j&radio=open&at=145.2MHz&drawn=as-described"
    )


def test_what_a_link_leaves_out_is_as_the_page_begins(fragment: Page) -> None:
    nothing, radio, bare = read(fragment, ["", "#radio=open", "#choke=none"])
    assert nothing == {"setting": HEAD["start"], "look": AT_FIRST}
    assert radio["setting"] == {**HEAD["start"], "radio": "open"}
    assert bare["setting"] == {**HEAD["start"], "first": None, "second": None}


def test_nonsense_is_refused_with_a_sentence_and_nothing_is_thrown(fragment: Page) -> None:
    draw = random.Random(2)
    noise = [
        "".join(
            chr(draw.choice([draw.randrange(1, 0xD800), draw.randrange(32, 127)])) for _ in "x" * 30
        )
        for _ in range(300)
    ]
    for text, found in zip(MALFORMED, read(fragment, list(MALFORMED)), strict=True):
        assert found.keys() == {"refused"}, text
        assert re.fullmatch(r"The link's settings are not taken: .{5,200}\.", found["refused"])
        # Nothing invisible, nothing that turns the direction of what follows.
        assert {unicodedata.category(sign) for sign in found["refused"]} & {
            "Cc",
            "Cf",
            "Co",
        } == set()
    assert all(found.keys() == {"refused"} for found in read(fragment, noise))
