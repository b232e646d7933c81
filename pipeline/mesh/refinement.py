"""Convergence of each case: what moves on a finer drawing, what grade follows, how sure it is.

Solved geometries in, evidence and checks of every case out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from models.antennas import generators
from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.mesh.evidence import (
    LIMITS,
    CaseEvidence,
    GeometryEvidence,
    case_evidence,
    convergence,
    worst_average_gain,
)
from pipeline.mesh.uncertainty import Checks, Compared
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.cases import ALONE, IDEAL


def comparison(antenna: str, geometry: GeometryEvidence) -> Compared:
    """Comparisons with tubes that speak for an antenna's drawing."""
    if not generators()[antenna].is_j_pole:
        return "other"
    return "close" if geometry.feed_thickness > LIMITS["feed"].sound else "apart"


def checks(
    geometry: GeometryEvidence,
    alone: GeometryEvidence,
    usual: Merit,
    finer: Merit,
    compared: Compared,
) -> Checks:
    """Checks of a case from its geometry, the antenna alone and its finer twin."""

    def moved(name: str) -> float:
        return float(abs(finer[name][0] - usual[name][0]))

    return Checks(
        average_gain=worst_average_gain(geometry, alone),
        reciprocity=geometry.reciprocity,
        compared=compared,
        impedance=abs(_impedance(finer) / _impedance(usual) - 1),
        shield_current=moved("shield_ratio"),
        station_current=moved("station_ratio"),
        gain_db=moved("mean_gain_dbi"),
        pattern_db=moved("pattern_rms_db"),
    )


def _impedance(merit: Merit) -> complex:
    return complex(merit["r_ohm"][0], merit["x_ohm"][0])


def _convergence(usual: Merit, finer: Merit) -> float:
    pair = (usual, finer)
    (z, current, gain), (z_refined, current_refined, gain_refined) = (
        (_impedance(m), float(m["shield_ratio"][0]), float(m["mean_gain_dbi"][0])) for m in pair
    )
    return convergence(z, z_refined, current, current_refined, gain, gain_refined)


def _before_match(result: CaseResult, merit: Merit) -> float:
    """Size of the impedance in front of what lies in series with the feed, over that behind it."""
    structure, at = result.solved.structure, float(result.frequency[result.centre])
    z, match = _impedance(merit), load_impedances(structure, np.array([at]), at)
    return float(abs(z - match[0, structure.port_index("feed")]) / abs(z))


def check_cases(
    results: Mapping[str, CaseResult],
    refined: Mapping[str, Solved],
    geometries: Mapping[str, GeometryEvidence],
    elevation_deg: float,
) -> tuple[dict[str, CaseEvidence], dict[str, Checks]]:
    """Evidence and checks of every case of a study, by id.

    ``results`` are every case on the usual drawings, ``refined`` geometries with shorter segments,
    ``geometries`` the checks of each; ``elevation_deg`` stands for the horizon.
    """
    again = {n: evaluate(refined[r.case.geometry], r.study, r.case) for n, r in results.items()}
    drawings = [(rs, rs[IDEAL].reference(elevation_deg)) for rs in (results, again)]
    evidence, found = {}, {}
    for name, result in results.items():
        usual, finer = (rs[name].merit(best, elevation_deg) for rs, best in drawings)
        geometry, alone = geometries[result.case.geometry], geometries[ALONE]
        evidence[name] = case_evidence(geometry, alone, _convergence(usual, finer))
        compared = comparison(result.study.antenna.type, geometry)
        own = checks(geometry, alone, usual, finer, compared)
        found[name] = replace(own, before_match=_before_match(result, usual))
    return evidence, found
