"""Directions over the ground as a compass tells them.

Azimuths count to the left from the front of the antenna, as seen from above, bearings to the right
from true north; ``facing`` is the bearing of the front.
"""

from __future__ import annotations

_POINTS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)


def bearing_of(azimuth: float, facing: float) -> float:
    """Bearing of an azimuth, from 0 to below 360, both in degrees. [deg]

    Definition.

    Examples
    --------
    >>> bearing_of(0.0, 120.0), bearing_of(90.0, 120.0), bearing_of(150.0, 120.0)
    (120.0, 30.0, 330.0)
    """
    turned = round((facing - azimuth) % 360.0, 9)
    return turned if turned < 360.0 else 0.0


def compass_point(bearing: float) -> str:
    """Name of the nearest of the sixteen points of the compass, ``bearing`` in degrees.

    Definition.

    Examples
    --------
    >>> compass_point(0.0), compass_point(120.0), compass_point(349.0)
    ('N', 'ESE', 'N')
    """
    return _POINTS[round(bearing / 22.5) % len(_POINTS)]
