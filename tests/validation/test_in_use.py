"""Heat that a body gives to still air, Curie points, power that a cable bears."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.constants import Stefan_Boltzmann

from models.catalogues.parts import coax_class
from models.catalogues.working_limits import curie_point, still_air
from pipeline.analysis.line_choice import average_power
from pipeline.circuit.convection import (
    Body,
    film_coefficient,
    heat_given,
    horizontal_cylinder_nusselt,
    temperature_rise,
)
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Heat, Curie points and power of cables"


def area_of(row: Published) -> float:
    return float(np.pi * row.number("diameter") * row.number("length"))


def convected(row: Published) -> float:
    surface, ambient = row.number("surface"), row.number("ambient")
    film = film_coefficient(surface, ambient, row.number("diameter"), still_air())
    return film * area_of(row) * (surface - ambient)


def radiated(row: Published) -> float:
    """What a body gives off in all, less what air takes at an emissivity next to nothing."""
    surface, ambient = row.number("surface"), row.number("ambient")
    whole, dark = (
        Body(row.number("diameter"), area_of(row), emissivity)
        for emissivity in (row.number("emissivity"), 1e-9)
    )
    air = still_air()
    return heat_given(surface, ambient, whole, air) - heat_given(surface, ambient, dark, air)


def rise(row: Published) -> float:
    body = Body(row.number("diameter"), area_of(row), row.number("emissivity"))
    return temperature_rise(row.number("heat"), body, row.number("ambient"), still_air())


def rated(row: Published) -> float:
    found = average_power(coax_class(row.inputs["cable"]), 1e6 * row.number("f_mhz"), 1.0)
    assert found is not None
    return found


PIPE = "pipe of {diameter} m, {length} m long, at {surface} K in air of {ambient} K"
QUANTITIES = {
    "nusselt": Quantity(
        "horizontal cylinder, Rayleigh number {rayleigh}, Prandtl number {prandtl}: Nusselt number",
        lambda row: horizontal_cylinder_nusselt(row.number("rayleigh"), row.number("prandtl")),
    ),
    "convected": Quantity(f"{PIPE}: heat to the air", convected),
    "radiated": Quantity(f"{PIPE}, emissivity {{emissivity}}: radiated", radiated),
    "rise_of_given_heat": Quantity(
        "{heat} W in a pipe of {diameter} m, {length} m long, emissivity {emissivity}, in air of "
        "{ambient} K: rise",
        rise,
    ),
    "curie": Quantity(
        "{material}: Curie point",
        lambda row: round(curie_point(row.inputs["material"]).temperature - 273.15, 6),
    ),
    "average_power": Quantity("{cable} at {f_mhz} MHz: power all the time", rated),
}


# Published


@pytest.mark.parametrize("row", published("in_use"))
def test_parts_in_use_agree_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


def test_a_black_body_radiates_by_the_fourth_power() -> None:
    # Stefan and Boltzmann: 459 W/m2 at 300 K against nothing; here between 300 and 400 K.
    bodies = Body(1.0, 1.0, 1.0), Body(1.0, 1.0, 1e-9)
    got = [heat_given(400.0, 300.0, body, still_air()) for body in bodies]
    assert got[0] - got[1] == pytest.approx(Stefan_Boltzmann * (400.0**4 - 300.0**4), rel=1e-6)
