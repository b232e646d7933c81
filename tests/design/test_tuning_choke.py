"""What an antenna is tuned with: the case that its own report recommends, and SWR without it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.analysis.case_results import at_centre
from pipeline.design import tuning_choke
from pipeline.design.tuning import Tuned, tuned_case
from pipeline.design.tuning_check import responses
from pipeline.design.tuning_choke import match, without_hopeless_coils
from pipeline.report.tuning_words import choke_words
from pipeline.solver.cases import CABLE, NONE
from pipeline.study.reader import load_study
from pipeline.study.records import RECOMMENDED, Study
from tests.harness import small_study
from tests.harness.tuned_minimal import minimal, tuned


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


def test_a_wire_coil_that_is_not_enough_as_described_is_not_solved_in_all_its_makings(
    tmp_path: Path,
) -> None:
    # The verdict never takes one (tests/chokes/test_coil_making.py); lumped candidates stay.
    coil = {"id": "nine", "kind": "coil", "turns": 3, "diameter": "0.10 m", "position": "0.60 m"}
    core = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7"}
    study = load_study(small_study.small_study_file(tmp_path, chokes=[coil, core]))
    assert study.chokes[0].is_drawn
    cable = small_study.solved()[CABLE]
    # On the bare cable's fields the coil is as good as none, and this cable wants a choke.
    solved = {CABLE: at_centre(cable), "wire-nine": at_centre(cable)}
    assert [c.id for c in without_hopeless_coils(study, solved).chokes] == ["core"]
    least = replace(study.verdict, station_ratio=10.0, swr_step=10.0, pattern_rms_db=100.0)
    lenient = replace(study, verdict=replace(least, mean_gain_db=100.0))
    assert without_hopeless_coils(lenient, solved) == lenient


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
    study = replace(minimal(), tune=replace(minimal().tune, choke=RECOMMENDED))
    left, used = list(answers), []

    def tune_with(study: Study, say: object, choke: str) -> Tuned:
        used.append(choke)
        return replace(tuned(), case=replace(tuned().case, id=choke))

    monkeypatch.setattr(tuning_choke, "recommended_case", lambda study: left.pop(0))
    monkeypatch.setattr(tuning_choke, "tune", tune_with)
    labels = tuple(replace(tuned().case, id=name) for name in ("none", "a", "b"))
    monkeypatch.setattr(tuning_choke, "cases", lambda study: labels)
    found = match(study)
    assert (used, left, found.settled) == (tuned_with, [], settled)
    assert ("tune again" in choke_words(found)) != settled


def test_a_choke_that_the_study_names_is_taken_without_asking(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tuning_choke, "tune", lambda study, say: tuned())
    found = match(minimal())
    assert found.settled
    assert choke_words(found) == "as tune.choke of the study says"
