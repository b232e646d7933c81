"""Far field of current moments in free space: power, and gain towards the horizon.

Time factor exp(+j w t), as in the integral equation.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

SPEED_OF_LIGHT = 299_792_458.0
WAVE_RESISTANCE = 4e-7 * pi * SPEED_OF_LIGHT
# Polar angles of the rule over the sphere, and half as many azimuths again: no case is longer than
# two wavelengths, and a power pattern has no more lobes than twice that of the field.
POLAR = 40
AZIMUTHS = np.radians([0.0, 90.0, 180.0])


def power_density(where: tuple[Real, Complex], frequency: float, directions: Real) -> Real:
    """Power radiated into directions, unit vectors of shape (n, 3), per solid angle. [W/sr]

    `where` holds points [m] and current moments [A m], both of shape (n_point, 3).
    With N the sum of moments times exp(j k r.u), the far field is -j k eta / (4 pi) times the part
    of N across u: C. A. Balanis, "Antenna Theory", ch. 3 (from memory).
    """
    points, moments = where
    k = 2 * pi * frequency / SPEED_OF_LIGHT
    summed = np.exp(1j * k * (directions @ points.T)) @ moments
    along = np.sum(summed * directions, axis=1, keepdims=True)
    across = np.sum(np.abs(summed - along * directions) ** 2, axis=1)
    return np.asarray((k / (4 * pi)) ** 2 * WAVE_RESISTANCE / 2 * across)


def unit(polar: Real, azimuth: Real) -> Real:
    """Unit vectors of angles [rad], shape (n, 3)."""
    polar, azimuth = np.broadcast_arrays(polar, azimuth)
    s = np.sin(polar)
    return np.stack([s * np.cos(azimuth), s * np.sin(azimuth), np.cos(polar)], axis=-1)


def radiated(where: tuple[Real, Complex], frequency: float) -> float:
    """Power through the whole sphere. [W]"""
    z, weights = np.polynomial.legendre.leggauss(POLAR)
    azimuth = np.arange(3 * POLAR // 2) * 4 * pi / (3 * POLAR)
    grid = unit(np.arccos(z)[:, None], azimuth[None])
    density = power_density(where, frequency, grid.reshape(-1, 3)).reshape(grid.shape[:2])
    return float(2 * pi * weights @ density.mean(axis=1))


def horizon(where: tuple[Real, Complex], frequency: float, fed: float) -> Real:
    """Gain along +x, +y and -x over what is fed [W], shape (3,). [dBi]"""
    density = power_density(where, frequency, unit(np.full(3, pi / 2), AZIMUTHS))
    return np.asarray(10 * np.log10(4 * pi * density / fed))
