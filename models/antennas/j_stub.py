"""Common frame of a J-pole and its relatives: a pipe bent into a U, fed by a bridge across it.

The U is a quarter-wave line, shorted by the crossbar at its foot; one leg goes on above it as the
radiator. Lengths by rule, what cannot be built, the drawing of the bent pipe, its feed and mast,
and the parts of the U; what stands above it is in models/antennas.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Annotated, Protocol

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import (
    Drawing,
    FinishedAntenna,
    Generator,
    Joint,
    Trim,
    filled,
    thickness_inductance,
)
from models.catalogues.parts import Pipe
from models.construction.assembly import JointPoint, Mark, Member
from models.faults import Fault
from models.lengths import small
from models.quantities import MU_0, Quantity
from models.wires.pipe_cage import (
    RIM_PER_RADIUS,
    Cage,
    cage_spacing,
    node_point,
    ring,
    ring_nodes,
    sweep,
)
from models.wires.pipe_parts import flux_cut
from models.wires.segmentation import (
    MAX_FEED_THICKNESS,
    SOUND_FEED_THICKNESS,
    SegmentRule,
    split_wire,
)
from models.wires.structure import Wire, grid_point

# Seen against this normal, wire 0 of the cage faces into the U and wire N/2 out of it.
NORMAL = np.array([0.0, -1.0, 0.0])
# How far the crossbar is drawn towards the bridge, in pipe radii: magnetic flux gets into the
# corner of a cage, none into that of a tube. A U of 22 mm without bridge, solved on its walls (not
# stored), wants 0.06 with four wires and a hoop at the tap, 0.11 without that hoop; six of the
# J-poles there want 0.02 to 0.08, the one for 435 MHz and the closest -0.05. This is the median.
CORNER_IN = 0.03
# Names of joints that members and marks of every relative speak of.
FOOT, CORNER, OPEN_LEG = "foot of the long leg", "foot of the short leg", "short tip"
# Legs that the shield may be joined to, the usual one first, and the joint at the foot of each.
FEET = {"short leg": CORNER, "long leg": FOOT}


# Parameters that every relative has, as a study gives them.
LegSpacing = Annotated[
    float, Quantity("m", 0.025, 0.5, "distance between the two legs, axis to axis", "55 mm")
]
LongLeg = Annotated[
    float | None,
    Quantity("m", 0.2, 12.0, "crossbar axis to the tip of the long leg", "1480 mm"),
]
ShortLeg = Annotated[
    float | None,
    Quantity("m", 0.05, 4.0, "crossbar axis to the tip of the short leg", "490 mm"),
]
Tap = Annotated[float | None, Quantity("m", 0.005, 1.0, "crossbar axis to the feed point", "50 mm")]
BridgeDiameter = Annotated[
    float | None,
    Quantity("m", 0.0005, 0.03, "conductor that carries the feed across the gap", "8 mm"),
]


# Fields to (wavelengths, pipe diameters).
Rules = dict[str, tuple[float, float]]


class Given(Protocol):
    """Lengths of the U as a study gives them [m]; ``None`` is derived."""

    @property
    def spacing(self) -> float:
        """Between the legs' axes."""

    @property
    def short_leg(self) -> float | None:
        """From the crossbar's axis to the tip of the short leg."""

    @property
    def tap(self) -> float | None:
        """From the crossbar's axis to the feed point."""

    @property
    def bridge_diameter(self) -> float | None:
        """Of the conductor that carries the feed across the gap."""


class Known(Protocol):
    """Lengths of the U, all known [m]."""

    @property
    def spacing(self) -> float:
        """Between the legs' axes."""

    @property
    def short_leg(self) -> float:
        """From the crossbar's axis to the tip of the short leg."""

    @property
    def tap(self) -> float:
        """From the crossbar's axis to the feed point."""

    @property
    def bridge_diameter(self) -> float:
        """Of the conductor that carries the feed across the gap."""


def sized_frame(
    parameters: Given, pipe: Pipe, shield_diameter: float, *rules: tuple[Rules, float]
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Lengths of a relative [m] by field, and a sentence for each one that was derived.

    Each of ``rules`` comes with its wavelength [m]: what is not given is so many wavelengths and
    so many pipe diameters; the bridge is as thick as the shield.
    """
    diameter, own = pipe.outside_diameter, {}
    for fields, wavelength in rules:
        for key, (waves, diameters) in fields.items():
            length = waves * wavelength + diameters * diameter
            why = f"({waves:g} wavelength {diameters:+g} pipe diameters)"
            own[key] = (length, f"{small(length)} {why}")
    shield = f"{small(shield_diameter, 1)} (that of the cable's shield)"
    own["bridge_diameter"] = (shield_diameter, shield)
    lengths, sentences = filled(parameters, own)
    return {"spacing": parameters.spacing, **lengths}, sentences


def frame_problems(parameters: Given, diameter: float) -> list[Fault]:
    """Problems of a U of pipe of this diameter [m]; only given lengths count."""
    found = (_spacing_problem(parameters, diameter), _tap_problem(parameters, diameter))
    return [problem for problem in found if problem is not None]


def _spacing_problem(p: Given, diameter: float) -> Fault | None:
    if p.spacing >= diameter + 0.003:
        return None
    return Fault(
        "antenna.spacing",
        small(p.spacing, 1),
        f"leaves no gap between two pipes of {small(diameter, 1)}",
        f"spacing: {small(2.5 * diameter)} (axis to axis)",
        "spacing-small",
    )


def _tap_problem(p: Given, diameter: float) -> Fault | None:
    if p.tap is None:
        return None
    value = small(p.tap, 1)
    if p.short_leg is not None and p.tap > 0.8 * p.short_leg:
        return Fault(
            "antenna.tap",
            value,
            f"lies too close to the tip of the short leg, or above it ({small(p.short_leg)})",
            f"tap: {small(0.1 * p.short_leg)} (about a tenth of the short leg)",
            "tap-above-stub",
        )
    if p.tap < diameter:
        return Fault(
            "antenna.tap",
            value,
            "lies on the crossbar: the axis of the tap must stand at least one pipe diameter "
            f"({small(diameter, 1)}) above the axis of the crossbar",
            f"tap: {small(2 * diameter)}",
            "tap-on-crossbar",
        )
    return None


def legs_problem(long_leg: float | None, short_leg: float | None) -> list[Fault]:
    """Legs [m] too much alike to be a radiator over a stub; only given ones count."""
    if short_leg is None or long_leg is None or long_leg >= 1.5 * short_leg:
        return []
    return [
        Fault(
            "antenna.long_leg",
            small(long_leg),
            f"is not at least 1.5 times the short leg ({small(short_leg)})",
            f"long_leg: {small(3 * short_leg)}, or short_leg: {small(long_leg / 3)} "
            "(the long leg is about three times the short one)",
            "legs-alike",
        )
    ]


def segment_rules(spacing: float, drawing: Drawing) -> tuple[SegmentRule, SegmentRule]:
    """Rules for the stub and for the radiator above it.

    Fine is 0.55 pipe diameters, where reciprocity and average gain were best, but never under
    2.5 wire radii, so that no segment reaches the hoop of the corner before it; the stub's
    middle may be half the spacing, the radiator 1/25 wavelength. ``refine`` below one shrinks
    everything, down to that.
    """
    radius, diameter = drawing.cage.wire_radius, 2 * drawing.pipe_radius
    longest = drawing.shortest_wavelength / 25
    fine = max(drawing.refine * 0.55 * diameter, 2.5 * radius)
    stub = SegmentRule(fine, max(fine, drawing.refine * min(0.5 * spacing, longest)))
    radiator = SegmentRule(fine, max(fine, drawing.refine * min(4 * diameter, longest)))
    return stub, radiator


def drawn_spacing(spacing: float, drawing: Drawing) -> float:
    """Spacing of two cages that make the line of two pipes so far apart, axis to axis. [m]

    :func:`pipe_cage.cage_spacing` (Schelkunoff, 1943) for the drawing's own cage.

    Examples
    --------
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.00936, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=2.07, refine=1.0, mast=0.0)
    >>> round(1e3 * drawn_spacing(0.055, drawing), 1)
    54.7
    """
    cage = drawing.cage
    return cage_spacing(
        spacing, drawing.pipe_radius, cage.ring_radius, cage.wire_radius, cage.n_wires
    )


def lowered(antenna: Known, drawing: Drawing) -> float:
    """Distance that all above the tap comes down, and the crossbar up, for the bridge. [m]

    Half each of :func:`pipe_parts.flux_cut`: the field at the bridge is that of the mean of the
    currents above and below it.
    Measured here: tests/validation/test_surface_tubes.py.
    """
    return 0.5 * flux_cut(antenna.spacing, drawing.pipe_radius, antenna.bridge_diameter / 2)


def _drawn_foot(antenna: Known, drawing: Drawing) -> float:
    """Height at which the crossbar's axis is drawn. [m]"""
    return lowered(antenna, drawing) + CORNER_IN * drawing.pipe_radius


def tip_back(antenna: Known, drawing: Drawing) -> float:
    """Distance an open end above the tap stands below the real one. [m]

    Measured here: tests/validation/test_surface_tubes.py.
    """
    return RIM_PER_RADIUS * drawing.cage.wire_radius + lowered(antenna, drawing)


def u_stations(antenna: Known, drawing: Drawing) -> list[tuple[float, float, float]]:
    """Axis of the U from the long leg beside the short tip down, round and up to that tip."""
    apart, foot = drawn_spacing(antenna.spacing, drawing), _drawn_foot(antenna, drawing)
    short = antenna.short_leg - tip_back(antenna, drawing)
    return [
        (0.0, 0.0, short),
        (0.0, 0.0, antenna.tap),
        (0.0, 0.0, foot),
        (apart, 0.0, foot),
        (apart, 0.0, antenna.tap),
        (apart, 0.0, short),
    ]


def u_rules(stub: SegmentRule) -> tuple[SegmentRule, ...]:
    """Rule of every stretch between the stations of the U; the crossbar's do not grow."""
    return (stub, stub, SegmentRule(stub.fine, stub.fine), stub, stub)


def bent_pipe(
    path: Sequence[tuple[float, float, float]],
    rules: Sequence[SegmentRule],
    hoops: Sequence[int],
    cage: Cage,
) -> tuple[list[Wire], NDArray[np.float64]]:
    """Cage of a pipe along a path in the plane of the U, and nodes (n_station, n_wires, 3). [m]

    One rule for every stretch between two stations of the axis; ``hoops`` are the stations that get
    a ring: corners, open ends, and wherever something is attached.
    """
    nodes = ring_nodes(np.array(path), NORMAL, cage)
    wires: list[Wire] = []
    for station, rule in enumerate(rules):
        wires += sweep(nodes[station : station + 2], np.full(2, rule.fine), rule, cage)
    for station in hoops:
        wires += ring(nodes[station], cage)
    return wires, nodes


def fed_at_tap(
    wires: list[Wire],
    taps: NDArray[np.float64],
    antenna: Known,
    drawing: Drawing,
) -> FinishedAntenna:
    """The bent pipe with its mast, the bridge between the legs, and where a shield may join.

    ``wires`` are all metal but mast and bridge, ``taps`` (2, n_wires, 3) [m] the nodes of the long
    and of the short leg at the tap.
    """
    cage = drawing.cage
    if drawing.mast:
        wires = _with_mast(wires, antenna, drawing)
    left, right = node_point(taps, 0, 0), node_point(taps, 1, 0)
    n = feed_segments((right[0] - left[0]) / cage.wire_radius, cage.n_wires)
    wires = [*wires, Wire(left, right, n, cage.wire_radius, cage.part, cage.material)]
    outer = cage.n_wires // 2
    return FinishedAntenna(
        wires=tuple(wires),
        feed_wires=(len(wires) - 1,),
        joints={
            "long leg": Joint(node_point(taps, 0, outer), (-1.0, 0.0, 0.0), cage.ring_radius),
            "short leg": Joint(node_point(taps, 1, outer), (1.0, 0.0, 0.0), cage.ring_radius),
        },
        feed_inductance=_bridge_inductance(antenna, drawing, right[0] - left[0]),
        lowest=-drawing.pipe_radius - drawing.mast,
    )


def feed_segments(length: float, n_wires: int) -> int:
    """Segments that the feed is cut into, its length in wire radii, between cages of so many wires.

    Each keeps the source further off the joints: of J1 and A1 one segment makes the power radiated
    1.06 to 1.07 of the power fed, three 1.01 to 1.02, five 1.00, and its lack shows in the
    impedance. Thin wires, of which a cage has more than four, do well on three: power 0.99 against
    0.97 on five. Where there is no room for five at a sound length three may be shorter, and a very
    narrow gap has room for one only. The grid may take a millionth off a length. Measured here:
    tests/validation/test_surface_tubes.py.

    Examples
    --------
    >>> [feed_segments(length, 4) for length in (9.0, 5.2, 3.0)]
    [5, 3, 1]
    """
    if n_wires == 4 and length > 5.01 / SOUND_FEED_THICKNESS:
        return 5
    return 3 if length > 3.01 / MAX_FEED_THICKNESS else 1


def _bridge_inductance(antenna: Known, drawing: Drawing, drawn: float) -> float:
    """Inductance of the real bridge beyond that of the wire that is ``drawn`` [m] long. [H]

    Three terms: its thickness; the ends of the wire inside the pipes, where no field is along the
    metal that stands there; what :func:`pipe_parts.flux_cut` takes too much of, since the field
    at the bridge is that of the mean current of both parts of the line, which differ by the feed's.

    Notes
    -----
    An element at the end of a straight wire of length l has mu0 / (4 pi) ln(2 l / a) a metre, half
    of what l (ln(2 l / a) - 1) grows by: the other half is what its current, which does flow on in
    the wall, induces along the bridge. ((Ia + Ib) / 2)^2 is (Ia^2 + Ib^2) / 2 - (Ia - Ib)^2 / 4.

    References
    ----------
    .. [1] E. B. Rosa, "The self and mutual inductances of linear conductors", Bulletin of the
       Bureau of Standards 4, 1908 (a straight wire).
    """
    radius, thick = drawing.cage.wire_radius, antenna.bridge_diameter / 2
    visible = antenna.spacing - 2 * drawing.pipe_radius
    ends = 0.5 * MU_0 / (2 * np.pi) * (drawn - visible) * np.log(2 * visible / radius)
    of_line = MU_0 / np.pi * np.arccosh(0.5 * antenna.spacing / drawing.pipe_radius)
    shared = 0.25 * of_line * flux_cut(antenna.spacing, drawing.pipe_radius, thick)
    return float(thickness_inductance(visible, radius, thick) - ends + shared)


def _with_mast(wires: list[Wire], antenna: Known, drawing: Drawing) -> list[Wire]:
    """Let the long leg's pipe go on below the crossbar, bonded to it, open at its foot."""
    cage = drawing.cage
    _, rule = segment_rules(antenna.spacing, drawing)
    foot = -drawing.mast + RIM_PER_RADIUS * cage.wire_radius
    bar = _drawn_foot(antenna, drawing)
    path = np.array([(0.0, 0.0, bar), (0.0, 0.0, -2.0 * drawing.pipe_radius), (0.0, 0.0, foot)])
    nodes = ring_nodes(path, NORMAL, cage)
    for index in range(cage.n_wires):
        # The corner's ring is tilted into the mitre: each wire starts at its node there.
        nodes[0, index, 2] = bar + cage.offset(index)[0]
    below = sweep(nodes, np.full(3, rule.fine), rule, cage) + ring(nodes[2], cage)
    for index in range(cage.n_wires):
        inward, across = cage.offset(index)
        if inward > 0.1 * cage.ring_radius:
            # A wire of the mast meets the lower wire of the crossbar that lies in its way.
            crossing = grid_point((inward, across, bar - inward))
            wires, below = split_wire(wires, crossing), split_wire(below, crossing)
    return wires + below


def u_members() -> tuple[Member, ...]:
    """Crossbar and short leg."""
    return (Member("crossbar", FOOT, CORNER), Member("short leg", CORNER, OPEN_LEG))


def u_joints(antenna: Known) -> tuple[JointPoint, ...]:
    """Foot and corner of the U, and the short leg's tip."""
    a = antenna
    return (
        JointPoint(FOOT, (0.0, 0.0, 0.0), "elbow"),
        JointPoint(CORNER, (a.spacing, 0.0, 0.0), "elbow"),
        JointPoint(OPEN_LEG, (a.spacing, 0.0, a.short_leg), "open"),
    )


def _other_leg(joint: str) -> str:
    return next(leg for leg in FEET if leg != joint)


def tap_marks(antenna: Known, joint: str) -> tuple[Mark, ...]:
    """Marks of the feed's clamps, the shield's on the leg that it is joined to.

    Measured from the crossbar's upper edge.
    """
    across = {"short leg": antenna.spacing, "long leg": 0.0}
    other = _other_leg(joint)
    away = f"the cable leaves on the side away from the {other}"
    return tuple(
        Mark(f"tap, {part}", (across[leg], 0.0, antenna.tap), leg, FEET[leg], note)
        for part, leg, note in (("shield", joint, away), ("centre conductor", other, ""))
    )


def tap_parts(antenna: Known) -> tuple[tuple[int, str], ...]:
    """Parts that are bought for the feed."""
    thick = small(antenna.bridge_diameter, 1)
    return (
        (2, "pipe clamps for the tap"),
        (1, f"conductor {thick} thick from leg to leg at the tap, the connector in it"),
    )


def tap_step(joint: str, measured_on: str = "") -> str:
    """Step that fixes the feed; ``measured_on`` adds to what is measured, if more than a match."""
    return (
        f"Fix the feed at the tap with clamps first, the shield to the {joint} and the centre "
        f"conductor to the {_other_leg(joint)}; solder only after the match is "
        f"measured{measured_on}."
    )


# Steps that several have in common.
CUT_STEP = "Cut the pipes as listed and deburr them."
LEGS_STEP = "Join the crossbar to both legs; both legs must stand parallel."
CAPS_STEP = "Close the tips against rain with plastic caps; metal ones would lengthen the legs."
# What every relative says of itself, and how its stub is trimmed.
relative = partial(
    Generator,
    base_line="axis of the crossbar",
    joints=tuple(FEET),
    azimuth_zero="from the long leg to the short leg",
    feed_height=lambda lengths: lengths.tap,
    carries_mast=True,
)
SHORT_LEG_TRIM = Trim(
    "short_leg",
    "sets where the match is best: cut the short leg's tip to move it up in frequency",
    1e-3,
)
TAP_TRIM = Trim("tap", "sets the resistance: move both clamps up for more ohm, down for less", 1e-3)
