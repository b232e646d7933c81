"""The first picture: what is drawn beside the cable and along it is the current of the table."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest

from pipeline.figures.data import load_cases, read_table
from pipeline.figures.overview import _WIDEST, overview
from pipeline.figures.page import Page
from pipeline.figures.style import BRICK, PLUM, SEA, style
from pipeline.text.formatting import percent


def drawn(folder: Path) -> Page:
    with style():
        page = overview.draw(load_cases(folder), read_table(folder, "shield_current"))
    assert page is not None
    return page


def take(folder: Path, case: str) -> None:
    """Make a case of the results the one that is taken."""
    path = folder / "summary.json"
    summary = json.loads(path.read_text(encoding="utf-8"))
    summary["answer"]["chosen"] = case
    path.write_text(json.dumps(summary), encoding="utf-8")


def some_choke(folder: Path) -> str:
    table = load_cases(folder).table
    return next(str(c) for c, kind in table.rows("case", "kind") if kind == "ferrite")


def current(folder: Path, case: str) -> np.ndarray:
    return read_table(folder, "shield_current").select(case=case).number("current_ratio")


def test_the_curves_along_the_cable_are_those_of_the_table(copy: Path) -> None:
    chosen = some_choke(copy)
    take(copy, chosen)
    _, beside = drawn(copy).figure.axes
    for case, colour in (("none", BRICK), (chosen, SEA)):
        (line,) = (x for x in beside.lines if x.get_color() == colour)
        np.testing.assert_allclose(line.get_xdata(), 100 * current(copy, case), rtol=1e-3)
    # The cable leads down from the antenna.
    assert beside.get_ylim()[0] > beside.get_ylim()[1] == 0


def test_the_band_beside_the_cable_is_as_wide_as_the_current_is_large(copy: Path) -> None:
    take(copy, "none")
    side, _ = drawn(copy).figure.axes
    (band,) = side.patches[-1:]
    outline, found = band.get_xy()[:-1], current(copy, "none")
    n = len(found)
    width = np.hypot(*(outline[:n] - outline[n:][::-1]).T)
    np.testing.assert_allclose(width / width.max(), found / found.max(), rtol=1e-3)
    assert width.max() == pytest.approx(_WIDEST * np.ptp(side.get_xlim()), rel=1e-6)
    # Both ways to the same scale.
    box = side.get_position()
    tall, wide = side.figure.get_size_inches()[::-1]
    assert np.ptp(side.get_xlim()) / (box.width * wide) == pytest.approx(
        np.ptp(side.get_ylim()) / (box.height * tall), rel=1e-6
    )


def test_the_title_says_the_most_without_and_with_the_chosen_choke(copy: Path) -> None:
    chosen = some_choke(copy)
    take(copy, chosen)
    title = drawn(copy).title
    assert f"up to {percent(current(copy, 'none').max())} of the feed current" in title
    assert title.endswith(f"with the chosen one up to {percent(current(copy, chosen).max())}")
    take(copy, "none")
    assert "chosen" not in drawn(copy).title


def test_the_first_picture_has_the_worse_grade_of_the_bare_cable_and_of_what_is_taken(
    copy: Path,
) -> None:
    chosen = some_choke(copy)
    take(copy, chosen)
    path = copy / "tables" / "cases.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["grade"] = "usable" if row["case"] == chosen else "sound"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    assert "evidence: usable" in [t.get_text() for t in drawn(copy).figure.texts]
    take(copy, "none")
    assert "evidence: sound" in [t.get_text() for t in drawn(copy).figure.texts]


def test_a_diamond_marks_where_the_chosen_choke_begins_and_none_where_there_is_none(
    copy: Path,
) -> None:
    chosen = some_choke(copy)
    take(copy, chosen)
    side, beside = drawn(copy).figure.axes
    cases = load_cases(copy)
    marks = [[x for x in ax.lines if x.get_color() == PLUM] for ax in (side, beside)]
    assert [len(m) for m in marks] == [1, 1]
    assert marks[1][0].get_ydata()[0] == pytest.approx(cases.value(chosen, "position_m"))
    take(copy, "none")
    for ax in drawn(copy).figure.axes:
        assert not [x for x in ax.lines if x.get_color() == PLUM]


def test_places_that_are_named_stand_apart(copy: Path) -> None:
    _, beside = drawn(copy).figure.axes
    places = np.sort(beside.get_yticks())
    assert (np.diff(places) > 0.06 * np.ptp(beside.get_ylim())).all()
    said = [t.get_text() for t in beside.get_yticklabels()]
    assert said[0] == "antenna"
    assert all(re.fullmatch(r"antenna|(bend|bond|radio) [\d.]+ m", text) for text in said)
