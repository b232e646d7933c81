"""Distances from an installation that transmits: an estimate, not a certificate.

Power densities at places round an installation in, distances beyond which a limit holds out. Each
place belongs to one conductor, whatever the limit and the power: a stricter limit or more power
never means a shorter distance, and a place outside all distances is below the limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catalogues.exposure_limits import ExposureLimit
from pipeline.analysis.exposure_places import STEP, Places

# Field 1.6 times that of free space: the worst case of a reflection from the ground in FCC OET
# Bulletin 65, edition 97-01, after the EPA's models of broadcast stations.
GROUND_REFLECTION = 1.6**2
# Between the points of a shell the field may be so much stronger than at the nearest of them.
MARGIN = 1.3

Real = NDArray[np.float64]


@dataclass(frozen=True)
class Zone:
    """Distance from one conductor within which a limit may be passed.

    ``distance`` [m] from its wires; zero: the limit holds wherever the field was asked for.
    ``place`` [m] is the farthest point that is above, None without one.
    """

    conductor: str
    distance: float
    place: tuple[float, float, float] | None


@dataclass(frozen=True)
class Distances:
    """Zones outside of which one limit holds, one for every conductor.

    ``far_field`` and ``far_field_ground`` [m] are the estimates of a far field in free space and
    with the worst reflection.
    """

    limit: ExposureLimit
    zones: tuple[Zone, ...]
    far_field: float
    far_field_ground: float


def average_power(power: float, line_loss_db: float, mode_duty: float, share: float) -> float:
    """Power into the antenna, averaged over the time of a rule. [W]

    ``power`` [W] of the transmitter with a full carrier, ``line_loss_db`` from there to the
    antenna, ``mode_duty`` the mean power of the mode over that of a full carrier, ``share`` the
    part of the averaging time in which the station transmits. Definition.

    Examples
    --------
    >>> average_power(1000.0, 0.0, 0.2, 0.5)
    100.0
    """
    return float(power * 10 ** (-line_loss_db / 10) * mode_duty * share)


def far_field_density(eirp: float, distance: float, reflection: float = 1.0) -> float:
    """Power density of a far field, reflection x EIRP / (4 pi d^2). [W/m2]

    ``eirp`` in W, ``distance`` in m; ``reflection`` multiplies the density (FCC OET Bulletin 65,
    edition 97-01, section 2, eqs. 4 and 6; from memory).

    Examples
    --------
    >>> round(far_field_density(4 * np.pi * 100, 10.0), 9)
    1.0
    """
    return float(reflection * eirp / (4 * np.pi * distance**2))


def far_field_distance(eirp: float, density: float, reflection: float = 1.0) -> float:
    """Distance at which a far field has a power density. [m]

    As :func:`far_field_density` (FCC OET Bulletin 65, edition 97-01; from memory).

    Examples
    --------
    >>> round(far_field_distance(1500 * 10**2.4, 10.0, 2.56) / 0.3048)
    287
    """
    return float(np.sqrt(reflection * eirp / (4 * np.pi * density)))


def reached(distance: Real, density: Real, levels: Real) -> Real:
    """Distance from a conductor at which each of some power densities may be passed. [m]

    ``distance`` [m] and ``density`` [W/m2] are those of places, (n,) each, ``levels`` (n_level,)
    [W/m2]. Definition: the farthest place above the level, and from there on as the field of a wire
    falls (with the square of the distance), at most to the next shell: that would be above it as
    well. Zero where no place is above.

    Examples
    --------
    >>> at = np.array([1.0, 1.4, 1.96])
    >>> np.round(reached(at, 10 / at**2, np.array([2.0, 1e3])), 2)
    array([2.55, 0.  ])
    """
    front = _front(distance, density)
    ratio = MARGIN * density[front, None] / levels
    grown = distance[front, None] * np.minimum(STEP, np.sqrt(ratio))
    return np.asarray(np.where(ratio > 1, grown, 0.0).max(axis=0, initial=0.0))


def _front(distance: Real, density: Real) -> NDArray[np.int64]:
    """Places that no other one is both farther than and stronger than: no level needs the rest."""
    order = np.lexsort((-density, -distance))
    strongest_so_far = np.maximum.accumulate(np.concatenate([[-1.0], density[order]]))
    return np.asarray(order[strongest_so_far[1:] > strongest_so_far[:-1]])


def made_by_the_antenna(places: Places, density: Real) -> NDArray[np.bool_]:
    """Whether a place of another conductor is no stronger than the antenna's own at its distance.

    ``density`` (n,) [W/m2] of the places; shape (n,). Such a place is in the antenna's zone for
    every limit that it passes, so it says nothing about the conductor that it is nearest to.
    """
    own = places.owner == 0
    reach = reached(places.distance[0, own], density[own], MARGIN * density[~own])
    found = np.zeros(len(density), dtype=bool)
    found[~own] = places.distance[0, ~own] <= reach
    return found


def zones(places: Places, density: Real, levels: Real) -> tuple[tuple[Zone, ...], ...]:
    """Distances at which power densities may be passed, all conductors for each.

    ``density`` (n,) at the places and ``levels`` (n_level,), both [W/m2].
    """
    counted = ~made_by_the_antenna(places, density)
    found = []
    for k, name in enumerate(places.conductors):
        own = np.flatnonzero(counted & (places.owner == k))
        at = places.distance[k, own]
        farthest = []
        for level, distance in zip(levels, reached(at, density[own], levels), strict=True):
            above = np.flatnonzero(MARGIN * density[own] > level)
            place = None
            if len(above):
                x, y, z = places.place[own[above[at[above].argmax()]]].tolist()
                place = (x, y, z)
            farthest.append(Zone(name, float(distance), place))
        found.append(farthest)
    return tuple(zip(*found, strict=True))


def distances(
    places: Places, density: Real, limits: Sequence[ExposureLimit], f: float, eirp: float
) -> tuple[Distances, ...]:
    """Zones of limits; ``density`` (n,) [W/m2] at the places, ``f`` [Hz], ``eirp`` [W]."""
    allowed = np.array([limit.density.at(f) for limit in limits])
    return tuple(
        Distances(
            limit,
            found,
            far_field_distance(eirp, float(level)),
            far_field_distance(eirp, float(level), GROUND_REFLECTION),
        )
        for limit, level, found in zip(
            limits, allowed, zones(places, density, allowed), strict=True
        )
    )


@dataclass(frozen=True)
class Standing:
    """The strongest field where people can be.

    ``density`` [W/m2] is at most that, also between the points; the strongest of them is at
    ``place`` [m], ``distance`` [m] from the nearest ``conductor``.
    """

    density: float
    place: tuple[float, float, float]
    conductor: str
    distance: float


def strongest(places: Places, density: Real, there: NDArray[np.bool_]) -> Standing | None:
    """Strongest field among the places ``there`` (n,), ``density`` (n,) [W/m2]; None: nowhere."""
    if not there.any():
        return None
    k = int(np.flatnonzero(there)[density[there].argmax()])
    nearest = int(places.distance[:, k].argmin())
    x, y, z = places.place[k].tolist()
    return Standing(
        MARGIN * float(density[k]),
        (x, y, z),
        places.conductors[nearest],
        float(places.distance[nearest, k]),
    )
