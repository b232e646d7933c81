"""A setting as a study file: the project's own reader takes it, and it says what was set."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from playwright.sync_api import Page

from pipeline.chokes.ferrite import FerriteChoke
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.shipped import shipped_studies
from tests.harness.small_study import SMALL, small_study_file
from tests.page.made_heads import made_head

CORE = "mix-43-clamp-12-7"
# What a stranger may put into a text: markup, ends of it, entities, quotes, line ends, what turns
# the direction of writing, signs beyond the basic plane, what YAML takes for something else.
HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(1)</script>",
    "]]>--><!-- &lt;b&gt; &amp; &#60;",
    "\"'`${alert(1)}\\",
    "a\nb: c\r\n- d\t#e",
    "\u202egnp.exe\u2066\u200b\ufeff",
    "\u2028\u2029\x85\x00\x1b[2J\x7f",
    "😀 𝔘 é ß \u0301",
    "yes",
    "null",
    "~",
    "0x10",
    "1e5",
    ": - ? * & ! | > % @ {} []",
    " space ",
    "",
    "x" * 3000,
)


@pytest.fixture(scope="module")
def writer(module: Callable[[str], Page]) -> Page:
    return module("around/study_file")


def written(writer: Page, setting: dict[str, Any], head: dict[str, Any]) -> dict[str, str]:
    found: dict[str, str] = writer.evaluate(
        "([setting, head]) => tried.studyFile(setting, head)", [setting, head]
    )
    return found


def as_set(writer: Page, folder: Path, head: dict[str, Any], **changes: Any) -> Study:
    """The study of a file that the page writes, its tables beside it."""
    setting = {**head["start"], **changes}
    path = small_study_file(folder).with_name("as_set.yaml")
    path.write_text(written(writer, setting, head)["text"], encoding="utf-8")
    return load_study(path)


def on(kind: str, count: int, position: float) -> dict[str, Any]:
    return {"kind": kind, "count": count, "position": position}


def test_a_setting_is_a_study_with_that_choke_and_those_ends(writer: Page, tmp_path: Path) -> None:
    head = made_head(SMALL)
    study = as_set(writer, tmp_path, head, first=on(CORE, 3, 0.0712345678), radio=[1.5, -2e-7])
    choke = study.chokes[-1]
    assert choke.id == "as-set"
    assert isinstance(choke, FerriteChoke)
    assert (choke.core.id, choke.count, choke.position) == (CORE, 3, 0.0712345678)
    assert (choke.price, choke.currency) == (13.5, "EUR")
    assert study.station.impedance == 1.5 - 2e-7j
    before = load_study(SMALL)
    assert study.chokes[:-1] == before.chokes
    assert (study.antenna, study.site, study.cable) == (before.antenna, before.site, before.cable)
    assert (study.title, study.frequency) == (before.title, before.frequency)


@pytest.mark.parametrize("nearer", [on(CORE, 2, 0.2), on("mix-31-clamp-12-7", 3, 0.2)])
def test_two_chokes_are_a_pair_the_nearer_one_first(
    writer: Page, tmp_path: Path, nearer: dict[str, Any]
) -> None:
    both = {"first": on(CORE, 2, 0.9), "second": nearer}
    choke = as_set(writer, tmp_path, made_head(SMALL), **both).chokes[-1]
    found = [(part.count, part.position) for part in choke.placed]
    assert found == [(nearer["count"], 0.2), (2, 0.9)]
    assert [c.id for c in choke.cores] == list(dict.fromkeys([nearer["kind"], CORE]))


def test_two_at_once_that_no_study_holds_are_refused_with_a_sentence(writer: Page) -> None:
    head = made_head(SMALL)
    setting = {**head["start"], "second": on("perfect", 1, 0.9)}
    assert "both are cores" in written(writer, setting, head)["refused"]


def test_a_bond_off_its_rod_is_open_and_comes_with_a_caution(writer: Page) -> None:
    head = made_head(SMALL, hasBond=True)
    head["study"] = {**head["study"], "unknowns": {"rod": "known", "route": "0.1 m"}}
    text = written(writer, {**head["start"], "bond": "none"}, head)["text"]
    assert "protects from lightning" in text
    found = yaml.safe_load(text)
    assert found["bond"]["rod_impedance"] == "open"
    assert found["unknowns"] == {"route": "0.1 m"}


def test_without_a_choke_the_study_has_its_own_candidates(writer: Page, tmp_path: Path) -> None:
    study = as_set(writer, tmp_path, made_head(SMALL), first=None, radio="open")
    assert study.station.impedance is None
    assert study.chokes == load_study(SMALL).chokes


def test_an_id_that_is_taken_is_not_taken_again(writer: Page, tmp_path: Path) -> None:
    head = made_head(SMALL)
    own = {"kind": "ideal", "position": "1 m"}
    head["study"] |= {"chokes": [{"id": "as-set", **own}, {"id": "as-set-2", **own}]}
    chokes = as_set(writer, tmp_path, head).chokes
    assert [choke.id for choke in chokes] == ["as-set", "as-set-2", "as-set-3"]


@pytest.mark.parametrize("shipped", shipped_studies(), ids=lambda path: path.stem)
def test_every_shipped_study_is_written_as_it_was_but_for_what_is_set(
    writer: Page, shipped: Path
) -> None:
    data = yaml.safe_load(shipped.read_text(encoding="utf-8"))
    head = made_head(SMALL, hasBond="bond" in data)
    head["study"] = data
    text = written(writer, {**head["start"], "first": None}, head)["text"]
    back = yaml.safe_load(text)
    station, bond = back.pop("station"), back.pop("bond", {})
    assert station == {**data.pop("station", {}), "impedance": "30+20j ohm"}
    assert bond == ({**data.pop("bond"), "rod_impedance": "40 ohm"} if "bond" in data else {})
    assert back == data


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: repr(text[:12]))
def test_hostile_text_stays_one_text_in_yaml_and_in_json(writer: Page, text: str) -> None:
    head = made_head(SMALL)
    head["study"] = {
        "title": text,
        "antenna": {text[:900] or "empty": [text, {"a": text}, [[text]]]},
    }
    back = yaml.safe_load(written(writer, head["start"], head)["text"])
    assert back["title"] == text
    assert back["antenna"] == head["study"]["antenna"]


def test_numbers_are_read_back_as_numbers(writer: Page) -> None:
    numbers = [0, -3, 0.1, 1e-7, 1.5e-9, 1e21, 2.5e22, True, False, None, [], {}]
    head = made_head(SMALL)
    head["study"] = {"antenna": {"values": numbers}}
    text = written(writer, head["start"], head)["text"]
    back = yaml.safe_load(text)["antenna"]["values"]
    assert json.dumps(back) == json.dumps(numbers)
