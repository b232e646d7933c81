"""The command that writes cut list, drawing and build sheet: its files and its refusals."""

from __future__ import annotations

import csv
import itertools
import json
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from models.construction.fittings import fitting_size
from models.lengths import MARKED, SAWN, fraction, on_rule
from models.wires.structure import GeometryError
from pipeline.commands.cut import WORK
from pipeline.construction.build_sheet import sheet_page
from pipeline.construction.cut_plan import CutPlan, fitting_sizes, plan_cuts, with_mast
from pipeline.construction.cut_text import CAUTIONS, build_record, cut_list_csv
from pipeline.construction.cut_view import BREAK, axis_of, choose_views
from pipeline.construction.drawing import drawing_page
from pipeline.figures.style import style
from pipeline.solver.structures import sized_antenna
from pipeline.study.reader import load_study
from pipeline.study.sections.build import Build, Fittings, MeasuredCap
from pipeline.text.errors import StudyError
from tests.harness.command import braidwise
from tests.harness.shipped import shipped_studies
from tests.harness.small_study import small_study_file

pytestmark = pytest.mark.takes(15)

FILES = {"cut_list.csv", "cut_list.txt", "drawing.svg", "drawing.pdf", "build_sheet.pdf",
         "build.json", "sleeve_sleeve.pdf"}  # fmt: skip
INCH_TUBE = {"type": "j-pole", "pipe": "3/4 in type L", "spacing": "70 mm"}
PRICES = {"pipe": "12.40 EUR", "elbow": "1.10 EUR", "clamp": "2.30 EUR"}
STUDIES = shipped_studies()


def plan_of(folder: Path, **changes: object) -> CutPlan:
    return WORK.jobs([small_study_file(folder, **changes)])[0].plan


def refusal(folder: Path, **changes: object) -> str:
    with pytest.raises(StudyError) as caught:
        plan_of(folder, **changes)
    return str(caught.value)


@dataclass(frozen=True)
class Done:
    """A run of the command on one study, with where it ran and what it said."""

    folder: Path
    out: str
    err: str
    code: int

    @property
    def build(self) -> Path:
        return self.folder / "results" / "small" / "build"


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    folder = tmp_path_factory.mktemp("shop")
    study = small_study_file(folder, antenna=INCH_TUBE, build={"prices": PRICES})
    run = braidwise(folder, "cut", study.name)
    return Done(folder, run.stdout, run.stderr, run.returncode)


def words_of(figure: Figure) -> str:
    return "\n".join(text.get_text() for ax in figure.axes for text in ax.texts).replace(
        "\u00a0", " "
    )


# Laws: files


def test_the_command_writes_every_file_and_prints_the_cut_list(done: Done) -> None:
    assert done.code == 0, done.err
    assert {p.name for p in done.build.iterdir()} == FILES
    text = (done.build / "cut_list.txt").read_text(encoding="utf-8")
    assert done.out == f"{text}files: {Path('results') / 'small' / 'build'}\n"


def test_the_lengths_are_those_of_the_sized_antenna_derived_ones_included(done: Done) -> None:
    antenna = sized_antenna(load_study(done.folder / "small.yaml")).antenna
    record = json.loads((done.build / "build.json").read_text(encoding="utf-8"))
    axis = {p["names"][0]: p["axis_mm"] for p in record["pieces"]}
    assert axis == pytest.approx(
        {
            "long leg": 1e3 * antenna.long_leg,
            "crossbar": 1e3 * antenna.spacing,
            "short leg": 1e3 * antenna.short_leg,
        }
    )
    assert any("antenna.long_leg" in sentence for sentence in record["derived"])
    elbow = fitting_size("elbow 90", load_study(done.folder / "small.yaml").pipe)
    assert elbow.laying_length is not None
    with (done.build / "cut_list.csv").open(encoding="utf-8", newline="") as stream:
        rows = {row["names"]: row for row in csv.DictReader(stream)}
    cut = float(rows["crossbar"]["cut_mm"])
    assert cut == pytest.approx(70 - 2e3 * elbow.laying_length, abs=0.006)
    assert float(rows["crossbar"]["cut_in"]) == pytest.approx(cut / 25.4, abs=6e-4)


def test_parts_are_priced_by_bar_and_piece_and_added_up(done: Done) -> None:
    record = json.loads((done.build / "build.json").read_text(encoding="utf-8"))
    prices = {
        p["name"].split(" for ")[0]: p["quantity"] * (p["price"] or 0) for p in record["parts"]
    }
    assert prices["elbow 90°"] == pytest.approx(2 * 1.10)
    assert prices["bar of 3.048 m, copper pipe 3/4 in type L"] == pytest.approx(3.048 * 12.40)
    assert record["cost"] == pytest.approx(37.80 + 2.20 + 4.60, abs=0.005)
    assert "cost: 44.60 EUR" in done.out


def test_pdf_is_one_page_of_a4_and_svg_is_well_formed(done: Done) -> None:
    for name in ("drawing.pdf", "build_sheet.pdf"):
        data = (done.build / name).read_bytes()
        assert len(re.findall(rb"/Type /Page\b(?!s)", data)) == 1
        (box,) = re.findall(rb"/MediaBox \[ ([\d. ]+) \]", data)
        wide, tall = (float(v) * 25.4 / 72 for v in box.split()[2:])
        assert (wide, tall) == pytest.approx((210, 297), abs=0.1)
    root = ET.fromstring((done.build / "drawing.svg").read_text(encoding="utf-8"))
    assert root.tag.endswith("svg")


def test_the_same_study_gives_the_same_bytes(done: Done, tmp_path: Path) -> None:
    WORK.finish(WORK.jobs([done.folder / "small.yaml"])[0], tmp_path)
    for name in FILES:
        assert (tmp_path / "small" / "build" / name).read_bytes() == (
            done.build / name
        ).read_bytes(), name


# Laws: drawing and sheet


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_every_antenna_can_be_cut_and_its_pages_hold_together(path: Path) -> None:
    plan = WORK.jobs([path])[0].plan
    json.dumps(build_record(plan), allow_nan=False)
    assert cut_list_csv(plan).count("\n") == len(plan.rows) + 1
    with style():
        for page in (drawing_page(plan), sheet_page(plan)):
            assert_pages_hold_together(page)


def assert_pages_hold_together(figure: Figure) -> None:
    """No words over other words, and all of them on the part that A4 and US letter share."""
    canvas = figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
    per_mm = figure.dpi / 25.4
    boxes = [
        (text.get_text(), text.get_window_extent(renderer))
        for ax in figure.axes
        for text in ax.texts
        if text.get_text() and text.get_rotation() % 90 == 0
    ]
    margin = (297 - 279.4) / 2
    for words, box in boxes:
        assert box.x0 >= 6 * per_mm, words
        assert box.x1 <= (210 - 6) * per_mm, words
        assert box.y0 >= margin * per_mm, words
        assert box.y1 <= (297 - margin) * per_mm, words
    for index, (words, box) in enumerate(boxes):
        for others, other in boxes[:index]:
            over_x = min(box.x1, other.x1) - max(box.x0, other.x0)
            over_y = min(box.y1, other.y1) - max(box.y0, other.y0)
            # A line may touch the next one, not cover it.
            assert over_x <= 0 or over_y <= 0.3 * per_mm, (words, others)


def test_the_drawing_is_to_scale_and_its_dimension_lines_keep_apart(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, antenna=INCH_TUBE)
    scale, (view,) = choose_views(plan, 182.0, 200.0)
    assert view.size[0] <= 182
    assert view.size[1] <= 200
    foot, corner = (
        plan.assembly.joint(f"foot of the {leg} leg").point for leg in ("long", "short")
    )
    apart = view.at(corner)[0] - view.at(foot)[0]
    assert apart == pytest.approx(1e3 * plan.study.antenna.parameters.spacing / scale)
    lanes: dict[tuple[str, int, int], list[tuple[float, float]]] = {}
    for d in view.dimensions:
        lanes.setdefault((d.along, d.side, d.lane), []).append((d.low, d.high))
    for taken in lanes.values():
        taken.sort()
        assert all(a[1] <= b[0] for a, b in itertools.pairwise(taken))


@given(
    features=st.lists(st.floats(0, 5), min_size=2, max_size=6),
    scale=st.sampled_from([1, 2.5, 10]),
    margin=st.floats(10, 60),
)
def test_a_broken_axis_rises_keeps_scale_around_features_and_loses_only_breaks(
    features: list[float], scale: float, margin: float
) -> None:
    low, high = min(features), max(features)
    axis = axis_of(features, (low, high), scale, margin, whole=False)
    places = sorted({low, high, *features, *(end for kept in axis.kept for end in kept)})
    paper = [axis.at(place) for place in places]
    assert paper == sorted(paper)
    assert paper[-1] - paper[0] == pytest.approx(axis.length, abs=1e-6)
    for place in features:
        assert any(a - 1e-9 <= place <= b + 1e-9 for a, b in axis.kept)
    for start, stop in axis.breaks:
        assert stop - start == pytest.approx(BREAK)
    for a, b in axis.kept:
        assert axis.at(b) - axis.at(a) == pytest.approx(1e3 * (b - a) / scale, abs=1e-6)


def test_the_sheet_has_the_big_numbers_the_tap_and_every_caution(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, antenna=INCH_TUBE)
    with style():
        words = words_of(sheet_page(plan))
    for row in plan.rows:
        for told in on_rule(row.piece.overall_length):
            assert told in words
    flowing = " ".join(words.split())
    assert "from the upper edge of the crossbar" in flowing
    assert "push it to the stop" in flowing
    for caution in CAUTIONS:
        assert caution.split(":")[0].split(".")[0] in flowing
    assert f"{plan.wind.force:.0f} N at 40 m/s" in flowing


@pytest.mark.parametrize("parts", [SAWN, MARKED])
def test_inches_read_back_to_half_a_mark_of_the_rule(parts: int) -> None:
    for length in (0.0, 0.0004, 0.0333, 0.055, 1.4775):
        text = fraction(length, parts).removesuffix(" in")
        total = sum(
            int(a) / int(b or 1) for a, _, b in (part.partition("/") for part in text.split())
        )
        assert abs(total * 0.0254 - length) <= 0.0254 / (2 * parts) + 1e-12


# Laws: the study's own values


def test_measured_fittings_take_the_place_of_those_of_the_catalogue(tmp_path: Path) -> None:
    wide = {"type": "j-pole", "pipe": "22x1 mm", "spacing": "80 mm"}
    assert plan_of(tmp_path, antenna=wide).joinery.style == "mitred"
    own = {"fittings": {"elbow_90": {"centre_to_end": "27 mm", "cup": "15.4 mm"}}}
    plan = plan_of(tmp_path, antenna=wide, build=own)
    assert plan.joinery.style == "fittings"
    bar = next(p for p in plan.pieces if p.name == "crossbar")
    assert bar.overall_length == pytest.approx(0.080 - 2 * (0.027 - 0.0154))
    sizes = fitting_sizes(plan.study.pipe, Build(fittings=Fittings(cap=MeasuredCap(end=2e-3))))
    assert sizes["cap"].laying_length == 2e-3


def test_a_mast_goes_on_below_in_a_tee_and_needs_more_pipe(tmp_path: Path) -> None:
    plain = plan_of(tmp_path, antenna=INCH_TUBE)
    study = plain.study
    masted = plan_cuts(replace(study, site=replace(study.site, mast=1.5)))
    names = {part.name.split(" for ")[0]: part.quantity for part in masted.parts}
    assert (names["tee"], names["elbow 90°"]) == (1, 1)
    assert masted.mass.stock - plain.mass.stock == pytest.approx(
        1.5 * study.pipe.mass_per_m, abs=0.02 * study.pipe.mass_per_m
    )
    assert masted.wind.force > plain.wind.force
    assert masted.wind.moment == pytest.approx(plain.wind.moment)


def test_all_defaults_are_stated_and_given_ones_are_not(tmp_path: Path) -> None:
    plain = plan_of(tmp_path)
    assert len(plain.study.build.defaults) == 2
    assert sum(text.startswith("build.stock: 3 m (copper tube") for text in plain.derived) == 1
    own = {"kerf": "0 mm", "stock": "5 m", "wind_speed": "120 km/h"}
    build = plan_of(tmp_path, build=own).study.build
    assert build.defaults == ()
    assert (build.kerf, build.stock) == (0.0, 5.0)
    assert build.wind_speed == pytest.approx(120 / 3.6)


# Refusals


@pytest.mark.parametrize(
    ("build", "said"),
    [
        ({"joints": "glued"}, "[choice-unknown]"),
        ({"kerf": "9 mm"}, "allowed 0 m to 6 mm"),
        ({"stock": "3"}, "[unit-missing]"),
        ({"wind_speed": "300 m/s"}, "allowed 10 m/s to 90 m/s"),
        ({"prices": {"pipe": "9 EUR", "tee": "2 USD"}}, "[price-currency]"),
        ({"prices": {"pipes": "9 EUR"}}, "[key-unknown]"),
        ({"fittings": {"elbow_90": {"centre_to_end": "9 mm", "cup": "15 mm"}}}, "[fitting-size]"),
        ({"fittings": {"elbow_90": {"depth": "9 mm"}}}, "[key-unknown]"),
    ],
)
def test_a_wrong_value_is_answered_with_its_place_and_a_remedy(
    tmp_path: Path, build: dict[str, object], said: str
) -> None:
    text = refusal(tmp_path, build=build)
    assert said in text
    assert re.search(r"small\.yaml:\d+  build\.", text)
    assert "Try:" in text


TOO_NEAR = ("the smallest that works is 65.1 mm", "66 mm (2.57 in) or longer", "or joints: mitred")
TO_MEASURE = (
    "build.fittings.elbow_90",
    "measure one: fittings: {elbow_90: {centre_to_end: 27 mm, cup: 15.4 mm}}",
)


@pytest.mark.parametrize(
    ("antenna", "said"),
    [({"antenna": INCH_TUBE | {"spacing": "55 mm"}}, TOO_NEAR), ({}, TO_MEASURE)],
    ids=["too near", "of unknown size"],
)
def test_fittings_that_cannot_be_used_are_refused_with_what_to_do(
    tmp_path: Path, antenna: dict[str, object], said: tuple[str, ...]
) -> None:
    text = refusal(tmp_path, build={"joints": "fittings"}, **antenna)
    assert all(words in text for words in said)


def test_a_piece_through_a_joint_that_is_longer_than_a_bar_is_refused(tmp_path: Path) -> None:
    study = plan_of(tmp_path, build={"joints": "mitred", "stock": "2 m"}).study
    with pytest.raises(StudyError, match=r"build\.stock"):
        plan_cuts(replace(study, site=replace(study.site, mast=1.5)))


def test_an_antenna_without_a_joint_on_its_base_line_takes_no_mast(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    joints = tuple(
        replace(j, point=(j.point[0], 0.0, j.point[2] + 1)) for j in plan.assembly.joints
    )
    with pytest.raises(GeometryError, match="no joint on its base line"):
        with_mast(replace(plan.assembly, joints=joints), 1.0)


def test_a_study_that_cannot_be_cut_leaves_no_trace(tmp_path: Path) -> None:
    good = small_study_file(tmp_path, "good")
    bad = small_study_file(tmp_path, "bad", build={"joints": "fittings"})
    run = braidwise(tmp_path, "cut", good.name, bad.name)
    assert run.returncode == 2
    assert "Try:" in run.stderr
    assert not (tmp_path / "results").exists()
