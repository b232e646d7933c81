"""Numbers of cores against counting by hand with pandas, and a bootstrap drawn otherwise."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.survey.cores_enough import (
    CoresEnough,
    best_of,
    core_places,
    cores_enough,
    cores_needed,
    first_enough,
)
from pipeline.survey.shares import resampled
from pipeline.survey.table_rows import TableRows, rows_in
from tests.harness.made_batches import made_rows, made_table

CLASS = "mix-43-clamp-12-7"


def rows(made: list[dict[str, Any]] | None = None) -> TableRows:
    return usual() if made is None else rows_in(made_table(made)).trusted


@cache
def usual() -> TableRows:
    return rows_in(made_table(made_rows(installations=80))).trusted


def found(table: TableRows, core: str = CLASS) -> CoresEnough:
    return next(c for c in cores_enough(table, resampled(table)) if c.core == core)


def only(enough: dict[int, list[bool]]) -> TableRows:
    """One core class: whether so many cores are enough in each installation; 0 is the bare one."""
    made = []
    for count, held in enough.items():
        for number, is_enough in enumerate(held):
            row = made_rows(installations=1)[0] | {"installation": number, "route": float(number)}
            own = {"case": f"x{count}", "geometry": f"{number}", "score": 0.5 if is_enough else 2.0}
            kind = {"kind": "ferrite", "core": CLASS, "count": count, "position": 0.2}
            made.append(row | own | {"grade": "sound"} | (kind if count else {}))
    return rows(made)


def test_shares_are_those_counted_by_hand() -> None:
    table = rows()
    cores = found(table)
    frame = table.frame
    for count, share in zip(cores.counts[1:], cores.enough[1:], strict=True):
        of = frame[(frame["core"] == CLASS) & (frame["count"] == count)]
        assert share.value == pytest.approx((of["score"] <= 1).mean())
    bare = frame[frame["kind"] == "none"]
    assert cores.enough[0].value == pytest.approx((bare["score"] <= 1).mean())


def test_enough_is_judged_at_each_number_by_itself() -> None:
    # Two are enough in all, three in half: nothing makes the third as good as the second.
    most, half = [True] * 8 + [False] * 2, [True, False] * 5
    cores = found(only({0: [False] * 10, 1: most, 2: [True] * 10, 3: half}))
    assert [s.value for s in cores.enough] == pytest.approx([0, 0.8, 1, 0.5])
    assert [(x.share, x.count) for x in cores.least] == [(0.5, 1), (0.8, 1), (0.95, 2)]
    assert cores.best == 2


def test_cores_that_make_it_visibly_worse_are_counted_beside_the_bare_cable() -> None:
    # Visible with and without is no worse; visible only with the core is.
    cores = found(only({0: [True] * 6 + [False] * 4, 1: [True] * 3 + [False] * 7}))
    assert [s.value for s in cores.worse] == pytest.approx([0, 0.3])
    assert cores.worst == 1


def test_no_core_is_the_least_where_the_bare_cable_is_enough() -> None:
    cores = found(only({0: [True] * 9 + [False], 1: [True] * 10}))
    assert [x.count for x in cores.least] == [0, 0, 1]


def test_more_than_were_tried_is_no_number() -> None:
    cores = found(only({0: [False] * 10, 4: [False] * 10}))
    assert [(x.count, x.low, x.high) for x in cores.least] == [(None, None, None)] * 3
    assert cores.most == 4


def test_the_interval_of_a_least_number_is_that_of_drawing_installations_by_hand() -> None:
    table = rows()
    frame = table.frame
    bare = frame[frame["kind"] == "none"].assign(count=0)
    held = pd.concat([bare, frame[frame["core"] == CLASS]]).assign(enough=lambda f: f["score"] <= 1)
    by = held.groupby(["installation", "count"])["enough"].mean().unstack()
    draw, least = np.random.default_rng(8), []
    for _ in range(4000):
        share = by.to_numpy()[draw.integers(0, len(by), len(by))].mean(axis=0)
        least.append(next((n for n, s in enumerate(share) if s >= 0.8 - 1e-9), 13))
    low, high = np.quantile(least, (0.025, 0.975), method="inverted_cdf")
    ours = found(table).least[1]
    ends = [13 if n is None else n for n in (ours.low, ours.high)]
    assert ends == pytest.approx([low, high], abs=1)


def test_the_first_that_is_enough_is_the_first_of_all() -> None:
    shares = np.random.default_rng(1).random((200, 7))
    by_hand = [next((k for k, s in enumerate(row) if s >= 0.9), 7) for row in shares]
    assert first_enough(shares, 0.9).tolist() == by_hand


def test_places_are_told_apart_and_many_are_told_together() -> None:
    made = made_rows(installations=20)
    for row in made:
        row["position"] = 0.2 if row["count"] % 2 else 1.5
    places = [found[:2] for found in core_places(rows(made))]
    assert (CLASS, "at 0.20 m") in places
    assert (CLASS, "at 1.50 m") in places
    for number, row in enumerate(made):
        row["position"] = 0.1 + 0.05 * (number % 9)
    assert (CLASS, "0.10 to 0.50 m") in [found[:2] for found in core_places(rows(made))]


def test_the_best_class_needs_the_fewest_and_is_named_as_in_the_catalogue() -> None:
    table = rows()
    best = best_of(cores_enough(table, resampled(table)))
    assert best is not None
    assert best.core == "mix-31-clamp-12-7"
    assert best.label == "MnZn 1500 class (mix 31) clamp-on, 12.7 mm hole"
    assert best_of([]) is None


def test_what_each_setting_needs_is_its_least_count() -> None:
    table = rows()
    needed = cores_needed(table, found(table))
    assert needed.answers == ("none", "1 or 2", "3 or 4", "5 to 8", "9 to 12", "more than 12")
    frame = table.frame
    limits = [0, 2, 4, 8, 12, np.inf]
    for number in range(0, len(needed.answer), 17):
        own = frame[(frame["_setting"] == needed.rows.setting[number]) & (frame["core"] == CLASS)]
        enough = own.loc[own["score"] <= 1, "count"]
        least = 0 if needed.rows.score[number] <= 1 else enough.min() if len(enough) else np.inf
        assert needed.answer[number] == next(k for k, end in enumerate(limits) if least <= end)
