"""J-pole of copper pipe: parameters in, wires, feed bridge and shield joint out.

A half-wave radiator stands on one leg of a shorted quarter-wave two-wire stub; the feed taps
the stub where its impedance is that of the cable. The cable's shield is joined to one leg at
the tap, so part of the feed current finds its way down the outside of the cable: how much
depends on which leg, on the length of the cable and on what it ends in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from models.antenna import SPEED_OF_LIGHT, Drawing, FinishedAntenna, Joint, thickness_inductance
from models.catalogue import Pipe
from models.pipe_cage import (
    RIM_PER_RADIUS,
    cage_spacing,
    node_point,
    ring,
    ring_nodes,
    sweep,
)
from models.quantities import Quantity
from models.segmentation import MAX_FEED_THICKNESS, SegmentRule, split_wire
from models.structure import Problem, Wire, grid_point

NAME = "j-pole"

# Seen against this normal, wire 0 of the cage faces into the U and wire N/2 out of it.
_NORMAL = np.array([0.0, -1.0, 0.0])
# How much further the long and the short tip stand back, in pipe radii. Found on the surface
# solutions of four J-poles together (15 to 28 mm, 145 and 435 MHz, shield on either leg), where
# frequency is 0.2 to 0.4 % low without. A lone dipole wants none of it, so it belongs to the pair
# of legs; what of it is corner, open end or feed has not been told apart.
_TIPS = (0.28, 0.07)


@dataclass(frozen=True)
class JPole:
    """Lengths of a J-pole, all measured between pipe axes; ``None`` is derived."""

    spacing: Annotated[
        float, Quantity("m", 0.025, 0.5, "distance between the two legs, axis to axis", "55 mm")
    ]
    long_leg: Annotated[
        float | None,
        Quantity("m", 0.2, 12.0, "crossbar axis to the tip of the long leg", "1480 mm"),
    ] = None
    short_leg: Annotated[
        float | None,
        Quantity("m", 0.05, 4.0, "crossbar axis to the tip of the short leg", "490 mm"),
    ] = None
    tap: Annotated[
        float | None, Quantity("m", 0.005, 1.0, "crossbar axis to the feed point", "50 mm")
    ] = None
    bridge_diameter: Annotated[
        float | None,
        Quantity("m", 0.0005, 0.03, "conductor that carries the feed across the gap", "8 mm"),
    ] = None


PARAMETERS = JPole


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
    """Every length, given or derived, and a sentence for each derived one.

    A length is so many wavelengths and so many pipe diameters (``RULES``); the bridge is as
    thick as the shield.
    """
    wavelength = SPEED_OF_LIGHT / frequency
    lengths = {"bridge_diameter": parameters.bridge_diameter or shield_diameter}
    sentences = []
    for key, (waves, diameters) in RULES.items():
        given = getattr(parameters, key)
        lengths[key] = waves * wavelength + diameters * pipe.outside_diameter
        if given is not None:
            lengths[key] = given
            continue
        sentences.append(
            f"antenna.{key}: {1e3 * lengths[key]:.0f} mm "
            f"({waves:g} wavelength {diameters:+g} pipe diameters)"
        )
    if parameters.bridge_diameter is None:
        sentences.append(
            f"antenna.bridge_diameter: {1e3 * shield_diameter:.1f} mm (that of the cable's shield)"
        )
    return SizedJPole(spacing=parameters.spacing, **lengths), tuple(sentences)


def check(parameters: JPole, pipe: Pipe) -> list[Problem]:
    """What cannot be built, in the reader's words; only lengths that are given are judged."""
    found = (
        _spacing_problem(parameters, pipe.outside_diameter),
        _tap_problem(parameters, pipe.outside_diameter),
        _legs_problem(parameters),
    )
    return [problem for problem in found if problem is not None]


def _spacing_problem(p: JPole, diameter: float) -> Problem | None:
    if p.spacing >= diameter + 0.003:
        return None
    return Problem(
        "antenna.spacing",
        f"{1e3 * p.spacing:.1f} mm",
        f"leaves no gap between two pipes of {1e3 * diameter:.1f} mm",
        f"spacing: {1e3 * 2.5 * diameter:.0f} mm (axis to axis)",
        "spacing-small",
    )


def _tap_problem(p: JPole, diameter: float) -> Problem | None:
    if p.tap is None:
        return None
    value = f"{1e3 * p.tap:.1f} mm"
    if p.short_leg is not None and p.tap > 0.8 * p.short_leg:
        return Problem(
            "antenna.tap",
            value,
            f"lies too close to the tip of the short leg, or above it ({1e3 * p.short_leg:.0f} mm)",
            f"tap: {1e3 * 0.1 * p.short_leg:.0f} mm (about a tenth of the short leg)",
            "tap-above-stub",
        )
    if p.tap < diameter:
        return Problem(
            "antenna.tap",
            value,
            "lies on the crossbar: the axis of the tap must stand at least one pipe diameter "
            f"({1e3 * diameter:.1f} mm) above the axis of the crossbar",
            f"tap: {1e3 * 2 * diameter:.0f} mm",
            "tap-on-crossbar",
        )
    return None


def _legs_problem(p: JPole) -> Problem | None:
    if p.short_leg is None or p.long_leg is None or p.long_leg >= 1.5 * p.short_leg:
        return None
    return Problem(
        "antenna.long_leg",
        f"{1e3 * p.long_leg:.0f} mm",
        f"is not at least 1.5 times the short leg ({1e3 * p.short_leg:.0f} mm)",
        f"long_leg: {1e3 * 3 * p.short_leg:.0f} mm, or short_leg: {1e3 * p.long_leg / 3:.0f} mm "
        "(the long leg is about three times the short one)",
        "legs-alike",
    )


def segment_rules(antenna: SizedJPole, drawing: Drawing) -> tuple[SegmentRule, SegmentRule]:
    """Rules for the stub and for the radiator above it.

    Fine is 0.55 pipe diameters, where reciprocity and average gain were best, but never under
    2.5 wire radii, so that no segment reaches the hoop of the corner before it; the stub's
    middle may be half the spacing, the radiator 1/25 wavelength. ``refine`` below one shrinks
    everything, down to that.
    """
    radius, diameter = drawing.cage.wire_radius, 2 * drawing.pipe_radius
    longest = drawing.wavelength / 25
    fine = max(drawing.refine * 0.55 * diameter, 2.5 * radius)
    stub = SegmentRule(fine, max(fine, drawing.refine * min(0.5 * antenna.spacing, longest)))
    radiator = SegmentRule(fine, max(fine, drawing.refine * min(4 * diameter, longest)))
    return stub, radiator


def _axis(antenna: SizedJPole, drawing: Drawing) -> NDArray[np.float64]:
    """Stations of the cage's axis from the long tip round to the short one."""
    a, cage = antenna, drawing.cage
    rim = RIM_PER_RADIUS * cage.wire_radius
    long_tip, short_tip = (rim + share * drawing.pipe_radius for share in _TIPS)
    apart = cage_spacing(
        a.spacing, drawing.pipe_radius, cage.ring_radius, cage.wire_radius, cage.n_wires
    )
    return np.array(
        [
            (0.0, 0.0, a.long_leg - long_tip),
            (0.0, 0.0, a.short_leg - short_tip),
            (0.0, 0.0, a.tap),
            (0.0, 0.0, 0.0),
            (apart, 0.0, 0.0),
            (apart, 0.0, a.tap),
            (apart, 0.0, a.short_leg - short_tip),
        ]
    )


def _legs(antenna: SizedJPole, drawing: Drawing) -> tuple[list[Wire], NDArray[np.float64]]:
    """Cage of both legs and the crossbar with its rings, and the nodes of every station."""
    stub, radiator = segment_rules(antenna, drawing)
    cage = drawing.cage
    nodes = ring_nodes(_axis(antenna, drawing), _NORMAL, cage)
    crossbar = SegmentRule(stub.fine, stub.fine)
    wires: list[Wire] = []
    for station, rule in enumerate((radiator, stub, stub, crossbar, stub, stub)):
        wires += sweep(nodes[station : station + 2], np.full(2, stub.fine), rule, cage)
    for station in (0, 2, 3, 4, 5, 6):
        wires += ring(nodes[station], cage)
    return wires, nodes


def build(antenna: SizedJPole, drawing: Drawing) -> FinishedAntenna:
    """Wires of a J-pole with its crossbar axis on z = 0 and its long leg at x = 0.

    Examples
    --------
    >>> from models.pipe_cage import Cage
    >>> from models.structure import PERFECT
    >>> cage = Cage(4, 0.0097, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, wavelength=2.07, refine=1.0, mast=0.0)
    >>> finished = build(SizedJPole(0.055, 1.48, 0.49, 0.055, 0.008), drawing)
    >>> sorted(finished.joints)
    ['long leg', 'short leg']
    """
    cage = drawing.cage
    wires, nodes = _legs(antenna, drawing)
    if drawing.mast:
        wires = _with_mast(wires, antenna, drawing)
    left, right = node_point(nodes, 2, 0), node_point(nodes, 5, 0)
    # Three segments keep the source off the joints; a very narrow gap has room for one only. The
    # grid may take a millionth off a length.
    gap = right[0] - left[0]
    n = 3 if gap > 3.01 * cage.wire_radius / MAX_FEED_THICKNESS else 1
    wires.append(Wire(left, right, n, cage.wire_radius, cage.part, cage.material))
    outer = cage.n_wires // 2
    bridge = antenna.spacing - 2 * drawing.pipe_radius
    return FinishedAntenna(
        wires=tuple(wires),
        feed_wire=len(wires) - 1,
        joints={
            "long leg": Joint(node_point(nodes, 2, outer), (-1.0, 0.0, 0.0), cage.ring_radius),
            "short leg": Joint(node_point(nodes, 5, outer), (1.0, 0.0, 0.0), cage.ring_radius),
        },
        feed_inductance=thickness_inductance(bridge, cage.wire_radius, antenna.bridge_diameter / 2),
        lowest=-drawing.pipe_radius - drawing.mast,
    )


def _with_mast(wires: list[Wire], antenna: SizedJPole, drawing: Drawing) -> list[Wire]:
    """Let the long leg's pipe go on below the crossbar, bonded to it, open at its foot."""
    cage = drawing.cage
    _, rule = segment_rules(antenna, drawing)
    foot = -drawing.mast + RIM_PER_RADIUS * cage.wire_radius
    path = np.array([(0.0, 0.0, 0.0), (0.0, 0.0, -2.0 * drawing.pipe_radius), (0.0, 0.0, foot)])
    nodes = ring_nodes(path, _NORMAL, cage)
    for index in range(cage.n_wires):
        # The corner's ring is tilted into the mitre: each wire starts at its node there.
        nodes[0, index, 2] = cage.offset(index)[0]
    below = sweep(nodes, np.full(3, rule.fine), rule, cage) + ring(nodes[2], cage)
    for index in range(cage.n_wires):
        inward, across = cage.offset(index)
        if inward > 0.1 * cage.ring_radius:
            # A wire of the mast meets the lower wire of the crossbar that lies in its way.
            crossing = grid_point((inward, across, -inward))
            wires, below = split_wire(wires, crossing), split_wire(below, crossing)
    return wires + below
