"""J-poles with and without a hanging cable, for tests of geometry and solver.

Other antennas too, where a test names their generator.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.antennas import j_pole
from models.antennas.generator import Drawing, FinishedAntenna, Generator
from models.antennas.j_pole import RULES, SizedJPole
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Helix, Step
from models.site.installation import (
    Feedline,
    ShieldCable,
    assemble,
    refuse_bad_segments,
    shield_rule,
)
from models.site.shield import ShieldRule, Zone
from models.site.soil import Soil
from models.wires.pipe_cage import (
    THICKEST_WIRE,
    Cage,
    cage_ring_radius,
    choose_wire_count,
)
from models.wires.structure import PERFECT, Material, Structure

AVERAGE = Soil(13.0, 0.005)
# The J-pole of the surface-mesh reference, bridge and shield of 8 mm.
REFERENCE = SizedJPole(0.055, 1.48, 0.49, 0.055, 0.008)


@dataclass(frozen=True)
class Plan:
    """What to build; lengths in m, frequency in Hz."""

    antenna: object = REFERENCE
    pipe_diameter: float = 0.022
    shield_radius: float = 0.004
    frequency: float = 145e6
    joins: str | None = None
    steps: tuple[Step, ...] = (Step("out", 0.15), Step("down", 1.0))
    lead: float = 0.25
    zones: tuple[Zone, ...] = ()
    helix: Helix | None = None
    jacket: Material = PERFECT
    height: float = 0.0
    grounded: bool = False
    mast: float = 0.0
    refine: float = 1.0
    generator: Generator = j_pole.GENERATOR


def by_rule(pipe_diameter: float, frequency: float) -> SizedJPole:
    """Lengths by the generator's own rule, legs two and a half diameters apart."""
    wavelength = SPEED_OF_LIGHT_NEC / frequency
    lengths = [w * wavelength + d * pipe_diameter for w, d in RULES.values()]
    return SizedJPole(2.5 * pipe_diameter, *lengths, 0.008)


def parts(plan: Plan) -> tuple[FinishedAntenna, Feedline | None, ShieldRule]:
    """Antenna with its base line on z = 0, its cable, and the rule the cable is cut by."""
    wavelength = SPEED_OF_LIGHT_NEC / plan.frequency
    pipe_radius = plan.pipe_diameter / 2
    radius = min(plan.shield_radius, THICKEST_WIRE * pipe_radius)
    if plan.generator.thinnest is not None:
        radius = min(radius, plan.generator.thinnest(plan.antenna))
    n = choose_wire_count(pipe_radius, radius)
    cage = Cage(n, cage_ring_radius(pipe_radius, radius, n), radius, "antenna", PERFECT)
    drawing = Drawing(cage, pipe_radius, wavelength, plan.refine, plan.mast)
    antenna = plan.generator.build(plan.antenna, drawing)
    rule = shield_rule(plan.pipe_diameter, wavelength, plan.refine, plan.shield_radius)
    feedline = None
    if plan.joins is not None:
        feedline = Feedline(
            plan.joins,
            plan.steps,
            ShieldCable(radius, plan.jacket),
            ShieldCable(plan.shield_radius, plan.jacket),
            plan.zones,
            plan.helix,
            0.00225,
            plan.lead,
        )
    return antenna, feedline, rule


def build(plan: Plan) -> Structure:
    """A checked structure."""
    antenna, feedline, rule = parts(plan)
    built = assemble("test", antenna, feedline, rule, plan.height, plan.grounded)
    refuse_bad_segments(built, SPEED_OF_LIGHT_NEC / plan.frequency, plan.grounded)
    return built


def port_matrix(currents: NDArray[np.complex128], built: Structure) -> NDArray[np.complex128]:
    """Admittances of all ports, shape (n_frequency, n_port, n_port) [S]."""
    return np.asarray(currents[:, :, built.port_segments].transpose(0, 2, 1))
