"""Noise, heat and choice of cable in tables, summary and report."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from pipeline.analysis.noise_and_heat_tables import TABLES, StationUse, use_data, use_of
from pipeline.report.page import page
from pipeline.runtime.csv_tables import write_table
from pipeline.solver.cases import CABLE, cases
from pipeline.solver.terminations import route_length
from tests.harness import small_study

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "results" / "orchard_shed" / "summary.json"
SCHEMA = json.loads((files("pipeline.report") / "summary.schema.json").read_text(encoding="utf-8"))

NO_CORES: dict[str, Any] = {"tried": [], "others": {}}


@cache
def use() -> StationUse:
    study, solved = small_study.study(), small_study.solved()
    found = {c.id: small_study.case(c.id) for c in cases(study)}
    route = route_length(solved[CABLE].structure)
    return use_of(study, found, route, "core-x4")


@cache
def data() -> dict[str, Any]:
    return use_data(use())


@cache
def html() -> str:
    summary = json.loads(SAMPLE.read_text(encoding="utf-8"))
    # The small study's use under the demo's cases: whatever is no case of it stays empty.
    text = page({**summary, "in_use": json.loads(json.dumps(data()))}, [], [], NO_CORES)
    return " ".join(text.split())


# Laws


def test_the_part_keeps_to_the_published_layout() -> None:
    part = {**SCHEMA["properties"]["in_use"], "$defs": SCHEMA["$defs"]}
    jsonschema.validate(json.loads(json.dumps(data())), part, jsonschema.Draft202012Validator)


def test_every_case_with_a_cable_has_its_noise_and_every_part_its_heat() -> None:
    names = [c.id for c in cases(small_study.study())]
    assert list(data()["noise"]["cases"]) == [n for n in names if n != "no-feedline"]
    assert list(data()["heat"]["cases"]) == [
        n for n in names if n not in ("no-feedline", "ideal", "none", "perfect")
    ]


def test_without_a_choke_nothing_has_changed() -> None:
    bare = data()["noise"]["cases"]["none"]
    assert (bare["station_change_db"], bare["house_upright_change_db"]) == (0.0, 0.0)
    assert data()["noise"]["cases"]["core-x4"]["station_change_db"] < -10


def test_the_tables_are_those_of_the_summary(tmp_path: Path) -> None:
    for name, rows_of in TABLES.items():
        rows = rows_of(use())
        write_table(tmp_path / f"{name}.csv", rows)
        text = (tmp_path / f"{name}.csv").read_text(encoding="utf-8")
        assert text.count("\n") == 1 + len(rows), name
    heat = {row["case"]: row for row in TABLES["heat"](use())}
    assert heat["core-x1"]["margin_k"] == data()["heat"]["cases"]["core-x1"]["margin_k"]


@pytest.mark.parametrize("part", ["noise", "heat", "line"])
def test_every_sentence_is_on_the_page(part: str) -> None:
    shown = html().replace("&#39;", "'")
    for sentence in data()[part]["sentences"]:
        assert sentence in shown
    assert all(text in shown for text in data()["line"]["cautions"])


def test_the_column_of_noise_is_in_the_comparison() -> None:
    before, after = html().split('<th scope="col">station noise heard [dB]</th>')
    assert "What would it be exactly as described?" in before
    # The ideal choke is a case of both studies.
    change = round(data()["noise"]["cases"]["ideal"]["station_change_db"])
    assert f"<td>−{-change}</td>" in after


def test_what_is_not_known_is_called_unknown() -> None:
    assert "<td>unknown</td>" in html()


# Edges


def test_a_summary_without_that_part_still_makes_a_page() -> None:
    summary = json.loads(SAMPLE.read_text(encoding="utf-8"))
    summary.pop("in_use", None)
    assert "station noise heard" not in page(summary, [], [], NO_CORES)
