"""A coil of coax as one lumped part: turns, diameter and pitch in, complex impedance out.

Good up to about the first self-resonance; above it wire has to stand for the coil.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.quantities import VACUUM_PERMEABILITY
from pipeline.circuit.line import surface_resistance

# Shortest and longest winding that Medhurst measured, in diameters.
WINDING_LENGTH = (0.1, 50.0)


def nagaoka_coefficient(diameter: ArrayLike, length: ArrayLike) -> NDArray[np.float64]:
    """Inductance of a finite current sheet over that of the same length of an endless one. [-]

    ``diameter`` and ``length`` of the sheet in m, ValueError if one is not positive; between 0 and
    1.

    Notes
    -----
    4 / (3 pi k') [(k'^2 / k^2) (K - E) + E - k] with k = D / sqrt(D^2 + l^2),
    k' = l / sqrt(D^2 + l^2), K and E the complete elliptic integrals of modulus k.

    References
    ----------
    .. [1] H. Nagaoka, J. Coll. Sci. Tokyo 27 (1909), art. 6.

    Examples
    --------
    >>> round(float(nagaoka_coefficient(1.0, 1.0)), 6)
    0.688423
    """
    across = np.asarray(diameter, dtype=np.float64)
    along = np.asarray(length, dtype=np.float64)
    if not (np.all(across > 0) and np.all(along > 0)):
        raise ValueError("diameter and length must be positive")
    diagonal = np.hypot(across, along)
    k, k_prime = across / diagonal, along / diagonal
    # Loaded by the few who wind coils.
    from scipy.special import ellipe, ellipk

    first = np.asarray(ellipk(k**2), dtype=np.float64)
    second = np.asarray(ellipe(k**2), dtype=np.float64)
    bracket = (k_prime / k) ** 2 * (first - second) + second - k
    return 4 / (3 * np.pi * k_prime) * bracket


def helix_inductance(turns: float, diameter: float, pitch: float) -> float:
    """Low-frequency inductance of a single-layer coil. [H]

    ``diameter`` [m] from cable axis to cable axis, ``pitch`` [m] from turn to turn along the coil;
    ValueError if a value is not positive.

    Notes
    -----
    mu0 pi D^2 N^2 K / (4 N p), K the Nagaoka coefficient. A current sheet stands for the
    turns; the correction for round wire is left out (1 to 3 % for close turns of coax).

    References
    ----------
    .. [1] H. Nagaoka, J. Coll. Sci. Tokyo 27 (1909), art. 6.

    Examples
    --------
    >>> round(helix_inductance(9, 0.30, 10.3e-3) * 1e6, 2)      # microhenry
    31.97
    """
    if min(turns, diameter, pitch) <= 0:
        raise ValueError("turns, diameter and pitch must be positive")
    length = turns * pitch
    coefficient = float(nagaoka_coefficient(diameter, length))
    return float(VACUUM_PERMEABILITY * np.pi * diameter**2 * turns**2 / (4 * length) * coefficient)


def helix_capacitance(diameter: float, length: float) -> float:
    """Self-capacitance of a single-layer coil with one end at earth. [F]

    ``length`` [m] of the winding from 0.1 to 50 diameters, which Medhurst measured; else
    ValueError.

    Notes
    -----
    C/D = 0.1126 l/D + 0.08 + 0.27 sqrt(D/l) in pF/cm, a fit that keeps within 8 % of the
    published table. Jacket and whatever stands near are not counted.

    References
    ----------
    .. [1] R. G. Medhurst, Wireless Engineer 24 (1947), 35 and 80; the fit is from memory.

    Examples
    --------
    >>> round(helix_capacitance(0.30, 0.0927) * 1e12, 1)      # picofarad
    18.0
    """
    least, most = WINDING_LENGTH
    if diameter <= 0 or not least <= length / diameter <= most:
        raise ValueError("the winding must be 0.1 to 50 diameters long")
    slender = length / diameter
    picofarad_per_cm = 0.1126 * slender + 0.08 + 0.27 / np.sqrt(slender)
    return float(picofarad_per_cm * 1e-10 * diameter)


def coil_self_resonance(turns: float, diameter: float, pitch: float) -> float:
    """First self-resonance of a coil by handbook inductance and self-capacitance. [Hz]

    Arguments and errors as for :func:`helix_inductance` and :func:`helix_capacitance`. Definition:
    1 / (2 pi sqrt(L C)).

    Examples
    --------
    >>> round(coil_self_resonance(9, 0.30, 10.3e-3) / 1e6, 2)      # MHz
    6.63
    """
    inductance = helix_inductance(turns, diameter, pitch)
    capacitance = helix_capacitance(diameter, turns * pitch)
    return float(1 / (2 * np.pi * np.sqrt(inductance * capacitance)))


def coil_impedance(
    f: ArrayLike,
    turns: float,
    diameter: float,
    pitch: float,
    shield_diameter: float,
    sigma: float,
) -> NDArray[np.complex128]:
    """Impedance of a coil of coax taken as one lumped part. [ohm]

    ``f`` [Hz] above 0; shape as for :func:`helix_inductance`; ``shield_diameter`` [m] of the coax
    at most the pitch, else ValueError; ``sigma`` [S/m] of the shield.

    Notes
    -----
    Inductance and skin-effect resistance in series, self-capacitance across both (Medhurst, 1947).
    Crowding of current between turns is left out. The formula holds up to about the first
    self-resonance: far above it a real coil is a helical line with many resonances, and wire must
    stand for it.

    Examples
    --------
    >>> z = coil_impedance(145e6, 9, 0.30, 10.3e-3, 8.13e-3, 5.8e7)
    >>> round(complex(z).imag)
    -61
    """
    if not 0 < shield_diameter <= pitch:
        raise ValueError("need 0 < shield_diameter <= pitch: turns must not overlap")
    omega = 2 * np.pi * np.asarray(f, dtype=np.float64)
    cable_length = turns * np.hypot(np.pi * diameter, pitch)
    resistance = surface_resistance(f, sigma) * cable_length / (np.pi * shield_diameter)
    reactance = omega * helix_inductance(turns, diameter, pitch)
    susceptance = omega * helix_capacitance(diameter, turns * pitch)
    admittance = np.asarray(1 / (resistance + 1j * reactance) + 1j * susceptance)
    return np.asarray(1 / admittance, dtype=np.complex128)
