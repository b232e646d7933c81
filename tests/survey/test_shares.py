"""Shares of installations against scipy's bootstrap, its exact binomial interval and NumPy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import binomtest, bootstrap

from pipeline.survey.resampled import Members, Resampled, Share
from pipeline.survey.shares import (
    QUANTILES,
    bare_cable,
    failures,
    grades,
    nothing_by_end,
    quantiles,
    resampled,
)
from pipeline.survey.table_rows import TableRows, rows_in
from tests.harness.made_batches import made_rows, made_table

RNG = np.random.default_rng(3)


def members(cluster: Any, weight: Any = 1.0) -> Members:
    numbers = np.asarray(cluster, dtype=np.int64)
    return Members(numbers, np.broadcast_to(np.asarray(weight, dtype=float), numbers.shape))


def share(held: Any, of: Members) -> Share:
    return Resampled(of.numbers).share(np.asarray(held, dtype=bool), of)


def rows(**given: Any) -> TableRows:
    return rows_in(made_table(made_rows(**given)))


def test_the_interval_is_that_of_scipys_bootstrap_over_installations() -> None:
    ends = RNG.integers(1, 5, 60)
    cluster = np.repeat(np.arange(60), ends)
    held = RNG.random(len(cluster)) < np.repeat(RNG.beta(1, 1, 60), ends)
    ours = share(held, members(cluster))
    # As general software has it: installations are drawn, their sums and counts together.
    theirs = bootstrap(
        (np.bincount(cluster, held), ends),
        lambda sums, counts, axis=-1: sums.sum(axis=axis) / counts.sum(axis=axis),
        paired=True,
        method="percentile",
        n_resamples=9999,
        rng=np.random.default_rng(5),
    ).confidence_interval
    assert ours.value == pytest.approx(held.mean())
    assert (ours.low, ours.high) == pytest.approx(tuple(theirs), abs=0.012)
    assert (ours.rows, ours.installations) == (len(cluster), 60)


@pytest.mark.parametrize("n", [1, 7, 40])
def test_where_all_installations_agree_the_interval_is_the_exact_binomial_one(n: int) -> None:
    of = members(np.arange(n))
    for held, count in ((np.ones(n), n), (np.zeros(n), 0)):
        ends = binomtest(count, n).proportion_ci(0.95, method="exact")
        found = share(held, of)
        assert (found.low, found.high) == pytest.approx((ends.low, ends.high))


def test_more_radio_ends_that_agree_make_no_interval_narrower() -> None:
    held = RNG.random(50) < 0.4
    one = share(held, members(np.arange(50)))
    four = share(np.repeat(held, 4), members(np.repeat(np.arange(50), 4)))
    assert (four.value, four.low, four.high) == pytest.approx((one.value, one.low, one.high))


def test_installations_count_alike_however_many_radio_ends_they_have() -> None:
    # One with three ends of which all hold, one with one of which none does.
    of = members([0, 0, 0, 1], [1 / 3, 1 / 3, 1 / 3, 1])
    assert share([True, True, True, False], of).value == pytest.approx(0.5)


def test_quantiles_with_weights_are_numpys_of_so_many_copies() -> None:
    values, copies = RNG.lognormal(size=30), RNG.integers(1, 6, 30)
    theirs = np.quantile(np.repeat(values, copies), QUANTILES, method="inverted_cdf")
    assert quantiles(values, copies.astype(float)) == pytest.approx(theirs)


def test_a_bare_cable_is_told_by_its_shares_and_quantiles() -> None:
    table = rows(installations=60).trusted
    bare = bare_cable(table, resampled(table))
    assert bare is not None
    score = table.frame.loc[table.frame["kind"] == "none", "score"]
    assert bare.nothing.value == pytest.approx((score <= 1).mean())
    assert bare.strong.value == pytest.approx((score > 3).mean())
    assert bare.score[0.5] == pytest.approx(np.quantile(score, 0.5, method="inverted_cdf"))
    assert bare.ideal_short is not None
    assert bare.ideal_short.value == 0


def test_what_differs_on_one_installation_is_told_by_its_words() -> None:
    table = rows(installations=60).trusted
    found = nothing_by_end(table, resampled(table))
    # The mast is the same on all of an installation, the radio end is not.
    assert set(found) == {"radio_end"}
    bare = table.frame[table.frame["kind"] == "none"]
    for word, share in found["radio_end"].items():
        own = bare[bare["radio_end"].astype(str) == word]
        assert share.value == pytest.approx((own["score"] <= 1).mean())


def test_unsound_drawings_are_in_no_share_and_are_counted() -> None:
    made = made_rows(installations=30)
    for row in made:
        row["grade"] = "unsound" if row["installation"] < 3 else "sound"
    table = rows_in(made_table(made))
    assert set(table.trusted.frame["installation"]) == set(range(3, 30))
    found = grades(table)
    assert found.by_kind["cable"] == {"sound": 27, "usable": 0, "unsound": 3}
    assert found.by_kind["coil"] == {"sound": 27, "usable": 0, "unsound": 3}
    assert found.drawings == sum(found.counts.values())


def test_what_failed_is_counted_with_its_most_frequent_causes() -> None:
    made = made_rows(installations=40)
    for number, row in enumerate(made):
        if row["kind"] == "coil":
            row |= {"score": np.nan, "cause": "no room" if number % 3 else "too close"}
    found = failures(rows_in(made_table(made)))
    causes = [row["cause"] for row in made if row["cause"]]
    assert (found.failed, found.variants) == (len(causes), len(made))
    assert list(found.causes.values()) == sorted(found.causes.values(), reverse=True)
    assert found.causes == {cause: causes.count(cause) for cause in found.causes}


def test_a_row_without_a_score_or_a_cause_has_failed_too() -> None:
    made = made_rows(installations=2)
    made[0]["score"] = np.nan
    table = rows_in(made_table(made))
    assert "no score, and no cause said" in failures(table).causes
    assert len(table.scored) < len(made)


def test_installations_that_differ_in_nothing_but_a_drawn_choke_are_one() -> None:
    made = made_rows(installations=20)
    other = [
        row | {"installation": row["installation"] + 20, "turns": row["turns"] + 1, "geometry": g}
        for row in made
        for g in [row["geometry"] + ("" if row["geometry"].endswith("cable") else "-other")]
    ]
    once, twice = rows_in(made_table(made)), rows_in(made_table(made + other))
    alone, both = (bare_cable(t.scored, resampled(t.scored)) for t in (once, twice))
    assert alone == both
    assert failures(twice).failed == 2 * failures(once).failed
    assert len(twice.scored.of_kind("coil")) == 2 * len(once.scored.of_kind("coil"))


def test_what_a_coil_is_made_like_is_no_fact_of_an_installation() -> None:
    names = {trait.name for trait in rows(installations=2).traits}
    assert names == {"site.height", "mast", "radio_end", "route"}


def test_an_interval_holds_the_true_share_in_about_95_of_100_samples() -> None:
    # Radio ends of one installation mostly agree; the share of all installations is 0.3.
    draw, held = np.random.default_rng(17), 0
    of = members(np.repeat(np.arange(48), 4), 0.25)
    again = Resampled(of.numbers)
    for _ in range(200):
        chance = np.repeat(draw.beta(0.3, 0.7, 48), 4)
        found = again.share(draw.random(192) < chance, of)
        held += found.low <= 0.3 <= found.high
    assert 180 <= held <= 198
