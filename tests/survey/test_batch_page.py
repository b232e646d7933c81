"""All that is made of a table: the same bytes, nothing of a stranger's as markup, answer first."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from pipeline.figures.batch import PAGE
from pipeline.figures.registry import figures_of
from pipeline.runtime.store import write_json
from pipeline.survey.batch_page import page, pictures_of, write_pages
from pipeline.survey.batch_summary import summary_data
from pipeline.survey.labelled_arrays import write_arrays
from pipeline.survey.rules_of_thumb import headline, readme_table
from pipeline.survey.table_rows import read_rows, rows_in
from pipeline.text.errors import ResultError
from tests.harness.made_batches import made_rows, made_table, write_made
from tests.survey.readme_table import BEGIN, END, block_in, write

HOSTILE = "<b>tall</b> | $x_1$ & [a](b), 145 MHz"
pytestmark = pytest.mark.takes(8)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = made_rows("J-pole, 145 MHz", 40, 1, 6) + made_rows(HOSTILE, 40, 2, 6)
    table = write_made(tmp_path_factory.mktemp("batch") / "table.parquet", made, HOSTILE)
    write_pages(table, 2)
    return table.parent


@pytest.fixture(scope="module")
def summary(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    return found


def test_everything_is_made_and_nothing_else(folder: Path) -> None:
    made = {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()}
    figures = {f"figures/{name}.{end}" for name in figures_of(PAGE) for end in ("png", "svg")}
    assert made == {"table.parquet", "summary.json", "arrays.nc", "batch.html", *figures}


def test_the_same_table_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    # Figures are saved as those of a report, for which it is tested.
    rows = read_rows(folder / "table.parquet")
    again = summary_data(rows)
    write_json(tmp_path / "summary.json", again)
    write_arrays(tmp_path / "arrays.nc", rows, again)
    pictures = pictures_of(folder / "figures", again)
    (tmp_path / "batch.html").write_text(page(again, pictures), encoding="utf-8", newline="\n")
    made = sorted(path.name for path in tmp_path.iterdir())
    assert [n for n in made if (tmp_path / n).read_bytes() != (folder / n).read_bytes()] == []


def test_the_page_holds_no_markup_of_a_stranger_and_answers_first(folder: Path) -> None:
    text = (folder / "batch.html").read_text(encoding="utf-8")
    assert "<b>tall" not in text
    assert "&lt;b&gt;tall" in text
    assert "<script" not in text
    places = [
        text.index(part) for part in ("Nothing is needed in", "nobody has measured", "<table>")
    ]
    assert places == sorted(places)
    assert places[-1] < text.index("<figure")


def test_the_summary_names_its_table_and_what_was_sampled(
    folder: Path, summary: dict[str, Any]
) -> None:
    import hashlib

    content = (folder / "table.parquet").read_bytes()
    assert summary["table"]["sha256"] == hashlib.sha256(content).hexdigest()
    axes = {axis["name"]: axis for axis in summary["axes"]}
    assert set(axes["radio_end"]["words"]) == {"bonded", "floating"}
    assert 3 <= axes["site.height"]["low"] < axes["site.height"]["high"] <= 12
    assert "nobody has measured" in summary["remarks"]["sample"]


def test_arrays_are_small_labelled_and_agree_with_the_summary(
    folder: Path, summary: dict[str, Any]
) -> None:
    assert (folder / "arrays.nc").stat().st_size < 500_000
    with xr.open_dataset(folder / "arrays.nc", engine="scipy") as data:
        groups = [str(g) for g in data["group"].values]
        assert groups == [g["name"] for g in summary["groups"]]
        for group in summary["groups"]:
            own = data.sel(group=group["name"])
            nothing = group["bare"]["nothing"]
            assert own["nothing_needed"].values == pytest.approx(
                [nothing["value"], nothing["low"], nothing["high"]]
            )
            median = own["score"].sel(case="none", quantile=0.5)
            assert float(median) == pytest.approx(group["bare"]["score"]["50"], rel=1e-5)
            cores = group["cores"][0]
            enough = own["cores_enough"].sel(cores=cores["label"], statistic="value")
            assert enough.values == pytest.approx([s["value"] for s in cores["enough"]], rel=1e-5)
        assert all("long_name" in data[name].attrs for name in data.data_vars)


def test_a_group_reads_the_same_alone_as_among_others(summary: dict[str, Any]) -> None:
    # Another group stands before it, so that its installations have other numbers.
    (own,) = summary_data(rows_in(made_table(made_rows(HOSTILE, 40, 2, 6))))["groups"]
    for part in ("bare", "cores", "rules", "grades", "failures"):
        assert own[part] == summary["groups"][1][part]


def test_what_even_an_ideal_choke_leaves_is_said_where_it_is_visible() -> None:
    made = made_rows(installations=15, most=1)
    for row in made:
        if row["kind"] == "ideal":
            row["score"] = 1.4 if row["installation"] % 2 else 0.4
    found = headline(summary_data(rows_in(made_table(made))))
    assert re.search(r"Even an ideal choke leaves something visible in \d\d %", found)


def test_drawn_chokes_are_told_for_all_antennas_together_first(folder: Path) -> None:
    text = (folder / "batch.html").read_text(encoding="utf-8")
    drawn = text[text.index('<details id="drawn"') :]
    places = [drawn.index(name) for name in ("all together", "J-pole, 145 MHz", "&lt;b&gt;tall")]
    assert places == sorted(places)


def test_without_unsound_drawings_and_with_them_are_both_told(summary: dict[str, Any]) -> None:
    for group in summary["groups"]:
        has_unsound = group["grades"]["counts"]["unsound"] > 0
        assert (group["with_unsound"] is not None) == has_unsound
        if has_unsound:
            assert group["with_unsound"]["installations"] > group["installations"]


def test_the_readme_has_a_narrow_table_between_its_marks(
    folder: Path, summary: dict[str, Any], tmp_path: Path
) -> None:
    table = readme_table(summary)
    rows = [line for line in table.splitlines() if line.startswith("|")]
    assert len(rows) == 2 + len(summary["groups"])
    widths = {len(re.findall(r"(?<!\\)\|", row)) - 1 for row in rows}
    assert widths == {7}
    assert "<b>" not in table.replace("\\<b\\>", "")
    readme = tmp_path / "README.md"
    readme.write_text(f"before\n{BEGIN}\nold\n{END}\nafter\n", encoding="utf-8")
    write(folder / "summary.json", readme)
    text = readme.read_text(encoding="utf-8")
    assert block_in(text) == table
    assert text.startswith("before\n")
    assert text.endswith("\nafter\n")
    with pytest.raises(ValueError, match="need the lines"):
        block_in("nothing here")


def test_a_table_in_which_all_failed_still_has_a_page(tmp_path: Path) -> None:
    made = made_rows(installations=3, most=1)
    for row in made:
        row |= {"score": np.nan, "cause": "no room", "grade": ""}
    write_pages(write_made(tmp_path / "table.parquet", made))
    text = (tmp_path / "batch.html").read_text(encoding="utf-8")
    assert "no room" in text
    summary = json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))
    assert "No installation" in headline(summary)
    assert summary["groups"][0]["failures"]["failed"] == len(made)


def test_a_file_that_is_no_table_of_a_batch_is_refused_with_its_path(tmp_path: Path) -> None:
    path = tmp_path / "table.parquet"
    path.write_bytes(b"no table")
    with pytest.raises(ResultError, match=r"table\.parquet"):
        write_pages(path)
    import pyarrow.parquet as pq

    pq.write_table(made_table(made_rows(installations=1)).drop_columns(["score"]), path)
    with pytest.raises(ResultError, match="has no column score"):
        write_pages(path)
