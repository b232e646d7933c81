"""Tube structures as they are written down in `cases/*.json`; all lengths in m.

A tube is a straight or bent axis with an outside diameter. Where the end of its axis lies on the
axis of another tube, it lands on that tube's wall and the two are joined there. Where it is the end
of a thicker tube on the same line, the thinner tube comes out of the thicker one's cap. Any other
end is closed with a flat cap. Bends are mitred. The structure is its own mirror image in the plane
y = 0: an axis lies in that plane, or wholly at y > 0 and its image is understood.
"""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]
CASES = Path(__file__).parent / "cases"
ON_AXIS = 1e-6


@dataclass(frozen=True)
class Tube:
    """One tube; `axis` has shape (n, 3), a closed one returns to its first point."""

    name: str
    diameter: float
    axis: Real
    closed: bool

    @property
    def legs(self) -> list[tuple[Real, Real]]:
        """Straight pieces from point to point."""
        ends = np.vstack([self.axis, self.axis[:1]]) if self.closed else self.axis
        return list(itertools.pairwise(ends))

    @property
    def in_plane(self) -> bool:
        return bool(np.all(self.axis[:, 1] == 0))


@dataclass(frozen=True)
class Turned:
    """A body of revolution about the z axis: wall points (r, z) from top to bottom."""

    name: str
    profile: Real


@dataclass(frozen=True)
class Port:
    """A strip of the wall over which a uniform axial field is impressed.

    `at` is the strip's middle on the axis; positive is the direction of the tube's axis, for a
    turned body upward.
    """

    name: str
    tube: str
    at: Real
    width: float


@dataclass(frozen=True)
class Case:
    """A structure, its ports and the frequencies [Hz] it is solved at."""

    name: str
    about: str
    tubes: tuple[Tube, ...]
    turned: tuple[Turned, ...]
    ports: tuple[Port, ...]
    current_along: str | None
    frequencies: Real


def distance_to_line(point: Real, start: Real, end: Real) -> float:
    """Distance of a point from a straight piece [m]."""
    along = end - start
    share = np.clip((point - start) @ along / (along @ along), 0, 1)
    return float(np.linalg.norm(point - start - share * along))


def landing(case: Case, tube: Tube, end: Real) -> tuple[Tube, int] | None:
    """The tube and the straight piece of it that an end of `tube` lands on."""
    for other in case.tubes:
        for k, (start, stop) in enumerate(other.legs):
            if other is not tube and distance_to_line(end, start, stop) < ON_AXIS:
                inside = min(np.linalg.norm(end - start), np.linalg.norm(end - stop))
                if inside > other.diameter / 2:
                    return other, k
    return None


def goes_on_as(case: Case, tube: Tube, end: Real) -> Tube | None:
    """The tube that begins where an end of `tube` is, on the same line but not as thick."""
    way = _leaving(tube, end)
    for other in case.tubes:
        ends = [] if other is tube or other.closed else [other.axis[0], other.axis[-1]]
        if not any(np.linalg.norm(x - end) < ON_AXIS for x in ends):
            continue
        if np.linalg.norm(way + _leaving(other, end)) < ON_AXIS:
            return other
    return None


def _leaving(tube: Tube, end: Real) -> Real:
    """Unit vector along which a tube leaves one of its ends."""
    first = np.linalg.norm(tube.axis[0] - end) < ON_AXIS
    a, b = tube.axis[:2] if first else tube.axis[:-3:-1]
    return np.asarray((b - a) / np.linalg.norm(b - a))


def _need(case: Case, held: bool, text: str) -> None:
    if not held:
        raise ValueError(f"{CASES.name}/{case.name}.json: {text}")


def _check(case: Case) -> None:
    names = [t.name for t in case.tubes] + [t.name for t in case.turned]
    _need(case, len(names) == len(set(names)), f"tubes: names {names} must differ, rename one")
    for tube in case.tubes:
        y = tube.axis[:, 1]
        _need(
            case, tube.in_plane or (len(y) == 2 and y.min() >= 0),
            f"tubes: {tube.name}: axis has y = {y.tolist()} m, allowed is 0 throughout, or one"
            " straight piece at y > 0 (it may start on the plane)",
        )  # fmt: skip
        _need(
            case, tube.diameter > 0,
            f"tubes: {tube.name}: diameter_m {tube.diameter} must be above 0",
        )  # fmt: skip
    for port in case.ports:
        _need(
            case, port.tube in names,
            f"ports: {port.name}: tube {port.tube!r} is none of {names}",
        )  # fmt: skip


def case_of(name: str, text: str) -> Case:
    """A case from the text of its file; faults name file, key and value."""
    raw: dict[str, Any] = json.loads(text)
    tubes = tuple(
        Tube(t["name"], t["diameter_m"], np.array(t["axis_m"], float), t.get("closed", False))
        for t in raw.get("tubes", [])
    )
    turned = tuple(Turned(t["name"], np.array(t["wall_m"], float)) for t in raw.get("turned", []))
    ports = tuple(
        Port(p["name"], p["tube"], np.array(p["at_m"], float), p["width_m"]) for p in raw["ports"]
    )
    frequencies = np.array(raw["frequencies_MHz"], float) * 1e6
    case = Case(name, raw["about"], tubes, turned, ports, raw.get("current_along"), frequencies)
    _check(case)
    return case


def read_case(name: str) -> Case:
    """A stored case by its name."""
    return case_of(name, (CASES / f"{name}.json").read_text(encoding="utf-8"))
