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

# Square of the half phase [rad] across a segment up to which a few terms of the sine hold all
# digits: segments to a sixth of a wavelength.
_SHORT = 0.25
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


@dataclass(frozen=True)
class _Waves:
    """Directions with their wave number [1/m] and reflection coefficients of the ground below.

    ``vertical`` and ``horizontal`` have shape (n_theta,); without a ground nothing comes back.
    """

    directions: Directions
    k: float
    vertical: NDArray[np.complex128]
    horizontal: NDArray[np.complex128]


def far_field(
    segments: Segments,
    currents: NDArray[np.complex128],
    f: float,
    soil: Soil | None,
    directions: Directions,
) -> NDArray[np.complex128]:
    """Far electric field of sets of segment currents, shape (n_set, 2, n_theta, n_phi). [V]

    ``currents`` (n_set, n_segment) [A]; theta and phi components with exp(-jkr)/r taken out; ``f``
    [Hz]. Over ground theta must not exceed 90 degrees, else ValueError.

    Notes
    -----
    The current is taken as constant along a segment, its phase across the segment exactly. Upright
    segments above each other differ in phases that no azimuth changes: a column is summed up before
    the azimuths are gone through, and most of an installation is pipes and cable on end.

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
    >>> field = far_field(short, np.ones((1, 1), complex), 145e6, None, broadside)
    >>> np.round(field[0, :, 0, 0], 3).tolist()                # 60 pi l / wavelength broadside
    [1.822j, 0j]
    """
    theta, k = directions.theta, 2 * np.pi * f / SPEED_OF_LIGHT_NEC
    if soil is not None and (theta > np.pi / 2 + 1e-12).any():
        raise ValueError("over ground there is no far field below the horizon")
    vertical = horizontal = np.zeros(len(theta), complex)
    if soil is not None:
        vertical, horizontal = fresnel(np.pi / 2 - theta, soil.eps_r, soil.sigma, f)
    waves = _Waves(directions, k, vertical, horizontal)
    field = np.zeros((len(currents), 2, *directions.shape), complex)
    leans = np.any(segments.direction[:, :2] != 0, axis=1)
    field[:, 0] += _of_upright(segments.some(~leans), currents[:, ~leans], waves)
    if leans.any():
        field += _of_leaning(segments.some(leans), currents[:, leans], waves)
    field *= -1j * k * ETA_NEC / (4 * np.pi)
    return field


def _of_upright(
    segments: Segments, currents: NDArray[np.complex128], waves: _Waves
) -> NDArray[np.complex128]:
    """Sum over upright segments of the theta component, shape (n_set, n_theta, n_phi)."""
    theta, phi, k = waves.directions.theta[:, None], waves.directions.phi, waves.k
    cos = np.cos(theta)
    rise = segments.direction[:, 2] * segments.length
    height = np.exp(1j * k * cos * segments.centre[:, 2])
    # The image of a current: same vertical part, mirrored place.
    both = height + waves.vertical[:, None] * height.conj()
    weight = -np.sin(theta) * rise * np.sinc(0.5 * k / np.pi * cos * rise) * both
    plan, column = np.unique(segments.centre[:, :2], axis=0, return_inverse=True)
    column = column.ravel()
    sums = np.empty((len(theta), len(currents), len(plan)), complex)
    for c in range(len(plan)):
        own = np.flatnonzero(column == c)
        sums[:, :, c] = weight[:, own] @ currents[:, own].T
    across = plan @ np.stack([np.cos(phi), np.sin(phi)])
    phases = np.exp(1j * k * np.sin(theta)[:, None] * across)
    return np.asarray((sums @ phases).transpose(1, 0, 2))


def _of_leaning(
    segments: Segments, currents: NDArray[np.complex128], waves: _Waves
) -> NDArray[np.complex128]:
    """Sum over segments of both components, shape (n_set, 2, n_theta, n_phi)."""
    phi, k = waves.directions.phi[:, None], waves.k
    x, y, z = segments.centre.T
    out, aside = np.cos(phi), np.sin(phi)
    dx, dy, dz = segments.direction.T
    # What of a segment points to an azimuth, and across it.
    ahead, beside = out * dx + aside * dy, out * dy - aside * dx
    place, half = k * (out * x + aside * y), 0.5 * k * segments.length
    field = np.empty((len(currents), 2, *waves.directions.shape), complex)
    for i, polar in enumerate(waves.directions.theta):
        sin, cos = np.sin(polar), np.cos(polar)
        plane = _turned(sin * place)
        level, upward = (half * sin) * ahead, half * cos * dz
        rise = segments.length * np.exp(1j * k * cos * z)
        direct = plane * (rise * _sinc(level + upward))
        # The image of a current: same vertical, reversed horizontal part, mirrored place; on a
        # real ground weighted by the coefficients of the two polarisations.
        image = plane * (rise.conj() * _sinc(level - upward))
        slant, sink = cos * ahead, sin * dz
        inside = direct * (slant - sink) - (waves.vertical[i] * image) * (slant + sink)
        normal = (direct + waves.horizontal[i] * image) * beside
        field[:, 0, i], field[:, 1, i] = currents @ inside.T, currents @ normal.T
    return field


def _turned(phase: NDArray[np.float64]) -> NDArray[np.complex128]:
    """exp(j phase), sooner than by the exponential of a complex number."""
    found = np.empty(phase.shape, complex)
    np.cos(phase, out=found.real)
    np.sin(phase, out=found.imag)
    return found


def _sinc(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """sin x / x; for the small angles of short segments by its series, to all digits."""
    square = x * x
    if square.max(initial=0.0) > _SHORT:
        return np.asarray(np.sinc(x / np.pi))
    found = 1 - square / 110
    for divisor in (72, 42, 20, 6):
        found *= square
        found /= -divisor
        found += 1
    return np.asarray(found)


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
