"""Do the stated 95 % intervals hold what the tubes do? And does accuracy.csv say what was found?

JCGM 100:2008 asks an expanded uncertainty to hold the value in 95 of 100 cases. Cases are those of
tests/validation/surface: J-poles, and other antennas with and without a cable. Their points in
frequency are not independent of each other, so the test is also made leaving out one case at a
time. B2 and B4 are joints that no generator draws alone: tests/validation/joints.py does.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from pipeline.mesh.uncertainty import Accuracy, Checks, Compared, Expanded, accuracy, expanded
from tests.validation import joints
from tests.validation import tubes_in_wire as wire
from tests.validation.published_rows import FOLDER
from tests.validation.surface.tubes import read_case
from tests.validation.tubes_in_wire import ALONE, CASES, CLOSE, OTHER, WITH_SHIELD

pytestmark = pytest.mark.takes(23)

ACCURACY = FOLDER.parents[1] / "pipeline" / "mesh" / "accuracy.csv"
JOINTS = ("B2", "B4")


@cache
def joint(case: str, refine: float = 1.0, only: int | None = None) -> np.ndarray:
    """Impedance of a joint at the frequencies of its table in the band, or at one of them. [ohm]"""
    f = wire.reference(case).f[wire.in_band(case)]
    f = f if only is None else f[only : only + 1]
    return joints.feed_impedance(joints.DRAW[case](read_case(case), refine), f)


def impedance_error(case: str) -> np.ndarray:
    if case not in JOINTS:
        return wire.impedance_error(case)
    return np.abs(joint(case) / wire.reference(case).z_feed[wire.in_band(case)] - 1)


ERRORS = {
    "impedance": impedance_error,
    "shield_current": wire.shield_error,
    "gain": wire.gain_error,
}
# Quantity and what it is compared on: the cases that show it.
COMPARED: dict[tuple[str, Compared], tuple[str, ...]] = {
    ("impedance", "apart"): tuple(CASES),
    ("shield_current", "apart"): WITH_SHIELD,
    # The six apart alone are better (0.064 dB), but A2, left out, does not lie in what the other
    # five give. With those that stand close, the more careful choice: half a width of 0.26 dB.
    ("gain", "apart"): (*CASES, *CLOSE),
    ("impedance", "close"): tuple(CLOSE),
    ("shield_current", "close"): tuple(CLOSE),
    ("gain", "close"): tuple(CLOSE),
    ("impedance", "other"): (*ALONE, *OTHER),
    ("shield_current", "other"): tuple(OTHER),
    # By themselves they are much the same (0.055 dB together). Taken with J-poles whose legs stand
    # apart, a half-width of 0.12 dB.
    ("gain", "other"): (*CASES, *OTHER),
}
# What the reference itself is good to (its README): 1 % in admittance and current, gains printed
# to 0.01 dB at worst.
REFERENCE = {"impedance": 0.01, "shield_current": 0.01, "gain": 0.005}


def rms(case: str, quantity: str) -> float:
    return float(np.sqrt(np.mean(ERRORS[quantity](case) ** 2)))


def found(quantity: str, kind: Compared, without: str = "") -> Accuracy:
    """Root mean square over cases, each counting alike, and how many cases that are."""
    cases = [c for c in COMPARED[quantity, kind] if c != without]
    return Accuracy(float(np.sqrt(np.mean([rms(c, quantity) ** 2 for c in cases]))), len(cases))


def stated_row(quantity: str, kind: Compared) -> dict[str, str]:
    """The row of accuracy.csv, with the columns that only its reader sees."""
    with ACCURACY.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file)
        return next(r for r in rows if (r["quantity"], r["compared"]) == (quantity, kind))


def kind_of(case: str) -> Compared:
    if case in CLOSE:
        return "close"
    return "apart" if case in CASES else "other"


@cache
def checks(case: str) -> Checks:
    """What a study would have measured on this drawing."""
    if case in JOINTS:
        k = int(np.flatnonzero(wire.in_band(case)).size // 2)
        moved = abs(joint(case, wire.FINER, k)[0] / joint(case)[k] - 1)
        drawn, f = joints.DRAW[case](read_case(case)), float(np.mean(wire.reference(case).f))
        return Checks(joints.average_gain(drawn, f), 0, "other", float(moved), 0, 0, 0, 0)
    usual, finer = wire.ours(case), wire.ours(case, wire.FINER, middle_only=True)
    own, k = wire.own_checks(case), len(usual.f) // 2
    current = 0.0
    if wire.plan(case).joins is not None:
        current = abs(float(finer.shield_ratio[0] - usual.shield_ratio[k]))
    gains = wire.horizon_gains(case)[k], wire.horizon_gains(case, wire.FINER, middle_only=True)[0]
    gain = float(np.abs(gains[1] - gains[0]).max())
    moved = abs(complex(finer.z_feed[0] / usual.z_feed[k] - 1))
    kind = kind_of(case)
    return Checks(own.average_gain, own.reciprocity, kind, moved, current, current, gain, 0.0)


def held(case: str, quantity: str, known: dict[str, Accuracy]) -> np.ndarray:
    """Which points of a case lie within its interval, the reference's own error allowed for."""
    e: Expanded = expanded(checks(case), known)
    error = np.abs(ERRORS[quantity](case))
    if quantity == "impedance":
        half = np.full(error.shape, e.impedance)
    elif quantity == "gain":
        half = np.full(error.shape, -20 * np.log10(1 - e.field))
    else:
        ratio = wire.reference(case).shield_ratio[wire.out_of_null(case)]
        half = np.hypot(e.current, e.shield_current / ratio)
    return np.asarray(error <= np.hypot(half, REFERENCE[quantity])).ravel()


# Published


@pytest.mark.parametrize(("quantity", "kind"), COMPARED)
def test_the_stated_intervals_hold_the_tubes_in_nineteen_of_twenty_points(quantity, kind):
    known = accuracy(kind)
    points = np.concatenate([held(c, quantity, known) for c in COMPARED[quantity, kind]])
    assert len(points) >= 10
    assert points.mean() >= 0.95


@pytest.mark.parametrize(("quantity", "kind"), COMPARED)
def test_a_case_that_was_left_out_lies_within_the_interval_the_others_give(quantity, kind):
    points = []
    for case in COMPARED[quantity, kind]:
        known = accuracy(kind) | {quantity: found(quantity, kind, without=case)}
        points.append(held(case, quantity, known))
    assert np.concatenate(points).mean() >= 0.95


@pytest.mark.parametrize("case", ["C1", "C6", "C7", "C8"])
def test_the_interval_holds_what_a_coil_or_capacitor_leaves_of_the_tubes_impedance(case):
    # With the reactance in series that tunes the tubes in the middle of their table; 4 to 20 % of
    # what is left found, 2 to 6 % of the antenna's own impedance.
    own, drawn = (t.z_feed[wire.in_band(case)] for t in (wire.reference(case), wire.ours(case)))
    left = own - 1j * own[len(own) // 2].imag
    before = float(np.mean(np.abs(own / left)))
    e = expanded(replace(checks(case), before_match=before), accuracy("other"))
    assert (np.abs(drawn - own) <= e.impedance * np.abs(left)).all()


# Laws


@pytest.mark.parametrize(("quantity", "kind"), COMPARED)
def test_accuracy_csv_says_what_the_reference_cases_show(quantity, kind):
    # Stated to two digits; a tenth is what another version of the solver may move the standard,
    # and what it may move the worst beside the rounding, in units of the second digit.
    stated, now = accuracy(kind)[quantity], found(quantity, kind)
    assert stated.cases == now.cases
    assert stated.standard == pytest.approx(now.standard, rel=0.1)
    row = stated_row(quantity, kind)
    errors = {c: float(np.abs(ERRORS[quantity](c)).max()) for c in COMPARED[quantity, kind]}
    worst = max(errors.values())
    assert errors[row["worst_case"]] == worst
    unit = 10.0 ** (np.floor(np.log10(worst)) - 1)
    assert float(row["worst"]) == pytest.approx(worst, abs=0.6 * unit)


# Student's factor is 2.1 to 2.6 for five to nineteen cases; the rest is what the run adds.
# Legs that stand close have four cases, 2.8, and a run that says of itself that it is poor.
@pytest.mark.parametrize(("quantity", "kind"), [k for k in COMPARED if k[1] != "close"])
def test_the_interval_is_not_so_wide_that_it_would_hold_anything(quantity, kind):
    for case in COMPARED[quantity, kind]:
        e = expanded(checks(case), accuracy(kind))
        half = {"impedance": e.impedance, "shield_current": e.current, "gain": 8.69 * e.field}
        assert half[quantity] < 4 * found(quantity, kind).standard
