"""Currents on closed metal surfaces: electric-field integral equation with edge (RWG) functions.

The boundary-element library gives the functions, the rules for pairs of triangles that touch (where
the kernel is singular) and Gauss rules for those that do not. The sums over points are written here
with moments: far faster than the library's own loop over functions, and free to take more points
where two walls are close. `library_error` compares the matrix with the library's.
Time factor exp(+j w t).

Every structure is its own mirror image in the plane y = 0 and so are its sources: mirrored edges
carry one unknown, and half of the pairs of triangles need no integration.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin, sqrt
from typing import Any

import bempp_cl.api as library
import numpy as np
from bempp_cl.api.integration.triangle_gauss import rule as gauss_rule

# The public way to the rules for touching pairs sums over them too, in the library's slow loop.
from bempp_cl.core.singular_assembler import (
    _SingularQuadratureRuleInterfaceGalerkin as TouchingRules,
)
from numba import njit
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve
from scipy.sparse import csr_matrix

from tests.validation.surface.radiation import SPEED_OF_LIGHT, WAVE_RESISTANCE

Real = NDArray[np.float64]
Whole = NDArray[np.int64]
Complex = NDArray[np.complex128]

# Gauss orders of pairs from far to near; a fourth is used on each quarter of both triangles.
# One step up everywhere moves a fat dipole's impedance by 3e-6 of itself.
ORDERS = (2, 4, 8, 8)
# A pair is nearer than level k when its least distance is below this many longest edges.
NEARER = (3.0, 1.0, 0.25)
# Order 5 left 0.1 % in the port of a thin cable, where triangles are four times longer than wide.
SINGULAR_ORDER = 7
# Of the far field: linear functions times a phase that turns little over a triangle.
FAR_ORDER = 4


@dataclass(frozen=True)
class Surface:
    """Edge functions on a closed mesh; triangle k + n/2 is the mirror image of triangle k.

    Attributes
    ----------
    corners : shape (n, 3, 3) [m], triangle, corner, coordinate
    unknown : shape (n, 3), unknown of the edge opposite each corner
    factor : shape (n, 3) [1/m]; the function there is factor * (r - corner)
    merge : shape (n_function, n_unknown), +-1 where a library function belongs to an unknown
    spaces : the library's edge functions and the same turned by the normal
    """

    corners: Real
    unknown: Whole
    factor: Real
    merge: Any
    spaces: tuple[Any, Any]

    @property
    def n_unknown(self) -> int:
        return int(self.merge.shape[1])


def _mirror_edges(grid: Any) -> Whole:
    """For each edge the edge that is its mirror image, found by the coordinates of its ends."""
    points = np.rint(grid.vertices.T * 1e8).astype(np.int64)
    number = {tuple(p): k for k, p in enumerate(points.tolist())}
    image = np.array([number[x, -y, z] for x, y, z in points.tolist()])
    edge = {tuple(sorted(e)): k for k, e in enumerate(grid.edges.T.tolist())}
    return np.array([edge[tuple(sorted(image[e].tolist()))] for e in grid.edges.T])


def _mirror_functions(grid: Any, function: Whole, direction: Real) -> tuple[Whole, Real]:
    """Image of each function, and -1 where the image flows against it.

    `direction` has shape (n_triangle, 3, 3): the flow of each triangle's three functions.
    """
    edges = np.asarray(grid.element_edges).T
    of_edge = np.empty(edges.max() + 1, dtype=np.int64)
    of_edge[edges] = function
    image = np.empty(len(of_edge), dtype=np.int64)
    image[of_edge] = of_edge[_mirror_edges(grid)]
    flow = np.zeros((len(image), 3))
    np.add.at(flow, function, direction)
    return image, np.sign(np.sum(flow[image] * flow * [1, -1, 1], axis=1))


def surface(vertices: Real, triangles: Whole) -> Surface:
    """Edge functions of a closed mesh that is symmetric about y = 0."""
    grid = library.Grid(vertices.T.copy(), triangles.T.astype(np.uint32))
    rwg = library.function_space(grid, "RWG", 0)
    corners = vertices[triangles]
    # The library's edges (0,1), (0,2), (1,2) lie opposite corners 2, 1, 0.
    length = np.linalg.norm(corners[:, [1, 2, 2]] - corners[:, [0, 0, 1]], axis=2)
    spread = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    corners = corners[:, [2, 1, 0]]
    factor = rwg.local_multipliers * length / np.linalg.norm(spread, axis=1)[:, None]
    function = np.asarray(rwg.local2global).astype(np.int64)
    flow = factor[:, :, None] * (corners.mean(axis=1, keepdims=True) - corners)
    image, sign = _mirror_functions(grid, function, flow)
    own = np.arange(len(image))
    # A function whose image is itself, reversed, flows across the plane and carries nothing.
    sign = np.where(own < image, 1.0, np.where((own == image) & (sign < 0), 0.0, sign))
    leaders = np.flatnonzero((own <= image) & (sign != 0))
    column = np.zeros(len(image), dtype=np.int64)
    column[leaders] = np.arange(len(leaders))
    column = column[np.minimum(own, image)]
    shape = (len(image), len(leaders))
    merge = csr_matrix((sign, (own, column)), shape=shape)
    turned = library.function_space(grid, "SNC", 0)
    return Surface(corners, column[function], factor * sign[function], merge, (rwg, turned))


def _quarters(points: Real, weights: Real) -> tuple[Real, Real]:
    """A rule on the reference triangle, used on its four quarters."""
    a, b = points
    halves = [
        (a / 2, b / 2),
        (a / 2 + 0.5, b / 2),
        (a / 2, b / 2 + 0.5),
        (0.5 - a / 2, 0.5 - b / 2),
    ]
    return np.array([np.concatenate(x) for x in zip(*halves, strict=True)]), np.tile(weights / 4, 4)


def _rules(corners: Real, orders: tuple[int, ...]) -> tuple[tuple[Real, ...], tuple[Real, ...]]:
    """Points (n, q, 3) [m] and weights (n, q) [m2] of each triangle for every order."""
    p, along, across = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    doubled = np.linalg.norm(np.cross(along, across), axis=1)
    points, weights = [], []
    for k, order in enumerate(orders):
        x, w = gauss_rule(order)
        if k == len(NEARER):
            x, w = _quarters(x, w)
        places = p[:, None] + x[0][:, None] * along[:, None] + x[1][:, None] * across[:, None]
        points.append(np.ascontiguousarray(places))
        weights.append(doubled[:, None] * w)
    return tuple(points), tuple(weights)


@njit(cache=True, fastmath=True)
def _least_distance(a: Real, b: Real) -> float:
    least = 1e300
    for i in range(len(a)):
        for j in range(len(b)):
            x, y, z = a[i, 0] - b[j, 0], a[i, 1] - b[j, 1], a[i, 2] - b[j, 2]
            least = min(least, x * x + y * y + z * z)
    return sqrt(least)


@njit(cache=True, fastmath=True)
def _moments(x: Real, wx: Real, y: Real, wy: Real, k: float) -> Complex:
    """Integrals over both triangles of G times 1, x (3), y (3) and x.y; G = e^(-jkR) / 4 pi R."""
    s = np.zeros(8, dtype=np.complex128)
    for i in range(len(wx)):
        g0, g1, g2, g3 = 0j, 0j, 0j, 0j
        for j in range(len(wy)):
            d0, d1, d2 = x[i, 0] - y[j, 0], x[i, 1] - y[j, 1], x[i, 2] - y[j, 2]
            r = sqrt(d0 * d0 + d1 * d1 + d2 * d2)
            a = wy[j] / r
            g = complex(a * cos(k * r), -a * sin(k * r))
            g0 += g
            g1 += g * y[j, 0]
            g2 += g * y[j, 1]
            g3 += g * y[j, 2]
        w = wx[i] / (4 * pi)
        s[0] += w * g0
        s[1] += w * x[i, 0] * g0
        s[2] += w * x[i, 1] * g0
        s[3] += w * x[i, 2] * g0
        s[4] += w * g1
        s[5] += w * g2
        s[6] += w * g3
        s[7] += w * (x[i, 0] * g1 + x[i, 1] * g2 + x[i, 2] * g3)
    return s


@njit(cache=True)
def _share_a_corner(a: Real, b: Real) -> bool:
    for i in range(3):
        for j in range(3):
            if np.abs(a[i] - b[j]).max() < 1e-9:
                return True
    return False


@njit(cache=True)
def _add_pair(matrix, s, one, other, scale):  # type: ignore[no-untyped-def]
    """Add the nine integrals of a pair from its moments.

    `one` and `other` are (corners, factor, unknown) of a triangle, `scale` is (weight, 4 / k^2).
    """
    p, f, u = one
    q, g, v = other
    for i in range(3):
        for j in range(3):
            dots = s[7] - scale[1] * s[0]
            for c in range(3):
                dots += p[i, c] * q[j, c] * s[0] - p[i, c] * s[4 + c] - q[j, c] * s[1 + c]
            matrix[u[i], v[j]] += scale[0] * f[i] * g[j] * dots


@njit(cache=True)
def _apart(matrix, mesh, size, rules, k):  # type: ignore[no-untyped-def]
    """Half of the sum over pairs that do not touch: add its transpose, and double."""
    corners, factor, unknown = mesh
    points, weights = rules
    half = len(corners) // 2
    for t in range(half):
        for s in range(t + 1):
            for other in (s, s + half):
                longest = max(size[t], size[other])
                level = 0
                apart = np.linalg.norm(points[0][t, 0] - points[0][other, 0])
                if apart < (NEARER[0] + 2) * longest:
                    if _share_a_corner(corners[t], corners[other]):
                        continue
                    least = _least_distance(points[2][t], points[2][other])
                    for limit in NEARER:
                        level += least < limit * longest
                    level = min(level, len(points) - 1)
                moments = _moments(
                    points[level][t], weights[level][t], points[level][other],
                    weights[level][other], k,
                )  # fmt: skip
                one = (corners[t], factor[t], unknown[t])
                two = (corners[other], factor[other], unknown[other])
                _add_pair(matrix, moments, one, two, (1.0 if s < t else 0.5, 4 / (k * k)))


@njit(cache=True, fastmath=True)
def _paired_moments(x: Real, y: Real, w: Real, k: float) -> Complex:
    """As `_moments`, over a rule whose points come in pairs; w has shape (n_point,)."""
    g0, g1, g2, g3, g4, g5, g6, g7 = 0j, 0j, 0j, 0j, 0j, 0j, 0j, 0j
    for i in range(len(w)):
        x0, x1, x2, y0, y1, y2 = x[i, 0], x[i, 1], x[i, 2], y[i, 0], y[i, 1], y[i, 2]
        d0, d1, d2 = x0 - y0, x1 - y1, x2 - y2
        r = sqrt(d0 * d0 + d1 * d1 + d2 * d2)
        a = w[i] / (4 * pi * r)
        g = complex(a * cos(k * r), -a * sin(k * r))
        g0 += g
        g1 += g * x0
        g2 += g * x1
        g3 += g * x2
        g4 += g * y0
        g5 += g * y1
        g6 += g * y2
        g7 += g * (x0 * y0 + x1 * y1 + x2 * y2)
    return np.array([g0, g1, g2, g3, g4, g5, g6, g7])


@njit(cache=True)
def _places(corners: Real, local: Real) -> Real:
    """Points of a triangle from local coordinates; the library's first corner is our last."""
    p = np.empty((local.shape[1], 3))
    for i in range(local.shape[1]):
        a, b = local[0, i], local[1, i]
        for c in range(3):
            p[i, c] = (1 - a - b) * corners[2, c] + a * corners[1, c] + b * corners[0, c]
    return p


@njit(cache=True)
def _touching(matrix, mesh, pairs, rules, k):  # type: ignore[no-untyped-def]
    """The share of pairs that touch in the half sum of `_apart`; each stands there twice."""
    corners, factor, unknown = mesh
    for n in range(len(pairs)):
        t, s, at, by, start, count = pairs[n]
        if t >= len(corners) // 2:
            continue
        doubled = 1.0
        for e in (t, s):
            c = corners[e]
            doubled *= float(np.linalg.norm(np.cross(c[1] - c[0], c[2] - c[0])))
        moments = _paired_moments(
            _places(corners[t], rules[0][:, at : at + count]),
            _places(corners[s], rules[1][:, by : by + count]),
            rules[2][start : start + count] * doubled, k,
        )  # fmt: skip
        one = (corners[t], factor[t], unknown[t])
        other = (corners[s], factor[s], unknown[s])
        _add_pair(matrix, moments, one, other, (0.5, 4 / (k * k)))


def _touching_rules(body: Surface) -> tuple[Whole, tuple[Real, ...]]:
    """Pairs that touch (test, trial, three offsets, count) and the library's points and weights."""
    support = body.spaces[0].support
    rule = TouchingRules(body.spaces[0].grid, SINGULAR_ORDER, support, support)
    x, y, w, *pairs = rule.get_arrays()
    return np.stack(pairs, axis=1).astype(np.int64), tuple(map(np.ascontiguousarray, (x, y, w)))


def impedances(body: Surface, frequency: float, orders: tuple[int, ...] = ORDERS) -> Complex:
    """Matrix of the field of each unknown tested with each, shape (n_unknown, n_unknown) [ohm m2].

    An unknown is a current density, so that a current through an edge of length l is l times it.
    """
    k = 2 * pi * frequency / SPEED_OF_LIGHT
    mesh = (body.corners, body.factor, body.unknown)
    size = np.linalg.norm(body.corners - np.roll(body.corners, 1, axis=1), axis=2).max(axis=1)
    matrix = np.zeros((body.n_unknown, body.n_unknown), dtype=np.complex128)
    _apart(matrix, mesh, size, _rules(body.corners, orders), k)
    _touching(matrix, mesh, *_touching_rules(body), k)
    matrix += matrix.T.copy()
    matrix *= 2j * k * WAVE_RESISTANCE
    return matrix


def mean_current(body: Surface, triangles: Whole, direction: Real, length: float) -> Real:
    """Row that gives the mean current along `direction` over a slab of a tube, per unknown [m].

    The same column impresses one volt over the slab: admittances are symmetric by construction.
    """
    p = body.corners[triangles]
    area = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1) / 2
    along = (p.mean(axis=1, keepdims=True) - p) @ direction
    row = np.zeros(body.n_unknown)
    part = body.factor[triangles] * along * area[:, None] / length
    np.add.at(row, body.unknown[triangles], part)
    return row


def solve(matrix: Complex, ports: Real) -> Complex:
    """Unknowns for one volt at each port, shape (n_unknown, n_port)."""
    factored = lu_factor(matrix, overwrite_a=True, check_finite=False)
    return np.asarray(lu_solve(factored, ports.T.astype(np.complex128), check_finite=False))


def current_moments(body: Surface, unknowns: Complex) -> tuple[Real, Complex]:
    """Points [m] and moments [A m] that radiate as the currents do, both of shape (n_point, 3)."""
    points, weights = (x[0] for x in _rules(body.corners, (FAR_ORDER,)))
    size = body.factor * unknowns[body.unknown]
    density = np.einsum("ti,tqix->tqx", size, points[:, :, None] - body.corners[:, None])
    return points.reshape(-1, 3), (density * weights[:, :, None]).reshape(-1, 3)


def library_error(body: Surface, frequency: float, order: int) -> float:
    """Largest difference from the library's own full operator, over its largest entry."""
    k = 2 * pi * frequency / SPEED_OF_LIGHT
    rwg, turned = body.spaces
    library.GLOBAL_PARAMETERS.quadrature.regular = order
    library.GLOBAL_PARAMETERS.quadrature.singular = SINGULAR_ORDER
    operator = library.operators.boundary.maxwell.electric_field(rwg, rwg, turned, k)
    full = np.asarray(operator.weak_form().A).conj()
    full = body.merge.T @ (body.merge.T @ full).T * WAVE_RESISTANCE
    ours = impedances(body, frequency, (order, order, order))
    return float(np.abs(ours - (full + full.T) / 2).max() / np.abs(full).max())
