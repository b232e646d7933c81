"""Gains, changes of pattern and powers; arrays in, arrays out, no study and no files.

Gains are relative to the power that enters the feed point, so what a choke or the soil eats
lowers them; line loss is counted apart.

Over any real soil the field along the horizon vanishes, and an antenna many wavelengths up has
nulls at a few degrees. So "towards the horizon" is the top of the lowest lobe of the ideal case,
three degrees in the demo, zero in free space. Pattern changes count from the horizon to ten
degrees, all azimuths, where the reference is within ten decibels of its own largest value there.
Azimuths are as many as the radiated power needs (``far_field.azimuth_count``; 72 at least, 80 in
the demo), and all geometries of a study have those of the largest. Between them the pattern is
known: extremes and the drawn cut come from its harmonics (:func:`all_the_way_round`). At 5 degrees
a cut at 440 MHz missed 0.2 dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Elevations [deg] of a VHF link to the horizon, fine enough for the lobes of a high antenna.
LOW_ELEVATIONS_DEG = tuple(quarters / 4 for quarters in range(2, 41))
# Pattern changes are judged from the horizon to here, where the reference is this near its peak.
MATTERS_BELOW_DEG = 10.0
MATTERS_WITHIN_DB = 10.0
_FLOOR = 1e-12
# Extremes all the way round are looked for at so many places from one kept azimuth to the next, and
# this many of them are drawn.
_PLACES, _DRAWN = 32, 4


def gain_dbi(
    density: NDArray[np.float64], input_power: NDArray[np.float64] | float
) -> NDArray[np.float64]:
    """Gain of a power density per solid angle, 10 log10(4 pi U / P), not below -120. [dBi]

    ``density`` (..., n_theta, n_phi) [W/sr], ``input_power`` (...) [W] into the feed point.
    Definition (IEEE 145 without its realized gain's mismatch; from memory).

    Examples
    --------
    >>> float(gain_dbi(np.full((1, 1), 1 / (4 * np.pi)), 1.0)[0, 0])
    0.0
    """
    power = np.asarray(input_power)[..., None, None]
    return np.asarray(10 * np.log10(np.maximum(4 * np.pi * density / power, _FLOOR)))


def all_the_way_round(ring: NDArray[np.float64], per_azimuth: int = _DRAWN) -> NDArray[np.float64]:
    """Gain at more azimuths, as its harmonics have it between those that are kept. [dBi]

    ``ring`` (..., n_phi) is the gain at even azimuths, close enough for its power
    (:func:`far_field.azimuth_count`), ``per_azimuth`` how many to each of them, the first at the
    first azimuth (sampling theorem; Shannon, 1949, from memory).

    Examples
    --------
    >>> power = 2 + np.cos(np.arange(4) * np.pi / 2)
    >>> np.round(10 ** (all_the_way_round(10 * np.log10(power), 2) / 10), 3)
    array([3.   , 2.707, 2.   , 1.293, 1.   , 1.293, 2.   , 2.707])
    """
    n = ring.shape[-1]
    spectrum = np.fft.rfft(10 ** (ring / 10), axis=-1)
    if n % 2 == 0 and per_azimuth > 1:
        # At half the rate of sampling both signs of the harmonic share one coefficient.
        spectrum[..., -1] *= 0.5
    power = per_azimuth * np.fft.irfft(spectrum, n * per_azimuth, axis=-1)
    return np.asarray(10 * np.log10(np.maximum(power, _FLOOR)))


@dataclass(frozen=True)
class GainRange:
    """Smallest, mean (of power) and largest gain round the horizon at one elevation. [dBi]"""

    minimum: float
    mean: float
    maximum: float


def mean_gain(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """Gain of the mean power over all azimuths, shape (..., n_phi) -> (...). [dBi]

    Definition.

    Examples
    --------
    >>> round(float(mean_gain(np.array([0.0, 3.0103]))), 2)
    1.76
    """
    return np.asarray(10 * np.log10(np.mean(10 ** (ring / 10), axis=-1)))


def extreme_gains(ring: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Smallest and largest gain all the way round, shape (..., n_phi) -> (...) each. [dBi]

    Definition: they are those of the pattern (:func:`all_the_way_round`), which may lie between the
    kept azimuths.

    Examples
    --------
    >>> power = 2 + np.cos(np.radians([45.0, 135.0, 225.0, 315.0]))
    >>> [round(float(10 ** (g / 10)), 3) for g in extreme_gains(10 * np.log10(power))]
    [1.0, 3.0]
    """
    everywhere = all_the_way_round(ring, _PLACES)
    return np.asarray(everywhere.min(axis=-1)), np.asarray(everywhere.max(axis=-1))


def ring_at(theta: NDArray[np.float64], elevation_deg: float) -> int:
    """Row of a grid of polar angles (n_theta,) [rad] that is nearest to an elevation [deg].

    Definition.

    Examples
    --------
    >>> ring_at(np.radians([80.0, 85.0, 90.0]), 4.0)
    1
    """
    return int(np.argmin(np.abs(90.0 - np.degrees(theta) - elevation_deg)))


def gain_at_elevation(
    gain: NDArray[np.float64], theta: NDArray[np.float64], elevation_deg: float
) -> GainRange:
    """Gain over all azimuths at the grid elevation nearest to the one wanted.

    ``gain`` has shape (n_theta, n_phi) [dBi], ``theta`` (n_theta,) [rad].

    Examples
    --------
    >>> r = gain_at_elevation(np.array([[0.0, 3.0103]]), np.array([np.pi / 2]), 0.0)
    >>> round(r.mean, 2)
    1.76
    """
    ring = gain[ring_at(theta, elevation_deg)]
    least, most = extreme_gains(ring)
    return GainRange(float(least), float(mean_gain(ring)), float(most))


def horizon_elevation_deg(gain: NDArray[np.float64], theta: NDArray[np.float64]) -> float:
    """Elevation that stands for the horizon: the top of a pattern's lowest lobe. [deg]

    Over any real ground the field along the horizon itself vanishes, and an antenna many
    wavelengths up has nulls at a few degrees: what carries a VHF link is the lowest lobe. ``gain``
    (n_theta, n_phi) [dBi] is the reference pattern, ``theta`` [rad] rises to the horizon or past
    it: zero then, as in free space. Definition.

    Examples
    --------
    >>> polar = np.radians([85.0, 86.0, 87.0, 88.0, 89.0, 90.0])
    >>> round(horizon_elevation_deg(np.array([[5.0], [-3], [4], [6], [2], [-120]]), polar))
    2
    """
    if theta.max() > np.pi / 2 + 1e-9:
        return 0.0
    upwards = np.argsort(-theta)
    mean = np.mean(10 ** (gain[upwards] / 10), axis=1)
    rises = np.diff(mean) > 0
    top = int(np.argmin(rises)) if not rises.all() else len(mean) - 1
    return float(90.0 - np.degrees(theta[upwards][top]))


def peak_gain(
    gain: NDArray[np.float64], theta: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Largest gain [dBi] of grids (..., n_theta, n_phi) and its elevation [deg], (...) each.

    Definition.

    Examples
    --------
    >>> peak, elevation = peak_gain(np.array([[1.0, 2.0], [5.0, 4.0]]), np.radians([60.0, 80.0]))
    >>> float(peak), round(float(elevation), 9)
    (5.0, 10.0)
    """
    over_azimuth = gain.max(axis=-1)
    row = over_azimuth.argmax(axis=-1)
    return np.asarray(over_azimuth.max(axis=-1)), np.asarray(90.0 - np.degrees(theta[row]))


def low_angles(theta: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Polar angles (n_theta,) [rad] from the horizon to ten degrees of elevation."""
    elevation = 90.0 - np.degrees(theta)
    return np.asarray((elevation >= -1e-9) & (elevation <= MATTERS_BELOW_DEG + 1e-9))


def directions_that_matter(reference: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Directions in which a change of pattern counts, of gains at :func:`low_angles`.

    All of shape (..., n_low, n_phi) [dBi] as far as the reference pattern is within ten decibels of
    its own largest value there: nobody relies on a null.
    """
    return np.asarray(reference >= reference.max(axis=(-2, -1), keepdims=True) - MATTERS_WITHIN_DB)


def largest_change_db(
    gain: NDArray[np.float64], reference: NDArray[np.float64], matters: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Largest difference of gain patterns over directions that matter. [dB]

    All of shape (..., n_theta, n_phi); the result (...). Definition.

    Examples
    --------
    >>> a, b = np.array([[1.0, 0.0]]), np.array([[0.0, 0.0]])
    >>> float(largest_change_db(a, b, np.array([[True, True]])))
    1.0
    """
    return np.asarray((np.abs(gain - reference) * matters).max(axis=(-2, -1)))


def rms_change_db(
    gain: NDArray[np.float64], reference: NDArray[np.float64], matters: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Root-mean-square difference of gain patterns over directions that matter. [dB]

    All of shape (..., n_theta, n_phi); the result (...). Definition.

    Examples
    --------
    >>> a, b = np.array([[1.0, 0.0]]), np.array([[0.0, 0.0]])
    >>> round(float(rms_change_db(a, b, np.array([[True, True]]))), 3)
    0.707
    """
    squares = (gain - reference) ** 2 * matters
    return np.asarray(np.sqrt(squares.sum(axis=(-2, -1)) / matters.sum(axis=(-2, -1))))


@dataclass(frozen=True)
class PowerBalance:
    """Parts of the power that enters the feed point.

    ``ground`` is what is left over ground; in free space it is the error of the balance.
    """

    radiated: float
    chokes: float
    rod: float
    station: float
    conductors: float
    ground: float


def series_power(
    z_series: NDArray[np.complex128], current: NDArray[np.complex128]
) -> NDArray[np.float64]:
    """Power in series impedances carrying peak currents: Re(Z) |I|^2 / 2, same shapes. [W]

    Definition.

    Examples
    --------
    >>> series_power(np.array([50 + 9j]), np.array([2j])).tolist()
    [100.0]
    """
    return np.asarray(0.5 * np.real(z_series) * np.abs(current) ** 2)


def conductor_power(
    current: NDArray[np.complex128],
    length: NDArray[np.float64],
    resistance_per_metre: NDArray[np.float64],
) -> float:
    """Power lost in the metal of all segments carrying peak currents, shapes (n,). [W]

    Definition: half the sum of resistance per length times length times |I|^2.

    Examples
    --------
    >>> conductor_power(np.array([2j, 1.0]), np.array([1.0, 2.0]), np.array([0.5, 0.25]))
    1.25
    """
    return float(0.5 * np.sum(resistance_per_metre * length * np.abs(current) ** 2))
