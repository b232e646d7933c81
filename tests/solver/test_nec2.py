"""The solver's room: handbook values, what it must refuse, and what a crash may cost."""

from __future__ import annotations

import faulthandler
import os
import signal
import time

import numpy as np
import pytest

from models.wires.structure import Material, Port, Structure, Wire
from pipeline.solver.decks import distributed_loads
from pipeline.solver.field_solver import in_worker
from pipeline.solver.nec2 import solver_pattern, unit_source_currents
from pipeline.text.errors import SolverError
from tests.harness.antenna_with_cable import Plan, build


def dipole(
    length: float, radius: float, n: int, feed: int, material: Material | None = None
) -> Structure:
    half = length / 2
    extra = {} if material is None else {"material": material}
    wire = Wire((0.0, 0.0, -half), (0.0, 0.0, half), n, radius, "antenna", **extra)
    return Structure("dipole", (wire,), (Port("feed", 0, feed),))


def z_in(built: Structure, f: float, **more: object) -> complex:
    feed = int(built.port_segments[0])
    current = unit_source_currents(built, np.array([f]), None, sources=(feed,), **more)
    return complex(1 / current[0, 0, feed])


def f_of(wavelength: float) -> float:
    return 299.792458e6 / wavelength


# Published


def test_a_thin_half_wave_dipole_approaches_the_textbook_impedance():
    # Balanis, Antenna Theory, ch. 8: 73.1 + j42.5 for a vanishing radius. The correction goes as
    # one over the thickness parameter 2 ln(2l/a), so it is extrapolated to zero from three radii.
    omega, z = [], []
    for radius in (1e-5, 1e-7, 1e-9):
        omega.append(1 / (2 * np.log(1.0 / radius)))
        z.append(z_in(dipole(0.5, radius, 101, 50), f_of(1.0)))
    r = np.polyfit(omega, np.real(z), 2)[-1]
    x = np.polyfit(omega, np.imag(z), 2)[-1]
    assert r == pytest.approx(73.1, abs=1.0)
    assert x == pytest.approx(42.5, abs=1.5)


def test_a_thin_half_wave_dipole_has_two_point_one_five_dbi():
    pattern = solver_pattern(dipole(0.5, 1e-6, 41, 20), f_of(1.0), None)
    power = 0.5 * (1 / pattern.z_in).real
    peak = (np.abs(pattern.e_theta) ** 2).max() / (2 * 376.73)
    assert 10 * np.log10(4 * np.pi * peak / power) == pytest.approx(2.15, abs=0.03)


def test_a_shorted_two_wire_stub_shows_the_handbook_impedance():
    # (eta/pi) acosh(D/d) = 276 log10(2D/d) for thin wires; D/d = 25: 469 ohm. Input reactance of
    # an eighth of a wave is that value; the ends' fringing is worth a few per cent.
    spacing, radius, length = 0.05, 1e-3, 2.0
    z0 = 376.73 / np.pi * np.arccosh(spacing / (2 * radius))

    def stub(tall: float) -> Structure:
        a, b = (0.0, 0.0, 0.0), (spacing, 0.0, 0.0)
        top = ((0.0, 0.0, tall), (spacing, 0.0, tall))
        n = round(tall / 0.025)
        wires = (
            Wire(a, b, 3, radius, "bridge"),
            Wire(a, top[0], n, radius, "leg"),
            Wire(b, top[1], n, radius, "leg"),
            Wire(top[0], top[1], 3, radius, "short"),
        )
        return Structure("stub", wires, (Port("feed", 0, 1),))

    f = 3e6  # quasi-static: reactance per length gives the inductance, hence the impedance
    slope = (z_in(stub(length), f).imag - z_in(stub(length / 2), f).imag) / (length / 2)
    assert slope / (2 * np.pi * f) * 299.792458e6 == pytest.approx(z0, rel=0.02)


# Laws


def test_a_lossless_antenna_in_free_space_radiates_what_it_takes_in():
    assert solver_pattern(dipole(0.5, 1e-4, 41, 20), f_of(1.0), None).average_gain == (
        pytest.approx(1, abs=0.005)
    )


def test_all_lengths_times_k_at_frequency_over_k_leave_the_impedance_alone():
    small, large = dipole(0.5, 1e-3, 21, 10), dipole(1.5, 3e-3, 21, 10)
    assert z_in(small, 300e6) == pytest.approx(z_in(large, 100e6), rel=1e-6)


@pytest.mark.usefixtures("solved_afresh")
def test_a_second_run_gives_the_same_bits():
    built = build(Plan())
    one, two = (unit_source_currents(built, np.array([145e6]), None) for _ in range(2))
    np.testing.assert_array_equal(one, two)


@pytest.mark.usefixtures("solved_afresh")
def test_a_worker_gives_back_what_the_function_returns():
    built = dipole(0.5, 1e-3, 7, 3)
    f = np.array([299.8e6])
    here = unit_source_currents(built, f, None)
    np.testing.assert_array_equal(
        in_worker("dipole", 60.0, unit_source_currents, built, f, None), here
    )


# Edges


def test_loads_of_neighbours_are_given_as_one_card():
    metal = Material(5.8e7, 2e-8)
    wires = tuple(
        Wire((0.0, 0.0, 0.1 * k), (0.0, 0.0, 0.1 * (k + 1)), 2, 1e-3, "x", m)
        for k, m in enumerate((metal, metal, Material()))
    )
    built = Structure("chain", wires, (Port("feed", 0, 0),))
    assert distributed_loads(built) == [(5, 1, 4, 5.8e7), (2, 1, 4, 2e-8)]


# Refusals


def _die() -> None:
    faulthandler.disable()  # a crash on purpose leaves no trace in the test's output
    os.kill(os.getpid(), signal.SIGSEGV)


def test_a_crash_of_the_solver_costs_one_geometry_and_names_it():
    with pytest.raises(SolverError, match="gable") as caught:
        in_worker("gable", 60.0, _die)
    assert "crashed" in str(caught.value)
    assert caught.value.exit_code == 4


def test_a_solver_that_hangs_is_ended_and_named():
    begun = time.monotonic()
    with pytest.raises(SolverError, match="did not finish"):
        in_worker("gable", 0.5, time.sleep, 60)
    assert time.monotonic() - begun < 20


def test_a_geometry_the_engine_refuses_becomes_an_error_that_names_it():
    twice = Wire((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 5, 1e-3, "x")
    across = Wire((-0.5, 0.0, 0.5), (0.5, 0.0, 0.5), 5, 1e-3, "x")
    built = Structure("crossed", (twice, across), (Port("feed", 0, 2),))
    with pytest.raises(SolverError, match="crossed"):
        unit_source_currents(built, np.array([145e6]), None)


def test_numbers_that_are_not_finite_are_refused():
    # At zero frequency the engine answers NaN without a word.
    with pytest.raises(SolverError, match="not finite"):
        unit_source_currents(dipole(0.5, 1e-3, 7, 3), np.array([0.0]), None)
