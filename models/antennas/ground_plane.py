"""Quarter-wave ground plane: a pipe over a hub with three or four sloping radials.

The radials stand in for the ground that a quarter-wave vertical needs; sloped, they raise its
resistance to that of the cable. The shield leaves from the hub, straight down between them.
"""

from __future__ import annotations

from dataclasses import dataclass
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
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly
from models.faults import Fault
from models.quantities import SPEED_OF_LIGHT, Quantity


@dataclass(frozen=True)
class GroundPlane:
    """Lengths of a ground plane from the hub's middle; ``None`` is derived."""

    radials: RadialCount = 4
    slope: Annotated[
        float, Quantity("deg", 0.0, STEEPEST, "angle of the radials below horizontal", "45 deg")
    ] = 45.0
    element: Annotated[
        float | None,
        Quantity("m", 0.08, 3.0, "plane of the radials to the tip of the vertical", "450 mm"),
    ] = None
    radial: RadialLength = None
    radial_diameter: RadialDiameter = None


@dataclass(frozen=True)
class SizedGroundPlane:
    """A ground plane whose every length is known [m]; ``wire_radius`` is what it is drawn with."""

    radials: int
    slope: float
    element: float
    radial: float
    radial_diameter: float
    wire_radius: float

    @property
    def spread(self) -> Radials:
        """The radials as the hub has them."""
        return Radials(self.radials, self.slope, self.radial, self.radial_diameter)


# Length of the element in wavelengths: constant, per sine of the slope, per natural logarithm of
# the pipe's diameter in wavelengths, and for a radial less than four. Fitted to resonance at 52,
# 145 and 435 MHz with pipes of 15 to 28 mm, slopes of 0 to 50 degrees and radials of a quarter
# wave, three or four: 1.9 % of the element at worst.
RULES = {"element": (0.2237, -0.0366, -0.0040, 0.0025), "radial": (0.25,)}


def sized(
    parameters: GroundPlane, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedGroundPlane, tuple[str, ...]]:
    """Every length, given or derived, and a sentence for each derived one (``RULES``)."""
    p, diameter = parameters, pipe.outside_diameter
    wavelength = SPEED_OF_LIGHT / frequency
    constant, per_slope, per_log, per_missing = RULES["element"]
    (radial,) = RULES["radial"]
    waves = constant + per_slope * np.sin(np.radians(p.slope)) + per_missing * (4 - p.radials)
    waves += per_log * np.log(diameter / wavelength)
    why = f"{waves:.3f} wavelength, for this pipe and slope"
    lengths, sentences = sized_hub(
        p, (float(waves) * wavelength, why), (radial, wavelength), diameter, shield_diameter
    )
    return SizedGroundPlane(p.radials, p.slope, **lengths), sentences


def check(parameters: GroundPlane, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only given ones are looked at."""
    p = parameters
    return radial_problems(p.element, p.radial, p.radial_diameter, pipe)


def build(antenna: SizedGroundPlane, drawing: Drawing) -> FinishedAntenna:
    """Wires of a ground plane with the plane of its radials on z = 0, the first along x."""
    return vertical(antenna.element, antenna.spread, drawing)


def assembly(antenna: SizedGroundPlane, pipe: Pipe, joint: str) -> Assembly:
    """A vertical on an insulator, a hub, and radials through its wall."""
    members, joints, marks = hub_members(antenna.element, antenna.spread, pipe)
    return Assembly(
        members=members,
        joints=joints,
        marks=marks,
        extras=(
            (1, "insulator that carries the vertical on the hub, for outdoor use"),
            (antenna.radials, "cap that makes a radial's tip blunt: it may be at eye level"),
        ),
        steps=(
            "Cut hub and vertical square; drill or braze the hub for the radials, all in a plane.",
            f"Fix the radials at {antenna.slope:g} degrees below horizontal, evenly round the hub.",
            "Join the vertical to the hub by the insulator; lead the cable in through the foot's "
            f"cap, its shield joined to the {joint} at that cap all round, its centre conductor to "
            "the vertical.",
            "Trim the vertical for lowest SWR, then bend the radials a little if the resistance is "
            "off.",
            "Cap the radials' tips, and seal the cable's end against rain.",
        ),
    )


GENERATOR = Generator(
    name="ground-plane",
    title="a ground plane",
    theory=(
        "A quarter-wave vertical on a perfect plane has 36.5 + j21 ohm, half a dipole's (image "
        "theory, Balanis, Antenna Theory, ch. 4). Three or four quarter-wave radials take the "
        "plane's place: level, they leave about 22 ohm; sloped, they become the lower half of a "
        "dipole and the resistance rises, to about 50 ohm near 45 degrees (common practice, no "
        "source). The hub is not quite without voltage and the shield leaves from it, so part of "
        "the current that the radials should carry runs down the cable instead."
    ),
    base_line="plane of the hub where the radials leave",
    parameters=GroundPlane,
    joints=("hub",),
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        Trim("element", "sets where the match is best: cut its tip to move up", 1e-3, "vertical"),
        Trim("slope", "sets the resistance: bend the radials down for more ohm", 1.0),
        Trim("radial", "little to be heard of it in the match; cut all alike", 1e-3, "radials"),
    ),
    azimuth_zero="along the first radial",
    outlet="the hub's foot",
    leaves_downward=True,
    thinnest=lambda antenna: float(antenna.wire_radius),
)
