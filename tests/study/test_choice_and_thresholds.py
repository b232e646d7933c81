"""Sections on what may be spent and what is visible: wrong ones are refused in their place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.analysis.case_results import evaluate
from pipeline.solver.cases import CABLE, cases
from pipeline.study.reader import load_study
from pipeline.study.records import Thresholds
from pipeline.text.errors import StudyError
from tests.harness.small_study import small_study_file, solved, study

PRICES = {"mix-43-clamp-12-7": "4.50 EUR", "mix-31-clamp-12-7": "5.20 EUR"}
TWO_MONEYS = {"mix-43-clamp-12-7": "4 EUR", "mix-31-clamp-12-7": "4 USD"}


@pytest.mark.parametrize(
    ("key", "section", "tag"),
    [
        ("choke_design", {"budget": "30 USD", "prices": PRICES}, "price-currency"),
        ("choke_design", {"prices": TWO_MONEYS}, "price-currency"),
        ("choke_design", {"prices": {"no-such-core": "4 EUR"}}, None),
        ("choke_design", {"most": 13}, None),
        ("verdict", {"swr": 0}, None),
        ("verdict", {"radio_current": 2}, None),
        ("verdict", {"pattern_rms": "half"}, None),
        ("verdict", {"gain": "1 dB"}, None),
    ],
)
def test_a_section_that_makes_no_sense_is_refused(
    tmp_path: Path, key: str, section: dict[str, object], tag: str | None
) -> None:
    with pytest.raises(StudyError) as refused:
        load_study(small_study_file(tmp_path, **{key: section}))
    assert all(key in f.place for f in refused.value.faults)
    assert tag is None or [f.tag for f in refused.value.faults] == [tag]


def test_thresholds_of_the_study_reach_its_scores(tmp_path: Path) -> None:
    # Without a section the usual ones hold.
    assert study().verdict == Thresholds(0.5, 0.5, 0.2, 0.05)
    own = {"pattern_rms": "1 dB", "mean_gain": "1 dB", "swr": 0.4, "radio_current": 0.1}
    lax = load_study(small_study_file(tmp_path, verdict=own))
    assert lax.verdict == Thresholds(1.0, 1.0, 0.4, 0.1)
    by_id = {c.id: c for c in cases(study())}
    for name in ("none", "core-x1"):
        scores = []
        for judged in (study(), replace(study(), verdict=lax.verdict)):
            found, ideal = (evaluate(solved()[CABLE], judged, by_id[n]) for n in (name, "ideal"))
            scores.append(found.merit(ideal.reference(0.0), 0.0).score()[0])
        assert scores[1] == pytest.approx(scores[0] / 2)
