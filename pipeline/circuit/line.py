"""Coax as a line: cable data, lengths and loads in; loss, impedance and SWR out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import c

DB_PER_NEPER = 20.0 / math.log(10.0)


def matched_loss_db(f: ArrayLike, k1: float, k2: float) -> NDArray[np.float64]:
    """Loss of a matched cable per metre.

    Parameters
    ----------
    f : array_like, shape (...)
        Frequency, >= 0. [Hz]
    k1 : float
        Conductor loss coefficient. [dB/(m sqrt(Hz))]
    k2 : float
        Dielectric loss coefficient. [dB/(m Hz)]

    Returns
    -------
    ndarray, shape (...)
        Matched loss. [dB/m]

    Notes
    -----
    k1 sqrt(f) + k2 f: skin effect and loss tangent. Good from about 10 MHz, where the skin
    is thinner than the foil or braid, to the onset of higher modes.

    References
    ----------
    .. [1] Customary two-term fit of cable data sheets; common practice, no source.

    Examples
    --------
    >>> round(100 * float(matched_loss_db(150e6, 4.0121e-6, 8.53e-12)), 2)   # dB per 100 m
    5.04
    """
    frequency = np.asarray(f, dtype=np.float64)
    return k1 * np.sqrt(frequency) + k2 * frequency


def attenuation(f: ArrayLike, k1: float, k2: float) -> NDArray[np.float64]:
    """Attenuation constant of a cable, the real part of its propagation constant.

    Parameters
    ----------
    f : array_like, shape (...)
        Frequency, >= 0. [Hz]
    k1, k2 : float
        Loss coefficients as for `matched_loss_db`. [dB/(m sqrt(Hz)), dB/(m Hz)]

    Returns
    -------
    ndarray, shape (...)
        Attenuation. [Np/m]

    Examples
    --------
    >>> round(float(attenuation(1e6, 8.685889638e-3, 0.0)), 6)
    1.0
    """
    return matched_loss_db(f, k1 / DB_PER_NEPER, k2 / DB_PER_NEPER)


def propagation_constant(
    f: ArrayLike, velocity_factor: float, attenuation: ArrayLike = 0.0
) -> NDArray[np.complex128]:
    """Propagation constant alpha + j beta of a line.

    Parameters
    ----------
    f : array_like, shape (...)
        Frequency. [Hz]
    velocity_factor : float
        Phase velocity over that of light, above 0 up to 1. [-]
    attenuation : array_like, shape (...)
        Attenuation. [Np/m]

    Returns
    -------
    ndarray, complex, shape (...)
        Propagation constant. [1/m]

    Raises
    ------
    ValueError
        If the velocity factor is outside its range.

    Examples
    --------
    >>> complex(propagation_constant(299792458.0, 1.0)).imag / (2 * np.pi)
    1.0
    """
    if not 0 < velocity_factor <= 1:
        raise ValueError(f"velocity_factor = {velocity_factor} must be above 0 and at most 1")
    beta = np.asarray(f, dtype=np.float64) * (2 * math.pi / (velocity_factor * c))
    return np.asarray(np.asarray(attenuation) + 1j * beta, dtype=np.complex128)


def reflection_coefficient(z_load: ArrayLike, z0: ArrayLike) -> NDArray[np.complex128]:
    """Voltage wave that a load sends back, per wave that arrives.

    Parameters
    ----------
    z_load : array_like, complex, shape (...)
        Load; an infinite one is an open end. [ohm]
    z0 : array_like, shape (...)
        Characteristic impedance of the line. [ohm]

    Returns
    -------
    ndarray, complex, shape (...)
        Reflection coefficient. [-]

    Notes
    -----
    (Z - Z0) / (Z + Z0).

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, ch. 2; from memory.

    Examples
    --------
    >>> complex(reflection_coefficient(150.0, 50.0)).real
    0.5
    """
    load = np.asarray(z_load, dtype=np.complex128)
    is_open = np.isinf(load)
    finite = np.where(is_open, 0.0, load)
    line = np.asarray(z0, dtype=np.complex128)
    return np.where(is_open, 1.0, (finite - line) / (finite + line))


def _size_below_one(gamma: ArrayLike) -> NDArray[np.float64]:
    size = np.abs(np.asarray(gamma, dtype=np.complex128))
    if not np.all(size < 1):
        raise ValueError("abs(gamma) must be below 1: the load must take some power")
    return size


def swr(gamma: ArrayLike) -> NDArray[np.float64]:
    """Standing wave ratio of a reflection coefficient.

    Parameters
    ----------
    gamma : array_like, complex, shape (...)
        Reflection coefficient, abs(gamma) < 1. [-]

    Returns
    -------
    ndarray, shape (...)
        Standing wave ratio, >= 1. [-]

    Raises
    ------
    ValueError
        If any abs(gamma) >= 1.

    Examples
    --------
    >>> round(float(swr(1 / 3)), 6)
    2.0
    """
    size = _size_below_one(gamma)
    return (1 + size) / (1 - size)


# A mismatch may be of any size; the scale of figures and tables ends here.
_LARGEST_GAMMA = 1.0 - 1e-9


def swr_on(z: NDArray[np.complex128], z0: float) -> NDArray[np.float64]:
    """Standing wave ratio of impedances on a line or at a radio, ended where no meter reads.

    Parameters
    ----------
    z : ndarray, complex, shape (...)
        Impedance. [ohm]
    z0 : float
        Characteristic impedance of the line, or what the radio is made for. [ohm]

    Returns
    -------
    ndarray, shape (...)
        Standing wave ratio, from 1 to 2e9. [-]

    Examples
    --------
    >>> swr_on(np.array([50 + 0j, 100 + 0j]), 50.0).round(9).tolist()
    [1.0, 2.0]
    """
    return swr(np.minimum(np.abs(reflection_coefficient(z, z0)), _LARGEST_GAMMA))


def mismatch_loss_db(gamma: ArrayLike) -> NDArray[np.float64]:
    """Power turned back where a line meets a load.

    Parameters
    ----------
    gamma : array_like, complex, shape (...)
        Reflection coefficient, abs(gamma) < 1. [-]

    Returns
    -------
    ndarray, shape (...)
        Mismatch loss, >= 0. [dB]

    Raises
    ------
    ValueError
        If any abs(gamma) >= 1.

    Notes
    -----
    -10 log10(1 - abs(gamma)^2), for a lossless line and a matched source.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, ch. 2; from memory.

    Examples
    --------
    >>> round(float(mismatch_loss_db(1 / 3)), 3)     # SWR 2
    0.512
    """
    return -10 * np.log10(1 - _size_below_one(gamma) ** 2)


def _electrical_length(propagation: ArrayLike, length: ArrayLike) -> NDArray[np.complex128]:
    metres = np.asarray(length, dtype=np.float64)
    if np.any(metres < 0):
        raise ValueError("length must not be negative")
    return np.asarray(propagation, dtype=np.complex128) * metres


def input_impedance(
    z_load: ArrayLike, z0: ArrayLike, propagation: ArrayLike, length: ArrayLike
) -> NDArray[np.complex128]:
    """Impedance that a load shows at the other end of a lossy line.

    Parameters
    ----------
    z_load : array_like, complex, shape (...)
        Load; an infinite one is an open end. [ohm]
    z0 : array_like, shape (...)
        Characteristic impedance. [ohm]
    propagation : array_like, complex, shape (...)
        Propagation constant. [1/m]
    length : array_like, shape (...)
        Length, >= 0. [m]

    Returns
    -------
    ndarray, complex, shape (...)
        Input impedance. [ohm]

    Raises
    ------
    ValueError
        If a length is negative.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, ch. 2, the terminated lossy line; from memory.

    Examples
    --------
    >>> z = input_impedance(100.0, 50.0, 1j * np.pi / 2, 1.0)     # a quarter wave
    >>> round(complex(z).real, 6)
    25.0
    """
    electrical_length = _electrical_length(propagation, length)
    returned = reflection_coefficient(z_load, z0) * np.exp(-2 * electrical_length)
    return np.asarray(z0, dtype=np.complex128) * (1 + returned) / (1 - returned)


def total_loss_db(
    z_load: ArrayLike, z0: ArrayLike, propagation: ArrayLike, length: ArrayLike
) -> NDArray[np.float64]:
    """Power into a lossy line over power into its load, whatever the load.

    Parameters
    ----------
    z_load : array_like, complex, shape (...)
        Load with a positive, finite resistance. [ohm]
    z0 : array_like, shape (...)
        Characteristic impedance, real as a rule. [ohm]
    propagation : array_like, complex, shape (...)
        Propagation constant. [1/m]
    length : array_like, shape (...)
        Length, >= 0. [m]

    Returns
    -------
    ndarray, shape (...)
        Total loss: matched loss and the extra loss of standing waves. [dB]

    Raises
    ------
    ValueError
        If a load takes no power or a length is negative.

    Notes
    -----
    With 1 A in the load, V = Z cosh(gamma l) + Z0 sinh(gamma l) and
    I = cosh(gamma l) + Z/Z0 sinh(gamma l) at the input; the loss is Re(V I*) / Re(Z).
    The reflection at the source is not in it.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, ch. 2, the terminated lossy line; from memory.

    Examples
    --------
    >>> round(float(total_loss_db(50.0, 50.0, 0.1 + 2j, 1.0)), 4)      # matched: 0.1 Np
    0.8686
    """
    load = np.asarray(z_load, dtype=np.complex128)
    if not np.all((load.real > 0) & np.isfinite(load)):
        raise ValueError("z_load must have a positive, finite resistance")
    line = np.asarray(z0, dtype=np.complex128)
    electrical_length = _electrical_length(propagation, length)
    cosh, sinh = np.cosh(electrical_length), np.sinh(electrical_length)
    voltage = load * cosh + line * sinh
    current = cosh + load / line * sinh
    return 10 * np.log10((voltage * np.conj(current)).real / load.real)


# Least resistance [ohm] that a load is taken to have: less takes no power that a meter would show.
LEAST_RESISTANCE = 1e-3


def absorbing(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Impedance of a load that takes power, its resistance a milliohm where it came out less. [ohm]

    Where an antenna hardly radiates the field solver's error may be larger than its resistance.

    Examples
    --------
    >>> absorbing(np.array([50 + 1j, -2 + 30j])).tolist()
    [(50+1j), (0.001+30j)]
    """
    return np.asarray(np.maximum(z.real, LEAST_RESISTANCE) + 1j * z.imag)


def power_in(current: complex) -> float:
    """Power that one volt drives into a load, as :func:`absorbing` takes it. [W]

    ``current`` is the peak current for a peak of one volt. [A]
    """
    return 0.5 * max(current.real, LEAST_RESISTANCE * abs(current) ** 2)


def handbook_total_loss_db(matched_db: ArrayLike, gamma: ArrayLike) -> NDArray[np.float64]:
    """Total loss of a line from its matched loss and the reflection at its load.

    Parameters
    ----------
    matched_db : array_like, shape (...)
        Loss of the same length when matched, >= 0. [dB]
    gamma : array_like, complex, shape (...)
        Reflection coefficient at the load, abs(gamma) < 1. [-]

    Returns
    -------
    ndarray, shape (...)
        Total loss. [dB]

    Raises
    ------
    ValueError
        If any abs(gamma) >= 1 or a matched loss is negative.

    Notes
    -----
    10 log10((a^2 - r^2) / (a (1 - r^2))), a = 10^(matched/10), r = abs(gamma). Equal to
    `total_loss_db` when the characteristic impedance is real.

    References
    ----------
    .. [1] Antenna handbooks, "additional loss due to standing waves"; from memory.

    Examples
    --------
    >>> round(float(handbook_total_loss_db(2.0, 7 / 9)), 3)      # SWR 8
    4.837
    """
    ratio = 10 ** (np.asarray(matched_db, dtype=np.float64) / 10)
    if not np.all(ratio >= 1):
        raise ValueError("matched_db must not be negative")
    reflected = _size_below_one(gamma) ** 2
    return 10 * np.log10((ratio**2 - reflected) / (ratio * (1 - reflected)))
