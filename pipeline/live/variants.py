"""The same installation with the cable joined to another part of the antenna, for the page.

A study in; the study as it is, and with the shield on the antenna's other joint, out. What the
answer tries instead of a choke (``answer/alternatives.py``) is drawn among unknown installations;
here it is drawn as described and judged by nobody, so that its grade rests on the checks of one
drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from models.antennas import generators
from pipeline.analysis.case_results import Solved
from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.mesh.evidence import Grade, geometry_evidence, grade_of, worst
from pipeline.montecarlo.port_currents import kept_average_gain
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.cases import CABLE, GeometryPlan
from pipeline.solver.solve_cache import SolveRequest, request
from pipeline.study.records import Study
from pipeline.text.errors import StudyError

# The installation of the study itself.
AS_DESCRIBED = "as described"


@dataclass(frozen=True)
class Variant:
    """An installation that the page can show: ``id`` in links, ``label`` in its list.

    ``geometry`` is the drawing of its cable, ``change`` what a study file says of it.
    """

    id: str
    label: str
    geometry: str
    study: Study
    change: Mapping[str, Mapping[str, Any]]


def variants_of(study: Study) -> tuple[Variant, ...]:
    """The installation as described, and with the shield on the next joint of the antenna."""
    joins = study.cable.joins
    found = [Variant(AS_DESCRIBED, f"{joins}, as described", CABLE, study, {})]
    for joint in generators()[study.antenna.type].joints:
        if joint != joins and len(found) == 1:
            changed = replace(study, cable=replace(study.cable, joins=joint))
            change = {"cable": {"joins": joint}}
            found.append(Variant(joint, joint, f"{CABLE}-on-{joint}", changed, change))
    return tuple(found)


def request_of(variant: Variant) -> SolveRequest | None:
    """What has to be solved of a variant, None where it cannot be drawn."""
    try:
        return request(variant.study, GeometryPlan(CABLE, has_feedline=True))
    except StudyError:
        return None


def grade_as_drawn(wanted: SolveRequest, solved: Solved, store: Path, alone: float) -> Grade:
    """Grade of a drawing from its own checks, without a run on shorter segments.

    ``alone`` is the average gain of the antenna without a cable; the twin's is kept in ``store``.
    """
    frequency = solved.basis.frequency[:1]
    built = solved.structure
    gain = kept_average_gain(built, float(frequency[0]), wanted.twin_loads, store)
    y = loaded_admittance(
        solved.basis.y_port[0], load_impedances(built, frequency, float(frequency[0]))[0]
    )
    evidence = geometry_evidence(built, gain, y)
    return worst(
        [
            grade_of("average_gain", max(abs(gain - 1), abs(alone - 1))),
            grade_of("reciprocity", evidence.reciprocity),
            grade_of("segmentation", evidence.neighbour_ratio),
            grade_of("feed", evidence.feed_thickness),
        ]
    )
