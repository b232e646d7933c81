"""What every antenna generator hands over: wires, a feed, places where a shield may join."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.pipe_cage import Cage
from models.structure import Point, Wire

MU_0 = 4e-7 * np.pi
SPEED_OF_LIGHT = 299_792_458.0


@dataclass(frozen=True)
class Joint:
    """Where a cable's shield meets the antenna's metal.

    ``point`` lies on the drawn metal, ``away`` is the unit vector that leaves it, ``inside``
    is the distance [m] of the point from the axis from which a builder measures.
    """

    point: Point
    away: Point
    inside: float


@dataclass(frozen=True)
class Drawing:
    """How an antenna is to be drawn, the same for every generator.

    ``mast`` [m] is the length of the same pipe going on below the antenna, bonded to it (0:
    insulated mount); ``refine`` below one asks for shorter segments.
    """

    cage: Cage
    pipe_radius: float
    wavelength: float
    refine: float
    mast: float


@dataclass(frozen=True)
class FinishedAntenna:
    """Wires of an antenna with its feed, drawn with its base line on z = 0.

    ``feed_wire`` is the index, within ``wires``, of the wire whose middle segment holds the
    feed; ``joints`` maps the name of a part to the place where a shield meets it;
    ``feed_inductance`` [H] is what the real feed conductor adds to the drawn one;
    ``lowest`` is the height [m] of the lowest metal relative to the antenna's base line.
    """

    wires: tuple[Wire, ...]
    feed_wire: int
    joints: dict[str, Joint]
    feed_inductance: float
    lowest: float


def thickness_inductance(length: float, drawn_radius: float, real_radius: float) -> float:
    """Inductance a conductor has beyond that of the wire it is drawn with.

    Parameters
    ----------
    length : float
        Length of the conductor. [m]
    drawn_radius, real_radius : float
        Radius in the model and in copper. [m]

    Returns
    -------
    float
        Difference of inductance, negative where the real part is thicker. [H]

    Notes
    -----
    mu0 l / (2 pi) ln(drawn / real): only the flux between the two surfaces differs.

    References
    ----------
    .. [1] E. B. Rosa, "The self and mutual inductances of linear conductors", Bulletin of the
       Bureau of Standards 4, 1908 (difference of two straight wires).

    Examples
    --------
    >>> round(1e9 * thickness_inductance(0.033, 0.004, 0.001), 2)
    9.15
    """
    return float(MU_0 * length / (2 * np.pi) * np.log(drawn_radius / real_radius))
