"""Half-wave dipole of two pipes in line, fed in the middle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from models.antennas.generator import (
    Drawing,
    FinishedAntenna,
    Generator,
    Joint,
    Trim,
)
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointPoint, Mark, Member
from models.faults import Fault
from models.quantities import SPEED_OF_LIGHT, Quantity
from models.wires.pipe_cage import node_point, ring
from models.wires.pipe_parts import WireBuilder
from models.wires.segmentation import SegmentRule


@dataclass(frozen=True)
class Parameters:
    """Length of a dipole; ``None`` is derived."""

    length: Annotated[
        float | None, Quantity("m", 0.2, 4.0, "from tip to tip, the gap included", "950 mm")
    ] = None


@dataclass(frozen=True)
class Sized:
    """A dipole whose length is known [m]."""

    length: float


def sized(
    parameters: Parameters, pipe: Pipe, frequency: float, shield_diameter: float
) -> tuple[Sized, tuple[str, ...]]:
    """Half a wavelength less one and a half pipe diameters, if no length is given."""
    del shield_diameter
    if parameters.length is not None:
        return Sized(parameters.length), ()
    length = 0.475 * SPEED_OF_LIGHT / frequency - 1.5 * pipe.outside_diameter
    return Sized(length), (f"antenna.length: {1e3 * length:.0f} mm (a half wave, shortened)",)


def check(parameters: Parameters, pipe: Pipe) -> list[Fault]:
    """A dipole as thick as it is long is none."""
    if parameters.length is None or parameters.length >= 8 * pipe.outside_diameter:
        return []
    least = 8e3 * pipe.outside_diameter
    rule = f"is not at least eight pipe diameters ({least:.0f} mm)"
    value = f"{1e3 * parameters.length:.0f} mm"
    return [Fault("antenna.length", value, rule, f"length: {least:.0f} mm", "dipole-short")]


def build(antenna: Sized, drawing: Drawing) -> FinishedAntenna:
    """Two cages and the cut between them, the middle on z = 0."""
    cage = drawing.cage
    fine = max(drawing.refine * 1.1 * drawing.pipe_radius, 2.5 * cage.wire_radius)
    longest = max(fine, drawing.refine * drawing.shortest_wavelength / 25)
    builder = WireBuilder(cage, SegmentRule(fine, longest))
    half, gap = 0.5 * antenna.length - builder.rim, 1.5 * fine
    nodes = builder.upright([half, gap, -gap, -half])
    wires = builder.pipes(nodes[:2]) + builder.pipes(nodes[2:])
    for station in nodes:
        wires += ring(station, cage)
    first = len(wires)
    wires += builder.gap(nodes[2], nodes[1])
    facing = int(nodes[0, :, 0].argmax())
    joint = Joint(node_point(nodes, 2, facing), (1.0, 0.0, 0.0), cage.ring_radius)
    return FinishedAntenna(
        wires=tuple(wires),
        feed_wires=tuple(range(first, len(wires))),
        joints={"lower half": joint},
        feed_inductance=0.0,
        lowest=-0.5 * antenna.length,
    )


def assembly(antenna: Sized, pipe: Pipe, joint: str) -> Assembly:
    """Two pipes on an insulator, the shield on the lower one."""
    del pipe
    half = 0.5 * antenna.length
    return Assembly(
        members=(
            Member("upper half", "middle", "top"),
            Member("lower half", "middle", "foot"),
        ),
        joints=(
            JointPoint("middle", (0.0, 0.0, 0.0), "insulator"),
            JointPoint("top", (0.0, 0.0, half), "open"),
            JointPoint("foot", (0.0, 0.0, -half), "open"),
        ),
        marks=(Mark("shield", (0.0, 0.0, 0.0), joint, "middle"),),
        steps=("Cut both pipes square.", "Fix both to the insulator, a finger's width apart."),
    )


GENERATOR = Generator(
    name="pipe-dipole",
    title="a dipole of pipe",
    theory="Two quarter waves in line; 73 ohm where thin and resonant (Balanis, ch. 8).",
    base_line="the middle",
    parameters=Parameters,
    joints=("lower half",),
    sized=sized,
    check=check,
    build=build,
    assembly=assembly,
    trims=(Trim("length", "cut both tips alike to move the match up in frequency", 1e-3),),
    azimuth_zero="the way the cable leaves",
    outlet="the lower half",
)
