"""Every figure of merit, defined once; arrays in, arrays out, no study and no files.

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
    """Gain of a power density per solid angle.

    Parameters
    ----------
    density : ndarray, shape (..., n_theta, n_phi)
        Radiated power per solid angle. [W/sr]
    input_power : float or ndarray, shape (...)
        Power into the feed point. [W]

    Returns
    -------
    ndarray, shape (..., n_theta, n_phi)
        10 log10(4 pi U / P), not below -120. [dBi]

    Examples
    --------
    >>> float(gain_dbi(np.full((1, 1), 1 / (4 * np.pi)), 1.0)[0, 0])
    0.0
    """
    power = np.asarray(input_power)[..., None, None]
    return np.asarray(10 * np.log10(np.maximum(4 * np.pi * density / power, _FLOOR)))


def all_the_way_round(ring: NDArray[np.float64], per_azimuth: int = _DRAWN) -> NDArray[np.float64]:
    """Gain at more azimuths, as its harmonics have it between those that are kept.

    Parameters
    ----------
    ring : ndarray, shape (..., n_phi)
        Gain at even azimuths, close enough for its power
        (:func:`far_field.azimuth_count`). [dBi]
    per_azimuth : int
        How many to each of them.

    Returns
    -------
    ndarray, shape (..., n_phi * per_azimuth)
        The first at the first azimuth of the ring. [dBi]

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


def gain_at_elevation(
    gain: NDArray[np.float64], theta: NDArray[np.float64], elevation_deg: float
) -> GainRange:
    """Gain over all azimuths at the grid elevation nearest to the one wanted.

    ``gain`` has shape (n_theta, n_phi) [dBi], ``theta`` (n_theta,) [rad]. The extremes are those
    of the pattern (:func:`all_the_way_round`), which may lie between the kept azimuths.

    Examples
    --------
    >>> r = gain_at_elevation(np.array([[0.0, 3.0103]]), np.array([np.pi / 2]), 0.0)
    >>> round(r.mean, 2)
    1.76
    """
    ring = gain[np.argmin(np.abs(90.0 - np.degrees(theta) - elevation_deg))]
    mean = 10 * np.log10(np.mean(10 ** (ring / 10)))
    everywhere = all_the_way_round(ring, _PLACES)
    return GainRange(float(everywhere.min()), float(mean), float(everywhere.max()))


def horizon_elevation_deg(gain: NDArray[np.float64], theta: NDArray[np.float64]) -> float:
    """Elevation that stands for the horizon: the top of a pattern's lowest lobe. [deg]

    Over any real ground the field along the horizon itself vanishes, and an antenna many
    wavelengths up has nulls at a few degrees: what carries a VHF link is the lowest lobe.

    Parameters
    ----------
    gain : ndarray, shape (n_theta, n_phi)
        Reference pattern. [dBi]
    theta : ndarray, shape (n_theta,)
        Polar angles, rising to the horizon or past it. [rad]

    Returns
    -------
    float
        Zero where the pattern reaches below the horizon, as in free space.

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


def peak_gain(gain: NDArray[np.float64], theta: NDArray[np.float64]) -> tuple[float, float]:
    """Largest gain [dBi] of a (n_theta, n_phi) grid and its elevation [deg]."""
    row = int(np.argmax(gain.max(axis=1)))
    return float(gain.max()), float(90.0 - np.degrees(theta[row]))


def directions_that_matter(
    reference: NDArray[np.float64], theta: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Directions in which a change of pattern counts, shape (n_theta, n_phi).

    All azimuths from the horizon to ten degrees of elevation, as far as the reference pattern
    is within ten decibels of its own largest value there: nobody relies on a null.
    """
    elevation = 90.0 - np.degrees(theta)
    low = (elevation >= -1e-9) & (elevation <= MATTERS_BELOW_DEG + 1e-9)
    window = np.where(low[:, None], reference, -np.inf)
    return np.asarray(window >= window.max() - MATTERS_WITHIN_DB)


def pattern_change_db(
    gain: NDArray[np.float64], reference: NDArray[np.float64], matters: NDArray[np.bool_]
) -> tuple[float, float]:
    """Largest and rms difference of two gain patterns over directions that matter. [dB]

    Examples
    --------
    >>> a, b = np.array([[1.0, 0.0]]), np.array([[0.0, 0.0]])
    >>> pattern_change_db(a, b, np.array([[True, True]]))
    (1.0, 0.7071067811865476)
    """
    difference = (gain - reference)[matters]
    return float(np.abs(difference).max()), float(np.sqrt(np.mean(difference**2)))


@dataclass(frozen=True)
class PowerBalance:
    """Where the power that enters the feed point goes, as fractions of it.

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
    """Power in series impedances carrying peak currents: Re(Z) |I|^2 / 2, same shapes. [W]"""
    return np.asarray(0.5 * np.real(z_series) * np.abs(current) ** 2)


def conductor_power(
    current: NDArray[np.complex128],
    length: NDArray[np.float64],
    resistance_per_metre: NDArray[np.float64],
) -> float:
    """Power lost in the metal of all segments carrying peak currents, shapes (n,). [W]"""
    return float(0.5 * np.sum(resistance_per_metre * length * np.abs(current) ** 2))
