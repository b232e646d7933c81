"""Wire in a dielectric jacket: the inductance that stands for it, and the slower wave."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.constants import c, epsilon_0
from scipy.optimize import brentq
from scipy.special import k0e, k1e

from models.quantities import SPEED_OF_LIGHT_NEC
from models.wires.structure import Material, Port, Structure, Wire
from pipeline.circuit.line import jacket_inductance
from pipeline.solver.nec2 import unit_source_currents
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Insulated wire"


def jacket(row: Published) -> float:
    wire, over = 1e-3 * row.number("wire_mm"), 1e-3 * row.number("jacket_mm")
    return jacket_inductance(wire, over, row.number("eps_r"))


def slowing(row: Published) -> float:
    """Slowing of the surface wave on a wire that carries the jacket's inductance."""
    omega, radius = 2e6 * np.pi * row.number("f_mhz"), 0.5e-3 * row.number("wire_mm")
    surface_reactance = omega * jacket(row) * 2 * np.pi * radius

    def mismatch(decay: float) -> float:
        outside = k0e(decay * radius) / k1e(decay * radius)
        return float(decay * outside / (omega * epsilon_0) - surface_reactance)

    decay = brentq(mismatch, 1e-3, 10.0, xtol=1e-12)
    return float(np.hypot(omega / c, decay) / (omega / c) - 1)


@cache
def phase_constant(wire_radius: float, inductance: float, f: float) -> float:
    """Phase constant of the current along a long wire, far from its source and end. [1/m]"""
    wavelength = SPEED_OF_LIGHT_NEC / f
    per_wavelength, n = 20, 400
    length = n / per_wavelength * wavelength
    material = Material(np.inf, inductance)
    wire = Wire((0.0, 0.0, 0.0), (0.0, 0.0, length), n, wire_radius, "shield", material)
    built = Structure("long wire", (wire,), (Port("feed", 0, n // 8),))
    current = unit_source_currents(built, np.array([f]), None)[0, 0]
    # A forward and a backward wave obey I(s + d) + I(s - d) = 2 cos(beta d) I(s).
    d = per_wavelength // 5
    part = current[n // 8 + 15 : n - 10]
    middle, sides = part[d:-d], part[2 * d :] + part[: -2 * d]
    cosine = 0.5 * np.vdot(middle, sides) / np.vdot(middle, middle)
    return float(np.arccos(cosine.real) / (d * wavelength / per_wavelength))


def slowing_of_guided_wave(row: Published) -> float:
    radius, f = 0.5e-3 * row.number("wire_mm"), 1e6 * row.number("f_mhz")
    return phase_constant(radius, jacket(row), f) / phase_constant(radius, 0.0, f) - 1


WORDS = "{wire_mm} mm wire in {jacket_mm} mm jacket of permittivity {eps_r}"
QUANTITIES = {
    "jacket_inductance": Quantity(f"{WORDS}: inductance", lambda row: 1e9 * jacket(row)),
    "slowing": Quantity(f"{WORDS}, {{f_mhz}} MHz: slowing", lambda row: 100 * slowing(row)),
    "slowing_solved": Quantity(
        f"{WORDS}, {{f_mhz}} MHz: slowing in the solved current",
        lambda row: 100 * slowing_of_guided_wave(row),
    ),
}


# Published


@pytest.mark.parametrize("row", published("insulated_wire"))
def test_insulated_wire_agrees_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


def test_a_bare_lossless_wire_carries_its_current_at_the_speed_of_light() -> None:
    # Sommerfeld's wave on perfect metal has no delay; twenty wavelengths leave 0.1 % of radiation.
    wavelength = SPEED_OF_LIGHT_NEC / 145e6
    assert phase_constant(4.05e-3, 0.0, 145e6) * wavelength / (2 * np.pi) == pytest.approx(
        1, abs=1e-3
    )
