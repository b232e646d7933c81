"""Chokes as two-terminal parts: their make and the frequency in, complex impedance out.

All impedances are those *added* to the shield of the same length without the choke, because
the shield itself is already a wire of the model. They do not depend on power.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.quantities import VACUUM_PERMEABILITY, VACUUM_PERMITTIVITY
from pipeline.circuit.line import surface_resistance


def interpolate_over_log_f(
    f: ArrayLike, f_table: ArrayLike, values: ArrayLike
) -> NDArray[np.complex128]:
    """Complex table value at a frequency, linear over the logarithm of frequency.

    ``f`` and ``f_table`` in Hz. Raises ValueError if the table is not of one positive, rising
    column, or a frequency is outside it. Definition.

    Examples
    --------
    >>> complex(interpolate_over_log_f(10.0, [1.0, 100.0], [3.0, 3.0 - 4.0j])).real
    3.0
    """
    wanted = np.asarray(f, dtype=np.float64)
    known = np.asarray(f_table, dtype=np.float64)
    table = np.asarray(values, dtype=np.complex128)
    if known.ndim != 1 or known.size == 0 or known.shape != table.shape:
        raise ValueError("the table needs one value per frequency")
    if known[0] <= 0 or np.any(np.diff(known) <= 0):
        raise ValueError("the table's frequencies must be positive and rise")
    outside = wanted[~((wanted >= known[0]) & (wanted <= known[-1]))]
    if outside.size:
        limits = f"{known[0] / 1e6:g} to {known[-1] / 1e6:g} MHz"
        raise ValueError(f"{outside.flat[0] / 1e6:g} MHz is outside the table, {limits}")
    value: NDArray[np.complex128] = np.interp(np.log(wanted), np.log(known), table)
    return value


def tabulated_impedance(
    f: ArrayLike, f_table: ArrayLike, z_table: ArrayLike
) -> NDArray[np.complex128]:
    """Impedance of a measured choke between its table points. [ohm]

    As :func:`interpolate_over_log_f`, and ValueError where the table would add power. Definition.

    Examples
    --------
    >>> complex(tabulated_impedance(145e6, [144e6, 146e6], [500 + 100j, 500 + 100j]))
    (500+100j)
    """
    if np.any(np.asarray(z_table, dtype=np.complex128).real < 0):
        raise ValueError("a choke cannot have a negative resistance")
    return interpolate_over_log_f(f, f_table, z_table)


def ferrite_impedance(
    f: ArrayLike,
    mu_r: ArrayLike,
    outer_diameter: float,
    inner_diameter: float,
    length: float,
    count: int = 1,
) -> NDArray[np.complex128]:
    """Impedance that ferrite cores threaded on the shield add to it. [ohm]

    ``mu_r`` is the complex relative permeability mu' - j mu'' at the frequencies ``f`` [Hz];
    diameters and ``length`` of one core along the cable in m, ``count`` equal cores in a row.
    Raises ValueError if diameters or length are out of order or the count is negative.

    Notes
    -----
    j omega mu0 (mu_r - 1) l / (2 pi) ln(D/d) per core, one pass. The field around a straight
    wire is a circle and keeps its strength inside a ring, so the core multiplies the flux in
    its own volume by mu_r; the flux of the same volume in air belongs to the wire, which the
    model has already, hence mu_r - 1. Left out: the capacitance of the core to the shield, and
    resonance inside the core (MnZn). A row longer than about a tenth of a wavelength is a line
    rather than one part: place such cores as several chokes.

    References
    ----------
    .. [1] Toroid of rectangular section in any field text; the impedance formula of maker
       data books uses mu_r in place of mu_r - 1.

    Examples
    --------
    >>> z = ferrite_impedance(145e6, 7.5 - 45.6j, 25.9e-3, 12.8e-3, 28.6e-3)
    >>> f"{complex(z):.0f}"
    '167+24j'
    """
    if not 0 < inner_diameter < outer_diameter:
        raise ValueError("need 0 < inner_diameter < outer_diameter")
    if length <= 0 or count < 0:
        raise ValueError("need length > 0 and count >= 0")
    in_air = VACUUM_PERMEABILITY * length / (2 * np.pi) * np.log(outer_diameter / inner_diameter)
    omega = 2 * np.pi * np.asarray(f, dtype=np.float64)
    extra = np.asarray(mu_r, dtype=np.complex128) - 1
    return np.asarray(1j * omega * count * in_air * extra, dtype=np.complex128)


def gapped_permeability(
    mu_r: ArrayLike, gap: float, outer_diameter: float, inner_diameter: float
) -> NDArray[np.complex128]:
    """Relative permeability that a core seems to have with air in the way of its flux. [-]

    ``mu_r`` is that of the ferrite, ``gap`` all the air on the way round and the diameters those
    of the core, in m.

    Notes
    -----
    mu / (1 + mu g / l) with the mean path l = pi (D + d) / 2: two reluctances in series, the flux
    not spreading in the air.

    References
    ----------
    .. [1] E. C. Snelling, Soft Ferrites, 1969, effective permeability of a gapped core (from
       memory).

    Examples
    --------
    >>> round(complex(gapped_permeability(1000.0, 20e-6, 25.9e-3, 12.8e-3)).real)
    752
    """
    path = np.pi * (outer_diameter + inner_diameter) / 2
    mu = np.asarray(mu_r, dtype=np.complex128)
    return np.asarray(mu / (1 + mu * gap / path))


@dataclass(frozen=True)
class SleeveSection:
    """Cross-section of a conducting sleeve around a jacketed coax.

    Diameters in m (the sleeve's is its inside), conductivities in S/m.
    """

    shield_diameter: float
    jacket_diameter: float
    jacket_eps_r: float
    sleeve_inner_diameter: float
    sigma_shield: float
    sigma_sleeve: float

    def __post_init__(self) -> None:
        if not 0 < self.shield_diameter <= self.jacket_diameter <= self.sleeve_inner_diameter:
            raise ValueError("need 0 < shield_diameter <= jacket_diameter <= sleeve_inner_diameter")
        if self.shield_diameter == self.sleeve_inner_diameter:
            raise ValueError("the sleeve touches the shield")
        if self.jacket_eps_r < 1:
            raise ValueError(f"jacket_eps_r = {self.jacket_eps_r} must be at least 1")


def sleeve_line(
    f: ArrayLike, section: SleeveSection, off_centre: ArrayLike = 0.0
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Characteristic impedance [ohm] and propagation constant [1/m] between sleeve and shield.

    ``f`` [Hz] above 0; ``off_centre`` is the part of the room between jacket and sleeve that the
    cable lies out of the middle, 0 to below 1.

    Notes
    -----
    Jacket and air are two capacitors in series, the magnetic field sees neither. Both
    conductors bring their surface impedance (1 + j) Rs over their circumference. Dielectric
    loss and the roughness of a braid are left out. Off centre ln(D / d) becomes
    arcosh((D^2 + d^2 - 4 e^2) / (2 D d)), e between the axes; the jacket's surface is taken for an
    equipotential, which it is in the middle only, and the currents for even.

    References
    ----------
    .. [1] D. M. Pozar, Microwave Engineering, ch. 2, line parameters of a coaxial line; from
       memory.
    .. [2] W. R. Smythe, "Static and Dynamic Electricity", 2nd ed., 1950, sect. 4.14: a cylinder
       inside another; from memory.

    Examples
    --------
    >>> air = SleeveSection(8.13e-3, 8.13e-3, 1.0, 26e-3, 5.8e7, 5.8e7)
    >>> z0, propagation = sleeve_line(145e6, air)
    >>> round(complex(z0).real, 1)
    69.7
    """
    omega = 2 * np.pi * np.asarray(f, dtype=np.float64)
    shield, jacket = section.shield_diameter, section.jacket_diameter
    sleeve = section.sleeve_inner_diameter
    between = 0.5 * np.asarray(off_centre, dtype=np.float64) * (sleeve - jacket)
    around = _log_of_eccentric(sleeve, shield, between)
    inductance = VACUUM_PERMEABILITY / (2 * np.pi) * around
    elastance = np.log(jacket / shield) / section.jacket_eps_r
    elastance = elastance + _log_of_eccentric(sleeve, jacket, between)
    capacitance = 2 * np.pi * VACUUM_PERMITTIVITY / elastance
    resistance = surface_resistance(f, section.sigma_shield) / (np.pi * shield)
    resistance = resistance + surface_resistance(f, section.sigma_sleeve) / (np.pi * sleeve)
    series = (1 + 1j) * resistance + 1j * omega * inductance
    shunt = 1j * omega * capacitance
    return np.sqrt(series / shunt), np.sqrt(series * shunt)


def _log_of_eccentric(
    outer: float, inner: float, between: NDArray[np.float64]
) -> NDArray[np.float64]:
    """ln of the ratio of two diameters, of one cylinder inside another ``between`` their axes."""
    squares = outer**2 + inner**2 - 4 * between**2
    return np.arccosh(np.maximum(squares / (2 * outer * inner), 1.0))


def sleeve_impedance(
    f: ArrayLike, length: ArrayLike, section: SleeveSection, off_centre: ArrayLike = 0.0
) -> NDArray[np.complex128]:
    """Impedance between the mouth of a sleeve and the shield, its far end joined to it. [ohm]

    ``length`` [m] from the mouth to the joint, one for all frequencies ``f`` [Hz] or one for each;
    ``off_centre`` as of :func:`sleeve_line`. ValueError if a length is not positive.

    Notes
    -----
    Z0 tanh(gamma l) (Pozar, Microwave Engineering, eq. 2.91, from memory). The field that bulges
    out of the mouth is not in it: it is a capacitance across the mouth
    (``models.wires.sleeve_wires``) and lengthens the sleeve by :data:`END_CORRECTION`. Smooth metal
    and no radiation make the resonant value an upper limit; a small error in length costs far more
    than the loss in the metal.

    Examples
    --------
    >>> cut = SleeveSection(8.13e-3, 10.29e-3, 2.3, 26e-3, 5.8e7, 4.93e7)
    >>> z = sleeve_impedance(145e6, sleeve_quarter_wave_length(145e6, cut), cut)
    >>> round(abs(complex(z)) / 1e3)      # kiloohm: smooth metal, no radiation from the mouth
    108
    """
    lengths = np.asarray(length, dtype=np.float64)
    if np.any(lengths <= 0):
        raise ValueError(f"length = {np.min(lengths):g} must be positive")
    z0, propagation = sleeve_line(f, section, off_centre)
    return np.asarray(z0 * np.tanh(propagation * lengths))


# By how much the field at its mouth makes a sleeve longer than it is, in radii of its bore: what 62
# pF/m times the shield's radius across the mouth of a 28 mm sleeve over 8 mm comes to, and 0.31 to
# 0.41 of sleeves of 15 to 42 mm over shields of 3.6 and 8.1 mm.
END_CORRECTION = 0.4


def sleeve_quarter_wave_length(f: float, section: SleeveSection) -> float:
    """Length at which a shorted sleeve is a quarter wave of its own line. [m]

    Definition.

    Examples
    --------
    >>> air = SleeveSection(8e-3, 8e-3, 1.0, 26e-3, 5.8e7, 5.8e7)
    >>> round(sleeve_quarter_wave_length(299.792458e6, air), 3)
    0.25
    """
    _, propagation = sleeve_line(f, section)
    return float(np.pi / 2 / np.imag(propagation))


def sleeve_length(f: float, section: SleeveSection) -> float:
    """Length at which a shorted sleeve is in resonance with the field at its mouth. [m]

    A quarter wave less the end correction. Measured here: tests/validation/test_surface_sleeves.py.

    Examples
    --------
    >>> air = SleeveSection(8e-3, 8e-3, 1.0, 26e-3, 5.8e7, 5.8e7)
    >>> round(sleeve_length(299.792458e6, air), 4)
    0.2447
    """
    quarter = sleeve_quarter_wave_length(f, section)
    return quarter - END_CORRECTION * section.sleeve_inner_diameter / 2
