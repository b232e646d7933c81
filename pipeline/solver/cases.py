"""Which geometries a study needs, and which case is computed on which of them.

All lumped chokes share one geometry: they differ in the series impedance on its ports only. A
coil drawn as wire is a geometry of its own, and so is the antenna without any cable.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, replace

from models.site.shield import Zone
from pipeline.study.coil_making import MadeCoil, made_coils
from pipeline.study.records import (
    ChokeChoice,
    CoilChoice,
    FerriteChoice,
    Study,
)

ALONE = "antenna-alone"
CABLE = "cable"
NONE, IDEAL, NO_FEEDLINE = "none", "ideal", "no-feedline"

# A refined run has segments shorter by this factor; see docs of evidence.
REFINED = 0.75


@dataclass(frozen=True)
class GeometryPlan:
    """One geometry to be solved: its name and the coil that is drawn as wire in it, if any.

    ``made`` says how that coil came out otherwise than the study has it; such a geometry is
    solved at the design frequency only.
    """

    name: str
    has_feedline: bool
    coil: CoilChoice | None = None
    made: MadeCoil | None = None


@dataclass(frozen=True)
class Case:
    """One row of the comparison: what is on the cable and which geometry holds it."""

    id: str
    label: str
    geometry: str
    choke: ChokeChoice | None


def is_wire_coil(choke: ChokeChoice) -> bool:
    """Whether a choke changes the geometry, not only an impedance."""
    return isinstance(choke, CoilChoice) and choke.model == "wire"


def geometry_plans(study: Study) -> tuple[GeometryPlan, ...]:
    """Every geometry of a study, each once, in a fixed order."""
    coils = [c for c in study.chokes if isinstance(c, CoilChoice) and c.model == "wire"]
    return (
        GeometryPlan(ALONE, has_feedline=False),
        GeometryPlan(CABLE, has_feedline=True),
        *(GeometryPlan(f"wire-{c.id}", has_feedline=True, coil=c) for c in coils),
    )


def made_plans(study: Study) -> tuple[GeometryPlan, ...]:
    """A geometry for every way in which each coil that is drawn as wire may come out."""
    return tuple(
        GeometryPlan(f"made-{plan.coil.id}-{made.name}", True, made.coil, made)
        for plan in geometry_plans(study)
        if plan.coil is not None
        for made in made_coils(plan.coil)
    )


def made_cases(
    study: Study, case: Case, geometries: Container[str]
) -> tuple[tuple[MadeCoil, Case], ...]:
    """A coil's case with the coil as it may come out, for each way that can be computed.

    Nothing comes of a case of anything else. A lumped coil stays on the cable's geometry, where its
    place is: its ports are there. ``geometries`` are the names of those that are solved.
    """
    choke = case.choke
    if not isinstance(choke, CoilChoice):
        return ()
    if not is_wire_coil(choke):
        here = [m for m in made_coils(choke) if m.coil.position == choke.position]
        return tuple((m, replace(case, choke=m.coil)) for m in here)
    plans = [(p.made, p.name) for p in made_plans(study) if p.name in geometries]
    return tuple(
        (made, replace(case, choke=made.coil, geometry=name))
        for made, name in plans
        if made is not None and made.coil.id == choke.id
    )


def ideal_choke(study: Study) -> ChokeChoice:
    """The reference: a choke that lets no current pass, as close to the tap as one can sit.

    Its place, 50 mm or 1.5 pipe diameters from the axis of the leg, is where a first core goes.
    """
    position = max(0.05, 1.5 * study.pipe.outside_diameter)
    return ChokeChoice(id=IDEAL, label="ideal choke (reference)", kind="ideal", position=position)


def cases(study: Study) -> tuple[Case, ...]:
    """Every case: the three that each study has, then the candidates in the study's order."""
    fixed = (
        Case(NO_FEEDLINE, "antenna alone, no cable", ALONE, None),
        Case(IDEAL, "ideal choke (reference)", CABLE, ideal_choke(study)),
        Case(NONE, "cable without a choke", CABLE, None),
    )
    candidates = tuple(
        Case(c.id, c.label, f"wire-{c.id}" if is_wire_coil(c) else CABLE, c) for c in study.chokes
    )
    return fixed + candidates


def extent(choke: ChokeChoice) -> float:
    """Length of cable that a lumped choke takes up [m]; zero where it acts at one place."""
    return choke.count * choke.core.length if isinstance(choke, FerriteChoice) else 0.0


def zones(study: Study) -> tuple[Zone, ...]:
    """Stretches of the shield where some lumped choke of the study sits."""
    lumped = [ideal_choke(study), *(c for c in study.chokes if not is_wire_coil(c))]
    return tuple(Zone(c.position, extent(c)) for c in lumped)
