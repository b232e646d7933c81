"""Relatives of the J-pole with and without a hanging cable, for tests of their generators."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import Drawing, Generator
from models.catalogues.parts import pipe
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Step
from models.site.installation import (
    Feedline,
    ShieldCable,
    assemble,
    refuse_bad_segments,
    shield_rule,
)
from models.site.shield import Zone
from models.wires.pipe_cage import THICKEST_WIRE, Cage, cage_ring_radius, choose_wire_count
from models.wires.segmentation import feed_thickness, worst_neighbour_ratio
from models.wires.structure import PERFECT, Structure
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.solver.far_field import Directions, directive_power, far_field
from pipeline.solver.nec2 import solver_pattern, unit_source_currents
from tests.harness.installations import port_matrix

# Pipes and bands a generator is meant for; the thin and the thick cable [m].
FAMILY = [(d, f) for d in (0.015, 0.022, 0.028) for f in (52e6, 145e6, 435e6)]
PIPES = {0.015: "15x1 mm", 0.022: "22x1 mm", 0.028: "28x1 mm"}
THICK, THIN = 0.004065, 0.00183


@dataclass(frozen=True)
class Case:
    """An antenna in free space; ``joins`` names the leg that 0.9 wavelengths of cable hang from."""

    generator: Generator
    antenna: Any
    pipe_diameter: float
    frequency: float
    joins: str | None = None
    shield_radius: float = THICK
    refine: float = 1.0
    mast: float = 0.0


def by_rule(generator: Generator, diameter: float, frequency: float, **given: float) -> Any:
    """Lengths by the generator's own rule, legs two and a half diameters apart."""
    parameters = generator.parameters(**{"spacing": 2.5 * diameter} | given)
    return generator.sized(parameters, pipe(PIPES[diameter]), frequency, 2 * THICK)[0]


def build(case: Case) -> Structure:
    """A checked structure without loss."""
    c, radius = case, case.pipe_diameter / 2
    wavelength = SPEED_OF_LIGHT_NEC / c.frequency
    wire = min(c.shield_radius, THICKEST_WIRE * radius)
    n = choose_wire_count(radius, wire)
    cage = Cage(n, cage_ring_radius(radius, wire, n), wire, "antenna", PERFECT)
    antenna = c.generator.build(c.antenna, Drawing(cage, radius, wavelength, c.refine, c.mast))
    rule = shield_rule(c.pipe_diameter, wavelength, c.refine, c.shield_radius)
    feedline = None
    if c.joins is not None:
        out = 0.15 if c.frequency < 400e6 else 0.10
        feedline = Feedline(
            joins=c.joins,
            steps=(Step("out", out), Step("down", 0.6 * wavelength)),
            first=ShieldCable(wire, PERFECT),
            rest=ShieldCable(c.shield_radius, PERFECT),
            zones=(Zone(max(0.05, 1.5 * c.pipe_diameter), 0.0),),
            helix=None,
            bond_radius=0.00225,
            station_lead=0.3 * wavelength,
        )
    built = assemble("test", antenna, feedline, rule, 0.0, False)
    refuse_bad_segments(built, wavelength, False)
    return built


@dataclass(frozen=True)
class Evidence:
    """What a drawing says about itself."""

    average_gain: float
    asymmetry: float
    neighbour_ratio: float
    feed_thickness: float


def evidence(case: Case) -> Evidence:
    """Average gain, symmetry of feed and cable, ratio of neighbours, thickness of the feed."""
    built, f = build(case), case.frequency
    y = port_matrix(unit_source_currents(built, np.array([f]), None, True), built)[0]
    return Evidence(
        solver_pattern(built, f, None, lossless=True, step_deg=10.0).average_gain,
        transfer_asymmetry(y, 0),
        worst_neighbour_ratio(built),
        feed_thickness(built),
    )


def currents(built: Structure, f: float) -> NDArray[np.complex128]:
    """Segment currents per volt at the feed, shape (n_segment,). [A]"""
    feed = int(built.port_segments[0])
    return np.asarray(unit_source_currents(built, np.array([f]), None, True, sources=(feed,))[0, 0])


def z_feed(built: Structure, f: float) -> complex:
    """Impedance at the feed, the bridge's own inductance included. [ohm]"""
    z = 1 / currents(built, f)[built.port_segments[0]]
    return complex(z + 2j * np.pi * f * built.ports[0].series_inductance)


def swr(z: complex) -> float:
    """Standing-wave ratio on a line of 50 ohm."""
    reflection = abs((z - 50) / (z + 50))
    return float((1 + reflection) / (1 - reflection))


def horizon_gain(built: Structure, f: float) -> NDArray[np.float64]:
    """Directive gain towards the horizon at eight azimuths from the long leg to the short. [dBi]"""
    current = currents(built, f)
    azimuths = np.arange(8) * np.pi / 4
    grid = Directions(np.array([np.pi / 2]), azimuths)
    density = directive_power(far_field(built.segments, current[None], f, None, grid)[0])[0]
    power = 0.5 * current[built.port_segments[0]].real
    return np.asarray(10 * np.log10(4 * np.pi * density / power))


def mean_horizon_gain(built: Structure, f: float) -> float:
    """Mean over azimuth, as power. [dBi]"""
    return float(10 * np.log10(np.mean(10 ** (horizon_gain(built, f) / 10))))


def vertical_moment(
    built: Structure, current: NDArray[np.complex128], low: float, high: float
) -> complex:
    """Sum of current times height over segments between two heights. [A m]"""
    seg = built.segments
    inside = (seg.centre[:, 2] > low) & (seg.centre[:, 2] < high)
    return complex((current * seg.direction[:, 2] * seg.length)[inside].sum())
