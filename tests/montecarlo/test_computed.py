"""The computation's own uncertainty in draws: intervals at their ends, and never a wrong sign."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from pipeline.analysis.figures_of_merit_and_score import scored
from pipeline.analysis.many_cases import joined
from pipeline.judgement.intervals import at_end, case_intervals
from pipeline.mesh.uncertainty import Expanded
from pipeline.montecarlo.computed import OWN, moved, moved_names, standard_normals
from tests.harness.small_study import case

HALF = Expanded(0.05, 0.08, 0.02, 0.01, 0.02, 0.06)
WIDE = Expanded(0.5, 0.9, 0.5, 0.3, 0.2, 2.0)


def merits():
    """Four cases of the small study as one table of rows."""
    best = case("ideal").reference(0.0)
    return [case(name).merit(best, 0.0) for name in ("none", "core-x1", "sleeve", "ideal")]


def rows():
    return joined(merits())


def moved_by(z: float, half: Expanded, own: float = 0.0):
    found = rows()
    normals = dict.fromkeys(moved_names(found), z) | dict.fromkeys(OWN, own)
    return moved(found, half, {k: np.full(len(found), v) for k, v in normals.items()}, 50.0)


@pytest.mark.parametrize("half", [HALF, WIDE], ids=["usual", "wide"])
@pytest.mark.parametrize("end", [0, 1])
def test_at_the_ends_of_95_per_cent_every_change_is_at_the_end_of_its_interval(half, end):
    found = moved_by((2 * end - 1) * norm.ppf(0.975), half)
    for k, merit in enumerate(merits()):
        expected = at_end(merit, half, end)
        for name, change in expected.changes.items():
            assert found.changes[name][k] == pytest.approx(change[0], rel=1e-9, abs=1e-12)


def test_in_the_middle_nothing_moves():
    before, after = rows(), moved_by(0.0, WIDE)
    for name in before.changes:
        np.testing.assert_array_equal(after.changes[name], before.changes[name])


@pytest.mark.parametrize("z", [-5.0, -1.0, 1.0, 5.0])
def test_no_magnitude_is_negative_and_no_change_from_the_reference_turns_its_sign(z):
    before, after = rows(), moved_by(z, WIDE)
    for figure in scored(before.limits):
        change = after.changes[figure.name]
        if figure.is_relative:
            assert (change * before.changes[figure.name] >= 0).all()
        else:
            assert (change >= 0).all()
        assert after.score().min() >= 0


def test_a_value_moves_as_much_as_its_change():
    before, after = rows(), moved_by(1.3, HALF)
    for name in ("swr", "mean_gain_dbi"):
        moved_value = after[name] - before[name]
        assert moved_value == pytest.approx(after.changes[name] - before.changes[name], abs=1e-12)


def test_values_lie_in_the_interval_of_the_computation_and_take_no_change_with_them():
    # Swept over the disc of impedances and the field, the ends are those of the case as described.
    before = rows()
    turns = np.exp(2j * np.pi * np.arange(24) / 24) * norm.ppf(0.975)
    ends = {"swr": [], "mean_gain_dbi": []}
    for turn in turns:
        own = {"impedance_along": turn.real, "impedance_across": turn.imag, "field": turn.real}
        z = dict.fromkeys(moved_names(before), np.zeros(len(before))) | own
        after = moved(before, HALF, z, 50.0)
        for name, found in ends.items():
            np.testing.assert_array_equal(after.changes[name], before.changes[name])
            found.append(after[name])
    for k, name in enumerate(("none", "core-x1", "sleeve", "ideal")):
        one = case(name)
        at = float(one.frequency[one.centre])
        wanted = case_intervals(merits()[k], HALF, one.line, at)
        for figure, column in (("swr", "swr_feed"), ("mean_gain_dbi", "horizon_gain_mean_dbi")):
            own = np.array(ends[figure])[:, k]
            assert (own.min(), own.max()) == pytest.approx(wanted[column], abs=0.002)


def test_normals_of_few_drawings_have_the_mean_and_deviation_of_a_standard_normal():
    # Definition of the standard normal distribution; 32 Sobol points hold both to some per cent.
    found = standard_normals(32, ("a", "b", "c"), 1)
    for values in found.values():
        assert values.mean() == pytest.approx(0.0, abs=0.06)
        assert values.std() == pytest.approx(1.0, abs=0.08)
    pairs = np.corrcoef(np.array(list(found.values())))
    assert np.abs(pairs - np.eye(3)).max() < 0.35
