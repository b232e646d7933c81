"""5/8-wave vertical of pipe over a hub with radials, matched by a reactance in series at its base.

Longer than a half wave the vertical looks capacitive at its base, with a resistance that falls
through that of the cable; a coil, or a closed piece of coax inside the pipe, takes the reactance
away. Both lie in series with the feed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from models.antennas.generator import Drawing, FinishedAntenna, Generator, Trim
from models.antennas.hub import (
    STEEPEST,
    RadialCount,
    RadialDiameter,
    RadialLength,
    Radials,
    hub_members,
    radial_problems,
    sized_hub,
    vertical,
)
from models.catalogues.parts import CoaxClass, Pipe, coax_class, coax_classes
from models.construction.assembly import Assembly
from models.faults import Fault
from models.lengths import small
from models.quantities import SPEED_OF_LIGHT, Choice, Quantity
from models.wires.loads import Coil, Load, ShortedLine
from models.wires.structure import GeometryError

_CABLES = tuple(c.name for c in coax_classes())


@dataclass(frozen=True)
class FiveEighths:
    """Lengths of a 5/8-wave vertical from the hub's middle, and its match; ``None`` is derived."""

    match: Annotated[
        str, Choice(("coil", "stub"), "what lies in series at the base: coil, or stub of coax")
    ] = "coil"
    radials: RadialCount = 4
    slope: Annotated[
        float, Quantity("deg", 0.0, STEEPEST, "angle of the radials below horizontal", "0 deg")
    ] = 0.0
    element: Annotated[
        float | None,
        Quantity("m", 0.2, 7.0, "plane of the radials to the tip of the vertical", "1270 mm"),
    ] = None
    radial: RadialLength = None
    radial_diameter: RadialDiameter = None
    inductance: Annotated[
        float | None, Quantity("H", 1e-9, 1e-5, "inductance of the coil", "150 nH")
    ] = None
    quality: Annotated[
        float, Quantity("1", 10.0, 1000.0, "quality factor of the coil at the frequency", "200")
    ] = 200.0
    stub: Annotated[
        float | None, Quantity("m", 0.02, 3.0, "length of the stub to its closed end", "270 mm")
    ] = None
    stub_cable: Annotated[str, Choice(_CABLES, "coax that the stub is made of")] = "RG-58C/U"


@dataclass(frozen=True)
class SizedFiveEighths:
    """A 5/8-wave vertical whose every value is known.

    Lengths in m; ``wire_radius`` is what it is drawn with, ``stub_loss`` [dB/m] that of the stub's
    coax at the design frequency.
    """

    match: str
    radials: int
    slope: float
    element: float
    radial: float
    radial_diameter: float
    inductance: float
    quality: float
    stub: float
    stub_cable: str
    stub_loss: float
    wire_radius: float

    @property
    def spread(self) -> Radials:
        """The radials as the hub has them."""
        return Radials(self.radials, self.slope, self.radial, self.radial_diameter)


# Length of the element in wavelengths, constant and per natural logarithm of the pipe's diameter
# in wavelengths: 50 ohm over four level radials of a quarter wave, within 0.01 wavelength, at 52,
# 145 and 435 MHz with pipes of 15 to 28 mm.
RULES = {"element": (0.5487, -0.0152), "radial": (0.25,)}
# Logarithm of the base's capacitive reactance [ohm]: constant, per logarithm of the diameter in
# wavelengths, per sine of the slope; per wavelength of element beyond the middle, the same per
# sine, and per its square. Fitted on the same antennas, level and at 30 degrees: within 9 %.
REACTANCE = (3.3138, -0.3709, -0.0926, -8.512, -3.788, -25.77)
# Element that the fit covers, and its middle, in wavelengths.
SHORTEST_FIT, MIDDLE_FIT, LONGEST_FIT = 0.56, 0.61, 0.66


def base_reactance(element: float, diameter: float, slope: float) -> float:
    """Reactance at the base of a 5/8-wave vertical over radials, as fitted here. [ohm]

    ``element`` and ``diameter`` of its pipe in wavelengths, ``slope`` of the radials below the
    horizontal [deg]. Measured here: tests/models/test_hub_antennas.py.

    Examples
    --------
    >>> round(base_reactance(0.62, 0.0106, 0.0))
    -136
    """
    constant, log, sine, longer, both, square = REACTANCE
    beyond, s = element - MIDDLE_FIT, float(np.sin(np.radians(slope)))
    power = constant + log * np.log(diameter) + sine * s
    power += (longer + both * s) * beyond + square * beyond**2
    return -float(np.exp(power))


def stub_length(reactance: float, wavelength: float, cable: CoaxClass) -> float:
    """Length of coax, closed at its end, that has a reactance. [m]

    ``reactance`` [ohm] is above zero; X = Z0 tan(2 pi l / (v wavelength)), after Pozar, Microwave
    Engineering, eq. 2.45c (from memory).

    Examples
    --------
    >>> round(stub_length(50.0, 2.0, coax_class("RG-58C/U")), 3)
    0.165
    """
    inside = cable.velocity_factor * wavelength
    return float(np.arctan(reactance / cable.z0) * inside / (2 * np.pi))


def _wanted_reactance(element: float, p: FiveEighths, diameter: float, wavelength: float) -> float:
    """Reactance wanted in series at the base [ohm]; refuses an element the fit does not cover."""
    waves = element / wavelength
    if not SHORTEST_FIT - 1e-9 <= waves <= LONGEST_FIT + 1e-9:
        part = "inductance" if p.match == "coil" else "stub"
        raise GeometryError(
            Fault(
                "antenna.element",
                small(element),
                f"is {waves:.2f} wavelengths; the reactance to be matched is known here from "
                f"{SHORTEST_FIT:g} to {LONGEST_FIT:g}",
                f"element: {small(0.62 * wavelength)}, or give {part} as well",
                "element-off",
            )
        )
    return -base_reactance(waves, diameter / wavelength, p.slope)


def sized(
    parameters: FiveEighths, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedFiveEighths, tuple[str, ...]]:
    """Every value, given or derived, and a sentence for each derived one (``RULES``)."""
    p, diameter = parameters, pipe.outside_diameter
    wavelength = SPEED_OF_LIGHT / frequency
    constant, per_log = RULES["element"]
    (radial,) = RULES["radial"]
    waves = constant + per_log * float(np.log(diameter / wavelength))
    why = f"{waves:.3f} wavelength, for this pipe"
    lengths, sentences = sized_hub(
        p, (waves * wavelength, why), (radial, wavelength), diameter, shield_diameter
    )
    cable = coax_class(p.stub_cable)
    coil, stub, match = _match(p, lengths["element"], pipe, frequency)
    antenna = SizedFiveEighths(
        p.match, p.radials, p.slope, **lengths,
        inductance=coil, quality=p.quality, stub=stub, stub_cable=p.stub_cable,
        stub_loss=cable.k1 * float(np.sqrt(frequency)) + cable.k2 * frequency,
    )  # fmt: skip
    return antenna, (*sentences, *match)


def _match(
    p: FiveEighths, element: float, pipe: Pipe, frequency: float
) -> tuple[float, float, tuple[str, ...]]:
    """Inductance [H] and stub [m], and a sentence if the one that counts is derived."""
    wavelength = SPEED_OF_LIGHT / frequency
    given = p.inductance if p.match == "coil" else p.stub
    coil, stub = p.inductance or 0.0, p.stub or 0.0
    if given is not None:
        return coil, stub, ()
    x = _wanted_reactance(element, p, pipe.outside_diameter, wavelength)
    why = f"({x:.0f} ohm against the capacitive base)"
    if p.match == "coil":
        coil = x / (2 * np.pi * frequency)
        return coil, stub, (f"antenna.inductance: {1e9 * coil:.0f} nH {why}",)
    stub = stub_length(x, wavelength, coax_class(p.stub_cable))
    return coil, stub, (f"antenna.stub: {small(stub)} of {p.stub_cable} {why}",)


def check(parameters: FiveEighths, pipe: Pipe) -> list[Fault]:
    """Problems of a study's values that cannot be built; only given ones are looked at."""
    p = parameters
    found = radial_problems(p.element, p.radial, p.radial_diameter, pipe)
    cable, bore = coax_class(p.stub_cable), pipe.outside_diameter - 2 * pipe.wall
    if p.match == "stub" and cable.jacket_diameter >= bore:
        found.append(
            Fault(
                "antenna.stub_cable",
                p.stub_cable,
                f"has a jacket of {small(cable.jacket_diameter, 1)} and does not go into a pipe "
                f"that is {small(bore, 1)} wide inside",
                "take a thinner coax for the stub, a wider pipe, or match: coil",
                "stub-thick",
            )
        )
    if p.match == "stub" and p.stub and p.element and p.stub > p.element:
        found.append(
            Fault(
                "antenna.stub",
                small(p.stub),
                f"is longer than the vertical that it lies in ({small(p.element)})",
                "take a coax with a lower velocity factor, or match: coil",
                "stub-long",
            )
        )
    return found


def build(antenna: SizedFiveEighths, drawing: Drawing) -> FinishedAntenna:
    """Wires of the vertical with the plane of its radials on z = 0, the first along x."""
    element: Coil | ShortedLine = Coil(antenna.inductance, antenna.quality)
    if antenna.match == "stub":
        cable = coax_class(antenna.stub_cable)
        element = ShortedLine(cable.z0, cable.velocity_factor, antenna.stub, antenna.stub_loss)
    bare = vertical(antenna.element, antenna.spread, drawing)
    return replace(bare, loads=(Load("feed", element),))


def assembly(antenna: SizedFiveEighths, pipe: Pipe, joint: str) -> Assembly:
    """A vertical on an insulator, a hub, radials through its wall, and the match across the gap."""
    members, joints, marks = hub_members(antenna.element, antenna.spread, pipe)
    coil = antenna.match == "coil"
    part = (
        f"coil of {1e9 * antenna.inductance:.0f} nH with a Q of {antenna.quality:g} or more, of "
        "thick wire or tube that carries itself"
        if coil
        else f"{small(antenna.stub)} of {antenna.stub_cable}, closed at one end"
    )
    join = (
        "Join the cable's centre to the coil's lower end and the coil's upper end to the vertical."
        if coil
        else "Push the stub up into the vertical, closed end first; join its shield to the "
        "vertical's foot all round and its centre to the cable's centre."
    )
    return Assembly(
        members=members,
        joints=joints,
        marks=marks,
        extras=(
            (1, part),
            (1, "insulator that carries the vertical on the hub, for outdoor use"),
            (antenna.radials, "cap that makes a radial's tip blunt: it may be at eye level"),
        ),
        steps=(
            "Cut hub and vertical square; drill or braze the hub for the radials, all in a plane.",
            f"Fix the radials at {antenna.slope:g} degrees below horizontal, evenly round the hub.",
            "Join the vertical to the hub by the insulator; lead the cable in through the foot's "
            f"cap and join its shield to the {joint} at that cap all round.",
            join,
            "Set the match for lowest SWR: stretch or squeeze the coil, or cut the stub; then trim "
            "the vertical if the resistance is off, and set the match again.",
            "Cap the radials' tips, and seal gap and cable against rain.",
        ),
    )


GENERATOR = Generator(
    name="five-eighths",
    title="a 5/8-wave vertical",
    theory=(
        "Over a perfect plane a vertical of five eighths of a wave has 8.2 dBi along the horizon, "
        "3 dB more than a quarter wave, and no taller one has more (image theory, Balanis, Antenna "
        "Theory, ch. 4). A few radials are no such plane, and most of the 3 dB stays on paper. Its "
        "base has about 50 ohm and a capacitive reactance, which a coil or a closed stub in series "
        "takes away. The radials carry the whole base current, so the cable's shield, which leaves "
        "between them, is invited to carry part of it."
    ),
    base_line="plane of the hub where the radials leave",
    parameters=FiveEighths,
    joints=("hub",),
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        Trim("inductance", "takes the reactance away: stretch the coil for less", 1e-9),
        Trim("stub", "takes the reactance away: cut the closed end for less", 1e-3),
        Trim("element", "sets the resistance: cut the tip for more ohm", 1e-3, "vertical"),
        Trim("radial", "little to be heard of it in the match; cut all alike", 1e-3, "radials"),
    ),
    azimuth_zero="along the first radial",
    outlet="the hub's foot",
    leaves_downward=True,
    thinnest=lambda antenna: float(antenna.wire_radius),
)
