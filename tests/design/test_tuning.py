"""Tuning: the search on toys with a known answer, and a J-pole with its cable in place."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pipeline.answer.record import Answer
from pipeline.circuit.line import reflection_coefficient
from pipeline.commands.cli import main
from pipeline.commands.command import Job
from pipeline.commands.tune import WORK
from pipeline.design import tuning_check, tuning_choke
from pipeline.design.match_search import (
    OutOfSolvesError,
    Values,
    Variable,
    match_shift,
    search,
    swr_of,
)
from pipeline.design.tuned_study import differences
from pipeline.design.tuning import FeedPoint, Tuned, tune, tuned_case
from pipeline.design.tuning_check import responses, trim_kind
from pipeline.design.tuning_choke import Matched, Means, match
from pipeline.report.tuning_words import choke_words, headline, reason_missed, trimming
from pipeline.runtime.progress import Telling
from pipeline.solver.cases import NONE
from pipeline.study.reader import load_study
from pipeline.study.records import RECOMMENDED, Band, Study, with_values
from tests.harness import small_study
from tests.harness.made_answers import made_answer
from tests.harness.shipped import STUDIES
from tests.harness.tuned_low import LOW, low, tuned, verified

pytestmark = pytest.mark.takes(40)

A = Variable("a", 0.50, 0.3, 0.8, 1e-3)
B = Variable("b", 0.06, 0.03, 0.10, 1e-3)
C = Variable("c", 1.50, 1.0, 2.0, 1e-3)
SLOPES = (-18 - 2.5j, 17 - 9j, -3.5 - 1j)


def linear(*best: float) -> Callable[[Values], complex]:
    """A reflection coefficient that is linear in its variables and nothing at ``best``."""
    return lambda v: complex(sum(s * (x - b) for s, x, b in zip(SLOPES, v, best, strict=False)))


def counted(gamma_at: Callable[[Values], complex], most: int) -> Callable[[Values], complex]:
    made: list[Values] = []

    def ask(values: Values) -> complex:
        if len(made) >= most:
            raise OutOfSolvesError
        made.append(values)
        return gamma_at(values)

    return ask


def gamma(study: Study, names: tuple[str, ...], values: Values) -> complex:
    found = FeedPoint(study, names, lambda step: None).gamma(values)
    assert found is not None
    return found


# The search, where the answer is known


def test_a_linear_match_is_found_with_its_slopes_in_one_step() -> None:
    found = search(linear(0.481, 0.0523), (A, B), 1e-6)
    assert found.best.values == (0.481, 0.0523)
    assert found.ended == "matched"
    assert np.allclose(found.slopes, SLOPES[:2], rtol=1e-9)
    # The start, one difference for each variable, the answer.
    assert len(found.trials) == 4


def test_a_third_variable_stays_where_it_was_while_two_suffice() -> None:
    found = search(linear(0.48, 0.05, 1.5), (A, B, C), 1e-4)
    assert found.best.values == (0.48, 0.05, 1.5)


def test_a_third_variable_moves_where_two_cannot_do_it() -> None:
    # b would have to go to 0.095, beyond its end at 0.07.
    short = replace(B, high=0.07)
    with_two = search(linear(0.48, 0.095), (A, short), 1e-3)
    with_three = search(linear(0.48, 0.095, 1.5), (A, short, C), 1e-3)
    assert abs(with_three.best.gamma) < 0.5 * abs(with_two.best.gamma)
    assert with_three.best.values[2] != C.start


def test_steps_that_cannot_be_built_are_shortened() -> None:
    # The match at a = 0.40 is out of reach: nothing below 0.45 can be built.
    gamma_at = linear(0.40, 0.06)
    found = search(lambda v: gamma_at(v) if v[0] >= 0.45 else None, (A, B), 1e-4)
    assert found.refused > 0
    assert found.best.values[0] == pytest.approx(0.45, abs=0.005)


def test_the_search_keeps_the_best_when_its_solves_are_used_up() -> None:
    bent = linear(0.47, 0.05)
    found = search(counted(lambda v: np.tanh(9 * bent(v)), 5), (A, B), 1e-9)
    assert found.ended == "out of solves"
    assert abs(found.best.gamma) == min(abs(t.gamma) for t in found.trials)
    assert len(found.trials) == 5


def test_a_line_stub_moves_its_match_as_the_wavelength_does() -> None:
    # Closed form: (g - 1) with g = exp(-2j k L) is nothing where k L is a multiple of pi, so
    # f L stays the same: df = -f / L dL.
    k, length, f = 2 * np.pi * 145e6 / 299_792_458.0, 299_792_458.0 / (2 * 145e6), 145e6
    slope, slope_f = -2j * k, -2j * k * length / f
    assert match_shift(slope, slope_f) == pytest.approx(-f / length, rel=1e-12)


# A J-pole with a short cable


def test_a_j_pole_ten_per_cent_off_is_matched_to_1_2_in_at_most_25_solves() -> None:
    assert swr_of(tuned().found.trials[0].gamma) > 3
    assert tuned().met
    assert tuned().best.swr <= 1.2
    assert tuned().solves <= 25
    assert verified().evidence.grade == "sound"


def test_the_finer_drawing_and_the_band_agree_with_the_match() -> None:
    v = verified()
    assert v.swr_refined <= 1.2
    assert v.after.z[v.after.centre] == pytest.approx(tuned().best.z, rel=1e-6)
    assert abs(v.after.best_frequency() - 145e6) < 0.2e6
    assert v.after.swr[v.after.centre] < v.before.swr[v.before.centre]


def test_slopes_of_the_search_are_those_of_direct_solves() -> None:
    names = tuple(v.name for v in tuned().variables)
    best, h = tuned().found.best.values, 2e-3
    for k, slope in enumerate(tuned().found.slopes):
        more, less = (
            gamma(low(), names, (*best[:k], best[k] + way, *best[k + 1 :])) for way in (h, -h)
        )
        # The search took them over other, one-sided steps.
        assert slope == pytest.approx((more - less) / (2 * h), rel=0.1)


@pytest.mark.parametrize("name", ["short_leg", "tap"])
def test_a_millimetre_moves_the_best_match_as_far_as_solves_of_the_band_say(name: str) -> None:
    narrow = replace(low(), band=Band(144e6, 146e6, 5))
    here = replace(tuned(), study=narrow)
    at = dict(zip((v.name for v in tuned().variables), tuned().best.values, strict=True))
    found = {}
    for way in (-2e-3, 2e-3):
        moved = at | {name: at[name] + way}
        study = with_values(narrow, tuple(moved), tuple(moved.values()))
        found[way] = responses(here, study)[0].best_frequency()
    direct = (found[2e-3] - found[-2e-3]) / 4
    shift = next(s.shift for s in verified().sensitivities if s.name == name)
    assert shift == pytest.approx(direct, rel=0.15)


def test_expected_and_worst_errors_hold_what_direct_solves_find() -> None:
    names = tuple(v.name for v in tuned().variables)
    best = np.array(tuned().best.values)
    corners = [
        swr_of(gamma(low(), names, tuple(best + 1e-3 * np.array(way))))
        for way in ((1, -1, 1), (-1, 1, -1), (1, 1, 1))
    ]
    errors = verified().errors
    assert errors is not None
    assert errors.expected < errors.worst
    assert max(corners) == pytest.approx(errors.worst, abs=0.02)


def test_pipes_are_cut_long_and_the_tap_slides() -> None:
    study = tuned().after
    kinds = {v.name: trim_kind(study, v) for v in tuned().variables}
    assert kinds == {"short_leg": "cut", "tap": "free", "long_leg": "cut"}
    first = verified().sensitivities[0]
    # What it starts long makes up for half a per cent of the frequency, in whole millimetres.
    assert first.start_long == pytest.approx(
        1e-3 * np.ceil(0.005 * 145e6 / abs(first.shift)), rel=1e-12
    )
    text = trimming(tuned(), verified())[0]
    assert text.startswith("Cutting 1 mm off the short leg moves the best match up by ")
    assert f"{abs(first.shift) / 1e3:.0f} kHz" in text


# What costs no solve, and what is left out of one


def test_what_is_only_a_circuit_element_costs_no_field_solve() -> None:
    # A gamma's capacitor is in series with the feed; the wires stay.
    study = load_study(STUDIES / "gamma_dipole.yaml")
    study = replace(study, tune=replace(study.tune, choke="none"))
    point = FeedPoint(study, ("capacitance",), lambda step: None)
    small, large = (point.gamma((c,)) for c in (5e-12, 8e-12))
    assert [step.solved for step in point.steps] == [True, False]
    assert small != large


@pytest.mark.parametrize("choke", ["none", "ideal"])
def test_ports_left_out_change_nothing(choke: str) -> None:
    study = small_study.study()
    study = replace(study, tune=replace(study.tune, choke=choke))
    point = FeedPoint(study, (), lambda step: None)
    point.gamma(())
    whole = small_study.case(choke)
    assert point.steps[0].z == pytest.approx(complex(whole.z_feed[whole.centre]), rel=1e-9)


# A target that cannot be met


def test_a_target_out_of_reach_says_why() -> None:
    # The tap alone sets resistance but not reactance.
    start = with_values(low(), ("short_leg", "tap"), (0.47, 0.05))
    found = tune(replace(start, tune=replace(start.tune, free=("tap",))))
    assert not found.met
    assert "SWR 1.2" not in reason_missed(found)
    assert "no change of tap brings it nearer" in reason_missed(found)
    assert f"{found.best.swr:.2f} is the best found, 1.2 was wanted" in reason_missed(found)


def test_solves_used_up_are_the_reason_when_they_are() -> None:
    found = tune(replace(low(), tune=replace(low().tune, solves=5)))
    assert not found.met
    assert found.solves == 5
    assert "the 5 field solves of tune.solves are used up" in reason_missed(found)


def test_an_unsound_drawing_is_never_called_tuned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    v = verified()
    bad = replace(v, evidence=replace(v.evidence, grade="unsound"))
    assert headline(tuned(), bad).startswith("Not tuned: the drawing")
    monkeypatch.setattr(tuning_choke, "match", lambda study, say, means: Matched(tuned()))
    monkeypatch.setattr(tuning_check, "verify", lambda found: bad)
    met, text = WORK.finish(Job(LOW, low(), ()), tmp_path)
    assert not met
    assert "Matched" not in text
    assert not (tmp_path / "low" / "tune" / "low_tuned.yaml").exists()


# With what it is tuned: the case that its own study takes


@pytest.mark.parametrize("choke", ["core", "ideal"])
def test_swr_with_the_choke_and_without_are_those_of_the_two_cases(choke: str) -> None:
    study = small_study.study()
    name = next((c.id for c in study.chokes if c.id.startswith(choke)), choke)
    case, plan = tuned_case(study, name)
    own, bare = responses(replace(tuned(), study=study, case=case, plan=plan), study)
    assert bare is not None
    for found, whole in ((own, small_study.case(name)), (bare, small_study.case(NONE))):
        assert found.swr_centre == pytest.approx(float(whole.swr_feed[whole.centre]), rel=1e-9)
    assert own.swr_centre != pytest.approx(bare.swr_centre, abs=1e-3)
    assert responses(replace(tuned(), study=study), study)[1] is None


def answer_that_takes(name: str) -> Answer:
    """An answer of which only the case that is taken is asked for."""
    made = made_answer(1)
    taken = replace(made.bare, case=replace(made.bare.case, id=name, label=f"label of {name}"))
    return replace(made, candidates={**made.candidates, name: taken}, chosen=name)


@pytest.mark.parametrize(
    ("answers", "tuned_with", "settled"),
    [
        (["a", "a"], ["a"], True),
        (["none", "b", "b"], ["none", "b"], True),
        # Where two send each other round, the second stays and that is said.
        (["a", "b", "a"], ["a", "b"], False),
    ],
)
def test_an_antenna_is_tuned_again_where_the_tuned_one_wants_another_choke(
    answers: list[str], tuned_with: list[str], settled: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = replace(low(), tune=replace(low().tune, choke=RECOMMENDED))
    left, used, lines = list(answers), [], []

    def tune_with(study: Study, say: object, choke: str) -> Tuned:
        used.append(choke)
        return replace(tuned(), case=replace(tuned().case, id=choke))

    monkeypatch.setattr(
        tuning_choke, "answered", lambda study, means: answer_that_takes(left.pop(0))
    )
    monkeypatch.setattr(tuning_choke, "tune", tune_with)
    found = match(study, means=Means(Telling(lines.append)))
    assert (used, left, found.settled) == (tuned_with, [], settled)
    assert [line.split("label of ")[1] for line in lines if "taken: " in line] == tuned_with
    assert ("tune again" in choke_words(found)) != settled


def test_a_choke_that_the_study_names_is_taken_without_asking(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tuning_choke, "tune", lambda study, say: tuned())
    found = match(low())
    assert found.settled
    assert choke_words(found) == "as tune.choke of the study says"


# Files


def test_what_is_taken_from_the_catalogue_is_none_of_the_tuned_files_candidates() -> None:
    study = small_study.study()
    taken = replace(study.chokes[0], id="from-the-catalogue")
    wider = replace(study, chokes=(*study.chokes, taken))
    found = replace(tuned(), after=wider, case=replace(tuned().case, choke=taken), variables=())
    assert differences(study, found, chokes_listed=True) == []
    lost = replace(study, chokes=study.chokes[1:])
    assert differences(lost, found, chokes_listed=True) == ["chokes"]


def test_the_tuned_study_reads_back_and_is_matched_as_it_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = load_study(LOW)
    found = replace(tuned(), study=study, after=replace(tuned().after, tune=study.tune))
    monkeypatch.setattr(tuning_choke, "match", lambda study, say, means: Matched(found, NONE))
    monkeypatch.setattr(tuning_check, "verify", lambda found: verified())
    met, text = WORK.finish(Job(LOW, study, ()), tmp_path)
    folder = tmp_path / "low" / "tune"
    copy = load_study(folder / "low_tuned.yaml")
    z = gamma(replace(copy, tune=low().tune), (), ())
    assert met
    assert swr_of(z) == pytest.approx(tuned().best.swr, abs=1e-3)
    old, new = (p.read_text(encoding="utf-8") for p in (LOW, folder / "low_tuned.yaml"))
    assert [line for line in new.splitlines() if line not in old.splitlines()] == [
        f"# Tuned with no choke on the cable. SWR {verified().after.swr_centre:.2f} (before "
        f"{verified().before.swr_centre:.2f}).",
        *(
            f"  {name}: {1e3 * value:.5g} mm"
            for name, value in zip(
                ("short_leg", "tap", "long_leg"), tuned().best.values, strict=True
            )
        ),
    ]
    assert str(folder / "tuning.png") in text
    assert "its shield on the short leg" in text
    assert {p.name for p in folder.iterdir()} == {
        *("low_tuned.yaml", "tune.csv", "tune.json", "tuning.png", "tuning.svg"),
    }
    rows = list(csv.DictReader((folder / "tune.csv").read_text(encoding="utf-8").splitlines()))
    data = json.loads((folder / "tune.json").read_text(encoding="utf-8"))
    assert len(rows) == len(tuned().steps)
    assert data["field_solves"] == sum(row["field_solve"] == "1" for row in rows)
    for row, step in zip(rows, tuned().steps, strict=True):
        z_row = complex(float(row["r_ohm"]), float(row["x_ohm"]))
        assert abs(reflection_coefficient(z_row, 50.0)) == pytest.approx(
            abs(reflection_coefficient(step.z, 50.0)), abs=1e-5
        )
    assert data["target_met"] is True
    assert data["shield_joins"] == "short leg"


def test_a_study_is_tuned_with_what_it_takes_and_copied_with_its_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = small_study.quick_study_file(tmp_path, tune={"free": ["short_leg", "tap"]})
    # A report that is there already, and wrong, changes nothing: all is computed anew.
    folder = tmp_path / "out" / "small" / "tune"
    folder.mkdir(parents=True)
    (folder.parent / "summary.json").write_text('{"answer": {"chosen": "perfect"}}')
    code = main(["tune", str(path), "--results", str(tmp_path / "out")])
    data = json.loads((folder / "tune.json").read_text(encoding="utf-8"))
    assert data["case"] == data["recommended_case"]
    assert data["case"] not in ("none", "ideal", "perfect")
    assert data["swr"]["as_tuned"]["after"] == pytest.approx(data["tuned"]["swr"], abs=1e-4)
    assert data["swr"]["without_choke"]["after"] > data["swr"]["as_tuned"]["after"]
    said = capsys.readouterr().out
    first = (folder / "small_tuned.yaml").read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith(f"# Tuned with {data['on_the_cable']}. SWR ")
    for text in (said, first):
        assert f"{data['swr']['as_tuned']['after']:.2f} (before " in text
        assert f"{data['swr']['without_choke']['after']:.2f} (before " in text
    assert f"Without the choke the SWR is {data['swr']['without_choke']['after']:.2f}" in said
    assert "as the study takes" in said
    assert code == (0 if data["target_met"] else 1)
    assert load_study(folder / "small_tuned.yaml").chokes == load_study(path).chokes


def test_a_missed_target_ends_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # The choke is named: what the study takes by itself is asked above.
    data = {"free": ["long_leg"], "target_swr": 1.02, "solves": 5, "choke": "none"}
    path = small_study.small_study_file(tmp_path, tune=data)
    assert main(["tune", str(path), "--results", str(tmp_path / "out")]) == 1
    assert "Not on target at" in capsys.readouterr().out


def test_a_study_that_frees_what_is_not_trimmed_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = small_study.small_study_file(tmp_path, tune={"free": ["short_lag"], "choke": "non"})
    assert main(["tune", str(path), "--results", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "tune.free[0]" in said
    assert "Try: short_leg" in said
    assert "tune.choke" in said
    assert not (tmp_path / "out").exists()
