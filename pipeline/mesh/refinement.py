"""Each case once more on a finer drawing: what moves, what grade follows, how sure it is.

Solved geometries in, evidence and checks of every case out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.antennas import generators
from pipeline.analysis.case_results import CaseResult, Solved, at_centre, evaluate
from pipeline.analysis.metrics import directions_that_matter, gain_at_elevation, pattern_change_db
from pipeline.mesh.evidence import (
    LIMITS,
    CaseEvidence,
    GeometryEvidence,
    case_evidence,
    convergence,
    worst_average_gain,
)
from pipeline.mesh.uncertainty import Checks, Compared
from pipeline.solver.cases import ALONE, CABLE, IDEAL, Case, cases
from pipeline.study.records import Study


@dataclass(frozen=True)
class Observed:
    """Quantities of a case that are compared between two drawings of it."""

    z_feed: complex
    shield_current: float
    station_current: float
    gain_db: float
    pattern_db: float


def _observed(r: CaseResult, ideal: CaseResult, solved: Solved, elevation_deg: float) -> Observed:
    theta = solved.basis.directions.theta
    matters = directions_that_matter(ideal.gain, theta)
    return Observed(
        complex(r.z_feed[0]),
        r.shield_ratio_max,
        float(np.abs(r.station_ratio[0])),
        gain_at_elevation(r.gain, theta, elevation_deg).mean,
        pattern_change_db(r.gain, ideal.gain, matters)[1],
    )


def comparison(antenna: str, geometry: GeometryEvidence) -> Compared:
    """Which comparisons with tubes speak for an antenna's drawing."""
    if not generators()[antenna].is_j_pole:
        return "other"
    return "close" if geometry.feed_thickness > LIMITS["feed"].sound else "apart"


def checks(
    geometry: GeometryEvidence,
    alone: GeometryEvidence,
    usual: Observed,
    finer: Observed,
    compared: Compared,
) -> Checks:
    """What a case's geometry, the antenna alone and the finer twin say about its numbers."""
    return Checks(
        average_gain=worst_average_gain(geometry, alone),
        reciprocity=geometry.reciprocity,
        compared=compared,
        impedance=abs(finer.z_feed / usual.z_feed - 1),
        shield_current=abs(finer.shield_current - usual.shield_current),
        station_current=abs(finer.station_current - usual.station_current),
        gain_db=abs(finer.gain_db - usual.gain_db),
        pattern_db=abs(finer.pattern_db - usual.pattern_db),
    )


def check_cases(
    study: Study,
    solved: Mapping[str, Solved],
    refined: Mapping[str, Solved],
    geometries: Mapping[str, GeometryEvidence],
    elevation_deg: float,
) -> tuple[dict[str, CaseEvidence], dict[str, Checks]]:
    """Evidence and checks of every case of a study, by id."""
    drawings = ({n: at_centre(s) for n, s in solved.items()}, dict(refined))
    reference: Case = next(c for c in cases(study) if c.id == IDEAL)
    ideal = [evaluate(drawn[CABLE], study, reference) for drawn in drawings]
    evidence, found = {}, {}
    for case in cases(study):
        usual, finer = (
            _observed(
                evaluate(drawn[case.geometry], study, case), best, drawn[CABLE], elevation_deg
            )
            for drawn, best in zip(drawings, ideal, strict=True)
        )
        moved = convergence(
            usual.z_feed,
            finer.z_feed,
            usual.shield_current,
            finer.shield_current,
            usual.gain_db,
            finer.gain_db,
        )
        geometry, alone = geometries[case.geometry], geometries[ALONE]
        evidence[case.id] = case_evidence(geometry, alone, moved)
        compared = comparison(study.antenna.type, geometry)
        found[case.id] = checks(geometry, alone, usual, finer, compared)
    return evidence, found
