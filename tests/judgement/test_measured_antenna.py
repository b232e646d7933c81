"""A measured antenna beside the computed one: its shift, its agreement, and what is said of it."""

from __future__ import annotations

import csv
import json
import pickle
import re
import shutil
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import skrf
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from skrf.media import DefinedGammaZ0

from models.antennas import generators
from pipeline.circuit.line import LinePiece, LineRun, reflection_coefficient, through_line
from pipeline.figures.registry import draw_report
from pipeline.judgement.measured_antenna import (
    Agreement,
    Curve,
    agreement,
    best_match,
    frequency_offset,
    inside_interval,
    measured_curve,
    offset_unsure,
    rms_difference,
)
from pipeline.report.measured_words import (
    headline,
    line_sentence,
    measured_data,
    offset_sentence,
    trim_sentence,
)
from pipeline.study.reader import load_study
from pipeline.study.records import MeasuredAntenna, Study
from pipeline.study.sections.use_and_thresholds import Reflection
from pipeline.text.errors import StudyError
from pipeline.workflow import stages
from tests.harness.small_study import finished, small_study_file
from tests.report.test_summary import SCHEMA

pytestmark = pytest.mark.takes(20)

DESIGN = 145e6


def resonant(f: np.ndarray[Any, Any], centre: float = 145.2e6) -> np.ndarray[Any, Any]:
    """Impedance of a series resonance of 46 ohm with a Q of 14, roughly a pipe antenna's."""
    return np.asarray(46 + 1j * 46 * 14 * (f / centre - centre / f))


def curve(f: np.ndarray[Any, Any], z: np.ndarray[Any, Any], has_angle: bool = True) -> Curve:
    return Curve(f, z, reflection_coefficient(z, 50.0), 50.0, has_angle)


BAND = np.linspace(144e6, 146e6, 9)
SWEEP = np.linspace(135e6, 155e6, 201)
COMPUTED = curve(BAND, resonant(BAND))


def moved(share: float, has_angle: bool = True) -> Curve:
    """The same antenna with all lengths longer by a share (1/f), over a wide sweep."""
    return curve(SWEEP, resonant(SWEEP / (1 + share)), has_angle)


def compared(own: Curve, at: str = "feed", f: float = DESIGN) -> Agreement:
    record = MeasuredAntenna(Reflection("antenna.s1p", tuple(own.f), tuple(own.gamma)), at)
    return agreement(record, (own, COMPUTED), f, 0.05)


# The shift


@pytest.mark.parametrize("share", [-0.02, -0.01, -0.003, 0.006, 0.01])
@pytest.mark.parametrize("has_angle", [True, False], ids=["at the feed", "sizes only"])
def test_a_shift_is_found_within_a_twentieth_of_a_per_cent(share: float, has_angle: bool) -> None:
    found = frequency_offset(moved(share, has_angle), COMPUTED)
    assert found == pytest.approx(share, abs=5e-4)


def test_a_shift_is_found_under_an_analysers_noise() -> None:
    own, random = moved(-0.01), np.random.default_rng(1)
    noise = 0.005 * (random.standard_normal(201) + 1j * random.standard_normal(201))
    found = frequency_offset(Curve(own.f, own.z, own.gamma + noise, 50.0), COMPUTED)
    assert found == pytest.approx(-0.01, abs=5e-4)


def test_the_match_moves_by_the_shift() -> None:
    assert best_match(moved(-0.006)) == pytest.approx((1 - 0.006) * 145.2e6, rel=2e-4)
    assert best_match(COMPUTED) == pytest.approx(145.2e6, rel=2e-4)


def test_a_match_at_the_end_of_a_sweep_is_none() -> None:
    assert best_match(curve(BAND, resonant(BAND, 150e6))) is None


def test_an_antenna_that_is_quite_another_one_has_no_small_shift() -> None:
    own = curve(SWEEP, 2000 + 0 * SWEEP - 1j * 300 * SWEEP / 145e6)
    found = compared(own)
    assert found.offset is None
    assert "does not look like" in headline(found)


def test_less_than_half_the_band_in_common_is_not_compared() -> None:
    f = BAND[:4]
    assert rms_difference(curve(f, resonant(f)), COMPUTED) == np.inf


# Agreement


def test_the_interval_holds_what_differs_by_less_and_not_what_differs_by_more() -> None:
    inside = curve(BAND, 1.04 * COMPUTED.z)
    outside = curve(BAND, 1.06 * COMPUTED.z)
    assert inside_interval(inside, COMPUTED, 0.05) == (9, 9)
    assert inside_interval(outside, COMPUTED, 0.05) == (0, 9)


def test_frequencies_that_were_not_measured_are_not_counted() -> None:
    f = BAND[2:7]
    assert inside_interval(curve(f, resonant(f)), COMPUTED, 0.05) == (5, 5)


def test_where_the_angle_is_not_known_the_swr_is_judged() -> None:
    turned = Curve(BAND, COMPUTED.z, COMPUTED.gamma * np.exp(1j), 50.0, has_angle=False)
    assert inside_interval(turned, COMPUTED, 0.05) == (9, 9)
    assert rms_difference(turned, COMPUTED) == pytest.approx(0.0, abs=1e-12)


def test_a_shift_taken_out_brings_the_measurement_into_the_interval() -> None:
    found = compared(moved(-0.006))
    assert found.rms > 0.05 > 1e-3 > (found.rms_shifted or 0)
    assert found.inside[0] < 9
    assert found.inside_shifted == (9, 9)


def test_the_shift_that_cannot_be_told_is_the_interval_over_the_slope() -> None:
    """|dZ/df| f of a series resonance is 2 Q R at its centre, by hand: 0.05 / (2 Q)."""
    assert offset_unsure(COMPUTED, 145.2e6, 0.05) == pytest.approx(0.05 / 28, rel=1e-3)


# Through the line


CLASS = load_study(Path(__file__).parents[1] / "studies" / "good" / "small.yaml").cable.type
RUN = LineRun((LinePiece(CLASS, 2.5), LinePiece(CLASS, 7.5)), 0.1)


def test_a_measurement_at_the_radio_comes_back_to_the_feed() -> None:
    z_radio, _ = through_line(RUN, BAND, COMPUTED.z)
    gamma = reflection_coefficient(z_radio, 50.0)
    record = MeasuredAntenna(Reflection("radio.s1p", tuple(BAND), tuple(gamma)), "radio")
    found = measured_curve(record, RUN)
    assert found.z == pytest.approx(COMPUTED.z, rel=1e-9)
    assert not found.has_angle


def test_a_lossless_line_turns_a_reflection_and_leaves_its_size() -> None:
    """A line by the library alone, with half a metre of vacuum: sizes must stay."""
    band = skrf.Frequency.from_f(BAND, unit="hz")
    air = DefinedGammaZ0(band, z0=50, gamma=2j * np.pi * BAND / 299_792_458.0)
    network = skrf.Network(frequency=band, s=COMPUTED.gamma.reshape(-1, 1, 1), z0=50)
    seen = (air.line(0.5, "m") ** network).s[:, 0, 0]
    turned = Curve(BAND, COMPUTED.z, seen, 50.0, has_angle=False)
    # Between the nine points both are interpolated, each with its own angle.
    assert rms_difference(turned, COMPUTED) < 1e-6


def test_what_the_line_costs_in_certainty_is_said() -> None:
    found = compared(moved(-0.006, has_angle=False), "radio")
    said = line_sentence(found, RUN, DESIGN)
    loss = 10.0 * float(CLASS.k1 * DESIGN**0.5 + CLASS.k2 * DESIGN)
    assert f"10.0 m of line with {loss:.2f} dB" in said
    assert f"becomes {0.01 * 10 ** (loss / 10):.3f}" in said
    # A hundredth of the length, there and back.
    waves = 10.0 * DESIGN / (299_792_458.0 * CLASS.velocity_factor)
    assert f"turns its angle by {2 * 3.6 * waves:.0f} degrees" in said
    assert line_sentence(compared(moved(-0.006)), RUN, DESIGN) == ""


# What to trim


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study(Path(__file__).parents[1] / "studies" / "good" / "small.yaml")


def trim(own: Curve, study: Study) -> str:
    found = compared(own, f=study.frequency)
    return trim_sentence(found, study, generators()[study.antenna.type])


def test_a_low_match_means_lengths_that_are_too_long_by_that_share(study: Study) -> None:
    said = trim(moved(-0.014), study)
    low = abs(100 * (0.986 * 145.2e6 / study.frequency - 1))
    where = f"{low:.1f} % below the design frequency"
    assert f"{where}: the lengths that set it act {low:.1f} % too long" in said
    assert said.index("short leg:") < said.index("tap:") < said.index("long leg:")
    assert said.endswith("braidwise tune gives the millimetres.")


def test_a_good_match_is_left_alone(study: Study) -> None:
    assert trim(moved(0.0), study).startswith("Nothing to trim: the SWR is 1.09")


def test_a_sweep_that_misses_the_match_asks_for_a_wider_one(study: Study) -> None:
    assert "sweep wider before anything is cut" in trim(curve(BAND, resonant(BAND, 149e6)), study)


def test_a_match_of_another_resistance_is_told_from_one_at_another_frequency(study: Study) -> None:
    own = curve(SWEEP, 2 * resonant(SWEEP, study.frequency))
    assert "the resistance that is off" in trim(own, study)


def test_the_headline_says_where_the_best_match_lies() -> None:
    low, high = headline(compared(moved(-0.006))), headline(compared(moved(0.012)))
    assert low.endswith("at 144.33 MHz, 0.6 % below the computed 145.20 MHz")
    assert high.endswith("at 146.94 MHz, 1.2 % above the computed 145.20 MHz")
    assert headline(compared(COMPUTED)).endswith("at 145.20 MHz, where it was computed")


def test_every_curve_gives_data_of_the_published_layout(study: Study) -> None:
    schema = {**SCHEMA["properties"]["measured"], "$defs": SCHEMA["$defs"]}
    generator = generators()[study.antenna.type]
    short = curve(BAND[:4], resonant(BAND[:4]))
    for own in (moved(-0.01), COMPUTED, short, curve(SWEEP, 2000 - 3j * SWEEP / 1e6)):
        data = measured_data(compared(own), study, generator, RUN)
        jsonschema.validate(data, schema)


# A whole study


@pytest.fixture(scope="module")
def solved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with a study, its solves and its results without a measurement."""
    folder = tmp_path_factory.mktemp("measured") / "plain"
    shutil.copytree(finished(), folder)
    for place in ("feed", "radio"):
        shutil.copy(folder / "small" / "touchstone" / f"none_{place}.s1p", folder)
    return folder


def with_measurement(folder: Path, **measured: object) -> tuple[dict[str, Any], Path]:
    data = yaml.safe_load((folder / "small.yaml").read_text(encoding="utf-8"))
    path = folder / "again.yaml"
    path.write_text(yaml.safe_dump({**data, "measured": measured}), encoding="utf-8")
    results = folder / "again"
    stages.answer(path, folder / "cache", results, 1)
    summary = json.loads((results / "summary.json").read_text(encoding="utf-8"))
    jsonschema.validate(summary, SCHEMA)
    return summary["measured"], results


@pytest.mark.parametrize("at", ["feed", "radio"])
def test_a_studys_own_export_read_back_has_no_shift_and_agrees_wholly(
    solved: Path, at: str
) -> None:
    found, _ = with_measurement(solved, antenna=f"none_{at}.s1p", at=at)
    assert found["offset"] == pytest.approx(0.0, abs=1e-6)
    assert found["rms"] == pytest.approx(0.0, abs=1e-9)
    lines = (solved / f"none_{at}.s1p").read_text(encoding="utf-8").splitlines()
    points = sum(line[:1] not in "!#" for line in lines)
    assert points >= 3
    assert found["inside"] == [points, points]
    assert found["headline"].endswith("where it was computed")


def test_the_table_and_the_figure_hold_both_curves(solved: Path) -> None:
    _, results = with_measurement(solved, antenna="none_feed.s1p", at="feed", case="ideal")
    with (results / "tables" / "measured_antenna.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["curve"] for row in rows} >= {"computed", "measured"}
    assert all(row["r_ohm_low"] for row in rows if row["curve"] == "computed")
    draw_report(results, "measured")
    svg = (results / "figures" / "measured.svg").read_text(encoding="utf-8")
    assert 'id="curve-computed"' in svg
    assert 'id="curve-measured"' in svg
    assert (results / "figures" / "measured.png").exists()


def test_a_study_without_a_measurement_has_neither_table_nor_figure(solved: Path) -> None:
    draw_report(solved / "small", "measured")
    assert not (solved / "small" / "tables" / "measured_antenna.csv").exists()
    assert not (solved / "small" / "figures" / "measured.svg").exists()


@given(st.floats(-0.03, 0.03), st.floats(0.97, 1.03))
@settings(max_examples=20, deadline=None)
def test_no_share_is_told_that_its_two_frequencies_do_not_make(share: float, narrow: float) -> None:
    # Moved and of another bandwidth: the whole curve's shift is not that of its best match.
    own = curve(SWEEP, 46 + narrow * 1j * resonant(SWEEP / (1 + share)).imag)
    found = compared(own)
    said = headline(found)
    places = [float(x) for x in re.findall(r"([\d.]+) MHz", said)]
    told = re.search(r"([\d.]+) % (below|above)", said)
    if told is not None:
        assert len(places) == 2
        assert (places[0] < places[1]) == (told[2] == "below")
        assert float(told[1]) == pytest.approx(100 * abs(places[0] / places[1] - 1), abs=0.06)
    # The other number is said to be another thing.
    assert offset_sentence(found).startswith("Over the whole band")


# Refusals

SECOND = (
    "[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] 1\n[Number of Frequencies] 3\n"
    "[Reference] 50\n[Network Data]\n144 0.1 0.2\n145 0.1 0.1\n146 0.2 0.1\n[End]\n"
)
GOOD = "# MHz S RI R 50\n144 0.1 0.2\n145 0.1 0.1\n146 0.2 0.1\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace("145 0.1 0.1", "145 0.1"), "has 2 numbers in line 3; one port makes 3"),
        (GOOD.replace("145 0.1", "145 o.1"), "does not hold numbers only in line 3"),
        (GOOD.replace("145 0.1", "145 nan"), "holds a value that is no finite number"),
        (GOOD.replace("145 ", "147 "), "frequencies that do not rise at 146 MHz"),
        (GOOD.replace("145 0.1", "145 1.4"), "1.40 of a wave comes back at 145 MHz"),
        (GOOD.split("\n", 1)[1], "has numbers in line 1 before a line that begins with #"),
        (GOOD.replace("MHz", "XHz"), 'has "xhz" in line 1, which is no option'),
        ("[Version]\n" + GOOD, 'has "" in line 1, and one of 2.0, 2.1'),
        (SECOND.replace("[Number of Ports] 1", "[Number of Ports] 0"), "holds 0 ports, by line 3"),
        ("! only a remark\n", "has no line that begins with #"),
        ("# MHz S RI R 50\n", "fewer than two frequencies"),
        ("# MHz S RI R 50\n144 0 0\n", "fewer than two frequencies"),
        ("", "is empty"),
        (
            GOOD.replace("144", "14.4").replace("146", "1460"),
            "has 1 of its frequencies within the band",
        ),
    ],
)
def test_a_damaged_measurement_is_refused_with_its_line_and_a_remedy(
    tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "antenna.s1p").write_text(text, encoding="utf-8")
    path = small_study_file(tmp_path, measured={"antenna": "antenna.s1p", "at": "feed"})
    with pytest.raises(StudyError) as caught:
        load_study(path)
    (found,) = caught.value.faults
    assert "measured.antenna" in found.place
    assert "small.yaml:" in found.place
    assert said in found.rule
    assert found.remedy


def test_a_pickle_that_is_named_like_a_measurement_is_not_opened_as_one(tmp_path: Path) -> None:
    """The library's own way to open a file would run what a pickle asks for."""
    ran = tmp_path / "ran"
    text = f"cbuiltins\nexec\n(Vopen({str(ran)!r}, 'w').close()\ntR."
    pickle.loads(text.encode())
    assert ran.exists()
    ran.unlink()
    (tmp_path / "antenna.s1p").write_text(text, encoding="utf-8")
    path = small_study_file(tmp_path, measured={"antenna": "antenna.s1p", "at": "feed"})
    with pytest.raises(StudyError, match="touchstone-form"):
        load_study(path)
    assert not ran.exists()


@pytest.mark.parametrize(
    ("change", "tag"),
    [
        ({"antenna": "none.s1p"}, "file-missing"),
        ({"antenna": "antenna.csv"}, "touchstone-name"),
        ({"antenna": "../antenna.s1p"}, "file-outside"),
        ({"at": "shack"}, "choice-unknown"),
        ({"case": "cor"}, "measured-case"),
        ({"pwer": "1 mW"}, "key-unknown"),
    ],
)
def test_a_wrong_section_is_refused(tmp_path: Path, change: dict[str, str], tag: str) -> None:
    (tmp_path / "antenna.s1p").write_text(GOOD, encoding="utf-8")
    section = {"antenna": "antenna.s1p", "at": "feed", **change}
    with pytest.raises(StudyError) as caught:
        load_study(small_study_file(tmp_path, measured=section))
    (found,) = caught.value.faults
    assert "measured" in found.place
    assert found.tag == tag
    assert found.remedy


def test_two_ports_are_no_antenna(tmp_path: Path) -> None:
    text = "# MHz S RI R 50\n" + "".join(f"{f} 0 0 1 0 1 0 0 0\n" for f in (144, 145, 146))
    (tmp_path / "antenna.s2p").write_text(text, encoding="utf-8")
    section = {"antenna": "antenna.s2p", "at": "feed"}
    with pytest.raises(StudyError, match="measured-ports"):
        load_study(small_study_file(tmp_path, measured=section))
