"""Joints of pipe antennas as their generators draw them, beside solutions on their tubes' walls.

Four structures of tests/validation/surface: a hub with radials (B1), a folded end (B2), a gamma arm
(B3) and the mouth of a sleeve (B4). B1 and B3 are whole antennas; for B2 and B4 the parts that
folded J and sleeve dipole are made of are put together as the tubes are. The inside of a sleeve is
a shorted line in series with a port at its mouth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.antennas import sleeve_dipole
from models.antennas.generator import Drawing
from models.antennas.hub import thinnest_wire
from models.antennas.j_stub import bent_pipe, drawn_spacing
from models.antennas.sleeve_dipole import SizedSleeveDipole
from models.quantities import SPEED_OF_LIGHT_NEC
from models.wires.pipe_cage import Cage, cage_ring_radius, choose_wire_count
from models.wires.pipe_parts import ROD_TIP, STRAP_OUT, WireBuilder
from models.wires.segmentation import SegmentRule, collisions, segment_limits
from models.wires.sleeve_wires import mouth_capacitance
from models.wires.structure import PERFECT, GeometryError, Structure, Wire
from pipeline.circuit.ferrite_and_sleeve import SleeveSection, sleeve_impedance
from pipeline.solver.far_field import Directions, far_field, radiated_power
from pipeline.solver.nec2 import unit_source_currents
from tests.harness.antenna_with_cable import Plan, build
from tests.validation.case_antennas import Drawn as Known
from tests.validation.case_antennas import antenna_of
from tests.validation.surface.tubes import Case

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# Segments at joints in pipe diameters, as the generators of all J have it.
JOINT = 0.55
UP = np.array([0.0, 0.0, 1.0])
# No loss, as on the tubes [S/m].
LOSSLESS = 1e30


@dataclass(frozen=True)
class Sleeve:
    """Inside of a sleeve: radii of its wall and of the rod, length to the plate [m]; ``across``
    [F] lies across its mouth."""

    wall: float
    rod: float
    length: float
    across: float

    def impedance(self, f: Real) -> Complex:
        """Impedance in series at the mouth [ohm]: the shorted line and the mouth's capacitance."""
        bore, rod = 2 * self.wall, 2 * self.rod
        section = SleeveSection(rod, rod, 1.0, bore, LOSSLESS, LOSSLESS)
        line = sleeve_impedance(f, self.length, section)
        return np.asarray(1 / (1 / line + 2j * np.pi * f * self.across))


@dataclass(frozen=True)
class Drawn:
    """A drawing; ``feed`` are segments driven in parallel, ``mouth`` that of a sleeve."""

    structure: Structure
    feed: tuple[int, ...]
    mouth: tuple[int, ...] = ()
    sleeve: Sleeve | None = None


def wire_builder(
    case: Case, pipe_radius: float, wire_radius: float, joint: float, refine: float
) -> WireBuilder:
    """Cage and segment rule for a case; ``refine`` below one asks for shorter segments."""
    n = choose_wire_count(pipe_radius, wire_radius)
    ring_radius = cage_ring_radius(pipe_radius, wire_radius, n)
    fine = max(refine * joint * 2 * pipe_radius, 2.5 * wire_radius)
    longest = refine * SPEED_OF_LIGHT_NEC / float(np.mean(case.frequencies)) / 25
    cage = Cage(n, ring_radius, wire_radius, "antenna", PERFECT)
    return WireBuilder(cage, SegmentRule(fine, max(fine, longest)))


def finished(case: Case, wires: list[Wire]) -> Structure:
    """A structure that keeps the rules of segmentation."""
    built = Structure(case.name, tuple(wires), ())
    wavelength = SPEED_OF_LIGHT_NEC / float(np.max(case.frequencies))
    problems = collisions(built) + segment_limits(built, wavelength, False)
    if problems:
        raise GeometryError(*problems)
    return built


def at_points(built: Structure, points: Real) -> tuple[int, ...]:
    """Segments whose middles are at the points."""
    found = []
    for point in np.atleast_2d(points):
        miss = np.linalg.norm(built.segments.centre - point, axis=1)
        if miss.min() > 1e-5:
            raise ValueError(f"{built.name}: no segment has its middle at {point.tolist()} m")
        found.append(int(miss.argmin()))
    return tuple(found)


def whole(case: Case, refine: float = 1.0) -> Drawn:
    """A case that is a whole antenna, drawn by its generator."""
    return _alone(case, antenna_of(case), refine)


def in_cages(case: Case, refine: float = 1.0) -> Drawn:
    """A hub with its radials of 10 mm as cages, as beside a shield of 3.6 mm."""
    known = antenna_of(case)
    wire = thinnest_wire(known.pipe.diameter, known.rod.diameter, 0.0036)
    return _alone(case, replace(known, antenna=replace(known.antenna, wire_radius=wire)), refine)


def _alone(case: Case, known: Known, refine: float) -> Drawn:
    f = float(np.max(case.frequencies))
    plan = Plan(
        known.antenna,
        known.pipe.diameter,
        known.rod.diameter / 2,
        f,
        refine=refine,
        generator=known.generator,
    )
    built = build(plan)
    return Drawn(built, built.port_groups[0])


def folded(case: Case, refine: float = 1.0, out: float = STRAP_OUT) -> Drawn:
    """A closed loop of two pipes and two straps, bent as every J is, fed in one side's middle."""
    loop = case.tubes[0]
    radius = loop.diameter / 2
    # No rod sets the wires' radius here: four tenths of the pipe's lies inside what was tried.
    drawn = wire_builder(case, radius, 0.4 * radius, JOINT, refine)
    x, half = loop.axis[:, 0].max(), loop.axis[:, 2].max() + out * radius
    wavelength = SPEED_OF_LIGHT_NEC / float(np.mean(case.frequencies))
    apart = drawn_spacing(x, Drawing(drawn.cage, radius, wavelength, refine, 0.0))
    gap = 1.5 * drawn.rule.fine
    path = [(0, gap), (0, half), (apart, half), (apart, 0), (apart, -half), (0, -half), (0, -gap)]
    rules = (drawn.rule, drawn.fine, drawn.rule, drawn.rule, drawn.fine, drawn.rule)
    wires, nodes = bent_pipe([(a, 0.0, z) for a, z in path], rules, (1, 2, 4, 5), drawn.cage)
    built = finished(case, wires + drawn.gap(nodes[-1], nodes[0]))
    return Drawn(built, at_points(built, 0.5 * (nodes[-1] + nodes[0])))


def sleeve(case: Case, refine: float = 1.0) -> Drawn:
    """The lower half of a sleeve dipole under a rod; the rod inside is not drawn.

    Below the spokes at the mouth stands the port that the inside's impedance is in series with.
    """
    # Wall points as the case file has them, from the rod's tip round to its foot.
    r, z = case.turned[0].profile.T
    rod, outer, bore, top, plate, mouth, foot = r[1], r[3], r[5], z[0], z[2], z[4], z[-1]
    feed = float(case.ports[0].at[2])
    cage = Cage(4, cage_ring_radius(outer, rod, 4), rod, "antenna", PERFECT)
    wavelength = SPEED_OF_LIGHT_NEC / float(np.median(case.frequencies))
    drawing = Drawing(cage, outer, wavelength, refine, 0.0)
    halves, shield = (top - feed, feed - mouth), (2 * rod, 2 * rod, 1.0)
    made = SizedSleeveDipole(*halves, 0.005, 2 * outer, outer - bore, *shield, LOSSLESS)
    lower = sleeve_dipole.lower_half(made, drawing, plate)
    parts, _ = sleeve_dipole.builders(made, drawing)
    above = plate + 2 * (feed - plate)
    wires = [*lower.wires, *parts.spokes(lower.plate, plate * UP)]
    wires += [parts.even(plate * UP, above * UP, 1)]
    wires += parts.rod(above * UP, (top - ROD_TIP * rod) * UP, 2 * (feed - plate))
    wires += parts.rod(np.array(lower.joint), (foot + ROD_TIP * rod) * UP, 2 * rod)
    built = finished(case, wires)
    port = np.mean([lower.wires[0].start, lower.wires[0].end], axis=0)
    length = float(np.linalg.norm(np.subtract(lower.wires[0].end, lower.wires[0].start)))
    across = mouth_capacitance(rod, length, rod, outer - bore)
    inside = Sleeve(bore, rod, z[6] - z[5], across)
    return Drawn(built, at_points(built, feed * UP), at_points(built, port), inside)


def rod_dipole(length: float, radius: float, tip: float = ROD_TIP) -> Drawn:
    """A dipole drawn as one rod, fed in its middle, short segments at feed and tips."""
    first = 2.5 * radius
    cage = Cage(1, 0.0, radius, "antenna", PERFECT)
    drawn = WireBuilder(cage, SegmentRule(first, 8 * radius))
    gap, half = 1.5 * first * UP, (0.5 * length - tip * radius) * UP
    wires = [drawn.even(-gap, gap, 3), *drawn.rod(gap, half, first), *drawn.rod(-gap, -half, first)]
    built = Structure("rod dipole", tuple(wires), ())
    return Drawn(built, at_points(built, 0 * UP))


DRAW: dict[str, Callable[..., Drawn]] = {
    "B1": whole,
    "B1 in cages": in_cages,
    "B2": folded,
    "B3": whole,
    "B4": sleeve,
}


def port_currents(drawn: Drawn, f: Real) -> tuple[Complex, Complex]:
    """Currents for one volt at the feed, and at the mouth, the other closed; (n_f, n_segment)."""
    ports = drawn.feed + drawn.mouth
    every = unit_source_currents(drawn.structure, f, None, lossless=True, sources=ports)
    n = len(drawn.feed)
    return every[:, :n].sum(axis=1), every[:, n:].sum(axis=1)


def two_port(drawn: Drawn, f: Real) -> Complex:
    """Admittances of feed and mouth, shape (n_f, 2, 2) [S]; zero where there is no mouth."""
    currents = port_currents(drawn, f)
    y = [[x[:, list(p)].sum(axis=1) for x in currents] for p in (drawn.feed, drawn.mouth)]
    return np.array(y).transpose(2, 0, 1)


def mouth_volts(drawn: Drawn, y: Complex, f: Real) -> Complex:
    """Voltage at the mouth's port for one volt at the feed, with the inside in series."""
    if drawn.sleeve is None:
        return np.zeros(len(f), complex)
    z = drawn.sleeve.impedance(f)
    return np.asarray(-z * y[:, 1, 0] / (1 + z * y[:, 1, 1]))


def feed_impedance(drawn: Drawn, f: Real) -> Complex:
    """Impedance at the feed with the mouth's inside in place, nothing fitted [ohm]."""
    y = two_port(drawn, f)
    volts = mouth_volts(drawn, y, f)
    return np.asarray(1 / (y[:, 0, 0] + y[:, 0, 1] * volts))


def average_gain(drawn: Drawn, f: float) -> float:
    """Radiated power per power into the feed; one for a sound lossless drawing."""
    fs = np.array([f])
    feed, mouth = port_currents(drawn, fs)
    volts = mouth_volts(drawn, two_port(drawn, fs), fs)
    current = feed + volts[:, None] * mouth
    grid = Directions(np.linspace(0, np.pi, 61), np.arange(24) * np.pi / 12)
    radiated = radiated_power(far_field(drawn.structure.segments, current, f, None, grid), grid)
    return float(radiated[0] / (0.5 * current[0, list(drawn.feed)].sum().real))
