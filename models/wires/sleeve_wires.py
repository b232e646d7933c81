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
# Ports tried in radii of the wire, and what the real mouth has across each [F/m], per radius of the
# rod inside.
_PORTS, _ACROSS = (5.0, 6.1), (50e-12, 62e-12)


def port_length(cage: Cage) -> float:
    """Length of the segment beside a mouth, and of its neighbour. [m]

    ``cage`` is that of the sleeve. Measured here: tests/validation/test_surface_sleeves.py.

    Examples
    --------
    >>> port_length(Cage(4, 0.012, 0.004, "sleeve", Material()))
    0.023
    """
    return PORT_PER_RING * cage.ring_radius + PORT_PER_RADIUS * cage.wire_radius


def mouth_capacitance(rod_radius: float, port: float, wire_radius: float) -> float:
    """Capacitance that a real mouth has beyond the segment that stands for it. [F]

    ``port`` [m] is the length of that segment, ``wire_radius`` [m] its radius and ``rod_radius``
    [m] that of the real rod or shield.

    Notes
    -----
    A source spread over a longer segment lacks more of what a gap has. Sleeves of 28 mm over 8 mm
    want 50 pF/m times the rod's radius with a port of five wire radii, 62 with one of six; a plain
    rod that is fed on five radii wants 50 as well (S1). Between the two it is interpolated, beyond
    them held: an electrostatic solution of the walls of 22 to 42 mm over 3.6 to 10 mm, less the
    same cages at low frequency, leaves every size within 0.05 pF of that, half a millimetre of a
    sleeve's length. Measured here: tests/validation/test_surface_sleeves.py.

    Examples
    --------
    >>> [round(1e12 * mouth_capacitance(0.004, n * 0.004, 0.004), 3) for n in (5, 6.1, 12)]
    [0.2, 0.248, 0.248]
    """
    return float(rod_radius * np.interp(port / wire_radius, _PORTS, _ACROSS))


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
