"""Open-sleeve J of copper pipe: a J-pole with a short pipe beside its radiator, for two bands.

On the lower band it is a J-pole. Near three times that frequency its stub is three quarters of a
wave and its radiator three half waves, of which the middle one runs against the other two. A half
wave of the same pipe, insulated, close beside the radiator's upper end, is driven by it there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

from models.antennas import j_stub
from models.antennas.generator import Drawing, FinishedAntenna, Trim
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Mark, Member
from models.faults import Fault
from models.lengths import small
from models.quantities import SPEED_OF_LIGHT, Quantity
from models.wires.pipe_cage import RIM_PER_RADIUS


@dataclass(frozen=True)
class OpenSleeveJ:
    """Bands and lengths of an open-sleeve J, lengths between pipe axes; ``None`` is derived."""

    lower_band: Annotated[
        float, Quantity("Hz", 30e6, 500e6, "middle of the lower band, a J-pole's", "145 MHz")
    ]
    upper_band: Annotated[
        float,
        Quantity("Hz", 30e6, 500e6, "middle of the upper band, about three times that", "435 MHz"),
    ]
    spacing: j_stub.LegSpacing
    long_leg: j_stub.LongLeg = None
    short_leg: j_stub.ShortLeg = None
    tap: j_stub.Tap = None
    element: Annotated[
        float | None,
        Quantity("m", 0.05, 4.0, "length of the pipe beside the radiator", "337 mm"),
    ] = None
    element_foot: Annotated[
        float | None,
        Quantity("m", 0.05, 12.0, "crossbar axis to the lower end of that pipe", "1170 mm"),
    ] = None
    element_spacing: Annotated[
        float | None,
        Quantity("m", 0.015, 0.5, "long leg to that pipe, axis to axis", "31 mm"),
    ] = None
    bridge_diameter: j_stub.BridgeDiameter = None


@dataclass(frozen=True)
class SizedOpenSleeveJ:
    """An open-sleeve J whose every length is known [m], with its bands [Hz]."""

    lower_band: float
    upper_band: float
    spacing: float
    long_leg: float
    short_leg: float
    tap: float
    element: float
    element_foot: float
    element_spacing: float
    bridge_diameter: float


# Lengths as (part of a wavelength, pipe diameters), of the lower and of the upper band. Found by a
# search over all six for 22 mm pipe, legs 55 mm apart, at 145 and 435 MHz: standing-wave ratio on
# both bands first, then gain towards the horizon on the upper one. Three starting places of the
# element were tried; beside the stub's mouth and beside the middle of the radiator the ratio was
# still 2.5 to 3 somewhere in 432 to 438 MHz after a hundred steps.
RULES = {"long_leg": (0.6817, -1.2), "short_leg": (0.2533, -0.35), "tap": (0.0132, 1.45)}
ELEMENT_RULES = {
    "element": (0.489, 0.0),
    "element_foot": (1.696, 0.0),
    "element_spacing": (0.0, 1.43),
}


def sized(
    parameters: OpenSleeveJ, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedOpenSleeveJ, tuple[str, ...]]:
    """Every length, given or derived (``RULES``), and a sentence for each derived one.

    The bands are the antenna's own, so that studies of either band speak of the same antenna;
    the study's frequency has no say.
    """
    del frequency
    p = parameters
    lower = (RULES, SPEED_OF_LIGHT / p.lower_band)
    upper = (ELEMENT_RULES, SPEED_OF_LIGHT / p.upper_band)
    lengths, sentences = j_stub.sized_frame(p, pipe, shield_diameter, lower, upper)
    return SizedOpenSleeveJ(p.lower_band, p.upper_band, **lengths), sentences


def check(parameters: OpenSleeveJ, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only given ones are looked at."""
    more = (
        _bands_problem(parameters),
        _gap_problem(parameters, pipe.outside_diameter),
        _foot_problem(parameters),
        _beside_problem(parameters),
    )
    found = j_stub.frame_problems(parameters, pipe.outside_diameter)
    return found + [problem for problem in more if problem is not None]


def _bands_problem(p: OpenSleeveJ) -> Fault | None:
    if 2.6 <= p.upper_band / p.lower_band <= 3.4:
        return None
    return Fault(
        "antenna.upper_band",
        f"{p.upper_band / 1e6:.1f} MHz",
        f"is {p.upper_band / p.lower_band:.2f} times the lower band; the stub of a J-pole is a "
        "match again only near three times its frequency (2.6 to 3.4)",
        f"upper_band: {3 * p.lower_band / 1e6:.0f} MHz, or another kind of antenna",
        "bands-ratio",
    )


def _gap_problem(p: OpenSleeveJ, diameter: float) -> Fault | None:
    if p.element_spacing is None or p.element_spacing >= diameter + 0.003:
        return None
    return Fault(
        "antenna.element_spacing",
        small(p.element_spacing, 1),
        f"leaves no gap between two pipes of {small(diameter, 1)}",
        f"element_spacing: {small(2 * diameter)} (axis to axis)",
        "element-touches",
    )


def _foot_problem(p: OpenSleeveJ) -> Fault | None:
    if p.element_foot is None or p.tap is None or p.element_foot >= p.tap + 0.1:
        return None
    return Fault(
        "antenna.element_foot",
        small(p.element_foot),
        f"puts the pipe beside the radiator where the cable leaves ({small(p.tap)})",
        "element_foot: above the short leg's tip",
        "element-low",
    )


def _beside_problem(p: OpenSleeveJ) -> Fault | None:
    if p.element_foot is None or p.element is None or p.long_leg is None:
        return None
    if p.element_foot + 0.5 * p.element <= p.long_leg:
        return None
    return Fault(
        "antenna.element_foot",
        small(p.element_foot),
        "leaves less than half of the element beside the long leg, which ends at "
        f"{small(p.long_leg)}: nothing to clamp it to",
        f"element_foot: at most {small(p.long_leg - 0.5 * p.element)}",
        "element-above-tip",
    )


def build(antenna: SizedOpenSleeveJ, drawing: Drawing) -> FinishedAntenna:
    """Wires of an open-sleeve J with its crossbar axis on z = 0 and its long leg at x = 0.

    Examples
    --------
    >>> from models.wires.pipe_cage import Cage
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.0097, 0.004, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=0.69, refine=1.0, mast=0.0)
    >>> lengths = (0.055, 1.38, 0.52, 0.06, 0.34, 1.17, 0.045, 0.008)
    >>> finished = build(SizedOpenSleeveJ(145e6, 435e6, *lengths), drawing)
    >>> round(min(wire.start[0] for wire in finished.wires), 3)
    -0.056
    """
    a = antenna
    stub, radiator = j_stub.segment_rules(a.spacing, drawing)
    # Two pipes side by side are a line: no segment longer than half of what lies between.
    radiator = replace(radiator, coarse=max(stub.fine, min(radiator.coarse, a.element_spacing / 2)))
    top = (0.0, 0.0, a.long_leg - j_stub.tip_back(a, drawing))
    path = [top, *j_stub.u_stations(a, drawing)]
    # Nothing is attached beside the short tip: no hoop there.
    wires, nodes = j_stub.bent_pipe(
        path, (radiator, *j_stub.u_rules(stub)), (0, 2, 3, 4, 5, 6), drawing.cage
    )
    x = -j_stub.drawn_spacing(a.element_spacing, drawing)
    back = RIM_PER_RADIUS * drawing.cage.wire_radius
    ends = [(x, 0.0, a.element_foot + back), (x, 0.0, a.element_foot + a.element - back)]
    beside, _ = j_stub.bent_pipe(ends, (radiator,), (0, 1), drawing.cage)
    return j_stub.fed_at_tap(wires + beside, nodes[[2, 5]], a, drawing)


def assembly(antenna: SizedOpenSleeveJ, pipe: Pipe, joint: str) -> Assembly:
    """A J-pole, and a shorter pipe held beside its long leg by insulating blocks."""
    del pipe
    a, x = antenna, -antenna.element_spacing
    low, high = "lower end of the element", "upper end of the element"
    level = "level of the element's lower end"
    return Assembly(
        members=(
            Member("long leg", j_stub.FOOT, "long tip"),
            *j_stub.u_members(),
            Member("element", low, high),
        ),
        joints=(
            *j_stub.u_joints(a),
            JointPoint("long tip", (0.0, 0.0, a.long_leg), "open"),
            JointPoint(low, (x, 0.0, a.element_foot), "open"),
            JointPoint(high, (x, 0.0, a.element_foot + a.element), "open"),
        ),
        marks=(
            *j_stub.tap_marks(a, joint),
            Mark(level, (0.0, 0.0, a.element_foot), "long leg", j_stub.FOOT),
        ),
        extras=(
            *j_stub.tap_parts(a),
            (
                2,
                f"blocks of plastic that hold element and long leg {small(a.element_spacing, 1)} "
                "apart, axis to axis, no metal across",
            ),
        ),
        steps=(
            j_stub.CUT_STEP,
            j_stub.LEGS_STEP,
            "Clamp the element to the long leg with the plastic blocks, on the side away from the "
            "short leg: one block at its lower end, one just below the long leg's tip.",
            j_stub.tap_step(
                joint, f" on both bands, {1e-6 * a.lower_band:g} and {1e-6 * a.upper_band:g} MHz"
            ),
            j_stub.CAPS_STEP,
        ),
    )


GENERATOR = j_stub.relative(
    name="open-sleeve-j",
    title="an open-sleeve J",
    theory=(
        "On the lower band it is a J-pole that hardly notices the short pipe. At three times the "
        "frequency a shorted quarter-wave line is three quarters of a wave long and transforms "
        "again, but the radiator is three half waves and sends most upwards. A half wave close "
        "beside its upper end, insulated, takes part of the current there by the capacitance "
        "between them and goes on above it. That, with a radiator a little shorter than usual, "
        "brings a match on the upper band and some decibels more towards the horizon. The "
        "strongest lobe still leaves at 50 to 60 degrees: a fifth of the power goes within ten "
        "degrees of the horizon, of a plain J-pole's on that band an eighth (computed here, 22 mm "
        "pipe)."
    ),
    parameters=OpenSleeveJ,
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        Trim(
            "short_leg",
            "sets where the match of the lower band is best: cut the short leg's tip to move it up "
            "in frequency",
            1e-3,
        ),
        Trim(
            "element",
            "moves the match of the upper band: cut its upper end to move it up in frequency",
            1e-3,
        ),
        Trim("tap", "sets the resistance on both bands: up for more ohm, down for less", 1e-3),
        Trim("element_spacing", "how tightly the element couples on the upper band", 1e-3),
    ),
)
