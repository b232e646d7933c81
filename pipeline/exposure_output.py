"""The exposure of a study's cases as tables and as a part of the summary."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from pipeline.exposure import FLOOR, GROUND_REFLECTION, NEAREST, NEAREST_CABLE, Distances
from pipeline.exposure_survey import CaseExposure, SideView
from pipeline.study_types import Study

Row = dict[str, Any]


def _distances(d: Distances) -> Row:
    return {
        "antenna_m": d.antenna,
        "from_height_m": d.lowest,
        "to_height_m": d.highest,
        "cable_m": d.cable,
        "far_field_m": d.far_field,
        "far_field_ground_m": d.far_field_ground,
    }


def exposure_rows(exposures: Iterable[CaseExposure], frequency: float) -> list[Row]:
    """Where each limit holds in each case; ``frequency`` in Hz."""
    return [
        {
            "case": e.case,
            "limit": d.limit.id,
            "rules": d.limit.rules,
            "group": d.limit.group,
            "part": d.limit.part,
            "averaging_min": d.limit.averaging / 60,
            "limit_w_per_m2": d.limit.density.at(frequency),
            **_distances(d),
        }
        for e in exposures
        for d in e.distances
    ]


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


def exposure_data(study: Study, exposures: Sequence[CaseExposure]) -> dict[str, Any]:
    """Part of the summary: what it rests on, the limits, and each case."""
    e = study.exposure
    return {
        "mode_duty": e.mode_duty,
        "transmit_share": e.transmit_share,
        "reach_m": e.reach,
        "cable_distance_m": e.cable_distance,
        "nearest_m": {"antenna": NEAREST, "cable": NEAREST_CABLE, "ground": FLOOR},
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
                "station_w_per_m2": c.station,
                "walk_w_per_m2": c.walk,
                "distances": [{"limit": d.limit.id, **_distances(d)} for d in c.distances],
            }
            for c in exposures
        ],
    }
