"""A choke is enough as often as said: further installations of the same study, solved afresh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipeline.answer.choice import Costs
from pipeline.answer.comparison import Comparison
from pipeline.montecarlo.installations import install
from pipeline.solver.cases import NONE
from tests.harness.answered import small, small_answer, small_described
from tests.validation.calibrated_chance import calibrated, chance_over_drawings

pytestmark = pytest.mark.takes(18)

# Drawings on either side.
N = 16


def test_further_installations_have_every_case_enough_as_often_as_said(solved_afresh):
    # Installations on one drawing are alike, so the error is that of the means of drawings, as of
    # clusters of one size (W. G. Cochran, Sampling Techniques, 1977, ch. 9; from memory). Where no
    # draw of n drawings is against it, three in n may be (the rule of three; from memory).
    answer, study = small_answer(), small()
    said = install(replace(study, unknowns=replace(study.unknowns, geometries=N)), 2)
    of = Comparison(small_described(), said, Costs.of(study))
    found = {c.case: c.found for c in calibrated(answer, small_described(), 2, N)}
    assert {NONE, answer.chosen, "core-x4"} <= set(found)
    for name, further in found.items():
        before = chance_over_drawings(of.lumped(answer.candidates[name].case, "study"))
        error = np.hypot(before.error, further.error)
        certain = min(before.value, 1 - before.value) == 0
        assert abs(further.value - before.value) <= max(2.58 * error, 3 / N * certain + 0.01), name
