"""What is said of chokes whose make is unknown: sentences, causes, page and command."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from pipeline.analysis.many_cases import many, nominal_ends, termination_rows
from pipeline.answer.unknown_words import range_words
from pipeline.commands import cli
from pipeline.figures.spread import Found, share_rows, shares
from pipeline.figures.style import style
from pipeline.montecarlo.draws import unknowns_of
from pipeline.montecarlo.sensitivity import Share
from pipeline.montecarlo.spread_verdict import judge, make_of
from pipeline.report.spread_page import coil_words
from pipeline.report.spread_words import (
    assumed,
    made_sentences,
    measure_first,
)
from pipeline.solver.cases import NONE
from tests.harness.made_spreads import COIL, CORE, KNOWN, SLEEVE, judgement, read, wound
from tests.harness.small_study import small_study_file, study

# Figure


def test_bars_of_the_figure_are_the_shares_without_and_with_the_choke():
    given = replace(judgement(), chosen="wound")
    with style():
        page = shares.draw(Found(wound("drawn"), given, {}, {"shares": "what makes the spread"}))
    (ax,) = (axes for axes in page.figure.axes if axes.patches)
    width = {round(bar.get_y() + 0.15, 2): bar.get_width() for bar in ax.patches}
    rows = share_rows(given)
    for k, row in enumerate(rows):
        assert width[round(k - 0.17, 2)] == pytest.approx(100 * row.bare)
        if row.chosen is not None:
            assert width[round(k + 0.17, 2)] == pytest.approx(100 * row.chosen)
    assert any(row.chosen not in (None, row.bare) for row in rows)


# Words


def test_every_choke_whose_make_is_unknown_has_a_sentence_and_causes_of_its_own():
    spread = wound("drawn")
    made = [x.id for x in spread.cases if make_of(spread, x)]
    assert made == ["wound", "sleeve"]
    assert set(made) <= set(judgement().causes)
    said = made_sentences(spread, judgement())
    assert len(said) == 2


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"turns": True}, "Measure the sleeve before it is relied on."),
        ({"turns": False}, "of its spread and decides nothing."),
        (
            {"turns": False, "share": Share(0.01, 0.08)},
            "the length of the sleeve (1: as stated) makes no difference that stands out.",
        ),
    ],
)
def test_what_its_make_does_to_a_choke_decides_something_or_shows_or_neither(changes, expected):
    given = judgement()
    (cause,) = given.causes["sleeve"]
    causes = given.causes | {"sleeve": (replace(cause, **changes),)}
    _, said = made_sentences(wound("drawn"), replace(given, causes=causes))
    assert said.startswith("Shorted sleeve of 28x1 mm pipe, starting 0.30 m from the antenna: ")
    assert said.endswith(expected)


def test_what_the_study_has_no_part_for_is_not_said_to_be_assumed(tmp_path):
    spread = wound("known")
    bare = read(tmp_path, {}, CORE)
    told = assumed(replace(spread, study=bare, unknowns=unknowns_of(bare)))
    assert any(x.startswith("unknowns.ferrite: ") for x in told)
    assert any(x.startswith("unknowns.station: ") for x in told)
    assert not any(x.startswith(("unknowns.sleeve", "unknowns.coil_pitch")) for x in told)


def test_a_coils_pitch_is_no_part_of_what_the_cable_does_without_a_choke():
    said = measure_first(wound("drawn"), judgement())
    assert "changes the drawing" not in said


def test_a_geometry_with_a_coil_has_no_ideal_choke_of_its_own_to_be_compared_with():
    (coil,) = wound("known").nominal.coils.values()
    ends = termination_rows(coil.structure, wound("known").study, nominal_ends(study()))
    with pytest.raises(ValueError, match="no ideal choke"):
        many(coil, ends, np.zeros((1, 1)))


def test_the_sleeve_is_its_length_and_nothing_else_where_all_else_is_known():
    spread = wound("known")
    found = judge(spread)
    (cause,) = (x for x in found.causes["sleeve"] if x.name == "sleeve")
    assert cause.share.value > 0.8
    assert found.causes[NONE] == ()


def test_how_a_choke_is_made_is_no_cause_of_what_the_cable_does_without_it():
    # With eight geometries chance alone shows an unknown to make a fifth of anything.
    for name, made in (("wound", {"coil_pitch"}), ("sleeve", {"sleeve"}), (NONE, set())):
        assert {x.name for x in judgement().causes[name]} == made


def test_a_part_of_a_narrow_range_is_told_with_the_digits_that_tell_its_ends_apart():
    (unknown,) = (u for u in wound("known").unknowns if u.name == "sleeve")
    assert range_words(unknown, (0.0, 0.125)) == "0.970 to 0.978"
    assert range_words(unknown, (0.0, 1.0)) == "0.97 to 1.03"


def test_the_page_says_how_symmetric_the_coils_geometries_are():
    spread = wound("drawn")
    assert all(0 < d.coil_asymmetry < 0.1 for d in spread.drawn)
    assert "where a coil is drawn as wire" in coil_words(spread, judgement())
    bare = replace(spread, drawn=tuple(replace(d, coils={}) for d in spread.drawn))
    assert coil_words(bare, judgement()) == ""


def test_the_command_compares_a_drawn_coil_and_lists_its_pitch(tmp_path, capsys):
    unknowns = KNOWN | {"geometries": 8, "draws": 16, "coil_pitch": {"from": 1.0, "to": 1.5}}
    path = small_study_file(tmp_path, unknowns=unknowns, chokes=[COIL, SLEEVE])
    assert cli.main(["spread", str(path), "--results", str(tmp_path / "out"), "--cores", "2"]) == 0
    folder = tmp_path / "out" / "small" / "spread"
    data = json.loads((folder / "spread.json").read_text(encoding="utf-8"))
    assert {row["case"] for row in data["candidates"]} == {"none", "ideal", "wound", "sleeve"}
    assert [u["name"] for u in data["unknowns"]] == ["coil_pitch"]
    assert 0 < data["worst_coil_asymmetry"] < 0.1
    page = (folder / "spread.html").read_text(encoding="utf-8")
    assert "the coil&#39;s pitch (1: as stated)" in page
    assert "the coil's pitch" in capsys.readouterr().out


# Shares of a spread


@pytest.mark.parametrize(
    ("value", "noise"), [(0.13, 0.22), (0.101, 0.3), (0.09, 0.2), (0.3, 0.1), (0.05, 0.01)]
)
def test_no_bar_is_longer_than_the_words_above_it_allow(value: float, noise: float) -> None:
    spread, found = wound("drawn"), judgement()
    causes = {k: [replace(c, share=Share(0.02, 0.05)) for c in v] for k, v in found.causes.items()}
    a_cause = next(iter(judgement().causes["wound"]))
    causes[NONE] = [*causes[NONE], replace(a_cause, share=Share(value, noise))]
    made = replace(found, causes=causes)
    said = measure_first(spread, made)
    longest = max(row.bare for row in share_rows(made) if not row.together)
    if "none alone makes a tenth" in said:
        assert longest < 0.1
    elif "may be chance" in said:
        assert f"{100 * longest:.0f} %" in said
        assert longest <= noise
    else:
        assert f"{100 * longest:.0f} %" in said
        assert longest > noise
