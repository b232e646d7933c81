"""Lengths and grading of segments, and what the solver must never be given.

Wires come in as drawn, cut wires and :class:`Fault` lists go out. The limits are those of
the thin-wire approximation as the NEC-2 theory manual (Burke and Poggio, 1981) states them.

Segments are 0.55 pipe diameters long at joints and grow by a third per segment to half the leg
spacing in the stub and 1/25 wavelength on the radiator. A port on a segment whose neighbours are
longer or shorter makes the port matrix unsymmetric, so segments stay even around every port.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from models.faults import Fault
from models.lengths import large
from models.wires.structure import GRID, Material, Point, Structure, Wire, grid_point, grid_points

# A segment longer than this carries more than one value of current (NEC-2 user's guide: 0.1).
MAX_WAVELENGTHS_PER_SEGMENT = 0.1
# Below this ratio of length to radius the thin-wire kernel loses meaning (theory manual: about 2).
MIN_LENGTH_PER_RADIUS = 2.0
# The feed of legs that stand close is cut in three even so: with its source beside two joints, on
# one long segment, impedance was 14 % off and the average gain said nothing; with three of 1.8
# radii it is 9 % off. Radius over length; above this there is no room for three.
MAX_FEED_THICKNESS = 0.84
# Up to here a feed of five such segments is as good as any: of the J-poles solved on their tubes
# J1, J3, A1 and A2 have 0.51 to 0.56 and power radiated within a per cent of power fed.
SOUND_FEED_THICKNESS = 0.56
# Neighbours in line may differ by this factor before the current basis suffers.
MAX_NEIGHBOUR_RATIO = 2.5


# Segments of the largest drawing that is solved, the finer twin as a rule: 1.2 GB and one or two
# minutes a frequency.
MOST_SEGMENTS = 6000
# A finer twin has segments a quarter shorter.
_TWIN = 0.75
# Wires that are held against all others at a time.
_BLOCK = 256
# Cuts of what is one segment.
_WHOLE = np.array([0.0, 1.0])
_WHOLE.flags.writeable = False


@dataclass(frozen=True)
class SegmentRule:
    """Target segment lengths [m]: at joints and ends, elsewhere, and the growth in between.

    No segment is made shorter than ``least`` unless the whole length is.
    """

    fine: float
    coarse: float
    growth: float = 0.35
    least: float = 0.0


# Geometries of a study, and a drawing and its twin, share most of their lengths.
@lru_cache(maxsize=4096)
def cuts(length: float, at_start: float, at_end: float, rule: SegmentRule) -> NDArray[np.float64]:
    """Places, as fractions of a length, where it is cut into graded segments. [-]

    ``length`` [m] is cut with ``at_start`` and ``at_end`` [m] wanted at either end: the wanted
    length h(s) = min(at_start + g s, at_end + g (L - s), coarse) is met by equal steps of the
    integral of ds / h. Shape (n_segment + 1,), increasing from 0 to 1, not to be written to.
    Definition.

    Examples
    --------
    >>> cuts(1.0, 0.25, 0.25, SegmentRule(0.25, 0.25)).tolist()
    [0.0, 0.25, 0.5, 0.75, 1.0]
    """
    if length <= min(at_start, at_end, rule.coarse):
        # Nowhere is less than all of it wanted: one segment.
        return _WHOLE
    s = np.linspace(0.0, length, 2001)
    wanted = np.minimum(at_start + rule.growth * s, at_end + rule.growth * (length - s))
    density = 1.0 / np.minimum(wanted, rule.coarse)
    count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(s))])
    for n in range(max(1, int(np.ceil(count[-1] - 1e-6))), 0, -1):
        places = np.interp(np.linspace(0.0, count[-1], n + 1), count, s / length)
        places[0], places[-1] = 0.0, 1.0
        if n == 1 or np.diff(places).min() * length >= rule.least:
            break
    places.flags.writeable = False
    return np.asarray(places)


def graded_wires(
    start: Point,
    end: Point,
    places: NDArray[np.float64],
    radius: float,
    part: str,
    material: Material,
) -> list[Wire]:
    """One conductor cut at ``places`` (fractions), as a run of wires of one segment each.

    Equal cuts become a single wire of many segments, which keeps card decks readable.
    """
    p, q = np.asarray(start), np.asarray(end)
    n = len(places) - 1
    if n > 1 and np.allclose(np.diff(places), 1.0 / n, rtol=0.02):
        return [Wire(grid_point(p), grid_point(q), n, radius, part, material)]
    nodes = grid_points(p + places[:, None] * (q - p))
    return [Wire(a, b, 1, radius, part, material) for a, b in itertools.pairwise(nodes)]


def split_wire(wires: list[Wire], point: Point) -> list[Wire]:
    """Cut the wire that passes through ``point``, so that another may be joined there.

    Raises ValueError if no wire passes through it.
    """
    for index, wire in enumerate(wires):
        along = np.subtract(wire.end, wire.start)
        t = float(np.dot(np.subtract(point, wire.start), along) / np.dot(along, along))
        miss = np.linalg.norm(np.asarray(wire.start) + t * along - np.asarray(point))
        if 1e-6 < t < 1 - 1e-6 and miss < 2 * GRID:
            n = max(1, min(wire.n_segments - 1, round(t * wire.n_segments)))
            first = replace(wire, end=point, n_segments=n)
            last = replace(wire, start=point, n_segments=max(1, wire.n_segments - n))
            return [*wires[:index], first, last, *wires[index + 1 :]]
    raise ValueError(f"no wire passes through {point}")


def closest_approach(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    start_other: NDArray[np.float64],
    end_other: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Distance between two straight lines, row by row; all shapes (n, 3) -> (n,). [m]

    References
    ----------
    .. [1] C. Ericson, "Real-Time Collision Detection", 2005, section 5.1.9.

    Examples
    --------
    >>> x, y = np.array([[1.0, 0, 0]]), np.array([[0.0, 1, 0]])
    >>> closest_approach(0 * x, x, y + 2 * x, 3 * y + 2 * x).round(6).tolist()
    [1.414214]
    """
    p, q, a, b = start, end, start_other, end_other
    u, v, w = q - p, b - a, p - a
    uu, uv, vv = (np.einsum("ij,ij->i", x, y) for x, y in ((u, u), (u, v), (v, v)))
    uw, vw = np.einsum("ij,ij->i", u, w), np.einsum("ij,ij->i", v, w)
    denominator = uu * vv - uv**2
    safe = np.where(denominator > 1e-12 * uu * vv, denominator, 1.0)
    s = np.where(denominator > 1e-12 * uu * vv, np.clip((uv * vw - vv * uw) / safe, 0, 1), 0.0)
    t = (uv * s + vw) / vv
    s = np.where(t < 0, np.clip(-uw / uu, 0, 1), np.where(t > 1, np.clip((uv - uw) / uu, 0, 1), s))
    t = np.clip(t, 0, 1)
    gap = (p + s[:, None] * u) - (a + t[:, None] * v)
    return np.asarray(np.linalg.norm(gap, axis=1))


def _describe(wire: Wire) -> str:
    x, y, z = (0.5 * (a + b) for a, b in zip(wire.start, wire.end, strict=True))
    return f"the {wire.part} at x {large(x)}, y {large(y)}, z {large(z)}"


def collisions(structure: Structure, keys: Mapping[str, str] | None = None) -> list[Fault]:
    """Pairs of conductors that touch or cross anywhere but at a common end.

    The solver accepts many of these and returns plausible nonsense, so they are found first.
    ``keys`` says where in the study the parts stand that are neither antenna nor cable.
    """
    wires = structure.wires
    start = np.array([w.start for w in wires])
    end = np.array([w.end for w in wires])
    radius = np.array([w.radius for w in wires])
    i, j = _near_pairs(start, end, radius)
    ends = [(start[i], start[j]), (start[i], end[j]), (end[i], start[j]), (end[i], end[j])]
    joined = np.sum([np.all(a == b, axis=1) for a, b in ends], axis=0)
    gap = closest_approach(start[i], end[i], start[j], end[j])
    wrong = ((joined == 0) & (gap < radius[i] + radius[j])) | (joined > 1)
    wrong |= (joined == 1) & _folds_back(start, end, i, j)
    problems = []
    for a, b in zip(i[wrong][:5], j[wrong][:5], strict=True):
        rule = f"{_describe(wires[a])} and {_describe(wires[b])} touch or cross"
        key, remedy = _who_moves({wires[a].part, wires[b].part}, keys or {})
        problems.append(Fault(key, "", rule, remedy, "wires-cross"))
    return problems


def _near_pairs(
    start: NDArray[np.float64], end: NDArray[np.float64], radius: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Indices i < j of wires whose boxes overlap, some rows at a time to save memory."""
    # One axis after the other, each in a row of its own: much quicker than all three at once.
    low = np.ascontiguousarray((np.minimum(start, end) - radius[:, None]).T)
    high = np.ascontiguousarray((np.maximum(start, end) + radius[:, None]).T)
    first, second = [], []
    for row in range(0, len(radius), _BLOCK):
        rows = slice(row, row + _BLOCK)
        near = np.ones((len(radius[rows]), len(radius) - row), dtype=bool)
        for least, most in zip(low, high, strict=True):
            near &= least[rows, None] <= most[row:]
            near &= least[row:] <= most[rows, None]
        i, j = np.nonzero(near)
        after = j > i
        first.append(i[after] + row)
        second.append(j[after] + row)
    return np.concatenate(first), np.concatenate(second)


def too_many(structure: Structure, keys: Mapping[str, str]) -> list[Fault]:
    """A drawing larger than can be solved, with the length of its largest part that would do.

    ``keys`` as for :func:`collisions`.
    """
    n = len(structure.segments)
    if n <= MOST_SEGMENTS:
        return []
    counts: dict[str, int] = {}
    lengths: dict[str, float] = {}
    for w in structure.wires:
        counts[w.part] = counts.get(w.part, 0) + w.n_segments
        lengths[w.part] = lengths.get(w.part, 0.0) + w.length
    part = max(counts, key=counts.__getitem__)
    # What is drawn may be the usual drawing or its twin; the room left is that of the twin.
    room = max(0.0, _TWIN * MOST_SEGMENTS - (n - counts[part])) / counts[part]
    rule = f"takes {n} segments, of which the {part} has {counts[part]}; at most {MOST_SEGMENTS}"
    rule += " can be solved"
    if part == "shield":
        most = large(0.98 * room * lengths[part], 1, "down")
        remedy = (
            f"end the route after {most} (cable.length may stay what it is: it counts for the loss)"
        )
        return [Fault("cable.route", "", rule, remedy, "segments-many")]
    remedy = f"make the {part} {100 * 0.98 * room:.0f} % as long or lower the frequency"
    return [Fault(keys.get(part, "antenna"), "", rule, remedy, "segments-many")]


def _who_moves(parts: set[str], keys: Mapping[str, str]) -> tuple[str, str]:
    """Key of the study that is to blame for two parts that touch, and what to do."""
    named = [part for part in keys if part in parts]
    if named:
        # What was written last gives way.
        return keys[named[-1]], f"move the {named[-1]} by more than its thickness"
    if parts == {"antenna"}:
        # Pipes are cages of wires as thick as the shield.
        return (
            "antenna",
            "take a thicker pipe, a cable with a thinner shield, or legs further apart",
        )
    return "cable.route", "move the cable, or what is on it, away by more than its thickness"


def _folds_back(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    i: NDArray[np.int64],
    j: NDArray[np.int64],
) -> NDArray[np.bool_]:
    """Whether two wires that share one end lie on each other (angle below ten degrees)."""
    at_start = np.all(start[i] == start[j], axis=1) | np.all(start[i] == end[j], axis=1)
    shared = np.where(at_start[:, None], start[i], end[i])
    away_i = np.where(np.all(start[i] == shared, axis=1)[:, None], end[i], start[i]) - shared
    away_j = np.where(np.all(start[j] == shared, axis=1)[:, None], end[j], start[j]) - shared
    cosine = np.einsum("ij,ij->i", away_i, away_j) / (
        np.linalg.norm(away_i, axis=1) * np.linalg.norm(away_j, axis=1)
    )
    return np.asarray(cosine > np.cos(np.radians(10.0)))


def segment_limits(structure: Structure, wavelength: float, above_ground: bool) -> list[Fault]:
    """Segments too long, too short, too low or too unlike their neighbours."""
    seg = structure.segments
    least = np.full(len(seg.length), MIN_LENGTH_PER_RADIUS)
    feeds = [w for p in structure.ports if p.name == "feed" for w in (p.wire, *dict(p.beside))]
    least[np.isin(seg.wire, feeds)] = 1.0 / MAX_FEED_THICKNESS
    checks: list[tuple[NDArray[np.bool_], str, str]] = [
        (
            seg.length > MAX_WAVELENGTHS_PER_SEGMENT * wavelength,
            f"a segment is longer than {MAX_WAVELENGTHS_PER_SEGMENT:g} wavelength",
            "segment-long",
        ),
        (
            seg.length < least * seg.radius,
            f"a segment is shorter than {MIN_LENGTH_PER_RADIUS:g} times its radius",
            "segment-short",
        ),
    ]
    if above_ground:
        lowest = np.minimum(seg.start[:, 2], seg.end[:, 2]) - seg.radius
        checks.append((lowest <= 0.0, "a conductor touches or enters the ground", "below-ground"))
    problems = []
    for bad, rule, tag in checks:
        if bad.any():
            wire = structure.wires[int(seg.wire[np.argmax(bad)])]
            problems.append(
                Fault(
                    place="geometry",
                    value=f"{structure.name}: {_describe(wire)}",
                    rule=rule,
                    remedy="change the lengths so that no part is that short, long or low",
                    tag=tag,
                )
            )
    return problems


def feed_thickness(structure: Structure) -> float:
    """Wire radius over length of the segment that is fed; sound to ``SOUND_FEED_THICKNESS``. [-]

    Definition.
    """
    fed = structure.port_segments[structure.port_index("feed")]
    seg = structure.segments
    return float(seg.radius[fed] / seg.length[fed])


def worst_neighbour_ratio(structure: Structure) -> float:
    """Largest ratio of lengths of two segments in line that meet end to end. [-]

    Only joints of exactly two segments count; at a branching joint sizes are set by the rule.
    Definition.

    Examples
    --------
    >>> from models.wires.structure import Structure, Wire
    >>> ends = ((0, 0, 0), (0, 0, 1), (0, 0, 3))
    >>> wires = tuple(Wire(a, b, 1, 0.01, "x") for a, b in itertools.pairwise(ends))
    >>> worst_neighbour_ratio(Structure("two", wires, ()))
    2.0
    """
    seg = structure.segments
    ends: dict[tuple[float, float, float], list[int]] = {}
    for points in (seg.start, seg.end):
        for index, point in enumerate(grid_points(points)):
            ends.setdefault(point, []).append(index)
    ratios = [
        max(seg.length[a], seg.length[b]) / min(seg.length[a], seg.length[b])
        for a, b in (pair for pair in ends.values() if len(pair) == 2)
    ]
    return float(max(ratios, default=1.0))
