"""Wires, joints and ports of an antenna installation, in SI units; knows no solver.

Lengths in metres, x from the long leg to the short leg, z up, the ground (where there is one)
at z = 0. A wire is straight and cut into equal segments; graded spacing is a run of short wires.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.faults import Fault
from models.wires.loads import Load

Point = tuple[float, float, float]

# Nodes are rounded to this grid [m] so that ends that meet are equal to the last bit. A power of
# two keeps the solver's own crossing test exact: on a decimal grid it refused sound joints.
GRID = 2.0**-20


class GeometryError(Exception):
    """A geometry that the field solver must never see; carries :class:`Fault` data."""

    def __init__(self, *problems: Fault) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "; ".join(f"{p.place}: {p.rule}" for p in self.problems)


@dataclass(frozen=True)
class Material:
    """Metal and jacket of a wire.

    ``conductivity`` [S/m] is that of a round wire of the wire's own radius that loses what the
    real part loses (infinite: no loss); ``jacket_inductance`` [H/m] stands for the jacket.
    """

    conductivity: float = np.inf
    jacket_inductance: float = 0.0


PERFECT = Material()


@dataclass(frozen=True)
class Wire:
    """A straight round conductor cut into equal segments."""

    start: Point
    end: Point
    n_segments: int
    radius: float
    part: str
    material: Material = PERFECT

    @property
    def length(self) -> float:
        """Length [m]."""
        return float(np.linalg.norm(np.subtract(self.end, self.start)))


@dataclass(frozen=True)
class Port:
    """A segment that a source or a series impedance may sit in.

    ``position`` is the distance along the shield from the joint with the antenna (None off the
    shield); ``series_inductance`` is what the real conductor adds to the drawn one,
    ``shunt_capacitance`` what lies across whatever is put in series there. ``beside`` names more
    segments, as (wire, segment), that are driven in parallel with it: the wires of a pipe that is
    cut through.
    """

    name: str
    wire: int
    segment: int
    position: float | None = None
    series_inductance: float = 0.0
    beside: tuple[tuple[int, int], ...] = ()
    shunt_capacitance: float = 0.0


@dataclass(frozen=True)
class Segments:
    """All segments of a structure in solver order, as arrays of shape (n_segment, ...)."""

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    radius: NDArray[np.float64]
    wire: NDArray[np.int64]

    @cached_property
    def centre(self) -> NDArray[np.float64]:
        """Middle of each segment, shape (n_segment, 3) [m]."""
        return np.asarray(0.5 * (self.start + self.end))

    @cached_property
    def length(self) -> NDArray[np.float64]:
        """Length of each segment, shape (n_segment,) [m]."""
        return np.asarray(np.linalg.norm(self.end - self.start, axis=1))

    @cached_property
    def direction(self) -> NDArray[np.float64]:
        """Unit vector from start to end, shape (n_segment, 3)."""
        return np.asarray((self.end - self.start) / self.length[:, None])

    def __len__(self) -> int:
        return len(self.radius)

    def some(self, rows: NDArray[np.bool_]) -> Segments:
        """Segments of some rows, in their order; ``rows`` has shape (n_segment,)."""
        return Segments(self.start[rows], self.end[rows], self.radius[rows], self.wire[rows])


@dataclass(frozen=True)
class Structure:
    """An installation as the solver sees it: wires in order, and named ports on them.

    ``shield_path`` holds, for each segment of the shield in order from the antenna, its segment
    index and the distance of its centre along the cable; ``shield_beside`` the segments that carry
    the current together with one of those, by its index: the cage of a sleeve. ``loads`` are
    circuit elements in series with ports of their names.
    """

    name: str
    wires: tuple[Wire, ...]
    ports: tuple[Port, ...]
    shield_path: tuple[tuple[int, float], ...] = ()
    loads: tuple[Load, ...] = ()
    notes: tuple[str, ...] = field(default=())
    shield_beside: tuple[tuple[int, tuple[int, ...]], ...] = ()

    @cached_property
    def first_segment(self) -> NDArray[np.int64]:
        """Index of each wire's first segment, with the total appended; shape (n_wire + 1,)."""
        counts = [w.n_segments for w in self.wires]
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)

    @cached_property
    def segments(self) -> Segments:
        """All segments in solver order."""
        counts = np.array([w.n_segments for w in self.wires], dtype=np.int64)
        wire = np.repeat(np.arange(len(counts), dtype=np.int64), counts)
        step = np.arange(len(wire)) - np.repeat(self.first_segment[:-1], counts)
        begin, finish, part = (
            np.array(values)[wire]
            for values in (
                [w.start for w in self.wires],
                [w.end for w in self.wires],
                1.0 / counts,
            )
        )
        radius = np.array([w.radius for w in self.wires])[wire]
        # The last node is the wire's end to the bit, whatever the steps add up to.
        last = np.where(step + 1 == counts[wire], 1.0, (step + 1) * part)
        before, after = (step * part)[:, None], last[:, None]
        start = begin * (1 - before) + finish * before
        end = begin * (1 - after) + finish * after
        return Segments(start, end, radius, wire)

    def port_segment(self, port: Port) -> int:
        """Index of the segment that a port sits in."""
        return int(self.first_segment[port.wire]) + port.segment

    @cached_property
    def port_segments(self) -> NDArray[np.int64]:
        """Segment index of every port, the first of those driven together; shape (n_port,)."""
        return np.array([self.port_segment(p) for p in self.ports], dtype=np.int64)

    @cached_property
    def shield_spans(self) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
        """Ports on the cable, and where along it the segment of each begins and ends. [-, m, m]"""
        own = [
            (index, float(port.position), self.port_segment(port))
            for index, port in enumerate(self.ports)
            if port.position is not None and port.name.startswith("shield")
        ]
        middle = np.array([position for _, position, _ in own])
        half = 0.5 * self.segments.length[np.array([k for *_, k in own], dtype=np.int64)]
        return np.array([i for i, *_ in own], dtype=np.int64), middle - half, middle + half

    @cached_property
    def port_groups(self) -> tuple[tuple[int, ...], ...]:
        """Indices of the segments of every port that are driven together."""
        first = self.first_segment
        return tuple(
            (self.port_segment(p), *(int(first[w]) + s for w, s in p.beside)) for p in self.ports
        )

    def through_ports(self, currents: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """Current through every port, (..., n_port), of segment currents (..., n_segment). [A]"""
        sums = [currents[..., list(group)].sum(axis=-1) for group in self.port_groups]
        return np.stack(sums, axis=-1)

    def along_shield(self, currents: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """Current along the cable, (..., n_shield), of segment currents (..., n_segment). [A]

        Over a sleeve that is the current on its outside.
        """
        found = np.array(currents[..., [k for k, _ in self.shield_path]])
        beside = dict(self.shield_beside)
        for place, (k, _) in enumerate(self.shield_path):
            if k in beside:
                found[..., place] += currents[..., list(beside[k])].sum(axis=-1)
        return found

    def port_index(self, name: str) -> int:
        """Index of a named port; KeyError if there is none."""
        for index, port in enumerate(self.ports):
            if port.name == name:
                return index
        raise KeyError(f"{self.name} has no port {name!r}")

    def has_port(self, name: str) -> bool:
        """Whether a port of that name exists."""
        return any(port.name == name for port in self.ports)

    def parts(self) -> tuple[str, ...]:
        """Names of the parts present, in order of appearance."""
        return tuple(dict.fromkeys(w.part for w in self.wires))


def grid_point(point: Iterable[float]) -> Point:
    """Point rounded to the node grid, so that equal nodes are equal to the bit.

    Examples
    --------
    >>> grid_point((0.1 + 0.2, 0.0, 1.0)) == grid_point((0.3, 0.0, 1.0))
    True
    """
    # Adding zero turns -0.0 into 0.0.
    x, y, z = (round(float(c) / GRID) * GRID + 0.0 for c in point)
    return (x, y, z)


def grid_points(points: NDArray[np.float64]) -> list[Point]:
    """Points of shape (n, 3) rounded to the node grid, to the bit as :func:`grid_point`. [m]

    Examples
    --------
    >>> grid_points(np.array([[0.1, 0.2, 1.0]])) == [grid_point((0.1, 0.2, 1.0))]
    True
    """
    return [(x, y, z) for x, y, z in (np.rint(points / GRID) * GRID + 0.0).tolist()]
