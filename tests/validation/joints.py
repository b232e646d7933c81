"""Joints of pipe antennas drawn as cages and rods, beside solutions on their tubes' walls.

Four structures of tests/validation/surface: a hub with radials (B1), a folded end (B2), a gamma arm
(B3) and the mouth of a sleeve (B4). What the drawing needs beyond models/wires/pipe_cage.py is in
models/wires/pipe_parts.py. The inside of a sleeve is a shorted line in series with a port at its
mouth.
All wires of a drawing have one radius, that of the rod, so no radius steps anywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.quantities import SPEED_OF_LIGHT_NEC
from models.wires.pipe_cage import (
    RIM_PER_RADIUS,
    Cage,
    cage_ring_radius,
    cage_spacing,
    choose_wire_count,
    ring,
    ring_nodes,
)
from models.wires.pipe_parts import (
    MOUTH_CAPACITANCE,
    NORMAL,
    PORT_LENGTH,
    ROD_TIP,
    STRAP_OUT,
    WireBuilder,
    rod_spacing,
)
from models.wires.segmentation import SegmentRule, collisions, segment_limits
from models.wires.structure import PERFECT, GeometryError, Structure, Wire
from pipeline.circuit.choke import SleeveSection, sleeve_impedance
from pipeline.solver.far_field import Directions, far_field, radiated_power
from pipeline.solver.nec2 import unit_source_currents
from tests.validation.surface.tubes import Case

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# Segments at joints in pipe diameters, as the generator of J-poles has it, and at a hub, where four
# rods leave close to the wires beside them: a tenth longer halves the error there.
JOINT, HUB = 0.55, 0.60
UP = np.array([0.0, 0.0, 1.0])
# No loss, as on the tubes [S/m].
LOSSLESS = 1e30


@dataclass(frozen=True)
class Sleeve:
    """Inside of a sleeve: radii of its wall and of the rod, length to the plate [m]."""

    wall: float
    rod: float
    length: float

    def impedance(self, f: Real, capacitance: float) -> Complex:
        """Impedance in series at the mouth [ohm]: the shorted line and the mouth's capacitance."""
        bore, rod = 2 * self.wall, 2 * self.rod
        section = SleeveSection(rod, rod, 1.0, bore, LOSSLESS, LOSSLESS)
        line = sleeve_impedance(f, self.length, section)
        return np.asarray(1 / (1 / line + 2j * np.pi * f * capacitance * self.rod))


@dataclass(frozen=True)
class Drawn:
    """A drawing; ``feed`` are segments driven in parallel, ``mouth`` that of a sleeve."""

    structure: Structure
    feed: tuple[int, ...]
    mouth: tuple[int, ...] = ()
    sleeve: Sleeve | None = None


def pen(
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


def _gap(case: Case, wires: list[Wire], low: Real, high: Real, drawn: WireBuilder) -> Drawn:
    """Add a pipe's gap of three equal segments a wire, driven in parallel in their middle."""
    pairs = list(zip(low, high, strict=True))
    built = finished(case, wires + [drawn.even(a, b, 3) for a, b in pairs])
    return Drawn(built, at_points(built, 0.5 * (low + high)))


def ground_plane(case: Case, refine: float = 1.0) -> Drawn:
    """A pipe over a hub with four sloping rods, each on a wire of the hub's cage."""
    tubes = {t.name: t for t in case.tubes}
    pipe, radial = tubes["vertical"], tubes["radial 1"]
    drawn = pen(case, pipe.diameter / 2, radial.diameter / 2, HUB, refine)
    centre, end = radial.axis
    out = np.append((end - centre)[:2] / np.hypot(*(end - centre)[:2]), 0.0)
    slope = (end - centre)[2] / np.hypot(*(end - centre)[:2])
    rim, ring_radius = RIM_PER_RADIUS * drawn.radius, drawn.cage.ring_radius
    gap, landing = 1.5 * drawn.rule.fine, centre[2] + slope * ring_radius
    foot, top = pipe.axis[:, 2]
    nodes = drawn.upright([top - rim, gap, -gap, landing, foot + rim])
    turn = np.array([[out[0], -out[1], 0], [out[1], out[0], 0], [0, 0, 1]])
    nodes = nodes @ turn.T
    wires = drawn.pipes(nodes[:2]) + drawn.pipes(nodes[2:], alike=(0, 1))
    for k in (0, 3, 4):
        wires += ring(nodes[k], drawn.cage)
    length = float(np.linalg.norm(end - centre)) - ROD_TIP * drawn.radius
    for node in nodes[3]:
        way = node - centre
        tip = centre + length * way / np.linalg.norm(way)
        wires += drawn.rod(node, tip, drawn.rule.fine)
    return _gap(case, wires, nodes[2], nodes[1], drawn)


def folded(case: Case, refine: float = 1.0, out: float = STRAP_OUT) -> Drawn:
    """A closed loop of two pipes and two straps, fed in the middle of one side."""
    loop = case.tubes[0]
    radius = loop.diameter / 2
    # No rod sets the wires' radius here: four tenths of the pipe's lies inside what was tried.
    drawn = pen(case, radius, 0.4 * radius, JOINT, refine)
    cage = drawn.cage
    x, half = loop.axis[:, 0].max(), loop.axis[:, 2].max() + out * radius
    apart = cage_spacing(x, radius, cage.ring_radius, cage.wire_radius, cage.n_wires)
    gap = 1.5 * drawn.rule.fine
    path = [(0, gap), (0, half), (apart, half), (apart, 0), (apart, -half), (0, -half), (0, -gap)]
    nodes = ring_nodes(np.array([(a, 0.0, z) for a, z in path]), NORMAL, cage)
    wires = drawn.pipes(nodes, alike=(1, 4))
    for k in (1, 2, 4, 5):
        wires += ring(nodes[k], cage)
    return _gap(case, wires, nodes[-1], nodes[0], drawn)


def gamma_arm(case: Case, refine: float = 1.0) -> Drawn:
    """A dipole with a rod beside it: post, arm and strap, post and strap in three segments."""
    tubes = {t.name: t for t in case.tubes}
    pipe, arm = tubes["dipole"], tubes["arm"]
    drawn = pen(case, pipe.diameter / 2, arm.diameter / 2, JOINT, refine)
    x, strap = arm.axis[2, 0], arm.axis[2, 2]
    apart = rod_spacing(x, pipe.diameter / 2, arm.diameter / 2, drawn.cage)
    half = pipe.axis[:, 2].max() - RIM_PER_RADIUS * drawn.radius
    nodes = drawn.upright([half, strap, 0.0, -half])
    beside = replace(drawn, rule=replace(drawn.rule, coarse=min(drawn.rule.coarse, x / 2)))
    wires = drawn.pipes(nodes[:2]) + beside.pipes(nodes[1:3]) + drawn.pipes(nodes[2:])
    for station in nodes:
        wires += ring(station, drawn.cage)
    facing = int(np.argmax(nodes[0, :, 0]))
    post, high = np.array([apart, 0.0, 0.0]), np.array([apart, 0.0, strap])
    fine = drawn.rule.fine
    wires += [drawn.even(nodes[2, facing], post, 3), drawn.even(nodes[1, facing], high, 3)]
    wires += beside.rod(post, high, fine, fine)
    built = finished(case, wires)
    return Drawn(built, at_points(built, 0.5 * (nodes[2, facing] + post)))


def sleeve(case: Case, refine: float = 1.0) -> Drawn:
    """Outside of a sleeve on a rod that goes through it, closed by spokes at both ends.

    The rod inside is not drawn. Below the spokes at the mouth the first of three segments is the
    port that the inside's impedance is in series with.
    """
    # Wall points as the case file has them, from the rod's tip round to its foot.
    r, z = case.turned[0].profile.T
    rod, outer, top, plate, mouth, foot = r[1], r[3], z[0], z[2], z[4], z[-1]
    drawn = pen(case, outer, rod, JOINT, refine)
    low = mouth + RIM_PER_RADIUS * drawn.radius
    nodes = drawn.upright([plate, low])
    up, down = plate * UP, low * UP
    wires = drawn.pipes(nodes)
    for end, station in ((up, nodes[0]), (down, nodes[1])):
        wires += [drawn.even(end, node, 1) for node in station]
    feed = case.ports[0].at
    first, port = 2 * (feed[2] - plate), PORT_LENGTH * rod
    above, below = up + first * UP, down - 3 * port * UP
    wires += [drawn.even(up, above, 1), drawn.even(down, below, 3)]
    wires += drawn.rod(above, (top - ROD_TIP * rod) * UP, first)
    wires += drawn.rod(below, (foot + ROD_TIP * rod) * UP, port)
    built = finished(case, wires)
    mouth_port = at_points(built, down - 0.5 * port * UP)
    inside = Sleeve(r[5], rod, z[6] - z[5])
    return Drawn(built, at_points(built, feed), mouth_port, inside)


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
    "B1": ground_plane, "B2": folded, "B3": gamma_arm, "B4": sleeve,
}  # fmt: skip


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


def mouth_volts(drawn: Drawn, y: Complex, f: Real, capacitance: float) -> Complex:
    """Voltage at the mouth's port for one volt at the feed, with the inside in series."""
    if drawn.sleeve is None:
        return np.zeros(len(f), complex)
    z = drawn.sleeve.impedance(f, capacitance)
    return np.asarray(-z * y[:, 1, 0] / (1 + z * y[:, 1, 1]))


def feed_impedance(drawn: Drawn, f: Real) -> Complex:
    """Impedance at the feed with the mouth's inside in place, nothing fitted [ohm]."""
    y = two_port(drawn, f)
    volts = mouth_volts(drawn, y, f, MOUTH_CAPACITANCE)
    return np.asarray(1 / (y[:, 0, 0] + y[:, 0, 1] * volts))


def average_gain(drawn: Drawn, f: float) -> float:
    """Radiated power per power into the feed; one for a sound lossless drawing."""
    fs = np.array([f])
    feed, mouth = port_currents(drawn, fs)
    volts = mouth_volts(drawn, two_port(drawn, fs), fs, MOUTH_CAPACITANCE)
    current = feed + volts[:, None] * mouth
    grid = Directions(np.linspace(0, np.pi, 61), np.arange(24) * np.pi / 12)
    radiated = radiated_power(far_field(drawn.structure.segments, current, f, None, grid), grid)
    return float(radiated[0] / (0.5 * current[0, list(drawn.feed)].sum().real))
