"""A study in feet and inches: read as people write it, answered in the same units."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure

from models.lengths import large, lengths_in, small, system
from pipeline.construction.build_sheet import sheet_page
from pipeline.construction.cut_plan import plan_cuts
from pipeline.construction.cut_text import cut_list_text
from pipeline.design.tuning import variables_of
from pipeline.figures.page import length_axis
from pipeline.figures.style import style
from pipeline.study.reader import json_schema, load_study
from pipeline.text.errors import StudyError
from pipeline.text.lengths import system_of
from pipeline.text.refusals import FieldError
from pipeline.text.units import in_unit, read_quantity, show_quantity
from tests.harness.small_study import small_study_file

# A 2 m J-pole as it is built of half-inch pipe; every length in feet and inches.
IMPERIAL = {
    "antenna": {
        "type": "j-pole", "pipe": "1/2 in type M", "spacing": '2"', "long_leg": "4 ft 10 in",
        "short_leg": "19 in", "tap": "2 in",
    },
    "site": {"height": "20'", "ground": "average"},
    "cable": {
        "type": "6.1 mm foam (RG-8X class)", "joins": "long leg",
        "route": [{"out": "6 in"}, {"down": "18 ft"}, {"bond": "here"}, {"out": "10 ft"}],
    },
    "chokes": [{"id": "clamps", "kind": "ferrite", "core": "mix-43-clamp-12-7", "count": 2}],
}  # fmt: skip

# Published: NIST Special Publication 811 (2008), appendix B.8: the inch is 25.4 mm, the foot 12
# of them, both exactly.
WRITTEN = [
    ("4 ft 10 in", 58.0),
    ("4ft 10in", 58.0),
    ("4' 10\"", 58.0),
    ("4'10\"", 58.0),
    ("4'-10\"", 58.0),
    ("4’ 10”", 58.0),
    ("4′ 10″", 58.0),
    ("4 feet 10 inches", 58.0),
    ("4 ft 10 1/2 in", 58.5),
    ("4 ft 1/2 in", 48.5),
    ("20'", 240.0),
    ("20 ft", 240.0),
    ('2"', 2.0),
    ("5/8 in", 0.625),
    ('5/8"', 0.625),
    ("1 1/2 in", 1.5),
    ("1-1/2 in", 1.5),
    ('1 11/16"', 1.6875),
    ("1/2 ft", 6.0),
    ("-1 1/2 in", -1.5),
    ("-4 ft 10 in", -58.0),
]

ODD = [
    ("4 ft 14 in", "feet-inches", "may be a slip", '"62 in"'),
    ("4.5 ft 3 in", "feet-inches", "may be a slip", '"57 in"'),
    ("4 ft 10", "unit-missing", "no unit on its second number, 10", '"4 ft 10 in"'),
    ("4' 10", "unit-missing", "no unit on its second number, 10", '"4 ft 10 in"'),
    ("5/0 in", "fraction-form", "no fraction", "2.17 in"),
    ("1 9/8 in", "fraction-form", "no fraction", "2.17 in"),
    ("5/8", "unit-missing", "has no unit", '"5/8 in"'),
    ("20", "unit-missing", "has no unit", '"20 in"'),
    ("10 in 4 ft", "quantity-form", "or feet and inches", "2.17 in"),
    ("4 ft 10 mm", "quantity-form", "or feet and inches", "2.17 in"),
    ("2''", "quantity-form", "or feet and inches", "2.17 in"),
    ("1.5/2 in", "quantity-form", "or feet and inches", "2.17 in"),
    ("٥/٨ in", "digits-foreign", "another script", '"5/8 in"'),
]


def study_file(folder: Path, **changes: object) -> Path:
    return small_study_file(folder, **(IMPERIAL | changes))


def refusal(path: Path) -> str:
    with pytest.raises(StudyError) as caught:
        load_study(path)
    return str(caught.value)


# Reading


@pytest.mark.parametrize(("text", "inches"), WRITTEN)
def test_feet_and_inches_are_read_as_people_write_them(text: str, inches: float) -> None:
    assert read_quantity(text, "m", "55 mm") == pytest.approx(inches * 0.0254, rel=1e-14)


def test_a_part_of_a_wavelength_may_be_a_fraction() -> None:
    assert read_quantity("5/8 wavelength", "m", "1 m", 2.0) == 1.25


@pytest.mark.parametrize(("text", "tag", "rule", "remedy"), ODD)
def test_what_could_be_two_lengths_is_refused_with_what_was_meant(
    text: str, tag: str, rule: str, remedy: str
) -> None:
    with lengths_in("imperial"), pytest.raises(FieldError) as caught:
        read_quantity(text, "m", "55 mm")
    assert caught.value.tag == tag
    assert rule in caught.value.rule
    assert remedy in caught.value.remedy


@pytest.mark.parametrize("text", ['2"', "5/8 MHz", "4 ft 10 in"])
def test_feet_inches_and_fractions_are_lengths_only(text: str) -> None:
    with pytest.raises(FieldError):
        read_quantity(text, "Hz", "145 MHz")


@pytest.mark.parametrize("text", [text for text, _ in WRITTEN if not {"’", "′"} & set(text)])
def test_the_published_schema_takes_what_the_reader_takes(text: str) -> None:
    pattern = json_schema()["$defs"]["SiteSection"]["properties"]["height"]["pattern"]
    assert re.search(pattern, text)
    assert not re.search(pattern, "4 ft 10")


# Which units a study is in


def test_the_units_of_a_study_are_those_of_most_of_its_lengths(tmp_path: Path) -> None:
    assert load_study(study_file(tmp_path)).lengths == "imperial"
    assert load_study(study_file(tmp_path, site={"height": "6 m"})).lengths == "imperial"
    assert load_study(small_study_file(tmp_path)).lengths == "metric"
    assert system_of(["20 ft", "6 m"]) == "metric"
    assert system_of(["146 MHz", "1/2 in type M", "6.1 mm foam"]) == "metric"


def test_a_title_is_no_length(tmp_path: Path) -> None:
    # Six metres is a band here.
    path = tmp_path / "title.yaml"
    data = yaml.safe_load(small_study_file(tmp_path).read_text(encoding="utf-8"))
    path.write_text(yaml.safe_dump(data | {"title": "6 ft, 6 ft"}), encoding="utf-8")
    assert load_study(path).lengths == "metric"


# Wording


@given(length=st.floats(1e-3, 200.0))
def test_what_is_shown_in_feet_and_inches_reads_back(length: float) -> None:
    with lengths_in("imperial"):
        shown = show_quantity(length, "m")
        again = read_quantity(shown, "m", "55 mm")
    # A hundredth of an inch below six feet, an inch above.
    assert abs(again - length) <= 0.0254 * (0.005 if length < 1.8288 else 0.5) + 1e-9, shown


@given(length=st.floats(1e-3, 200.0), way=st.sampled_from(["up", "down"]))
def test_a_limit_that_is_told_is_within_the_limit(length: float, way: str) -> None:
    with lengths_in("imperial"):
        for told in (small(length, 0, way), large(length, 2, way), show_quantity(length, "m", way)):
            again = read_quantity(told, "m", "55 mm")
            slack = 1e-7
            assert again >= length - slack if way == "up" else again <= length + slack, told


def test_the_wording_ends_with_its_block_and_is_that_of_the_innermost() -> None:
    assert system() == "metric"
    with lengths_in("imperial"):
        with lengths_in("metric"):
            assert small(0.0254) == "25 mm"
        assert small(0.0254) == "1 in"
    assert system() == "metric"


def test_hints_are_in_the_units_of_the_study_and_work(tmp_path: Path) -> None:
    antenna = IMPERIAL["antenna"] | {"tap": "18 in", "spacing": "1/2 in"}
    said = refusal(study_file(tmp_path, antenna=antenna))
    assert " mm" not in said.replace("6.1 mm", "")
    assert "allowed 0.99 in to 19.68 in" in said
    wide = IMPERIAL["antenna"] | {"spacing": "0.99 in"}
    assert math.isclose(
        load_study(study_file(tmp_path, antenna=wide)).antenna.parameters.spacing, 0.99 * 0.0254
    )


def test_a_missing_key_is_asked_for_in_the_units_of_the_study(tmp_path: Path) -> None:
    said = refusal(study_file(tmp_path, site={"ground": "average"}))
    assert "height: 26 ft 3 in" in said


# Workshop


def test_the_sheet_of_an_imperial_study_has_inches_first_and_millimetres_beside(
    tmp_path: Path,
) -> None:
    study = load_study(study_file(tmp_path))
    with lengths_in(study.lengths), style():
        plan = plan_cuts(study)
        words = [text.get_text() for ax in sheet_page(plan).axes for text in ax.texts]
        text = cut_list_text(plan)
    # 58 in from axis to tip, less the 3/8 in that the elbow of 1/2 in tube takes off.
    assert "57 5/8 in (1463.7 mm)" in text
    inches, millimetres = (words.index(told) for told in ("57 5/8 in", "1463.7 mm"))
    assert inches < millimetres
    assert "electrical length 58 in (1473.2 mm)" in text
    # 40 m/s; NIST Special Publication 811, appendix B.8: 0.44704 m/s to the mile an hour.
    assert f"at 40 m/s ({40 / 0.44704:.0f} mph)" in text
    assert f"mass: {plan.mass.total / 0.45359237:.2f} lb" in text


def test_stock_is_ten_feet_for_inch_tube_and_three_metres_for_metric(tmp_path: Path) -> None:
    metric = {"type": "j-pole", "pipe": "22x1 mm", "spacing": "55 mm"}
    for changes, bar in (({}, 3.048), ({"antenna": metric}, 3.0)):
        plan = plan_cuts(load_study(study_file(tmp_path, **changes)))
        assert plan.bar == bar
        assert sum(text.startswith("build.stock") for text in plan.derived) == 1
    given = plan_cuts(load_study(study_file(tmp_path, build={"stock": "20 ft"})))
    assert given.bar == pytest.approx(6.096)
    assert not any(text.startswith("build.stock") for text in given.derived)


# Tuning


@given(share=st.floats(0.0, 1.0))
def test_tuned_lengths_are_round_in_inches_and_read_back_to_the_last_bit(
    imperial_variables, share: float
) -> None:
    for variable in imperial_variables:
        value = variable.rounded(variable.low + share * (variable.high - variable.low))
        with lengths_in("imperial"):
            text = in_unit(value, "m", variable.grid)
        assert text.endswith(" in")
        assert len(text.partition(".")[2].removesuffix(" in")) <= 3, text
        assert math.isclose(read_quantity(text, "m", ""), value, rel_tol=1e-9)


@pytest.fixture(scope="module")
def imperial_variables(tmp_path_factory: pytest.TempPathFactory):
    return variables_of(load_study(study_file(tmp_path_factory.mktemp("tune"))))


def test_a_cutting_error_of_a_millimetre_is_told_as_four_hundredths_of_an_inch(
    imperial_variables,
) -> None:
    for variable in imperial_variables:
        with lengths_in("imperial"):
            assert in_unit(variable.step, "m", variable.step) == "0.04 in"


# Every refusal


COIL = {"id": "c", "kind": "coil", "turns": 5, "diameter": "4 in"}
METRIC_WORDS = re.compile(r"\d (?:mm|cm|m)\b")
# Names of parts as they are sold.
NAMES = re.compile(r"[\d.]+ mm (?:foam|air)|\d+x[\d.]+ mm")


@pytest.mark.parametrize(
    "changes",
    [
        {"site": {"ground": "average"}},
        {"site": {"height": "1 in"}},
        {"site": {"height": "20"}},
        {"cable": IMPERIAL["cable"] | {"route": []}},
        {"cable": IMPERIAL["cable"] | {"route": [{"out": "6 in"}, {"back": "2 ft"}]}},
        {"cable": IMPERIAL["cable"] | {"route": [{"out": "6 in"}, {"down": "30 ft"}]}},
        {"cable": IMPERIAL["cable"] | {"length": "4 ft"}},
        {"antenna": IMPERIAL["antenna"] | {"tap": "1/4 in"}},
        {"antenna": IMPERIAL["antenna"] | {"spacing": "5/8 in"}},
        {"antenna": IMPERIAL["antenna"] | {"tap": "18 in"}},
        {"antenna": IMPERIAL["antenna"] | {"short_leg": "50 in"}},
        {"chokes": [COIL | {"position": "99 ft"}]},
        {"chokes": [COIL | {"diameter": "1/8 in"}]},
    ],
)  # fmt: skip
def test_no_refusal_of_an_imperial_study_speaks_of_metres(
    tmp_path: Path, changes: dict[str, object]
) -> None:
    said = NAMES.sub("", refusal(study_file(tmp_path, **changes)))
    assert not METRIC_WORDS.search(said), said


@pytest.mark.parametrize("wrong", [{"tap": "1/2 in"}, {"spacing": "1 in", "pipe": "1 in type M"}])
def test_hints_of_the_antennas_own_file_work_when_followed(
    tmp_path: Path, wrong: dict[str, str]
) -> None:
    antenna = IMPERIAL["antenna"] | wrong
    said = refusal(study_file(tmp_path, antenna=antenna))
    found = re.search(r"Try: (\w+): ([\d./ ]+ in)", said)
    assert found is not None, said
    better = load_study(study_file(tmp_path, antenna=antenna | {found[1]: found[2]}))
    assert getattr(better.antenna.parameters, found[1]) == read_quantity(found[2], "m", "")


# Figures


def test_axes_count_in_round_feet_where_the_study_does() -> None:
    figure = Figure()
    ax = figure.add_subplot()
    ax.set_xlim(0.0, 6.0)
    ax.set_ylim(0.0, 6.0)
    with lengths_in("imperial"):
        length_axis(ax.xaxis, "height")
    length_axis(ax.yaxis, "height")
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("height [ft]", "height [m]")
    # The exact foot of NIST Special Publication 811, appendix B.8.
    feet = [tick / 0.3048 for tick in ax.get_xticks()]
    assert len(feet) > 3
    for tick, label in zip(feet, ax.xaxis.get_major_formatter().format_ticks(ax.get_xticks()),
                           strict=True):  # fmt: skip
        assert tick == pytest.approx(round(2 * tick) / 2, abs=1e-9)
        assert float(label.replace("−", "-")) == pytest.approx(tick)
