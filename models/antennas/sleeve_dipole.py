"""Coaxial sleeve dipole: a pipe above, a pipe below, the coax coming up through the lower one.

The lower quarter wave is a sleeve that a plate joins to the cable's shield at the feed. Its outside
is the dipole's other half; its inside, with the shield in it, is a line shorted at the plate, whose
impedance lies between the sleeve's mouth and the shield that leaves there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import Drawing, FinishedAntenna, Generator, Joint, Trim, filled
from models.catalogues.parts import CoaxClass, Pipe, conductor
from models.construction.assembly import Assembly, JointPoint, Mark, Member
from models.faults import Fault
from models.lengths import small
from models.quantities import SPEED_OF_LIGHT, Quantity
from models.wires.loads import Load, SleeveMouth
from models.wires.pipe_cage import THICKEST_WIRE, Cage, cage_ring_radius, choose_wire_count, ring
from models.wires.pipe_parts import WireBuilder
from models.wires.segmentation import SegmentRule
from models.wires.sleeve_wires import SPOKE_PER_RADIUS, mouth_capacitance, port_length
from models.wires.structure import Point, Wire, grid_point

# Shield and its braid are taken as plain copper, as on the rest of the cable.
_SHIELD_METAL = "copper-iacs"


@dataclass(frozen=True)
class SleeveDipole:
    """Lengths of a sleeve dipole; ``None`` is derived from frequency, pipe and cable."""

    upper: Annotated[
        float | None,
        Quantity("m", 0.05, 3.0, "middle of the feed's gap to the tip of the upper pipe", "470 mm"),
    ] = None
    lower: Annotated[
        float | None,
        Quantity("m", 0.05, 3.0, "middle of the feed's gap to the sleeve's mouth", "470 mm"),
    ] = None
    gap: Annotated[
        float | None,
        Quantity("m", 0.002, 0.02, "air between the plate and the upper pipe", "5 mm"),
    ] = None
    sleeve_diameter: Annotated[
        float | None, Quantity("m", 0.01, 0.08, "outside of the sleeve", "28 mm")
    ] = None
    sleeve_wall: Annotated[
        float | None, Quantity("m", 0.0003, 0.005, "wall of the sleeve", "1 mm")
    ] = None
    shield_diameter: Annotated[
        float | None,
        Quantity("m", 0.001, 0.03, "shield of the coax inside the sleeve", "8.13 mm"),
    ] = None
    jacket_diameter: Annotated[
        float | None,
        Quantity("m", 0.001, 0.03, "jacket of the coax inside the sleeve", "10.29 mm"),
    ] = None
    jacket_eps_r: Annotated[
        float | None, Quantity("1", 1.0, 10.0, "permittivity of that jacket", "2.3")
    ] = None


@dataclass(frozen=True)
class SizedSleeveDipole:
    """A sleeve dipole whose every length is known [m]; conductivities in S/m."""

    upper: float
    lower: float
    gap: float
    sleeve_diameter: float
    sleeve_wall: float
    shield_diameter: float
    jacket_diameter: float
    jacket_eps_r: float
    wall_conductivity: float

    @property
    def bore(self) -> float:
        """Inside of the sleeve. [m]"""
        return self.sleeve_diameter - 2 * self.sleeve_wall

    @property
    def velocity_factor(self) -> float:
        """Of the line between sleeve and shield: jacket and air are two capacitors in series."""
        # A sleeve without room for the cable is refused by check, not here.
        room = max(self.bore, 1.01 * self.jacket_diameter, 1.01 * self.shield_diameter)
        slow = np.log(self.jacket_diameter / self.shield_diameter) * (1 - 1 / self.jacket_eps_r)
        return float(np.sqrt(1 - slow / np.log(room / self.shield_diameter)))

    @property
    def inside(self) -> float:
        """From the mouth to the underside of the plate, which is as thick as the wall. [m]"""
        return self.lower - 0.5 * self.gap - self.sleeve_wall


# Tip to mouth as (part of a wavelength, diameters of the sleeve), fitted here to where the antenna
# alone has no reactance, at 52, 145 and 435 MHz with pipes of 15 to 28 mm, cables of 5 and 10 mm:
# within 1.3 % of frequency, 1.8 % with a wider sleeve at 435 MHz.
RULES = {"whole": (0.4672, -0.27)}
_GAP = 0.005
# Wider, and the cone that the gap's wires make between pipe and sleeve is no gap any more.
_WIDEST = 1.6


def fitted(parameters: SleeveDipole, cable: CoaxClass) -> SleeveDipole:
    """The study's own cable inside the sleeve, wherever the parameters do not name another."""
    keys = ("shield_diameter", "jacket_diameter", "jacket_eps_r")
    found = {k: getattr(cable, k) for k in keys if getattr(parameters, k) is None}
    return replace(parameters, **found)


def sized(
    parameters: SleeveDipole, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[SizedSleeveDipole, tuple[str, ...]]:
    """Every length, given or derived, and a sentence for each derived one.

    A cable that is not known but for its shield is taken as bare.
    """
    p, wavelength = parameters, SPEED_OF_LIGHT / frequency
    lengths = {
        "gap": p.gap or _GAP,
        "sleeve_diameter": p.sleeve_diameter or pipe.outside_diameter,
        "sleeve_wall": p.sleeve_wall or pipe.wall,
        "shield_diameter": p.shield_diameter or shield_diameter,
    }
    shield = lengths["shield_diameter"]
    jacket = p.jacket_diameter or shield
    # A bare shield is written with as much jacket; the same number read twice may differ by a bit.
    lengths["jacket_diameter"] = jacket if abs(jacket - shield) > 1e-6 else shield
    antenna = SizedSleeveDipole(
        upper=p.upper or 0.0,
        lower=p.lower or 0.0,
        jacket_eps_r=p.jacket_eps_r or 1.0,
        wall_conductivity=pipe.sigma,
        **lengths,
    )
    factor = antenna.velocity_factor
    plate = 0.5 * antenna.gap + antenna.sleeve_wall
    antenna = replace(antenna, lower=p.lower or 0.25 * factor * wavelength + plate)
    waves, diameters = RULES["whole"]
    whole = waves * wavelength + diameters * antenna.sleeve_diameter
    antenna = replace(antenna, upper=p.upper or whole - antenna.lower)
    reasons = {
        "gap": small(antenna.gap, None),
        "sleeve_diameter": f"{small(antenna.sleeve_diameter, None)} (that of the pipe)",
        "sleeve_wall": f"{small(antenna.sleeve_wall, None)} (that of the pipe)",
        "lower": f"{small(antenna.lower)} (a quarter wave inside the sleeve, where the "
        f"jacket makes it {factor:.3f} of that in free space)",
        "upper": f"{small(antenna.upper)} (mouth to tip {waves:g} wavelength "
        f"{diameters:+g} sleeve diameters)",
    }
    return antenna, filled(p, {key: (getattr(antenna, key), reasons[key]) for key in reasons})[1]


def check(parameters: SleeveDipole, pipe: Pipe) -> list[Fault]:
    """Problems of a study's lengths that cannot be built; only known ones are looked at."""
    diameter = parameters.sleeve_diameter or pipe.outside_diameter
    wall = parameters.sleeve_wall or pipe.wall
    found = (
        _width_problem(diameter, pipe.outside_diameter),
        _bore_problem(parameters, diameter - 2 * wall),
        _jacket_problem(parameters),
        _spoke_problem(parameters, diameter, pipe.outside_diameter),
    )
    return [problem for problem in found if problem is not None]


def _width_problem(diameter: float, pipe: float) -> Fault | None:
    if pipe <= diameter <= _WIDEST * pipe:
        return None
    return Fault(
        "antenna.sleeve_diameter",
        small(diameter, 1),
        f"is not between one and {_WIDEST:g} diameters of the upper pipe ({small(pipe, 1)})",
        f"sleeve_diameter: {small(pipe, 1)} (may be left out)",
        "sleeve-width",
    )


def _bore_problem(p: SleeveDipole, bore: float) -> Fault | None:
    cable = p.jacket_diameter or p.shield_diameter or 0.0
    if bore > cable + 0.0005:
        return None
    return Fault(
        "antenna.sleeve_diameter",
        f"{small(bore, 1)} inside",
        f"leaves the cable of {small(cable, 1)} no room",
        f"a sleeve of at least {small(cable + 0.004)} inside, or a thinner cable",
        "sleeve-narrow",
    )


def _jacket_problem(p: SleeveDipole) -> Fault | None:
    if p.jacket_diameter is None or p.jacket_diameter >= (p.shield_diameter or 0.0):
        return None
    return Fault(
        "antenna.jacket_diameter",
        small(p.jacket_diameter, 2),
        f"is less than the shield's ({small((p.shield_diameter or 0.0), 2)})",
        f"jacket_diameter: {small((p.shield_diameter or 0.0), 2)} for a bare shield",
        "jacket-thin",
    )


def _spoke_problem(p: SleeveDipole, diameter: float, pipe: float) -> Fault | None:
    """Between sleeve and shield there must be room for a wire as thick as the shield."""
    if p.shield_diameter is None:
        return None
    drawn = min(p.shield_diameter / 2, THICKEST_WIRE * pipe / 2)
    n = choose_wire_count(pipe / 2, drawn)
    if cage_ring_radius(diameter / 2, drawn, n) >= SPOKE_PER_RADIUS * drawn:
        return None
    return Fault(
        "antenna.sleeve_diameter",
        small(diameter, 1),
        f"is too narrow for a shield of {small(p.shield_diameter, 2)}: the mouth between them "
        "cannot be drawn as it is",
        f"sleeve_diameter: {small(2.6 * p.shield_diameter)} or more, or a thinner cable",
        "mouth-narrow",
    )


def _wide(antenna: SizedSleeveDipole, drawing: Drawing) -> Cage:
    """The sleeve's cage; its wires lose what the sleeve's wall loses."""
    cage, radius = drawing.cage, antenna.sleeve_diameter / 2
    share = (radius / drawing.pipe_radius) ** 2
    metal = replace(cage.material, conductivity=cage.material.conductivity * share)
    ring_radius = cage_ring_radius(radius, cage.wire_radius, cage.n_wires)
    return replace(cage, ring_radius=ring_radius, material=metal)


def builders(antenna: SizedSleeveDipole, drawing: Drawing) -> tuple[WireBuilder, WireBuilder]:
    """Builders of the upper pipe and of the sleeve; segments as at the joints tried."""
    fine = max(drawing.refine * 0.55 * 2 * drawing.pipe_radius, 2.5 * drawing.cage.wire_radius)
    rule = SegmentRule(fine, max(fine, drawing.refine * drawing.shortest_wavelength / 25))
    return WireBuilder(drawing.cage, rule), WireBuilder(_wide(antenna, drawing), rule)


def build(antenna: SizedSleeveDipole, drawing: Drawing) -> FinishedAntenna:
    """Wires of a sleeve dipole on the z axis with the sleeve's mouth at z = 0.

    The shield inside the sleeve is not drawn: it is the load at the mouth. From the star that
    closes the mouth it goes on below for three lengths of the mouth's port, which is the first.

    Examples
    --------
    >>> from models.wires.structure import PERFECT
    >>> cage = Cage(4, 0.0093, 0.004065, "antenna", PERFECT)
    >>> drawing = Drawing(cage, pipe_radius=0.011, shortest_wavelength=2.07, refine=1.0, mast=0.0)
    >>> sleeve = SizedSleeveDipole(0.48, 0.48, 0.005, 0.022, 0.001, 0.00813, 0.01029, 2.3, 5e7)
    >>> finished = build(sleeve, drawing)
    >>> [load.name for load in finished.loads], len(finished.feed_wires)
    (['mouth'], 4)
    """
    a = antenna
    builder, _ = builders(a, drawing)
    half = 1.5 * builder.rule.fine
    lower = lower_half(a, drawing, a.lower - half)
    above = builder.upright([a.lower + a.upper - builder.rim, a.lower + half])
    gap = builder.gap(lower.plate, above[1])
    wires = [*gap, *lower.wires, *builder.pipes(above), *ring(above[0], builder.cage)]
    return FinishedAntenna(
        wires=tuple(wires),
        feed_wires=tuple(range(len(gap))),
        joints={"sleeve's mouth": Joint(lower.joint, (1.0, 0.0, 0.0), 0.0)},
        feed_inductance=0.0,
        lowest=lower.joint[2],
        loads=(Load("mouth", mouth_of(a, drawing), len(gap)),),
    )


@dataclass(frozen=True)
class LowerHalf:
    """The sleeve and what hangs out of it; the mouth's port is the first of ``wires``.

    ``plate`` are the nodes of its upper end, shape (n_wires, 3) [m].
    """

    wires: tuple[Wire, ...]
    plate: NDArray[np.float64]
    joint: Point


def lower_half(antenna: SizedSleeveDipole, drawing: Drawing, top: float) -> LowerHalf:
    """Sleeve from its mouth at z = 0 up to ``top`` [m], star at the mouth, shield below it."""
    _, wide = builders(antenna, drawing)
    nodes = wide.upright([top, wide.rim])
    star = np.array([0.0, 0.0, wide.rim])
    length = port_length(wide.cage)
    port = length * np.array([0.0, 0.0, 1.0])
    first, second, joint = star - port, star - 2 * port, star - 3 * port
    # The port and its neighbour are even; the next is cut once more, as the cable's are shorter.
    wires = [wide.even(star, first, 1), wide.even(first, second, 1)]
    wires += wide.rod(second, joint, length, 0.5 * length)
    wires += wide.pipes(nodes) + wide.spokes(nodes[1], star)
    return LowerHalf(tuple(wires), nodes[0], grid_point(joint))


def mouth_of(antenna: SizedSleeveDipole, drawing: Drawing) -> SleeveMouth:
    """Load between the sleeve's mouth and the shield that leaves it."""
    rod, wide = antenna.shield_diameter / 2, _wide(antenna, drawing)
    across = mouth_capacitance(rod, port_length(wide), wide.wire_radius, antenna.sleeve_wall)
    return SleeveMouth(
        bore=antenna.bore,
        rod=antenna.shield_diameter,
        rod_jacket=antenna.jacket_diameter,
        jacket_eps_r=antenna.jacket_eps_r,
        length=antenna.inside,
        wall_conductivity=antenna.wall_conductivity,
        rod_conductivity=conductor(_SHIELD_METAL).sigma,
        capacitance=across,
    )


_STEPS = (
    "Cut both pipes square and deburr them; leave the sleeve {spare} long.",
    "Drill the plate for the coax's shield and solder it to the sleeve's top.",
    "Pull the coax in at the {joint} and up with its spacers; solder its shield to the plate all "
    "round.",
    "Set the upper pipe on the insulator and solder the centre conductor to its foot.",
    "Trim, then close the tip with a plastic cap and seal the gap; leave the mouth open below so "
    "that water runs out.",
)


def assembly(antenna: SizedSleeveDipole, pipe: Pipe, joint: str) -> Assembly:
    """A pipe above the plate, the sleeve below it; everything is measured from the gap."""
    a, half, foot = antenna, 0.5 * antenna.gap, "foot of the upper pipe"
    plate, air = a.lower - half, f"{small(a.gap, 1)} of air"
    coax = f"shield {small(a.shield_diameter, 2)}, jacket {small(a.jacket_diameter, 2)}"
    coax += f", permittivity {a.jacket_eps_r:g}"
    own = (pipe.outside_diameter, pipe.wall)
    other = not np.allclose((a.sleeve_diameter, a.sleeve_wall), own, rtol=0, atol=1e-6)
    size = f"{small(a.sleeve_diameter, None)} across, wall {small(a.sleeve_wall, None)}"
    stock = (f"sleeve pipe {size}", a.sleeve_diameter, a.sleeve_wall) if other else ()
    return Assembly(
        members=(
            Member("upper pipe", foot, "tip"),
            Member("sleeve", joint, "plate", *stock),
        ),
        joints=(
            JointPoint("tip", (0.0, 0.0, a.lower + a.upper), "open"),
            JointPoint(foot, (0.0, 0.0, plate + a.gap), "insulator", air),
            JointPoint("plate", (0.0, 0.0, plate), "plate", "joins sleeve and shield"),
            JointPoint(joint, (0.0, 0.0, 0.0), "open", "the coax leaves here"),
        ),
        marks=(
            Mark("shield's solder joint", (0.0, 0.0, plate), "sleeve", "plate"),
            Mark("spacer that centres the coax", (0.0, 0.0, 0.0), "sleeve", joint),
        ),
        extras=(
            (1, f"brass or copper disc of {small(a.sleeve_diameter)} for the plate"),
            (1, "rod or tube of plastic that holds both pipes in line across the gap"),
            (3, f"plastic spacers that keep the coax ({coax}) in the sleeve's middle"),
        ),
        steps=tuple(step.format(joint=joint, spare=small(0.01)) for step in _STEPS),
    )


GENERATOR = Generator(
    name="sleeve-dipole",
    title="a coaxial sleeve dipole",
    theory=(
        "A half-wave dipole whose lower half is a pipe around its own cable. The outside of that "
        "sleeve radiates; its inside and the cable's shield are a line shorted at the feed, "
        "Z0 tanh(gamma l) at the mouth (Pozar, Microwave Engineering, ch. 2, from memory). A "
        "quarter wave long it is an open circuit there and no current comes round the rim. The "
        "cable's jacket slows that line, so the sleeve is somewhat shorter than a quarter wave in "
        "air and the upper pipe makes up for it. The cable lies in line with the antenna and takes "
        "up current all the same. Distances along it count from 4 to 8 cm below the mouth."
    ),
    base_line="mouth of the sleeve",
    parameters=SleeveDipole,
    joints=("sleeve's mouth",),
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(
        Trim("upper", "a fine trim of the match: cut its tip to move up", 1e-3, "upper pipe"),
        Trim("lower", "moves the match most, and what the mouth holds back", 1e-3, "sleeve"),
    ),
    azimuth_zero='where the cable goes "out"',
    outlet="the sleeve's mouth (4 to 8 cm below it)",
    leaves_downward=True,
    thinnest=lambda antenna: float(antenna.shield_diameter / 2),
    with_cable=fitted,
)
