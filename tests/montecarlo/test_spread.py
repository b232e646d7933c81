"""Does the answer hold: published sensitivities, draws against the comparison and the solver."""

from __future__ import annotations

import itertools
import json
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pipeline.analysis.case_results import at_centre, evaluate
from pipeline.analysis.metrics import gain_at_elevation
from pipeline.commands import cli
from pipeline.commands.spread import WORK
from pipeline.montecarlo.direct_solves import COMPARED, recheck
from pipeline.montecarlo.sensitivity import (
    Band,
    Share,
)
from pipeline.montecarlo.spread import Spread, run
from pipeline.montecarlo.spread_solve import candidates, draw_and_solve, low_directions, settled
from pipeline.montecarlo.spread_verdict import (
    CLASSES,
    SURE,
    Candidate,
    Chance,
    Judgement,
    choose,
    classes,
    judge,
)
from pipeline.report.spread_words import bare_sentence, headline, measure_first, rate, sentences
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case
from pipeline.study.reader import load_study
from pipeline.text.errors import StudyError
from tests.harness.small_study import choke, small_study_file, solved, study

# Eight geometries of the small study, a second and a half each, and what they share.
UNKNOWNS = {"geometries": 8, "draws": 64, "seed": 4, "route": "0.1 m", "station": {
    "resistance": {"from": "0.5 ohm", "to": "1 kohm", "scale": "log"},
    "reactance": {"from": "1 ohm", "to": "1 kohm", "scale": "log"}, "floating": 0.2}}  # fmt: skip


@cache
def small_spread() -> Spread:
    with tempfile.TemporaryDirectory() as folder:
        return run(load_study(small_study_file(Path(folder), unknowns=UNKNOWNS)), 2)


@cache
def judgement() -> Judgement:
    return judge(small_spread())


# Draws


def test_a_study_as_stated_is_the_comparison_at_its_centre():
    for case in small_spread().cases:
        direct = evaluate(at_centre(solved()[CABLE]), settled(study()), case)
        found = small_spread().stated[case.id]
        theta = solved()[CABLE].basis.directions.theta
        mean = gain_at_elevation(direct.gain, theta, 0.0).mean
        assert found["swr"][0] == pytest.approx(direct.swr_feed[0], rel=1e-6)
        assert found["station_ratio"][0] == pytest.approx(abs(direct.station_ratio[0]), rel=1e-6)
        assert found["mean_gain_dbi"][0] == pytest.approx(mean, abs=1e-6)


def test_four_draws_are_what_the_solver_finds_with_its_own_load_cards():
    # LD of the NEC-2 user's guide (Burke and Poggio, 1981); every draw is solved anew.
    for found in recheck(small_spread(), "core-x2", 4, 9):
        assert max(found.difference(name) for name in COMPARED) < 1e-6


def test_every_draw_is_one_row_of_every_case():
    spread = small_spread()
    assert spread.shape == (8, 64)
    assert set(spread.found) == {c.id for c in candidates(spread.study)}
    assert {len(o) for o in spread.found.values()} == {8 * 64}
    assert not spread.left_out


def test_geometries_differ_by_what_is_unknown():
    lengths = [d.study.cable.route[1].length for d in small_spread().drawn]
    assert len(set(lengths)) == 8
    assert max(abs(x - 1.5) for x in lengths) <= 0.1
    assert len({d.study.site.height for d in small_spread().drawn}) == 8


def test_what_is_known_is_solved_once(tmp_path):
    known = dict.fromkeys(["route", "height", "lead", "antenna", "jacket", "coil_pitch"], "known")
    path = small_study_file(tmp_path, unknowns={"draws": 32} | known)
    spread = run(load_study(path), 1)
    assert spread.shape == (1, 32)
    assert spread.u_geometric.shape == (1, 0)
    said = " ".join(itertools.chain(*sentences(spread, judge(spread)).values()))
    assert "one geometry was solved" in said
    assert "changes the drawing (" not in said


def test_a_draw_that_was_solved_before_a_run_was_stopped_is_read_as_it_was(tmp_path, monkeypatch):
    one = settled(study())
    before = draw_and_solve(one, tmp_path)
    assert len(list(tmp_path.glob("*.npz"))) == 1

    def again(*_):
        raise AssertionError("solved again")

    monkeypatch.setattr("pipeline.montecarlo.spread_solve.solved_currents", again)
    after = draw_and_solve(one, tmp_path)
    np.testing.assert_array_equal(after.reduced.y_port, before.reduced.y_port)
    np.testing.assert_array_equal(after.reduced.e_low, before.reduced.e_low)
    with pytest.raises(AssertionError, match="solved again"):
        draw_and_solve(replace(one, frequency=1.001 * one.frequency), tmp_path)


def test_a_sleeve_stays_as_long_as_it_was_cut_when_the_jacket_is_another():
    lengths = {c.length for d in small_spread().drawn for c in d.study.chokes if c.id == "sleeve"}
    assert len(lengths) == 1
    assert None not in lengths


def test_the_directions_are_some_of_those_of_a_full_run():
    full = solved()[CABLE].basis.directions.theta
    low = low_directions(False, 10.0, 72).theta
    assert np.abs(full[:, None] - low).min(axis=0).max() < 1e-12


# The verdict


def test_every_draw_is_in_one_class():
    bare = small_spread().found[NONE]
    for name, outcomes in small_spread().found.items():
        held = classes(outcomes, bare, name == NONE)
        assert set(held) == set(CLASSES)
        assert (np.sum(list(held.values()), axis=0) == 1).all()


def test_the_ideal_choke_is_seldom_visible_and_the_bare_cable_never_worse_than_itself():
    found = judgement().candidates
    assert found[IDEAL].score.p50 < found[NONE].score.p50
    assert found[NONE].chances["worse"].value == 0.0


def test_more_cores_are_enough_more_often():
    found = judgement().candidates
    assert found["core-x4"].score.p95 < found["core-x1"].score.p95 < found[NONE].score.p95


def test_the_bonding_of_the_radio_weighs_together_what_its_parts_do_at_least():
    causes = {c.label: c.share.value for c in judgement().causes[NONE]}
    together = causes["what the radio's case is bonded to"]
    parts = [v for k, v in causes.items() if "radio end" in k or "case touches" in k]
    assert together >= max(parts) - 0.02


def test_the_reader_is_told_where_among_the_draws_the_study_as_stated_lies():
    bare = judgement().candidates[NONE]
    scores = small_spread().found[NONE].score()
    share = sum(score < bare.stated_score for score in scores) / len(scores)
    assert bare.stated_above == pytest.approx(share)
    assert f"more than in {rate(share)} of the draws." in bare_sentence(judgement())


def candidate(name: str, enough: float, price: float | None, p95: float = 0.5) -> Candidate:
    """An invented case; only what the choice looks at is filled in."""
    made = None if name == NONE else replace(choke("core-x1"), id=name, price=price)
    chances = {"invisible": Chance(enough, 0.0)}
    score = Band(0.1, 0.2, p95, p95, 0.0, 0.0, 0.0)
    return Candidate(Case(name, name, CABLE, made), {}, score, chances, 0.5, 0.5)


@pytest.mark.parametrize(
    ("bare", "cheap", "dear", "chosen"),
    [
        (0.96, 1.0, 1.0, NONE),
        (0.60, 0.96, 1.0, "cheap"),
        (0.60, 0.94, 0.97, "dear"),
        (0.60, 0.80, 0.70, "cheap"),
        (0.60, 0.50, 0.40, NONE),
    ],
)
def test_the_cheapest_that_is_enough_nineteen_times_in_twenty_is_taken(bare, cheap, dear, chosen):
    made = [
        candidate(NONE, bare, None),
        candidate("cheap", cheap, 4.0),
        candidate("dear", dear, 9.0),
    ]
    assert choose({c.case.id: c for c in made}) == chosen


def test_an_ideal_choke_and_a_core_that_nobody_sells_are_never_recommended():
    made = candidate("perfect", 1.0, None)
    perfect = replace(made, case=replace(made.case, choke=choke("perfect")))
    found = {c.case.id: c for c in (candidate(NONE, 0.3, None), perfect)}
    assert choose(found) == NONE
    core = choke("core-x1")
    unsold = replace(core, core=replace(core.core, on_sale=False))
    for tried, chosen in ((core, "perfect"), (unsold, NONE)):
        perfect = replace(made, case=replace(made.case, choke=tried))
        found = {c.case.id: c for c in (candidate(NONE, 0.3, None), perfect)}
        assert choose(found) == chosen


# Words and files


def test_a_chance_is_never_rounded_to_certainty():
    assert rate(0.9999) == "more than 99 %"
    assert rate(1e-5) == "less than 1 %"
    assert (rate(0.0), rate(1.0)) == ("0 %", "100 %")


def test_the_answer_names_how_sure_it_is_and_what_to_measure_first():
    said = headline(judgement())
    chosen = judgement().candidates[judgement().chosen]
    assert rate(chosen.enough.value) in said
    assert judgement().sure == (chosen.enough.value >= SURE)
    first = measure_first(small_spread(), judgement())
    assert "first" in first or "stands out" in first


def test_what_is_to_be_measured_first_is_not_said_to_be_lost_in_chance_as_well():
    spread, given = small_spread(), judgement()
    drawn = [u.name for u in spread.unknowns if u.geometric]
    ends = [c.name for c in given.causes[NONE] if c.name not in drawn]
    for top, rest in ((drawn[0], "No other part"), (ends[0], "No single part")):
        causes = tuple(
            replace(c, share=Share(0.6 if c.name == top else 0.02, 0.3)) for c in given.causes[NONE]
        )
        said = measure_first(spread, replace(given, causes=given.causes | {NONE: causes}))
        assert "it alone makes 60 %" in said
        assert f"{rest} of that stands out from chance" in said


def test_the_command_writes_tables_figures_and_a_page(tmp_path, capsys):
    unknowns = {"geometries": 8, "draws": 16}
    path = small_study_file(tmp_path, unknowns=unknowns, title="Shed <b>&</b>")
    assert cli.main(["spread", str(path), "--results", str(tmp_path / "out"), "--cores", "2"]) == 0
    folder = tmp_path / "out" / "small" / "spread"
    data = json.loads((folder / "spread.json").read_text(encoding="utf-8"))
    assert data["headline"] in capsys.readouterr().out
    assert {row["case"] for row in data["candidates"]} == {NONE, IDEAL} | {
        c.id for c in study().chokes
    }
    for row in data["candidates"]:
        assert sum(row[f"chance_{name}"] for name in CLASSES) == pytest.approx(1.0)
    page = (folder / "spread.html").read_text(encoding="utf-8")
    assert "Shed &lt;b&gt;" in page
    assert "<script" not in page
    assert all(sentence.split(":")[0] in page for sentence in data["assumed"])
    for name in ("bands.png", "bands.svg", "shares.png", "shares.svg", "candidates.csv"):
        assert (folder / name).stat().st_size > 500


# Refusals


def test_a_study_that_knows_everything_has_nothing_to_spread(tmp_path):
    keys = ["route", "height", "lead", "antenna", "jacket", "station", "ferrite", "temperature"]
    keys += ["sleeve", "coil_pitch"]
    path = small_study_file(tmp_path, unknowns=dict.fromkeys(keys, "known"))
    with pytest.raises(StudyError, match="all-known"):
        WORK.jobs([path])


def test_ranges_that_seldom_make_an_installation_are_refused(tmp_path):
    # The cable ends before the candidates do.
    known = dict.fromkeys(["height", "lead", "antenna", "jacket", "station"], "known")
    route = [{"step": k, "from": "2 cm", "to": "20 cm"} for k in (2, 3)]
    path = small_study_file(tmp_path, unknowns={"geometries": 8, "route": route} | known)
    with pytest.raises(StudyError, match="unknowns-wide"):
        WORK.finish(WORK.jobs([path])[0], tmp_path, 1)
