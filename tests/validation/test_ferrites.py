"""Ferrite: permeability tables and one-pass impedances of cores, by class."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy.constants import mu_0

from models.catalogues.parts import FerriteCore, ferrite_core, ferrite_material
from pipeline.circuit.choke_materials import computed_impedance, one_pass
from pipeline.circuit.ferrite_and_sleeve import interpolate_over_log_f
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Ferrite cores"


def permeability(material: str, f: ArrayLike) -> NDArray[np.complex128]:
    table = ferrite_material(material)
    return interpolate_over_log_f(f, table.frequency, table.mu_r)


def in_air(core: FerriteCore) -> float:
    """Inductance of the wire's own flux in the core's place. [H]"""
    ratio = core.outer_diameter / core.inner_diameter
    return float(mu_0 / (2 * np.pi) * core.length * np.log(ratio))


def total(row: Published) -> complex:
    """What a bench sees: the added impedance and the wire's own flux in the core's place."""
    core, f = ferrite_core(row.inputs["core"]), 1e6 * row.number("f_mhz")
    added = complex(computed_impedance(core, np.array([f]))[0])
    return added + 2j * np.pi * f * in_air(core)


def taken(row: Published) -> float:
    """Size of the impedance that the project takes, prints and measurements first. [ohm]"""
    z = one_pass(ferrite_core(row.inputs["core"]), 1e6 * row.number("f_mhz"))
    assert z is not None
    return abs(z)


def inductance_per_turn_squared(row: Published) -> float:
    return 1e9 * total(row).imag / (2e6 * np.pi * row.number("f_mhz"))


def density(row: Published) -> float:
    core = ferrite_core(row.inputs["core"])
    section = np.pi / 4 * (core.outer_diameter**2 - core.inner_diameter**2)
    return 1e-3 * core.mass / float(section * core.length)


def permeability_of(row: Published) -> complex:
    return complex(permeability(row.inputs["material"], 1e6 * row.number("f_mhz")))


QUANTITIES = {
    "initial": Quantity(
        "{material}: initial permeability",
        lambda row: ferrite_material(row.inputs["material"]).mu_r[0].real,
    ),
    "permeability_real": Quantity(
        "{material} at {f_mhz} MHz: mu'", lambda row: permeability_of(row).real
    ),
    "permeability_imag": Quantity(
        "{material} at {f_mhz} MHz: mu''", lambda row: -permeability_of(row).imag
    ),
    "resistance": Quantity("{core}, one pass at {f_mhz} MHz: R", lambda row: total(row).real),
    "reactance": Quantity("{core}, one pass at {f_mhz} MHz: X", lambda row: total(row).imag),
    "size": Quantity("{core}, one pass at {f_mhz} MHz: size of Z", lambda row: abs(total(row))),
    "taken_size": Quantity("{core}, one pass at {f_mhz} MHz: size of Z as taken", taken),
    "inductance_per_turn_squared": Quantity(
        "{core}: inductance per turn squared", inductance_per_turn_squared
    ),
    "density": Quantity("{core}: density from mass and size", density),
}


# Published


@pytest.mark.parametrize("row", published("ferrites"))
def test_ferrites_agree_with_data_sheets(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


def test_mix_31_has_no_reactance_above_353_megahertz_because_its_table_ends_at_nil() -> None:
    # The source prints mu' = 0 there: the floor of its curve, not a property of the material.
    assert permeability("mix-31", 435e6).real == 0
    assert permeability("mix-31", 300e6).real > 0
    assert permeability("mix-31", 435e6).imag < -20
