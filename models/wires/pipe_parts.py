"""Parts antennas are drawn from beside bent pipes: rods, spokes, gaps, a rod beside a pipe.

Each term was settled on solutions on the real tubes' walls (tests/validation/joints.py).

Each joint is held against one solution on the tubes (tests/validation/test_surface_joints.py):

======================  ===================================================  ======================
joint                   drawing                                              found
======================  ===================================================  ======================
hub with radials (B1)   radials leave from wires of the hub's cage, as many  frequency within
                        as the cage has or a divisor; no hoop where they     0.16 %, impedance
                        leave or spokes close a pipe; the fed segment as     1.1 %
                        long as the real gap, also in finer drawings
pipe radials            a cage behind a short wire on its axis, whose        the same
                        excess of inductance the feed takes back
folded end (B2)         strap drawn 0.085 pipe radii further out             0.01 %, 0.3 %
gamma arm (B3)          arm as one wire of its own radius, post and strap    0.13 %, 0.7 %; average
                        of three and four segments, even segments beside     gain 1.011 (1.037 with
                        the arm                                              a strap of three)
mouth of a sleeve (B4)  spokes without a hoop, a port of 1.25 ring and 2     0.11 %, 3.4 %
                        wire radii on the rod below, a capacitance
                        across it (sleeve_wires); the inside is a line in
                        series
======================  ===================================================  ======================
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.quantities import ETA_OVER_2PI
from models.wires.pipe_cage import RIM_PER_RADIUS, Cage, kernel_distance, ring_nodes, sweep
from models.wires.segmentation import SegmentRule, cuts, graded_wires
from models.wires.structure import Wire, grid_point

Real = NDArray[np.float64]

# How far the flat end of a rod drawn as one wire stands back, in its radii. Dipoles of 3 to 11 mm
# drawn as one wire against the same dipole as a cage (3 and 5 mm) or on its wall (11 mm): 0.24 to
# 0.27. The solver lets the current vanish at the wire's end, the real one turns onto the cap.
ROD_TIP = 0.27
# How much further out a strap between two pipes is drawn, in pipe radii: B2 is 0.13 % high without.
# Loops of 22 mm, 55 and 100 mm apart, solved on their walls too (not stored), want 0.09, as does
# the part that radiates alone, both sides fed in phase. Cut unlike, two sides seem to want 0.25.
STRAP_OUT = 0.085
# Length of the port's segment and its neighbours on a rod, in its radii: as long as the feed's,
# where the two-port is reciprocal within half a per cent; at 4 or 6 it is 3 per cent.
PORT_LENGTH = 5.0
# First segment of a rod's tip, in its radii.
TIP_LENGTH = 2.5
# Seen against this normal, wire 0 of an upright cage faces +x and wire N/2 away from it.
NORMAL = np.array([0.0, -1.0, 0.0])
# Thickest rod across two pipes, in their radii, that the formula for the flux it keeps out is for.
THICKEST_ACROSS = 0.5
_HALVINGS = 60


@dataclass(frozen=True)
class WireBuilder:
    """Builder of the wires of one antenna, by its cage and its segment rule.

    A rod is one wire as thick as the cage's wires.
    """

    cage: Cage
    rule: SegmentRule

    @property
    def radius(self) -> float:
        """Radius of every wire. [m]"""
        return self.cage.wire_radius

    @property
    def rim(self) -> float:
        """Distance a pipe's open end stands back. [m]"""
        return RIM_PER_RADIUS * self.cage.wire_radius

    @property
    def fine(self) -> SegmentRule:
        """The rule where segments may not grow."""
        return replace(self.rule, coarse=self.rule.fine)

    def rod(
        self, start: Real, end: Real, at_start: float, at_end: float | None = None
    ) -> list[Wire]:
        """One wire, cut from ``at_start`` at its start to ``at_end`` (default: a tip's) [m]."""
        last = TIP_LENGTH * self.radius if at_end is None else at_end
        length = float(np.linalg.norm(np.subtract(end, start)))
        rule = replace(self.rule, fine=min(at_start, last))
        places = cuts(length, at_start, last, rule)
        a, b = grid_point(start), grid_point(end)
        return graded_wires(a, b, places, self.radius, self.cage.part, self.cage.material)

    def even(self, start: Real, end: Real, n_segments: int) -> Wire:
        """One wire cut into equal segments."""
        return Wire(
            grid_point(start),
            grid_point(end),
            n_segments,
            self.radius,
            self.cage.part,
            self.cage.material,
        )

    def pipes(self, nodes: Real, alike: tuple[int, ...] = ()) -> list[Wire]:
        """Cage between its stations, nodes as :func:`pipe_cage.ring_nodes` gives them.

        Between the stations named in ``alike`` and the next one segments do not grow.
        """
        wires: list[Wire] = []
        for k in range(len(nodes) - 1):
            rule = self.fine if k in alike else self.rule
            wires += sweep(nodes[k : k + 2], np.full(2, rule.fine), rule, self.cage)
        return wires

    def spokes(self, nodes: Real, centre: Real) -> list[Wire]:
        """Closed end of a pipe: a wire from every node of a station, (n_wires, 3), to its axis."""
        return [self.even(node, centre, 1) for node in nodes]

    def gap(self, nodes_below: Real, nodes_above: Real) -> list[Wire]:
        """A cut through a pipe: its wires in three equal segments each, to be driven together."""
        pairs = zip(nodes_below, nodes_above, strict=True)
        return [self.even(a, b, 3) for a, b in pairs]

    def upright(self, heights: list[float], at: tuple[float, float] = (0.0, 0.0)) -> Real:
        """Nodes of an upright cage at some heights, shape (n_station, n_wires, 3)."""
        path = np.array([(*at, z) for z in heights])
        return np.asarray(ring_nodes(path, NORMAL, self.cage))


def rod_spacing(spacing: float, pipe_radius: float, rod_radius: float, cage: Cage) -> float:
    """Distance from a cage's axis at which a rod makes the line that it makes with the pipe. [m]

    ``spacing`` [m] lies between the axes of the real pipe and rod, of ``pipe_radius`` and
    ``rod_radius`` [m]; the rod is drawn with the cage's wire. As :func:`pipe_cage.cage_spacing`,
    for two conductors of different thickness: Z0 = (eta / 2 pi) arcosh((D^2 - a^2 - b^2) / (2 a
    b)).

    References
    ----------
    .. [1] S. A. Schelkunoff, "Electromagnetic Waves", 1943 (from memory).

    Examples
    --------
    >>> from models.wires.pipe_cage import cage_ring_radius
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, cage_ring_radius(0.011, 0.004, 4), 0.004, "antenna", PERFECT)
    >>> round(1e3 * rod_spacing(0.05, 0.011, 0.004, cage), 1)
    49.6
    """
    n = cage.n_wires
    squares = spacing**2 - pipe_radius**2 - rod_radius**2
    wanted = ETA_OVER_2PI * np.arccosh(squares / (2 * pipe_radius * rod_radius))
    ring_of_wires = cage.ring_radius * np.exp(2j * np.pi * np.arange(n) / n)

    def impedance(distance: float) -> float:
        axes = np.append(ring_of_wires, distance)
        system = np.ones((n + 2, n + 2))
        apart = kernel_distance(np.abs(axes[:, None] - axes[None, :]), cage.wire_radius)
        system[:-1, :-1], system[-1, -1] = -np.log(apart), 0.0
        volts = np.concatenate([np.full(n, 0.5), [-0.5, 0.0]])
        return float(ETA_OVER_2PI / np.linalg.solve(system, volts)[:n].sum())

    low, high = spacing - pipe_radius, spacing + pipe_radius
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if impedance(middle) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def flux_cut(spacing: float, pipe_radius: float, rod_radius: float) -> float:
    """Length of a line of two pipes whose magnetic flux a rod across it keeps out. [m]

    Lengths in m. A wire carries current along itself only; round a real rod more flows, which
    keeps the flux between the legs out of it: the line has as much less inductance as if it were
    so much shorter.

    Notes
    -----
    A tube of radius b across a field H takes mu pi b^2 H^2 of energy from every metre of itself.
    Between two pipes the field is that of two filaments at +-c, c^2 = (D/2)^2 - R^2: H = (I / 2 pi)
    2 c / (c^2 - x^2), whose square is summed over the air between them and divided by the energy
    of a metre of line, mu I^2 arcosh(D / 2R) / (2 pi).

    References
    ----------
    .. [1] W. R. Smythe, "Static and Dynamic Electricity", 1950, sections 4.04 and 10.05: cylinder
       in a uniform field, two parallel cylinders (from memory).

    Examples
    --------
    >>> round(1e3 * flux_cut(0.055, 0.011, 0.004), 2)
    1.56
    """
    half, thick = 0.5 * spacing, min(rod_radius, THICKEST_ACROSS * pipe_radius)
    wall, squared = half - pipe_radius, half**2 - pipe_radius**2
    filament = np.sqrt(squared)
    field = wall / (squared * (squared - wall**2))
    field += np.log((filament + wall) / (filament - wall)) / (2 * filament**3)
    return float(2 * thick**2 * squared * field / np.arccosh(half / pipe_radius))
