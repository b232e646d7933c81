"""Methods and tables of an article: numbers of the summary, sources that the project names."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from models.catalogues.parts import ferrite_core
from pipeline.article import methods
from pipeline.article.printed_tables import candidates, cases, causes, installation, parts
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.pair import PairChoke
from pipeline.study.reader import load_study
from tests.harness.made_answers import study as demo

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "results" / "orchard_shed"


@cache
def summary() -> dict[str, Any]:
    data: dict[str, Any] = json.loads((SAMPLE / "summary.json").read_text(encoding="utf-8"))
    return data


# Methods


def test_every_source_is_cited_and_every_citation_has_its_entry_and_its_fields() -> None:
    # Fields that each kind of entry needs: O. Patashnik, "BibTeXing", 1988, 3.1 (from memory).
    needed = {
        "article": {"author", "title", "journal", "year"},
        "book": {"author", "title", "publisher", "year"},
        "techreport": {"author", "title", "institution", "year"},
    }
    found = {}
    for kind, key, body in re.findall(
        r"^@(\w+)\{(\w+),\n(.*?)^\}", methods.references(), re.MULTILINE | re.DOTALL
    ):
        fields = dict(re.findall(r"^\s*(\w+)\s*=\s*\{(.*)\},?$", body, re.MULTILINE))
        assert needed[kind] <= fields.keys(), key
        assert all(value.count("{") == value.count("}") for value in fields.values()), key
        found[key] = fields
    cited = {key for s in methods.sentences([summary()]) for key in methods.cited_keys(s)}
    # The user's guide is what the decks are written by.
    assert found.keys() == cited | {"burke1981guide"}


def test_every_source_is_one_that_a_docstring_of_the_project_names() -> None:
    text = " ".join(
        " ".join(path.read_text(encoding="utf-8").split())
        for folder in ("models", "pipeline")
        for path in (ROOT / folder).rglob("*.py")
        if "article" not in path.relative_to(ROOT).parts
    )
    for author, year in re.findall(
        r"author\s*= \{+([A-Z][a-z]+).*?year\s*= \{(\d+)\}", methods.references(), re.DOTALL
    ):
        name = "JCGM" if author == "Joint" else author
        assert re.search(rf"{name}[^\[]{{0,250}}{year}", text), (name, year)


def test_numbers_of_the_methods_are_those_of_the_summary() -> None:
    text = methods.methods_markdown([summary()])
    answer, drawn = summary()["answer"], summary()["geometries"]
    assert f"{answer['geometries']} geometries with {answer['draws']} draws each" in text
    assert f"{answer['tried']} sets of chokes" in text
    segments = [g["n_segments"] for g in drawn]
    assert f"{len(drawn)} geometries of {min(segments)} to {max(segments)} segments" in text
    assert f"for {len(summary()['cases'])} cases" in text
    assert f"PyNEC {summary()['versions']['PyNEC']}" in text
    changed = json.loads(json.dumps(summary()))
    changed["answer"]["draws"] = 77
    assert "with 77 draws each" in methods.methods_markdown([changed])


def test_a_title_cites_nothing() -> None:
    changed = json.loads(json.dumps(summary()))
    changed["study"]["title"] = "a [@burke1981theory] b \\cite{x} c"
    before = methods.methods_latex([summary()]).count("\\cite{")
    assert methods.methods_latex([changed]).count("\\cite{") == before
    before = methods.methods_markdown([summary()]).count("[@")
    assert methods.methods_markdown([changed]).count("[@") == before


def test_both_forms_say_the_same() -> None:
    plain = re.sub(r" \[@\w+\]|# Methods|\\", "", methods.methods_markdown([summary()]))
    tex = methods.methods_latex([summary()]).split("\n", 2)[2]
    tex = re.sub(r"~\\cite\{\w+\}|\\(?=[%&#_$])|[{}]", "", tex)
    assert tex.split() == plain.split()


# Tables


def test_candidates_are_those_of_the_study_and_of_the_front_with_the_choice_marked() -> None:
    answer = summary()["answer"]
    table = candidates(summary())
    ids = {row["id"] for row in table.data}
    assert {c["id"] for c in answer["candidates"] if c["origin"] == "study"} <= ids
    assert {point["id"] for point in answer["front"]} <= ids
    assert [row["id"] for row in table.data if row["chosen"] == "yes"] == [answer["chosen"]]
    marked = [row[0] for row in table.rows if row[0].endswith("†")]
    assert len(marked) == 1
    assert len(table.rows) == len(table.data)
    by_id = {c["id"]: c for c in answer["candidates"]}
    for row in table.data:
        assert row["enough"] == by_id[row["id"]]["enough"]
        assert row["swr_high"] == by_id[row["id"]]["figures"]["swr"]["high"]


def test_cases_are_those_of_the_committed_table(tmp_path: Path) -> None:
    table = cases(summary())
    table.write(tmp_path, "orchard_shed")
    with (tmp_path / "cases.csv").open(encoding="utf-8") as stream:
        ours = list(csv.DictReader(stream))
    with (SAMPLE / "tables" / "cases.csv").open(encoding="utf-8") as stream:
        theirs = list(csv.DictReader(stream))
    assert [row["case"] for row in ours] == [row["case"] for row in theirs]
    for row, other in zip(ours, theirs, strict=True):
        assert {key: other[key] for key in row} == row
    made = (tmp_path / "cases.tex").read_text(encoding="utf-8")
    assert r"\label{tab:orchard_shed-cases}" in made
    assert len(re.findall(r"\\\\$", made, re.MULTILINE)) == 1 + len(ours)


def test_causes_have_a_row_for_each_unknown_of_each_case_in_the_data() -> None:
    answer = summary()["answer"]
    table = causes(summary())
    assert len(table.data) == sum(len(c["unknowns"]) for c in answer["causes"].values())
    assert all(row["enough_least"] <= row["enough_most"] for row in table.data)


def test_the_installation_is_that_of_the_study_in_units() -> None:
    rows = {row["quantity"]: (row["value"], row["unit"]) for row in installation(summary()).data}
    assert rows["design frequency"] == (145.0, "MHz")
    assert rows["long leg"] == (1480.0, "mm")
    assert rows["route, step 4: out"] == (6.0, "m")
    assert rows["impedance of the ground rod"] == ("40.0 + j0.0", "ohm")


def test_parts_are_the_pipe_the_cable_and_the_choke_at_its_price() -> None:
    table = parts(summary(), demo())
    quantity = {row["part"]: row["quantity"] for row in table.data}
    assert quantity["m of 10.3 mm foam low-loss"] == 18.0
    chosen = next(row for row in table.data if row["part"].startswith("choke: two cores"))
    assert (chosen["quantity"], chosen["price"]) == (2, 4.5)
    assert any("copper pipe 22x1 mm" in name for name in quantity)


def test_parts_of_two_chokes_are_those_of_each_at_its_own_price() -> None:
    made = json.loads(json.dumps(summary()))
    taken = next(c for c in made["answer"]["candidates"] if c["id"] == made["answer"]["chosen"])
    made["answer"]["candidates"].append({**taken, "id": "two"})
    made["answer"]["chosen"] = "two"
    both = (
        FerriteChoke(id=name, label="", position=at, count=n, core=ferrite_core(name), price=price)
        for name, at, n, price in (
            ("mix-43-clamp-12-7", 0.05, 2, 9.0),
            ("mix-31-clamp-12-7", 0.9, 3, 15.0),
        )
    )
    pair = PairChoke.of("two", "", *both)
    rows = parts(made, replace(demo(), chokes=(pair,))).data[-2:]
    assert [(row["quantity"], row["price"]) for row in rows] == [(2, 4.5), (3, 5.0)]
    assert ["mix 43" in rows[0]["part"], "mix 31" in rows[1]["part"]] == [True, True]


@pytest.mark.parametrize("name", ["sleeve_dipole", "gamma_dipole", "open_sleeve_j_70cm"])
def test_every_kind_of_antenna_has_its_parts(name: str) -> None:
    study = load_study(ROOT / "models" / "studies" / f"{name}.yaml")
    assert parts(summary(), study).rows
