"""Figures of a small study: what they say is what their tables hold, and they never differ."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from pipeline.analysis.metrics import LOW_ELEVATIONS_DEG
from pipeline.figures.data import load_cases
from pipeline.figures.exposure import _notes
from pipeline.figures.registry import REPORT, draw_report, figures_of
from pipeline.figures.style import shorten, text_width, wrap
from pipeline.text.formatting import keep_away, plain

pytestmark = pytest.mark.takes(20)

# The small study has no measured antenna.
FIGURES = [name for name in figures_of(REPORT) if name != "measured"]


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def title(folder: Path, name: str) -> str:
    draw_report(folder, name)
    svg = (folder / "figures" / f"{name}.svg").read_text(encoding="utf-8")
    found = re.search(r"<dc:title>(.*?)</dc:title>", svg, re.DOTALL)
    assert found is not None
    return found[1]


def words(folder: Path, name: str) -> str:
    """All text of a figure, lines joined again."""
    svg = (folder / "figures" / f"{name}.svg").read_text(encoding="utf-8")
    return " ".join(" ".join(re.findall(r"<text[^>]*>(.*?)</text>", svg, re.DOTALL)).split())


# Laws


@pytest.mark.parametrize("name", FIGURES)
def test_every_figure_is_drawn_twice_with_the_same_bytes(copy: Path, name: str) -> None:
    draw_report(copy, name)
    files = [copy / "figures" / f"{name}.{end}" for end in ("png", "svg")]
    first = [f.read_bytes() for f in files]
    draw_report(copy, name)
    assert [f.read_bytes() for f in files] == first
    assert all(len(data) > 5000 for data in first)


def test_the_figure_of_exposure_says_the_distances_of_its_table_rounded_up(copy: Path) -> None:
    summary = json.loads((copy / "summary.json").read_text(encoding="utf-8"))
    chosen = summary["verdict"]["recommended_case"]
    table = [
        r for r in rows(copy, "exposure") if (r["case"], r["limit"]) == (chosen, "fcc-public-vhf")
    ]
    said = title(copy, "exposure")
    assert "Estimate" in said
    told = [r for r in table if r["where"].startswith("distance from")]
    assert {r["nearest"] for r in told} >= {"antenna", "cable"}
    for r in told:
        nearest = 0.1 if r["nearest"] == "antenna" else 0.05
        assert f"{keep_away(float(r['distance_m']), nearest)} from the {r['nearest']}" in said
    above = any(r["above_limit"] == "yes" for r in table if r not in told)
    assert ("where people can be" in said) == above
    assert "not a certificate" in words(copy, "exposure")


def test_the_figure_of_exposure_names_every_conductor_that_asks_for_more_without_the_choke(
    copy: Path,
) -> None:
    path = copy / "summary.json"
    summary = json.loads(path.read_text(encoding="utf-8"))
    fixed = ("none", "ideal", "no-feedline")
    chosen = next(c["id"] for c in summary["cases"] if c["id"] not in fixed)
    summary["verdict"]["recommended_case"] = chosen
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
    path.write_text(json.dumps(summary), encoding="utf-8")
    said = " ".join(note.text for note in _notes(part, load_cases(copy)))
    assert "without the choke beyond 0.77 m from the antenna, 0.28 m from the railing" in said


def test_the_current_in_the_title_is_the_largest_in_the_table(copy: Path) -> None:
    largest = max(
        float(r["current_ratio"]) for r in rows(copy, "shield_current") if r["case"] == "none"
    )
    said = re.search(r"up to ([\d.]+) % of the feed current", title(copy, "shield_current"))
    assert said is not None
    assert float(said[1]) == pytest.approx(100 * largest, rel=0.05)


def test_the_swr_in_the_title_is_the_largest_of_the_band(copy: Path) -> None:
    largest = max(float(r["swr_feed"]) for r in rows(copy, "band") if r["case"] == "none")
    assert f"{largest:.2f} without a choke" in title(copy, "band")


def test_the_places_in_the_title_are_the_verdicts_best_and_the_worst_of_the_table(
    copy: Path,
) -> None:
    table = rows(copy, "choke_position")
    worst = max(table, key=lambda row: float(row["score"]))
    said = title(copy, "choke_position")
    assert f"and most at {float(worst['position_m']):.2f} m" in said
    summary = json.loads((copy / "summary.json").read_text(encoding="utf-8"))
    (where,) = (p for p in summary["verdict"]["paragraphs"] if p.startswith("Where?"))
    found = re.search(r"best at ([\d.]+) m \((.*?) is left\)", where)
    assert found is not None
    assert f"least at {found[1]} m ({found[2]}) and" in said


def test_the_currents_in_the_title_of_the_count_are_those_of_the_table(copy: Path) -> None:
    table = rows(copy, "core_count")
    first = [float(r["station_current_ratio"]) for r in table if r["core"] == table[0]["core"]]
    said = [float(v) for v in re.findall(r"([\d.]+) %", title(copy, "core_count"))]
    assert said[0] == pytest.approx(100 * first[0], rel=0.06)
    assert said[-1] == pytest.approx(100 * first[-1], rel=0.06)


def test_the_change_in_the_title_of_the_cut_is_the_largest_of_the_table(copy: Path) -> None:
    cut = rows(copy, "azimuth_cut")
    bare, ideal = ([float(r["gain_dbi"]) for r in cut if r["case"] == c] for c in ("none", "ideal"))
    largest = max(abs(a - b) for a, b in zip(bare, ideal, strict=True))
    assert f"moves by up to {largest:.1f} dB" in title(copy, "azimuth_cut")


@pytest.mark.parametrize("name", ["azimuth_cut", "elevation_cut", "low_elevation", "band"])
def test_every_case_has_its_line_and_every_picture_its_evidence(copy: Path, name: str) -> None:
    draw_report(copy, name)
    svg = (copy / "figures" / f"{name}.svg").read_text(encoding="utf-8")
    for case in rows(copy, "cases"):
        assert f'id="case-{case["case"]}"' in svg
    assert "evidence: " in svg
    assert "average gain" in svg


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
    table = rows(results, "low_elevation")
    for case in rows(results, "cases"):
        own = [float(r["elevation_deg"]) for r in table if r["case"] == case["case"]]
        assert own == list(LOW_ELEVATIONS_DEG)
        ordered = [(float(r["gain_min_dbi"]), float(r["gain_mean_dbi"]), float(r["gain_max_dbi"]))
                   for r in table if r["case"] == case["case"]]  # fmt: skip
        assert all(low <= mean <= high for low, mean, high in ordered)


def test_a_null_between_lobes_neither_makes_the_title_nor_the_scale(copy: Path) -> None:
    calm = title(copy, "low_elevation")
    path = copy / "tables" / "low_elevation.csv"
    table = rows(copy, "low_elevation")
    for row in table:
        if row["elevation_deg"] == "5":
            deep = -60.0 if row["case"] == "ideal" else -20.0
            row |= {f"gain_{k}_dbi": str(deep) for k in ("min", "mean", "max")}
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, table[0])
        writer.writeheader()
        writer.writerows(table)
    assert title(copy, "low_elevation") == calm


def test_tables_that_hold_the_same_number_give_it_the_same_interval(results: Path) -> None:
    summary = json.loads((results / "summary.json").read_text(encoding="utf-8"))
    at = f"{summary['study']['frequency_hz']:.6g}"
    band = next(r for r in rows(results, "band") if r["case"] == "none" and r["frequency_hz"] == at)
    bare = next(r for r in rows(results, "cases") if r["case"] == "none")
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
    draw_report(copy, name)
    svg = (copy / "figures" / f"{name}.svg").read_text(encoding="utf-8")
    assert f'id="interval-{whose}"' in svg
    assert "95 % interval" in words(copy, name)


@pytest.mark.parametrize("name", ["azimuth_cut", "low_elevation"])
def test_the_interval_in_a_note_is_the_widest_of_the_named_cases(copy: Path, name: str) -> None:
    draw_report(copy, name)
    said = re.search(r"± ([\d.]+) dB at most in a named case", words(copy, name))
    assert said is not None
    halves = [
        max(float(r[f"{c}_high"]) - float(r[c]), float(r[c]) - float(r[f"{c}_low"]))
        for r in rows(copy, "cases")
        for c in ["horizon_gain_mean_dbi"]
    ]
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
    draw_report(copy, "band")
    svg = (copy / "figures" / "band.svg").read_text(encoding="utf-8")
    assert all(f'id="case-many-{n}"' in svg for n in range(200))
    assert "no choke" in svg
    assert len(re.findall(r"many-\d+\]", svg)) <= 3


def test_lines_of_text_never_leave_their_room() -> None:
    text = "a label with 12.7 mm and " + "averylongword" * 20 + " at 168 + j24 Ω"
    lines = wrap(text, 1.5, 9.0)
    assert all(text_width(line, 9.0) <= 1.5 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_a_name_too_long_for_its_room_is_cut_at_a_hyphen() -> None:
    lines = wrap("nizn-800-below-x8", 1.0, 9.0)
    assert "".join(lines) == "nizn-800-below-x8"
    assert len(lines) > 1
    assert all(line.endswith("-") for line in lines[:-1])


def test_an_unsound_case_is_named_so_and_never_drawn_as_a_plain_line(copy: Path) -> None:
    for path in (copy / "tables").glob("*.csv"):
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"^(none,.*),\w+$", r"\1,unsound", text, flags=re.M), "utf-8")
    summary = json.loads((copy / "summary.json").read_text(encoding="utf-8"))
    for case in summary["cases"]:
        if case["id"] == "none":
            case["evidence"]["grade"] = "unsound"
    (copy / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    for name in ("band", "azimuth_cut", "shield_current"):
        draw_report(copy, name)
        svg = (copy / "figures" / f"{name}.svg").read_text(encoding="utf-8")
        assert "dashed: unsound – do not rely on it: none" in svg
        assert 'id="interval-none"' not in svg
        line = svg.split('id="case-none"')[1].split("</g>")[0]
        dashes = re.search(r"stroke-dasharray: ([\d., ]+)", line)
        assert dashes
        assert dashes[1] not in svg.split('id="case-ideal"')[1].split("</g>")[0]


@pytest.mark.parametrize("name", ["band", "azimuth_cut", "elevation_cut", "shield_current"])
def test_curves_are_told_apart_in_a_grey_print(copy: Path, name: str) -> None:
    draw_report(copy, name)
    svg = (copy / "figures" / f"{name}.svg").read_text(encoding="utf-8")
    named = [p.id for p in load_cases(copy).every if p.emphasised and f'id="case-{p.id}"' in svg]
    dashes = []
    for case in named:
        line = svg.split(f'id="case-{case}"')[1].split("</g>")[0]
        found = re.search(r"stroke-dasharray: ([\d., ]+)", line)
        dashes.append(found[1] if found else "solid")
    assert len(named) >= 3
    assert len(set(dashes)) == len(named)


def test_no_label_is_longer_than_its_room_and_none_holds_a_control_character() -> None:
    assert len(shorten("x" * 500, 40)) == 40
    assert "\u0000" not in plain("a\u0000b")


def test_a_hostile_title_and_label_can_be_drawn(copy: Path) -> None:
    summary = json.loads((copy / "summary.json").read_text(encoding="utf-8"))
    summary["study"]["title"] = "<script>alert(1)</script> $x_{$ & \u0000 " + "long " * 40
    for case in summary["cases"]:
        case["label"] = "<b>$\\alpha^{$</b> " + case["label"]
    (copy / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    for name in FIGURES:
        draw_report(copy, name)
        svg = (copy / "figures" / f"{name}.svg").read_text(encoding="utf-8")
        assert "<script" not in svg


# Refusals


def test_a_figure_that_does_not_exist_is_refused(copy: Path) -> None:
    with pytest.raises(KeyError):
        draw_report(copy, "something")
