"""Antennas of tests/validation/surface drawn by their generators, beside what their tubes do.

Each case is a geometry file and a table of a solution on the tubes' walls; the generator's
drawing of the same lengths is solved at the same frequencies with the same two ports.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from models.site.feedline_route import Step
from models.site.installation import shield_rule
from models.site.shield import Zone
from models.wires.pipe_parts import ROD_TIP
from models.wires.structure import Structure
from pipeline.mesh.evidence import worst_average_gain
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.far_field import Directions, directive_power, far_field
from pipeline.solver.nec2 import unit_source_currents
from tests.harness.antenna_with_cable import Plan, build, evidence, parts
from tests.validation.case_antennas import antenna_of
from tests.validation.published_rows import FOLDER
from tests.validation.surface.tubes import Tube, read_case

SURFACE = FOLDER / "surface"
# Case: its table, the mesh of that table, and the geometry file.
CASES = {
    "J1": ("J1_feed.csv", "", "J1_again"),
    "J3": ("J3_Y.csv", "", "J3_again"),
    "A1": ("A1_Y.csv", "limit", "A1"),
    "A2": ("A2_Y.csv", "limit", "A2"),
    "A3": ("A3_Y.csv", "limit", "A3"),
    "A6": ("A6_Y.csv", "limit", "A6"),
}
# Legs with 0.5 to 0.8 diameters of air between them: no room for five segments in the feed.
CLOSE = {name: (f"{name}_Y.csv", "limit", name) for name in ("A5", "A7", "A8", "A10")}
# Antennas that are no J-poles, with a cable, and antennas or their joints without one.
_WITH_CABLE = (*(f"C{k}" for k in range(1, 11)), "E1", "E2", "E3")
OTHER = {name: (f"{name}_Y.csv", "limit", name) for name in _WITH_CABLE}
ALONE = {f"B{k}": (f"B{k}_Y.csv", "limit", f"B{k}") for k in (1, 2, 3, 4)}
EVERY = CASES | CLOSE | OTHER | ALONE
WITH_SHIELD = tuple(name for name in CASES if name != "J1")
# Part of the band an antenna is used in: three per cent either side of its middle.
BAND = 0.03
# Current at the gap per feed current below which it is compared with that of the feed, not with
# itself.
NULL = 0.025
FINER = 0.75


@dataclass(frozen=True)
class TwoPort:
    """Frequencies [Hz], admittances [S] of feed and gap, shape (n_f, n_port, n_port)."""

    f: NDArray[np.float64]
    y: NDArray[np.complex128]

    @property
    def z_feed(self) -> NDArray[np.complex128]:
        """Impedance of the feed with the gap closed. [ohm]"""
        return np.asarray(1 / self.y[:, 0, 0])

    @property
    def shield_ratio(self) -> NDArray[np.float64]:
        """Current at the gap per feed current, gap closed."""
        return np.abs(self.y[:, 1, 0] / self.y[:, 0, 0])


def table(name: str) -> dict[str, NDArray[np.float64]]:
    """Numeric columns of a stored table; columns with an empty cell are left out."""
    with (SURFACE / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    keys = [k for k in rows[0] if k != "mesh" and all(r[k] for r in rows)]
    return {k: np.array([float(r[k]) for r in rows]) for k in keys}


def _rows(name: str, mesh: str) -> dict[str, NDArray[np.float64]]:
    with (SURFACE / name).open(encoding="utf-8", newline="") as file:
        rows = [r for r in csv.DictReader(file) if not mesh or r["mesh"] == mesh]
    keys = [k for k in rows[0] if k == "f_MHz" or k.endswith("_S")]
    return {k: np.array([float(r[k]) for r in rows]) for k in keys}


@cache
def reference(name: str) -> TwoPort:
    """What the tubes of a case do."""
    file, mesh, _ = EVERY[name]
    rows = _rows(file, mesh)
    f = rows["f_MHz"] * 1e6
    if name == "J1":
        return TwoPort(f, (rows["G_S"] + 1j * rows["B_S"])[:, None, None])
    if name in ALONE:
        return TwoPort(f, (rows["Y11_re_S"] + 1j * rows["Y11_im_S"])[:, None, None])
    y11, y12, y22 = (rows[f"Y{k}_re_S"] + 1j * rows[f"Y{k}_im_S"] for k in ("11", "12", "22"))
    return TwoPort(f, np.array([[y11, y12], [y12, y22]]).transpose(2, 0, 1))


def shield_of(name: str) -> Tube | None:
    """The cable of a case; that of a body of revolution begins where the drawing's does."""
    case = read_case(EVERY[name][2])
    if not case.turned:
        return next((t for t in case.tubes if t.name == "shield"), None)
    cable = antenna_of(case).rod
    (joint,) = parts(_alone(name))[0].joints.values()
    return replace(cable, axis=np.array([joint.point, cable.axis[-1]]))


def gap_position(name: str) -> float:
    """Place of the gap along the shield, from where the shield begins. [m]"""
    case, shield = read_case(EVERY[name][2]), shield_of(name)
    gap = next(p for p in case.ports if p.name == "gap")
    return 0.0 if shield is None else float(np.linalg.norm(gap.at - shield.axis[0]))


def _alone(name: str) -> Plan:
    known = antenna_of(read_case(EVERY[name][2]))
    return Plan(
        known.antenna,
        known.pipe.diameter,
        known.rod.diameter / 2,
        float(np.mean(reference(name).f)),
        generator=known.generator,
    )


@cache
def plan(name: str) -> Plan:
    """The generator's plan with the lengths of a case's geometry file."""
    drawn, shield = _alone(name), shield_of(name)
    if shield is None:
        return drawn
    # The last stretch is the lead beyond the radio; here it is the same tube.
    lead = 0.12 * 299.8e6 / drawn.frequency
    # One segment with its middle at the gap: seven millimetres beside it are 4 % of the current.
    port = shield_rule(
        drawn.pipe_diameter, 299.8e6 / drawn.frequency, 1.0, shield.diameter / 2
    ).zone
    ways = np.diff(shield.axis, axis=0)
    steps = [Step("down" if way[2] else "out", float(np.linalg.norm(way))) for way in ways]
    steps[-1] = replace(steps[-1], length=steps[-1].length - lead)
    return replace(
        drawn,
        joins=antenna_of(read_case(EVERY[name][2])).joins,
        steps=tuple(steps),
        shield_radius=shield.diameter / 2,
        # The tube ends in a flat cap, which a wire stands for that stands back from it.
        lead=lead - ROD_TIP * shield.diameter / 2,
        zones=(Zone(gap_position(name) - 0.5 * port, port),),
    )


@cache
def drawing(name: str, refine: float = 1.0) -> Structure:
    """The case as a cage of wires."""
    return build(replace(plan(name), refine=refine))


def ports_of(name: str, built: Structure) -> list[int]:
    """Indices of the feed and, where there is one, of the port nearest to the gap."""
    found = [built.port_index("feed")]
    if plan(name).joins is not None:
        shield = [k for k, p in enumerate(built.ports) if p.name.startswith("shield")]
        place = gap_position(name)
        found.append(min(shield, key=lambda k: abs((built.ports[k].position or 0.0) - place)))
    return found


def driven(built: Structure, f: NDArray[np.float64], ports: list[int]) -> NDArray[np.complex128]:
    """Segment currents for one volt at each port, the others closed, (n_f, n_port, n_segment)."""
    groups = [built.port_groups[k] for k in ports]
    flat = tuple(s for group in groups for s in group)
    every = unit_source_currents(built, f, None, lossless=True, sources=flat)
    # Segments driven in parallel share one volt: their currents add up.
    ends = np.cumsum([0, *(len(group) for group in groups)])
    return np.add.reduceat(every, ends[:-1], axis=1)


@cache
def solved_at(name: str, middle_only: bool) -> NDArray[np.float64]:
    """Frequencies of a case, or that in the middle of its table alone. [Hz]"""
    f = reference(name).f
    return f[len(f) // 2 :][:1] if middle_only else f


@cache
def currents(name: str, refine: float, middle_only: bool) -> NDArray[np.complex128]:
    """Segment currents for one volt at the feed and at the gap, (n_f, n_port, n_segment). [A]

    What lies in series with a mouth of a sleeve is in place.
    """
    built, f = drawing(name, refine), solved_at(name, middle_only)
    ports = ports_of(name, built)
    if not (mouths := [built.port_index(x.name) for x in built.loads if x.name != "feed"]):
        return driven(built, f, ports)
    (mouth,) = mouths
    flowing = driven(built, f, [*ports, mouth])
    z = load_impedances(built, f, plan(name).frequency)[:, mouth]
    into = built.through_ports(flowing)[:, :, mouth]
    volts = -z[:, None] * into[:, :-1] / (1 + z * into[:, -1])[:, None]
    return np.asarray(flowing[:, :-1] + volts[..., None] * flowing[:, -1:])


@cache
def ours(name: str, refine: float = 1.0, middle_only: bool = False) -> TwoPort:
    """What the drawing does at the frequencies of the case, or in the middle of them alone."""
    f, built = solved_at(name, middle_only), drawing(name, refine)
    pair = ports_of(name, built)
    flowing = currents(name, refine, middle_only)
    y = built.through_ports(flowing)[:, :, pair].transpose(0, 2, 1)
    return TwoPort(f, _with_inductance(y, built, f))


def _with_inductance(
    y: NDArray[np.complex128], built: Structure, f: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Admittances with what the real feed has of inductance beyond the drawn one in series."""
    z = 2j * np.pi * f * built.ports[built.port_index("feed")].series_inductance
    down = 1 + z * y[:, 0, 0]
    taken = z[:, None, None] * y[:, :, :1] * y[:, :1, :] / down[:, None, None]
    return np.asarray(y - taken)


def in_band(name: str) -> NDArray[np.bool_]:
    """Frequencies of a case within the band an antenna is used in."""
    f = reference(name).f
    middle = next(m for m in (52e6, 145e6, 435e6) if f[0] <= m <= f[-1])
    return np.asarray(np.abs(f / middle - 1) <= BAND + 1e-9)


def _gamma(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    return np.asarray((z - 50) / (z + 50))


def at(two: TwoPort, f: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Feed impedance read between the frequencies of a table. [ohm]"""
    z = two.z_feed
    return np.interp(f, two.f, z.real) + 1j * np.interp(f, two.f, z.imag)


def frequency_scale(name: str) -> float:
    """Factor on our frequencies that brings the reflection nearest to that of the tubes."""
    theirs = reference(name)

    def miss(factor: float) -> float:
        inside = (theirs.f / factor >= theirs.f[0]) & (theirs.f / factor <= theirs.f[-1])
        found = _gamma(at(ours(name), theirs.f / factor)) - _gamma(theirs.z_feed)
        return float(np.mean(np.abs(found[inside]) ** 2))

    return float(minimize_scalar(miss, bounds=(0.985, 1.015), method="bounded").x)


def impedance_error(name: str, factor: float = 1.0) -> NDArray[np.float64]:
    """Relative error of the feed's impedance in the band, after a shift in frequency."""
    theirs = reference(name)
    inside = (
        in_band(name) & (theirs.f / factor >= theirs.f[0]) & (theirs.f / factor <= theirs.f[-1])
    )
    found = at(ours(name), theirs.f / factor) / theirs.z_feed - 1
    return np.asarray(np.abs(found)[inside])


def out_of_null(name: str) -> NDArray[np.bool_]:
    """Frequencies in the band at which the gap has current that a ratio can be taken of.

    Near its quarter wave a sleeve leaves none; all other cases have enough at all of them.
    """
    return np.asarray(in_band(name) & (reference(name).shield_ratio > NULL))


def shield_error(name: str) -> NDArray[np.float64]:
    """Relative error of the current at the gap per feed current in the band, unshifted."""
    found = ours(name).shield_ratio / reference(name).shield_ratio - 1
    return np.asarray(found)[out_of_null(name)]


def horizon_gains(name: str, refine: float = 1.0, middle_only: bool = False) -> NDArray[np.float64]:
    """Our gain along +x, +y and -x, shape (n_f, 3), at frequencies as :func:`ours`. [dBi]"""
    built, f = drawing(name, refine), solved_at(name, middle_only)
    feed = built.port_index("feed")
    current = currents(name, refine, middle_only)[:, 0]
    power = 0.5 * built.through_ports(current)[:, feed].real
    turned = antenna_of(read_case(EVERY[name][2])).turned
    grid = Directions(np.array([np.pi / 2]), np.radians([0.0, 90.0, 180.0]) - turned)
    found = []
    for k, one in enumerate(f):
        density = directive_power(
            far_field(built.segments, current[k : k + 1], float(one), None, grid)[0]
        )
        found.append(4 * np.pi * density[0] / power[k])
    return np.asarray(10 * np.log10(np.array(found)))


@cache
def horizon_fields(name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Field along +x, +y and -x in the band, ours and the tubes', over that of an isotropic source.

    Frequencies are those whose gain is stored; both have shape (n_f, 3).
    """
    stored = f"{name}_gain.csv"
    rows = table(stored if (SURFACE / stored).exists() else f"{name}_feed.csv")
    theirs = np.stack([rows[f"gain_horizon_phi{a}_dBi"] for a in (0, 90, 180)], axis=1)
    # Gains of the finest mesh are the table's last, some at a few of the frequencies only.
    f = list(np.round(reference(name).f / 1e6, 3))
    found = dict(zip(rows["f_MHz"], 10 ** (theirs / 20), strict=True))
    inside = [k for k in np.flatnonzero(in_band(name)) if f[k] in found]
    return 10 ** (horizon_gains(name)[inside] / 20), np.array([found[f[k]] for k in inside])


def gain_error(name: str) -> NDArray[np.float64]:
    """Error of our field towards the horizon in the band, in shares of the mean field there. [dB]

    Where all azimuths have the same gain this is our gain less that of the tubes; towards a null
    it is not divided by the little that goes there, as no interval of a gain is. Shape (n_f, 3).
    """
    mine, theirs = horizon_fields(name)
    # What goes along +y goes along -y too.
    mean = np.sqrt(theirs**2 @ [0.25, 0.5, 0.25])[:, None]
    return np.asarray(20 / np.log(10) * (mine - theirs) / mean)


@dataclass(frozen=True)
class OwnChecks:
    """What a drawing says about itself: average gain (the worse of with and without cable) and
    asymmetry of its port matrix."""

    average_gain: float
    reciprocity: float


@cache
def own_checks(name: str) -> OwnChecks:
    """Average gain and reciprocity of a case's drawing at its middle frequency."""
    f = plan(name).frequency
    built, alone = drawing(name), build(replace(plan(name), joins=None, zones=()))
    # Neither a coil nor a capacitor in series with the feed changes the two.
    with_cable, without = (
        evidence(replace(b, loads=tuple(x for x in b.loads if x.name != "feed")), f)
        for b in (built, alone)
    )
    gain = worst_average_gain(with_cable, without)
    return OwnChecks(gain, with_cable.reciprocity)


def with_gap_of_reference(name: str) -> NDArray[np.complex128]:
    """Our two-port with the gap's capacitance that makes its susceptance the reference's."""
    mine, theirs = ours(name).y.copy(), reference(name).y
    omega = 2 * np.pi * reference(name).f
    capacitance = np.median(
        (theirs[:, 1, 1] - mine[:, 1, 1]).imag[in_band(name)] / omega[in_band(name)]
    )
    mine[:, 1, 1] += 1j * omega * capacitance
    return mine


def error_along_shield(name: str) -> tuple[NDArray[np.float64], int]:
    """Relative error of the current along the shield per feed current, and at how many points.

    Gap closed, at the one frequency of the table; points within 10 dB of the largest current.
    """
    rows = table(f"{name}_current.csv")
    f = float(rows["f_MHz"][0]) * 1e6
    y = reference(name)
    feed_theirs = y.y[np.argmin(np.abs(y.f - f)), 0, 0]
    theirs = np.abs((rows["I1_re_A_per_V"] + 1j * rows["I1_im_A_per_V"]) / feed_theirs)
    built = drawing(name)
    current = currents(name, 1.0, False)[np.argmin(np.abs(solved_at(name, False) - f)), 0]
    fed = built.through_ports(current)[built.port_index("feed")]
    place = np.array([s for _, s in built.shield_path])
    # Tables of bodies of revolution count from the mouth.
    place += next((-float(shield_of(name).axis[0, 2]) for _ in read_case(EVERY[name][2]).turned), 0)
    mine = np.abs(current[[k for k, _ in built.shield_path]] / fed)
    inside = (rows["s_m"] > place[0]) & (rows["s_m"] < place[-1])
    inside &= theirs > theirs.max() / 10**0.5
    error = np.interp(rows["s_m"], place, mine) / theirs - 1
    return np.asarray(error[inside]), int(inside.sum())
