"""Sleeves over a cable as the project draws them, beside solutions on their walls (S1 to S5).

An upper rod is fed against the cable that hangs from it, with a sleeve over the cable or without
one. The cable with its sleeve is drawn by the project's own :func:`installation.assemble`; the
rod, which is no antenna of the project, as pipes are.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import FinishedAntenna, Joint
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Step
from models.site.installation import (
    Feedline,
    ShieldCable,
    assemble,
    refuse_bad_segments,
    shield_rule,
)
from models.site.sleeve import SLEEVE, Sleeve
from models.wires.pipe_cage import Cage, cage_ring_radius, choose_wire_count, ring
from models.wires.pipe_parts import ROD_TIP, WireBuilder
from models.wires.segmentation import SegmentRule
from models.wires.structure import PERFECT, Structure
from pipeline.circuit.ferrite_and_sleeve import SleeveSection, sleeve_impedance
from pipeline.circuit.port_algebra import transfer_asymmetry
from pipeline.solver.far_field import Directions, directive_power, far_field, radiated_power
from pipeline.solver.nec2 import unit_source_currents
from tests.validation.published_rows import FOLDER

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

TABLES = FOLDER / "surface" / "sleeve"
CASES = ("S1", "S2", "S3", "S5")
# No loss, as on the walls [S/m].
_LOSSLESS = 1e30
_SPHERE = Directions(np.linspace(0, np.pi, 61), np.arange(24) * np.pi / 12)


@dataclass(frozen=True)
class Lengths:
    """Radii and heights of a case, the feed at height zero [m]."""

    rod: float
    top: float
    foot: float
    cable: float
    below: float
    sleeve: Sleeve | None


@cache
def lengths(name: str) -> Lengths:
    """Lengths of a case from its wall, tip of the rod to foot of the cable."""
    case = json.loads((TABLES / f"{name}.json").read_text(encoding="utf-8"))
    r, z = np.array(case["turned"][0]["wall_m"]).T
    cable = float(r[3])
    found = Lengths(float(r[1]), float(z[1]), float(z[2]), cable, float(-z[-1]), None)
    if len(r) == 6:
        return found
    # Of a mouth up the bore comes first, of a mouth down the outside.
    opens_up = z[5] < z[6]
    outside, bore = float(r[4:-2].max()), float(r[r > cable + 1e-6][2:].min())
    inside = float(np.ptp(z[np.abs(r - bore) < 1e-6]))
    start = float(-z[4:-2].max())
    wall = outside - bore
    over = Sleeve(start, inside, outside, wall, cable, _LOSSLESS, bool(opens_up))
    return Lengths(found.rod, found.top, found.foot, cable, found.below, over)


def _antenna(of: Lengths, wavelength: float, refine: float) -> FinishedAntenna:
    """The rod as a cage closed at its foot, and the fed segment between it and the cable."""
    n = choose_wire_count(of.rod, of.cable)
    cage = Cage(n, cage_ring_radius(of.rod, of.cable, n), of.cable, "antenna", PERFECT)
    fine = max(refine * 0.55 * 2 * of.rod, 2.5 * of.cable)
    drawn = WireBuilder(cage, SegmentRule(fine, max(fine, refine * wavelength / 25)))
    nodes = drawn.upright([of.top - drawn.rim, of.foot])
    foot = np.array([0.0, 0.0, of.foot])
    wires = [drawn.even(foot, -foot, 1), *drawn.pipes(nodes), *drawn.spokes(nodes[1], foot)]
    wires += ring(nodes[0], cage)
    below = Joint((0.0, 0.0, -of.foot), (1.0, 0.0, 0.0), of.foot)
    return FinishedAntenna(tuple(wires), (0,), {"foot": below}, 0.0, -of.foot)


def drawing(of: Lengths, highest: float, refine: float = 1.0) -> Structure:
    """Rod, cable and sleeve as wires; ``highest`` [Hz] is the upper end of the band."""
    wavelength = SPEED_OF_LIGHT_NEC / highest
    cable = ShieldCable(of.cable, PERFECT)
    # The last fifth of a metre is drawn as what a radio's lead is; nothing lies between.
    lead = 0.2
    run = Step("down", of.below - lead - ROD_TIP * of.cable)
    line = Feedline("foot", (run,), cable, cable, (), None, 0.0, lead, of.sleeve)
    # Below the feed the cable begins as long as the segment that is fed.
    rule = replace(shield_rule(2 * of.rod, wavelength, refine, of.cable), joint=2 * of.foot)
    built = assemble("sleeve", _antenna(of, wavelength, refine), line, rule, 0.0, False)
    refuse_bad_segments(built, wavelength, False)
    return built


def feed_capacitance(of: Lengths) -> float:
    """What the strip that is fed has across it beyond the segment of five radii [F]."""
    # Found on S1, whose feed is a plain strip without a rim that faces it.
    return 50e-12 * of.cable


@dataclass(frozen=True)
class Solution:
    """Segment currents per volt at the feed (n_f, n_segment), and the port matrix.

    ``y`` (n_f,) is the admittance of the feed with its strip, ``ports`` (n_f, n, n) that of feed
    and mouth [S].
    """

    built: Structure
    f: Real
    current: Complex
    y: Complex
    ports: Complex


def solve(of: Lengths, f: Real, refine: float = 1.0, across: float | None = None) -> Solution:
    """The drawing of a case without loss, its inside and its mouth's capacitance in series.

    ``across`` [F] takes the place of that capacitance.
    """
    built = drawing(of, float(f.max()), refine)
    names = ["feed", *([SLEEVE] if of.sleeve else [])]
    at = [int(built.port_segments[built.port_index(name)]) for name in names]
    every = unit_source_currents(built, f, None, lossless=True, sources=tuple(at))
    ports = every[:, :, at].transpose(0, 2, 1)
    current = every[:, 0]
    if of.sleeve is not None:
        own = built.ports[built.port_index(SLEEVE)].shunt_capacitance
        z = _inside(of.sleeve, f, own if across is None else across)
        volts = -z * ports[:, 1, 0] / (1 + z * ports[:, 1, 1])
        current = current + volts[:, None] * every[:, 1]
    y = current[:, at[0]] + 2j * np.pi * f * feed_capacitance(of)
    return Solution(built, f, current, y, ports)


def _inside(sleeve: Sleeve, f: Real, across: float) -> Complex:
    """Impedance in series at the mouth [ohm]."""
    rod, bore = 2 * sleeve.shield_radius, 2 * (sleeve.radius - sleeve.wall)
    section = SleeveSection(rod, rod, 1.0, bore, _LOSSLESS, _LOSSLESS)
    line = sleeve_impedance(f, sleeve.inside, section)
    return np.asarray(1 / (1 / line + 2j * np.pi * f * across))


def table(name: str) -> list[dict[str, float]]:
    """Rows of a stored table as numbers; what is no number is left out."""
    with (TABLES / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [{k: float(v) for k, v in row.items() if v and k != "mesh"} for row in rows]


@dataclass(frozen=True)
class Errors:
    """Errors of a case at all its frequencies.

    ``impedance`` relative; ``on`` the sleeve and ``below`` it in dB, current per feed current;
    ``gain`` [dB] at the horizon, of a field that is below an isotropic source's in shares of that.
    """

    impedance: Real
    on: Real
    below: Real
    gain: Real
    asymmetry: float
    average_gain: Real


@cache
def errors(name: str, refine: float = 1.0) -> Errors:
    """A case drawn and solved, beside its tables."""
    rows = table(f"{name}_Y.csv")
    f = 1e6 * np.array([r["f_MHz"] for r in rows])
    theirs = np.array([r["Y11_re_S"] + 1j * r["Y11_im_S"] for r in rows])
    ours = solve(lengths(name), f, refine)
    on, below = _current_errors(name, ours, theirs)
    asymmetry = [transfer_asymmetry(y, 0) for y in ours.ports]
    return Errors(
        np.abs(theirs / ours.y - 1),
        on,
        below,
        _gain_errors(name, ours),
        max(asymmetry),
        np.array([average_gain(ours, k) for k in range(len(f))]),
    )


def _current_errors(name: str, ours: Solution, theirs: Complex) -> tuple[Real, Real]:
    """Errors of the net current on the sleeve and below it [dB].

    Compared where it is within 10 dB of the largest of its stretch, and not within a port's length
    and a half of the mouth, where it turns over in a few centimetres and we have one segment.
    """
    of = lengths(name)
    place = np.array([s for _, s in ours.built.shield_path])
    along = ours.built.along_shield(ours.current)
    on: list[float] = []
    below: list[float] = []
    low, high = (of.sleeve.start, of.sleeve.end) if of.sleeve else (0.0, 0.0)
    mouth = low if of.sleeve and of.sleeve.opens_to_antenna else high
    stored = table(f"{name}_net_current.csv")
    for k, f in enumerate(ours.f):
        here = [r for r in stored if abs(1e6 * r["f_MHz"] - f) < 1]
        s = -np.array([r["z_m"] for r in here])
        them = np.array([r["I1_re_A_per_V"] + 1j * r["I1_im_A_per_V"] for r in here]) / theirs[k]
        us = np.interp(s, place, along[k].real) + 1j * np.interp(s, place, along[k].imag)
        error = 20 * np.log10(np.abs(us / ours.y[k] / them))
        clear = (s > 0.02) & (s < place[-1]) & ((np.abs(s - mouth) > 0.035) | (of.sleeve is None))
        for part, into in (((s > low) & (s < high), on), (s > max(high, 0.02), below)):
            inside = part & clear
            if inside.any():
                inside &= np.abs(them) > np.abs(them[inside]).max() / 10**0.5
                into += list(error[inside])
    return np.array(on), np.array(below)


def _gain_errors(name: str, ours: Solution) -> Real:
    level = Directions(np.array([np.pi / 2]), np.zeros(1))
    theirs = np.array([r["gain_horizon_phi0_dBi"] for r in table(f"{name}_gain.csv")])
    found = []
    for k, f in enumerate(ours.f):
        field = far_field(ours.built.segments, ours.current[k : k + 1], float(f), None, level)[0]
        found.append(4 * np.pi * directive_power(field)[0, 0] / (0.5 * ours.y[k].real))
    mine, them = np.sqrt(found), 10 ** (theirs / 20)
    return np.asarray(20 * np.log10(1 + (mine - them) / np.maximum(them, 1.0)))


def average_gain(ours: Solution, k: int) -> float:
    """Radiated power over the power fed."""
    field = far_field(ours.built.segments, ours.current[k : k + 1], float(ours.f[k]), None, _SPHERE)
    return float(radiated_power(field, _SPHERE)[0] / (0.5 * ours.y[k].real))
