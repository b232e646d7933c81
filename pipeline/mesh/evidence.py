"""Checks of a result: average gain, reciprocity, segmentation, a refined run.

Numbers in, one grade out. The limits stand here and are printed with every result.

Each geometry carries the average gain of its lossless free-space twin, and that of the antenna
alone: what a cable radiates for itself dilutes an antenna that is wrong. Divided by the self
admittances, as one often sees it, the symmetry of a drawing with a step in radius would have passed
at 4.6 %; by the transfer admittances it is 27 %. An unsound case has a dash of its own, is named so
and never recommended; legs half a diameter apart are usable at best.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from models.wires.segmentation import (
    MAX_FEED_THICKNESS,
    MAX_NEIGHBOUR_RATIO,
    SOUND_FEED_THICKNESS,
    feed_thickness,
    worst_neighbour_ratio,
)
from models.wires.structure import Structure
from pipeline.circuit.line import LEAST_RESISTANCE
from pipeline.circuit.port_algebra import loaded_admittance, reciprocity_errors, transfer_asymmetry
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.field_solver import solved_average_gain, solved_currents
from pipeline.solver.solve_cache import SolveRequest

Grade = Literal["sound", "usable", "unsound"]
GRADES: tuple[Grade, ...] = ("sound", "usable", "unsound")


@dataclass(frozen=True)
class Limit:
    """Largest value for "sound" and for "usable", and what the value means."""

    sound: float
    usable: float
    meaning: str


LIMITS = {
    "average_gain": Limit(
        0.03,
        0.05,
        "departure from 1 of radiated over input power of the lossless twin in free space, or of "
        "the antenna alone if that is worse",
    ),
    "reciprocity": Limit(
        0.05,
        0.10,
        "departure from symmetry of the transfer admittances between the feed and all ports of the "
        "cable, root of the sum of |Y12 - Y21|^2 over that of their mean",
    ),
    "convergence": Limit(
        0.05,
        0.12,
        "change of a case in a run with segments a quarter shorter: the largest of impedance "
        "(relative), shield current (relative to the larger of it and a tenth of the feed "
        "current) and mean horizon gain (in units of 3 dB)",
    ),
    "feed": Limit(
        SOUND_FEED_THICKNESS,
        MAX_FEED_THICKNESS,
        "wire radius over length of the segment that is fed; larger where legs stand close",
    ),
    "segmentation": Limit(
        MAX_NEIGHBOUR_RATIO, 2 * MAX_NEIGHBOUR_RATIO, "largest ratio of neighbouring segments"
    ),
}


def grade_of(name: str, value: float) -> Grade:
    """Grade of one number against its limits.

    Examples
    --------
    >>> grade_of("reciprocity", 0.02), grade_of("reciprocity", 0.2)
    ('sound', 'unsound')
    """
    limit = LIMITS[name]
    if not np.isfinite(value) or value > limit.usable:
        return "unsound"
    return "sound" if value <= limit.sound else "usable"


def worst(grades: list[Grade]) -> Grade:
    """The worst of several grades."""
    return max(grades, key=GRADES.index)


@dataclass(frozen=True)
class GeometryEvidence:
    """Checks of one geometry.

    ``average_gain`` as computed by the solver for the lossless twin in free space,
    ``reciprocity`` of the feed with all other ports together, ``reciprocity_between_ports`` the
    worst of all pairs, over the root of their own admittances (for the record),
    ``neighbour_ratio`` of segment lengths, ``feed_thickness`` as
    :func:`segmentation.feed_thickness`.
    """

    geometry: str
    n_segments: int
    n_ports: int
    average_gain: float
    reciprocity: float
    reciprocity_between_ports: float
    neighbour_ratio: float
    feed_thickness: float

    def data(self) -> dict[str, Any]:
        """Plain data for a JSON file."""
        return asdict(self)


def geometry_evidence(
    structure: Structure, average_gain: float, y_port: NDArray[np.complex128]
) -> GeometryEvidence:
    """Checks of a geometry from its average gain and its port matrix.

    ``y_port`` has shape (n_port, n_port). [S]
    """
    return GeometryEvidence(
        geometry=structure.name,
        n_segments=len(structure.segments),
        n_ports=len(structure.ports),
        average_gain=average_gain,
        reciprocity=transfer_asymmetry(y_port, structure.port_index("feed")),
        reciprocity_between_ports=float(reciprocity_errors(y_port).max()),
        neighbour_ratio=worst_neighbour_ratio(structure),
        feed_thickness=feed_thickness(structure),
    )


def convergence(
    z: complex,
    z_refined: complex,
    current: float,
    current_refined: float,
    gain_db: float,
    gain_refined_db: float,
) -> float:
    """Change of a case when its segments are made shorter, as one number. [-]

    ``current`` is the largest shield current per feed current, ``gain_db`` the mean gain towards
    the horizon. Definition: ``LIMITS["convergence"]`` has the weights.

    Examples
    --------
    >>> convergence(50 + 0j, 51 + 0j, 0.2, 0.2, 5.0, 5.0)
    0.02
    >>> convergence(-0.1 + 90j, -0.1 + 90j, 0.2, 0.2, 5.0, 5.0)
    1.0
    """
    impedance = abs(z_refined - z) / abs(z)
    if min(z.real, z_refined.real) <= LEAST_RESISTANCE:
        # An antenna takes power: a resistance that says otherwise is wrong by all of itself.
        impedance = max(impedance, 1.0)
    shield = abs(current_refined - current) / max(current, 0.1)
    gain = abs(gain_refined_db - gain_db) / 3.0
    return float(max(impedance, shield, gain))


@dataclass(frozen=True)
class CaseEvidence:
    """Checks of a case, and the grade that follows."""

    average_gain: float
    reciprocity: float
    convergence: float
    grade: Grade


def worst_average_gain(geometry: GeometryEvidence, alone: GeometryEvidence) -> float:
    """Average gain that departs further from one, of a geometry and of the antenna alone. [-]

    Definition.
    What a cable radiates for itself is counted right and dilutes an antenna that is not.
    """
    return max(geometry.average_gain, alone.average_gain, key=lambda gain: abs(gain - 1))


def case_evidence(
    geometry: GeometryEvidence, alone: GeometryEvidence, moved: float
) -> CaseEvidence:
    """Grade of a case: the worst of its geometry's checks and its own convergence.

    ``alone`` is the antenna without a cable: see :func:`worst_average_gain`.
    """
    average_gain = worst_average_gain(geometry, alone)
    grade = worst(
        [
            grade_of("average_gain", abs(average_gain - 1)),
            grade_of("reciprocity", geometry.reciprocity),
            grade_of("segmentation", geometry.neighbour_ratio),
            grade_of("feed", geometry.feed_thickness),
            grade_of("convergence", moved),
        ]
    )
    return CaseEvidence(average_gain, geometry.reciprocity, moved, grade)


def quick_evidence(request: SolveRequest) -> GeometryEvidence:
    """Average gain, reciprocity and segmentation of one geometry at the design frequency."""
    f = request.frequency[request.centre : request.centre + 1]
    built = request.structure
    currents = solved_currents(built, f, request.soil)
    return twin_evidence(request, built.through_ports(currents[0]).T)


def twin_evidence(request: SolveRequest, y_port: NDArray[np.complex128]) -> GeometryEvidence:
    """The same from a port matrix that is known, shape (n_port, n_port) [S]."""
    f = request.frequency[request.centre : request.centre + 1]
    built, at, loads = request.structure, float(f[0]), request.twin_loads
    gain = solved_average_gain(built, at, loads)
    own = load_impedances(built, f, at)[0]
    return geometry_evidence(built, gain, loaded_admittance(y_port, own))
