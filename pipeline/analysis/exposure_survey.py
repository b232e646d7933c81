"""The exposure of a study's cases: fields from the stored port basis at the average power.

Nothing is solved here: currents are a superposition, fields follow from them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.catalogues.exposure_limits import ExposureLimit, limits_at
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.structure import Structure
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.exposure import (
    GROUND_REFLECTION,
    Distances,
    Standing,
    average_power,
    distances,
    far_field_distance,
    strongest,
)
from pipeline.analysis.exposure_places import (
    FLOOR,
    Conductor,
    Places,
    distances_to,
    segments_of,
    survey_places,
)
from pipeline.solver.far_field import Directions, directive_power, far_field
from pipeline.solver.near_field import near_field, power_density
from pipeline.study.records import Study

# Segments are cut into pieces of this length at most. [m]
_PIECE = 0.05
# The end of the cable where somebody sits at the radio. [m]
_AT_STATION = 1.0
# Somebody is no nearer to a conductor than this share of the stated distance, and beside the radio
# as long as no farther than that.
_NO_NEARER, _BESIDE = 0.95, 1.3
# Points of the side view, and how much room beyond antenna and cable it shows. [m]
_VIEW_POINTS = 900
# Grid lines beside a wire are this far from it; steeper than this a wire counts as upright.
_CLOSE = np.array([-0.4, -0.24, -0.14, -0.07, 0.0, 0.07, 0.14, 0.24, 0.4])
_STEEP = 0.7
_VIEW_MARGIN = 0.6

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class CaseExposure:
    """One case at its average power.

    ``power`` [W] enters the antenna on average, ``eirp`` [W] is its largest in free space;
    ``station`` is the strongest field at the stated distance from cable and lead near the radio,
    ``walk`` that where people walk, None without a ground.
    """

    case: str
    power: float
    eirp: float
    distances: tuple[Distances, ...]
    station: Standing | None
    walk: Standing | None


@dataclass(frozen=True)
class SideView:
    """Power density of a case in an upright plane through the antenna's axis.

    ``axis`` is 0 or 1 for x or y, ``across`` (n_across,) and ``height`` (n_height,) in m,
    ``density`` (n_height, n_across) in W/m2.
    """

    case: str
    axis: int
    across: Real
    height: Real
    density: Real


def free_space_eirp(structure: Structure, current: Complex, f: float) -> float:
    """Largest equivalent isotropic radiated power of currents without the ground. [W]

    Definition: 4 pi times the largest power per solid angle, every five and ten degrees.
    """
    sphere = Directions(np.radians(np.arange(0, 181, 5.0)), np.radians(np.arange(0, 360, 10.0)))
    field = far_field(structure.segments, current[None], f, None, sphere)[0]
    return float(4 * np.pi * directive_power(field).max())


@dataclass(frozen=True)
class Radiators:
    """Cases of one geometry at their average powers, and what their fields follow from.

    ``current`` has shape (n_case, n_segment) [A], ``power`` (n_case,) [W]; ``f`` in Hz.
    """

    cases: tuple[str, ...]
    structure: Structure
    current: Complex
    power: tuple[float, ...]
    f: float
    soil: Soil | None

    def density(self, place: Real) -> Real:
        """Power density of every case at points (n, 3), shape (n_case, n). [W/m2]"""
        seg = self.structure.segments
        fields = near_field(seg, self.current, self.f, self.soil, place, _PIECE)
        return np.asarray(power_density(*fields))

    @cached_property
    def eirp(self) -> tuple[float, ...]:
        """Largest in free space, of every case. [W]"""
        return tuple(free_space_eirp(self.structure, row, self.f) for row in self.current)

    @property
    def grounded(self) -> bool:
        """Whether there is soil."""
        return self.soil is not None


def radiators(results: Sequence[CaseResult]) -> Radiators:
    """Cases of one geometry, each at the average power that its own line lets through."""
    first = results[0]
    study, e = first.study, first.study.exposure
    losses = [float(r.line_loss_db[r.centre]) for r in results]
    power = tuple(
        average_power(study.power, loss, e.mode_duty, e.transmit_share) for loss in losses
    )
    currents = [
        r.segment_current * np.sqrt(p / r.power_in) for r, p in zip(results, power, strict=True)
    ]
    return Radiators(
        cases=tuple(r.case.id for r in results),
        structure=first.solved.structure,
        current=np.stack(currents),
        power=power,
        f=float(first.frequency[first.centre]),
        soil=study.site.ground,
    )


def _at_station(structure: Structure, places: Places, beside: float) -> NDArray[np.bool_]:
    """Places beside the last stretch of cable and the lead behind it, shape (n,)."""
    last = max((position for _, position in structure.shield_path), default=0.0)
    shield = [k for k, position in structure.shield_path if position >= last - _AT_STATION]
    lead = segments_of(structure, ("station lead",))
    near = Conductor("radio", np.concatenate([np.array(shield, dtype=np.int64), lead]))
    if not len(near.chosen):
        return np.zeros(len(places.place), dtype=bool)
    return np.asarray(distances_to(structure, (near,), places.place)[0] <= _BESIDE * beside)


def exposures(
    radiating: Radiators, limits: Sequence[ExposureLimit], reach: float, cable_distance: float
) -> tuple[CaseExposure, ...]:
    """Distances and power densities of every case.

    ``limits`` are those that hold at the frequency, ``reach`` [m] is the height up to which people
    walk, ``cable_distance`` [m] how near a person comes to the cable and to anything else that
    carries current.
    """
    structure, f = radiating.structure, radiating.f
    height = reach if radiating.grounded else None
    places = survey_places(structure, f, _farthest(radiating, limits), cable_distance, height)
    clear = places.distance.min(axis=0) >= _NO_NEARER * cable_distance
    station = clear & _at_station(structure, places, cable_distance)
    walk = clear & (places.place[:, 2] <= reach) & radiating.grounded
    rows = zip(
        radiating.cases,
        radiating.power,
        radiating.eirp,
        radiating.density(places.place),
        strict=True,
    )
    return tuple(
        CaseExposure(
            case=case,
            power=power,
            eirp=eirp,
            distances=distances(places, row, limits, f, eirp),
            station=strongest(places, row, station),
            walk=strongest(places, row, walk),
        )
        for case, power, eirp, row in rows
    )


def _farthest(radiating: Radiators, limits: Sequence[ExposureLimit]) -> float:
    """Distance from each conductor up to which the field is asked for. [m]

    A quarter beyond the estimate of a far field with the worst reflection, over cases and limits;
    half a wavelength at least, where that estimate knows nothing of the field.
    """
    strictest = min(limit.density.at(radiating.f) for limit in limits)
    far = far_field_distance(max(radiating.eirp), strictest, GROUND_REFLECTION)
    return max(0.5 * SPEED_OF_LIGHT_NEC / radiating.f, 1.25 * far)


def _lines(low: float, high: float, step: float, wires: Real) -> Real:
    """Even grid lines, and closer ones on both sides of wires that run along them. [m]"""
    close = np.unique(np.round(wires, 1))[:, None] + _CLOSE
    lines = np.concatenate([np.arange(low, high, step), close.ravel(), [high]])
    return np.unique(np.round(lines[(lines >= low) & (lines <= high)], 3))


def side_views(radiating: Radiators, numbers: Sequence[CaseExposure]) -> tuple[SideView, ...]:
    """Power density in the upright plane in which the installation is longest.

    ``numbers`` say how far it has to show.
    """
    zones = (z for e in numbers for d in e.distances for z in d.zones)
    seg, reach = radiating.structure.segments, max(z.distance for z in zones) + 0.2
    ends = np.concatenate([seg.start, seg.end])
    axis = int(np.argmax(np.ptp(ends[:, :2], axis=0)))
    low, high = (edge(ends[:, [axis, 2]], axis=0) for edge in (np.min, np.max))
    left, right = min(low[0] - _VIEW_MARGIN, -reach), max(high[0] + _VIEW_MARGIN, reach)
    bottom = FLOOR if radiating.grounded else low[1] - _VIEW_MARGIN
    top = high[1] + _VIEW_MARGIN
    step = float(np.sqrt((right - left) * (top - bottom) / _VIEW_POINTS))
    steep = np.abs(seg.direction[:, 2]) > _STEEP
    across = _lines(left, right, step, seg.centre[steep, axis])
    height = _lines(bottom, top, step, seg.centre[~steep, 2])
    grid = np.zeros((len(height), len(across), 3))
    grid[..., axis], grid[..., 2] = across, height[:, None]
    density = radiating.density(grid.reshape(-1, 3)).reshape(-1, *grid.shape[:2])
    return tuple(
        SideView(case, axis, across, height, d)
        for case, d in zip(radiating.cases, density, strict=True)
    )


def survey(
    study: Study, found: Mapping[str, CaseResult], wanted: Sequence[str]
) -> tuple[tuple[CaseExposure, ...], tuple[SideView, ...]]:
    """Exposure and side view of some cases of a study, in the order of their ids."""
    limits, e = limits_at(study.frequency), study.exposure
    by_case: dict[str, tuple[CaseExposure, SideView]] = {}
    # Cases of one geometry share the kernels of their fields.
    for geometry in dict.fromkeys(found[c].case.geometry for c in wanted):
        of_it = [found[c] for c in dict.fromkeys(wanted) if found[c].case.geometry == geometry]
        radiating = radiators(of_it)
        numbers = exposures(radiating, limits, e.reach, e.cable_distance)
        by_case |= dict(
            zip(
                radiating.cases,
                zip(numbers, side_views(radiating, numbers), strict=True),
                strict=True,
            )
        )
    return tuple(by_case[c][0] for c in wanted), tuple(by_case[c][1] for c in wanted)
