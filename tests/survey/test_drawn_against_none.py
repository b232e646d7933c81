"""Drawn chokes beside no choke: the classes of a single study's answer, matched with pandas."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from pipeline.answer.candidates import classes
from pipeline.survey.drawn_against_none import AgainstNone, Turns, drawn_against_none, turn_bins
from pipeline.survey.shares import resampled
from pipeline.survey.table_rows import TableRows, rows_in
from tests.harness.made_batches import made_rows, made_table


def rows(made: list[dict[str, Any]] | None = None) -> TableRows:
    return usual() if made is None else rows_in(made_table(made)).trusted


@cache
def usual() -> TableRows:
    return rows_in(made_table(made_rows(installations=80, most=1))).trusted


def found(table: TableRows) -> dict[str, AgainstNone]:
    return {d.label: d for d in drawn_against_none(table, resampled(table), turn_bins(table))}


def beside(table: TableRows, kind: str) -> tuple[Any, Any]:
    """Scores of a kind and of the bare cable in the same setting."""
    keys = ["installation", "radio_end"]
    frame = table.frame
    own, bare = (frame.loc[frame["kind"] == k, [*keys, "score"]] for k in (kind, "none"))
    both = own.merge(bare, on=keys, suffixes=("", "_bare"))
    return both["score"].to_numpy(), both["score_bare"].to_numpy()


def test_better_and_worse_are_as_in_the_answer_of_a_study() -> None:
    table = rows()
    own, bare = beside(table, "coil")
    coil = found(table)["coil"]
    held = classes(own, bare, False)
    assert coil.worse.value == pytest.approx(held["worse"].mean())
    assert coil.better.value == pytest.approx((own < bare / 1.15).mean())
    assert coil.enough.value == pytest.approx(held["invisible"].mean())
    assert coil.enough_without.value == pytest.approx((bare <= 1).mean())


def test_better_no_matter_and_worse_add_up_to_one() -> None:
    for against in found(rows()).values():
        parts = (against.better, against.no_matter, against.worse)
        assert sum(part.value for part in parts) == pytest.approx(1)


def test_help_where_one_is_needed_and_harm_where_none_is_are_told_by_themselves() -> None:
    table = rows()
    own, bare = beside(table, "coil")
    coil = found(table)["coil"]
    assert coil.needed is not None
    assert coil.harm is not None
    assert coil.needed.enough.value == pytest.approx((own[bare > 1] <= 1).mean())
    assert coil.harm.value == pytest.approx((own[bare <= 1] > 1).mean())


def test_turns_are_binned_alike_for_all_groups_and_no_coil_is_lost() -> None:
    table = rows(made_rows("a", 60, 1, 1) + made_rows("b", 60, 2, 1))
    bins = turn_bins(table)
    assert 2 <= len(bins) <= 6
    turns = table.of_kind("coil").number("turns")
    inside = [(turns >= b.fewest) & (turns <= b.most) for b in bins]
    assert (np.sum(inside, axis=0) == 1).all()


def test_few_different_turns_are_bins_of_their_own() -> None:
    made = made_rows(installations=20, most=1)
    for row in made:
        if row["kind"] == "coil":
            row["turns"] = 5.0 if row["installation"] % 2 else 9.0
    assert turn_bins(rows(made)) == (Turns(5, 5), Turns(9, 9))


def test_coils_of_few_and_of_many_turns_are_better_less_often_where_they_are_made_so() -> None:
    coils = [d for d in found(rows(made_rows(installations=200, most=1))).values() if d.turns]
    seven = next(d for d in coils if d.turns and d.turns.fewest <= 7 <= d.turns.most)
    assert seven.better.value > max(coils[0].better.value, coils[-1].better.value)


def test_a_coil_without_a_bare_cable_beside_it_is_not_counted() -> None:
    made = made_rows(installations=20, most=1)
    for row in made:
        row["grade"] = "sound"
    coil = found(rows([r for r in made if r["kind"] != "none" or r["installation"]]))["coil"]
    assert coil.unmatched == 2
    assert coil.better.installations == 19
