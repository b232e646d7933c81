"""The exposure of a study's cases as tables and as a part of the summary."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from models.catalogues.exposure_limits import ExposureLimit
from pipeline.analysis.exposure import GROUND_REFLECTION, Distances, Standing, Zone
from pipeline.analysis.exposure_places import FLOOR, NEAREST, NEAREST_OTHER
from pipeline.analysis.exposure_survey import CaseExposure, SideView
from pipeline.study.records import Study

Row = dict[str, Any]


def _people(e: CaseExposure) -> list[tuple[str, Standing]]:
    """Where people can be, in words, and the strongest field there."""
    places = (("at the radio", e.station), ("where people walk", e.walk))
    return [(label, found) for label, found in places if found is not None]


def _at(place: Sequence[float] | None) -> Row:
    names = ("x_m", "y_m", "height_m")
    return dict(zip(names, place or (None, None, None), strict=True))


def _of_limit(limit: ExposureLimit, frequency: float) -> Row:
    return {
        "limit": limit.id,
        "rules": limit.rules,
        "group": limit.group,
        "part": limit.part,
        "averaging_min": limit.averaging / 60,
        "limit_w_per_m2": limit.density.at(frequency),
    }


def _standing_row(found: Standing, d: Distances, frequency: float) -> Row:
    return {
        "density_w_per_m2": found.density,
        "above_limit": "yes" if found.density > d.limit.density.at(frequency) else "no",
        "nearest": found.conductor,
        "distance_m": found.distance,
        **_at(found.place),
        "far_field_m": None,
        "far_field_ground_m": None,
    }


def _zone_row(z: Zone, d: Distances) -> Row:
    return {
        "density_w_per_m2": None,
        "above_limit": "yes" if z.distance > 0 else "no",
        "nearest": z.conductor,
        "distance_m": z.distance,
        **_at(z.place),
        "far_field_m": d.far_field,
        "far_field_ground_m": d.far_field_ground,
    }


def exposure_rows(exposures: Iterable[CaseExposure], frequency: float) -> list[Row]:
    """Where people can be first, then how far each limit reaches; ``frequency`` in Hz."""
    rows = []
    for e in exposures:
        for label, found in _people(e):
            rows += [
                {"case": e.case, "where": label}
                | _of_limit(d.limit, frequency)
                | _standing_row(found, d, frequency)
                for d in e.distances
            ]
        rows += [
            {"case": e.case, "where": f"distance from the {z.conductor}"}
            | _of_limit(d.limit, frequency)
            | _zone_row(z, d)
            for d in e.distances
            for z in d.zones
        ]
    return rows


def view_rows(views: Iterable[SideView]) -> list[Row]:
    """Power density of each case in the upright plane of the figure."""
    return [
        {
            "case": v.case,
            "plane": "xy"[v.axis] + "z",
            "across_m": x,
            "height_m": z,
            "density_w_per_m2": v.density[i, k],
        }
        for v in views
        for i, z in enumerate(v.height.tolist())
        for k, x in enumerate(v.across.tolist())
    ]


def _people_data(e: CaseExposure, study: Study) -> list[Row]:
    return [
        {
            "where": label,
            "density_w_per_m2": found.density,
            "place_m": list(found.place),
            "nearest": found.conductor,
            "distance_m": found.distance,
            "above": [
                d.limit.id
                for d in e.distances
                if found.density > d.limit.density.at(study.frequency)
            ],
        }
        for label, found in _people(e)
    ]


def _distances_data(d: Distances) -> Row:
    return {
        "limit": d.limit.id,
        "zones": [{"conductor": z.conductor, "distance_m": z.distance} for z in d.zones],
        "far_field_m": d.far_field,
        "far_field_ground_m": d.far_field_ground,
    }


def exposure_data(study: Study, exposures: Sequence[CaseExposure]) -> dict[str, Any]:
    """Part of the summary: what it rests on, the limits, and each case."""
    e = study.exposure
    return {
        "mode_duty": e.mode_duty,
        "transmit_share": e.transmit_share,
        "reach_m": e.reach,
        "cable_distance_m": e.cable_distance,
        "nearest_m": {"antenna": NEAREST, "other": NEAREST_OTHER, "ground": FLOOR},
        "ground_reflection": GROUND_REFLECTION,
        "limits": [
            {
                "id": d.limit.id,
                "name": d.limit.name,
                "rules": d.limit.rules,
                "group": d.limit.group,
                "part": d.limit.part,
                "averaging_min": d.limit.averaging / 60,
                "power_density_w_per_m2": d.limit.density.at(study.frequency),
                "source": d.limit.source,
                "confidence": d.limit.confidence,
            }
            for d in exposures[0].distances
        ],
        "cases": [
            {
                "case": c.case,
                "power_w": c.power,
                "eirp_w": c.eirp,
                "people": _people_data(c, study),
                "distances": [_distances_data(d) for d in c.distances],
            }
            for c in exposures
        ],
    }
