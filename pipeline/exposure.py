"""How far to keep away from an installation that transmits: an estimate, not a certificate.

Power densities at points round an installation in, distances beyond which a limit holds out. A
zone round the antenna's axis and a zone round the cable hold every point that is above the limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.exposure_limits import ExposureLimit
from models.structure import Segments, Structure
from pipeline.solver import SPEED_OF_LIGHT_NEC

# Field 1.6 times that of free space: the worst case of a reflection from the ground in FCC OET
# Bulletin 65, edition 97-01, after the EPA's models of broadcast stations.
GROUND_REFLECTION = 1.6**2
# Nearest distance from the antenna's axis and from the cable at which the field is asked for. [m]
NEAREST = 0.1
NEAREST_CABLE = 0.05
_FARTHEST_CABLE = 2.0
_RADII, _AZIMUTHS, _RINGS, _ANGLES = 12, 8, 8, 6
# Points along the cable are this far apart. [m]
_SPACING = 0.2
# A point of a ring counts where no other segment is nearer than this share of its distance.
_OWN = 0.9
# The star under a rod has no rings: its image so near the soil is wrong.
ANTENNA_PARTS = ("antenna",)
CABLE_PARTS = ("shield", "coil", "bond lead", "station lead")
# Lowest height above the ground: the image of a point on it is no place for a person. [m]
FLOOR = 0.1

Real = NDArray[np.float64]


@dataclass(frozen=True)
class Distances:
    """Where one limit holds; all in m.

    Outside ``antenna`` from the antenna's axis, and at any distance below ``lowest`` or above
    ``highest``, the limit holds, but for what lies within ``cable`` of the cable. Zero: it holds
    wherever the field was asked for. ``far_field`` and ``far_field_ground`` are the estimates of
    a far field in free space and with the worst reflection.
    """

    limit: ExposureLimit
    antenna: float
    lowest: float
    highest: float
    cable: float
    far_field: float
    far_field_ground: float


def average_power(power: float, line_loss_db: float, mode_duty: float, share: float) -> float:
    """Power into the antenna, averaged over the time of a rule. [W]

    Parameters
    ----------
    power : float
        Of the transmitter while it sends a full carrier. [W]
    line_loss_db : float
        Loss from the transmitter to the antenna. [dB]
    mode_duty : float
        Mean power of the mode over that of a full carrier.
    share : float
        Part of the averaging time in which the station transmits.

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
    """
    return float(reflection * eirp / (4 * np.pi * distance**2))


def far_field_distance(eirp: float, density: float, reflection: float = 1.0) -> float:
    """Distance at which a far field has a power density; as :func:`far_field_density`. [m]

    Examples
    --------
    >>> round(far_field_distance(1500 * 10**2.4, 10.0, 2.56) / 0.3048)
    287
    """
    return float(np.sqrt(reflection * eirp / (4 * np.pi * density)))


def crossing(radius: Real, density: Real, limit: float) -> float:
    """Last distance at which a power density falls to a limit, between grid points by power law.

    Parameters
    ----------
    radius, density : ndarray, shape (n,)
        Rising distances [m] and the largest power density at each. [W/m2]
    limit : float
        Power density that is allowed. [W/m2]

    Returns
    -------
    float
        Zero where none is above; the last distance where that still is. [m]

    Examples
    --------
    >>> round(crossing(np.array([1.0, 2.0, 4.0]), np.array([16.0, 4.0, 1.0]), 2.0), 6)
    2.828427
    """
    above = np.flatnonzero(density > limit)
    if not len(above):
        return 0.0
    i = int(above[-1])
    if i == len(radius) - 1:
        return float(radius[i])
    after = max(float(density[i + 1]), 1e-6 * limit)
    part = np.log(density[i] / limit) / np.log(density[i] / after)
    return float(radius[i] * (radius[i + 1] / radius[i]) ** part)


@dataclass(frozen=True)
class SurveyPoints:
    """Points of the survey, and how each lies to antenna and cable.

    ``place`` (n, 3); ``radius`` from the axis, ``to_antenna`` and ``to_cable`` from the nearest
    segment, each (n,); ``ring`` (n,) is the distance from the cable that a point was set at, not
    a number for the others.
    """

    place: Real
    radius: Real
    to_antenna: Real
    to_cable: Real
    ring: Real


def _nearest(place: Real, centres: Real) -> Real:
    if not len(centres):
        return np.full(len(place), np.inf)
    found = [
        np.sqrt(((place[a : a + 500, None] - centres) ** 2).sum(axis=2)).min(axis=1)
        for a in range(0, len(place), 500)
    ]
    return np.concatenate(found)


def segments_of(structure: Structure, wanted: tuple[str, ...]) -> NDArray[np.int64]:
    """Indices of the segments of some parts, by the parts' names."""
    parts = np.array([w.part for w in structure.wires])[structure.segments.wire]
    return np.flatnonzero(np.isin(parts, wanted))


def _shells(structure: Structure, f: float, reach: float, grounded: bool) -> Real:
    """Points round the axis out to ``reach`` [m], from the ground to above the tip."""
    wavelength = SPEED_OF_LIGHT_NEC / f
    height = structure.segments.centre[segments_of(structure, ANTENNA_PARTS), 2]
    low, high = float(height.min()), float(height.max())
    # Close steps beside the antenna, where the limits are met, and wide ones beyond.
    close = np.arange(low - 0.3 * reach, high + 0.3 * reach, 0.1 * wavelength)
    below, above = np.linspace(low - reach, close[0], 4), np.linspace(close[-1], high + reach, 4)
    heights = np.unique(np.concatenate([below, close, above]))
    if grounded:
        heights = heights[heights > FLOOR]
        heights = np.union1d(heights, np.linspace(FLOOR, heights.min(), 5))
    radii = np.geomspace(NEAREST, reach, _RADII)
    angles = np.arange(_AZIMUTHS) * 2 * np.pi / _AZIMUTHS
    r, a, z = (g.ravel() for g in np.meshgrid(radii, angles, heights, indexing="ij"))
    return np.stack([r * np.cos(a), r * np.sin(a), z], axis=1)


def rings_round(segments: Segments, chosen: NDArray[np.int64], distance: Real) -> tuple[Real, Real]:
    """Points round some segments, and the distance of each from its segment.

    Parameters
    ----------
    segments : Segments
        All segments of a structure.
    chosen : ndarray, shape (n_chosen,)
        Those that are surrounded.
    distance : ndarray, shape (n_ring,)
        Distances from their axes. [m]

    Returns
    -------
    place : ndarray, shape (n_ring * n_chosen * 6, 3)
    distance : ndarray, shape (n_ring * n_chosen * 6,)
        Both in m.
    """
    along = segments.direction[chosen]
    # Any vector that is not along the segment spans the plane across it.
    other = np.where(np.abs(along[:, 2:]) > 0.7, [[1.0, 0.0, 0.0]], [[0.0, 0.0, 1.0]])
    u = np.cross(along, other)
    u /= np.linalg.norm(u, axis=1)[:, None]
    v = np.cross(along, u)
    angle = np.arange(_ANGLES)[:, None] * 2 * np.pi / _ANGLES
    around = np.cos(angle) * u[:, None] + np.sin(angle) * v[:, None]
    place = segments.centre[chosen][:, None] + distance[:, None, None, None] * around
    return place.reshape(-1, 3), np.repeat(distance, len(chosen) * _ANGLES)


def _rings(structure: Structure) -> tuple[Real, Real]:
    """Points round the cable, every fifth of a metre, and the distance of each from it."""
    chosen = segments_of(structure, CABLE_PARTS)
    way = np.cumsum(structure.segments.length[chosen])
    spaced = chosen[np.unique(np.floor(way / _SPACING), return_index=True)[1]]
    distance = np.geomspace(NEAREST_CABLE, _FARTHEST_CABLE, _RINGS)
    return rings_round(structure.segments, spaced, distance)


def survey_points(structure: Structure, f: float, reach: float, grounded: bool) -> SurveyPoints:
    """Where the field is asked for: shells round the axis and rings round the cable.

    ``f`` in Hz; ``reach`` [m] is how far from the axis; ``grounded`` whether there is soil.
    """
    centre = structure.segments.centre
    rings, at = _rings(structure)
    # What lies nearer to another stretch of the cable belongs to a ring of that.
    own = _nearest(rings, centre[segments_of(structure, CABLE_PARTS)]) >= _OWN * at
    rings, at = rings[own], at[own]
    shells = _shells(structure, f, reach, grounded)
    place = np.concatenate([shells, rings])
    ring = np.concatenate([np.full(len(shells), np.nan), at])
    if grounded:
        ring, place = ring[place[:, 2] >= FLOOR], place[place[:, 2] >= FLOOR]
    return SurveyPoints(
        place=place,
        radius=np.hypot(place[:, 0], place[:, 1]),
        to_antenna=_nearest(place, centre[segments_of(structure, ANTENNA_PARTS)]),
        to_cable=_nearest(place, centre[segments_of(structure, (*CABLE_PARTS, "rod star"))]),
        ring=ring,
    )


def _largest(at: Real, density: Real) -> tuple[Real, Real]:
    """Distinct distances, rising, and the largest density at each."""
    steps, which = np.unique(np.round(at, 6), return_inverse=True)
    found = np.zeros(len(steps))
    np.maximum.at(found, which, density)
    return steps, found


def distances(
    points: SurveyPoints, density: Real, limit: ExposureLimit, f: float, eirp: float
) -> Distances:
    """Zones of one limit; ``density`` (n,) [W/m2] at the points, ``f`` [Hz], ``eirp`` [W]."""
    allowed = limit.density.at(f)
    shell = np.isnan(points.ring) & (points.to_antenna <= points.to_cable)
    antenna = crossing(*_largest(points.radius[shell], density[shell]), allowed)
    above = shell & (density > allowed)
    heights = np.unique(points.place[np.isnan(points.ring), 2])
    lowest = highest = 0.0
    if above.any():
        # The next height of the grid outwards is the first at which the limit was seen to hold.
        i, j = np.searchsorted(
            heights, [points.place[above, 2].min(), points.place[above, 2].max()]
        )
        lowest, highest = heights[max(i - 1, 0)], heights[min(j + 1, len(heights) - 1)]
    inside = (points.radius <= antenna) & (points.place[:, 2] >= lowest)
    inside &= points.place[:, 2] <= highest
    ring = ~np.isnan(points.ring) & ~inside
    cable = crossing(*_largest(points.ring[ring], density[ring]), allowed) if ring.any() else 0.0
    return Distances(
        limit,
        antenna,
        float(lowest),
        float(highest),
        cable,
        far_field_distance(eirp, allowed),
        far_field_distance(eirp, allowed, GROUND_REFLECTION),
    )
