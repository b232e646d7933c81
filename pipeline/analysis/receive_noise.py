"""Noise on the way in: what a volt on the outside of the cable leaves at the receiver.

A case and its port basis in, decibels out. The choke that keeps transmitted current off the cable
keeps the noise of the house off the antenna by the same amount, for the network is reciprocal;
here the source sits where the noise is, and the way back is kept as a check.

There and back differ by what the port matrix is unsymmetric by: under 0.3 dB on the small study,
1.6 dB for the ideal choke, whose transfer is 37 dB down; up to 1 dB in the demo. A device in the
house is a small dipole beside the radio: by reciprocity what it drives into the line is the field
that a volt at the feed makes there, and a solve with such a dipole drawn agrees within 4 %
(tests/analysis/test_receive_noise.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from models.lengths import large
from models.wires.structure import Structure
from pipeline.analysis.case_results import CaseResult
from pipeline.circuit.line import LineRun, through_line
from pipeline.circuit.port_algebra import fed_voltages, port_currents, superpose
from pipeline.solver.near_field import near_field

# A path weaker than this is none: double precision and no measurement reaches there. [dB]
FAINTEST_DB = -200.0
# Pieces of the current are at most this part of the distance to a noisy device.
_PIECE = 0.25


@dataclass(frozen=True)
class Reception:
    """Level at a receiver of 50 ohm, at the design frequency.

    ``station_db``: of a voltage in series with the shield's end at the radio, behind whatever
    impedance is there [dB]; ``None`` where the radio's case floats, since nothing drives it then.
    ``station_current_db``: volts at the receiver per ampere on the shield at the radio [dB(ohm)].
    ``bond_db``: of a voltage in series with the ground rod [dB], ``None`` without a bond.
    ``house_db``: volts per ampere metre of a small dipole beside the radio, upright and level (the
    worst way round) [dB(ohm/m)].
    ``there_and_back_db``: how far the way from the station to the antenna and the way back
    differ, zero in a perfect computation. ``line_loss_db``: of the matched line, connectors in.
    """

    station_db: float | None
    station_current_db: float
    bond_db: float | None
    house_db: tuple[float, float]
    there_and_back_db: float
    line_loss_db: float


def receiver_at_feed(run: LineRun, f: float) -> tuple[complex, float]:
    """Impedance of a receiver seen from the antenna [ohm], and the loss on the way to it [dB].

    The loss is power that leaves the antenna over power in the receiver, connectors in; ``f`` [Hz].
    :func:`line.through_line` the other way round (Pozar, from memory).

    Examples
    --------
    >>> from models.catalogues.parts import coax_class
    >>> from pipeline.circuit.line import LinePiece
    >>> run = LineRun((LinePiece(coax_class("RG-213/U"), 100.0),), 0.0)
    >>> z, loss = receiver_at_feed(run, 150e6)
    >>> round(abs(z), 6), round(loss, 1)
    (50.0, 8.9)
    """
    back = LineRun(tuple(reversed(run.pieces)), run.connector_loss_db)
    z, loss = through_line(back, np.array([f]), np.array([RADIO_OHM + 0j]))
    return complex(z[0]), float(loss[0])


def driven_currents(
    y_port: NDArray[np.complex128], z_series: NDArray[np.complex128], port: int
) -> NDArray[np.complex128]:
    """Peak currents at all ports for one volt in series with one of them, (n_port,). [A]

    ``y_port`` (n_port, n_port) [S], ``z_series`` (n_port,) [ohm]. Definition: :func:`port_voltages`
    with the source at that port.

    Examples
    --------
    >>> driven_currents(np.diag([0.02 + 0j, 0.01]), np.array([50.0, 0.0]), 1).real.tolist()
    [0.0, 0.01]
    """
    return port_currents(y_port, fed_voltages(y_port, z_series, port))


def transfer_db(i_feed: complex, z: complex, z0: float, loss_db: float) -> float:
    """Voltage at the receiver, from the current that flows into the line at the antenna. [dB]

    20 log10 of the voltage across the receiver, not below ``FAINTEST_DB``; ``i_feed`` [A] per volt
    or ampere of the source, ``z`` [ohm] of the line there, ``z0`` [ohm] of the receiver,
    ``loss_db`` from there to it. Definition.

    Examples
    --------
    >>> round(transfer_db(0.02, 50.0, 50.0, 3.0), 6)       # a volt at the antenna
    -3.0
    """
    at_receiver = np.sqrt(max(z.real, 0.0) * z0) * abs(i_feed)
    least = 10 ** (FAINTEST_DB / 20)
    return max(FAINTEST_DB, float(20 * np.log10(max(at_receiver, least)) - loss_db))


def device_place(structure: Structure, beside: float) -> NDArray[np.float64]:
    """Place of a noisy device: to the side of the cable's end at the radio, (3,). [m]

    ``beside`` [m] is the level distance from the shield. Definition.
    """
    segment = structure.port_segment(structure.ports[structure.port_index("station")])
    end = structure.segments.centre[segment]
    along = structure.segments.direction[segment]
    aside = np.cross(along, (0.0, 0.0, 1.0))
    size = float(np.linalg.norm(aside))
    # A cable that comes straight down has no side: any level direction does.
    aside = aside / size if size > 1e-6 else np.array([1.0, 0.0, 0.0])
    return np.asarray(end + beside * aside)


def house_field(result: CaseResult, z_series: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Current into the line per ampere metre of a small dipole beside the radio, (3,). [1/m]

    For a dipole along x, y and z at the study's ``station.noise_beside``; ``z_series`` (n_port,)
    [ohm] with the receiver at the feed.

    Notes
    -----
    Reciprocity: the field at the place, for one volt in series with the feed, is that current
    (R. F. Harrington, Time-Harmonic Electromagnetic Fields, 1961, sec. 3-8, from memory). Over
    ground the field is that of reflection coefficients, so a device on the floor is a guess.
    """
    structure, basis, study = result.solved.structure, result.solved.basis, result.study
    feed = structure.port_index("feed")
    w = fed_voltages(basis.y_port[basis.centre], z_series, feed)
    currents = superpose(basis.i_segment, w)[None, :]
    beside = study.station.noise_beside
    place = device_place(structure, beside)[None, :]
    f = float(basis.frequency[basis.centre])
    soil = study.site.ground
    electric, _ = near_field(structure.segments, currents, f, soil, place, _PIECE * beside)
    return np.asarray(electric[0, 0])


def receive(result: CaseResult) -> Reception | None:
    """Reception of noise in one case; ``None`` where there is no cable for it to come in on."""
    structure, basis, study = result.solved.structure, result.solved.basis, result.study
    if not structure.has_port("station"):
        return None
    centre = basis.centre
    z, loss = receiver_at_feed(result.line, float(basis.frequency[centre]))
    y = basis.y_port[centre]
    feed, station = structure.port_index("feed"), structure.port_index("station")
    series = result.z_series[centre].copy()
    series[feed] += z
    # A source behind nothing gives the same ratio of currents as any other and stays exact.
    closed = series.copy()
    if study.station.impedance is None:
        closed[station] = 0.0
    from_station = driven_currents(y, closed, station)
    from_feed = driven_currents(y, closed, feed)

    def at_receiver(i_feed: complex) -> float:
        return transfer_db(i_feed, z, RADIO_OHM, loss)

    bond = None
    if structure.has_port("rod"):
        from_rod = driven_currents(y, series, structure.port_index("rod"))
        bond = at_receiver(complex(from_rod[feed]))
    house = house_field(result, series)
    there, back = complex(from_station[feed]), complex(from_feed[station])
    return Reception(
        station_db=None if study.station.impedance is None else at_receiver(there),
        station_current_db=at_receiver(there / complex(from_station[station])),
        bond_db=bond,
        house_db=(
            at_receiver(complex(house[2])),
            at_receiver(complex(np.linalg.norm(house[:2]))),
        ),
        there_and_back_db=float(20 * np.log10(abs(there) / abs(back))),
        line_loss_db=loss,
    )


def change_db(after: Reception, before: Reception) -> tuple[float, float | None]:
    """Change of the noise of the station and of the bond from one case to another. [dB]

    Below zero is quieter. Where the radio's case floats, the first is that for a given current on
    the shield.
    """
    bond = None
    if after.bond_db is not None and before.bond_db is not None:
        bond = after.bond_db - before.bond_db
    if after.station_db is not None and before.station_db is not None:
        return after.station_db - before.station_db, bond
    return after.station_current_db - before.station_current_db, bond


def receive_words(found: Mapping[str, Reception], chosen: str, beside: float) -> tuple[str, ...]:
    """Effect of the choke on reception in sentences.

    ``found`` are cases with a cable by id, "none" and "ideal" among them; ``beside`` [m] is the
    distance of a noisy device from the radio.
    """
    bare = found["none"]
    best = _change(change_db(found["ideal"], bare)[0])
    if chosen == "none" or chosen not in found:
        with_it = f"A perfect choke at the antenna would make it {best}."
    else:
        station, bond = change_db(found[chosen], bare)
        with_it = f"With the chosen choke it is {_change(station)}"
        with_it += f" (with a perfect one at the antenna {best})"
        with_it += "." if bond is None else f", and noise from the ground rod {_change(bond)}."
    return (
        f"{_level(bare)} {with_it}",
        f"{_house(found, chosen, beside)} What the antenna itself hears through the air no choke "
        "takes away, nor a receiver's own noise.",
    )


def _house(found: Mapping[str, Reception], chosen: str, beside: float) -> str:
    """Help of a choke against a device in the house, which is heard both ways."""
    advised = chosen in found and chosen != "none"
    upright, level = (
        after - before
        for after, before in zip(
            found[chosen if advised else "ideal"].house_db, found["none"].house_db, strict=True
        )
    )
    which = "that choke makes it" if advised else "a perfect choke would make it"
    return (
        f"A small noisy device {large(beside, None)} beside the radio comes in over the cable and "
        "through the air: "
        f"{which} {_change(upright)} where its wires run upright and {_change(level)} where they "
        "run level."
    )


def _level(bare: Reception) -> str:
    if bare.station_db is None:
        return (
            "Without a choke, an ampere of noise on the shield at the radio leaves "
            f"{_volts(bare.station_current_db)} at the receiver's input."
        )
    return (
        "Many people fit a choke for this reason alone: without one, a volt of noise between the "
        f"shield and the power lead at the radio leaves {_volts(bare.station_db)} at the "
        "receiver's input, by way of the shield and the antenna."
    )


def _volts(level_db: float) -> str:
    """Decibels to a volt as volts.

    Examples
    --------
    >>> _volts(-60.0)
    '1 mV (−60 dB)'
    """
    volts = 10 ** (level_db / 20)
    scale, unit = next(
        ((s, u) for s, u in ((1.0, "V"), (1e3, "mV")) if volts * s >= 0.9995), (1e6, "µV")
    )
    return f"{volts * scale:.2g} {unit} ({level_db:.0f} dB)".replace("(-", "(−")


def _change(change: float) -> str:
    """A change in words.

    Examples
    --------
    >>> _change(-12.3), _change(2.0), _change(0.1)
    ('12 dB weaker', '2 dB stronger', 'no weaker')
    """
    if abs(change) < 0.5:
        return "no weaker"
    return f"{abs(change):.0f} dB {'weaker' if change < 0 else 'stronger'}"
