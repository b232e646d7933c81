"""A quick look at a study: is it valid, what does it look like, can its geometry be trusted?

One frequency and no figures of merit: seconds instead of the full run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.figures.installation import Scene, draw_installation
from pipeline.mesh.evidence import GeometryEvidence, grade_of, quick_evidence, worst
from pipeline.solver.before_solving import size_sentence
from pipeline.solver.solve_cache import SolveRequest, requests
from pipeline.solver.structures import sized_antenna
from pipeline.study.batch import of_every_study
from pipeline.study.records import Study


def _line(e: GeometryEvidence) -> str:
    grade = worst(
        [
            grade_of("average_gain", abs(e.average_gain - 1)),
            grade_of("reciprocity", e.reciprocity),
            grade_of("segmentation", e.neighbour_ratio),
            grade_of("feed", e.feed_thickness),
        ]
    )
    return (
        f"  {e.geometry:<24} {grade:<8} average gain {e.average_gain:.3f}, reciprocity "
        f"{100 * e.reciprocity:.1f} %, {e.n_segments} segments, {e.n_ports} ports"
    )


@dataclass(frozen=True)
class Drawn:
    """A valid study and its geometries by name."""

    study: Study
    requests: dict[str, SolveRequest]


def draw_studies(paths: Sequence[Path]) -> list[Drawn]:
    """Read studies and draw their geometries; writes nothing.

    Raises
    ------
    StudyError
        With the faults of all of them.
    """
    return of_every_study(paths, lambda path, study: Drawn(study, requests(study)))


def size_of(drawn: Drawn) -> str:
    """What the test of a study's geometries will take, a sentence."""
    sizes = [
        (len(r.structure.segments), len(r.structure.ports), 1) for r in drawn.requests.values()
    ]
    return size_sentence(drawn.study.name, sizes)


def check_study(drawn: Drawn, results: Path) -> str:
    """Picture of an installation and a test of each geometry; returns what to print.

    Raises
    ------
    SolverError
        If the solver cannot handle a geometry.
    """
    study = drawn.study
    lines = [f"{study.name}: the study is valid ({len(study.chokes)} candidates)."]
    lines += [f"  default  {text}" for text in study.defaults]
    lines += [f"  derived  {text}" for text in sized_antenna(study).sentences]
    lines += [f"  note     {text}" for text in study.warnings]
    picture = results / study.name / "check_installation"
    structures = {name: request.structure for name, request in drawn.requests.items()}
    scene = Scene(study.title, study.frequency, grounded=study.site.ground is not None)
    draw_installation(picture, structures, scene)
    lines += [_line(quick_evidence(request)) for request in drawn.requests.values()]
    lines.append(f"  picture  {picture}.png")
    return "\n".join(lines)
