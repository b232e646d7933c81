"""Folded J of copper pipe: a J-pole whose radiator comes down again beside itself.

The half-wave radiator is folded over at its top: a strap, and a second pipe beside the first that
ends in a gap above the short leg of the stub. One pipe bent into a slim loop, open in one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from models.antennas import j_stub
from models.antennas.generator import Drawing, FinishedAntenna, Trim
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Member
from models.faults import Fault
from models.lengths import small
from models.quantities import SPEED_OF_LIGHT, Quantity
from models.wires.pipe_cage import RIM_PER_RADIUS
from models.wires.pipe_parts import STRAP_OUT
from models.wires.segmentation import SegmentRule

# Ends nearer than this part of a diameter have a capacitance between their faces that two hoops
# of wire do not have; no solution on tubes with nearer ones was compared.
_LEAST_GAP = 0.5


@dataclass(frozen=True)
class FoldedJ:
    """Lengths of a folded J, all measured between pipe axes; ``None`` is derived."""

    spacing: Annotated[
        float, Quantity("m", 0.025, 0.5, "distance between the two sides, axis to axis", "55 mm")
    ]
    height: Annotated[
        float | None,
        Quantity("m", 0.2, 12.0, "crossbar axis to the axis of the strap at the top", "1480 mm"),
    ] = None
    short_leg: j_stub.ShortLeg = None
    gap: Annotated[
        float | None,
        Quantity("m", 0.005, 0.5, "tip of the short leg to the end of the second side", "35 mm"),
    ] = None
    tap: j_stub.Tap = None
    bridge_diameter: j_stub.BridgeDiameter = None


@dataclass(frozen=True)
class SizedFoldedJ:
    """A folded J whose every length is known [m]."""

    spacing: float
    height: float
    short_leg: float
    gap: float
    tap: float
    bridge_diameter: float


# Lengths as (part of a wavelength, pipe diameters), fitted here to a match at 52, 145 and
# 435 MHz with pipes of 15 to 28 mm two and a half diameters apart. Starting points for a tape
# measure, not a tuned antenna.
RULES = {
    "height": (0.668, -0.6),
    "short_leg": (0.2570, -0.35),
    "gap": (0.01, 0.6),
    "tap": (0.0198, 1.85),
}


def sized(
    parameters: FoldedJ, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedFoldedJ, tuple[str, ...]]:
    """Every length, given or derived (``RULES``), and a sentence for each derived one."""
    rules = (RULES, SPEED_OF_LIGHT / frequency)
    lengths, sentences = j_stub.sized_frame(parameters, pipe, shield_diameter, rules)
    return SizedFoldedJ(**lengths), sentences


def check(parameters: FoldedJ, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only given ones are looked at."""
    more = (_gap_problem(parameters, pipe.outside_diameter), _side_problem(parameters))
    found = j_stub.frame_problems(parameters, pipe.outside_diameter)
    return found + [problem for problem in more if problem is not None]


def _gap_problem(p: FoldedJ, diameter: float) -> Fault | None:
    if p.gap is None or p.gap >= _LEAST_GAP * diameter:
        return None
    return Fault(
        "antenna.gap",
        small(p.gap, 1),
        f"is less than half the pipe's diameter ({small(diameter, 1)}): what two ends so near "
        "do to each other has not been compared with anything",
        f"gap: {small(1.5 * diameter)}",
        "gap-small",
    )


def _side_problem(p: FoldedJ) -> Fault | None:
    if p.short_leg is None or p.height is None or p.gap is None:
        return None
    if p.height - p.short_leg - p.gap >= p.short_leg:
        return None
    return Fault(
        "antenna.height",
        small(p.height),
        f"leaves the second side shorter than the short leg ({small(p.short_leg)})",
        f"height: {small(3 * p.short_leg + p.gap)} (the second side is about twice the short leg)",
        "side-short",
    )


def build(antenna: SizedFoldedJ, drawing: Drawing) -> FinishedAntenna:
    """Wires of a folded J with its crossbar axis on z = 0 and its long side at x = 0.

    Examples
    --------
    >>> from models.wires.pipe_cage import Cage
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.0097, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=2.07, refine=1.0, mast=0.0)
    >>> finished = build(SizedFoldedJ(0.055, 1.48, 0.49, 0.035, 0.055, 0.008), drawing)
    >>> sorted(finished.joints)
    ['long leg', 'short leg']
    """
    a = antenna
    stub, radiator = j_stub.segment_rules(a.spacing, drawing)
    apart = j_stub.drawn_spacing(a.spacing, drawing)
    down = j_stub.lowered(a, drawing)
    top = a.height + STRAP_OUT * drawing.pipe_radius - down
    end = a.short_leg + a.gap + RIM_PER_RADIUS * drawing.cage.wire_radius - down
    path = [(apart, 0.0, end), (apart, 0.0, top), (0.0, 0.0, top), *j_stub.u_stations(a, drawing)]
    strap = SegmentRule(stub.fine, stub.fine)
    rules = (radiator, strap, radiator, *j_stub.u_rules(stub))
    # Nothing is attached beside the short tip (station 3): no hoop there.
    wires, nodes = j_stub.bent_pipe(path, rules, (0, 1, 2, 4, 5, 6, 7, 8), drawing.cage)
    return j_stub.fed_at_tap(wires, nodes[[4, 7]], a, drawing)


def assembly(antenna: SizedFoldedJ, pipe: Pipe, joint: str) -> Assembly:
    """The U of a J-pole, a long side, a strap at the top and a second side that ends in a gap."""
    del pipe
    a = antenna
    top, turn, end = "top of the long leg", "top of the second side", "end of the second side"
    return Assembly(
        members=(
            Member("long leg", j_stub.FOOT, top),
            *j_stub.u_members(),
            Member("strap", top, turn),
            Member("second side", turn, end),
        ),
        joints=(
            *j_stub.u_joints(a),
            JointPoint(top, (0.0, 0.0, a.height), "elbow"),
            JointPoint(turn, (a.spacing, 0.0, a.height), "elbow"),
            JointPoint(end, (a.spacing, 0.0, a.short_leg + a.gap), "open"),
        ),
        marks=j_stub.tap_marks(a, joint),
        extras=(
            *j_stub.tap_parts(a),
            (1, "rod or tube of plastic that fits into the pipe, to bridge the gap"),
            (2, "spacers of plastic between the two sides"),
        ),
        steps=(
            j_stub.CUT_STEP,
            "Join the crossbar to long and short leg, and the strap to long leg and second side; "
            "all four must lie in one plane, both sides parallel.",
            f"Bridge the gap of {small(a.gap)} above the {j_stub.OPEN_LEG} with the plastic, so "
            "that neither end can move.",
            j_stub.tap_step(joint),
        ),
    )


GENERATOR = j_stub.relative(
    name="folded-j",
    title="a folded J",
    theory=(
        "A half-wave radiator stands on a shorted quarter-wave line of two pipes, fed where its "
        "impedance is that of the cable. The radiator is folded: two pipes side by side, joined at "
        "the top. What they carry the same way is shared between them and radiates as one thick "
        "conductor; what they carry against each other is a line shorted at the top. Two equal "
        "conductors share the current in halves, as in a folded dipole, whose resistance in the "
        "middle is therefore four times that of one (C. A. Balanis, Antenna Theory, ch. 9). Thick "
        "conductors are less particular about frequency: a standing-wave ratio under 1.5 over "
        "4.5 % of it here, where a J-pole of the same pipe has 2.7 % (computed, 22 mm, 145 MHz). "
        "The second side ends in a gap above the short leg; the wider the gap, the less its end "
        "and the leg load each other."
    ),
    parameters=FoldedJ,
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        Trim(
            "short_leg",
            "sets where the match is best: cut the short leg's tip to move it up in frequency "
            "(the gap grows by as much)",
            1e-3,
        ),
        j_stub.TAP_TRIM,
        Trim(
            "gap",
            "loads the short leg a little: cut the second side's end to make it wider",
            1e-3,
        ),
    ),
)
