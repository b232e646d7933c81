"""Cable loss, impedance transformation and mismatch.

Published values are in tests/validation/test_coax.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray
from skrf.media import DefinedGammaZ0

from models.catalogues.parts import coax_class
from pipeline.circuit.line import (
    DB_PER_NEPER,
    LinePiece,
    LineRun,
    attenuation,
    input_impedance,
    matched_loss_db,
    mismatch_loss_db,
    propagation_constant,
    reflection_coefficient,
    swr,
    through_line,
    total_loss_db,
)


def handbook_total_loss_db(
    matched_db: NDArray[np.float64], gamma: NDArray[np.complex128]
) -> NDArray[np.float64]:
    """Total loss from the matched loss of the same length and the reflection at the load. [dB]

    10 log10((a^2 - r^2) / (a (1 - r^2))), a = 10^(matched/10), r = abs(gamma): antenna handbooks,
    "additional loss due to standing waves"; from memory.
    """
    ratio, reflected = 10 ** (matched_db / 10), np.abs(gamma) ** 2
    return np.asarray(10 * np.log10((ratio**2 - reflected) / (ratio * (1 - reflected))))


def cascade(
    pieces: list[tuple[str, float]], f: NDArray[np.float64], z_load: NDArray[np.complex128]
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """Impedance and loss of lossy lines before a load, by scikit-rf's wave matrices.

    The loss is the power into the two-port over the power into the load, from the waves.
    """
    band = skrf.Frequency.from_f(f, unit="hz")
    two_port = None
    for name, length in pieces:
        cable = coax_class(name)
        gamma = propagation_constant(f, cable.velocity_factor, attenuation(f, cable.k1, cable.k2))
        line = DefinedGammaZ0(band, z0=50, gamma=gamma).line(length, "m")
        # Pieces are listed from the antenna; waves are followed from the radio.
        two_port = line if two_port is None else line**two_port
    assert two_port is not None
    s, g = two_port.s, (z_load - 50) / (z_load + 50)
    b2 = s[:, 1, 0] / (1 - s[:, 1, 1] * g)
    seen = s[:, 0, 0] + s[:, 0, 1] * g * b2
    loss = 10 * np.log10((1 - abs(seen) ** 2) / (abs(b2) ** 2 * (1 - abs(g) ** 2)))
    return 50 * (1 + seen) / (1 - seen), loss


F = np.array([144e6, 145e6, 146e6])
MAIN = coax_class("10.3 mm foam low-loss")
THIN = coax_class("5 mm foam low-loss")
Z_FEED = np.array([52 + 11j, 20 - 35j, 180 + 90j])
LOADS = np.array([50, 12.5, 200, 40 + 70j, 8 - 120j, 600 + 5j])


# Against another library


@pytest.mark.parametrize("loss_db_per_m", [0.0, 0.05, 0.4])
def test_lossy_line_transforms_loads_as_scikit_rf_does(loss_db_per_m: float) -> None:
    frequency = skrf.Frequency(30, 500, 7, "MHz")
    alpha = loss_db_per_m / DB_PER_NEPER
    gamma = propagation_constant(frequency.f, 0.85, alpha)
    medium = DefinedGammaZ0(frequency, z0=50, gamma=gamma)
    for load in LOADS:
        outside = medium.line(3.7, "m") ** medium.load(reflection_coefficient(load, 50))
        ours = input_impedance(load, 50, gamma, 3.7)
        # Both evaluate the same closed form in double precision.
        np.testing.assert_allclose(ours, outside.z[:, 0, 0], rtol=1e-9)


def test_total_loss_equals_the_power_gain_of_scikit_rf_scattering_parameters() -> None:
    frequency = skrf.Frequency(30, 500, 7, "MHz")
    gamma = propagation_constant(frequency.f, 0.85, attenuation(frequency.f, 4.0e-6, 8.5e-12))
    line = DefinedGammaZ0(frequency, z0=75, z0_port=50, gamma=gamma).line(18.0, "m")
    s = line.s
    for load in LOADS:
        at_load = (load - 50) / (load + 50)
        at_input = s[:, 0, 0] + s[:, 0, 1] * s[:, 1, 0] * at_load / (1 - s[:, 1, 1] * at_load)
        taken = abs(s[:, 1, 0]) ** 2 * (1 - abs(at_load) ** 2)
        offered = (1 - abs(at_input) ** 2) * abs(1 - s[:, 1, 1] * at_load) ** 2
        # Two closed forms of one network in double precision.
        np.testing.assert_allclose(
            total_loss_db(load, 75, gamma, 18.0), -10 * np.log10(taken / offered), atol=1e-9
        )


# Laws


def test_exact_loss_and_handbook_formula_are_one_for_a_real_line_impedance() -> None:
    rng = np.random.default_rng(7)
    loads = rng.uniform(1, 400, 200) + 1j * rng.uniform(-400, 400, 200)
    propagation = rng.uniform(0.001, 0.3, 200) + 1j * rng.uniform(0.1, 9, 200)
    length = rng.uniform(0.1, 20, 200)
    exact = total_loss_db(loads, 50, propagation, length)
    formula = handbook_total_loss_db(
        DB_PER_NEPER * propagation.real * length, reflection_coefficient(loads, 50)
    )
    np.testing.assert_allclose(exact, formula, rtol=1e-7)  # cancellation of cosh and sinh


def test_loss_of_two_lengths_is_the_sum_when_the_second_sees_the_transformed_load() -> None:
    gamma = 0.02 + 3.1j
    middle = input_impedance(LOADS, 50, gamma, 2.3)
    parts = total_loss_db(LOADS, 50, gamma, 2.3) + total_loss_db(middle, 50, gamma, 4.1)
    np.testing.assert_allclose(total_loss_db(LOADS, 50, gamma, 6.4), parts, rtol=1e-10)


def test_matched_line_loses_its_matched_loss_and_any_other_load_more() -> None:
    loss = total_loss_db(LOADS, 50, 0.02 + 3.1j, 5.0)
    matched = DB_PER_NEPER * 0.02 * 5.0
    assert loss[0] == pytest.approx(matched, rel=1e-12)
    assert np.all(loss[1:] > matched)


def test_lossless_line_loses_nothing_whatever_the_load() -> None:
    np.testing.assert_allclose(total_loss_db(LOADS, 50, 3.1j, 5.0), 0, atol=1e-12)


def test_quarter_wave_turns_a_load_into_z0_squared_over_it() -> None:
    np.testing.assert_allclose(
        input_impedance(LOADS, 50, 0.5j * np.pi, 1.0), 2500 / LOADS, rtol=1e-12
    )


def test_half_wave_repeats_the_load() -> None:
    np.testing.assert_allclose(input_impedance(LOADS, 50, 1j * np.pi, 1.0), LOADS, rtol=1e-12)


def test_open_stub_of_a_quarter_wave_is_a_short() -> None:
    assert abs(input_impedance(np.inf, 50, 0.5j * np.pi, 1.0)) < 1e-13


def test_very_long_lossy_line_hides_its_load() -> None:
    np.testing.assert_allclose(input_impedance(LOADS, 50, 0.5 + 3j, 40.0), 50, rtol=1e-12)


def test_swr_and_mismatch_loss_follow_from_one_reflection() -> None:
    gamma = np.linspace(0, 0.99, 50)
    ratio = swr(gamma)
    np.testing.assert_allclose(10 ** (-mismatch_loss_db(gamma) / 10), 4 * ratio / (1 + ratio) ** 2)


def test_attenuation_in_nepers_and_decibels_is_the_same_loss() -> None:
    f = np.array([30e6, 145e6, 500e6])
    ratio = matched_loss_db(f, 4e-6, 8e-12) / attenuation(f, 4e-6, 8e-12)
    np.testing.assert_allclose(ratio, 20 / np.log(10), rtol=1e-14)


def test_propagation_constant_turns_once_in_a_shortened_wavelength() -> None:
    gamma = propagation_constant(145e6, 0.66, 0.01)
    wavelength = 0.66 * 299792458 / 145e6
    assert complex(gamma * wavelength) == pytest.approx(0.01 * wavelength + 2j * np.pi, rel=1e-12)


# Pieces in a row


@pytest.mark.parametrize(
    "pieces",
    [
        [(MAIN.name, 18.0)],
        [(THIN.name, 2.1), (MAIN.name, 16.0)],
        [("RG-58C/U", 7.0), (MAIN.name, 3.0), (THIN.name, 1.0)],
    ],
)
def test_cables_in_a_row_are_the_cascade_of_scikit_rf(pieces: list[tuple[str, float]]) -> None:
    run = LineRun(tuple(LinePiece(coax_class(n), length) for n, length in pieces), 0.0)
    z, loss = through_line(run, F, Z_FEED)
    z_expected, loss_expected = cascade(pieces, F, Z_FEED)
    # The same lossy-line equations twice: only rounding may differ.
    np.testing.assert_allclose(z, z_expected, rtol=1e-9)
    np.testing.assert_allclose(loss, loss_expected, rtol=1e-9)


def test_connectors_add_their_loss_and_change_no_impedance() -> None:
    bare = LineRun((LinePiece(MAIN, 10.0),), 0.0)
    z, loss = through_line(bare, F, Z_FEED)
    z_more, loss_more = through_line(replace(bare, connector_loss_db=0.3), F, Z_FEED)
    np.testing.assert_array_equal(z_more, z)
    np.testing.assert_allclose(loss_more - loss, 0.3, rtol=1e-12)


def test_no_cable_at_all_changes_nothing() -> None:
    z, loss = through_line(LineRun((), 0.0), F, Z_FEED)
    np.testing.assert_array_equal(z, Z_FEED)
    np.testing.assert_array_equal(loss, 0.0)


def test_a_longer_line_always_loses_more() -> None:
    losses = [
        through_line(LineRun((LinePiece(MAIN, length),), 0.0), F, Z_FEED)[1]
        for length in (0.0, 0.5, 5.0, 50.0)
    ]
    np.testing.assert_allclose(losses[0], 0.0, atol=1e-12)
    assert (np.diff(losses, axis=0) > 0).all()


# Edges


def test_line_functions_broadcast_frequency_against_loads() -> None:
    gamma = propagation_constant(np.linspace(144e6, 146e6, 9)[:, None], 0.85, 0.01)
    assert input_impedance(LOADS, 50, gamma, 18.0).shape == (9, 6)
    assert total_loss_db(LOADS, 50, gamma, 18.0).shape == (9, 6)


def test_line_functions_keep_an_empty_axis() -> None:
    empty = np.zeros(0)
    assert matched_loss_db(empty, 1e-6, 1e-12).shape == (0,)
    assert total_loss_db(empty + 50.0, 50, empty, 1.0).shape == (0,)
    assert swr(empty).shape == (0,)


def test_line_of_no_length_changes_nothing() -> None:
    np.testing.assert_allclose(input_impedance(LOADS, 50, 0.1 + 3j, 0.0), LOADS, rtol=1e-14)
    np.testing.assert_allclose(total_loss_db(LOADS, 50, 0.1 + 3j, 0.0), 0, atol=1e-12)


# Refusals


@pytest.mark.parametrize("function", [swr, mismatch_loss_db])
@pytest.mark.parametrize("gamma", [1.0, -1.0, 1.2j, np.nan])
def test_full_reflection_has_no_swr_and_no_mismatch_loss(function: object, gamma: complex) -> None:
    with pytest.raises(ValueError, match=r"abs\(gamma\) must be below 1"):
        function([0.2, gamma])  # type: ignore[operator]


@pytest.mark.parametrize("load", [0, 30j, -5 + 3j, np.inf, np.nan])
def test_load_that_takes_no_power_has_no_total_loss(load: complex) -> None:
    with pytest.raises(ValueError, match="positive, finite resistance"):
        total_loss_db(load, 50, 0.1 + 1j, 1.0)


def test_negative_length_is_refused() -> None:
    with pytest.raises(ValueError, match="length must not be negative"):
        input_impedance(50, 50, 1j, [1.0, -1.0])
    with pytest.raises(ValueError, match="length must not be negative"):
        total_loss_db(50, 50, 1j, -1.0)


@pytest.mark.parametrize("velocity_factor", [0.0, -0.5, 1.01, float("nan")])
def test_velocity_factor_beyond_light_is_refused(velocity_factor: float) -> None:
    with pytest.raises(ValueError, match="above 0 and at most 1"):
        propagation_constant(145e6, velocity_factor)
