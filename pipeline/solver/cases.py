"""Geometries that a study needs, and the cases that are computed on each.

All lumped chokes share one geometry: they differ in the series impedance on its ports only. A
coil drawn as wire is a geometry of its own, and so is the antenna without any cable.
"""

from __future__ import annotations

from dataclasses import dataclass

from models.site.shield import Zone
from pipeline.chokes.ideal import IdealChoke, first_place
from pipeline.chokes.kind import Choke
from pipeline.study.records import Study

ALONE = "antenna-alone"
CABLE = "cable"
NONE, IDEAL, NO_FEEDLINE = "none", "ideal", "no-feedline"

# A refined run has segments shorter by this factor; see docs of evidence.
REFINED = 0.75


@dataclass(frozen=True)
class GeometryPlan:
    """One geometry to be solved: its name and the choke that is drawn as wire in it, if any."""

    name: str
    has_feedline: bool
    choke: Choke | None = None


@dataclass(frozen=True)
class Case:
    """One row of the comparison: what is on the cable and which geometry holds it."""

    id: str
    label: str
    geometry: str
    choke: Choke | None


def geometry_plans(study: Study) -> tuple[GeometryPlan, ...]:
    """Every geometry of a study, each once, in a fixed order."""
    drawn = [c for c in study.chokes if c.is_drawn]
    return (
        GeometryPlan(ALONE, has_feedline=False),
        GeometryPlan(CABLE, has_feedline=True),
        *(GeometryPlan(f"wire-{c.id}", has_feedline=True, choke=c) for c in drawn),
    )


def ideal_choke(study: Study) -> Choke:
    """The reference: a choke that lets no current pass, as close to the tap as one can sit.

    Its place is where a first core goes.
    """
    position = first_place(study.pipe.outside_diameter)
    return IdealChoke(id=IDEAL, label="ideal choke (reference)", position=position)


def cases(study: Study) -> tuple[Case, ...]:
    """Every case: the three that each study has, then the candidates in the study's order."""
    fixed = (
        Case(NO_FEEDLINE, "antenna alone, no cable", ALONE, None),
        Case(IDEAL, "ideal choke (reference)", CABLE, ideal_choke(study)),
        Case(NONE, "cable without a choke", CABLE, None),
    )
    candidates = tuple(
        Case(c.id, c.label, f"wire-{c.id}" if c.is_drawn else CABLE, c) for c in study.chokes
    )
    return fixed + candidates


def lumped_chokes(study: Study) -> tuple[Choke, ...]:
    """Chokes that are impedances on the cable's ports, the reference first."""
    return (ideal_choke(study), *(c for c in study.chokes if not c.is_drawn))


def zones(study: Study) -> tuple[Zone, ...]:
    """Stretches of the shield where some lumped choke of the study or the catalogue may sit."""
    parts = (part for choke in lumped_chokes(study) for part in choke.placed)
    return (
        *(Zone(part.position, part.acts_over) for part in parts),
        *(Zone(row.position, row.room) for row in study.rows),
    )
