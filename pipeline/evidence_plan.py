"""Other ways to draw one installation: shorter segments, more wires, other ports, other ground.

A study in, structures ready for the solver out, with a sentence for each way that is not open.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from models.structure import Structure
from pipeline.errors import StudyError
from pipeline.followed import (
    FIELD,
    FREE_SPACE,
    GROUND,
    PORTS,
    REFLECTION,
    SEGMENTS,
    WIRES,
    ZONES,
    way_label,
)
from pipeline.geometry import soil_of, structure
from pipeline.plan import CABLE, GeometryPlan
from pipeline.solver import Soil
from pipeline.study_types import Study

# Factors on all segment lengths: from a quarter coarser down in steps of a fifth.
COARSEST, STEP = 1.25, 0.8
# A run of this size takes about ten seconds; a finer one costs the cube of it.
MOST_SEGMENTS = 1300
# Below this ratio of mean segment lengths a step says nothing (a tenth is the usual minimum of
# grid refinement studies).
LEAST_RATIO = 1.1
CAGE_WIRES = (4, 6, 8)
PORT_SPACINGS = (0.5, 2.0)
ZONE_FACTORS = (0.7, 1.5)
FIELD_STEPS = (0.5, 2.0)


@dataclass(frozen=True)
class Redrawing:
    """One way of drawing: which variation, its value, and what goes to the solver.

    ``step`` is a factor on the angular steps of the far field.
    """

    variation: str
    value: str
    structure: Structure
    soil: Soil | None
    step: float = 1.0

    @property
    def mean_segment(self) -> float:
        """Mean segment length. [m]"""
        return float(self.structure.segments.length.mean())

    @property
    def words(self) -> str:
        """What is different, as a short label."""
        return way_label(self.variation, self.value)


@dataclass(frozen=True)
class Redrawings:
    """All ways of drawing a study's cable, the first as it is drawn, and what was not possible."""

    ways: tuple[Redrawing, ...]
    remarks: tuple[str, ...]

    @property
    def drawn(self) -> Redrawing:
        """The way a study is drawn."""
        return self.ways[0]


def redrawings(study: Study) -> Redrawings:
    """Every other way to draw a study's antenna with its cable.

    Raises
    ------
    StudyError
        If it cannot be drawn as it is.
    """

    def draw(**manner: Any) -> Structure:
        built = structure(study, GeometryPlan(CABLE, has_feedline=True), **manner)
        said = ", ".join(f"{key} {value:g}" for key, value in manner.items())
        return replace(built, name=f"{CABLE} ({said})" if said else CABLE)

    soil = soil_of(study)
    drawn = Redrawing(SEGMENTS, "1", draw(), soil)
    ways, remarks = [drawn], []
    for found, said in (_segments(draw, drawn), _others(draw, drawn), _grounds(drawn)):
        ways += found
        remarks += said
    ways += [Redrawing(FIELD, f"{step:g}", drawn.structure, soil, step) for step in FIELD_STEPS]
    return Redrawings(tuple(ways), tuple(remarks))


def _reason(error: StudyError) -> str:
    return error.faults[0].rule


def _segments(
    draw: Callable[..., Structure], drawn: Redrawing
) -> tuple[list[Redrawing], list[str]]:
    """Coarser and finer segments, down to where one of the limits stops them."""
    ways: list[Redrawing] = []
    remarks: list[str] = []
    try:
        ways.append(replace(drawn, value=f"{COARSEST:g}", structure=draw(refine=COARSEST)))
    except StudyError as error:
        remarks.append(f"Segments a quarter longer are not allowed: {_reason(error)}.")
    factor, last = 1.0, drawn
    while True:
        factor *= STEP
        asked = f"Refinement ends at {last.value} of the usual segment lengths"
        try:
            finer = replace(drawn, value=f"{factor:.3g}", structure=draw(refine=factor))
        except StudyError as error:
            return ways, [*remarks, f"{asked}, because of the next step: {_reason(error)}."]
        if last.mean_segment / finer.mean_segment < LEAST_RATIO:
            reason = "most segments are at the shortest that the thin-wire model allows"
            return ways, [*remarks, f"{asked}: {reason}."]
        if len(finer.structure.segments) > MOST_SEGMENTS:
            reason = f"the next step has more than {MOST_SEGMENTS} segments"
            return ways, [*remarks, f"{asked}: {reason}."]
        ways.append(finer)
        last = finer


def _others(draw: Callable[..., Structure], drawn: Redrawing) -> tuple[list[Redrawing], list[str]]:
    """Other numbers of wires, other ports, other segments where chokes sit."""
    wanted: list[tuple[str, float, dict[str, Any], str]] = [
        *((WIRES, n, {"n_wires": n}, f"Cages of {n} wires do not fit") for n in CAGE_WIRES),
        *((PORTS, k, {"comb": k}, f"Ports at {k:g} times the spacing") for k in PORT_SPACINGS),
        *(
            (ZONES, k, {"zone": k}, f"Segments {k:g} times as long where chokes sit")
            for k in ZONE_FACTORS
        ),
    ]
    ways: list[Redrawing] = []
    remarks: list[str] = []
    for variation, value, manner, words in wanted:
        try:
            built = draw(**manner)
        except StudyError as error:
            remarks.append(f"{words}: {_reason(error)}.")
            continue
        if replace(built, name=CABLE) != drawn.structure:
            ways.append(replace(drawn, variation=variation, value=f"{value:g}", structure=built))
        elif variation != WIRES:
            remarks.append(f"{words} are what is drawn already.")
    return ways, remarks


def _grounds(drawn: Redrawing) -> tuple[list[Redrawing], list[str]]:
    """The simpler ground of the same solver, and none, where the study has a ground."""
    soil = drawn.soil
    if soil is None:
        return [], ["The study is in free space: there is no ground to vary."]
    bare = replace(drawn, variation=GROUND, value=FREE_SPACE, soil=None)
    if soil.sigma == 0:
        return [bare], ["Reflection coefficients need a soil that conducts; this one does not."]
    rough = replace(drawn, variation=GROUND, value=REFLECTION, soil=replace(soil, approximate=True))
    return [rough, bare], []
