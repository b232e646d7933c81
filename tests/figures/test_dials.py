"""Dials: where a direction lies on paper, and that what is drawn is the table."""

from __future__ import annotations

import csv
import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.site.compass import bearing_of, compass_point
from pipeline.figures.data import load_cases, read_table
from pipeline.figures.dial import Compass, Scale, round_about, scale_for, upwards
from pipeline.figures.page import Page
from pipeline.figures.registry import REPORT, figures_of
from pipeline.figures.style import style

ANGLES = st.floats(0.0, 359.0)
# Points of the compass by their bearings (common practice, no source).
POINTS = {0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW"}


def drawn(folder: Path, name: str) -> Page:
    wanted = figures_of(REPORT)[name]
    with style():
        page = wanted.draw(load_cases(folder), read_table(folder, wanted.table))
    assert page is not None
    return page


def texts(page: Page) -> list[str]:
    return [t.get_text() for ax in page.figure.axes for t in ax.texts]


def turn(folder: Path, facing: float) -> None:
    """Let the antenna of the results face a bearing."""
    path = folder / "summary.json"
    summary = json.loads(path.read_text(encoding="utf-8"))
    summary["study"]["site"]["facing_deg"] = facing
    path.write_text(json.dumps(summary), encoding="utf-8")


# Directions


@given(azimuth=ANGLES, facing=ANGLES)
def test_a_bearing_is_the_angle_from_north_to_the_direction_by_its_vector(
    azimuth: float, facing: float
) -> None:
    """East and north of a direction that is turned to the left of the front."""
    east, north = math.sin(math.radians(facing)), math.cos(math.radians(facing))
    cos, sin = math.cos(math.radians(azimuth)), math.sin(math.radians(azimuth))
    turned = east * cos - north * sin, east * sin + north * cos
    wanted = math.degrees(math.atan2(*turned)) % 360.0
    apart = abs(bearing_of(azimuth, facing) - wanted)
    assert min(apart, 360.0 - apart) < 1e-6


def test_points_of_the_compass_go_to_the_right_from_north() -> None:
    assert {b: compass_point(b) for b in POINTS} == POINTS


@given(bearing=ANGLES, facing=ANGLES)
def test_on_a_dial_north_is_up_and_east_is_right(bearing: float, facing: float) -> None:
    angle = float(Compass(facing).screen(np.asarray(facing - bearing)))
    right, up = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    assert (math.cos(angle), math.sin(angle)) == pytest.approx((right, up), abs=1e-9)


def test_without_a_bearing_the_front_is_up_and_its_left_is_left() -> None:
    angle = Compass(None).screen(np.array([0.0, 90.0]))
    np.testing.assert_allclose(np.cos(angle), [0.0, -1.0], atol=1e-12)
    np.testing.assert_allclose(np.sin(angle), [1.0, 0.0], atol=1e-12)


# Scales


@given(st.floats(-20, 20), st.floats(0.0, 40.0))
def test_a_scale_holds_all_that_is_not_too_far_below_the_largest(most: float, span: float) -> None:
    scale = scale_for(np.array([most - span, most]), 30.0)
    assert scale.low <= max(most - span, most - 30.0)
    assert scale.high >= most
    assert 1 <= len(scale.rings()) - 1 <= 5
    radius = scale.radius(np.array([scale.low - 50.0, scale.low, most, scale.high]))
    assert (np.diff(radius) >= 0).all()
    assert radius[0] == radius[1] > 0
    assert radius[-1] == pytest.approx(1.0)


def test_points_of_a_curve_have_the_radius_of_their_gain() -> None:
    scale = Scale(0.0, 10.0, 5.0)
    radius = scale.radius(np.array([0.0, 5.0, 10.0]))
    x, y = round_about(Compass(None), np.array([0.0, 120.0, 240.0]), radius)
    np.testing.assert_allclose(np.hypot(x, y), [*radius, radius[0]])
    for mirrored in (False, True):
        x, y = upwards(np.array([0.0, 45.0, 90.0]), radius, mirrored)
        np.testing.assert_allclose(np.hypot(x, y), radius)
        assert (np.sign(x[0]) == 1) != mirrored


# Figures


def test_the_curve_of_the_dial_is_that_of_the_table_and_turns_with_the_antenna(copy: Path) -> None:
    table = read_table(copy, "azimuth_cut").select(case="none")
    angles = np.radians(table.number("azimuth_deg"))
    for facing, up in ((None, 0.0), (120.0, 120.0)):
        if facing is not None:
            turn(copy, facing)
        (ax,) = drawn(copy, "azimuth_cut").figure.axes
        line = next(x for x in ax.lines if x.get_gid() == "case-none")
        x, y = (np.asarray(v)[:-1] for v in line.get_data())
        seen = np.unwrap(np.arctan2(-x, y))
        np.testing.assert_allclose(seen - seen[0], angles - angles[0], atol=1e-6)
        # From the top of the sheet to the right.
        assert np.exp(-1j * seen[0]) == pytest.approx(np.exp(1j * math.radians(up)), abs=1e-9)
        order = np.argsort(table.number("gain_dbi"), kind="stable")
        assert (np.diff(np.hypot(x, y)[order]) >= -1e-9).all()


@pytest.mark.parametrize(
    "name", ["azimuth_cut", "elevation_cut", "difference_to_ideal", "cable_radiation"]
)
def test_directions_are_bearings_where_the_study_says_how_the_antenna_stands(
    copy: Path, name: str
) -> None:
    plain = " ".join(texts(drawn(copy, name)))
    assert "ESE" not in plain
    turn(copy, 120.0)
    page = drawn(copy, name)
    said = texts(page) + [
        t.get_text() for ax in page.figure.axes for t in ax.get_xticklabels() if ax.axison
    ]
    if name != "azimuth_cut":
        assert any("ESE (120°)" in text for text in said)
        assert any("WNW (300°)" in text for text in said)
    if name != "elevation_cut":
        assert {"N", "E", "S", "W"} <= set(said)
    assert any("true north" in t.get_text() for t in page.figure.texts)


def test_the_points_on_the_chart_are_the_reflections_of_the_table(copy: Path) -> None:
    """Reflection as scikit-rf has it (skrf.tlineFunctions.zl_2_Gamma0)."""
    from skrf.tlineFunctions import zl_2_Gamma0

    with (copy / "tables" / "band.csv").open(encoding="utf-8", newline="") as stream:
        rows = [r for r in csv.DictReader(stream) if r["case"] == "none"]
    z = np.array([complex(float(r["r_ohm"]), float(r["x_ohm"])) for r in rows])
    z0 = load_cases(copy).summary["study"]["cable"]["z0_ohm"]
    wanted = zl_2_Gamma0(z0, z)
    page = drawn(copy, "smith_chart")
    (ax,) = page.figure.axes
    line = next(x for x in ax.lines if x.get_gid() == "case-none")
    np.testing.assert_allclose(line.get_xydata() @ [1, 1j], wanted, atol=1e-12)
    marks = [
        x for x in ax.lines if x.get_marker() in ("o", "D", "s") and x.get_color() == "#b5452c"
    ]
    ends = {complex(*x.get_xydata()[0]) for x in marks}
    assert {complex(wanted[0]), complex(wanted[-1])} <= ends
    assert len(marks) == 3
    # Whatever lies on the chart lies inside its rim.
    assert np.abs(wanted).max() < max(abs(ax.get_xlim()[0]), 1e-9)
    assert re.search(r"[\d.]+ [+−] j[\d.]+ Ω without a choke", page.title)
