"""The way of the coax as a polyline: from the tap to the radio, with a coil where there is one.

Route steps come in, corners and their distance along the cable go out. Positions are measured
along the cable from the axis of the leg that the shield is joined to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import Joint
from models.faults import Fault
from models.lengths import large, small
from models.wires.structure import GeometryError, Point, grid_point

# Corners of a turn of a coil; a refined run takes more.
CORNERS_PER_TURN = 16
# Lowest a cable may run: the thin-wire field solver has no model of a wire lying on the soil.
LOWEST_RUN = 0.05
# What a first step should have outside of the pipe that it begins at. [m]
BEYOND_PIPE = 0.03


# Directions in which a cable goes, each with the one that leads straight back.
OPPOSITE = {
    "out": "back",
    "back": "out",
    "left": "right",
    "right": "left",
    "up": "down",
    "down": "up",
}


@dataclass(frozen=True)
class Step:
    """One step of the route: a direction and a length [m], or the height [m] to go down to.

    A bond is a step without a length.
    """

    go: str
    length: float

    def move(self, height: float) -> tuple[str, float]:
        """Direction and length [m] from a height [m]; no length to a height that is not below it.

        Examples
        --------
        >>> Step("down_to", 0.5).move(8.0), Step("out", 6.0).move(0.5)
        (('down', 7.5), ('out', 6.0))
        """
        return ("down", height - self.length) if self.go == "down_to" else (self.go, self.length)


@dataclass(frozen=True)
class Helix:
    """A coil of the cable itself, hanging in the downward run with its axis vertical.

    ``position`` [m] is where along the cable it begins; ``diameter`` is that of the cable's
    axis, ``pitch`` the distance between neighbouring turns [m].
    """

    position: float
    turns: int
    diameter: float
    pitch: float

    @property
    def height(self) -> float:
        """Length of the winding [m]."""
        return self.turns * self.pitch

    @property
    def cable(self) -> float:
        """Length of cable wound up [m]."""
        return float(self.turns * np.hypot(np.pi * self.diameter, self.pitch))


@dataclass(frozen=True)
class RouteNode:
    """A corner of the route: place, distance along the cable, and what happens there."""

    point: Point
    position: float
    mark: str = ""


@dataclass(frozen=True)
class Route:
    """The cable's axis as a polyline, from the tap to the radio."""

    nodes: tuple[RouteNode, ...]
    coil: tuple[float, float] | None = None

    @property
    def length(self) -> float:
        """Cable from the tap to the radio, coil included [m]."""
        return self.nodes[-1].position

    def marked(self, mark: str) -> RouteNode | None:
        """The node with a mark, if there is one."""
        return next((n for n in self.nodes if n.mark == mark), None)

    def direction(self) -> NDArray[np.float64]:
        """Unit vector of the last stretch."""
        last = np.subtract(self.nodes[-1].point, self.nodes[-2].point)
        return np.asarray(last / np.linalg.norm(last))


def _directions(away: Point) -> dict[str, NDArray[np.float64]]:
    out = np.asarray(away, dtype=float)
    left = np.cross([0.0, 0.0, 1.0], out)
    up = np.array([0.0, 0.0, 1.0])
    return {"out": out, "back": -out, "left": left, "right": -left, "up": up, "down": -up}


def _step_vector(
    step: Step, number: int, here: NDArray[np.float64], ways: dict[str, NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Displacement of one step; checks that a step to a height goes down."""
    go, length = step.move(float(here[2]))
    if step.go == "down_to" and length <= 0:
        raise GeometryError(
            Fault(
                f"cable.route[{number}].down_to",
                large(step.length),
                f"is not below the place the cable has reached ({large(here[2])} above ground)",
                f"down_to: {large(max(LOWEST_RUN, here[2] / 2))}",
                "route-upward",
            )
        )
    return np.asarray(length * ways[go])


def lay_route(
    joint: Joint,
    steps: tuple[Step, ...],
    helix: Helix | None,
    corners_per_turn: int = CORNERS_PER_TURN,
) -> Route:
    """Follow the steps from the tap; the helix takes its place in a downward step."""
    ways = _directions(joint.away)
    here = np.asarray(joint.point, dtype=float)
    position = joint.inside
    nodes = [RouteNode(joint.point, position, "tap")]
    coil: tuple[float, float] | None = None
    for number, step in enumerate(steps):
        if step.go == "bond":
            nodes[-1] = RouteNode(nodes[-1].point, nodes[-1].position, "bond")
            continue
        vector = _step_vector(step, number, here, ways)
        length = float(np.linalg.norm(vector)) - (joint.inside if len(nodes) == 1 else 0.0)
        if length <= 0:
            raise GeometryError(_inside(step, number, joint))
        vector = vector / np.linalg.norm(vector) * length
        inside = helix is not None and position < helix.position <= position + length
        if helix is not None and inside:
            _check_helix(helix, vector, length, position)
            entry = here + (helix.position - position) * np.array([0.0, 0.0, -1.0])
            nodes += _helix_nodes(helix, entry, ways["out"], corners_per_turn)
            coil = (helix.position, helix.position + helix.cable)
            position += helix.cable - helix.height
        here = here + vector
        position += length
        nodes.append(RouteNode(grid_point(here), position))
    if helix is not None and coil is None:
        raise GeometryError(_no_room(helix, f"the route ends at {large(position)}"))
    nodes[-1] = RouteNode(nodes[-1].point, nodes[-1].position, "radio")
    return Route(tuple(nodes), coil)


def _inside(step: Step, number: int, joint: Joint) -> Fault:
    return Fault(
        f"cable.route[{number}].{step.go}",
        f"{small(step.length)}",
        "ends inside the pipe that the cable is joined to: its surface is "
        f"{small(joint.inside)} from the axis, from where steps count",
        f"{step.go}: {small(joint.inside + BEYOND_PIPE)} or more",
        "route-inside",
    )


def _no_room(helix: Helix, why: str) -> Fault:
    return Fault(
        "chokes.position",
        large(helix.position),
        f"a coil of {helix.turns} turns and {small(helix.height)} height does not fit: {why}",
        "place the coil in a downward run of the cable that is longer than the coil",
        "coil-no-room",
    )


def _check_helix(helix: Helix, vector: NDArray[np.float64], length: float, position: float) -> None:
    if vector[2] > -0.99 * length:
        raise GeometryError(_no_room(helix, "the cable does not run downward there"))
    margin = 0.02
    if helix.position < position + margin or (
        helix.position - position + helix.height > length - margin
    ):
        raise GeometryError(
            _no_room(helix, f"the downward run goes from {large(position)} over {large(length)}")
        )


def _helix_nodes(
    helix: Helix, entry: NDArray[np.float64], side: NDArray[np.float64], n: int
) -> list[RouteNode]:
    """Corners of the coil, each turn a polygon of ``n`` sides with the circle's own area."""
    reach = 0.5 * helix.diameter * np.sqrt((2 * np.pi / n) / np.sin(2 * np.pi / n))
    down = np.array([0.0, 0.0, -1.0])
    centre = entry + reach * side
    across = np.cross(down, side)
    nodes = []
    for k in range(helix.turns * n + 1):
        angle = 2 * np.pi * k / n
        around = -np.cos(angle) * side + np.sin(angle) * across
        point = centre + reach * around + (k / n) * helix.pitch * down
        along = helix.position + helix.cable * k / (helix.turns * n)
        nodes.append(RouteNode(grid_point(point), along, "coil"))
    return nodes
