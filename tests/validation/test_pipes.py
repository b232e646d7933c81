"""Sizes and masses of tube as sold."""

from __future__ import annotations

import pytest

from models.catalogues.parts import pipe
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Tube"
POUND_PER_FOOT = 0.45359237 / 0.3048


def inside(row: Published) -> float:
    tube = pipe(row.inputs["pipe"])
    return 1e3 * (tube.outside_diameter - 2 * tube.wall)


QUANTITIES = {
    "mass": Quantity(
        "{pipe}: mass per length", lambda row: pipe(row.inputs["pipe"]).mass_per_m / POUND_PER_FOOT
    ),
    "metric_mass": Quantity(
        "{pipe}: mass per length", lambda row: pipe(row.inputs["pipe"]).mass_per_m
    ),
    "outside": Quantity(
        "{pipe}: outside diameter", lambda row: pipe(row.inputs["pipe"]).outside_diameter / 0.0254
    ),
    "metric_outside": Quantity(
        "{pipe}: outside diameter", lambda row: pipe(row.inputs["pipe"]).outside_diameter * 1e3
    ),
    "wall": Quantity("{pipe}: wall", lambda row: pipe(row.inputs["pipe"]).wall / 0.0254),
    "inside": Quantity("{pipe}: inside diameter", inside),
}


@pytest.mark.parametrize("row", published("pipes"))
def test_tube_agrees_with_its_standard(row: Published) -> None:
    row.check(QUANTITIES)
