"""Series impedance of every port of a case: loads, bond, radio end, and the choke over its ports.

A structure, a study and a choke in; impedances by port and frequency out, ready for superposition.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import FerriteCore
from models.wires.structure import Structure
from pipeline.chokes.kind import Choke
from pipeline.circuit.port_algebra import OPEN
from pipeline.solver.antenna_loads import load_impedances
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError


def choke_weights(structure: Structure, position: float, length: float) -> NDArray[np.float64]:
    """Share of a choke's impedance on each port that it covers, shape (n_port,). [-]

    The share of a port is the part of the choke that lies on its segment; a choke without length
    sits on the segment that holds its place. Raises ValueError if part of it lies where the
    geometry has no port.
    """
    weights = np.zeros(len(structure.ports))
    index, low, high = structure.shield_spans
    if length > 0:
        end = position + length
        weights[index] = np.maximum(0.0, np.minimum(high, end) - np.maximum(low, position)) / length
    else:
        weights[index] = (low - 1e-6 <= position) & (position < high - 1e-6)
    if abs(weights.sum() - 1) > 1e-3:
        raise ValueError(
            f"a choke from {position:.3f} m over {length:.3f} m is not covered by ports "
            f"(share {weights.sum():.3f})"
        )
    return weights


def placed_weights(structure: Structure, choke: Choke) -> NDArray[np.float64]:
    """Share of a choke on each port, its parts counted alike, shape (n_port,). [-]

    That of its impedance where the parts are equal, as those of every one of its members are.

    Raises ValueError if part of it lies where the geometry has no port. Definition.
    """
    parts = choke.placed
    each = [choke_weights(structure, part.position, part.acts_over) for part in parts]
    return np.asarray(sum(each) / len(parts))


def is_covered(structure: Structure, choke: Choke) -> bool:
    """Whether a geometry has ports for all of a choke."""
    try:
        placed_weights(structure, choke)
    except ValueError:
        return False
    return True


def with_ports_for(
    built: Structure, chokes: Iterable[Choke], stretches: Iterable[tuple[float, float]] = ()
) -> Structure:
    """The same wires without the ports on the shield that nothing covers.

    ``stretches`` are places and lengths [m] along the shield that chokes may lie on beside those
    named. Chokes that are drawn as wire are passed over. Name an ideal one among them
    (:func:`cases.ideal_choke`): the reference needs its port.
    """
    covered = np.zeros(len(built.ports), dtype=bool)
    for choke in chokes:
        if not choke.is_drawn:
            covered |= placed_weights(built, choke) > 0
    for position, length in stretches:
        covered |= choke_weights(built, position, length) > 0
    kept = tuple(
        port
        for port, used in zip(built.ports, covered, strict=True)
        if used or not port.name.startswith("shield")
    )
    return replace(built, ports=kept)


@dataclass(frozen=True)
class WarmestOfRow:
    """The one of a row's cores that takes most heat, and its ``share`` of the whole choke's. [-]"""

    core: FerriteCore | None
    share: float


def warmest_of_rows(
    structure: Structure, study: Study, choke: Choke, current: NDArray[np.complex128]
) -> tuple[WarmestOfRow, ...]:
    """The warmest core of every row of a choke; a part without cores is a row of one.

    Heat is resistance times the current under each: all cores of a row have the same resistance.
    ``current`` has shape (n_port,). Definition.
    """
    if len(choke.placed) == 1 and (choke.ferrite_core is None or choke.count < 2):
        return (WarmestOfRow(choke.ferrite_core, 1.0),)
    f = np.array([study.frequency])
    each = [float(choke_at_frequencies(row, study, f)[0].real) / row.count for row in choke.placed]
    largest, square, heat = max(each), np.abs(current) ** 2, []
    for row, resistance in zip(choke.placed, each, strict=True):
        length = row.acts_over if row.ferrite_core is None else row.ferrite_core.length
        places = [row.position + length * k for k in range(row.count)]
        weights = np.array([choke_weights(structure, place, length) for place in places])
        heat.append((resistance / largest if largest else 1.0) * (weights @ square))
    whole = np.concatenate(heat).sum()
    return tuple(
        WarmestOfRow(row.ferrite_core, float(own.max() / whole))
        for row, own in zip(choke.placed, heat, strict=True)
    )


def terminations(
    structure: Structure, study: Study, f: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Series impedance of every port before any choke, shape (n_f, n_port) [ohm]."""
    omega = 2 * np.pi * f
    z = 1j * omega[:, None] * np.array([p.series_inductance for p in structure.ports])
    z += load_impedances(structure, f, study.frequency)
    if structure.has_port("rod") and study.bond is not None:
        rod = study.bond.rod_impedance
        z[:, structure.port_index("rod")] += OPEN if rod is None else rod
    if structure.has_port("station"):
        impedance = study.station.impedance
        z[:, structure.port_index("station")] += OPEN if impedance is None else impedance
    return np.asarray(z)


def choke_at_frequencies(
    choke: Choke,
    study: Study,
    f: NDArray[np.float64],
    factors: Mapping[str, NDArray[np.float64]] | None = None,
) -> NDArray[np.complex128]:
    """Impedance of a choke over the band, shape (n_f,) [ohm].

    With ``factors`` on what is unknown about chokes, (n,) each: in every draw, at the design
    frequency, shape (n or 1,). Raises StudyError if the data of the choke do not reach the band.
    """
    try:
        if factors is not None:
            return choke.drawn_impedance(study.host, factors)
        return choke.impedance(f, study.host)
    except ValueError as error:
        raise StudyError(
            Fault(
                study.place(f"chokes.{choke.id}"),
                "",
                f"has no impedance over the whole band: {error}",
                choke.data_remedy,
                "choke-data-short",
            )
        ) from error


def told_impedance(choke: Choke, study: Study, f: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Impedance of a choke as it may be told, shape (n_f,). [ohm]

    The least within what the study leaves open about how it was made. ValueError if its data do not
    reach a frequency. Definition.
    """
    spread = getattr(study.unknowns, choke.unknowns[0].key) if choke.unknowns else None
    ends = (1.0,) if spread is None else (1.0, *spread.ends)
    return choke.told_impedance(f, study.host, np.array(ends))


def choke_series(
    structure: Structure,
    study: Study,
    choke: Choke | None,
    f: NDArray[np.float64],
    factors: Mapping[str, NDArray[np.float64]] | None = None,
) -> NDArray[np.complex128]:
    """Series impedance of a choke on every port, shape (n_f, n_port). [ohm]

    ``factors`` on what is unknown about it make as many rows at one frequency, shape (n or 1,
    n_port). Definition: the impedance, shared out over the ports that it covers; with what lies
    across it on a port of its own, where it is drawn and has one; zero without a choke and for
    one that is all wire. ValueError if the structure has no ports where the choke sits.
    """
    if choke is None or (choke.is_drawn and not choke.own_port):
        return np.zeros((len(f), len(structure.ports)), complex)
    if not choke.is_drawn:
        of_each = (
            choke_at_frequencies(one, study, f, factors)[:, None] * placed_weights(structure, one)
            for one in choke.members.values()
        )
        return np.asarray(reduce(np.add, of_each))
    own = choke_at_frequencies(choke, study, f, factors)
    if not structure.has_port(choke.own_port):
        raise ValueError(f"{structure.name} is not the geometry that {choke.id} is drawn in")
    port = structure.port_index(choke.own_port)
    across = 2j * np.pi * f * structure.ports[port].shunt_capacitance
    z = np.zeros((len(own), len(structure.ports)), complex)
    z[:, port] = 1 / (1 / own + across)
    return z


def route_length(structure: Structure) -> float:
    """Cable from the tap to the radio, a coil's own included; zero without a cable. [m]"""
    if not structure.has_port("station"):
        return 0.0
    return float(structure.ports[structure.port_index("station")].position or 0.0)
