"""`braidwise check`: is a study valid, what does it look like, can its geometry be trusted?

One frequency and no figures of merit: seconds instead of the full run.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import Study

if TYPE_CHECKING:
    from pipeline.mesh.evidence import GeometryEvidence
    from pipeline.solver.solve_cache import SolveRequest

    Drawn = Job[dict[str, SolveRequest]]


def _draw(path: Path, study: Study) -> dict[str, SolveRequest]:
    """Geometries by name."""
    from pipeline.solver.solve_cache import requests

    return requests(study)


def size_of(job: Drawn) -> str:
    """How large the solves are that test a study's geometries, a sentence."""
    from pipeline.solver.before_solving import size_sentence

    structures = [request.structure for request in job.plan.values()]
    sizes = [(len(built.segments), len(built.ports), 1) for built in structures]
    return size_sentence(job.study.name, sizes)


def _run(job: Drawn, work: Work) -> Findings:
    """Picture of an installation and a test of each geometry."""
    from pipeline.figures.installation import Scene, draw_installation
    from pipeline.mesh.evidence import quick_evidence
    from pipeline.solver.structures import sized_antenna

    print(size_of(job), flush=True)
    study, drawn = job.study, job.plan
    lines = [f"{study.name}: the study is valid ({len(study.chokes)} candidates)."]
    lines += [f"  default  {text}" for text in study.defaults]
    lines += [f"  derived  {text}" for text in sized_antenna(study).sentences]
    lines += [f"  note     {text}" for text in study.warnings]
    picture = work.folder / "check_installation"
    structures = {name: request.structure for name, request in drawn.items()}
    scene = Scene(study.title, study.frequency, grounded=study.site.ground is not None)
    draw_installation(picture, structures, scene)
    lines += [_line(quick_evidence(request)) for request in drawn.values()]
    lines.append(f"  picture  {picture}.png")
    return Findings("\n".join(lines))


def _line(e: GeometryEvidence) -> str:
    from pipeline.mesh.evidence import grade_of, worst

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


# Only a picture (two files) that no other command touches, each written whole: a run may go on
# meanwhile.
WORK = StudyWork(_draw, _run, folder="", alone=False)
COMMAND = on_studies(
    "check",
    "read a study, draw its geometry and test it, without the full run",
    "Takes seconds, and may be used while another run goes on.",
    WORK,
    order=20,
)
