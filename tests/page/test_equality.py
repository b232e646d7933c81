"""The page computes what Python computes: a thousand settings, each figure to a millionth.

Python's side is its own kernel on the study's own solves, the page's what its script makes of the
data that it carries.
"""

from __future__ import annotations

import base64
import gzip
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page

from pipeline.live.packing import unpack
from tests.page.python_side import PythonSide, python_side

SETTINGS = 1000
ALLOWED = 1e-6
# Whole patterns are many numbers: of so many settings.
PATTERNS = 25
_LOAD = """async (text) => {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  window.model = await tried.readModel(bytes);
}"""
_PLAIN = """(settings) => settings.map((setting) => {
  const { wires, ring, pattern, shield, band, at, ...rest } = model.evaluate(setting);
  const plain = (over) => Object.fromEntries(Object.entries(over).map(([k, v]) => [k, [...v]]));
  return { ...rest, shield: [...shield], band: plain(band), at: plain(at) };
})"""


@pytest.fixture(scope="module")
def python(results: Path) -> PythonSide:
    return python_side(results)


@pytest.fixture(scope="module")
def page(module: Callable[[str], Page], results: Path) -> Page:
    loaded = module("engine/index")
    plain = gzip.decompress((results / "live.gz").read_bytes())
    loaded.evaluate(_LOAD, base64.b64encode(plain).decode("ascii"))
    return loaded


@pytest.fixture(scope="module")
def settings(python: PythonSide) -> list[dict[str, Any]]:
    return list(python.settings(SETTINGS))


@pytest.fixture(scope="module")
def told(page: Page, settings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(_PLAIN, settings)
    return found


def off_by(ours: Any, theirs: Any) -> float:
    """Largest difference over what is allowed per unit; nothing where both are no number."""
    a, b = np.atleast_1d(np.asarray(ours, float)), np.atleast_1d(np.asarray(theirs, float))
    assert a.shape == b.shape
    assert (np.isnan(a) == np.isnan(b)).all()
    return float(np.nanmax(np.abs(a - b) / np.maximum(1, np.abs(b)), initial=0.0))


def differences(ours: dict[str, Any], theirs: dict[str, Any]) -> dict[str, float]:
    found = {name: off_by(ours["figures"][name], v) for name, v in theirs["figures"].items()}
    found |= {f"over.{n}": off_by(ours["over"][n], v) for n, v in theirs["over"].items()}
    found |= {f"band.{n}": off_by(ours["band"][n], v) for n, v in theirs["band"].items()}
    found |= {name: off_by(ours[name], theirs[name]) for name in ("score", "shield")}
    if theirs["heat"] is not None:
        found["heat"] = off_by(ours["heat"], theirs["heat"])
    return found


def test_page_and_python_agree_on_every_figure_of_a_thousand_settings(
    python: PythonSide, settings: list[dict[str, Any]], told: list[dict[str, Any]]
) -> None:
    worst: dict[str, float] = {}
    compared = 0
    for setting, ours in zip(settings, told, strict=True):
        assert (ours["refused"] == "") == python.may_be_set(setting), (setting, ours["refused"])
        if ours["refused"]:
            continue
        compared += 1
        theirs = python.outcome(setting)
        found = differences(ours, theirs)
        assert max(found.values()) <= ALLOWED, (setting, found)
        worst = {name: max(worst.get(name, 0.0), each) for name, each in found.items()}
        if theirs["over"][theirs["reason"]] > ours["over"][ours["reason"]] * (1 + 2 * ALLOWED):
            assert ours["reason"] == theirs["reason"]
    assert compared > SETTINGS / 3
    print({name: f"{each:.1e}" for name, each in sorted(worst.items(), key=lambda x: -x[1])})


def test_what_is_told_at_a_frequency_is_its_place_on_the_curve(
    settings: list[dict[str, Any]], told: list[dict[str, Any]]
) -> None:
    for setting, ours in zip(settings, told, strict=True):
        if ours["refused"]:
            continue
        at = ours["band"]["frequency"].index(setting["frequency"])
        assert ours["at"] == {name: [values[at]] for name, values in ours["band"].items()}


def test_whole_patterns_agree(
    page: Page, python: PythonSide, settings: list[dict[str, Any]], told: list[dict[str, Any]]
) -> None:
    sound = [s for s, ours in zip(settings, told, strict=True) if not ours["refused"]]
    for setting in sound[:PATTERNS]:
        flat = page.evaluate("(s) => [...model.evaluate(s).pattern]", setting)
        theirs = python.outcome(setting)["pattern"]
        # As power over that of the largest: nobody sees how deep a null is.
        a, b = (
            10 ** ((np.asarray(g).reshape(theirs.shape) - theirs.max()) / 10)
            for g in (flat, theirs)
        )
        assert np.abs(a - b).max() <= ALLOWED


def test_candidates_of_the_study_are_settings_of_the_page(page: Page, results: Path) -> None:
    head, _ = unpack((results / "live.gz").read_bytes())
    found = page.evaluate(_PLAIN, [c["setting"] for c in head["candidates"]])
    assert {one["refused"] for one in found} == {""}
    assert page.evaluate("(s) => model.evaluate(s).refused", head["start"]) == ""


def test_the_ideal_choke_leaves_no_change_against_itself(page: Page, results: Path) -> None:
    head, _ = unpack((results / "live.gz").read_bytes())
    best = page.evaluate("(s) => model.ideal(s).figures", head["start"])
    assert best["pattern_rms_db"] == 0
    assert best["shield_ratio"] >= 0


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"frequency": 1e6}, "Computed is the band"),
        ({"variant": "another"}, "not computed"),
        ({"first": {"kind": "nothing", "count": 1, "position": 0.05}}, "kind of choke"),
        ({"first": {"count": 0}}, "pieces of"),
        ({"first": {"count": 1.5}}, "pieces of"),
        ({"first": {"position": 1e3}}, "end of the cable"),
        ({"first": {"position": -1.0}}, "along the cable"),
    ],
)
def test_outside_of_what_was_solved_the_page_says_so(
    page: Page, results: Path, change: dict[str, Any], said: str
) -> None:
    head, _ = unpack((results / "live.gz").read_bytes())
    core = next(k["id"] for k in head["kinds"] if k["counted"])
    first = {"kind": core, "count": 1, "position": 0.05} | change.get("first", {})
    found = page.evaluate(_PLAIN, [{**head["start"], **change, "first": first}])[0]
    assert said in found["refused"]
    assert found["figures"] == {}
