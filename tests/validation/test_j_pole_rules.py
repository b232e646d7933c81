"""Lengths of tuned J-poles beside rules and constructions that are printed for them.

A printed rule is a place to start from: it knows neither gap nor cable, and seldom says from where
it counts. So the tolerances are wide, and each says why.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from importlib.resources import files

import pytest

from models.antennas.j_pole import JPole, SizedJPole
from models.catalogues.parts import pipe
from pipeline.design.tuning import tune
from pipeline.solver.structures import sized_antenna
from pipeline.study.reader import load_study
from pipeline.study.records import Antenna
from pipeline.study.whole_study import default_band
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Lengths of J-poles"
INCH = 0.0254


@cache
def tuned(f_mhz: float, pipe_name: str, spacing_mm: float) -> tuple[SizedJPole, float]:
    """A J-pole tuned in free space with an ideal choke, and half its pipe's diameter [m]."""
    study = load_study(str(files("models") / "studies" / "minimal.yaml"))
    study = replace(
        study,
        frequency=1e6 * f_mhz,
        band=default_band(1e6 * f_mhz),
        antenna=Antenna("j-pole", JPole(spacing=1e-3 * spacing_mm)),
        pipe=pipe(pipe_name),
        site=replace(study.site, ground=None),
        tune=replace(study.tune, choke="ideal"),
    )
    found = tune(study)
    assert found.met
    return sized_antenna(found.after).antenna, study.pipe.outside_diameter / 2


def length(say: Callable[[SizedJPole, float], float]) -> Callable[[Published], float]:
    """A length of the tuned antenna of a row."""

    def value(row: Published) -> float:
        return say(*tuned(row.number("f_mhz"), row.inputs["pipe"], row.number("spacing_mm")))

    return value


WHAT = "J of {pipe} at {f_mhz} MHz, {spacing_mm} mm apart, tuned:"
QUANTITIES = {
    "short_leg": Quantity(f"{WHAT} short leg", length(lambda a, r: 1e3 * a.short_leg)),
    "long_leg": Quantity(f"{WHAT} long leg", length(lambda a, r: 1e3 * a.long_leg)),
    "tap": Quantity(f"{WHAT} tap", length(lambda a, r: a.tap / INCH)),
    "short_leg_outside": Quantity(
        f"{WHAT} short leg from the lower edge", length(lambda a, r: (a.short_leg + r) / INCH)
    ),
    "long_leg_outside": Quantity(
        f"{WHAT} long leg from the lower edge", length(lambda a, r: (a.long_leg + r) / INCH)
    ),
    "tap_outside": Quantity(
        f"{WHAT} tap from the lower edge", length(lambda a, r: (a.tap + r) / INCH)
    ),
    "tap_share": Quantity(
        f"{WHAT} tap over short leg, both from the crossbar's wall",
        length(lambda a, r: (a.tap - r) / (a.short_leg - r)),
    ),
}


@pytest.mark.parametrize("row", published("j_pole_rules"))
def test_a_tuned_j_pole_has_the_lengths_that_are_printed(row: Published) -> None:
    row.check(QUANTITIES)
