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
    folded_j,
    gamma_dipole,
    ground_plane,
    j_pole,
    open_sleeve_j,
)
from models.antennas.collinear_j import SizedCollinearJ
from models.antennas.folded_j import SizedFoldedJ
from models.antennas.gamma_dipole import SizedGammaDipole
from models.antennas.generator import Generator
from models.antennas.ground_plane import SizedGroundPlane
from models.antennas.hub import thinnest_wire
from models.antennas.j_pole import SizedJPole
from models.antennas.open_sleeve_j import SizedOpenSleeveJ
from tests.validation.surface.tubes import Case, Tube

Tubes = dict[str, Tube]


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


def _ground_plane(tubes: Tubes) -> Drawn:
    pipe, radial = tubes["vertical"], tubes["radial 1"]
    hub, end = radial.axis
    way = end - hub
    shield = tubes.get("shield", radial)
    antenna = SizedGroundPlane(
        4,
        float(np.degrees(np.arctan2(-way[2], np.hypot(way[0], way[1])))),
        float(pipe.axis[:, 2].max() - hub[2]),
        float(np.linalg.norm(way)),
        radial.diameter,
        thinnest_wire(pipe.diameter, radial.diameter, shield.diameter),
    )
    turned = float(np.arctan2(way[1], way[0]))
    return Drawn(ground_plane.GENERATOR, antenna, "hub", pipe, radial, turned)


_KINDS: dict[str, Callable[[Tubes], Drawn]] = {
    "B1": _ground_plane,
    "B3": _gamma_dipole,
    "C1": _gamma_dipole,
    "C2": _folded_j,
    "C3": _open_sleeve_j,
    "C4": _ground_plane,
    "C5": _collinear_j,
}


def antenna_of(case: Case) -> Drawn:
    """The generator and the lengths that draw a case; a J-pole unless it is listed."""
    return _KINDS.get(case.name, _j_pole)({t.name: t for t in case.tubes})
