"""Far field of segment currents, over lossy ground or in free space; NumPy only.

Segment geometry and currents in, complex field per direction out. Over ground the field is that
of the segment plus its image times the plane-wave reflection coefficients, which is what NEC-2
itself uses for far fields, so fields can be superposed port by port without the solver.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quantities import EPS_0_NEC, ETA_NEC, SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.structure import Segments

# Polar angles handled at once: bounds the memory of the operator.
_THETAS = 4
# Digits of the field that its harmonics in azimuth hold.
_DIGITS = 2.0
# Fewest azimuths, and what all counts divide: the step is a whole number of hundredths of a degree.
_FEWEST, _HUNDREDTHS = 72, 36000


@dataclass(frozen=True)
class Directions:
    """A grid of directions: polar angles from the zenith and azimuths from +x [rad]."""

    theta: NDArray[np.float64]
    phi: NDArray[np.float64]

    def flat(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Angles of every direction, theta slowest, each of shape (n_theta * n_phi,)."""
        theta, phi = np.meshgrid(self.theta, self.phi, indexing="ij")
        return theta.ravel(), phi.ravel()

    @property
    def shape(self) -> tuple[int, int]:
        """(n_theta, n_phi)."""
        return len(self.theta), len(self.phi)


def radius_in_plan(segments: Segments) -> float:
    """Radius of an upright cylinder that holds all segments, round the middle of their plan. [m]

    Definition.

    Examples
    --------
    >>> from models.wires.structure import Structure, Wire
    >>> radius_in_plan(Structure("one", (Wire((0, 0, 0), (3, 0, 9), 5, 1e-3, "x"),), ()).segments)
    1.5
    """
    plan = np.concatenate([segments.start, segments.end])[:, :2]
    middle = 0.5 * (plan.min(axis=0) + plan.max(axis=0))
    return float(np.linalg.norm(plan - middle, axis=1).max())


def harmonics(cylinder_radius: float, f: float) -> int:
    """Highest harmonic in azimuth of the far field of what lies in a cylinder. [-]

    ``cylinder_radius`` [m] is that of an upright cylinder that holds all that radiates, ``f`` [Hz].
    The field is a sum of harmonics up to k times the radius; the few above it fall faster than
    exponentially, and the first beyond two digits is the last that counts.

    References
    ----------
    .. [1] O. M. Bucci and G. Franceschetti, "On the spatial bandwidth of scattered fields", IEEE
       Trans. Antennas and Propagation, 1987 (from memory).
    .. [2] W. C. Chew, J.-M. Jin, E. Michielssen and J. Song, "Fast and Efficient Algorithms in
       Computational Electromagnetics", 2001, excess bandwidth formula (from memory).

    Examples
    --------
    >>> harmonics(3.94, 145e6), harmonics(3.18, 440e6)
    (19, 39)
    """
    size = 2 * np.pi * f * cylinder_radius / SPEED_OF_LIGHT_NEC
    return int(np.ceil(size + 1.8 * _DIGITS ** (2 / 3) * size ** (1 / 3)))


def azimuth_count(cylinder_radius: float, f: float) -> int:
    """Number of azimuths that hold the radiated power of what lies in a cylinder. [-]

    Power is a square of the field: it has twice the harmonics, and a sum of n harmonics is known
    from more than 2 n even samples (sampling theorem; Shannon, 1949, from memory). Arguments as
    :func:`harmonics`; never fewer than 72, always a multiple of four.

    Examples
    --------
    >>> azimuth_count(0.1, 145e6), azimuth_count(3.94, 145e6), azimuth_count(3.18, 440e6)
    (72, 80, 160)
    """
    least = max(_FEWEST, 4 * harmonics(cylinder_radius, f) + 1)
    count = 4 * -(-least // 4)
    while _HUNDREDTHS % count and count < _HUNDREDTHS:
        count += 4
    return count


def evenly_round(azimuths: int) -> NDArray[np.float64]:
    """Azimuths all the way round from +x, shape (azimuths,). [rad]

    Definition.

    Examples
    --------
    >>> np.degrees(evenly_round(4)).tolist()
    [0.0, 90.0, 180.0, 270.0]
    """
    return np.asarray(2 * np.pi * np.arange(azimuths) / azimuths)


def fresnel(
    grazing: NDArray[np.float64], eps_r: float, sigma: float, f: float
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Plane-wave reflection coefficients of a lossy half space, vertical and horizontal. [-]

    ``grazing`` [rad] is the angle between ray and ground, shape (n,); ``sigma`` [S/m], ``f`` [Hz].
    Vertical refers to the field component in the plane of incidence with the sign of the image
    current of a vertical dipole (+1 on a perfect conductor), horizontal to -1 there.

    References
    ----------
    .. [1] E. C. Jordan and K. G. Balmain, "Electromagnetic Waves and Radiating Systems", 2nd
       ed., 1968, section 16.3 (from memory).

    Examples
    --------
    >>> v, h = fresnel(np.radians([5.0]), 13.0, 0.005, 145e6)
    >>> np.round(abs(v), 4), np.round(abs(h), 4)
    (array([0.5071]), array([0.951]))
    """
    n2 = eps_r - 1j * sigma / (2 * np.pi * f * EPS_0_NEC)
    if n2 == 1:
        # Soil that is as good as air has no surface; along it the formula is nothing over nothing.
        return np.zeros(grazing.shape, complex), np.zeros(grazing.shape, complex)
    s, root = np.sin(grazing), np.sqrt(n2 - np.cos(grazing) ** 2)
    return (n2 * s - root) / (n2 * s + root), (s - root) / (s + root)


def field_operator(
    segments: Segments, f: float, soil: Soil | None, directions: Directions
) -> NDArray[np.complex128]:
    """Matrix from segment currents to the far electric field, shape (2, n_direction, n_segment).

    Theta and phi components per ampere, exp(-jkr)/r taken out [ohm]; ``f`` [Hz]. Over ground theta
    must not exceed 90 degrees, else ValueError.

    Notes
    -----
    The current is taken as constant along a segment, its phase across the segment exactly.

    References
    ----------
    .. [1] C. A. Balanis, "Antenna Theory", 3rd ed., 2005, section 3.6 (far-zone radiation
       integrals; from memory).
    .. [2] G. J. Burke and A. J. Poggio, "NEC-2 Theory", 1981, section IV (image times reflection
       coefficients; from memory).

    Examples
    --------
    >>> from models.wires.structure import Structure, Wire
    >>> short = Structure("short", (Wire((0, 0, -0.01), (0, 0, 0.01), 1, 1e-4, "x"),), ()).segments
    >>> broadside = Directions(np.array([np.pi / 2]), np.zeros(1))
    >>> operator = field_operator(short, 145e6, None, broadside)[:, 0, 0]
    >>> np.round(operator, 3).tolist()             # 60 pi l / wavelength broadside
    [1.822j, 0j]
    """
    theta, phi = directions.flat()
    if soil is not None and (theta > np.pi / 2 + 1e-12).any():
        raise ValueError("over ground there is no far field below the horizon")
    k = 2 * np.pi * f / SPEED_OF_LIGHT_NEC
    st, ct, sp, cp = np.sin(theta), np.cos(theta), np.sin(phi), np.cos(phi)
    unit = np.stack([st * cp, st * sp, ct], axis=1)
    theta_hat = np.stack([ct * cp, ct * sp, -st], axis=1)
    phi_hat = np.stack([-sp, cp, np.zeros_like(sp)], axis=1)
    direct = _phases(segments, unit, k)
    operator = np.stack([direct * (t @ segments.direction.T) for t in (theta_hat, phi_hat)])
    if soil is not None:
        # The image of a current: same vertical, reversed horizontal part, mirrored place; on a
        # real ground weighted by the coefficients of the two polarisations.
        vertical, horizontal = fresnel(np.pi / 2 - theta, soil.eps_r, soil.sigma, f)
        mirror = np.array([1.0, 1.0, -1.0])
        image = _phases(segments, unit * mirror, k)
        operator[0] += vertical[:, None] * image * (theta_hat * -mirror @ segments.direction.T)
        operator[1] += horizontal[:, None] * image * (phi_hat @ segments.direction.T)
    return np.asarray(-1j * k * ETA_NEC / (4 * np.pi) * operator)


def _phases(segments: Segments, unit: NDArray[np.float64], k: float) -> NDArray[np.complex128]:
    """int e^{jk u.r} dl over each segment for each direction, shape (n_direction, n_segment)."""
    across = 0.5 * k * (unit @ segments.direction.T) * segments.length
    length = np.sinc(across / np.pi) * segments.length
    return np.asarray(length * np.exp(1j * k * (unit @ segments.centre.T)))


def far_field(
    segments: Segments,
    currents: NDArray[np.complex128],
    f: float,
    soil: Soil | None,
    directions: Directions,
) -> NDArray[np.complex128]:
    """Far electric field of sets of segment currents, shape (n_set, 2, n_theta, n_phi). [V]

    ``currents`` (n_set, n_segment) [A]; theta and phi components with exp(-jkr)/r taken out.
    :func:`field_operator`, with its arguments, errors and references (Balanis, 2005), applied a few
    polar angles at a time to bound memory.
    """
    blocks = []
    for a in range(0, len(directions.theta), _THETAS):
        part = Directions(directions.theta[a : a + _THETAS], directions.phi)
        operator = field_operator(segments, f, soil, part)
        field = currents @ operator.transpose(0, 2, 1)
        blocks.append(field.transpose(1, 0, 2).reshape(len(currents), 2, *part.shape))
    return np.concatenate(blocks, axis=2)


def directive_power(field: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Power per solid angle of peak fields, (|E_theta|^2 + |E_phi|^2) / (2 eta). [W/sr]

    Shape (..., 2, n_theta, n_phi) [V] to (..., n_theta, n_phi). Definition.

    Examples
    --------
    >>> round(float(directive_power(np.full((2, 1, 1), 60 + 0j))[0, 0]), 3)
    9.556
    """
    return np.asarray((np.abs(field) ** 2).sum(axis=-3) / (2 * ETA_NEC))


def radiated_power(field: NDArray[np.complex128], directions: Directions) -> NDArray[np.float64]:
    """Power through the part of the sphere that the grid covers. [W]

    Trapezoid in both angles; azimuths must go once round (the closing one left out), polar
    angles be equally spaced. Shape (..., 2, n_theta, n_phi) to (...). Definition.

    Examples
    --------
    >>> sphere = Directions(np.radians(np.arange(0.0, 181.0, 2.0)), evenly_round(72))
    >>> even = np.zeros((2, *sphere.shape), complex)
    >>> even[0] = np.sqrt(2 * ETA_NEC)              # one watt per steradian
    >>> round(float(radiated_power(even, sphere) / (4 * np.pi)), 3)
    1.0
    """
    density = directive_power(field).mean(axis=-1) * 2 * np.pi
    return np.asarray(np.trapezoid(density * np.sin(directions.theta), directions.theta, axis=-1))
