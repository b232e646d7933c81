"""J-poles with a cable and something around them, for tests of drawing and solver."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Step
from models.site.installation import assemble, own_run, refuse_bad_segments
from models.site.mast import Mast
from models.site.metalwork import Setting, Surroundings
from models.site.soil import Soil
from models.wires.structure import PERFECT, Structure
from pipeline.solver.nec2 import unit_source_currents
from tests.harness.installations import Plan
from tests.harness.installations import parts as parts_of

F = np.array([145e6])
ASIDE = (Step("out", 0.10), Step("down", 1.5), Step("left", 0.5))


def surrounded(
    around: Surroundings, plan: Plan | None = None, rod: complex | None = None
) -> Structure:
    """A J-pole 3 m up with its cable and what stands around it."""
    plan = plan or Plan(joins="short leg", steps=ASIDE, height=3.0)
    antenna, feedline, rule = parts_of(plan)
    wavelength = SPEED_OF_LIGHT_NEC / plan.frequency
    run = None if feedline is None else own_run(antenna, feedline, plan.height)
    setting = Setting(
        around, plan.height, plan.shield_radius, wavelength, plan.refine, PERFECT, run, rod=rod
    )
    built = assemble("test", antenna, feedline, rule, plan.height, plan.grounded, setting)
    refuse_bad_segments(built, wavelength, plan.grounded)
    return built


def mast(**changes: object) -> Surroundings:
    return Surroundings(mast=replace(Mast(True, 0.021, 2.4), **changes))


def feed_of(built: Structure, soil: Soil | None = None) -> tuple[complex, np.ndarray]:
    """Impedance at the feed [ohm] and all currents per feed current."""
    feed = int(built.port_segments[0])
    current = unit_source_currents(built, F, soil, True, sources=(feed,))[0, 0]
    return complex(1 / current[feed]), current / current[feed]
