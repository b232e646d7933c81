"""Axes: what a batch file says of a key, and the values that come of it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pipeline.batch.axes import number_of, read_axis, read_drawn
from pipeline.text.refusals import FieldError


def shown(raw: object) -> list[float | str]:
    return [choice.shown for choice in read_axis("site.height", raw).choices]


def test_a_list_is_taken_as_it_stands() -> None:
    axis = read_axis("site.height", ["3 m", "10 ft"])
    assert [c.raw for c in axis.choices] == ["3 m", "10 ft"]
    assert [c.shown for c in axis.choices] == pytest.approx([3.0, 3.048])


def test_a_range_has_both_ends_and_what_lies_evenly_between() -> None:
    assert shown({"from": "3 m", "to": "9 m", "points": 4}) == pytest.approx([3, 5, 7, 9])
    assert shown({"from": "3 m", "to": "9 m", "step": "2 m"}) == pytest.approx([3, 5, 7, 9])
    assert shown({"from": "1 m", "to": "100 m", "points": 3, "scale": "log"}) == pytest.approx(
        [1, 10, 100]
    )


def test_words_stand_for_what_a_table_could_not_show() -> None:
    axis = read_axis("cable.route", {"named": {"straight down": [{"down_to": "1 m"}]}})
    assert axis.choices[0].shown == "straight down"
    assert axis.choices[0].raw == [{"down_to": "1 m"}]


def test_a_drawn_value_is_written_so_that_a_study_reads_the_number_that_the_table_shows() -> None:
    drawn = read_drawn("site.height", {"from": "3 m", "to": "15 m"})
    for u in np.random.default_rng(1).random(50):
        choice = drawn.at(float(u))
        assert number_of(choice.raw) == (choice.shown, "m")


@pytest.mark.parametrize(
    ("raw", "law"),
    [
        ({"from": "3 m", "to": "15 m"}, stats.uniform(3, 12)),
        ({"from": "1 ohm", "to": "1 kohm", "scale": "log"}, stats.loguniform(1, 1000)),
        ({"mean": "8 m", "deviation": "0.5 m"}, stats.norm(8, 0.5)),
    ],
)
def test_draws_follow_their_distribution(raw: object, law: stats.rv_continuous) -> None:
    """SciPy's inverse of the cumulative distribution."""
    drawn = read_drawn("site.height", raw)
    for u in (0.01, 0.3, 0.5, 0.99):
        assert drawn.at(u).shown == pytest.approx(law.ppf(u), rel=1e-8)


def test_entries_of_a_drawn_list_are_equally_likely() -> None:
    drawn = read_drawn("cable.joins", ["short leg", "long leg"])
    found = [drawn.at((k + 0.5) / 10).shown for k in range(10)]
    assert found == ["short leg"] * 5 + ["long leg"] * 5


WRONG = [
    ([], "axis-form"),
    ("3 m", "axis-form"),
    ({"from": "3 m"}, "axis-form"),
    ({"from": "3 m", "to": "9 MHz", "points": 3}, "axis-range"),
    ({"from": "9 m", "to": "3 m", "points": 3}, "axis-range"),
    ({"from": "3 m", "to": "9 m", "points": 1}, "axis-range"),
    ({"from": "3 m", "to": "9 m", "points": "three"}, "axis-range"),
    ({"from": "3 m", "to": "9 m", "step": "1 ohm"}, "axis-range"),
    ({"from": "0 m", "to": "9 m", "points": 3, "scale": "log"}, "axis-range"),
    ({"from": "3 m", "to": "9 m", "points": 3, "scale": "cubic"}, "axis-range"),
    ({"named": {}}, "axis-form"),
    (["3 m", "145 MHz"], "axis-units"),
]


@pytest.mark.parametrize(("raw", "tag"), WRONG)
def test_what_is_no_axis_is_refused(raw: object, tag: str) -> None:
    with pytest.raises(FieldError) as refused:
        read_axis("site.height", raw)
    assert refused.value.tag == tag


@pytest.mark.parametrize("raw", [{"mean": "8 m", "deviation": "0 m"}, {"mean": "8 m"}, {}])
def test_what_is_no_distribution_is_refused(raw: object) -> None:
    with pytest.raises(FieldError):
        read_drawn("site.height", raw)
