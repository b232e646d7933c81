"""The outside of a sleeve as wires: how thick, how its mouth's port is cut, what lies across it.

Sizes of a sleeve and of the wire it is drawn with come in; its cage, the length of the segment
beside its mouth and the capacitance across that come out. The rod or cable inside a sleeve is not
drawn: it is a line in series with that segment (:class:`loads.SleeveMouth`).
"""

from __future__ import annotations

import numpy as np

from models.wires.pipe_cage import (
    THICKEST_WIRE,
    Cage,
    cage_conductivity,
    cage_ring_radius,
    choose_wire_count,
)
from models.wires.structure import Material

# A spoke of the mouth's star is as long as the ring's radius; shorter than this it is a disc.
SPOKE_PER_RADIUS = 2.1
# Length of the mouth's port and its neighbour, in radii of the sleeve's ring and of the wire:
# where feed and mouth are reciprocal within 3 %. Best found with 15, 22 and 28 mm sleeves and wires
# of 1.8 and 4 mm; case B4 of tests/validation/joints.py, at five wire radii, lies on it. With five
# everywhere a thin shield in a wide sleeve is 11 % unsymmetric. Sleeves of 15 to 42 mm over shields
# of 3.6 to 8.1 mm at 52, 145 and 435 MHz, mouth either way: 4.5 % at most, average gain 0.962 to
# 1.024.
PORT_PER_RING, PORT_PER_RADIUS = 1.25, 2.0
# Ports tried in radii of the wire, what the real mouth has across each per radius of the rod inside
# [F/m], and what it has more per thickness of the wall, whose rim faces the rod [F/m].
_PORTS, _ACROSS, _RIM = (5.0, 6.1, 8.8), (46e-12, 53e-12, 55e-12), 40e-12


def port_length(cage: Cage) -> float:
    """Length of the segment beside a mouth, and of its neighbour. [m]

    ``cage`` is that of the sleeve. Measured here: tests/validation/test_surface_sleeves.py.

    Examples
    --------
    >>> port_length(Cage(4, 0.012, 0.004, "sleeve", Material()))
    0.023
    """
    return PORT_PER_RING * cage.ring_radius + PORT_PER_RADIUS * cage.wire_radius


def free_of_mouth(radius: float, wire_radius: float) -> float:
    """Straight cable that a mouth needs before it: no more than port and neighbour take. [m]

    ``radius`` [m] is that of the sleeve's outside, which its ring does not reach. Definition.

    Examples
    --------
    >>> round(free_of_mouth(0.014, 0.004), 6)
    0.051
    """
    return 2 * (PORT_PER_RING * radius + PORT_PER_RADIUS * wire_radius)


def mouth_capacitance(rod_radius: float, port: float, wire_radius: float, wall: float) -> float:
    """Capacitance that a real mouth has beyond the segment that stands for it. [F]

    ``port`` [m] is the length of that segment, ``wire_radius`` [m] its radius, ``rod_radius`` [m]
    that of the real rod or shield and ``wall`` [m] the thickness of the sleeve's rim.

    Notes
    -----
    A source spread over a longer segment lacks more of what a gap has. It is what brings the null
    of the current below the sleeve of a dipole to where its walls have it: 0.22 pF for 22 mm over
    8 mm (E1), 0.20 and 0.26 with walls of 0.5 and 2 mm and not of 1, 0.16 for 15 mm over 5 mm at
    435 MHz (E2), 0.25 for 28 mm over 8 mm, 0.28 with a wall of 2, 0.27 over 10 mm, 0.175 over 5 mm.
    The formula is within 0.01 pF of each; 0.05 pF are half a millimetre of a sleeve's length. B4,
    fed on its rod and without a null, has its resonance at 0.22 pF where this says 0.27. Measured
    here: tests/validation/test_surface_sleeves.py and test_surface_tubes.py.

    Examples
    --------
    >>> of = [(4, 19.7, 4, 1), (4, 19.7, 4, 2), (2.5, 12.9, 2.5, 1), (4, 24.4, 4, 1)]
    >>> [round(1e12 * mouth_capacitance(*np.array(x) / 1e3), 2) for x in of]
    [0.22, 0.26, 0.16, 0.25]
    """
    per_rod = np.interp(port / wire_radius, _PORTS, _ACROSS)
    return float(rod_radius * per_rod + wall * _RIM)


def fits(radius: float, wire_radius: float) -> bool:
    """Whether a sleeve [m] can be drawn with wires of a radius [m]: its spokes are no discs.

    Definition.

    Examples
    --------
    >>> fits(0.011, 0.004), fits(0.0075, 0.004)
    (True, False)
    """
    if wire_radius > THICKEST_WIRE * radius:
        return False
    n = choose_wire_count(radius, wire_radius)
    return cage_ring_radius(radius, wire_radius, n) >= SPOKE_PER_RADIUS * wire_radius


def sleeve_cage(radius: float, wire_radius: float, conductivity: float, part: str) -> Cage:
    """Cage of a sleeve's outside, which loses what its wall loses.

    ``radius`` [m] is that of the outside, ``conductivity`` [S/m] that of the metal. Definition.

    Examples
    --------
    >>> sleeve_cage(0.014, 0.004, 5.8e7, "sleeve").n_wires
    4
    """
    n = choose_wire_count(radius, wire_radius)
    metal = Material(cage_conductivity(conductivity, radius, wire_radius, n))
    return Cage(n, cage_ring_radius(radius, wire_radius, n), wire_radius, part, metal)
