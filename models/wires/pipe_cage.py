"""A fat pipe drawn as a mitred cage of thin wires.

A path of the pipe's axis comes in, wires and the nodes of each ring go out. Every wire of the
cage has the radius of the cable's shield, so that nowhere near the feed does the radius step:
a step is what breaks reciprocity in NEC-2.

NEC-2 is a thin-wire code: one wire per 22 mm pipe was 2 % off in frequency, and a step in radius
where the shield joins made the port matrix 27 % unsymmetric. So each pipe is four (six to twelve,
where it is fat beside them) parallel wires. At a corner each wire ends in the plane that bisects
it; hoops join the wires at corners, open ends and wherever something is attached.

============================================  ============================  ======================
term of the drawing                           reason                        without it
============================================  ============================  ======================
ring radius from the geometric mean distance  the cage holds the pipe's     pipes 2.6 % too fat,
of the wires, distances as the thin-wire      charge as the solver sees it  lines 2 % low
kernel takes them, hypot(d, a)
spacing of two cages so that their line has   current crowds on facing      0.3 % at usual
the two pipes' impedance                      sides                         spacings, 1 to 3 % at
                                                                            half a diameter of air
open ends stand back 0.45 wire radii          a hoop is thicker than the    up to 0.4 % in
                                              edge of a flat cap            frequency, more with
                                                                            thicker wire
all above the feed drawn down, the crossbar   a wire keeps no flux out;     0.2 to 0.3 % in
up, by half of what its bridge keeps out of   the real bridge does          frequency
the flux between the legs
feed bridge of the cage's wire, difference    no step in radius at the      6 % of stub
to the real conductor as series inductance    feed                          susceptance
five segments in the feed, three where legs   a source next to a joint      impedance 2.5 % low on
stand close, there shorter than two radii     is not the stated volt        three, 7 to 14 % on one
============================================  ============================  ======================

How the result compares with solutions on the tubes: tests/validation/surface/README.md.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from models.quantities import ETA_OVER_2PI
from models.wires.segmentation import SegmentRule, cuts, graded_wires
from models.wires.structure import Material, Point, Wire, grid_point

# Halvings of an interval of some centimetres: to the last bit.
_HALVINGS = 60
# Shortest segment of a cage in wire radii; just above the limit of the segmentation rules.
SHORTEST_PER_RADIUS = 2.1
# First segment from a corner, in wire radii, that is clear of the tilted hoop there: a point h up
# a wire across the bend is sqrt(2/3) h from the hoop's axis, and two radii must fit between.
CLEAR_OF_HOOP_PER_RADIUS = 2.46
# How far an open end's hoop stands back from the real pipe's flat cap, in wire radii: a hoop is
# thicker than the edge it stands for. Lone dipoles of 22 mm tube drawn with wires of 0.6 to 4 mm
# come out within 0.1 % of the surface solution with this, up to 0.5 % low without.
RIM_PER_RADIUS = 0.45
# Thickest wire a four-wire cage is drawn with, in pipe radii. At 0.545 its wires would touch; at
# 0.48 the average gain is within three per cent for 15 mm pipe, nearer to touching it is not.
THICKEST_WIRE = 0.48
# Widest spacing of a cage's wires round the pipe, in wire radii. With six wires of 1 mm for 22 to
# 42 mm pipe (11.5 to 22 radii) the average gain of J-poles fell from 0.977 to 0.957 and their
# resistance came out up to 9 % low; with this many it is 0.99 to 1.00 and within 2 %.
WIDEST_SPACING = 10.7


def kernel_distance(distance: NDArray[np.float64], wire_radius: float) -> NDArray[np.float64]:
    """Distance that the thin-wire kernel takes between two parallel wires. [m]

    The kernel evaluates the field of a filament one wire radius off the axis of the wire it acts
    on, at right angles to the way there: sqrt(d^2 + a^2), a itself on its own wire. The mean
    round the wire would be d. Between wires as near as those of a cage the difference is some
    per cent, and all of the same sign, so the drawing has to allow for it.

    References
    ----------
    .. [1] G. J. Burke and A. J. Poggio, "Numerical Electromagnetics Code, Part I: Theory", 1981,
       the thin-wire approximation.

    Examples
    --------
    >>> kernel_distance(np.array([0.0, 3.0]), 4.0).tolist()
    [4.0, 5.0]
    """
    return np.hypot(distance, wire_radius)


def cage_equivalent_radius(ring_radius: float, wire_radius: float, n_wires: int) -> float:
    """Radius of the solid cylinder that holds as much charge as a cage of wires as solved. [m]

    ``ring_radius`` [m] is that of the circle the axes stand on, equally spaced.

    Notes
    -----
    The geometric mean of the distances of one wire from all, itself included, equal charge on
    every wire; distances as :func:`kernel_distance` has them. For thin wires this is the textbook
    (N a Rc^(N-1))^(1/N).

    References
    ----------
    .. [1] S. A. Schelkunoff and H. T. Friis, "Antennas: Theory and Practice", 1952
       (geometric mean distance of a ring of wires; from memory).

    Examples
    --------
    >>> round(1e3 * cage_equivalent_radius(0.0097, 0.004, 4), 2)
    11.28
    >>> round(cage_equivalent_radius(1.0, 1e-3, 4) / (4 * 1e-3) ** 0.25, 6)
    1.0
    """
    chords = 2 * ring_radius * np.sin(np.pi * np.arange(n_wires) / n_wires)
    return float(np.exp(np.mean(np.log(kernel_distance(chords, wire_radius)))))


# Every drawing of a study asks for the same few.
@lru_cache(maxsize=256)
def cage_ring_radius(pipe_radius: float, wire_radius: float, n_wires: int) -> float:
    """Radius of the circle of wire axes whose cage is equivalent to a pipe. [m]

    Definition: inverse of :func:`cage_equivalent_radius`.

    Examples
    --------
    >>> r = cage_ring_radius(0.011, 0.004, 4)
    >>> round(1e3 * r, 2), round(1e6 * (cage_equivalent_radius(r, 0.004, 4) - 0.011), 6)
    (9.36, 0.0)
    """
    low, high = wire_radius, 2 * pipe_radius
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if cage_equivalent_radius(middle, wire_radius, n_wires) < pipe_radius:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def cage_line_impedance(
    spacing: float, ring_radius: float, wire_radius: float, n_wires: int
) -> float:
    """Characteristic impedance of two cages side by side, as a thin-wire solver sees them. [ohm]

    ``spacing`` [m] is that of the centres of the two rings, wire 0 of either facing the other.

    Notes
    -----
    Line charges on the axes, potential matched as the kernel does it: with p_ij = -ln d_ij
    (:func:`kernel_distance`), all wires of a cage at plus or minus half a volt and no net charge,
    Z0 = (eta / 2 pi) / q. After R. F. Harrington, "Field Computation by Moment Methods", 1968,
    ch. 2 (from memory).

    Examples
    --------
    >>> ring = cage_ring_radius(0.011, 0.004, 4)
    >>> [round(cage_line_impedance(d, ring, 0.004, 4), 1) for d in (0.030, 0.055)]
    [100.7, 188.5]
    """
    angle = 2 * np.pi * np.arange(n_wires) / n_wires
    one = ring_radius * np.exp(1j * angle)
    axes = np.concatenate([one, spacing - one.conj()])
    distance = kernel_distance(np.abs(axes[:, None] - axes[None, :]), wire_radius)
    n = len(axes)
    system = np.zeros((n + 1, n + 1))
    system[:n, :n] = -np.log(distance)
    # The last row says that the charges cancel; its unknown is the potential far away.
    system[:n, n] = system[n, :n] = 1.0
    volts = np.concatenate([np.full(n_wires, 0.5), np.full(n_wires, -0.5), [0.0]])
    charge = np.linalg.solve(system, volts)[:n_wires].sum()
    return float(ETA_OVER_2PI / charge)


@lru_cache(maxsize=256)
def cage_spacing(
    spacing: float, pipe_radius: float, ring_radius: float, wire_radius: float, n_wires: int
) -> float:
    """Spacing at which two cages make a line of the same impedance as the two pipes. [m]

    ``spacing`` [m] is that of the pipes, axis to axis. Current crowds onto the facing sides of
    close pipes otherwise than a few thick wires can follow: 0.3 % of impedance where the gap is one
    and a half diameters, some per cent where it is less than half of one. A small shift of the axes
    puts that right and leaves each cage's own radius alone.

    References
    ----------
    .. [1] S. A. Schelkunoff, "Electromagnetic Waves", 1943: two round conductors,
       Z0 = (eta / pi) arcosh(D / d) (from memory).

    Examples
    --------
    >>> ring = cage_ring_radius(0.011, 0.004, 4)
    >>> round(1e3 * cage_spacing(0.055, 0.011, ring, 0.004, 4), 2)
    54.74
    """
    wanted = 2 * ETA_OVER_2PI * float(np.arccosh(0.5 * spacing / pipe_radius))
    # Wires that face each other may not touch, and no correction is larger than a pipe radius.
    low = max(spacing - pipe_radius, 2 * (ring_radius + wire_radius) + wire_radius * 1e-3)
    high = spacing + pipe_radius
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if cage_line_impedance(middle, ring_radius, wire_radius, n_wires) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def choose_wire_count(pipe_radius: float, wire_radius: float) -> int:
    """Number of wires that stand for a pipe: four, and more where the pipe is fat beside them. [-]

    Six over four wires' thickness; eight or twelve where fewer would stand more than
    ``WIDEST_SPACING`` apart. Measured here: tests/models/test_thin_cables.py. Raises ValueError if
    four such wires would touch one another.

    Examples
    --------
    >>> choose_wire_count(0.011, 0.004), choose_wire_count(0.014, 0.0018)
    (4, 6)
    >>> choose_wire_count(0.011, 0.001), choose_wire_count(0.0175, 0.001)
    (8, 12)
    """
    if wire_radius > THICKEST_WIRE * pipe_radius:
        raise ValueError(f"wires of {wire_radius} m do not fit a pipe of {pipe_radius} m")
    if pipe_radius <= 4.0 * wire_radius:
        return 4
    least = 2 * np.pi * pipe_radius / (WIDEST_SPACING * wire_radius)
    return next((n for n in (6, 8) if n >= least), 12)


def cage_conductivity(
    conductivity: float, pipe_radius: float, wire_radius: float, n_wires: int
) -> float:
    """Conductivity of the cage's wires at which the cage loses what the pipe loses. [S/m]

    Surface resistance goes as 1/sqrt(sigma) (Pozar, Microwave Engineering, section 1.7, from
    memory) and the current spreads over 2 pi R on the pipe, over N 2 pi a on the cage: sigma_cage =
    sigma (R / (N a))^2.

    Examples
    --------
    >>> round(cage_conductivity(5.8e7, 0.011, 0.004, 4) / 5.8e7, 4)
    0.4727
    """
    return float(conductivity * (pipe_radius / (n_wires * wire_radius)) ** 2)


@dataclass(frozen=True)
class Cage:
    """Wires, radii [m], part and metal that every cage of one antenna has in common."""

    n_wires: int
    ring_radius: float
    wire_radius: float
    part: str
    material: Material

    def offset(self, index: int) -> tuple[float, float]:
        """Place of a wire on the ring: (in the plane of the bend, across it). [m]"""
        angle = 2 * np.pi * index / self.n_wires
        return (
            float(self.ring_radius * np.cos(angle)),
            float(self.ring_radius * np.sin(angle)),
        )


def ring_nodes(
    path: NDArray[np.float64], normal: NDArray[np.float64], cage: Cage
) -> NDArray[np.float64]:
    """Places of a cage's wires at the stations of a bent axis, (n_station, n_wires, 3). [m]

    ``path`` (n_station, 3) [m] is the pipe's axis, all in one plane, ``normal`` the unit normal of
    that plane. Wire 0 faces the left of the path as seen against ``normal``. At a bend the nodes
    lie in the plane that bisects it (a mitre), so opposite wires differ in length as the walls do.
    Definition.

    Examples
    --------
    >>> cage = Cage(4, 0.01, 0.004, "pipe", Material())
    >>> bent = np.array([[0.0, 0, 0], [0, 0, 1], [1, 0, 1]])
    >>> ring_nodes(bent, np.array([0.0, -1, 0]), cage)[1, 0].round(3).tolist()    # outside
    [-0.01, 0.0, 1.01]
    """
    steps = np.diff(path, axis=0)
    unit = steps / np.linalg.norm(steps, axis=1)[:, None]
    left = np.cross(normal, unit)
    before = np.vstack([left[:1], left])
    after = np.vstack([left, left[-1:]])
    bisector = before + after
    # Scaled so that its distance from either leg's axis is one.
    bisector /= np.einsum("ij,ij->i", bisector, after)[:, None]
    nodes = []
    for index in range(cage.n_wires):
        inward, across = cage.offset(index)
        nodes.append(path + inward * bisector + across * normal)
    return np.stack(nodes, axis=1)


def sweep(
    nodes: NDArray[np.float64],
    sizes: NDArray[np.float64],
    rule: SegmentRule,
    cage: Cage,
) -> list[Wire]:
    """Wires of a cage between its stations; all of them cut at the same fractions.

    ``nodes`` as :func:`ring_nodes` returns them; ``sizes``, shape (n_station,), is the wanted
    segment length at each station [m].
    """
    wires: list[Wire] = []
    for station in range(len(nodes) - 1):
        lengths = np.linalg.norm(nodes[station + 1] - nodes[station], axis=1)
        # The inner wire of a crossbar is the shortest: none of its segments may become a disc.
        uneven = SHORTEST_PER_RADIUS * float(lengths.mean() / lengths.min())
        least = cage.wire_radius * max(CLEAR_OF_HOOP_PER_RADIUS, uneven)
        graded = replace(rule, least=least)
        places = cuts(float(lengths.mean()), sizes[station], sizes[station + 1], graded)
        if lengths.mean() < 6 * rule.fine:
            places = np.linspace(0.0, 1.0, len(places))
        for index in range(cage.n_wires):
            a, b = grid_point(nodes[station, index]), grid_point(nodes[station + 1, index])
            wires += graded_wires(a, b, places, cage.wire_radius, cage.part, cage.material)
    return wires


def ring(nodes: NDArray[np.float64], cage: Cage) -> list[Wire]:
    """A hoop of wire through the nodes of one station, shape (n_wires, 3)."""
    points = [grid_point(n) for n in nodes]
    return [
        Wire(a, b, 1, cage.wire_radius, cage.part, cage.material)
        for a, b in zip(points, points[1:] + points[:1], strict=True)
    ]


def node_point(nodes: NDArray[np.float64], station: int, index: int) -> Point:
    """One node as a point on the grid."""
    return grid_point(nodes[station, index])
