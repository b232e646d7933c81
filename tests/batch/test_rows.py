"""Rows of a batch are what a study says of the same installation."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.batch.jobs import write_rows, write_whole
from pipeline.batch.planning import PLAN, PLAN_FILE, plan_batch, write_plan
from pipeline.batch.table import about, read_table
from pipeline.batch.variants import TOLD, Installation, rows_of
from pipeline.solver.cases import IDEAL, NONE
from tests.batch import small_rows
from tests.harness.solves import one_at_a_time

pytestmark = pytest.mark.takes(12)

NUMBERS, ENDS = (0, 1), ("bonded", "touching nothing")


def of_end(number: int, end: str) -> list[dict[str, Any]]:
    """Rows of an installation with one radio end: a value by column."""
    return [
        {name: values[k] for name, values in part.items()}
        for part in small_rows.rows(number)
        for k in np.flatnonzero(part["axis:station.impedance"] == end)
    ]


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("end", ENDS)
def test_every_figure_of_every_row_is_that_of_a_study(number: int, end: str) -> None:
    """Two ways to one number: there all directions and the whole band's drawing, here few ports."""
    there = small_rows.as_a_study(number, ENDS.index(end))
    for row in of_end(number, end):
        merit = there[row["case"]]
        for figure in TOLD:
            theirs = float(merit[figure.name][0])
            assert row[figure.name] == pytest.approx(theirs, rel=1e-9, abs=1e-9, nan_ok=True)
        assert row["score"] == pytest.approx(float(merit.score()[0]), rel=1e-9)


def test_cases_are_those_of_a_study_that_have_a_cable() -> None:
    found = [row["case"] for row in of_end(0, "bonded")]
    assert found == [IDEAL, NONE, "nizn-800-x1", "nizn-800-x3", "coil"]


def test_only_a_share_of_installations_is_solved_with_finer_segments() -> None:
    moved = [small_rows.rows(number)[0]["convergence"] for number in NUMBERS]
    assert np.isfinite(moved[0]).all()
    assert np.isnan(moved[1]).all()


def test_finer_segments_can_only_lower_a_grade() -> None:
    order = ["sound", "usable", "unsound"]
    ground = small_rows.plan().batch.groups[0].ground
    one = replace(small_rows.installations()[0], is_refined=False)
    for with_finer, without in zip(small_rows.rows(0), rows_of(one, ground, None), strict=True):
        ranks = [order.index(str(part["grade"][0])) for part in (with_finer, without)]
        assert ranks[0] >= ranks[1]


def failing(values: dict[str, object]) -> Installation:
    one = small_rows.installations()[0]
    return replace(one, values={**one.values, **values}, is_refined=False)


def test_an_installation_that_cannot_be_drawn_is_a_row_with_its_cause() -> None:
    ground = small_rows.plan().batch.groups[0].ground
    (part,) = rows_of(failing({"$low": "9 m"}), ground, None)
    assert len(part["case"]) == len(small_rows.installations()[0].ends)
    assert "down" in str(part["cause"][0])


def test_a_coil_without_room_fails_alone() -> None:
    ground = small_rows.plan().batch.groups[0].ground
    parts = rows_of(failing({"chokes.coil.position": "0.11 m"}), ground, None)
    failed = {str(part["case"][0]) for part in parts if "cause" in part and part["cause"][0]}
    assert failed <= {"coil"}


@pytest.fixture(scope="module")
def table() -> Path:
    with one_at_a_time("small-batch") as folder:
        if not (folder / "table.parquet").exists():
            made(folder)
    return folder / "table.parquet"


def made(folder: Path) -> None:
    plan = small_rows.plan()
    write_plan(plan, folder)
    for chunk in plan.chunks:
        own = folder / PLAN / f"{chunk.digest}.json"
        write_rows(own, folder / "store", folder / f"{chunk.digest}.parquet", print)
    write_whole(folder / PLAN / PLAN_FILE, folder, folder / "table.parquet")


def test_a_table_has_a_row_for_every_variant(table: Path) -> None:
    found = read_table(table)
    # Two heights, two ends, and five cases on each.
    assert found.num_rows == 2 * 2 * 5 == small_rows.plan().variants
    assert about(found)["title"] == "Two heights of a mast for tests"


def test_every_column_says_its_unit_and_what_it_is(table: Path) -> None:
    for field in read_table(table).schema:
        assert set(field.metadata) == {b"unit", b"meaning", b"role"}
        assert field.metadata[b"meaning"]


def test_axes_are_columns_in_their_own_units(table: Path) -> None:
    found = read_table(table)
    assert found.schema.field("site.height").metadata[b"unit"] == b"m"
    assert set(found.column("site.height").to_pylist()) == {3.0, 4.0}
    assert set(found.column("station.impedance").to_pylist()) == {"bonded", "touching nothing"}


def test_the_short_table_is_the_same_to_four_digits(table: Path) -> None:
    whole, short = (
        read_table(table.with_name(name)).to_pandas()
        for name in ("table.parquet", "table_short.parquet")
    )
    numbers = [name for name in short.columns if short[name].dtype.kind == "f"]
    np.testing.assert_allclose(short[numbers], whole[numbers], rtol=6e-4)


def test_the_same_rows_are_the_same_bytes(table: Path, tmp_path: Path) -> None:
    write_whole(table.parent / PLAN / PLAN_FILE, table.parent, tmp_path / "table.parquet")
    assert (tmp_path / "table.parquet").read_bytes() == table.read_bytes()


def test_a_value_more_on_an_axis_solves_only_what_is_new(table: Path, tmp_path: Path) -> None:
    text = small_rows.FILE.read_text(encoding="utf-8")
    path = tmp_path / small_rows.FILE.name
    path.write_text(text.replace("[3 m, 4 m]", "[3 m, 4 m, 5 m]"), encoding="utf-8")
    from pipeline.batch.batch_file import load_batch

    plan = plan_batch(load_batch(path), "some code")
    kept = {p.name for p in (table.parent / "store").iterdir()}
    write_plan(plan, tmp_path)
    for chunk in plan.chunks:
        own = tmp_path / PLAN / f"{chunk.digest}.json"
        write_rows(own, table.parent / "store", tmp_path / f"{chunk.digest}.parquet", print)
    new = {p.name for p in (table.parent / "store").iterdir()} - kept
    currents = [name for name in new if "gain" not in name]
    # Without finer segments on the third: the cable, and the cable with the coil.
    assert len(currents) == 2 + 2 * (len(plan.chunks) > 0 and plan_refines_third(plan))


def plan_refines_third(plan: object) -> bool:
    chunks = plan.chunks  # type: ignore[attr-defined]
    return bool([i for c in chunks for i in c.installations][2].is_refined)


def test_what_is_only_an_impedance_costs_no_geometry() -> None:
    assert small_rows.plan().installations == 2
    assert small_rows.plan().geometries == 4


def test_a_bond_that_is_not_there_has_no_rod(tmp_path: Path) -> None:
    text = small_rows.FILE.read_text(encoding="utf-8")
    path = tmp_path / small_rows.FILE.name
    path.write_text(text.replace("axes:\n", "axes:\n  bond.rod_impedance: [10 ohm, 99 ohm]\n"))
    from pipeline.batch.batch_file import load_batch

    plan = plan_batch(load_batch(path), "some code")
    assert all(len(one.ends) == 2 for chunk in plan.chunks for one in chunk.installations)
