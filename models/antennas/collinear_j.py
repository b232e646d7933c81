"""Collinear J of copper pipe: a J-pole with a second half wave above it, in phase.

Between the two half waves the pipe makes a hairpin sideways, a shorted line of a quarter wave: the
half wave that would run against the other two is folded into it, where it hardly radiates.
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
from models.wires.pipe_parts import STRAP_OUT
from models.wires.segmentation import SegmentRule


@dataclass(frozen=True)
class CollinearJ:
    """Lengths of a collinear J, all measured between pipe axes; ``None`` is derived."""

    spacing: Annotated[
        float,
        Quantity(
            "m",
            0.025,
            0.5,
            "between the legs of the stub, and of the hairpin, axis to axis",
            "55 mm",
        ),
    ]
    long_leg: Annotated[
        float | None,
        Quantity("m", 0.2, 12.0, "crossbar axis to the lower axis of the hairpin", "1480 mm"),
    ] = None
    hairpin: Annotated[
        float | None,
        Quantity("m", 0.05, 4.0, "axis of the radiator to the far end bar's axis", "500 mm"),
    ] = None
    upper: Annotated[
        float | None,
        Quantity("m", 0.1, 8.0, "upper axis of the hairpin to the top tip", "980 mm"),
    ] = None
    short_leg: j_stub.ShortLeg = None
    tap: j_stub.Tap = None
    bridge_diameter: j_stub.BridgeDiameter = None


@dataclass(frozen=True)
class SizedCollinearJ:
    """A collinear J whose every length is known [m]."""

    spacing: float
    long_leg: float
    hairpin: float
    upper: float
    short_leg: float
    tap: float
    bridge_diameter: float


# Lengths as (part of a wavelength, pipe diameters), fitted here to a match at 52, 145 and
# 435 MHz with pipes of 15 to 28 mm two and a half diameters apart, thinner than 0.025 wavelength:
# fatter ones (22 and 28 mm at 435 MHz) are left at a ratio of 1.6 and 2.2. The hairpin is 0.024
# wavelength longer than where the gain is largest: that costs 0.3 dB, and the stub keeps nearer
# its usual length. Starting points for a tape measure, not a tuned antenna.
RULES = {
    "long_leg": (0.7275, -1.2),
    "hairpin": (0.241, -0.6),
    "upper": (0.465, -0.5),
    "short_leg": (0.253, 1.9),
    "tap": (0.0223, 2.93),
}


def sized(
    parameters: CollinearJ, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedCollinearJ, tuple[str, ...]]:
    """Every length, given or derived (``RULES``), and a sentence for each derived one."""
    rules = (RULES, SPEED_OF_LIGHT / frequency)
    lengths, sentences = j_stub.sized_frame(parameters, pipe, shield_diameter, rules)
    return SizedCollinearJ(**lengths), sentences


def check(parameters: CollinearJ, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only given ones are looked at."""
    p, hairpin = parameters, _hairpin_problem(parameters)
    found = j_stub.frame_problems(p, pipe.outside_diameter) + j_stub.legs_problem(
        p.long_leg, p.short_leg
    )
    return found if hairpin is None else [*found, hairpin]


def _hairpin_problem(p: CollinearJ) -> Fault | None:
    if p.hairpin is None or p.hairpin >= 1.5 * p.spacing:
        return None
    return Fault(
        "antenna.hairpin",
        small(p.hairpin),
        f"is not at least 1.5 times as long as its legs are apart ({small(p.spacing)})",
        "hairpin: a quarter of the wavelength, or leave it out; or bring the legs together",
        "hairpin-short",
    )


def build(antenna: SizedCollinearJ, drawing: Drawing) -> FinishedAntenna:
    """Wires of a collinear J with its crossbar axis on z = 0 and its radiator at x = 0.

    Examples
    --------
    >>> from models.wires.pipe_cage import Cage
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.0097, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=2.07, refine=1.0, mast=0.0)
    >>> lengths = SizedCollinearJ(0.055, 1.48, 0.5, 0.98, 0.49, 0.055, 0.008)
    >>> round(max(wire.end[2] for wire in build(lengths, drawing).wires), 2)
    2.51
    """
    a = antenna
    stub, radiator = j_stub.segment_rules(a.spacing, drawing)
    apart = j_stub.drawn_spacing(a.spacing, drawing)
    low = a.long_leg - j_stub.lowered(a, drawing)
    high = low + apart
    # The real tip stands on the real spacing, the drawn hairpin is a little narrower.
    tip = a.long_leg + a.spacing + a.upper - j_stub.tip_back(a, drawing)
    far = -a.hairpin - STRAP_OUT * drawing.pipe_radius
    corners = [(0.0, 0.0, high), (far, 0.0, high), (far, 0.0, low), (0.0, 0.0, low)]
    path = [(0.0, 0.0, tip), *corners, *j_stub.u_stations(a, drawing)]
    bar = SegmentRule(stub.fine, stub.fine)
    rules = (radiator, stub, bar, stub, radiator, *j_stub.u_rules(stub))
    # Nothing is attached beside the short tip (station 5): no hoop there.
    wires, nodes = j_stub.bent_pipe(path, rules, (0, 1, 2, 3, 4, 6, 7, 8, 9, 10), drawing.cage)
    return j_stub.fed_at_tap(wires, nodes[[6, 9]], a, drawing)


def assembly(antenna: SizedCollinearJ, pipe: Pipe, joint: str) -> Assembly:
    """A J-pole whose radiator ends in a hairpin, and the upper half wave on the other end of it."""
    del pipe
    a = antenna
    low, far_low = "lower mouth of the hairpin", "lower end of the hairpin"
    far_high, high = "upper end of the hairpin", "upper mouth of the hairpin"
    upper_z = a.long_leg + a.spacing
    return Assembly(
        members=(
            Member("long leg", j_stub.FOOT, low),
            *j_stub.u_members(),
            Member("hairpin, lower leg", low, far_low),
            Member("hairpin, end bar", far_low, far_high),
            Member("hairpin, upper leg", far_high, high),
            Member("upper half wave", high, "top tip"),
        ),
        joints=(
            *j_stub.u_joints(a),
            JointPoint(low, (0.0, 0.0, a.long_leg), "elbow"),
            JointPoint(far_low, (-a.hairpin, 0.0, a.long_leg), "elbow"),
            JointPoint(far_high, (-a.hairpin, 0.0, upper_z), "elbow"),
            JointPoint(high, (0.0, 0.0, upper_z), "elbow"),
            JointPoint("top tip", (0.0, 0.0, upper_z + a.upper), "open"),
        ),
        marks=j_stub.tap_marks(a, joint),
        extras=(
            *j_stub.tap_parts(a),
            (2, "blocks of plastic that clamp both legs of the hairpin, mouth and far end"),
        ),
        steps=(
            j_stub.CUT_STEP,
            "Join the U of crossbar, long and short leg; both legs must stand parallel.",
            "Join the hairpin on the side away from the short leg, in the plane of the U, and the "
            "upper half wave on it; the radiators must stand in one line.",
            "The upper half wave hangs on the mouth of the hairpin: hold it with a plastic block "
            "there, and stay it or use thicker pipe where the wind is strong.",
            j_stub.tap_step(joint),
            j_stub.CAPS_STEP,
        ),
    )


GENERATOR = j_stub.relative(
    name="collinear-j",
    title="a collinear J",
    theory=(
        "Two half waves one above the other, in phase, send more towards the horizon than one: "
        "3.8 dBi end to end and 5.0 dBi with middles three quarters of a wave apart, against 2.15 "
        "dBi (from the mutual impedances in C. A. Balanis, Antenna Theory, ch. 8). The lower one "
        "is a J-pole; at its top the pipe goes out sideways, back and on upwards. That hairpin is "
        "a shorted line of about a quarter wave, the half wave between the two that would run "
        "against them, folded up so that it hardly radiates. It is shorter than a quarter wave, "
        "because end bar and corners are part of it. The U below radiates a little too, so the "
        "whole has somewhat more than the two half waves alone."
    ),
    parameters=CollinearJ,
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        j_stub.SHORT_LEG_TRIM,
        j_stub.TAP_TRIM,
        Trim(
            "hairpin",
            "sets the phase of the upper half wave; the match says little about it, so build "
            "it to its length and leave it",
            1e-3,
        ),
    ),
)
