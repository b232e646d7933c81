"""J-pole of copper pipe: parameters in, wires, feed bridge and shield joint out.

A half-wave radiator stands on one leg of a shorted quarter-wave two-wire stub; the feed taps
the stub where its impedance is that of the cable. The cable's shield is joined to one leg at
the tap, so part of the feed current finds its way down the outside of the cable: how much
depends on which leg, on the length of the cable and on what it ends in.
"""

from __future__ import annotations

from dataclasses import dataclass

from models.antennas import j_stub
from models.antennas.generator import Drawing, FinishedAntenna, Trim
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Member
from models.faults import Fault
from models.quantities import SPEED_OF_LIGHT


@dataclass(frozen=True)
class JPole:
    """Lengths of a J-pole, all measured between pipe axes; ``None`` is derived."""

    spacing: j_stub.LegSpacing
    long_leg: j_stub.LongLeg = None
    short_leg: j_stub.ShortLeg = None
    tap: j_stub.Tap = None
    bridge_diameter: j_stub.BridgeDiameter = None


@dataclass(frozen=True)
class SizedJPole:
    """A J-pole whose every length is known [m]."""

    spacing: float
    long_leg: float
    short_leg: float
    tap: float
    bridge_diameter: float


# Lengths as (part of a wavelength, pipe diameters), fitted here to a match at 52, 145 and
# 435 MHz with pipes of 15 to 28 mm two and a half diameters apart. Starting points for a tape
# measure, not a tuned antenna.
RULES = {
    "long_leg": (0.7275, -1.2),
    "short_leg": (0.2460, -0.35),
    "tap": (0.0131, 1.45),
}


def sized(
    parameters: JPole, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedJPole, tuple[str, ...]]:
    """Every length, given or derived (``RULES``), and a sentence for each derived one."""
    rules = (RULES, SPEED_OF_LIGHT / frequency)
    lengths, sentences = j_stub.sized_frame(parameters, pipe, shield_diameter, rules)
    return SizedJPole(**lengths), sentences


def check(parameters: JPole, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only given ones are looked at."""
    p = parameters
    return j_stub.frame_problems(p, pipe.outside_diameter) + j_stub.legs_problem(
        p.long_leg, p.short_leg
    )


def build(antenna: SizedJPole, drawing: Drawing) -> FinishedAntenna:
    """Wires of a J-pole with its crossbar axis on z = 0 and its long leg at x = 0.

    Examples
    --------
    >>> from models.wires.pipe_cage import Cage
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.0097, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=2.07, refine=1.0, mast=0.0)
    >>> finished = build(SizedJPole(0.055, 1.48, 0.49, 0.055, 0.008), drawing)
    >>> sorted(finished.joints)
    ['long leg', 'short leg']
    """
    stub, radiator = j_stub.segment_rules(antenna.spacing, drawing)
    top = (0.0, 0.0, antenna.long_leg - j_stub.tip_back(antenna, drawing))
    path = [top, *j_stub.u_stations(antenna, drawing)]
    # Nothing is attached beside the short tip: no hoop there.
    hoops = (0, 2, 3, 4, 5, 6)
    wires, nodes = j_stub.bent_pipe(path, (radiator, *j_stub.u_rules(stub)), hoops, drawing.cage)
    return j_stub.fed_at_tap(wires, nodes[[2, 5]], antenna, drawing)


def assembly(antenna: SizedJPole, pipe: Pipe, joint: str) -> Assembly:
    """Two legs on a crossbar; the tap is measured from the crossbar's upper edge."""
    del pipe
    return Assembly(
        members=(Member("long leg", j_stub.FOOT, "long tip"), *j_stub.u_members()),
        joints=(
            *j_stub.u_joints(antenna),
            JointPoint("long tip", (0.0, 0.0, antenna.long_leg), "open"),
        ),
        marks=j_stub.tap_marks(antenna, joint),
        extras=j_stub.tap_parts(antenna),
        steps=(
            j_stub.CUT_STEP,
            j_stub.LEGS_STEP,
            j_stub.tap_step(joint),
            j_stub.CAPS_STEP,
        ),
    )


GENERATOR = j_stub.relative(
    name="j-pole",
    title="a J-pole",
    theory=(
        "A half-wave radiator is fed at its end, where its impedance is thousands of ohm, through "
        "a shorted quarter-wave line of two pipes; along that line the impedance goes from nothing "
        "at the crossbar to that of the radiator's end at the top, and the tap sits where it is "
        "that of the cable. The line's two legs do not carry quite opposite currents, so it "
        "radiates a little, and the cable's shield, joined to one leg, carries part of the feed "
        "current (after the end-fed half wave with a quarter-wave line in Jordan and Balmain, "
        "1968, from memory)."
    ),
    parameters=JPole,
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        j_stub.SHORT_LEG_TRIM,
        j_stub.TAP_TRIM,
        Trim("long_leg", "little to be heard of it in the match; do it last, if at all", 1e-3),
    ),
    outlet="the axis of the leg that the shield is joined to",
    is_j_pole=True,
)
