"""Circuit elements that belong to an antenna: what sits in series with one of its segments.

Plain data; the impedance follows in the pipeline. An element never needs a new field solution.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Coil:
    """A loading coil: inductance [H], quality factor at the design frequency [-]."""

    inductance: float
    quality: float


@dataclass(frozen=True)
class Capacitor:
    """A series capacitor: capacitance [F], quality factor at the design frequency [-]."""

    capacitance: float
    quality: float


@dataclass(frozen=True)
class ShortedLine:
    """A line closed at its far end: impedance [ohm], velocity factor, length [m], loss [dB/m].

    The loss is that at the design frequency; it goes as the square root of frequency.
    """

    z0: float
    velocity_factor: float
    length: float
    loss_db_per_m: float = 0.0


@dataclass(frozen=True)
class SleeveMouth:
    """Inside of a pipe with a rod in it, closed at the far end, seen at the open one.

    ``bore`` and ``rod`` are diameters [m], ``rod_jacket`` that over the rod's dielectric with
    permittivity ``jacket_eps_r``; ``capacitance`` [F] lies across the mouth.
    """

    bore: float
    rod: float
    rod_jacket: float
    jacket_eps_r: float
    length: float
    wall_conductivity: float
    rod_conductivity: float
    capacitance: float


@dataclass(frozen=True)
class Termination:
    """An impedance [ohm] that does not change with frequency: a rod in the soil, a joint."""

    impedance: complex


@dataclass(frozen=True)
class SeriesLoad:
    """A series impedance [ohm] on one segment, as the field solver takes it."""

    segment: int
    impedance: complex


Element = Coil | Capacitor | ShortedLine | SleeveMouth | Termination


@dataclass(frozen=True)
class Load:
    """An element in the middle segment of one of the antenna's wires; ``wire`` counts from zero.

    The name becomes that of a port and stands in reports: "matching coil". An element in
    series with the feed itself is called "feed" and needs no wire.
    """

    name: str
    element: Element
    wire: int = 0
