"""Bars of stock and wind load: what first-fit decreasing and drag must keep to.

Published values are in tests/validation, workshop.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.construction.stock import nest
from models.construction.wind_load import Rod, drag_coefficient, drag_coefficients, wind_load
from tests.harness.drawn import LAW

# Laws: bars of stock


@LAW
@given(lengths=st.lists(st.floats(0.02, 3.0), min_size=1, max_size=12), kerf=st.floats(0, 0.005))
def test_every_piece_is_in_one_bar_and_what_is_used_and_left_is_the_bar(
    lengths: list[float], kerf: float
) -> None:
    bars = nest(lengths, 3.0, kerf)
    assert sorted(i for bar in bars for i in bar.pieces) == list(range(len(lengths)))
    for bar in bars:
        used = sum(lengths[i] for i in bar.pieces) + kerf * (len(bar.pieces) - 1)
        assert used <= 3.0 + 1e-8
        assert 0 <= bar.waste <= 3.0 - used + 1e-8
        if bar.waste:
            assert bar.waste + used + kerf == pytest.approx(3.0)


@LAW
@given(lengths=st.lists(st.floats(0.1, 3.0), min_size=1, max_size=6))
def test_no_more_bars_are_taken_than_the_bound_of_first_fit_decreasing(
    lengths: list[float],
) -> None:
    def fewest(left: tuple[float, ...], bars: tuple[float, ...]) -> int:
        if not left:
            return len(bars)
        fits = {b for b in bars if b + left[0] <= 3.0 + 1e-9}
        ways = [tuple(sorted((*_without(bars, b), b + left[0]))) for b in fits]
        return min(fewest(left[1:], way) for way in (*ways, (*bars, left[0])))

    # G. Dosa, The tight bound of first fit decreasing, 2007: 11/9 of the fewest, and 6/9.
    assert len(nest(lengths, 3.0, 0.0)) <= 11 / 9 * fewest(tuple(lengths), ()) + 6 / 9


def _without(bars: tuple[float, ...], one: float) -> list[float]:
    left = list(bars)
    left.remove(one)
    return left


# Laws: wind


@LAW
@given(speed=st.floats(10, 45), diameter=st.floats(0.006, 0.05), length=st.floats(0.2, 6))
def test_wind_load_goes_with_the_square_of_speed_and_acts_at_half_height(
    speed: float, diameter: float, length: float
) -> None:
    rod = Rod((0.0, 0.0, 0.0), (0.0, 0.0, length), diameter)
    slow, fast = (wind_load([rod], v) for v in (speed, 2 * speed))
    assert fast.force == pytest.approx(4 * slow.force)
    assert slow.moment == pytest.approx(slow.force * length / 2)
    assert slow.area == pytest.approx(diameter * length)


def test_a_level_pipe_is_loaded_most_by_a_wind_across_it_and_a_slanted_one_by_less() -> None:
    def load(tip: tuple[float, float, float]) -> float:
        return wind_load([Rod((0.0, 0.0, 0.0), tip, 0.02)], 40.0).force

    upright, level, slanted = load((0, 0, 1.0)), load((1.0, 0, 0)), load((0.6, 0, 0.8))
    assert level == pytest.approx(upright)
    assert slanted == pytest.approx(upright)
    both = [Rod((0, 0, 0), (1.0, 0, 0), 0.02), Rod((0, 0, 0), (0, 1.0, 0), 0.02)]
    # Of two level pipes at right angles one hides from the wind what the other shows it.
    assert wind_load(both, 40.0).force == pytest.approx(level)


def test_what_hangs_below_the_base_line_adds_force_but_no_moment_above_it() -> None:
    above, below = (Rod((0, 0, 0), (0, 0, z), 0.02) for z in (1.0, -1.0))
    one, two = wind_load([above], 40.0), wind_load([above, below], 40.0)
    assert two.force == pytest.approx(2 * one.force)
    assert two.moment == pytest.approx(one.moment)
    through = wind_load([Rod((0, 0, -1.0), (0, 0, 1.0), 0.02)], 40.0)
    assert (through.force, through.moment) == pytest.approx((two.force, two.moment))


# Refusals


def test_drag_rows_join_without_a_gap_and_refuse_what_none_covers() -> None:
    rows = drag_coefficients()
    assert all(a.high == b.low for a, b in itertools.pairwise(rows))
    with pytest.raises(ValueError, match="no drag coefficient"):
        drag_coefficient(10.0)
    with pytest.raises(ValueError, match="nothing in the wind"):
        wind_load([], 40.0)


def test_a_piece_longer_than_a_bar_is_refused_by_the_bars() -> None:
    with pytest.raises(ValueError, match="longer than a bar"):
        nest([3.1], 3.0, 0.0)
