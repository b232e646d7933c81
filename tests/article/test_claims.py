"""The table of claims: a row for each number of each sentence, true to its file and tests."""

from __future__ import annotations

import ast
import json
import shutil
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.answer.grounds import producers
from pipeline.article.claims import (
    claim_rows,
    claims_markdown,
    named_tests,
    quantity_of,
    value_at,
)
from pipeline.article.markup import markdown
from pipeline.text.errors import ResultError
from tests.article.claims_of_results import check, summary_of
from tests.harness.made_answers import (
    VERDICTS,
    answers_of_every_kind,
    verdict,
    write_results,
)
from tests.harness.small_study import finished

pytestmark = pytest.mark.takes(8)

ROOT = Path(__file__).parents[2]


@cache
def functions_of(file: str) -> set[str]:
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


# Laws


def test_every_sentence_of_an_answer_has_rows_with_the_values_that_its_file_has() -> None:
    rows = check(finished() / "small")
    files = {row["file"] for row in rows}
    assert {"data/small/summary.json", "data/small/tables/candidates.csv"} <= files


def test_whatever_an_answer_says_has_its_numbers_files_and_tests(tmp_path: Path) -> None:
    said, made = set(), answers_of_every_kind()
    for k, answer in enumerate(made):
        write_results(answer, tmp_path / f"made-{k}")
        said |= {row["producer"] for row in check(tmp_path / f"made-{k}")}
    assert said == {f"pipeline.answer.{name}" for name in producers()}
    assert {verdict(answer) for answer in made} >= VERDICTS


@pytest.mark.parametrize("behind", named_tests())
def test_every_test_that_is_named_is_there(behind: str) -> None:
    for test in named_tests()[behind]:
        file, name = test.split("::")
        assert name in functions_of(file), test


def test_whatever_says_something_and_every_number_have_a_test() -> None:
    assert set(producers()) <= named_tests().keys()
    for row in claim_rows(finished() / "small", "small"):
        assert row["tests"]
        quantity = quantity_of(row["key"])
        # A share or a chance, a decibel, an ohm: a number that is measured in something.
        if isinstance(row["value"], float) and "sure" not in row["key"]:
            assert quantity, row["key"]
        assert not quantity or quantity in named_tests(), row["key"]


def test_a_reader_meets_each_sentence_once() -> None:
    rows = claim_rows(finished() / "small", "small")
    page = claims_markdown(rows)
    lines = [line for line in page.splitlines() if line.startswith("| ")]
    sentences = dict.fromkeys((row["claim"], markdown(row["sentence"])) for row in rows)
    assert len(lines) == 2 + len(sentences)
    for line, (number, sentence) in zip(lines[2:], sentences, strict=True):
        assert line.startswith(f"| {number} | ")
        assert sentence in line


@given(st.text(min_size=1))
def test_a_name_of_any_letters_is_found_again(name: str) -> None:
    quoted = name.replace("\\", "\\\\").replace("'", "\\'")
    data = {"of": [{"id": "another"}, {"id": name, "value": 1}], "by": {name: {"value": 2}}}
    if name != "another":
        assert value_at(data, f"$.of[?@.id=='{quoted}'].value") == 1
    assert value_at(data, f"$.by['{quoted}'].value") == 2


# Refusals


@pytest.mark.parametrize("path", ["$.b", "$.a[?@.id=='z'].b", "$.a[?@.id=='x'].b", "$.a..b"])
def test_what_stands_nowhere_or_twice_is_no_ground(path: str) -> None:
    data = {"a": [{"id": "x", "b": 1}, {"id": "x", "b": 2}]}
    with pytest.raises(ResultError, match="ground-lost"):
        value_at(data, path)


def test_grounds_of_other_results_are_refused(tmp_path: Path) -> None:
    results = tmp_path / "small"
    shutil.copytree(finished() / "small", results)
    data = summary_of(results)
    data["answer"]["candidates"] = data["answer"]["candidates"][:1]
    (results / "summary.json").write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(ResultError, match="does not stand where the grounds"):
        claim_rows(results, "small")
