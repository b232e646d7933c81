"""Claims in texts and tables: what an answer says is borne out, what is put in its place is not."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

from models.lengths import lengths_in
from pipeline.answer.answer_data import answer_data
from pipeline.answer.claims import agrees, claims_in, contradictions, row_contradictions
from pipeline.workflow import stages
from tests.harness.made_answers import SEEDS, made_answer
from tests.harness.small_study import finished_with_pages
from tests.harness.told import (
    all_contradictions,
    blocks_of,
    compared_contradictions,
    count_of_claims,
    summary_of,
)

pytestmark = pytest.mark.takes(14)

MANY = settings(max_examples=50, deadline=None)


def data_of(seed: int) -> dict[str, Any]:
    answer = made_answer(seed)
    with lengths_in(answer.study.lengths):
        return answer_data(answer)


def text_of(data: dict[str, Any]) -> str:
    return "\n".join([data["text"], *data["questions"].values()])


# Laws


@MANY
@given(SEEDS)
def test_nothing_that_an_answer_says_is_against_its_numbers(seed: int) -> None:
    data = data_of(seed)
    assert contradictions(text_of(data), data) == []
    assert claims_in(text_of(data), data)


@MANY
@given(SEEDS)
def test_every_chance_that_is_changed_is_found(seed: int) -> None:
    data = data_of(seed)
    for claim in claims_in(text_of(data), data):
        if claim.kind != "chance":
            continue
        of = [c[claim.about] for c in data["candidates"] if c["id"] in claim.subject]
        wrong = next(w for w in ("13", "57", "86") if not any(agrees(w, x) for x in of))
        for said in ("in {} of 100", "({} without"):
            changed = claim.text.replace(said.format(claim.value), said.format(wrong))
            assert changed == claim.text or contradictions(changed, data)


@MANY
@given(SEEDS)
def test_another_headline_is_found(seed: int) -> None:
    data = data_of(seed)
    is_bare = data["chosen"] == "none" and data["enough"]
    assert bool(contradictions("No choke is needed.", data)) == (not is_bare)
    assert bool(contradictions("Nothing tried is enough; go without.", data)) == data["enough"]
    names = {c["named"] for c in data["candidates"] if c["id"] == data["chosen"]}
    for c in data["candidates"]:
        if c["id"] not in (data["chosen"], "none", "ideal") and c["named"] not in names:
            said = f"Put {c['named'].rstrip(' .,;:')}."
            assert contradictions(said, data), said


@MANY
@given(SEEDS)
def test_rows_of_the_answer_are_borne_out_and_changed_ones_are_not(seed: int) -> None:
    data = data_of(seed)
    for c in data["candidates"]:
        chosen = "yes" if c["id"] == data["chosen"] else "no"
        row = {"case": c["id"], "standing": c["standing"], "grade": c["grade"], "chosen": chosen}
        row |= {name: f"{c[name]:.6g}" for name in ("enough", "worse", "better", "place")}
        assert row_contradictions(row, data) == []
        other = {"yes": "no", "no": "yes"}[chosen]
        for column, value in (("standing", "so-so"), ("chosen", other), ("enough", "0.123456")):
            assert len(row_contradictions({**row, column: value}, data)) == 1
        assert row_contradictions({"set": c["id"], "enough": c["enough"]}, data) == []


# Edges


@pytest.mark.parametrize(
    ("words", "chance", "expected"),
    [
        ("97", 0.9749, True), ("97", 0.976, False), ("more than 99", 0.9951, True),
        ("more than 99", 0.98, False), ("fewer than 1", 0.0, True), ("fewer than 1", 0.02, False),
        ("just under 95", 0.9499, True), ("just under 95", 0.95, False),
    ],
)  # fmt: skip
def test_a_chance_in_words_is_read_as_it_is_meant(
    words: str, chance: float, expected: bool
) -> None:
    assert agrees(words, chance) == expected


def test_what_holds_in_a_part_of_a_range_is_no_claim_about_a_candidate() -> None:
    data = data_of(1)
    said = "Where the height is 8 m, this is enough in 3 of 100; where it is 9 m, in 4 of 100."
    assert claims_in(said, data) == []


def test_who_goes_by_one_name_may_be_any_of_them() -> None:
    data = data_of(1)
    names = dict.fromkeys(("label", "name", "named"), "a pair")
    twins = {**data, "candidates": [{**c, **names} for c in data["candidates"]]}
    (claim,) = claims_in("A thing: a pair is enough in 50 of 100.", twins)
    assert claim.subject == tuple(c["id"] for c in data["candidates"])


def test_a_grade_is_the_one_of_the_answer_in_every_table() -> None:
    assert len(row_contradictions({"case": "none", "grade": "so-so"}, data_of(1))) == 1


def test_nothing_on_the_pages_and_in_the_tables_of_a_finished_study_is_against_its_answer(
    tmp_path: Path,
) -> None:
    results = tmp_path / "small"
    shutil.copytree(finished_with_pages(), results)
    compared = tmp_path / "compared"
    stages.compared(compared / "compared.html", [results / "report.html"])
    assert all_contradictions(results) == []
    assert compared_contradictions(compared, {"small": results}) == []
    assert count_of_claims(results) > 10
    # What is changed afterwards is found.
    table = results / "tables" / "cases.csv"
    text = table.read_text(encoding="utf-8")
    standing = summary_of(results)["cases"][-1]["standing"]
    table.write_text(text.replace(standing, "so-so"), encoding="utf-8")
    assert all_contradictions(results)


def test_a_row_of_no_candidate_claims_nothing() -> None:
    assert row_contradictions({"case": "no-feedline", "standing": "no cable"}, data_of(1)) == []


def test_text_of_a_page_keeps_a_row_together_and_blocks_apart() -> None:
    page = (
        "<style>p {enough in 1 of 100}</style><p>No choke&nbsp;is <b>needed</b>.</p>"
        "<table><tr><th>coil</th><td>enough in 3 of 100</td></tr></table>"
        '<svg role="img" aria-label="A title"><text>x</text></svg>'
    )
    assert blocks_of(page).splitlines() == [
        "No choke is needed.", ", coil, enough in 3 of 100", "A title", "x",
    ]  # fmt: skip
