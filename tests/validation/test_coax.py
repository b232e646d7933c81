"""Loss and transformation of coaxial cable, by class."""

from __future__ import annotations

import numpy as np
import pytest

from models.catalogues.parts import coax_class
from pipeline.circuit.line import (
    LinePiece,
    LineRun,
    input_impedance,
    matched_loss_db,
    mismatch_loss_db,
    reflection_coefficient,
    swr,
    through_line,
)
from tests.circuit.test_line import handbook_total_loss_db
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Coaxial cable"


def gamma_of(row: Published) -> complex:
    if "swr" in row.inputs:
        ratio = row.number("swr")
        return complex((ratio - 1) / (ratio + 1))
    load = complex(row.number("r"), row.number("x"))
    return complex(reflection_coefficient(load, row.number("z0")))


def input_of(row: Published) -> complex:
    load = complex(row.number("r"), row.number("x"))
    turn = 2j * np.pi * row.number("wavelengths")
    return complex(input_impedance(load, row.number("z0"), turn, 1.0))


def cable_loss(row: Published) -> float:
    cable = coax_class(row.inputs["cable"])
    return 100 * float(matched_loss_db(1e6 * row.number("f_mhz"), cable.k1, cable.k2))


def run_loss(row: Published) -> float:
    """A matched load at the end of 100 m, no connectors, through the whole line room."""
    f, cable = np.array([1e6 * row.number("f_mhz")]), coax_class(row.inputs["cable"])
    run = LineRun((LinePiece(cable, 100.0),), 0.0)
    return float(through_line(run, f, np.array([cable.z0 + 0j]))[1][0])


def swr_at_input(row: Published) -> float:
    behind = 10 ** (-row.number("matched_db") / 10) * gamma_of(row)
    return float(swr(behind))


LOAD = "{r} + j{x} ohm on {z0} ohm"
QUANTITIES = {
    "total_loss": Quantity(
        "{matched_db} dB of matched loss, SWR {swr} at the load: total loss",
        lambda row: handbook_total_loss_db(row.number("matched_db"), gamma_of(row)),
    ),
    "mismatch_loss": Quantity(
        "SWR {swr}: mismatch loss", lambda row: mismatch_loss_db(gamma_of(row))
    ),
    "input_resistance": Quantity(
        f"{LOAD}, through {{wavelengths}} wavelengths: R", lambda row: input_of(row).real
    ),
    "input_reactance": Quantity(
        f"{LOAD}, through {{wavelengths}} wavelengths: X", lambda row: input_of(row).imag
    ),
    "swr": Quantity(f"{LOAD}: SWR", lambda row: swr(gamma_of(row))),
    "swr_at_input": Quantity(
        "{matched_db} dB of matched loss, SWR {swr} at the load: SWR at the input", swr_at_input
    ),
    "reflection": Quantity(f"{LOAD}: size of the reflection", lambda row: abs(gamma_of(row))),
    "return_loss": Quantity(f"{LOAD}: return loss", lambda row: -20 * np.log10(abs(gamma_of(row)))),
    "matched_loss": Quantity("{cable} at {f_mhz} MHz: matched loss", cable_loss),
}


# Published


@pytest.mark.parametrize("row", published("coax"))
def test_coax_agrees_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


def test_a_run_of_matched_cable_loses_what_the_table_of_its_class_does() -> None:
    # The same loss by the way of a whole feed line, to rounding.
    rows = [p.values[0] for p in published("coax")]
    rows = [r for r in rows if r.quantity == "matched_loss"]
    assert len(rows) >= 10
    for row in rows:
        assert run_loss(row) == pytest.approx(cable_loss(row), rel=1e-9)
