"""Words and labels against the numbers that they are made from, on made-up cases and curves."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.analysis.figures_of_merit import scored
from pipeline.figures.chokes import _count_title
from pipeline.figures.data import Cases, Table
from pipeline.figures.line import _shield_title, _span
from pipeline.figures.patterns import _lobe_title
from pipeline.judgement.case_merit import CaseMerit
from pipeline.judgement.measured import measured_rows
from pipeline.judgement.verdict import WORSE_FACTOR, effect
from pipeline.report.measured_words import headline, offset_sentence
from pipeline.study.records import USUAL
from pipeline.text.formatting import percent
from tests.harness.made_cases import bare, made_case
from tests.judgement.test_measured import BAND, COMPUTED, SWEEP, compared, curve, moved, resonant

RANKS = re.compile(r"closest|furthest|worst|best|least|most", re.IGNORECASE)
FIXED = ("none", "ideal", "no-feedline")
THRESHOLDS = {"pattern_rms_db": 0.5, "mean_gain_db": 0.5, "swr_step": 0.2, "station_ratio": 0.05}
NUMBERS = (
    "pattern_change_rms_db", "horizon_gain_mean_dbi", "swr_feed", "station_current_ratio",
    "shield_current_ratio_max", "peak_gain_dbi",
)  # fmt: skip


def table(rows: list[dict[str, Any]]) -> Table:
    return Table({n: np.array([str(r[n]) for r in rows], dtype=np.str_) for n in rows[0]})


@st.composite
def cases(draw: st.DrawFn) -> Cases:
    """Up to six candidates whose numbers have nothing to do with each other."""
    names = [*FIXED, *(f"c{k}" for k in range(draw(st.integers(0, 6))))]
    rows = []
    for name in names:
        row: dict[str, Any] = {n: draw(st.floats(0.0, 4.0)) for n in NUMBERS}
        row |= {"case": name, "label": f"label of {name}", "effect": "helps", "kind": "ferrite"}
        row["grade"] = draw(st.sampled_from(["sound", "usable", "unsound"]))
        rows.append(row)
    chosen = draw(st.sampled_from([n for n in names if n not in ("ideal", "no-feedline")]))
    summary = {
        "verdict": {"recommended_case": chosen},
        "conventions": {"thresholds": THRESHOLDS},
    }
    return Cases(Path(), summary, table(rows))


def curves(made: Cases, column: str, value: str) -> Table:
    """A table of one quantity over two places, its largest that of the comparison."""
    return table(
        [
            {"case": c, column: share * made.value(c, value), "elevation_deg": angle}
            for c in made.table.text("case").tolist()
            if c != "no-feedline"
            for share, angle in ((1.0, 10.0), (0.5, 30.0))
        ]
    )


# Names beside curves


@given(cases())
def test_a_curve_is_named_by_what_it_is_and_by_no_rank(made: Cases) -> None:
    for case in made.every:
        assert not RANKS.search(case.name.split(":")[0])
        if case.emphasised and case.id not in (*FIXED, made.recommended):
            assert case.name.split(":")[0] == case.id
    said = [note.text for note in made.notes()]
    assert not any(re.match(r"(closest|furthest|worst)", text) for text in said)


@given(cases())
def test_the_title_of_a_figure_ranks_by_the_figures_own_numbers(made: Cases) -> None:
    rows = curves(made, "current_ratio", "shield_current_ratio_max")
    title = _shield_title(rows, made)
    others = [
        p for p in made.every if p.id not in (*FIXED, made.recommended) and p.grade != "unsound"
    ]
    assert percent(made.value("none", "shield_current_ratio_max")) in title
    if others:
        top = max(made.value(p.id, "shield_current_ratio_max") for p in others)
        named = re.search(r" with (c\d)", title)
        assert named is not None
        assert made.value(named[1], "shield_current_ratio_max") == top
        assert f"{percent(top)} with {named[1]}" in title
    assert ("the most of all" in title) == (len(others) > 1)


@given(cases(), st.sampled_from(["harmless", "noticeable", "strong"]))
def test_going_without_is_called_recommended_only_where_the_cable_is_harmless(
    made: Cases, effect_none: str
) -> None:
    cells = dict(made.table.columns)
    cells["effect"] = np.where(cells["case"] == "none", effect_none, cells["effect"])
    made = replace(made, table=Table(cells))
    name = made.of("none").name.split(":")[0]
    chosen = made.recommended == "none" and effect_none == "harmless"
    assert name == ("no choke (recommended)" if chosen else "no choke")


@given(cases())
def test_the_lobe_that_is_said_to_be_furthest_from_the_ideal_is(made: Cases) -> None:
    title = _lobe_title(made, curves(made, "gain_dbi", "peak_gain_dbi"))
    named = re.search(r"with (c\d), furthest", title)
    apart = {
        p.id: abs(made.value(p.id, "peak_gain_dbi") - made.value("ideal", "peak_gain_dbi"))
        for p in made.every
        if p.id not in (*FIXED, made.recommended) and p.grade != "unsound"
    }
    if named:
        assert apart[named[1]] == max(apart.values())
    assert (named is not None) == (len(apart) > 1)


# What a case is called


def a_case(values: tuple[float, ...], name: str = "c") -> CaseMerit:
    pattern, gain, swr, station, shield = values
    changes = {
        "pattern_rms_db": pattern, "mean_gain_change_db": gain, "swr_change": swr,
        "station_ratio": station, "shield_ratio": shield,
    }  # fmt: skip
    return bare(0.0, **changes) if name == "none" else made_case(name, 0.0, **changes)


a_case_s = st.tuples(
    st.floats(0, 3), st.floats(-3, 3), st.floats(-1, 1), st.floats(0, 0.5), st.floats(0, 1)
)


def over(case: CaseMerit) -> list[float]:
    return [
        abs(case.change(f.name)) / getattr(case.merit.limits, f.threshold) for f in scored(USUAL)
    ]


@given(a_case_s, a_case_s)
def test_what_is_called_as_good_as_none_is_worse_in_nothing(
    own: tuple[float, ...], none: tuple[float, ...]
) -> None:
    case, without = a_case(own), a_case(none, "none")
    said = effect(case, without)
    pairs = list(zip(over(without), over(case), strict=True))
    if said in ("as good as none", "helps"):
        assert all(a <= 1 or a <= WORSE_FACTOR * b for b, a in pairs)
        assert case["shield_ratio"] <= WORSE_FACTOR * without["shield_ratio"]
    if said == "as good as ideal":
        assert case.score <= 1
    if said == "as good as none":
        assert case.score == pytest.approx(without.score, rel=WORSE_FACTOR - 1 + 0.01)
        assert all(b <= 1 or a >= b / WORSE_FACTOR for b, a in pairs)


def test_a_coil_that_brings_more_of_everything_but_one_is_not_as_good_as_none() -> None:
    # On a railing: pattern 2.0 for 1.5 dB, SWR 2.3 for 1.6, cable 84 for 34 %; radio alike.
    without = a_case((1.5, 0.2, 0.3, 0.4, 0.34), "none")
    assert effect(a_case((2.0, 0.2, 1.0, 0.4, 0.84)), without) == "worse than none"


# A measured antenna


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


@pytest.mark.parametrize("share", [-0.04, -0.0166, 0.0, 0.02, 0.05])
def test_the_best_match_of_every_curve_lies_inside_the_plot(share: float) -> None:
    own = moved(share)
    rows = measured_rows(compared(own), (own, COMPUTED), [{}] * len(BAND))
    low, high = _span(table(rows))
    assert low < (1 + share) * 145.2 < high
    assert low <= 144.0
    assert high >= 146.0


@pytest.mark.parametrize(("counts", "said"), [((0, 1), "One core"), ((0, 2), "Two cores")])
def test_one_core_takes_and_two_cores_take(counts: tuple[int, int], said: str) -> None:
    ratios = (0.2, 0.08)
    made = [
        {"count": n, "station_current_ratio": r, "label": "mix 43"}
        for n, r in zip(counts, ratios, strict=True)
    ]
    verb = "takes" if counts[-1] == 1 else "take"
    assert f"{said} (mix 43) {verb} the current" in _count_title(table(made))
