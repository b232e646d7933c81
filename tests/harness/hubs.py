"""Antennas on a hub with radials, alone and over a hanging cable, for tests."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from models.antennas.generator import Drawing
from models.catalogues.parts import Pipe, pipe
from models.quantities import SPEED_OF_LIGHT
from models.site.feedline_route import Step
from models.site.installation import (
    Feedline,
    ShieldCable,
    assemble,
    refuse_bad_segments,
    shield_rule,
)
from models.site.shield import Zone
from models.wires.pipe_cage import THICKEST_WIRE, Cage, cage_ring_radius, choose_wire_count
from models.wires.segmentation import feed_thickness, worst_neighbour_ratio
from models.wires.structure import PERFECT, Structure
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.nec2 import solver_pattern, unit_source_currents

PIPES = ("15x1 mm", "22x1 mm", "28x1 mm")
BANDS = (52e6, 145e6, 435e6)
THICK, THIN = 0.00813, 0.00366


def drawing_of(sized: Any, of: Pipe, frequency: float, shield: float, refine: float) -> Drawing:
    """How geometry.draw_antenna would draw it, without loss."""
    radius = of.outside_diameter / 2
    wire = min(shield / 2, THICKEST_WIRE * radius, sized.wire_radius)
    n = choose_wire_count(radius, wire)
    cage = Cage(n, cage_ring_radius(radius, wire, n), wire, "antenna", PERFECT)
    return Drawing(cage, radius, SPEED_OF_LIGHT / frequency, refine, 0.0)


@dataclass(frozen=True)
class Hub:
    """An antenna of a kind on a pipe; ``shield`` [m] is its cable's, ``hangs`` whether it is on."""

    kind: ModuleType
    parameters: Any
    pipe: str = "22x1 mm"
    frequency: float = 145e6
    shield: float = THICK
    hangs: bool = False
    refine: float = 1.0

    @property
    def sized(self) -> Any:
        return self.kind.sized(self.parameters, pipe(self.pipe), self.frequency, self.shield)[0]

    def build(self) -> Structure:
        """Checked structure in free space, its cable 0.6 wavelengths down and 0.3 aside."""
        of, wavelength, sized = pipe(self.pipe), SPEED_OF_LIGHT / self.frequency, self.sized
        drawing = drawing_of(sized, of, self.frequency, self.shield, self.refine)
        wire = drawing.cage.wire_radius
        steps = (Step("down", 0.6 * wavelength), Step("out", 0.3 * wavelength))
        zone = Zone(max(0.05, 1.5 * of.outside_diameter), 0.0)
        cables = (ShieldCable(wire, PERFECT), ShieldCable(self.shield / 2, PERFECT))
        line = Feedline("hub", steps, *cables, (zone,), None, 0.00225, 0.3 * wavelength)
        radius = max(wire, self.shield / 2)
        rule = shield_rule(of.outside_diameter, wavelength, self.refine, radius)
        antenna = self.kind.build(sized, drawing)
        built = assemble("test", antenna, line if self.hangs else None, rule, 0.0, False)
        refuse_bad_segments(built, wavelength, False)
        return built


@dataclass(frozen=True)
class Evidence:
    """What an antenna rests on, and its impedance with whatever is in series. [ohm]"""

    average_gain: float
    reciprocity: float
    neighbours: float
    feed: float
    z: complex

    @property
    def swr(self) -> float:
        gamma = abs((self.z - 50) / (self.z + 50))
        return float((1 + gamma) / (1 - gamma))


def evidence(hub: Hub) -> Evidence:
    """Evidence of one structure at its design frequency."""
    built, f = hub.build(), np.array([hub.frequency])
    y = built.through_ports(unit_source_currents(built, f, None, True)).transpose(0, 2, 1)[0]
    own = load_impedances(built, f, hub.frequency)[0, 0]
    series = own + 2j * np.pi * hub.frequency * built.ports[0].series_inductance
    gain = solver_pattern(built, hub.frequency, None, lossless=True, step_deg=10.0).average_gain
    return Evidence(
        gain,
        transfer_asymmetry(y, 0) if hub.hangs else 0.0,
        worst_neighbour_ratio(built),
        feed_thickness(built),
        complex(1 / y[0, 0] + series),
    )
