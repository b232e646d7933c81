"""Other ways to draw one installation: shorter segments, more wires, other ports, other ground.

A study in, structures ready for the solver out, with a sentence for each way that is not open.

A large study is refined as a whole as far as its own check does, then one part at a time (antenna;
cable, bond and radio end; what stands around). What was not tried is told as not tested.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from models.site.soil import Soil
from models.wires.structure import Structure
from pipeline.mesh.convergence import FEWEST_VALUES
from pipeline.mesh.tracked_quantities import (
    FIELD,
    FREE_SPACE,
    GROUND,
    ONE_PART,
    PORTS,
    REFLECTION,
    SEGMENTS,
    WIRES,
    ZONES,
    way_label,
)
from pipeline.solver.cases import CABLE, REFINED, GeometryPlan
from pipeline.solver.structures import cage_wires, structure
from pipeline.study.records import Study
from pipeline.text.errors import StudyError

# Factors on all segment lengths: from a quarter coarser down in steps of a fifth.
COARSEST, STEP = 1.25, 0.8
# A run of this size takes about ten seconds; a finer one costs the cube of it. A study that is
# larger is refined as far as its own check is, which every run of it solves.
MOST_SEGMENTS = 1300
# Steps of one part by itself, where all parts at once come to too few to judge.
PART_STEPS = 2
# Below this ratio of mean segment lengths a step says nothing (a tenth is the usual minimum of
# grid refinement studies).
LEAST_RATIO = 1.1
# Numbers of wires beside the one that is drawn: the next ones, so that no cage is tried that would
# not be drawn because its wires stand too far apart.
CAGE_WIRES = {4: (6, 8), 6: (4, 8), 8: (6, 12), 12: (8,)}
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
        """Difference from the usual drawing as a short label."""
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


def redrawings(study: Study, most: int = MOST_SEGMENTS) -> Redrawings:
    """Every other way to draw a study's antenna with its cable.

    ``most`` is the number of segments of a drawing with finer ones, where the study's own check has
    no more.
    """

    def draw(**manner: Any) -> Structure:
        built = structure(study, GeometryPlan(CABLE, has_feedline=True), **manner)
        said = ", ".join(f"{key} {_shown(value)}" for key, value in manner.items())
        return replace(built, name=f"{CABLE} ({said})" if said else CABLE)

    soil = study.site.ground
    cages = CAGE_WIRES[cage_wires(study, GeometryPlan(CABLE, has_feedline=True))]
    drawn = Redrawing(SEGMENTS, "1", draw(), soil)
    ways, remarks = [drawn], []
    most = max(most, _checked_size(draw))
    whole, ended = _segments(draw, drawn, most)
    parts = [] if len(whole) + 1 >= FEWEST_VALUES else _part_by_part(draw, whole, drawn, most)
    for found, said in ((whole, ended), (parts, []), _others(draw, drawn, cages), _grounds(drawn)):
        ways += found
        remarks += said
    ways += [Redrawing(FIELD, f"{step:g}", drawn.structure, soil, step) for step in FIELD_STEPS]
    return Redrawings(tuple(ways), tuple(remarks))


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _reason(error: StudyError) -> str:
    return error.faults[0].rule


def _checked_size(draw: Callable[..., Structure]) -> int:
    """Segments of the finer drawing that grades the study."""
    try:
        return len(draw(refine=REFINED).segments)
    except StudyError:
        # Such a study is refused before it is solved; here only its size is not known.
        return 0


def _segments(
    draw: Callable[..., Structure], drawn: Redrawing, most: int
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
        if last is drawn:
            asked = "Shorter segments, all of them at once, were not tested"
        try:
            finer = replace(drawn, value=f"{factor:.3g}", structure=draw(refine=factor))
        except StudyError as error:
            return ways, [*remarks, f"{asked}, because of the next step: {_reason(error)}."]
        if last.mean_segment / finer.mean_segment < LEAST_RATIO:
            reason = "most segments are at the shortest that the thin-wire model allows"
            return ways, [*remarks, f"{asked}: {reason}."]
        if len(finer.structure.segments) > most:
            reason = f"the next step has more than {most} segments"
            return ways, [*remarks, f"{asked}: {reason}."]
        ways.append(finer)
        last = finer


def _part_by_part(
    draw: Callable[..., Structure], whole: list[Redrawing], drawn: Redrawing, most: int
) -> list[Redrawing]:
    """Finer segments of one part at a time, beyond those of the whole.

    The rest of the drawing stays as it is. On a J-pole with mast and gutters the changes of the
    three parts added up to that of the whole within 0.01 ohm and 0.01 % of the feed current.
    """
    least = min(float(way.value) for way in (drawn, *whole))
    ways: list[Redrawing] = []
    for part, variation in ONE_PART.items():
        last = drawn.structure
        for step in range(1, PART_STEPS + 1):
            factor = least * STEP**step
            try:
                finer = draw(refine=factor, only=part)
            except StudyError:
                break
            if _shortened(last, finer) < LEAST_RATIO or len(finer.segments) > most:
                break
            ways.append(replace(drawn, variation=variation, value=f"{factor:.3g}", structure=finer))
            last = finer
    return ways


def _shortened(before: Structure, after: Structure) -> float:
    """Ratio of mean segment lengths, of the wires that differ; one if none does."""
    own, other = set(after.wires) - set(before.wires), set(before.wires) - set(after.wires)
    if not own or not other:
        return 1.0
    old, new = (
        np.mean([wire.length / wire.n_segments for wire in wires]) for wires in (other, own)
    )
    return float(old / new)


def _others(
    draw: Callable[..., Structure], drawn: Redrawing, cages: tuple[int, ...]
) -> tuple[list[Redrawing], list[str]]:
    """Other numbers of wires, other ports, other segments where chokes sit."""
    wanted: list[tuple[str, float, dict[str, Any], str]] = [
        *((WIRES, n, {"n_wires": n}, f"Cages of {n} wires do not fit") for n in cages),
        *(
            (PORTS, k, {"port_spacing": k}, f"Ports at {k:g} times the spacing")
            for k in PORT_SPACINGS
        ),
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
        if _layout(built) != _layout(drawn.structure):
            ways.append(replace(drawn, variation=variation, value=f"{value:g}", structure=built))
        elif variation != WIRES:
            remarks.append(f"{words} are what is drawn already.")
    if not any(way.variation == WIRES for way in ways):
        remarks.append("No other number of wires makes another drawing of this antenna.")
    return ways, remarks


def _layout(built: Structure) -> tuple[object, ...]:
    """Layout of a drawing, by which it differs from another: where wires, segments and ports lie.

    Conductivities are left out: another number of wires asked for moves their last digit also
    where the antenna takes the number that it always has.
    """
    wires = tuple((w.start, w.end, w.n_segments, w.radius) for w in built.wires)
    return wires, built.ports


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
