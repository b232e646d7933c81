"""The sheet of a sleeve: its lengths are those that were computed, and its page holds them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from models.lengths import lengths_in
from pipeline.commands.cut import WORK
from pipeline.construction.cut_text import CAUTIONS
from pipeline.construction.sheet import BOTTOM, PAGE
from pipeline.construction.sleeve_sheet import (
    SleeveCut,
    sleeve_cuts,
    sleeve_line,
    sleeve_page,
    sleeve_record,
)
from pipeline.figures.style import style
from pipeline.study.reader import load_study
from tests.harness.shipped import shipped_studies
from tests.harness.small_study import small_study_file
from tests.harness.small_study import study as small

STUDIES = shipped_studies()


def cut(**changes: object) -> SleeveCut:
    (sleeve,) = (c for c in small().chokes if c.id == "sleeve")
    others = tuple(c for c in small().chokes if c.id != "sleeve")
    (own,) = sleeve_cuts(replace(small(), chokes=(*others, replace(sleeve, **changes))))
    return own


def words_of(figure: Figure) -> str:
    return "\n".join(text.get_text() for ax in figure.axes for text in ax.texts).replace(
        "\u00a0", " "
    )


# Laws


def test_its_length_is_the_one_that_is_judged():
    (own,) = (c for c in small().chokes if c.id == "sleeve")
    assert cut().sawn.length == own.extent(small().host)
    assert sleeve_record(cut())["cut_mm"] == pytest.approx(1e3 * own.extent(small().host))


def test_mouth_and_plate_change_places_where_it_points_to_the_radio():
    up, down = cut(mouth="antenna"), cut(mouth="radio")
    assert (up.sawn.mouth, up.sawn.plate) == (down.sawn.plate, down.sawn.mouth)
    assert up.sawn.mouth == up.choke.position < up.sawn.plate
    assert up.sawn.plate - up.sawn.mouth == pytest.approx(up.sawn.length)


def test_a_millimetre_is_the_part_of_its_frequency_that_it_is_of_its_length():
    # A quarter wave: f is in proportion to 1/l (definition).
    half = cut(length=0.25)
    assert "moves the frequency at which it holds back most by 0.4 %" in " ".join(
        sleeve_record(half)["steps"]
    )


@pytest.mark.parametrize("path", STUDIES, ids=lambda p: p.stem)
def test_every_sleeve_that_is_judged_has_a_sheet_on_one_page(path: Path):
    study = load_study(path)
    for one in sleeve_cuts(study):
        with style(), lengths_in(study.lengths):
            page = sleeve_page(one)
            canvas = FigureCanvasAgg(page)
            canvas.draw()
            scale = 25.4 / page.dpi
            for text in page.axes[0].texts:
                box = text.get_window_extent()
                assert box.x1 * scale <= PAGE[0] - 5, text.get_text()
                assert box.y0 * scale >= BOTTOM - 1, text.get_text()


def test_the_page_says_which_way_it_opens_and_how_nobody_is_hurt():
    with style():
        said = " ".join(words_of(sleeve_page(cut(mouth="radio"))).split())
    assert "mouth towards the radio" in said
    for caution in CAUTIONS:
        assert caution.split(":")[0] in said


def test_feet_and_inches_are_written_where_a_study_has_them():
    with lengths_in("imperial"):
        assert " in" in sleeve_line(cut()).split("saw to ")[1].split(" (")[0]


# Files


def test_the_command_writes_a_sheet_and_one_line(tmp_path: Path):
    (job,) = WORK.jobs([small_study_file(tmp_path)])
    _, said = WORK.finish(job, tmp_path / "out")
    folder = tmp_path / "out" / "small" / "build"
    assert said.count("sleeve sleeve, only where the report takes it: 28x1 mm pipe, saw to") == 1
    assert (folder / "sleeve_sleeve.pdf").stat().st_size > 5000
    record = json.loads((folder / "build.json").read_text(encoding="utf-8"))
    assert [s["id"] for s in record["sleeves"]] == ["sleeve"]
