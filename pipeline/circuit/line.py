"""Coax as a line and as a conductor: cable data, lengths, loads; loss, impedance, SWR, metal."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.catalogues.parts import CoaxClass
from models.quantities import SPEED_OF_LIGHT, VACUUM_PERMEABILITY

DB_PER_NEPER = 20.0 / math.log(10.0)


def matched_loss_db(f: ArrayLike, k1: float, k2: float) -> NDArray[np.float64]:
    """Loss of a matched cable per length, k1 sqrt(f) + k2 f. [dB/m]

    ``f`` is the frequency [Hz], ``k1`` [dB/(m sqrt(Hz))] the share of the conductors by their skin
    effect, ``k2`` [dB/(m Hz)] that of the dielectric. Good from about 10 MHz, where the skin is
    thinner than the foil or braid, to the onset of higher modes.

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
    """Attenuation constant of a cable, the real part of its propagation constant. [Np/m]

    Arguments as for :func:`matched_loss_db`. Definition.

    Examples
    --------
    >>> round(float(attenuation(1e6, 8.685889638e-3, 0.0)), 6)
    1.0
    """
    return matched_loss_db(f, k1 / DB_PER_NEPER, k2 / DB_PER_NEPER)


def propagation_constant(
    f: ArrayLike, velocity_factor: float, attenuation: ArrayLike = 0.0
) -> NDArray[np.complex128]:
    """Propagation constant alpha + j beta of a line. [1/m]

    ``f`` [Hz], ``velocity_factor`` above 0 up to 1, ``attenuation`` alpha [Np/m]; beta is
    2 pi f / (v c). Raises ValueError if the velocity factor is outside its range.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, 4th ed., 2012, eq. 2.5; from memory.

    Examples
    --------
    >>> complex(propagation_constant(299792458.0, 1.0)).imag / (2 * np.pi)
    1.0
    """
    if not 0 < velocity_factor <= 1:
        raise ValueError(f"velocity_factor = {velocity_factor} must be above 0 and at most 1")
    beta = np.asarray(f, dtype=np.float64) * (2 * math.pi / (velocity_factor * SPEED_OF_LIGHT))
    return np.asarray(np.asarray(attenuation) + 1j * beta, dtype=np.complex128)


def reflection_coefficient(z_load: ArrayLike, z0: ArrayLike) -> NDArray[np.complex128]:
    """Voltage wave that a load sends back per wave that arrives, (Z - Z0) / (Z + Z0). [-]

    ``z_load`` and ``z0`` in ohm; an infinite load is an open end.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, 4th ed., 2012, eq. 2.35; from memory.

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
    """Standing wave ratio of a reflection coefficient, (1 + |gamma|) / (1 - |gamma|). [-]

    Definition. Raises ValueError if any abs(gamma) >= 1.

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
    """Standing wave ratio of impedances on a line or at a radio, ended where no meter reads. [-]

    ``z`` and ``z0`` in ohm; the ratio ends at 2e9. Definition.

    Examples
    --------
    >>> swr_on(np.array([50 + 0j, 100 + 0j]), 50.0).round(9).tolist()
    [1.0, 2.0]
    """
    return swr(np.minimum(np.abs(reflection_coefficient(z, z0)), _LARGEST_GAMMA))


def mismatch_loss_db(gamma: ArrayLike) -> NDArray[np.float64]:
    """Power turned back where a line meets a load, -10 log10(1 - |gamma|^2). [dB]

    For a lossless line and a matched source. Raises ValueError if any abs(gamma) >= 1.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, 4th ed., 2012, section 2.3; from memory.

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
    """Impedance that a load shows at the other end of a lossy line. [ohm]

    ``z_load`` and ``z0`` [ohm], an infinite load is an open end; ``propagation`` [1/m];
    ``length`` [m], ValueError if it is negative.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, 4th ed., 2012, eq. 2.91; from memory.

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
    """Power into a lossy line over power into its load, whatever the load. [dB]

    Matched loss and the extra loss of standing waves; the reflection at the source is not in it.
    ``z_load`` [ohm] must have a positive, finite resistance; other arguments as for
    :func:`input_impedance`.

    Notes
    -----
    With 1 A in the load, V = Z cosh(gamma l) + Z0 sinh(gamma l) and
    I = cosh(gamma l) + Z/Z0 sinh(gamma l) at the input; the loss is Re(V I*) / Re(Z).

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, 4th ed., 2012, section 2.7; from memory.

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
    Definition.

    Examples
    --------
    >>> absorbing(np.array([50 + 1j, -2 + 30j])).tolist()
    [(50+1j), (0.001+30j)]
    """
    return np.asarray(np.maximum(z.real, LEAST_RESISTANCE) + 1j * z.imag)


def power_in(current: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Power that one volt drives into loads, as :func:`absorbing` takes them, same shape. [W]

    ``current`` [A] are peak currents for a peak of one volt. Definition.

    Examples
    --------
    >>> power_in(np.array([0.02 + 0.01j])).tolist()
    [0.01]
    """
    return np.asarray(0.5 * np.maximum(current.real, LEAST_RESISTANCE * np.abs(current) ** 2))


# Outside of every cable's shield, and its inside in a sleeve or coil: taken as plain copper.
SHIELD_METAL = "copper-iacs"


def surface_resistance(f: ArrayLike, sigma: float) -> NDArray[np.float64]:
    """Resistance of a square of metal much thicker than its skin, sqrt(pi f mu0 / sigma). [ohm]

    ``f`` [Hz], ``sigma`` [S/m]; smooth metal. Raises ValueError if the conductivity is not
    positive.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, 4th ed., 2012, section 1.7; from memory.

    Examples
    --------
    >>> round(float(surface_resistance(145e6, 5.8e7)) * 1e3, 3)      # milliohm
    3.142
    """
    if sigma <= 0:
        raise ValueError(f"sigma = {sigma} must be positive")
    frequency = np.asarray(f, dtype=np.float64)
    return np.asarray(np.sqrt(np.pi * VACUUM_PERMEABILITY / sigma * frequency), dtype=np.float64)


def jacket_inductance(shield_diameter: float, jacket_diameter: float, eps_r: float) -> float:
    """Series inductance per length that a dielectric jacket adds to a wire. [H/m]

    ``shield_diameter`` [m] is that of the bare conductor, ``jacket_diameter`` [m] at least as
    large, ``eps_r`` >= 1 the jacket's; else ValueError.

    Notes
    -----
    mu0/(2 pi) (1 - 1/eps_r) ln(b/a), for a jacket thin against the wavelength. Against the
    exact surface wave of a coated wire the phase constant is right within 0.1 % for jackets
    of coax.

    References
    ----------
    .. [1] J. H. Richmond and E. H. Newman, Radio Science 11 (1976); from memory.

    Examples
    --------
    >>> round(jacket_inductance(3.6e-3, 4.95e-3, 3.0) * 1e9, 2)      # nH/m
    42.46
    """
    if not 0 < shield_diameter <= jacket_diameter:
        raise ValueError("need 0 < shield_diameter <= jacket_diameter")
    if eps_r < 1:
        raise ValueError(f"eps_r = {eps_r} must be at least 1")
    return float(
        VACUUM_PERMEABILITY
        / (2 * np.pi)
        * (1 - 1 / eps_r)
        * np.log(jacket_diameter / shield_diameter)
    )


@dataclass(frozen=True)
class LinePiece:
    """A length [m] of one class of cable."""

    cable: CoaxClass
    length: float


@dataclass(frozen=True)
class LineRun:
    """The inside of the cable from the antenna to the radio, and its connectors."""

    pieces: tuple[LinePiece, ...]
    connector_loss_db: float

    def length(self) -> float:
        """Cable in all. [m]"""
        return sum(piece.length for piece in self.pieces)


def through_line(
    run: LineRun, f: NDArray[np.float64], z_feed: NDArray[np.complex128]
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """Impedance that the radio sees [ohm], and loss between radio and antenna [dB], (n_f,) each.

    ``z_feed`` [ohm] is that of the antenna, taken as :func:`absorbing` has it, at frequencies ``f``
    [Hz]; the loss counts the mismatch at the antenna and connectors. :func:`input_impedance` and
    :func:`total_loss_db` piece by piece (Pozar, from memory).
    """
    z, loss = absorbing(z_feed), np.full(len(f), run.connector_loss_db)
    for piece in run.pieces:
        cable = piece.cable
        per_metre = attenuation(f, cable.k1, cable.k2)
        propagation = propagation_constant(f, cable.velocity_factor, per_metre)
        loss = loss + total_loss_db(z, cable.z0, propagation, piece.length)
        z = input_impedance(z, cable.z0, propagation, piece.length)
    return z, loss
