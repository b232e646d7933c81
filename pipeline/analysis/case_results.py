"""All cases of a study on their port bases: terminations, currents, fields, figures of merit.

Bases in, one :class:`CaseResult` a case out, which keeps the voltages and currents of its ports
for all that comes later. Nothing is solved here: every case is a superposition of what one volt at
each port does. Most of a case belongs to the design frequency; what is told over the band follows
from a port matrix of its own, which is known at more frequencies and has fewer ports.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from models.wires.structure import Structure
from pipeline.analysis.figures_of_merit_and_score import (
    Merit,
    Pattern,
    RadioEnd,
    Reference,
    Rows,
    merit_of,
    radio_end,
    reference_of,
)
from pipeline.analysis.metrics import (
    LOW_ELEVATIONS_DEG,
    PowerBalance,
    conductor_power,
    gain_dbi,
    low_angles,
    ring_at,
    series_power,
)
from pipeline.analysis.nearby import NearbyCurrent, nearby_currents
from pipeline.chokes.kind import Choke
from pipeline.circuit.line import LineRun, absorbing, power_in, surface_resistance, swr_on
from pipeline.circuit.port_algebra import fed_voltages, port_currents, superpose
from pipeline.solver.band import BandBasis
from pipeline.solver.cases import Case
from pipeline.solver.far_field import Directions, directive_power, far_field, radiated_power
from pipeline.solver.port_basis import PortBasis
from pipeline.solver.terminations import (
    WarmestOfRow,
    choke_series,
    route_length,
    terminations,
    told_impedance,
    warmest_of_rows,
)
from pipeline.study.records import Study

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class Solved:
    """A geometry together with its port basis, and its port matrix over the band.

    Without ``band`` the frequencies of the basis are all that is known of one.
    """

    structure: Structure
    basis: PortBasis
    band: BandBasis | None = None


@dataclass(frozen=True)
class CaseResult:
    """One case, with one volt behind its feed.

    ``z_series`` [ohm] is what stands in series with each port and ``z_choke`` [ohm] the choke's
    part of it, ``w`` [V] the voltages left across the ports and ``current`` [A] theirs, all of
    shape (n, n_port) at the frequencies of the basis; ``line`` is the inside of the cable. All else
    follows from these, the basis and the band, and is found when it is asked for.
    """

    study: Study
    case: Case
    solved: Solved
    z_series: Complex
    z_choke: Complex
    w: Complex
    current: Complex
    line: LineRun

    @property
    def frequency(self) -> Real:
        """Frequencies of the band, shape (n_f,). [Hz]"""
        return self._known.frequency

    @property
    def centre(self) -> int:
        """Index of the design frequency in the band."""
        return self._known.centre

    @property
    def _known(self) -> BandBasis | PortBasis:
        return self.solved.band or self.solved.basis

    @property
    def _design(self) -> int:
        """Index of the design frequency in the basis."""
        return self.solved.basis.centre

    @cached_property
    def _over_band(self) -> tuple[Complex, Complex]:
        """Currents into the feed and at the radio end, shape (n_f,) each. [A]"""
        band, structure, current = self.solved.band, self.solved.structure, self.current
        if band is not None:
            structure = band.structure
            z = _series(structure, self.study, self.case.choke, band.frequency)[0]
            w = fed_voltages(band.y_port, z, structure.port_index("feed"))
            current = port_currents(band.y_port, w)
        return current[:, structure.port_index("feed")], station_current(structure, current)

    @property
    def i_feed(self) -> Complex:
        """Current into the feed, shape (n_f,). [A]"""
        return self._over_band[0]

    @cached_property
    def feed_current(self) -> complex:
        """Current into the feed at the design frequency. [A]"""
        return complex(self.current[self._design, self.solved.structure.port_index("feed")])

    @cached_property
    def power_in(self) -> float:
        """Power into the feed at the design frequency. [W]"""
        return float(power_in(np.array([self.feed_current]))[0])

    @cached_property
    def z_feed(self) -> Complex:
        """Impedance at the feed point, shape (n_f,). [ohm]"""
        return absorbing(1 / self.i_feed)

    @cached_property
    def swr_feed(self) -> Real:
        """Standing-wave ratio on the line at the feed, shape (n_f,). [-]"""
        return swr_on(1 / self.i_feed, self.study.cable.type.z0)

    @cached_property
    def radio(self) -> RadioEnd:
        """The far end of the line, over the band."""
        return radio_end(self.line, self.frequency, 1 / self.i_feed, self.study.power)

    @property
    def z_radio(self) -> Complex:
        """Impedance at the radio, shape (n_f,). [ohm]"""
        return self.radio.z_radio

    @property
    def line_loss_db(self) -> Real:
        """Loss of the line with the mismatch at the antenna, shape (n_f,). [dB]"""
        return self.radio.loss_db

    @cached_property
    def swr_radio(self) -> Real:
        """Standing-wave ratio for a radio of 50 ohm, shape (n_f,). [-]"""
        return swr_on(self.z_radio, RADIO_OHM)

    @cached_property
    def shield_ratio(self) -> Complex:
        """Shield current per feed current along the cable at the design frequency. [-]

        Shape (n_shield,).
        """
        basis = self.solved.basis
        return superpose(basis.i_shield[self._design], self.w[self._design]) / self.feed_current

    @property
    def shield_ratio_max(self) -> float:
        """Largest shield current per feed current at the design frequency. [-]"""
        return float(np.max(np.abs(self.shield_ratio), initial=0.0))

    @property
    def station_ratio(self) -> Complex:
        """Current at the radio end of the shield per feed current, shape (n_f,). [-]"""
        i_feed, i_station = self._over_band
        return i_station / i_feed

    @cached_property
    def segment_current(self) -> Complex:
        """Currents of all segments at the design frequency, shape (n_segment,). [A]"""
        return superpose(self.solved.basis.i_segment, self.w[self._design])

    @cached_property
    def field(self) -> Complex:
        """Far field at the design frequency, shape (2, n_theta, n_phi). [V]"""
        e_port = self.solved.basis.e_port
        flat = superpose(e_port.reshape(len(e_port), -1), self.w[self._design])
        return flat.reshape(e_port.shape[1:])

    @cached_property
    def gain(self) -> Real:
        """Gain at the design frequency, shape (n_theta, n_phi). [dBi]"""
        return gain_dbi(directive_power(self.field), self.power_in)

    @property
    def antenna_power(self) -> float:
        """Power into the antenna at the study's transmitter power. [W]"""
        return float(self.radio.antenna_power[self.centre])

    @cached_property
    def choke_power(self) -> float:
        """Power in the choke at the study's transmitter power. [W]"""
        return float(self._port_power(self.z_choke).sum()) / self.power_in * self.antenna_power

    @cached_property
    def warmest(self) -> tuple[WarmestOfRow, ...]:
        """The warmest core of every row of the choke, with its part of the choke's power."""
        if self.case.choke is None:
            return ()
        current = self.current[self._design]
        return warmest_of_rows(self.solved.structure, self.study, self.case.choke, current)

    @property
    def hottest_share(self) -> float:
        """Part of the choke's power in the core that takes most of it; one without cores."""
        of_cores = (row.share for row in self.warmest if row.core is not None)
        return max(of_cores, default=1.0)

    @property
    def choke_impedance(self) -> complex | None:
        """All of the choke's impedance at the design frequency; None where none is in series."""
        return complex(self._told[0]) if self.z_choke.any() else None

    @cached_property
    def _told(self) -> Complex:
        """Impedance of the choke at the design frequency as it may be told, shape (1,). [ohm]"""
        design, choke = slice(self._design, self._design + 1), self.case.choke
        if choke is None or not choke.is_resonant:
            return np.asarray(self.z_choke[design].sum(axis=1))
        return told_impedance(choke, self.study, np.array([self.study.frequency]))

    @cached_property
    def nearby(self) -> tuple[NearbyCurrent, ...]:
        """Largest currents on what stands around the antenna, at the design frequency."""
        return nearby_currents(self.solved.structure, self.segment_current, self.feed_current)

    @cached_property
    def balance(self) -> PowerBalance:
        """Power balance of the feed at the design frequency."""
        structure, taken = self.solved.structure, self.power_in
        seg = structure.segments
        lost = self._port_power(self.z_series)
        resistance = _resistance_per_metre(structure, float(self.frequency[self.centre]))
        metal = conductor_power(self.segment_current, seg.length, resistance)
        shares = {
            "radiated": float(radiated_power(self.field, self.solved.basis.directions)) / taken,
            "chokes": float(self._port_power(self.z_choke).sum()) / taken,
            "conductors": metal / taken,
        }
        for name in ("rod", "station"):
            there = structure.has_port(name)
            shares[name] = float(lost[structure.port_index(name)]) / taken if there else 0.0
        return PowerBalance(**shares, ground=1.0 - sum(shares.values()))

    def _port_power(self, z: Complex) -> Real:
        """Power in impedances at the ports at the design frequency, shape (n_port,). [W]"""
        return series_power(z[self._design], self.current[self._design])

    def rows(self, elevation_deg: float) -> Rows:
        """The case at its design frequency as one row for figures of merit.

        ``elevation_deg`` is the elevation that stands for the horizon. [deg]
        """
        theta = self.solved.basis.directions.theta
        own, told = (slice(k, k + 1) for k in (self._design, self.centre))
        return Rows(
            z0=self.study.cable.type.z0,
            i_feed=np.array([self.feed_current]),
            i_station=station_current(self.solved.structure, self.current[own]),
            i_shield=self.shield_ratio[None] * self.feed_current,
            gain_low=self.gain[None, low_angles(theta)],
            gain_ring=self.gain[None, ring_at(theta, elevation_deg)],
            choke_heat=self._port_power(self.z_choke).sum(keepdims=True),
            z_choke=self._told,
            pattern=Pattern(self.gain[None], theta),
            radio=RadioEnd(
                self.radio.z_radio[told], self.radio.loss_db[told], self.radio.antenna_power[told]
            ),
        )

    def reference(self, elevation_deg: float) -> Reference:
        """This case as what others are compared with; argument as of :meth:`rows`."""
        return reference_of(self.rows(elevation_deg))

    def merit(self, reference: Reference, elevation_deg: float) -> Merit:
        """All figures of merit of the case; ``elevation_deg`` as of :meth:`rows`."""
        return merit_of(self.rows(elevation_deg), reference, self.study.verdict)


def at_centre(solved: Solved) -> Solved:
    """The same geometry with its design frequency only."""
    b = solved.basis
    pick = slice(b.centre, b.centre + 1)
    basis = replace(
        b,
        frequency=b.frequency[pick],
        centre=0,
        y_port=b.y_port[pick],
        i_shield=b.i_shield[pick],
    )
    return Solved(solved.structure, basis)


def evaluate(solved: Solved, study: Study, case: Case, route: float = 0.0) -> CaseResult:
    """One case by superposition.

    ``route`` [m] is the way of the cable for a geometry that has none: its inside still has to
    bring the power to the antenna.
    """
    basis, structure = solved.basis, solved.structure
    z_series, z_choke = _series(structure, study, case.choke, basis.frequency)
    w = fed_voltages(basis.y_port, z_series, structure.port_index("feed"))
    current = port_currents(basis.y_port, w)
    line = study.cable.run(case.choke, bare_route(structure, study, case.choke, route))
    return CaseResult(study, case, solved, z_series, z_choke, w, current, line)


def _series(
    structure: Structure, study: Study, choke: Choke | None, f: Real
) -> tuple[Complex, Complex]:
    """Impedance in series with every port, and the choke's part of it, (n_f, n_port) [ohm]."""
    z_choke = choke_series(structure, study, choke, f)
    return terminations(structure, study, f) + z_choke, z_choke


def bare_route(
    structure: Structure, study: Study, choke: Choke | None, otherwise: float = 0.0
) -> float:
    """Length of the route without a coil that is drawn into it. [m]

    ``otherwise`` [m] is that of a geometry without a cable. Definition.
    """
    length = route_length(structure) or otherwise
    if choke is not None and choke.is_drawn:
        length -= choke.own_cable(choke.cable_along(study.cable.type))
    return length


def station_current(structure: Structure, current: Complex) -> Complex:
    """Current at the radio end, shape (n,), of those of all ports; none without a cable. [A]

    Definition: that of the port "station".
    """
    if not structure.has_port("station"):
        return np.zeros(len(current), complex)
    return np.asarray(current[:, structure.port_index("station")])


def _resistance_per_metre(structure: Structure, f: float) -> Real:
    """Resistance of all segments, shape (n_segment,); none of a perfect metal. [ohm/m]"""
    seg = structure.segments
    sigma = np.array([structure.wires[w].material.conductivity for w in seg.wire])
    is_real = np.isfinite(sigma)
    root = np.sqrt(np.where(is_real, sigma, 1.0))
    resistance = np.where(is_real, surface_resistance(f, 1.0) / root, 0.0)
    return np.asarray(resistance / (2 * np.pi * seg.radius))


def low_gains(results: Sequence[CaseResult]) -> dict[str, Real]:
    """Gain of cases towards the horizon in finer steps than fields are kept, all round. [dBi]

    By case, shape (n_elevation, n_phi) at the elevations of ``LOW_ELEVATIONS_DEG`` and the azimuths
    of the port basis, at the design frequency. The grid of a port basis has a degree between
    elevations, and lobes of an antenna many wavelengths up are hardly wider. One field of each case
    is all that a finer grid takes.
    """
    polar = np.radians(90.0 - np.array(LOW_ELEVATIONS_DEG))
    found: dict[str, Real] = {}
    # Cases of one geometry share what their fields follow from.
    for geometry in dict.fromkeys(r.case.geometry for r in results):
        own = [r for r in results if r.case.geometry == geometry]
        first = own[0]
        directions = Directions(polar, first.solved.basis.directions.phi)
        f, soil = float(first.frequency[first.centre]), first.study.site.ground
        currents = np.stack([r.segment_current for r in own])
        fields = far_field(first.solved.structure.segments, currents, f, soil, directions)
        gains = gain_dbi(directive_power(fields), np.array([r.power_in for r in own]))
        found |= {r.case.id: g for r, g in zip(own, gains, strict=True)}
    return found
