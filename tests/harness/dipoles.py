"""Dipoles of pipe with and without a hanging cable, their own elements in place, in free space."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import Drawing, Generator
from models.catalogues.parts import CoaxClass, coax_class, pipe
from models.quantities import SPEED_OF_LIGHT_NEC
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
from pipeline.circuit.port_algebra import loaded_admittance, port_voltages, transfer_asymmetry
from pipeline.solver.antenna_loads import load_impedances, twin_loads
from pipeline.solver.far_field import Directions, directive_power, far_field, radiated_power
from pipeline.solver.nec2 import solver_pattern, unit_source_currents

THICK, THIN = "10.3 mm foam low-loss", "5 mm foam low-loss"


@dataclass(frozen=True)
class Dipole:
    """A dipole by its generator; ``cabled``: two thirds of a wavelength of cable hang from it."""

    generator: Generator
    pipe: str
    frequency: float
    cable: str = THICK
    cabled: bool = False
    refine: float = 1.0
    given: dict[str, float] = field(default_factory=dict)

    @property
    def coax(self) -> CoaxClass:
        return coax_class(self.cable)

    @cached_property
    def antenna(self) -> Any:
        parameters = self.generator.parameters(**self.given)
        if self.generator.with_cable is not None:
            parameters = self.generator.with_cable(parameters, self.coax)
        shield = self.coax.shield_diameter
        return self.generator.sized(parameters, pipe(self.pipe), self.frequency, shield)[0]

    @property
    def problems(self) -> list[str]:
        """Tags of what check says of the whole, derived lengths included."""
        names = [f.name for f in fields(self.generator.parameters)]
        whole = self.generator.parameters(**{n: getattr(self.antenna, n) for n in names})
        return [p.tag for p in self.generator.check(whole, pipe(self.pipe))]

    @cached_property
    def built(self) -> Structure:
        """A checked structure without loss in its wires."""
        radius, wavelength = (
            pipe(self.pipe).outside_diameter / 2,
            SPEED_OF_LIGHT_NEC / self.frequency,
        )
        shield = self.coax.shield_diameter / 2
        wire = min(shield, THICKEST_WIRE * radius)
        if self.generator.thinnest is not None:
            wire = min(wire, self.generator.thinnest(self.antenna))
        n = choose_wire_count(radius, wire)
        cage = Cage(n, cage_ring_radius(radius, wire, n), wire, "antenna", PERFECT)
        finished = self.generator.build(
            self.antenna, Drawing(cage, radius, wavelength, self.refine, 0.0)
        )
        rule = shield_rule(2 * radius, wavelength, self.refine, shield)
        feedline = self._feedline(wire, radius, wavelength) if self.cabled else None
        built = assemble("test", finished, feedline, rule, 0.0, False)
        refuse_bad_segments(built, wavelength, False)
        return built

    def _feedline(self, wire: float, radius: float, wavelength: float) -> Feedline:
        aside = Step("out", 0.15 if self.frequency < 400e6 else 0.10)
        down = Step("down", 0.65 * wavelength)
        return Feedline(
            joins=self.generator.joints[0],
            steps=(down, aside) if self.generator.leaves_downward else (aside, down),
            first=ShieldCable(wire, PERFECT),
            rest=ShieldCable(self.coax.shield_diameter / 2, PERFECT),
            zones=(Zone(max(0.05, 3 * radius), 0.0),),
            helix=None,
            bond_radius=0.00225,
            station_lead=0.3 * wavelength,
        )

    def port_matrix(self, f: float) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        """Segment currents for one volt at each port, and admittances of the ports [A, S]."""
        currents = unit_source_currents(self.built, np.array([f]), None, True)[0]
        return currents, np.asarray(self.built.through_ports(currents).T)

    def own(self, f: float) -> NDArray[np.complex128]:
        """Impedance of the antenna's own elements at every port [ohm]."""
        return load_impedances(self.built, np.array([f]), self.frequency)[0]

    def impedance(self, f: float) -> complex:
        """At the feed, its own elements in place [ohm]."""
        _, y = self.port_matrix(f)
        return complex(1 / loaded_admittance(y, self.own(f))[0, 0])

    def driven(self, f: float) -> NDArray[np.complex128]:
        """Segment currents for one volt in series with the feed, shape (n_segment,) [A]."""
        currents, y = self.port_matrix(f)
        source = np.zeros(len(y), complex)
        source[self.built.port_index("feed")] = 1.0
        return np.asarray(port_voltages(y, self.own(f), source) @ currents)

    def directivity(self, f: float, elevation: NDArray[np.float64]) -> NDArray[np.float64]:
        """Directivity towards elevations, azimuth zero, of power, one isotropic [-]."""
        segments, current = self.built.segments, self.driven(f)[None]
        sphere = Directions(np.linspace(0, np.pi, 61), np.arange(24) * np.pi / 12)
        cut = Directions(np.pi / 2 - elevation, np.zeros(1))
        total = radiated_power(far_field(segments, current, f, None, sphere), sphere)[0]
        density = directive_power(far_field(segments, current, f, None, cut)[0])
        return np.asarray(4 * np.pi * density[:, 0] / total)


@dataclass(frozen=True)
class Evidence:
    """What a drawing says about itself at its design frequency."""

    average_gain: float
    asymmetry: float
    neighbour_ratio: float
    feed_thickness: float


def evidence(dipole: Dipole) -> Evidence:
    built, f = dipole.built, dipole.frequency
    y = loaded_admittance(dipole.port_matrix(f)[1], dipole.own(f))
    twin = solver_pattern(built, f, None, twin_loads(built, f), lossless=True, step_deg=10.0)
    return Evidence(
        twin.average_gain,
        transfer_asymmetry(y, 0),
        worst_neighbour_ratio(built),
        feed_thickness(built),
    )


def swr(z: complex) -> float:
    """Standing-wave ratio on a line of 50 ohm."""
    reflection = abs((z - 50) / (z + 50))
    return float((1 + reflection) / (1 - reflection))
