"""Currents on a body of revolution: electric-field integral equation on its generating curve.

Wall points of a `Turned` body, its strip ports and a frequency come in; currents along the curve
and port admittances go out. Only what is the same all round is solved, which is all there is where
sources and body are so: current I(t) = 2 pi r J along the curve, in roof functions that vanish on
the axis, tested with the same functions (Galerkin; J. R. Mautz and R. F. Harrington, Applied
Scientific Research 20, 1969, from memory). The kernel is the exact one of a ring: its static part
is an elliptic integral, with a logarithm where two rings meet; the rest is smooth and summed by
Gauss. No triangle, polygon or thin-wire kernel is in it, and no line of the code for tubes.
Time factor exp(+j w t).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve
from scipy.special import ellipe, ellipkm1

from tests.validation.surface.mesh import Layer
from tests.validation.surface.radiation import SPEED_OF_LIGHT, WAVE_RESISTANCE
from tests.validation.surface.sweep import lies_on
from tests.validation.surface.tubes import Case, Port, Turned

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# Lengths of elements at fineness 1: share of the shorter line at an edge and of the body's largest
# radius, whichever is less, growth from there, the longest in wavelengths, and of a strip.
AT_EDGE, EDGE_PER_RADIUS, GROWTH, LONGEST, IN_STRIP = 0.05, 0.08, 0.5, 1 / 120, 0.25
# Gauss points: of pairs apart, of the outer and inner integral of near ones, of the smooth rest
# along the curve and round half of the ring.
APART, OUTER, INNER, SMOOTH, ROUND = 3, 8, 10, 2, 8
# Points all round that stand for a ring in the far field.
AZIMUTHS = 8
# Rows of element pairs that are summed at a time.
_BLOCK = 32


@dataclass(frozen=True)
class Curve:
    """A generating curve cut into straight elements; points are (r, z) [m].

    ``line`` is the number of the wall's line that an element lies on.
    """

    points: Real
    line: NDArray[np.int64]

    @property
    def start(self) -> Real:
        return self.points[:-1]

    @property
    def step(self) -> Real:
        return np.diff(self.points, axis=0)

    @property
    def length(self) -> Real:
        return np.asarray(np.linalg.norm(self.step, axis=1))

    @property
    def along(self) -> Real:
        return np.asarray(self.step / self.length[:, None])


def ports_on(body: Turned, k: int, case: Case) -> list[Port]:
    """Ports whose strips lie on one line of the wall."""
    a, b = body.profile[k : k + 2]
    return [p for p in case.ports if p.tube == body.name and lies_on(p.at[2], a, b, body)]


def cut(body: Turned, case: Case, fine: float) -> Curve:
    """The curve in elements; ``fine`` 2 has them half as long as 1."""
    profile = body.profile
    lines = np.linalg.norm(np.diff(profile, axis=0), axis=1)
    wave = SPEED_OF_LIGHT / float(case.frequencies.max())
    points, numbers = [profile[:1]], []
    for k, (a, b) in enumerate(itertools.pairwise(profile)):
        around = lines[max(0, k - 1) : k + 2].min()
        edge = min(AT_EDGE * around, EDGE_PER_RADIUS * profile[:, 0].max())
        places = [(0.0, edge), (lines[k], edge)]
        for port in ports_on(body, k, case):
            middle, half = abs(float(port.at[2] - a[1])), port.width / 2
            places += [(middle + x * half, IN_STRIP * port.width) for x in (-1, 0, 1)]
        s = graded(sorted(places), LONGEST * wave, fine)
        points.append(a + s[1:, None] / lines[k] * (b - a))
        numbers += [k] * (len(s) - 1)
    return Curve(np.vstack(points), np.array(numbers))


def graded(places: list[tuple[float, float]], longest: float, fine: float) -> Real:
    """Cuts of a line [m] through all places, each with the length wanted there."""
    where, size = np.array(places).T
    cuts = [where[:1]]
    for a, b in itertools.pairwise(where):
        s = np.linspace(a, b, 401)
        grown = size + GROWTH * np.abs(s[:, None] - where)
        density = fine / np.minimum(grown.min(axis=1), longest)
        count = np.concatenate([[0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(s))])
        n = max(1, int(np.ceil(count[-1])))
        cuts.append(np.interp(np.arange(1, n + 1) / n, count / count[-1], s))
    return np.concatenate(cuts)


def ring_static(here: Real, there: Real) -> tuple[Real, Real]:
    """Mean of 1/R and of cos(angle)/R round a ring, for points (..., 2). [1/m]

    With a^2 = (r + r')^2 + (z - z')^2 and m = 4 r r' / a^2 they are (2 / pi a) K(m) and (2 / pi a)
    (2 (K - E) / m - K).
    """
    r, z, q, y = here[..., 0], here[..., 1], there[..., 0], there[..., 1]
    square = (r + q) ** 2 + (z - y) ** 2
    rest = ((r - q) ** 2 + (z - y) ** 2) / square
    m = 4 * r * q / square
    # On itself a ring has no finite value; such pairs are summed at other points.
    rest = np.maximum(rest, 1e-30)
    first, second = ellipkm1(rest), ellipe(1 - rest)
    # (K - E) / m tends to pi / 4 on the axis, where the difference of the two is lost.
    small = m < 1e-6
    ratio = np.where(small, pi / 4, (first - second) / np.where(small, 1.0, m))
    scale = 2 / (pi * np.sqrt(square))
    return scale * first, scale * (2 * ratio - first)


def ring_rest(here: Real, there: Real, k: float) -> tuple[Complex, Complex]:
    """Mean of (exp(-jkR) - 1)/R round a ring, and of cos(angle) times it. [1/m]"""
    x, w = leggauss(ROUND)
    half = (x + 1) * pi / 4
    # From angle = pi - 2 half: R^2 = a^2 - 4 r r' sin(half)^2.
    cosine = 2 * np.sin(half) ** 2 - 1
    r, q = here[..., 0, None], there[..., 0, None]
    square = r**2 + q**2 + (here[..., 1, None] - there[..., 1, None]) ** 2 - 2 * r * q * cosine
    distance = np.sqrt(np.maximum(square, 1e-24))
    # exp(-jx) - 1 without its cancellation.
    values = -(2 * np.sin(k * distance / 2) ** 2 + 1j * np.sin(k * distance)) / distance
    return values @ (w / 2), values @ (w / 2 * cosine)


@dataclass
class Sums:
    """Double integrals over pairs of elements: ``charge`` (n, n) of the ring's kernel; ``current``
    (n, n, 2, 2) of it times falling and rising roof and the cosine between directions. [m]"""

    charge: NDArray[np.complexfloating]
    current: NDArray[np.complexfloating]

    @classmethod
    def none(cls, n: int, kind: type) -> Sums:
        return cls(np.zeros((n, n), kind), np.zeros((n, n, 2, 2), kind))


def roofs(u: Real) -> Real:
    """Falling and rising part of a roof at shares of an element, (..., 2)."""
    return np.stack([1 - u, u], axis=-1)


def _at(curve: Curve, elements: NDArray[np.int64] | slice, u: Real) -> Real:
    """Points at shares of elements, (n_element, n_share, 2)."""
    return curve.start[elements, None] + u[..., None] * curve.step[elements, None]


def apart(curve: Curve, points: int, kernel, kind: type) -> Sums:
    """All pairs with as many Gauss points on either element."""
    x, w = leggauss(points)
    u, w = (x + 1) / 2, w / 2
    n, found = len(curve.length), Sums.none(len(curve.length), kind)
    there, weighed = _at(curve, slice(None), np.tile(u, (n, 1))), roofs(u) * w[:, None]
    for first in range(0, n, _BLOCK):
        rows = slice(first, min(first + _BLOCK, n))
        here = there[rows]
        plain, cosine = kernel(here[:, :, None, None], there[None, None])
        area = curve.length[rows, None] * curve.length[None]
        found.charge[rows] = area * np.einsum("apbq,p,q->ab", plain, w, w)
        flow = curve.along[rows, None, None, None] * curve.along[None, None, :, None]
        both = flow[..., 1] * plain + flow[..., 0] * cosine
        found.current[rows] = np.einsum("ab,apbq,pi,qj->abij", area, both, weighed, weighed)
    return found


def near_pairs(curve: Curve) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Elements whose rings come nearer than the longer of the two is long."""
    middle, half = curve.start + curve.step / 2, curve.length / 2
    between = np.linalg.norm(middle[:, None] - middle[None], axis=-1) - half[:, None] - half
    i, j = np.nonzero(between < 2 * np.maximum(half[:, None], half))
    return i, j


def static(curve: Curve) -> Sums:
    """The part without frequency, near pairs with points that crowd where two rings are nearest."""
    found = apart(curve, APART, ring_static, float)
    x, w = leggauss(OUTER)
    u, w = (x + 1) / 2, w / 2
    s, v = leggauss(INNER)
    s, v = (s + 1) / 2, v / 2
    pairs = near_pairs(curve)
    for first in range(0, len(pairs[0]), 2048):
        i, j = (side[first : first + 2048] for side in pairs)
        here = _at(curve, i, np.tile(u, (len(i), 1)))
        foot = np.einsum("nod,nd->no", here - curve.start[j, None], curve.along[j])
        foot = np.clip(foot / curve.length[j, None], 0, 1)[..., None]
        # Cubic steps away from the nearest place take the logarithm.
        inner = np.concatenate([foot * (1 - s**3), foot + (1 - foot) * s**3], axis=-1)
        weight = np.concatenate([foot * 3 * s**2 * v, (1 - foot) * 3 * s**2 * v], axis=-1)
        there = curve.start[j, None, None] + inner[..., None] * curve.step[j, None, None]
        plain, cosine = ring_static(here[:, :, None], there)
        area = curve.length[i] * curve.length[j]
        found.charge[i, j] = area * np.einsum("noq,o,noq->n", plain, w, weight)
        flow = (curve.along[i] * curve.along[j])[:, :, None, None]
        both = flow[:, 1] * plain + flow[:, 0] * cosine
        sums = np.einsum("noq,o,oa,noq,noqb->nab", both, w, roofs(u), weight, roofs(inner))
        found.current[i, j] = area[:, None, None] * sums
    # Both orders of a near pair are summed, with outer and inner turned round.
    found.charge = (found.charge + found.charge.T) / 2
    found.current = (found.current + found.current.transpose(1, 0, 3, 2)) / 2
    return found


def impedances(curve: Curve, still: Sums, frequency: float) -> Complex:
    """Matrix of the roofs at all inner points of the curve. [ohm]"""
    k = 2 * pi * frequency / SPEED_OF_LIGHT
    moving = apart(curve, SMOOTH, lambda here, there: ring_rest(here, there, k), complex)
    n, length = len(curve.length), curve.length
    charge = (still.charge + moving.charge) / (length[:, None] * length)
    current = still.current + moving.current
    z = np.zeros((n + 1, n + 1), complex)
    for p, q in itertools.product((0, 1), repeat=2):
        sign = 1 if p == q else -1
        part = 1j * k * current[:, :, p, q] + sign * charge / (1j * k)
        z[p : n + p, q : n + q] += WAVE_RESISTANCE / (4 * pi) * part
    return z[1:-1, 1:-1]


def strip(curve: Curve, body: Turned, port: Port, case: Case) -> Real:
    """Mean current up a port's strip per unknown: what a volt there drives, too."""
    row, length = np.zeros(len(curve.points)), 0.0
    for k in range(len(body.profile) - 1):
        if port not in ports_on(body, k, case):
            continue
        middle = curve.start[:, 1] + curve.step[:, 1] / 2
        inside = (curve.line == k) & (np.abs(middle - port.at[2]) < port.width / 2)
        share = np.where(inside, curve.step[:, 1] / port.width / 2, 0.0)
        row[:-1] += share
        row[1:] += share
        length += float(np.abs(curve.step[inside, 1]).sum())
    if abs(length - port.width) > 1e-9:
        raise ValueError(
            f"{case.name}: port {port.name}: strip is {length:g} m, not {port.width} m"
        )
    return row[1:-1]


def outside(curve: Curve, body: Turned) -> list[Layer]:
    """Elements of the outermost upright wall below z = 0, the last number of the tag is theirs."""
    up, layers = np.array([0.0, 0.0, 1.0]), []
    for k, (number, step) in enumerate(zip(curve.line, curve.step, strict=True)):
        z = float(curve.start[k, 1] + step[1] / 2)
        if z < 0 and lies_on(z, *body.profile[number : number + 2], body):
            layers.append(
                Layer((0, int(number), k), np.array([0.0, 0.0, z]), up, abs(float(step[1])), True)
            )
    return layers


def solve(curve: Curve, still: Sums, frequency: float, ports: Real) -> Complex:
    """Current at all points of the curve per volt at each port, along it, (n_point, n_port). [A]"""
    factors = lu_factor(impedances(curve, still, frequency), check_finite=False)
    inner = lu_solve(factors, ports.T.astype(complex), check_finite=False)
    return np.vstack([0 * inner[:1], inner, 0 * inner[:1]])


def current_moments(curve: Curve, current: Complex) -> tuple[Real, Complex]:
    """Points on the rings and their current moments, (n, 3) [m, A m], for the far field."""
    angle = 2 * pi * np.arange(AZIMUTHS) / AZIMUTHS
    middle = curve.start + curve.step / 2
    flowing = (current[1:] + current[:-1]) / 2 / AZIMUTHS

    def spread(both: Real) -> Real:
        r, z = both[:, :1], both[:, 1:]
        around = [r * np.cos(angle), r * np.sin(angle), z + 0 * angle]
        return np.stack(around, axis=-1).reshape(-1, 3)

    moments = np.repeat(flowing, AZIMUTHS)[:, None] * spread(curve.step)
    return spread(middle), moments
