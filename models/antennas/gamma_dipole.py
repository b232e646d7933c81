"""Half-wave dipole of one pipe that is not cut, fed through a gamma match.

The pipe is held at its middle, where it needs no insulator. A rod beside its upper half, joined to
it by a strap, is fed from the middle: rod and pipe are a short line closed by the strap, in
parallel with the dipole stepped up, and a capacitor in series takes away what is inductive.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from models.antennas.generator import Drawing, FinishedAntenna, Generator, Joint, Trim, filled
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Mark, Member
from models.faults import Fault
from models.lengths import small
from models.quantities import ETA_OVER_2PI, SPEED_OF_LIGHT, Quantity
from models.wires.loads import Capacitor, Load
from models.wires.pipe_cage import THICKEST_WIRE, node_point, ring
from models.wires.pipe_parts import WireBuilder, rod_spacing
from models.wires.segmentation import SegmentRule
from models.wires.structure import GeometryError

# Segments of post and strap: never longer than a pipe's diameter, odd in the post, whose middle one
# is fed. On case B3 of tests/validation/joints.py three in either have an average gain of 1.037. A
# fourth in the strap makes that 1.011 and puts frequency 0.13 % low; the whole family then lies
# within 0.988 and 1.014. Tried besides: one, two and four in the post (0.91, 0.92, 1.05), a feed in
# the arm (1.05), at either end of the post (0.97, 0.93), thinner wire (frequency 0.6 to 1 % off).
_POST, _STRAP = 3, 4
# Shortest segment in wire radii, just above the limit of the segmentation rules.
_SHORTEST = 2.05
# How much thicker than the drawn wire the arm may be.
_SLACK = 1.02


@dataclass(frozen=True)
class GammaDipole:
    """Lengths of a gamma-matched dipole; ``None`` is derived."""

    length: Annotated[float | None, Quantity("m", 0.2, 6.0, "dipole from tip to tip", "960 mm")] = (
        None
    )
    spacing: Annotated[
        float | None,
        Quantity("m", 0.015, 0.5, "between the axes of dipole and arm", "55 mm"),
    ] = None
    arm: Annotated[
        float | None,
        Quantity("m", 0.02, 1.5, "along the arm, from the post's axis to the strap's", "150 mm"),
    ] = None
    arm_diameter: Annotated[
        float | None, Quantity("m", 0.002, 0.03, "rod of arm, post and strap", "8 mm")
    ] = None
    capacitance: Annotated[
        float | None,
        Quantity("F", 0.5e-12, 500e-12, "capacitor in series with the feed", "8 pF"),
    ] = None
    quality: Annotated[
        float | None,
        Quantity("1", 20.0, 10000.0, "quality factor of that capacitor", "500"),
    ] = None


@dataclass(frozen=True)
class SizedGammaDipole:
    """A gamma-matched dipole whose every part is known [m, F, -]."""

    length: float
    spacing: float
    arm: float
    arm_diameter: float
    capacitance: float
    quality: float


# Lengths as (part of a wavelength, pipe diameters), fitted here to 50 ohm at 52, 145 and 435 MHz
# with pipes of 15 to 28 mm and the arm two and a half pipe diameters away: arm within 4 %. Further
# away it is shorter, as the root of the distance (at 3.3 diameters within 5 %, 18 % with 28 mm pipe
# at 435 MHz).
RULES = {"length": (0.463, 0.0), "arm": (0.0861, -0.6)}
_SPACING = 2.5
# Arm as thick as the cable's shield where the pipe can be drawn with it, in pipe diameters.
_ARM = 0.47
_QUALITY = 500.0
# Share of the inductance of two lone wires that post and strap add to the line; same fit, reactance
# within 6 % (10 % with a thin arm beside 28 mm pipe at 435 MHz).
_ENDS = 1.45 / 2


def arm_reactance(
    arm: float, spacing: float, diameters: tuple[float, float], wavelength: float
) -> float:
    """Reactance in series with the feed where the resistance is 50 ohm. [ohm]

    ``arm`` [m] long, its axis ``spacing`` [m] from the dipole's, ``diameters`` [m] of pipe and arm.

    Notes
    -----
    Z0 tan(beta l) of the line of arm and pipe, Z0 = (eta / 2 pi) arcosh((s^2 - a^2 - b^2)/(2ab))
    (Schelkunoff, Electromagnetic Waves, 1943, from memory), and a share of omega mu0 s / (2 pi)
    ln(2 s / d) for post and strap each (Rosa, 1908), fitted.

    Examples
    --------
    >>> round(arm_reactance(0.167, 0.055, (0.022, 0.00813), 2.067))
    177
    """
    pipe, rod = diameters
    squares = spacing**2 - 0.25 * (pipe**2 + rod**2)
    z0 = ETA_OVER_2PI * np.arccosh(2 * squares / (pipe * rod))
    beta = 2 * np.pi / wavelength
    ends = 2 * _ENDS * ETA_OVER_2PI * beta * spacing * np.log(2 * spacing / rod)
    return float(z0 * np.tan(beta * arm) + ends)


def sized(
    parameters: GammaDipole, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedGammaDipole, tuple[str, ...]]:
    """Every length, given or derived, and a sentence for each derived one."""
    p, diameter, wavelength = parameters, pipe.outside_diameter, SPEED_OF_LIGHT / frequency
    spacing = p.spacing or _SPACING * diameter
    rod = p.arm_diameter or min(shield_diameter, _ARM * diameter)
    length, arm = (waves * wavelength + d * diameter for waves, d in RULES.values())
    arm = p.arm or arm * float(np.sqrt(_SPACING * diameter / spacing))
    reactance = arm_reactance(arm, spacing, (diameter, rod), wavelength)
    capacitance = p.capacitance or 1 / (2 * np.pi * frequency * reactance)
    series = f"{1e12 * capacitance:.1f} pF ({reactance:.0f} ohm at the frequency)"
    own = {
        "length": (length, f"{small(length)} ({RULES['length'][0]:g} wavelength)"),
        "spacing": (spacing, f"{small(spacing)} ({_SPACING:g} pipe diameters)"),
        "arm": (arm, f"{small(arm)} ({arm / wavelength:.3f} wavelength, for 50 ohm)"),
        "arm_diameter": (rod, f"{small(rod, 1)} (no thicker than the cable's shield)"),
        "capacitance": (capacitance, series),
        "quality": (_QUALITY, f"{_QUALITY:g}"),
    }
    values, sentences = filled(p, own)
    return SizedGammaDipole(**values), sentences


def check(parameters: GammaDipole, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only given ones are looked at."""
    p, diameter = parameters, pipe.outside_diameter
    found = (
        _thick_problem(p, diameter),
        _spacing_problem(p, diameter),
        _arm_problem(p, diameter),
    )
    return [problem for problem in found if problem is not None]


def _thick_problem(p: GammaDipole, diameter: float) -> Fault | None:
    if p.arm_diameter is None or p.arm_diameter <= THICKEST_WIRE * diameter:
        return None
    return Fault(
        "antenna.arm_diameter",
        small(p.arm_diameter, 1),
        f"is more than {THICKEST_WIRE:g} of the pipe's diameter ({small(diameter, 1)})",
        f"arm_diameter: {small(_ARM * diameter, 1)} or less, or a thicker pipe",
        "arm-thick",
    )


def _spacing_problem(p: GammaDipole, diameter: float) -> Fault | None:
    """Between pipe and arm there must be room for a post of three segments."""
    if p.spacing is None:
        return None
    rod = min(p.arm_diameter or 0.0, THICKEST_WIRE * diameter)
    least = 0.5 * (diameter + rod) + max(0.008, 3 * rod)
    if p.spacing >= least:
        return None
    return Fault(
        "antenna.spacing",
        small(p.spacing, 1),
        f"leaves too little room between a pipe of {small(diameter, 1)} and an arm of "
        f"{small(rod, 1)} for the post and its feed",
        f"spacing: {small(max(least, _SPACING * diameter))} (axis to axis), or a thinner arm",
        "arm-close",
    )


def _arm_problem(p: GammaDipole, diameter: float) -> Fault | None:
    if p.arm is None:
        return None
    value = small(p.arm)
    if p.length is not None and p.arm > 0.4 * p.length:
        return Fault(
            "antenna.arm",
            value,
            f"reaches the tip of the dipole, or nearly ({small(0.5 * p.length)} from its middle)",
            f"arm: {small(0.17 * p.length)} (about a sixth of the dipole)",
            "arm-long",
        )
    if p.arm < 1.2 * diameter:
        return Fault(
            "antenna.arm",
            value,
            f"is shorter than 1.2 pipe diameters ({small(diameter, 1)})",
            f"arm: {small(2 * diameter)}, or a thinner pipe",
            "arm-short",
        )
    return None


def _builders(drawing: Drawing) -> tuple[WireBuilder, WireBuilder]:
    """Builders of the dipole's ends and of what lies beside the arm; there nothing grows.

    Growing to half the spacing, as case B3 does, moves the impedance at 435 MHz by 6 % when all
    segments are made a quarter shorter; so it is 5 % at most.
    """
    fine = max(drawing.refine * 0.55 * 2 * drawing.pipe_radius, 2.5 * drawing.cage.wire_radius)
    coarse = max(fine, drawing.refine * drawing.shortest_wavelength / 25)
    builder = WireBuilder(drawing.cage, SegmentRule(fine, coarse))
    return builder, replace(builder, rule=builder.fine)


def _post_and_strap(length: float, drawing: Drawing) -> tuple[int, int]:
    """Segments of post and strap of a length [m]."""
    room = int(length / (_SHORTEST * drawing.cage.wire_radius))
    post = max(_POST, int(np.ceil(length / (2 * drawing.pipe_radius))) // 2 * 2 + 1)
    post = max(_POST, min(post, room - 1 + room % 2))
    return post, max(_POST, min(max(_STRAP, post), room))


def _refuse_thick_arm(antenna: SizedGammaDipole, wire_radius: float) -> None:
    if antenna.arm_diameter <= 2 * _SLACK * wire_radius:
        return
    raise GeometryError(
        Fault(
            "antenna.arm_diameter",
            small(antenna.arm_diameter, 1),
            "is thicker than the shield of the cable at the middle of the dipole "
            f"({small(2 * wire_radius, 2)}); the field solver takes no such step",
            f"arm_diameter: {small(2 * wire_radius, 1, 'down')} or less, or a thicker cable",
            "arm-over-shield",
        )
    )


def build(antenna: SizedGammaDipole, drawing: Drawing) -> FinishedAntenna:
    """Wires of a gamma-matched dipole on the z axis, its middle at z = 0, its arm at negative x.

    The shield joins the pipe on the side away from the arm: there it leaves at right angles to the
    dipole, where a dipole without an arm has no voltage, and furthest from the arm's own field.

    Examples
    --------
    >>> from models.wires.pipe_cage import Cage
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.0093, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=2.07, refine=1.0, mast=0.0)
    >>> built = build(SizedGammaDipole(0.957, 0.055, 0.16, 0.008, 7e-12, 500.0), drawing)
    >>> sorted(built.joints), built.wires[0].n_segments
    (['middle'], 3)
    """
    a, cage = antenna, drawing.cage
    _refuse_thick_arm(a, cage.wire_radius)
    builder, beside = _builders(drawing)
    apart = rod_spacing(a.spacing, drawing.pipe_radius, a.arm_diameter / 2, cage)
    facing = cage.n_wires // 2
    half, fine = 0.5 * a.length - builder.rim, builder.rule.fine
    nodes = builder.upright([half, a.arm, 0.0, -half])
    foot, head = np.array([-apart, 0.0, 0.0]), np.array([-apart, 0.0, a.arm])
    post, strap = _post_and_strap(apart - cage.ring_radius, drawing)
    wires = [
        builder.even(nodes[2, facing], foot, post),
        builder.even(nodes[1, facing], head, strap),
    ]
    wires += beside.rod(foot, head, fine, fine)
    wires += builder.pipes(nodes[:2]) + beside.pipes(nodes[1:3]) + builder.pipes(nodes[2:])
    for station in nodes:
        wires += ring(station, cage)
    return FinishedAntenna(
        wires=tuple(wires),
        feed_wires=(0,),
        joints={"middle": Joint(node_point(nodes, 2, 0), (1.0, 0.0, 0.0), cage.ring_radius)},
        feed_inductance=0.0,
        lowest=-0.5 * a.length,
        loads=(Load("feed", Capacitor(a.capacitance, a.quality)),),
    )


_AWAY = "the cable leaves on the side away from the arm"
_STEPS = (
    "Cut the pipe square; mark its middle.",
    "Clamp connector, shield and holder to the {joint}; the cable leaves at right angles, away "
    "from the arm.",
    "Bend or join the arm; clamp the strap, and put the capacitor between the connector's centre "
    "and the arm's foot. It carries the whole feed current at the power used.",
    "Move the strap for the resistance and set the capacitor for the reactance, in turns, with the "
    "transmitter off while you touch anything; then fix both and seal the box.",
    "Close the tips with plastic caps.",
)


def assembly(antenna: SizedGammaDipole, pipe: Pipe, joint: str) -> Assembly:
    """One pipe, and a rod beside its upper half; everything is measured from the middle."""
    del pipe
    a = antenna
    rod = (f"{small(a.arm_diameter, 1)} rod", a.arm_diameter)
    foot, head = "foot of the arm", "head of the arm"
    return Assembly(
        members=(
            Member("dipole", "lower tip", "upper tip"),
            Member("post", "middle", foot, *rod),
            Member("arm", foot, head, *rod),
            Member("strap", "strap's clamp", head, *rod),
        ),
        joints=(
            JointPoint("lower tip", (0.0, 0.0, -0.5 * a.length), "open"),
            JointPoint("upper tip", (0.0, 0.0, 0.5 * a.length), "open"),
            JointPoint("middle", (0.0, 0.0, 0.0), "crossing", "clamp, connector and holder"),
            JointPoint(foot, (-a.spacing, 0.0, 0.0), "insulator", "the capacitor lies here"),
            JointPoint(head, (-a.spacing, 0.0, a.arm), "elbow"),
            JointPoint("strap's clamp", (0.0, 0.0, a.arm), "crossing", "slides for the match"),
        ),
        marks=(
            Mark(f"shield's clamp, {joint}", (0.0, 0.0, 0.0), "dipole", "upper tip", _AWAY),
            Mark("strap", (0.0, 0.0, a.arm), "dipole", "middle"),
        ),
        extras=(
            (
                1,
                f"capacitor that can be set about {1e12 * a.capacitance:.1f} pF, with a Q of "
                f"{a.quality:g} or more, in a dry box",
            ),
            (2, "clamps that join the pipe to connector and strap"),
            (1, "holder that grips the pipe at its middle"),
        ),
        steps=tuple(step.format(joint=joint) for step in _STEPS),
    )


GENERATOR = Generator(
    name="gamma-dipole",
    title="a gamma-matched dipole",
    theory=(
        "A half-wave dipole of one pipe has no voltage in its middle and may be held there by "
        "metal. Its feed is a rod beside one half: rod and pipe are a short line closed by the "
        "strap, across which lies the dipole, stepped up because only part of its current flows "
        "in the rod (after the gamma match in Balanis, Antenna Theory, ch. 9, from memory). The "
        "arm sets the resistance; what is inductive, a capacitor in series takes away. One side "
        "only is fed, so the middle is not quite without voltage and the cable's shield, joined "
        "there, carries current."
    ),
    base_line="middle of the dipole",
    parameters=GammaDipole,
    joints=("middle",),
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        Trim(
            "arm",
            "sets the resistance: move the strap outwards for more ohm",
            1e-3,
            called="gamma arm",
            slides=True,
        ),
        Trim("capacitance", "takes the reactance away: less capacitance for less inductive", 1e-13),
        Trim(
            "length",
            "cut both tips alike to move it up in frequency; seldom needed",
            1e-3,
            called="dipole",
        ),
    ),
    azimuth_zero="from the arm to the dipole",
    outlet="the dipole's axis",
    thinnest=lambda antenna: float(antenna.arm_diameter / 2),
)
