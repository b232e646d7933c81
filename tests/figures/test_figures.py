"""Figures of a small study: what they say is what their tables hold, and they never differ."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from pipeline.analysis.metrics import LOW_ELEVATIONS_DEG
from pipeline.figures.data import load_cases, read_table
from pipeline.figures.exposure import _notes
from pipeline.figures.feed_line import FLOOR
from pipeline.figures.registry import REPORT, draw_report, figures_of
from pipeline.figures.style import shorten, style, text_width, wrap
from pipeline.report.answer_tables import TABLES
from pipeline.text.formatting import keep_away, percent, plain
from tests.harness.small_study import few_dots

pytestmark = pytest.mark.takes(35)

# The small study has no measured antenna.
FIGURES = [name for name in figures_of(REPORT) if name != "measured"]
SECTION_OF = {name: f.section for name, f in figures_of(REPORT).items()}
CURVES = ("low_elevation", "band", "shield_current")
# What the reader has, what is taken and the ideal choke: no more is drawn.
MAIN = ("azimuth_cut", "elevation_cut", "difference_to_ideal", "smith_chart")
Rows = list[dict[str, str]]


def rows(folder: Path, name: str, **wanted: str) -> Rows:
    with (folder / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return [r for r in csv.DictReader(stream) if wanted.items() <= r.items()]


def drawn(folder: Path, name: str) -> str:
    draw_report(folder, name)
    return (folder / "figures" / f"{name}.svg").read_text(encoding="utf-8")


def title(folder: Path, name: str) -> str:
    found = re.search(r"<dc:title>(.*?)</dc:title>", drawn(folder, name), re.DOTALL)
    assert found is not None
    return found[1]


def words(svg: str) -> str:
    """All text of a figure, lines joined again."""
    return " ".join(" ".join(re.findall(r"<text[^>]*>(.*?)</text>", svg, re.DOTALL)).split())


def dashes(svg: str, case: str) -> str:
    """Dashes of a case's line as they are drawn."""
    line = svg.split(f'id="case-{case}"')[1].split("</g>")[0]
    found = re.search(r"stroke-dasharray: ([\d., ]+)", line)
    return found[1] if found else "solid"


def dash_and_width(svg: str, case: str) -> tuple[str, str]:
    """Dashes and width of a case's line; of the same dash the thick one is the chosen."""
    line = svg.split(f'id="case-{case}"')[1].split("</g>")[0]
    found = re.search(r"stroke-width: ([\d.]+)", line)
    return dashes(svg, case), found[1] if found else "1"


def summary_of(folder: Path) -> dict:
    return json.loads((folder / "summary.json").read_text(encoding="utf-8"))


def rewrite(folder: Path, summary: dict) -> None:
    (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")


@pytest.fixture(scope="module", autouse=True)
def coarse() -> Iterator[None]:
    """What is held here does not hang on how many dots there are."""
    with few_dots():
        yield


# Laws: every figure


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_is_drawn_alike_each_time_and_never_reads_a_study_as_markup(
    copy: Path, name: str
) -> None:
    files = [copy / "figures" / f"{name}.{end}" for end in ("png", "svg")]
    summary = summary_of(copy)
    summary["study"]["title"] = "<script>alert(1)</script> $x_{$ & \u0000 " + "long " * 40
    for case in summary["cases"]:
        case["label"] = "<b>$\\alpha^{$</b> " + case["label"]
    rewrite(copy, summary)
    assert "<script" not in drawn(copy, name)
    first = [f.read_bytes() for f in files]
    draw_report(copy, name)
    assert [f.read_bytes() for f in files] == first
    assert all(len(data) > 5000 for data in first)


@pytest.mark.parametrize("name", CURVES)
def test_every_case_has_its_line_told_apart_also_in_a_grey_print(copy: Path, name: str) -> None:
    svg = drawn(copy, name)
    # What the checks found stands once, below the first figure of a section.
    first = next(f for f in figures_of(REPORT).values() if f.section == SECTION_OF[name])
    assert ("evidence: " in svg and "average gain" in svg) == (first.name == name)
    assert all(f'id="case-{row["case"]}"' in svg for row in rows(copy, name))
    if name != "low_elevation":
        named = [case.id for case in load_cases(copy).every if case.emphasised]
        named = [case for case in named if f'id="case-{case}"' in svg]
        assert len(named) >= 3
        assert len({dash_and_width(svg, case) for case in named}) == len(named)


@pytest.mark.parametrize("name", MAIN)
def test_no_choke_the_chosen_and_the_ideal_are_told_apart_also_in_a_grey_print(
    copy: Path, name: str
) -> None:
    svg = drawn(copy, name)
    wanted = dict.fromkeys(("none", summary_of(copy)["answer"]["chosen"], "ideal"))
    named = [case for case in wanted if name != "difference_to_ideal" or case != "ideal"]
    assert set(re.findall(r'id="case-([^"]+)"', svg)) == set(named)
    # Solid is the chosen one's alone; the strokes of no choke are the shortest, which are dots.
    found = {case: dashes(svg, case) for case in named}
    assert [case for case in named if found[case] == "solid"] == [named[1]]
    assert float(found["none"].split(",")[0]) < 2.5
    assert all(float(found[case].split(",")[0]) > 5 for case in named if case == "ideal")
    assert all(load_cases(copy).of(case).name in words(svg) for case in named)


@pytest.mark.parametrize("name", ["band", "azimuth_cut", "shield_current", "smith_chart"])
def test_an_unsound_case_is_named_so_and_never_drawn_as_a_plain_line(copy: Path, name: str) -> None:
    for path in (copy / "tables").glob("*.csv"):
        if path.stem in TABLES:
            continue
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"^(none,.*),\w+$", r"\1,unsound", text, flags=re.M), "utf-8")
    summary = summary_of(copy)
    for case in summary["cases"]:
        if case["id"] == "none":
            case["evidence"]["grade"] = "unsound"
    rewrite(copy, summary)
    svg = drawn(copy, name)
    assert "dash and two dots: unsound – do not rely on it: none" in svg
    assert 'id="interval-none"' not in svg
    assert dashes(svg, "none") not in ("solid", dashes(svg, "ideal"))


# Laws: titles


def _largest(column: str) -> Callable[[Rows], float]:
    return lambda table: max(float(r[column]) for r in table if r["case"] == "none")


def _cut_title(table: Rows) -> list[str]:
    own = [[float(r["gain_dbi"]) for r in table if r["case"] == c] for c in ("none", "ideal")]
    told = zip(own, ("without a choke", "with an ideal one"), strict=True)
    said = [f"{min(gain):.1f} to {max(gain):.1f} dBi {words}" for gain, words in told]
    return [text.replace("-", "−") for text in said]


def _difference_title(table: Rows) -> list[str]:
    own = [r for r in table if r["case"] == "none" and r["cut"] == "azimuth"]
    largest = max(abs(float(r["difference_db"])) for r in own if r["difference_db"])
    return [f"moves by up to {largest:.1f} dB"]


def _radiation_title(table: Rows) -> list[str]:
    share = next(r for r in table if r["case"] == "none" and r["carrier"] == "cable")
    return [f"{percent(float(share['radiated_share']))} without a choke"]


def _count_title(table: Rows) -> list[str]:
    cores: dict[str, list[float]] = {}
    for row in table:
        cores.setdefault(row["core"], []).append(float(row["station_current_ratio"]))
    bare = f"{percent(float(table[0]['station_current_ratio']))} reaches the radio without a core"
    return [bare, *(f"{percent(own[-1])} with " for own in list(cores.values())[:1])]


def _place_title(table: Rows) -> list[str]:
    worst = max(table, key=lambda row: float(row["score"]))
    return [f"and most at {float(worst['position_m']):.2f} m"]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "shield_current",
            lambda t: [f"up to {percent(_largest('current_ratio')(t))} of the feed current"],
        ),
        ("band", lambda t: [f"{_largest('swr_feed')(t):.2f} without a choke"]),
        ("azimuth_cut", _cut_title),
        ("difference_to_ideal", _difference_title),
        ("cable_radiation", _radiation_title),
        ("core_count", _count_title),
        ("choke_position", _place_title),
    ],
)
def test_the_numbers_in_a_title_are_those_of_the_table(
    copy: Path, name: str, expected: Callable[[Rows], list[str]]
) -> None:
    said = title(copy, name)
    assert all(text in said for text in expected(rows(copy, name)))


def test_the_curve_of_the_current_lies_on_its_table(results: Path) -> None:
    table = read_table(results, "shield_current")
    with style():
        page = figures_of(REPORT)["shield_current"].draw(load_cases(results), table)
    own = [float(r["current_ratio"]) for r in rows(results, "shield_current", case="none")]
    wanted = np.maximum(own, FLOOR / 10)
    drawn = [np.asarray(line.get_ydata()) for ax in page.figure.axes for line in ax.lines]
    assert any(y.shape == wanted.shape and np.allclose(y, wanted, rtol=1e-6) for y in drawn)


def test_the_best_place_in_the_title_is_that_of_its_table(copy: Path) -> None:
    table = rows(copy, "choke_position")
    least = min(float(row["score"]) for row in table)
    found = re.search(r"least at ([\d.]+) m \(([\d.]+) ", title(copy, "choke_position"))
    assert found is not None
    at = [r for r in table if abs(float(r["position_m"]) - float(found[1])) < 0.006]
    assert min(float(r["score"]) for r in at) == pytest.approx(float(found[2]), abs=0.006)
    assert float(found[2]) <= 1.2 * least + 0.006


def test_a_null_between_lobes_neither_makes_the_title_nor_the_scale(copy: Path) -> None:
    calm = title(copy, "low_elevation")
    table = rows(copy, "low_elevation")
    for row in table:
        if row["elevation_deg"] == "5":
            deep = -60.0 if row["case"] == "ideal" else -20.0
            row |= {f"gain_{k}_dbi": str(deep) for k in ("min", "mean", "max")}
    path = copy / "tables" / "low_elevation.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, table[0])
        writer.writeheader()
        writer.writerows(table)
    assert title(copy, "low_elevation") == calm


# Laws: exposure


def test_the_figure_of_exposure_says_the_distances_of_its_table_rounded_up(copy: Path) -> None:
    chosen = summary_of(copy)["answer"]["chosen"]
    table = rows(copy, "exposure", case=chosen, limit="fcc-public-vhf")
    said = title(copy, "exposure")
    assert "Estimate" in said
    told = [r for r in table if r["where"].startswith("distance from")]
    assert {r["nearest"] for r in told} >= {"antenna", "cable"}
    for r in told:
        nearest = 0.1 if r["nearest"] == "antenna" else 0.05
        assert f"{keep_away(float(r['distance_m']), nearest)} from the {r['nearest']}" in said
    above = any(r["above_limit"] == "yes" for r in table if r not in told)
    assert ("where people can be" in said) == above
    assert "not a certificate" in words(drawn(copy, "exposure"))


def test_the_figure_of_exposure_names_every_conductor_that_asks_for_more_without_the_choke(
    copy: Path,
) -> None:
    summary = summary_of(copy)
    fixed = ("none", "ideal", "no-feedline")
    chosen = next(c["id"] for c in summary["cases"] if c["id"] not in fixed)
    summary["answer"]["chosen"] = chosen
    part = summary["exposure"]
    some = dict(part["cases"][0])
    for case, far in (("none", (0.77, 0.22, 0.28)), (chosen, (0.73, 0.22, 0.21))):
        zones = [
            {"conductor": name, "distance_m": d}
            for name, d in zip(("antenna", "cable", "railing"), far, strict=True)
        ]
        rows_of = [d | {"zones": zones} for d in some["distances"]]
        kept = [c for c in part["cases"] if c["case"] != case]
        part["cases"] = [*kept, some | {"case": case, "distances": rows_of}]
    rewrite(copy, summary)
    said = " ".join(note.text for note in _notes(part, load_cases(copy)))
    assert "without the choke beyond 0.77 m from the antenna, 0.28 m from the railing" in said


# Laws: intervals


BOUNDED = ("cases", "band", "azimuth_cut", "low_elevation", "shield_current", "core_count",
           "choke_position")  # fmt: skip


@pytest.mark.parametrize("name", BOUNDED)
def test_the_ends_of_every_interval_in_a_table_stand_on_either_side_of_its_number(
    results: Path, name: str
) -> None:
    table = rows(results, name)
    columns = [c.removesuffix("_low") for c in table[0] if c.endswith("_low")]
    assert columns
    for row in table:
        for c in columns:
            low, value, high = (float(row[k]) for k in (f"{c}_low", c, f"{c}_high"))
            # Six digits are printed; a null of a pattern is printed as -120.
            slack = 1e-5 * abs(value) + 1e-12
            assert low - slack <= value <= high + slack, (row, c)


def test_the_low_curve_of_every_case_has_the_same_fine_elevations(results: Path) -> None:
    for case in rows(results, "cases"):
        own = rows(results, "low_elevation", case=case["case"])
        assert [float(r["elevation_deg"]) for r in own] == list(LOW_ELEVATIONS_DEG)
        for r in own:
            low, mean, high = (float(r[f"gain_{k}_dbi"]) for k in ("min", "mean", "max"))
            assert low <= mean <= high


def test_tables_that_hold_the_same_number_give_it_the_same_interval(results: Path) -> None:
    summary = summary_of(results)
    at = f"{summary['study']['frequency_hz']:.6g}"
    (band,) = rows(results, "band", case="none", frequency_hz=at)
    (bare,) = rows(results, "cases", case="none")
    none_of_it = rows(results, "core_count")[0]
    assert none_of_it["count"] == "0"
    for end in ("_low", "_high"):
        for column in ("r_ohm", "x_ohm", "swr_feed", "swr_radio", "line_loss_db"):
            assert band[column + end] == bare[column + end]
        for column in ("pattern_change_rms_db", "station_current_ratio"):
            assert none_of_it[column + end] == bare[column + end]
    ends = next(c for c in summary["cases"] if c["id"] == "none")["interval_95"]
    for column, (low, high) in ends.items():
        assert float(bare[f"{column}_low"]) == pytest.approx(low, rel=1e-5)
        assert float(bare[f"{column}_high"]) == pytest.approx(high, rel=1e-5)


@pytest.mark.parametrize(
    ("name", "whose"),
    [("shield_current", "none"), ("band", "none"), ("core_count", "mix-43-clamp-12-7")],
)
def test_intervals_are_shaded_and_said_to_be(copy: Path, name: str, whose: str) -> None:
    svg = drawn(copy, name)
    assert f'id="interval-{whose}"' in svg
    assert "95 % interval" in words(svg)


@pytest.mark.parametrize("name", ["azimuth_cut", "low_elevation"])
def test_the_interval_in_a_note_is_the_widest_of_the_named_cases(copy: Path, name: str) -> None:
    said = re.search(r"± ([\d.]+) dB at most in a named case", words(drawn(copy, name)))
    assert said is not None
    halves = [
        max(abs(float(r[f"horizon_gain_mean_dbi{end}"]) - float(r["horizon_gain_mean_dbi"]))
            for end in ("_low", "_high"))
        for r in rows(copy, "cases")
    ]  # fmt: skip
    assert min(halves) - 0.05 <= float(said[1]) <= max(halves) + 0.05


# Edges


def test_two_hundred_cases_are_drawn_and_the_few_that_matter_are_named(copy: Path) -> None:
    """Invented: the same candidate many times over, under other names."""
    own = rows(copy, "cases")[-1]["case"]
    for table in ("cases", "band"):
        path = copy / "tables" / f"{table}.csv"
        lines = path.read_text(encoding="utf-8").splitlines()
        for n in range(200):
            lines += [f"many-{n}{x[len(own) :]}" for x in lines if x.startswith(f"{own},")]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    svg = drawn(copy, "band")
    assert all(f'id="case-many-{n}"' in svg for n in range(200))
    assert "no choke" in svg
    assert len(re.findall(r"many-\d+\]", svg)) <= 3


def test_lines_of_text_never_leave_their_room_and_names_are_cut_at_a_hyphen() -> None:
    text = "a label with 12.7 mm and " + "averylongword" * 6 + " at 168 + j24 Ω"
    lines = wrap(text, 1.5, 9.0)
    assert all(text_width(line, 9.0) <= 1.5 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    lines = wrap("nizn-800-below-x8", 1.0, 9.0)
    assert "".join(lines) == "nizn-800-below-x8"
    assert len(lines) > 1
    assert all(line.endswith("-") for line in lines[:-1])
    assert len(shorten("x" * 500, 40)) == 40
    assert "\u0000" not in plain("a\u0000b")


# Refusals


def test_a_figure_that_does_not_exist_is_refused(copy: Path) -> None:
    with pytest.raises(KeyError):
        draw_report(copy, "something")
