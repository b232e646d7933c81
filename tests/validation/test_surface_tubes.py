"""The generator's J-pole against solutions on the real tubes (tests/validation/surface)."""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from models.shield import Zone
from pipeline.port_algebra import port_currents, port_voltages
from pipeline.solver import unit_source_currents
from tests.installations import REFERENCE, Plan, build, port_matrix

FOLDER = Path(__file__).parent / "surface"
# The gap of the reference lies 0.05 m from the leg's axis; a zone there makes a port of it.
WITH_SHIELD = Plan(REFERENCE, joins="short leg", zones=(Zone(0.038, 0.024),))


def table(name: str) -> dict[str, NDArray[np.float64]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    keys = [k for k in rows[0] if all(r[k] for r in rows)]
    return {k: np.array([float(r[k]) for r in rows]) for k in keys}


def gamma(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    return (z - 50) / (z + 50)


def scaled(
    f: NDArray[np.float64], z: NDArray[np.complex128], factor: float
) -> NDArray[np.complex128]:
    """Our impedance with its frequency axis stretched, read at the reference's frequencies."""
    return np.interp(f, f * factor, z.real) + 1j * np.interp(f, f * factor, z.imag)


def frequency_scale(
    f: NDArray[np.float64], z: NDArray[np.complex128], reference: NDArray[np.complex128]
) -> float:
    """Factor on our frequencies that brings the reflection closest to the reference's."""

    def miss(factor: float) -> float:
        inside = (f > f[0] * factor) & (f < f[-1] * factor)
        difference = gamma(scaled(f, z, factor)) - gamma(reference)
        return float(np.mean(np.abs(difference[inside]) ** 2))

    return float(minimize_scalar(miss, bounds=(0.97, 1.03), method="bounded").x)


@cache
def alone() -> tuple[NDArray[np.float64], NDArray[np.complex128], NDArray[np.complex128]]:
    rows = table("J1_feed.csv")
    f = rows["f_MHz"] * 1e6
    built = build(Plan(REFERENCE))
    y = port_matrix(unit_source_currents(built, f, None, lossless=True), built)
    return f, 1 / y[:, 0, 0], rows["R_ohm"] + 1j * rows["X_ohm"]


@cache
def with_shield() -> tuple[NDArray[np.float64], NDArray[np.complex128], NDArray[np.complex128]]:
    """Frequencies, our two-port and the reference's, shapes (n_f,), (n_f, 2, 2)."""
    rows = table("J3_Y.csv")
    f = rows["f_MHz"] * 1e6
    y12 = rows["Y12_re_S"] + 1j * rows["Y12_im_S"]
    reference = np.array(
        [
            [rows["Y11_re_S"] + 1j * rows["Y11_im_S"], y12],
            [y12, rows["Y22_re_S"] + 1j * rows["Y22_im_S"]],
        ]
    ).transpose(2, 0, 1)
    built = build(WITH_SHIELD)
    gap = min(
        (p for p in built.ports if p.name.startswith("shield")),
        key=lambda p: abs((p.position or 0.0) - 0.05),
    )
    pair = (built.port_segment(built.ports[0]), built.port_segment(gap))
    currents = unit_source_currents(built, f, None, lossless=True, sources=pair)
    return f, currents[:, :, list(pair)].transpose(0, 2, 1), reference


# Published


@pytest.mark.parametrize("which", ["alone", "with shield"])
def test_frequency_scale_is_within_a_fifth_of_a_per_cent_of_the_surface_solution(which):
    # The reference's own mesh error is 0.05 %; 0.2 % is 0.3 MHz at 145 MHz, less than a cut.
    if which == "alone":
        f, z, reference = alone()
    else:
        f, y, y_reference = with_shield()
        z, reference = 1 / y[:, 0, 0], 1 / y_reference[:, 0, 0]
    assert frequency_scale(f, z, reference) == pytest.approx(1, abs=0.002)


@pytest.mark.parametrize("which", ["alone", "with shield"])
def test_impedance_is_within_five_per_cent_of_the_surface_solution_over_the_band(which):
    # The reference's admittance is good to 1 %, the model of the gap differs.
    if which == "alone":
        f, z, reference = alone()
    else:
        f, y, y_reference = with_shield()
        z, reference = 1 / y[:, 0, 0], 1 / y_reference[:, 0, 0]
    factor = frequency_scale(f, z, reference)
    inside = (f > f[0] * factor) & (f < f[-1] * factor)
    error = np.abs(scaled(f, z, factor) / reference - 1)[inside]
    assert np.median(error) < 0.03
    assert error.max() < 0.05


def test_shield_current_per_feed_current_is_within_half_a_decibel_at_every_frequency():
    # The reference's current ratios are good to 1 % (0.1 dB); both gaps are compared unshifted.
    _, y, reference = with_shield()
    ours = np.abs(y[:, 1, 0] / y[:, 0, 0])
    theirs = np.abs(reference[:, 0, 1] / reference[:, 0, 0])
    assert np.abs(20 * np.log10(ours / theirs)).max() < 0.5


def test_admittance_of_a_gap_in_the_shield_is_within_six_per_cent():
    # A finite strip in the reference, one segment here: notes put the difference at 3 to 6 %.
    _, y, reference = with_shield()
    assert np.median(np.abs(y[:, 1, 1] / reference[:, 1, 1] - 1)) < 0.06


def test_two_port_of_feed_and_shield_is_reciprocal_within_five_per_cent():
    # The limit of the grade "sound"; point matching near a bend does not do much better.
    _, y, _ = with_shield()
    assert np.median(np.abs(y[:, 0, 1] - y[:, 1, 0]) / np.abs(y[:, 0, 1])) < 0.05


def test_current_along_the_shield_follows_the_surface_solution():
    # Points within 10 dB of the largest: near a null a shift of a centimetre is decibels.
    rows = table("J3_shield_current_145.csv")
    reference = np.hypot(rows["I_re_A_per_feedA"], rows["I_im_A_per_feedA"])
    built = build(WITH_SHIELD)
    feed = built.port_segment(built.ports[0])
    current = unit_source_currents(built, np.array([145e6]), None, lossless=True, sources=(feed,))
    position = np.array([s for _, s in built.shield_path])
    ours = np.abs(current[0, 0, [k for k, _ in built.shield_path]] / current[0, 0, feed])
    inside = (rows["s_m"] < position[-1]) & (reference > reference.max() / 10**0.5)
    error = 20 * np.log10(np.interp(rows["s_m"], position, ours) / reference)[inside]
    assert inside.sum() >= 10
    assert np.abs(error).max() < 0.7


@pytest.mark.parametrize("choke", [1000 + 0j, 200j, -200j, 1e7 + 0j], ids=str)
def test_a_choke_in_the_gap_changes_our_antenna_as_it_changes_the_tubes(choke):
    # Both two-ports loaded alike at every frequency, unshifted. Y22 is 3 to 6 % apart, so what is
    # left of the current may be 1 dB apart; the impedance is held to the band's five per cent.
    _, ours, theirs = with_shield()
    source, z = np.array([1.0, 0.0]), np.array([0.0, choke])
    i_ours, i_theirs = (
        port_currents(y, port_voltages(y, np.tile(z, (len(y), 1)), source)) for y in (ours, theirs)
    )
    assert np.abs(i_theirs[:, 0] / i_ours[:, 0] - 1).max() < 0.05
    ratio = np.abs((i_ours[:, 1] / i_ours[:, 0]) / (i_theirs[:, 1] / i_theirs[:, 0]))
    assert np.abs(20 * np.log10(ratio)).max() < 1.0


# Laws


def test_finer_segments_do_not_move_the_frequency_by_more_than_the_stated_error():
    f, z, _ = alone()
    some = f[::4]
    built = build(replace(Plan(REFERENCE), refine=0.75))
    feed = built.port_segment(built.ports[0])
    y = unit_source_currents(built, some, None, lossless=True, sources=(feed,))[:, 0, feed]
    assert np.median(np.abs(1 / y / z[::4] - 1)) < 0.03


def test_a_choke_in_the_gap_follows_the_two_port_formula_with_our_algebra():
    # I2/V1 = Y21/(1 + Y22 Zc), Yin = Y11 - Zc Y12 Y21/(1 + Y22 Zc): elimination of one port, on
    # the reference's own two-port; exact but for rounding.
    _, _, y = with_shield()
    choke = 200 + 300j
    z, source = np.array([0.0, choke]), np.array([1.0, 0.0])
    current = port_currents(y, port_voltages(y, np.tile(z, (len(y), 1)), source))
    down = 1 + y[:, 1, 1] * choke
    np.testing.assert_allclose(current[:, 1], y[:, 1, 0] / down, rtol=1e-10)
    np.testing.assert_allclose(
        current[:, 0], y[:, 0, 0] - choke * y[:, 0, 1] * y[:, 1, 0] / down, rtol=1e-10
    )
