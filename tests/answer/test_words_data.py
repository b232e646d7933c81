"""The answer as data: its layout, and that sentences and numbers in it are one and the same."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings

from models.lengths import lengths_in
from pipeline.answer.answer_data import answer_data
from pipeline.answer.record import Answer
from pipeline.answer.stored_summary import SCHEMA_VERSION, read_summary
from pipeline.answer.words import said
from pipeline.runtime.store import write_json
from pipeline.text.errors import ResultError
from tests.harness.made_answers import SEEDS, made_answer

pytestmark = pytest.mark.takes(3)

MANY = settings(max_examples=60, deadline=None)
SCHEMA = json.loads((files("pipeline.report") / "summary.schema.json").read_text(encoding="utf-8"))
LAYOUT = jsonschema.Draft202012Validator(
    {**SCHEMA["properties"]["answer"], "$defs": SCHEMA["$defs"]}
)


def data_of(answer: Answer) -> dict[str, Any]:
    with lengths_in(answer.study.lengths):
        return answer_data(answer)


def numbers(data: Any) -> Iterator[float]:
    if isinstance(data, dict):
        data = list(data.values())
    if isinstance(data, list):
        for value in data:
            yield from numbers(value)
    elif isinstance(data, float):
        yield data


@MANY
@given(SEEDS)
def test_any_answer_keeps_to_the_published_layout(seed: int) -> None:
    data = data_of(made_answer(seed))
    LAYOUT.validate(json.loads(json.dumps(data)))
    assert all(math.isfinite(value) for value in numbers(data))


@MANY
@given(SEEDS)
def test_data_and_sentences_are_of_one_answer(seed: int) -> None:
    answer = made_answer(seed)
    data = data_of(answer)
    with lengths_in(answer.study.lengths):
        found = said(answer)
    assert data["text"] == found.text
    assert data["questions"] == found.questions
    by_id = {c["id"]: c for c in data["candidates"]}
    assert data["chance"] == by_id[data["chosen"]]["enough"]
    assert data["enough"] == (data["chance"] >= data["sure"])
    for c in by_id.values():
        parts = ("enough", "noticeable", "strong", "worse")
        assert sum(c[part] for part in parts) == pytest.approx(1.0, abs=1e-9)
    for tile in data["numbers"]:
        taken = by_id[data["chosen"]]["figures"][tile["name"]]
        assert all(tile[end] == taken[end] for end in ("stated", "low", "high"))
        assert tile["without"] == by_id["none"]["figures"][tile["name"]]["stated"]


def test_the_layout_refuses_what_is_misspelt_or_missing() -> None:
    data = data_of(made_answer(1))
    assert LAYOUT.is_valid(data)
    for wrong in (
        {**data, "verdict": "take it"},
        {key: value for key, value in data.items() if key != "chosen"},
        {**data, "chance": 1.2},
        {**data, "numbers": data["numbers"][:2]},
    ):
        assert not LAYOUT.is_valid(wrong)


# Summaries of other versions


def old_summary() -> dict[str, Any]:
    """What a summary of version 2 had where version 3 has the answer."""
    verdict = {"headline": "x", "text": "x", "recommended_case": "none", "effect_none": "strong"}
    return {"schema_version": "2.0", "verdict": verdict, "cases": [{"id": "none", "effect": "x"}]}


def test_an_older_summary_is_answered_with_the_keys_that_are_gone(tmp_path: Path) -> None:
    write_json(tmp_path / "summary.json", old_summary())
    with pytest.raises(ResultError) as caught:
        read_summary(tmp_path)
    (fault,) = caught.value.faults
    assert fault.tag == "summary-version"
    assert fault.value == "schema_version: 2.0"
    for gone, instead in (
        ("verdict.text", "answer.text"),
        ("verdict.recommended_case", "answer.chosen"),
        ("cases.effect", "cases.standing"),
    ):
        assert f"{gone} (now {instead})" in fault.rule
    # What that file did not have has not gone from it.
    assert "verdict.certainty" not in fault.rule
    assert "run the study again" in fault.remedy
    assert len(str(caught.value).splitlines()) == 3


def test_every_key_that_stands_for_one_that_is_gone_is_in_the_layout(tmp_path: Path) -> None:
    old, more = old_summary(), dict.fromkeys(("paragraphs", "certainty", "variations"), "x")
    write_json(tmp_path / "summary.json", {**old, "verdict": {**old["verdict"], **more}})
    with pytest.raises(ResultError) as caught:
        read_summary(tmp_path)
    rule = caught.value.faults[0].rule
    answer = SCHEMA["properties"]["answer"]["properties"]
    for word in rule.replace(",", " ").replace(")", " ").split():
        if word.startswith("answer."):
            assert word.removeprefix("answer.") in answer


@pytest.mark.parametrize("version", ["1.0", "4.1", None])
def test_a_summary_of_any_other_version_is_refused(version: str | None, tmp_path: Path) -> None:
    write_json(tmp_path / "summary.json", {} if version is None else {"schema_version": version})
    with pytest.raises(ResultError, match="summary-version"):
        read_summary(tmp_path)


def test_a_later_minor_version_is_read(tmp_path: Path) -> None:
    major = SCHEMA_VERSION.split(".")[0]
    write_json(tmp_path / "summary.json", {"schema_version": f"{major}.9", "new": 1})
    assert read_summary(tmp_path)["new"] == 1
