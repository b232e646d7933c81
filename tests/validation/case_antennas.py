"""Which generator draws a case of tests/validation/surface, and with which of its lengths.

Tubes of a geometry file come in; the generator, its sized antenna and where the shield joins go
out. What a file does not say (the capacitor of a gamma match) is not in its tubes either.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.antennas import (
    collinear_j,
    five_eighths,
    folded_j,
    gamma_dipole,
    ground_plane,
    j_pole,
    open_sleeve_j,
    sleeve_dipole,
)
from models.antennas.collinear_j import SizedCollinearJ
from models.antennas.five_eighths import SizedFiveEighths
from models.antennas.folded_j import SizedFoldedJ
from models.antennas.gamma_dipole import SizedGammaDipole
from models.antennas.generator import Generator
from models.antennas.ground_plane import SizedGroundPlane
from models.antennas.hub import Radials, thinnest_wire
from models.antennas.j_pole import SizedJPole
from models.antennas.open_sleeve_j import SizedOpenSleeveJ
from models.antennas.sleeve_dipole import SizedSleeveDipole
from tests.validation.surface.tubes import Case, Tube

Tubes = dict[str, Tube]
# No loss, as on the tubes [S/m].
LOSSLESS = 1e30


@dataclass(frozen=True)
class Drawn:
    """A generator with the lengths of a case.

    ``joins`` is the joint its shield leaves from; ``pipe`` and ``rod`` are the tubes that set the
    pipe's diameter and, where there is no shield, that of the wires. ``turned`` is the azimuth of
    the case at which the drawing has +x [rad].
    """

    generator: Generator
    antenna: Any
    joins: str
    pipe: Tube
    rod: Tube
    turned: float = 0.0


def _leg(tubes: Tubes) -> str:
    if "shield" in tubes and tubes["shield"].axis[0, 0] == 0:
        return "long leg"
    return "short leg"


def _j_pole(tubes: Tubes) -> Drawn:
    pipe, bridge = tubes["pipe"], tubes["bridge"]
    tip, _, corner, short = pipe.axis
    antenna = SizedJPole(
        float(corner[0]), float(tip[2]), float(short[2]), float(bridge.axis[0, 2]), bridge.diameter
    )
    return Drawn(j_pole.GENERATOR, antenna, _leg(tubes), pipe, bridge)


def _folded_j(tubes: Tubes) -> Drawn:
    pipe, bridge = tubes["pipe"], tubes["bridge"]
    end, top, _, _, _, short = pipe.axis
    antenna = SizedFoldedJ(
        float(top[0]),
        float(top[2]),
        float(short[2]),
        float(end[2] - short[2]),
        float(bridge.axis[0, 2]),
        bridge.diameter,
    )
    return Drawn(folded_j.GENERATOR, antenna, _leg(tubes), pipe, bridge)


def _open_sleeve_j(tubes: Tubes) -> Drawn:
    frame, element = _j_pole(tubes), tubes["element"]
    j, (foot, top) = frame.antenna, element.axis
    # The bands set nothing that is drawn.
    antenna = SizedOpenSleeveJ(
        145e6,
        435e6,
        j.spacing,
        j.long_leg,
        j.short_leg,
        j.tap,
        float(top[2] - foot[2]),
        float(foot[2]),
        float(-foot[0]),
        j.bridge_diameter,
    )
    return Drawn(open_sleeve_j.GENERATOR, antenna, frame.joins, frame.pipe, frame.rod)


def _collinear_j(tubes: Tubes) -> Drawn:
    pipe, bridge = tubes["pipe"], tubes["bridge"]
    tip, high, far, _, low, _, corner, short = pipe.axis
    antenna = SizedCollinearJ(
        float(corner[0]),
        float(low[2]),
        float(-far[0]),
        float(tip[2] - high[2]),
        float(short[2]),
        float(bridge.axis[0, 2]),
        bridge.diameter,
    )
    return Drawn(collinear_j.GENERATOR, antenna, _leg(tubes), pipe, bridge)


def _gamma_dipole(tubes: Tubes) -> Drawn:
    pipe, arm = tubes["dipole"], tubes["arm"]
    # The capacitor sits outside of the feed's two terminals.
    antenna = SizedGammaDipole(
        float(np.ptp(pipe.axis[:, 2])),
        float(np.abs(arm.axis[:, 0]).max()),
        float(arm.axis[:, 2].max()),
        arm.diameter,
        1e-12,
        500.0,
    )
    return Drawn(gamma_dipole.GENERATOR, antenna, "middle", pipe, arm)


def _hub(tubes: Tubes) -> tuple[float, Radials, float, float]:
    """Tip above the radials [m], the radials, radius of the wires [m], azimuth of the first."""
    pipe, radial = tubes["vertical"], tubes["radial 1"]
    hub, end = radial.axis
    way = end - hub
    slope = float(np.degrees(np.arctan2(-way[2], np.hypot(way[0], way[1]))))
    spread = Radials(4, slope, float(np.linalg.norm(way)), radial.diameter)
    shield = tubes.get("shield", radial)
    wire = thinnest_wire(pipe.diameter, radial.diameter, shield.diameter)
    turned = float(np.arctan2(way[1], way[0]))
    return float(pipe.axis[:, 2].max() - hub[2]), spread, wire, turned


def _ground_plane(tubes: Tubes) -> Drawn:
    tip, spread, wire, turned = _hub(tubes)
    antenna = SizedGroundPlane(4, spread.slope, tip, spread.length, spread.diameter, wire)
    pipe, radial = tubes["vertical"], tubes["radial 1"]
    return Drawn(ground_plane.GENERATOR, antenna, "hub", pipe, radial, turned)


def _five_eighths(tubes: Tubes) -> Drawn:
    tip, spread, wire, turned = _hub(tubes)
    # The coil sits outside of the feed's two terminals.
    antenna = SizedFiveEighths(
        "coil", 4, spread.slope, tip, spread.length, spread.diameter,
        inductance=1e-9, quality=200.0, stub=0.0, stub_cable="RG-58C/U", stub_loss=0.0,
        wire_radius=wire,
    )  # fmt: skip
    pipe, radial = tubes["vertical"], tubes["radial 1"]
    return Drawn(five_eighths.GENERATOR, antenna, "hub", pipe, radial, turned)


def _sleeve_dipole(case: Case) -> Drawn:
    """From the wall's points: tip, rim, foot, rod in the gap, plate, sleeve, bore, cable, end."""
    r, z = case.turned[0].profile.T
    middle, gap, cable = (z[2] + z[4]) / 2, z[2] - z[4], 2 * float(r[9])
    antenna = SizedSleeveDipole(
        float(z[0] - middle), float(middle - z[6]), float(gap), 2 * float(r[5]),
        float(r[5] - r[7]), cable, cable, 1.0, LOSSLESS,
    )  # fmt: skip
    pipe = Tube("pipe", 2 * float(r[1]), np.zeros((0, 3)), False)
    rod = Tube("cable", cable, np.array([[0, 0, z[6]], [0, 0, z[-1]]]), False)
    return Drawn(sleeve_dipole.GENERATOR, antenna, "sleeve's mouth", pipe, rod)


_KINDS: dict[str, Callable[[Tubes], Drawn]] = {
    "B1": _ground_plane,
    "B3": _gamma_dipole,
    "C1": _gamma_dipole,
    "C2": _folded_j,
    "C3": _open_sleeve_j,
    "C4": _ground_plane,
    "C5": _collinear_j,
    "C6": _five_eighths,
    "C7": _five_eighths,
    "C8": _gamma_dipole,
    "C9": _folded_j,
    "C10": _ground_plane,
}


def antenna_of(case: Case) -> Drawn:
    """The generator and the lengths that draw a case; a J-pole unless it is listed."""
    if case.turned:
        return _sleeve_dipole(case)
    return _KINDS.get(case.name, _j_pole)({t.name: t for t in case.tubes})
