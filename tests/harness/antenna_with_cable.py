"""An antenna with or without a cable, a bond and something around it, for tests of drawing, solver
and generators.

A ``Plan`` says what stands where; ``build`` draws it as the project does; the measures below solve
it without loss in free space, the antenna's own circuit elements in place.
"""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.antennas import j_pole
from models.antennas.generator import Drawing, FinishedAntenna, Generator
from models.antennas.j_pole import SizedJPole
from models.catalogues.parts import Pipe, coax_class, pipe
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Helix, Step
from models.site.installation import (
    Feedline,
    ShieldCable,
    assemble,
    own_run,
    refuse_bad_segments,
    shield_rule,
)
from models.site.mast import Mast
from models.site.metalwork import Setting, Surroundings
from models.site.shield import ShieldRule, Zone
from models.site.soil import Soil
from models.wires.pipe_cage import THICKEST_WIRE, Cage, cage_ring_radius, choose_wire_count
from models.wires.structure import PERFECT, Material, Structure
from pipeline.circuit.port_algebra import loaded_admittance, port_voltages
from pipeline.mesh.evidence import GeometryEvidence, geometry_evidence
from pipeline.solver.antenna_loads import load_impedances, twin_loads
from pipeline.solver.far_field import Directions, directive_power, far_field, radiated_power
from pipeline.solver.nec2 import engine_context, excite, solver_pattern, unit_source_currents

# Pipes, bands and cables that generators are meant for.
PIPES = ("15x1 mm", "22x1 mm", "28x1 mm")
BANDS = (52e6, 145e6, 435e6)
THICK, THIN = "10.3 mm foam low-loss", "5 mm foam low-loss"
AVERAGE = Soil(13.0, 0.005)
# The J-pole of the surface-mesh reference, bridge and shield of 8 mm.
REFERENCE = SizedJPole(0.055, 1.48, 0.49, 0.055, 0.008)
# Numbers of a sized antenna that stay when all lengths grow.
NO_LENGTHS = {
    *("slope", "quality", "jacket_eps_r", "wall_conductivity", "lower_band", "upper_band"),
}


@dataclass(frozen=True)
class Plan:
    """What to build; lengths in m, frequency in Hz.

    ``joins`` names the joint that a cable hangs from, None without a cable; ``around`` is what
    stands beside it and ``rod`` the impedance of the rod of its bond [ohm].
    """

    antenna: Any = REFERENCE
    pipe_diameter: float = 0.022
    shield_radius: float = 0.004
    frequency: float = 145e6
    joins: str | None = None
    steps: tuple[Step, ...] = (Step("out", 0.15), Step("down", 1.0))
    lead: float = 0.25
    zones: tuple[Zone, ...] = ()
    helix: Helix | None = None
    jacket: Material = PERFECT
    height: float = 0.0
    grounded: bool = False
    mast: float = 0.0
    refine: float = 1.0
    generator: Generator = j_pole.GENERATOR
    around: Surroundings | None = None
    rod: complex | None = None

    @property
    def wavelength(self) -> float:
        return SPEED_OF_LIGHT_NEC / self.frequency


def parameters_of(generator: Generator, of: Pipe, cable: str = THICK, **given: Any) -> Any:
    """Parameters of an antenna with what a study has to give: legs two and a half diameters apart.

    The open-sleeve J is for 145 and 435 MHz.
    """
    usual = {"spacing": 2.5 * of.outside_diameter, "lower_band": 145e6, "upper_band": 435e6}
    needed = {f.name for f in fields(generator.parameters) if f.default is MISSING}
    parameters = generator.parameters(**{k: v for k, v in usual.items() if k in needed} | given)
    if generator.with_cable is None:
        return parameters
    return generator.with_cable(parameters, coax_class(cable))


def by_rule(
    generator: Generator,
    of: Pipe | str = "22x1 mm",
    frequency: float = 145e6,
    cable: str = THICK,
    **given: Any,
) -> Plan:
    """An antenna alone in free space, lengths that are not given by the generator's own rule."""
    stock = pipe(of) if isinstance(of, str) else of
    shield = coax_class(cable).shield_diameter
    parameters = parameters_of(generator, stock, cable, **given)
    antenna, _ = generator.sized(parameters, stock, frequency, shield)
    return Plan(antenna, stock.outside_diameter, shield / 2, frequency, generator=generator)


def hanging(plan: Plan, joins: str | None = None) -> Plan:
    """The same with about a wavelength of cable and lead on a joint, the usual one if not said."""
    out = Step("out", 0.15 if plan.frequency < 400e6 else 0.10)
    down = Step("down", 0.6 * plan.wavelength)
    if plan.generator.leaves_downward:
        out = replace(out, length=0.3 * plan.wavelength)
    return replace(
        plan,
        joins=joins or plan.generator.joints[0],
        steps=(down, out) if plan.generator.leaves_downward else (out, down),
        lead=0.3 * plan.wavelength,
        zones=(Zone(max(0.05, 1.5 * plan.pipe_diameter), 0.0),),
    )


def times(plan: Plan, k: float) -> Plan:
    """An antenna alone, all lengths times k and the frequency over k; so are its L and C."""
    sized = {f.name: getattr(plan.antenna, f.name) for f in fields(plan.antenna)}
    scaled = {
        name: k * value
        for name, value in sized.items()
        if isinstance(value, float) and name not in NO_LENGTHS
    }
    return replace(
        plan,
        antenna=replace(plan.antenna, **scaled),
        pipe_diameter=k * plan.pipe_diameter,
        shield_radius=k * plan.shield_radius,
        frequency=plan.frequency / k,
    )


def drawing_of(plan: Plan) -> Drawing:
    """Cage and segment lengths of the antenna, as thick as the shield where the pipe allows it."""
    pipe_radius = plan.pipe_diameter / 2
    radius = min(plan.shield_radius, THICKEST_WIRE * pipe_radius)
    if plan.generator.thinnest is not None:
        radius = min(radius, plan.generator.thinnest(plan.antenna))
    n = choose_wire_count(pipe_radius, radius)
    cage = Cage(n, cage_ring_radius(pipe_radius, radius, n), radius, "antenna", PERFECT)
    return Drawing(cage, pipe_radius, plan.wavelength, plan.refine, plan.mast)


def parts(plan: Plan) -> tuple[FinishedAntenna, Feedline | None, ShieldRule]:
    """Antenna with its base line on z = 0, its cable, and the rule the cable is cut by."""
    drawing = drawing_of(plan)
    antenna = plan.generator.build(plan.antenna, drawing)
    rule = shield_rule(plan.pipe_diameter, plan.wavelength, plan.refine, plan.shield_radius)
    if plan.joins is None:
        return antenna, None, rule
    first, rest = (
        ShieldCable(r, plan.jacket) for r in (drawing.cage.wire_radius, plan.shield_radius)
    )
    line = Feedline(plan.joins, plan.steps, first, rest, plan.zones, plan.helix, 0.00225, plan.lead)
    return antenna, line, rule


def build(plan: Plan) -> Structure:
    """A checked structure."""
    antenna, feedline, rule = parts(plan)
    setting = None
    if plan.around is not None:
        run = None if feedline is None else own_run(antenna, feedline, plan.height)
        setting = Setting(
            plan.around, plan.height, plan.shield_radius, plan.wavelength, plan.refine, PERFECT,
            run, rod=plan.rod,
        )  # fmt: skip
    built = assemble("test", antenna, feedline, rule, plan.height, plan.grounded, setting)
    refuse_bad_segments(built, plan.wavelength, plan.grounded)
    return built


# A J-pole 3 m up with something around it

ASIDE = (Step("out", 0.10), Step("down", 1.5), Step("left", 0.5))
NEAR = Plan(joins="short leg", steps=ASIDE, height=3.0)


def mast(**changes: object) -> Surroundings:
    """A wooden or metal mast of 42 mm below the antenna, or one that is a little different."""
    return Surroundings(mast=replace(Mast(True, 0.021, 2.4), **changes))


def surrounded(around: Surroundings, plan: Plan = NEAR, rod: complex | None = None) -> Structure:
    """A J-pole with its cable and what stands around it."""
    return build(replace(plan, around=around, rod=rod))


def port_matrix(
    built: Structure, f: float, soil: Soil | None = None
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Lossless currents for one volt at each port, (n_port, n_segment), and admittances [A, S]."""
    currents = unit_source_currents(built, np.array([f]), soil, True)[0]
    return currents, np.asarray(built.through_ports(currents).T)


def feed_of(
    built: Structure, soil: Soil | None = None, f: float = 145e6
) -> tuple[complex, NDArray[np.complex128]]:
    """Impedance at the feed [ohm], all other ports closed, and all currents per feed current."""
    currents, y = port_matrix(built, f, soil)
    return complex(1 / y[0, 0]), currents[0] / y[0, 0]


def average_gain(built: Structure, f: float = 145e6) -> float:
    """Power radiated over power in, in free space, without loss."""
    loads = twin_loads(built, f)
    return solver_pattern(built, f, None, loads, lossless=True, step_deg=10.0).average_gain


def evidence(built: Structure, f: float = 145e6, soil: Soil | None = None) -> GeometryEvidence:
    """What a drawing says about itself at its design frequency."""
    own = load_impedances(built, np.array([f]), f)[0]
    if soil is None and not twin_loads(built, f):
        y, gain = _port_matrix_and_gain(built, f)
    else:
        y, gain = port_matrix(built, f, soil)[1], average_gain(built, f)
    return geometry_evidence(built, gain, loaded_admittance(y, own))


def _port_matrix_and_gain(built: Structure, f: float) -> tuple[NDArray[np.complex128], float]:
    """Port matrix [S] and average gain of a drawing in free space whose twin has no loads.

    Both come from one lossless matrix of the engine: to factorise it is nearly all of a solve.
    """
    context = engine_context(built, None)
    context.fr_card(0, 1, f / 1e6, 0.0)
    currents = np.empty((len(built.ports), len(built.segments)), complex)
    for k, group in enumerate(built.port_groups):
        excite(context, built, group)
        context.xq_card(0)
        currents[k] = context.get_structure_currents(k).get_current()
    excite(context, built, built.port_groups[0])
    context.rp_card(0, 19, 37, 1, 0, 0, 1, 0.0, 0.0, 10.0, 10.0, 0.0, 0.0)
    gain = float(context.get_radiation_pattern(0).get_average_power_gain())
    return np.asarray(built.through_ports(currents).T), gain


# Measures of an antenna in free space at a frequency, by default that of its plan


def driven(plan: Plan, f: float | None = None) -> tuple[Structure, complex, NDArray[np.complex128]]:
    """Drawing, impedance of the feed [ohm] and segment currents for one volt in series with it [A].

    The impedance has the inductance of the real feed's conductor with it.
    """
    built, at = build(plan), f or plan.frequency
    currents, y = port_matrix(built, at)
    own = load_impedances(built, np.array([at]), plan.frequency)[0]
    feed = built.port_index("feed")
    volts = port_voltages(y, own, np.eye(len(y), dtype=complex)[feed])
    z = 1 / loaded_admittance(y, own)[feed, feed]
    more = 2j * np.pi * at * built.ports[feed].series_inductance
    return built, complex(z + more), np.asarray(volts @ currents)


def z_feed(plan: Plan, f: float | None = None) -> complex:
    """Impedance at the feed, the real feed's own inductance included. [ohm]"""
    return driven(plan, f)[1]


def swr(z: complex) -> float:
    """Standing-wave ratio on a line of 50 ohm."""
    reflection = abs((z - 50) / (z + 50))
    return float((1 + reflection) / (1 - reflection))


def directivity(
    plan: Plan,
    elevations: NDArray[np.float64],
    azimuths: tuple[float, ...] = (0.0,),
    f: float | None = None,
) -> NDArray[np.float64]:
    """Power per solid angle, that of an isotropic source one, shape (n_elevation, n_azimuth)."""
    built, _, current = driven(plan, f)
    at, segments = f or plan.frequency, built.segments
    sphere = Directions(np.linspace(0, np.pi, 61), np.arange(24) * np.pi / 12)
    cut = Directions(np.pi / 2 - elevations, np.array(azimuths))
    total = radiated_power(far_field(segments, current[None], at, None, sphere), sphere)[0]
    density = directive_power(far_field(segments, current[None], at, None, cut)[0])
    return np.asarray(4 * np.pi * density / total)


def horizon_gain(plan: Plan, f: float | None = None) -> NDArray[np.float64]:
    """Towards the horizon, at eight azimuths from the drawing's +x on. [dBi]"""
    azimuths = tuple(np.arange(8) * np.pi / 4)
    return np.asarray(10 * np.log10(directivity(plan, np.zeros(1), azimuths, f)[0]))


def mean_horizon_gain(plan: Plan, f: float | None = None) -> float:
    """Mean over azimuth, as power. [dBi]"""
    return float(10 * np.log10(np.mean(10 ** (horizon_gain(plan, f) / 10))))


def vertical_moment(
    built: Structure, current: NDArray[np.complex128], low: float, high: float
) -> complex:
    """Sum of current times height over segments between two heights. [A m]"""
    seg = built.segments
    inside = (seg.centre[:, 2] > low) & (seg.centre[:, 2] < high)
    return complex((current * seg.direction[:, 2] * seg.length)[inside].sum())
