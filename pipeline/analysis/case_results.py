"""All cases of a study on their port bases: terminations, currents, fields, figures of merit.

Bases in, one :class:`CaseResult` a case out. Nothing is solved here: every case is a
superposition of what one volt at each port does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from models.wires.structure import Structure
from pipeline.analysis.metrics import PowerBalance, conductor_power, gain_dbi, series_power
from pipeline.analysis.nearby import NearbyCurrent, nearby_currents
from pipeline.chokes.kind import Choke
from pipeline.circuit.line import (
    LineRun,
    absorbing,
    power_in,
    surface_resistance,
    swr_on,
    through_line,
)
from pipeline.circuit.port_algebra import fed_voltages, port_currents, superpose
from pipeline.solver.cases import Case
from pipeline.solver.far_field import directive_power, radiated_power
from pipeline.solver.port_basis import PortBasis
from pipeline.solver.terminations import (
    choke_at_frequencies,
    choke_weights,
    hottest_share,
    route_length,
    terminations,
)
from pipeline.study.records import Study


@dataclass(frozen=True)
class Solved:
    """A geometry together with its port basis."""

    structure: Structure
    basis: PortBasis


@dataclass(frozen=True)
class CaseResult:
    """One case over the band; fields, balance and currents at the design frequency.

    Shapes: ``z_feed``, ``z_radio`` (n_f,) [ohm]; ``swr_feed``, ``swr_radio``, ``line_loss_db``
    (n_f,), on the line at the feed and for a radio of 50 ohm; ``shield_ratio`` (n_f, n_shield),
    shield current per feed current along the cable;
    ``gain`` (n_theta, n_phi) [dBi] at ``frequency[centre]``; ``station_ratio`` (n_f,).
    ``antenna_power`` and ``choke_power`` [W] are those at the study's transmitter power;
    ``sleeve_length`` [m] is that of a sleeve as it is to be cut, ``coil_cable`` [m] what a coil
    takes of cable beside the run's own;
    ``hottest_share`` is the part of the latter in the core that takes most of it; ``nearby`` are
    the largest currents on what stands around the antenna, at the design frequency.
    """

    case: Case
    frequency: NDArray[np.float64]
    centre: int
    z_feed: NDArray[np.complex128]
    z_radio: NDArray[np.complex128]
    swr_feed: NDArray[np.float64]
    swr_radio: NDArray[np.float64]
    line_loss_db: NDArray[np.float64]
    shield_ratio: NDArray[np.complex128]
    station_ratio: NDArray[np.complex128]
    gain: NDArray[np.float64]
    balance: PowerBalance
    antenna_power: float
    choke_power: float
    hottest_share: float
    choke_impedance: complex | None
    nearby: tuple[NearbyCurrent, ...] = ()
    sleeve_length: float | None = None
    coil_cable: float = 0.0

    @property
    def shield_ratio_max(self) -> float:
        """Largest shield current per feed current at the design frequency."""
        return float(np.max(np.abs(self.shield_ratio[self.centre]), initial=0.0))


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


def case_series(
    solved: Solved, study: Study, case: Case
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Series impedance of every port in a case, and the part of it that is the choke.

    Both of shape (n_f, n_port) [ohm].

    Raises
    ------
    StudyError
        If the choke's data do not reach the band.
    """
    f = solved.basis.frequency
    z = terminations(solved.structure, study, f)
    on_shield = np.zeros_like(z)
    if case.choke is not None and not case.choke.is_drawn:
        weights = choke_weights(solved.structure, case.choke.position, case.choke.acts_over)
        on_shield = choke_at_frequencies(case.choke, study, f)[:, None] * weights
    return z + on_shield, on_shield


def _balance(
    solved: Solved,
    f: float,
    fields: tuple[NDArray[np.complex128], NDArray[np.complex128]],
    port: tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.complex128]],
) -> PowerBalance:
    """Shares of the input power; ``fields`` are far field and segment currents of the case,
    ``port`` series impedance, choke part of it, and current, each (n_port,)."""
    structure, basis = solved.structure, solved.basis
    e_case, i_segment = fields
    z, on_shield, current = port
    feed = structure.port_index("feed")
    taken = power_in(complex(current[feed]))
    seg = structure.segments
    sigma = np.array([structure.wires[w].material.conductivity for w in seg.wire])
    metal = np.where(np.isfinite(sigma), sigma, np.inf)
    resistance = np.where(
        np.isfinite(metal),
        surface_resistance(f, 1.0) / np.sqrt(np.where(np.isfinite(metal), metal, 1.0)),
        0.0,
    ) / (2 * np.pi * seg.radius)
    lost = series_power(z, current)
    shares = {
        "radiated": float(radiated_power(e_case, basis.directions)) / taken,
        "chokes": float(series_power(on_shield, current).sum()) / taken,
        "conductors": conductor_power(i_segment, seg.length, resistance) / taken,
    }
    for name in ("rod", "station"):
        there = structure.has_port(name)
        shares[name] = float(lost[structure.port_index(name)]) / taken if there else 0.0
    return PowerBalance(**shares, ground=1.0 - sum(shares.values()))


def evaluate(solved: Solved, study: Study, case: Case, route: float = 0.0) -> CaseResult:
    """Everything a case is judged by.

    ``route`` [m] is the way of the cable for a geometry that has none: its inside still has to
    bring the power to the antenna.

    Raises
    ------
    StudyError
        If the choke's data do not reach the band.
    """
    basis, structure = solved.basis, solved.structure
    f, centre = basis.frequency, basis.centre
    z, on_shield = case_series(solved, study, case)
    feed = structure.port_index("feed")
    w = fed_voltages(basis.y_port, z, feed)
    current = port_currents(basis.y_port, w)
    i_feed = current[:, feed]
    e_case = superpose(basis.e_port.reshape(len(w[centre]), -1), w[centre])
    e_case = e_case.reshape(basis.e_port.shape[1:])
    fields = (e_case, superpose(basis.i_segment, w[centre]))
    at_centre = (z[centre], on_shield[centre], current[centre])
    balance = _balance(solved, float(f[centre]), fields, at_centre)
    z_radio, loss = through_line(case_line(structure, study, case, route), f, 1 / i_feed)
    antenna_power = float(study.power * 10 ** (-loss[centre] / 10))
    return CaseResult(
        case=case,
        frequency=f,
        centre=centre,
        z_feed=absorbing(1 / i_feed),
        z_radio=z_radio,
        swr_feed=swr_on(1 / i_feed, study.cable.type.z0),
        swr_radio=swr_on(z_radio, RADIO_OHM),
        line_loss_db=loss,
        shield_ratio=superpose(basis.i_shield, w) / i_feed[:, None],
        station_ratio=_at_station(structure, current) / i_feed,
        gain=gain_dbi(directive_power(e_case), power_in(complex(i_feed[centre]))),
        balance=balance,
        antenna_power=antenna_power,
        choke_power=balance.chokes * antenna_power,
        hottest_share=hottest_share(structure, case.choke, current[centre]),
        choke_impedance=complex(on_shield[centre].sum()) if on_shield.any() else None,
        nearby=nearby_currents(structure, fields[1], complex(i_feed[centre])),
        sleeve_length=None if case.choke is None else case.choke.cut_length(study.host),
        coil_cable=0.0 if case.choke is None else case.choke.own_cable(study.cable.type),
    )


def case_line(structure: Structure, study: Study, case: Case, route: float) -> LineRun:
    """Cable between antenna and radio in a case; ``route`` as in :func:`evaluate`."""
    return study.cable.run(case.choke, _bare_route(structure, study, case.choke, route))


def _bare_route(structure: Structure, study: Study, choke: Choke | None, otherwise: float) -> float:
    """Length of the route without a coil that is drawn into it. [m]"""
    length = route_length(structure) or otherwise
    if choke is not None and choke.is_drawn:
        length -= choke.own_cable(choke.cable_along(study.cable.type))
    return length


def _at_station(structure: Structure, current: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Current at the radio end, shape (n_f,), from those of all ports; none without a cable."""
    if not structure.has_port("station"):
        return np.zeros(len(current), complex)
    return np.asarray(current[:, structure.port_index("station")])
