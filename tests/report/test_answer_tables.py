"""Tables of an answer: every number of the record is in them, and nothing else decides there."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings

from models.catalogues.parts import ferrite_core
from models.lengths import lengths_in
from pipeline.answer.phrases import standing
from pipeline.answer.questions import answers_to_questions
from pipeline.answer.record import CLASSES, SURE
from pipeline.circuit.choke_materials import least_and_most
from pipeline.figures.data import read_table
from pipeline.report.answer_rows import core_rows_in_print
from pipeline.report.answer_tables import (
    OWN,
    TABLES,
    candidate_rows,
    cause_rows,
    core_rows,
    front_rows,
    instead_rows,
)
from pipeline.runtime.csv_tables import write_table
from tests.harness.made_answers import SEEDS, made_answer


@given(SEEDS)
@settings(max_examples=40, deadline=None)
def test_every_candidate_has_its_row_with_chances_that_add_up(seed: int) -> None:
    answer = made_answer(seed)
    with lengths_in(answer.study.lengths):
        rows = candidate_rows(answer)
    assert [row["case"] for row in rows] == list(answer.candidates)
    assert [row["case"] for row in rows if row["chosen"] == "yes"] == [answer.chosen]
    for row in rows:
        own = answer.candidates[row["case"]]
        # Definition: exactly one class holds in a draw.
        assert row["enough"] + sum(row[name] for name in CLASSES[1:]) == pytest.approx(1)
        assert row["standing"] == standing(own, answer)
        assert row["score_high"] == own.score.high
        assert row["swr_feed_stated"] == own.figures["swr"].stated
        assert row["change_swr_high"] == own.changes["swr"].high
        assert (row["standing"] == "enough") <= (row["enough"] >= SURE)


@given(SEEDS)
@settings(max_examples=40, deadline=None)
def test_causes_front_and_what_else_are_all_there(seed: int) -> None:
    answer = made_answer(seed)
    with lengths_in(answer.study.lengths):
        causes = cause_rows(answer)
    assert len(causes) == sum(1 + len(of) for of in answer.causes.values())
    for row in causes:
        if row["unknown"] == "geometry":
            assert row["share"] == answer.geometry[row["case"]].value
        else:
            assert row["chance_low"] <= row["chance_high"]
            assert row["drawn_from"]
            assert row["measure"]
    assert [row["set"] for row in front_rows(answer)] == [p.id for p in answer.front]
    assert [row["enough"] for row in instead_rows(answer)] == [
        i.enough.value for i in answer.instead
    ]


@given(SEEDS)
@settings(max_examples=20, deadline=None)
def test_a_row_of_every_table_can_be_written_and_has_the_columns_of_the_first(seed: int) -> None:
    answer = made_answer(seed)
    with lengths_in(answer.study.lengths):
        for name, rows_of in TABLES.items():
            rows = rows_of(answer)
            assert len({tuple(row) for row in rows}) <= 1, name


def test_a_table_reads_back_as_it_was_written(tmp_path: Path) -> None:
    rows = candidate_rows(made_answer(7))
    write_table(tmp_path / "candidates.csv", rows)
    with (tmp_path / "candidates.csv").open(encoding="utf-8", newline="") as stream:
        read = list(csv.DictReader(stream))
    assert [row["case"] for row in read] == [row["case"] for row in rows]
    assert float(read[0]["enough"]) == pytest.approx(rows[0]["enough"], abs=1e-6)


def test_the_range_of_a_core_is_one_in_catalogue_table_page_and_sentence(tmp_path: Path) -> None:
    answer = made_answer(3)
    core, at = ferrite_core("mix-43-clamp-12-7"), answer.study.frequency
    name = next(n for n, c in answer.candidates.items() if c.case.choke is not None
                and c.case.choke.ferrite_core is not None)  # fmt: skip
    first = answer.candidates[name]
    assert first.case.choke is not None
    one = replace(first.case.choke, core=core)
    first = replace(first, case=replace(first.case, choke=one), grade="sound", barred="")
    answer = replace(answer, candidates={**answer.candidates, name: first}, chosen=name)
    rows = core_rows(answer)
    (row,) = (r for r in rows if r["core"] == core.id)
    assert (row["z_low_ohm"], row["z_high_ohm"]) == pytest.approx(least_and_most(core, at))
    words = f"{row['z_low_ohm']:.0f} to {row['z_high_ohm']:.0f}"
    # A row that is the reader's own says so.
    rows = [{**r, "known_from": OWN} if r is row else r for r in rows]
    write_table(tmp_path / "tables" / "cores.csv", rows)
    page = core_rows_in_print(read_table(tmp_path, "cores"))["tried"]
    (shown,) = (r for r in page if "own measurement" in r["label"])
    assert shown["label"].startswith(core.name)
    assert shown["one_pass"].endswith(f"; {words}")
    said = answers_to_questions(answer)["What did the checks say?"]
    assert f"one pass through one core is {words} ohm, least to most" in said


def test_a_core_is_tried_only_if_it_goes_over_the_cable_and_is_on_sale() -> None:
    answer = made_answer(3)
    jacket = answer.study.cable.type.jacket_diameter
    rows = core_rows(answer)
    tried = [row for row in rows if row["tried"] == "yes"]
    assert tried
    assert all(row["hole_diameter_m"] >= jacket for row in tried)
    assert all(row["r_ohm"] is not None for row in tried)
    for row in rows:
        if row["hole_diameter_m"] < jacket:
            assert row["tried"] == "no: does not go over the cable"
