"""Pictures of the first screen: what they show is what the tables of the results say."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.answer.stored_summary import read_summary
from pipeline.figures.data import read_table
from pipeline.report.answer_rows import core_rows_in_print
from pipeline.report.first_pictures import (
    FAN_FOOT,
    FAN_RADIUS,
    RING_MIDDLE,
    RING_RADIUS,
    FirstPictures,
    Sketch,
    first_pictures,
    polar,
    ribbons,
)
from pipeline.report.page import page
from pipeline.solver.cases import IDEAL, NONE
from tests.harness.small_study import finished

Points = NDArray[np.float64]


RESULTS = "small"


@pytest.fixture(scope="module")
def drawn() -> FirstPictures:
    return first_pictures(finished() / RESULTS)


def points(picture: Sketch, look: str) -> Points:
    path = next(line.path for line in picture.lines if line.look == look)
    return np.array([[float(v) for v in p.split()] for p in re.split("[MLZ]", path) if p])


def gains(picture: Sketch, look: str, middle: tuple[float, float]) -> Points:
    """Gain read off a polar picture by its own rings. [dBi]"""
    levels = np.array([float(t.text.replace("−", "-")) for t in picture.ticks])
    rings = np.array([np.hypot(t.x - middle[0], t.y - middle[1]) for t in picture.ticks])
    slope, start = np.polyfit(rings, levels, 1)
    return np.asarray(start + slope * np.hypot(*(points(picture, look) - middle).T))


# Laws


@pytest.mark.parametrize(("look", "case"), [("ideal", IDEAL), ("bare", NONE)])
def test_the_ring_read_by_its_own_scale_is_the_table(
    drawn: FirstPictures, look: str, case: str
) -> None:
    table = read_table(finished() / RESULTS, "azimuth_cut").select(case=case)
    assert gains(drawn.ring, look, RING_MIDDLE) == pytest.approx(table.number("gain_dbi"), abs=0.02)
    turned = points(drawn.ring, look) - np.array(RING_MIDDLE)
    # The front of the antenna is up, and azimuths count to the left.
    azimuth = (np.degrees(np.arctan2(-turned[:, 1], turned[:, 0])) - 90) % 360
    apart = (azimuth - table.number("azimuth_deg") + 180) % 360 - 180
    assert np.abs(apart).max() < 0.2


def test_the_fan_read_by_its_own_scale_is_the_table(drawn: FirstPictures) -> None:
    table = read_table(finished() / RESULTS, "elevation_cut").select(case=IDEAL)
    above = table.keep(table.number("elevation_deg") > 0)
    lowest = float(gains(drawn.fan, "ideal", FAN_FOOT).min())
    # What lies more than the fan's span below the strongest lobe is drawn at its foot.
    expected = np.sort(np.maximum(above.number("gain_dbi"), lowest))
    assert np.sort(gains(drawn.fan, "ideal", FAN_FOOT)) == pytest.approx(expected, abs=0.05)


def test_the_curve_along_the_cable_read_by_its_own_scale_is_the_table(
    drawn: FirstPictures,
) -> None:
    table = read_table(finished() / RESULTS, "shield_current").select(case=NONE)
    share = np.array([float(t.text.removesuffix(" %")) / 100 for t in drawn.along.ticks])
    slope, start = np.polyfit([t.x for t in drawn.along.ticks], share, 1)
    read = start + slope * points(drawn.along, "bare")[:, 0]
    assert read.max() == pytest.approx(table.number("current_ratio").max(), rel=0.02)


def test_the_cable_is_widest_and_darkest_where_it_carries_most() -> None:
    path = np.array([[0.0, 10.0 * k] for k in range(5)])
    found = ribbons(path, np.array([0.0, 0.05, 0.1, 0.05, 0.0]), 0.1)
    wide = {}
    for line in found:
        x = [float(pair.split()[0]) for pair in re.split("[MLZ]", line.path) if pair]
        wide[line.look] = max(x) - min(x)
    assert list(wide) == ["q2", "q7"]
    assert wide["q7"] > wide["q2"]


def test_angles_of_a_polar_picture_turn_against_the_clock() -> None:
    # ISO 80000-2:2019, 17: polar coordinates; the picture's own y leads downwards.
    found = polar(np.full(4, 1.0), np.array([0.0, 90.0, 180.0, 270.0]), (0.0, 0.0))
    assert found == pytest.approx(np.array([[1, 0], [0, -1], [-1, 0], [0, 1]]), abs=1e-12)


# Edges


def test_everything_lies_inside_of_its_picture(drawn: FirstPictures) -> None:
    for picture in (drawn.side, drawn.along, drawn.fan, drawn.ring):
        wide, tall = picture.box
        for mark in (*picture.marks, *picture.ticks, *picture.chokes):
            assert 0 <= mark.x <= wide
            assert 0 <= mark.y <= tall
    reach = np.hypot(*(points(drawn.ring, "set") - np.array(RING_MIDDLE)).T)
    assert 0 < reach.max() <= RING_RADIUS
    assert np.hypot(*(points(drawn.fan, "set") - np.array(FAN_FOOT)).T).max() <= FAN_RADIUS


def test_the_page_shows_four_pictures_that_say_what_they_find(drawn: FirstPictures) -> None:
    results = finished() / RESULTS
    cores = core_rows_in_print(read_table(results, "cores"))
    first = page(read_summary(results), [], [], cores, drawn=drawn).split("<details")[0]
    said = re.findall(r'<svg class="sketch still \w+"[^>]*role="img" aria-label="([^"]+)"', first)
    assert len(said) == 4
    assert all(re.search(r"\d (%|dBi)", text) for text in said)
    # No colour is written where a dark screen or paper could not change it.
    assert not re.search(r'(fill|stroke|style)="', first)
