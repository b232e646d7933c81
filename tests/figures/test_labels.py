"""Words and labels against the numbers that they are made from, on made-up cases and curves."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.figures.chokes import _count_title
from pipeline.figures.data import Cases, Table
from pipeline.figures.feed_line import _shield_title, _span
from pipeline.figures.patterns import _lobe_title
from pipeline.judgement.measured_antenna import measured_rows
from pipeline.text.formatting import percent
from tests.judgement.test_measured_antenna import BAND, COMPUTED, compared, moved

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
        row |= {"case": name, "label": f"label of {name}", "kind": "ferrite"}
        row["standing"] = draw(st.sampled_from(["enough", "helps in 30 of 100"]))
        row["grade"] = draw(st.sampled_from(["sound", "usable", "unsound"]))
        rows.append(row)
    chosen = draw(st.sampled_from([n for n in names if n not in ("ideal", "no-feedline")]))
    candidates = [
        {"id": n, "enough": draw(st.floats(0.0, 1.0)), "score": {"high": draw(st.floats(0, 9))}}
        for n in names
        if n != "no-feedline"
    ]
    summary = {
        "answer": {"chosen": chosen, "candidates": candidates},
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
        if case.emphasised and case.id not in (*FIXED, made.chosen):
            assert case.name.split(":")[0] == case.id
    said = [note.text for note in made.notes()]
    assert not any(re.match(r"(closest|furthest|worst)", text) for text in said)


@given(cases())
def test_the_title_of_a_figure_ranks_by_the_figures_own_numbers(made: Cases) -> None:
    rows = curves(made, "current_ratio", "shield_current_ratio_max")
    title = _shield_title(rows, made)
    others = [p for p in made.every if p.id not in (*FIXED, made.chosen) and p.grade != "unsound"]
    assert percent(made.value("none", "shield_current_ratio_max")) in title
    if others:
        top = max(made.value(p.id, "shield_current_ratio_max") for p in others)
        named = re.search(r" with (c\d)", title)
        assert named is not None
        assert made.value(named[1], "shield_current_ratio_max") == top
        assert f"{percent(top)} with {named[1]}" in title
    assert ("the most of all" in title) == (len(others) > 1)


@given(cases())
def test_the_chosen_case_is_named_so_and_no_choke_never_is(made: Cases) -> None:
    assert made.of("none").name.split(":")[0] == "no choke"
    if made.chosen != "none":
        assert made.of(made.chosen).name.split(":")[0] == "chosen"
    assert not any("recommended" in case.name for case in made.every)


@given(cases())
def test_a_case_that_is_named_says_how_it_stands(made: Cases) -> None:
    notes = [note.text for note in made.notes()]
    for case in made.every:
        if case.emphasised and case.is_candidate:
            standing = str(made.table.select(case=case.id).text("standing")[0])
            assert any(f"label of {case.id}" in n and n.endswith(standing) for n in notes)


@given(cases())
def test_the_title_of_the_lobes_says_those_of_its_table_and_of_no_other_case(made: Cases) -> None:
    title = _lobe_title(made, curves(made, "gain_dbi", "peak_gain_dbi"))
    told = {"without a choke": "none", "with the chosen one": made.chosen, "an ideal one": "ideal"}
    for words, case in told.items():
        most = made.value(case, "peak_gain_dbi")
        assert (words in title) == (words != "with the chosen one" or case != "none")
        if words in title:
            assert re.search(rf"{most:.1f} dBi at 10° (with )?{words}", title)
    assert not any(case.id in title for case in made.every if case.is_candidate)


# A measured antenna


@pytest.mark.parametrize("share", [-0.04, -0.0166, 0.0, 0.02, 0.05])
def test_the_best_match_of_every_curve_lies_inside_the_plot(share: float) -> None:
    own = moved(share)
    rows = measured_rows(compared(own), (own, COMPUTED), [{}] * len(BAND))
    low, high = _span(table(rows))
    assert low < (1 + share) * 145.2 < high
    assert low <= 144.0
    assert high >= 146.0


@pytest.mark.parametrize(
    ("ratios", "chosen", "said"),
    [
        ((0.2, 0.08), 0, "20 % reaches the radio without a core, 8.0 % with one (mix 43)"),
        (
            (0.2, 0.08, 0.02, 0.01),
            0,
            "20 % reaches the radio without a core, 8.0 % with one, 1.0 % with three (mix 43)",
        ),
        (
            (0.2, 0.08, 0.02, 0.01),
            2,
            "20 % reaches the radio without a core, 8.0 % with one, 2.0 % with two, 1.0 % with "
            "three (mix 43)",
        ),
    ],
)
def test_the_title_of_the_counts_says_none_one_the_chosen_and_most(
    ratios: tuple[float, ...], chosen: int, said: str
) -> None:
    made = [
        {"count": n, "station_current_ratio": r, "label": "mix 43"} for n, r in enumerate(ratios)
    ]
    assert _count_title(table(made), chosen) == said
