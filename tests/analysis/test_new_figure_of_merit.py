"""The worked example of DEVELOPERS.md: one row is a new figure of merit, for one case or many."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from pipeline.analysis.case_results import CaseResult, at_centre, evaluate
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.analysis.many_cases import many, nominal_ends, reduce, termination_rows
from pipeline.answer.candidates import told_figures
from pipeline.judgement.case_merit import CaseMerit, case_merit
from pipeline.judgement.intervals import case_intervals
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.report.tables import case_rows
from pipeline.solver.cases import CABLE, cases
from pipeline.study.records import Thresholds
from tests.examples import front_to_side
from tests.harness.small_study import solved, study

NAME = front_to_side.ROW.name
HALF = Expanded(0.05, 0.04, 0.01, 0.005, 0.02, 0.05)


@dataclass(frozen=True)
class WithFrontToSide(Thresholds):
    """The thresholds with one more, as its author would put it there."""

    front_to_side_db: float = 0.05


@pytest.fixture
def scored(monkeypatch: pytest.MonkeyPatch) -> Thresholds:
    monkeypatch.setitem(FIGURES, NAME, front_to_side.ROW)
    return WithFrontToSide()


def results(limits: Thresholds) -> dict[str, CaseResult]:
    judged = replace(study(), verdict=limits)
    return {c.id: evaluate(solved()[c.geometry], judged, c) for c in cases(judged)}


def merit(name: str, limits: Thresholds) -> CaseMerit:
    found = results(limits)
    best = found["ideal"].reference(0.0)
    return case_merit(found[name], found[name].merit(best, 0.0), "sound")


def test_a_dipole_lying_down_has_none_of_it_at_its_sides_and_a_standing_one_is_round() -> None:
    # C. A. Balanis, Antenna Theory, ch. 4: the field of a short dipole is the sine of the angle
    # from its axis, nothing along it and the same all round it; from memory.
    along = 20 * np.log10(np.maximum(np.abs(np.sin(np.arange(8) * np.pi / 4)), 1e-6))
    np.testing.assert_allclose(
        front_to_side.front_to_side_db(np.stack([along, np.zeros(8)])), [120.0, 0.0], atol=1e-9
    )


def test_it_stands_in_the_table_of_cases_with_its_interval(scored: Thresholds) -> None:
    of, result = merit("none", scored), results(scored)["none"]
    ring = result.gain[45]
    front = int(ring.argmax())
    sides = max(ring[(front + k) % len(ring)] for k in (len(ring) // 4, -(len(ring) // 4)))
    assert of[NAME] == pytest.approx(ring.max() - sides)
    ends = case_intervals(of.merit, HALF, result.line, study().frequency)
    evidence = {"none": CaseEvidence(1.0, 0.0, 0.0, "sound")}
    (row,) = case_rows([of], evidence, {"none": ends}, {"none": "?"})
    low, value, high = (float(row[f"{NAME}{end}"]) for end in ("_low", "", "_high"))
    assert low < value == of[NAME] < high


def test_it_counts_in_score_and_words_where_the_study_has_a_threshold(scored: Thresholds) -> None:
    bare, ideal = merit("none", scored), merit("ideal", scored)
    change = bare[NAME] - ideal[NAME]
    assert bare.change(NAME) == pytest.approx(change)
    tight = replace(scored, front_to_side_db=abs(change) / 100)
    strict = merit("none", tight)
    assert strict.score == pytest.approx(100.0)
    over = {name: part[0] for name, part in strict.merit.over_thresholds.items()}
    assert max(over, key=over.__getitem__) == NAME
    assert FIGURES[NAME].words == "the ratio front to side"


def test_without_a_threshold_it_is_shown_and_changes_no_score(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = merit("none", Thresholds())
    monkeypatch.setitem(FIGURES, NAME, replace(front_to_side.ROW, threshold=""))
    after = merit("none", Thresholds())
    assert NAME not in before.merit.values
    assert after[NAME] > 0
    assert after.score == before.score


def test_very_many_rows_have_it_too(scored: Thresholds) -> None:
    entry, judged = at_centre(solved()[CABLE]), replace(study(), verdict=scored)
    reduced = reduce(entry, judged, 0.0)
    ends = termination_rows(reduced.structure, judged, nominal_ends(judged))
    scale = np.linspace(0.0, 1.0, 600)[:, None]
    found = many(reduced, ends, scale * reduced.ideal)
    assert found[NAME].shape == found.score().shape == (600,)
    assert found[NAME][0] == pytest.approx(merit("none", scored)[NAME], rel=1e-9)
    assert found.score()[0] == pytest.approx(merit("none", scored).score, rel=1e-9)
    assert found.changes[NAME][-1] == pytest.approx(0.0, abs=1e-9)
    assert NAME in [figure.name for figure in told_figures()]
