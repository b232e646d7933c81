"""Studies of one run beside each other."""

from __future__ import annotations

import csv
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from pipeline.figures.compared import Entry, overlay
from pipeline.figures.data import load_cases
from pipeline.figures.style import style
from pipeline.report.side_by_side import compare_studies, headline
from pipeline.text.errors import ResultError, StudyError
from pipeline.text.formatting import signed
from pipeline.workflow.plans import COMPARED, plan_studies
from tests.figures.conftest import results  # noqa: F401
from tests.harness.small_study import small_study_file

FIGURES = ("pattern", "band", "shield_current")
# What a reader finds in the last row of two studies.
LAST_ROW = re.compile(r"<tr class=\"difference\">(.*?)</tr>", re.S)


@pytest.fixture(scope="module")
def compared(results: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:  # noqa: F811
    """Comparison of the small study with itself, the second time with no choke needed."""
    home = tmp_path_factory.mktemp("pair")
    for name in ("first", "second"):
        shutil.copytree(results, home / name)
        path = home / name / "summary.json"
        summary = json.loads(path.read_text(encoding="utf-8"))
        summary["study"]["name"] = name
        summary["study"]["title"] = f"The {name} house"
        if name == "second":
            summary["answer"] |= {"chosen": "none", "enough": True}
        path.write_text(json.dumps(summary), encoding="utf-8")
    compare_studies([home / "first", home / "second"], home / COMPARED)
    return home


def table(home: Path) -> list[dict[str, str]]:
    with (home / COMPARED / "compared.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def case(home: Path, study: str, name: str) -> dict[str, str]:
    with (home / study / "tables" / "cases.csv").open(encoding="utf-8", newline="") as stream:
        return next(row for row in csv.DictReader(stream) if row["case"] == name)


# Laws


def test_every_number_is_that_of_the_study_it_comes_from(compared: Path) -> None:
    for row, chosen in zip(table(compared), (None, "ideal"), strict=True):
        summary = json.loads((compared / row["study"] / "summary.json").read_text("utf-8"))
        with_one = chosen or summary["answer"]["chosen"]
        for name, which in (("none", "without"), (with_one, "with")):
            own = case(compared, row["study"], name)
            for column in ("swr_feed", "peak_gain_dbi", "station_current_ratio"):
                assert row[f"{column}_{which}"] == own[column]
            assert row[f"grade_{which}"] == own["grade"]


def test_where_no_choke_is_needed_the_ideal_one_stands_for_it(compared: Path) -> None:
    first, second = table(compared)
    assert first["choke"] != second["choke"] == "none needed"


@pytest.mark.parametrize(
    ("chokes", "enough", "said"),
    [
        (("none needed", "none needed"), ("yes", "yes"), "On both cables no choke is needed."),
        (("a", "b"), ("yes", "yes"), "On both cables a choke is enough."),
        (
            ("a", "none needed"),
            ("yes", "yes"),
            "On one of two cables no choke is needed; on one of two cables a choke is enough.",
        ),
        (
            ("a", "none", "b"),
            ("no", "no", "yes"),
            "On one of three cables a choke is enough; on two of three cables nothing that was "
            "tried is enough.",
        ),
    ],
)
def test_the_headline_counts_what_the_answers_say(
    chokes: tuple[str, ...], enough: tuple[str, ...], said: str
) -> None:
    rows = [{"choke": c, "is_enough": e} for c, e in zip(chokes, enough, strict=True)]
    assert headline(rows) == said


def test_every_row_has_the_headline_and_the_chance_of_its_own_report(compared: Path) -> None:
    page = (compared / COMPARED / "compared.html").read_text(encoding="utf-8")
    text = " ".join(page.replace("\u00a0", " ").split())
    for row in table(compared):
        answer = json.loads((compared / row["study"] / "summary.json").read_text("utf-8"))["answer"]
        own = next(c for c in answer["candidates"] if c["id"] == answer["chosen"])
        assert row["headline"] == answer["headline"]
        assert answer["headline"] in text
        assert float(row["enough"]) == pytest.approx(own["enough"], rel=1e-5)


def test_two_studies_of_one_antenna_are_told_apart_by_their_names(compared: Path) -> None:
    page = (compared / COMPARED / "compared.html").read_text(encoding="utf-8")
    assert "(first)" in page
    assert "(second)" in page


def test_studies_are_named_by_their_titles_on_page_and_figures(compared: Path) -> None:
    page = (compared / COMPARED / "compared.html").read_text(encoding="utf-8")
    assert "<h1>The first house · The second house</h1>" in page
    for name in (*FIGURES, "overlay"):
        svg = (compared / COMPARED / f"{name}.svg").read_text(encoding="utf-8")
        assert "The first house" in svg
        assert "The second house" in svg


def test_the_last_row_of_two_studies_is_their_difference(compared: Path) -> None:
    first, second = table(compared)
    page = (compared / COMPARED / "compared.html").read_text(encoding="utf-8")
    row = LAST_ROW.search(page)
    assert row
    step = float(second["swr_feed_with"]) - float(first["swr_feed_with"])
    assert f"→ {signed(step, 2)}</td>" in row[1]
    points = 100 * (
        float(second["station_current_ratio_with"]) - float(first["station_current_ratio_with"])
    )
    assert f"0.0 → {signed(points, 1)} points" in row[1]


def test_two_studies_lie_over_each_other_on_the_same_axes(compared: Path) -> None:
    svg = (compared / COMPARED / "overlay.svg").read_text(encoding="utf-8")
    panels = re.split(r'id="axes_\d+"', svg)[1:]
    assert len(panels) == 3
    for panel in panels:
        assert panel.count("stroke: #b5452c") >= 1
        assert panel.count("stroke: #0b6f8f") >= 1


def test_match_is_drawn_over_how_far_a_frequency_is_off(compared: Path) -> None:
    entries = [Entry(n, load_cases(compared / n)) for n in ("first", "second")]
    with style():
        page = overlay.draw(entries)
    assert page is not None
    _, match, _ = page.figure.axes
    own = entries[0].table("band").select(case=entries[0].chosen)
    off = np.asarray(match.lines[0].get_xdata()) / 100
    np.testing.assert_allclose(
        (1 + off) * entries[0].cases.frequency, own.number("frequency_hz"), rtol=1e-9
    )
    assert off.min() < 0 < off.max()


@pytest.mark.parametrize("name", FIGURES)
def test_figures_hold_both_lines_of_every_study(compared: Path, name: str) -> None:
    svg = (compared / COMPARED / f"{name}.svg").read_text(encoding="utf-8")
    assert "without a choke" in svg
    assert "where none is taken" in svg
    assert svg.count("axes_") >= 2


def test_the_same_studies_give_the_same_bytes(compared: Path, tmp_path: Path) -> None:
    compare_studies([compared / "first", compared / "second"], tmp_path)
    for path in sorted(tmp_path.iterdir()):
        assert path.read_bytes() == (compared / COMPARED / path.name).read_bytes()


# Refusals


def test_a_study_may_not_be_called_like_the_folder_of_the_comparison(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        plan_studies([small_study_file(tmp_path, COMPARED)])
    assert caught.value.faults[0].tag == "study-name-taken"


def test_a_damaged_study_is_named(compared: Path, tmp_path: Path) -> None:
    copy = Path(shutil.copytree(compared / "first", tmp_path / "first"))
    (copy / "tables" / "band.csv").write_text("", encoding="utf-8")
    (copy / "summary.json").write_text("{", encoding="utf-8")
    with pytest.raises(ResultError, match=r"summary\.json"):
        compare_studies([copy], tmp_path / COMPARED)
