"""Progress of a run: the time left that it states, against runs of known durations."""

from __future__ import annotations

import re

import pytest

from pipeline.runtime.progress import Stretch, Telling, basis_seconds, in_words


def test_a_solve_goes_as_the_cube_of_its_segments_in_the_end_and_with_its_frequencies() -> None:
    # Harrington, "Field Computation by Moment Methods", 1968: an n by n matrix is filled in n
    # squared steps and factored in n cubed.
    huge = basis_seconds((80_000, 1, 1)) / basis_seconds((40_000, 1, 1))
    assert huge == pytest.approx(8.0, rel=0.1)
    few, many = (basis_seconds((1200, 1, f)) for f in (9, 18))
    assert many == pytest.approx(2 * few, rel=0.05)


# Words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "about 10 s"), (44.0, "about 40 s"), (89.0, "about 90 s"), (91.0, "about 2 min")],
)
def test_a_time_is_said_as_roughly_as_it_is_known(seconds: float, words: str) -> None:
    assert in_words(seconds) == words


# Runs of a few stretches, one after the other


def told(factors: dict[str, float], slower: float = 1.0) -> list[tuple[float, str]]:
    """Every line of a run with the moment at which it was said; the last is the end.

    ``factors`` say by how much the steps of a stretch take other than their weights.
    """
    now = 0.0
    lines: list[tuple[float, str]] = []
    telling = Telling(lambda text: lines.append((now, text)), clock=lambda: now)
    planned = {"solves": Stretch(13, 2.0), "comparisons": Stretch(12, 6.0), "pages": Stretch(1, 8)}
    for name, stretch in planned.items():
        telling.plan(name, stretch)
    for name, stretch in planned.items():
        for _ in range(stretch.steps):
            now += slower * factors.get(name, 1.0) * stretch.weight
            telling("x", name)
    return lines


def seconds(text: str) -> float | None:
    found = re.search(r"about (\d+) (s|min) left$", text)
    return None if found is None else float(found[1]) * {"s": 1, "min": 60}[found[2]]


@pytest.mark.parametrize("slower", [1.0, 5.0])
def test_the_time_left_is_that_of_the_whole_run_not_of_the_stretch_under_way(slower: float) -> None:
    lines = told({}, slower)
    end = lines[-1][0]
    left = [(now, seconds(text)) for now, text in lines]
    # While geometries are solved the comparisons and the page are counted in.
    assert left[12][1] == pytest.approx(end - left[12][0], rel=0.15)
    stated = [(now, value) for now, value in left if value is not None]
    assert len(stated) >= 18
    for now, value in stated:
        # As roughly as it is told: to ten seconds or a minute.
        assert abs(value - (end - now)) <= (5 if end - now < 90 else 31)


def test_solves_that_an_earlier_run_left_behind_do_not_make_the_rest_look_short() -> None:
    lines = told({"solves": 0.0})
    end = lines[-1][0]
    stated = [(now, seconds(text)) for now, text in lines[14:-1]]
    for now, value in stated:
        assert value is not None
        assert abs(value - (end - now)) <= 10
