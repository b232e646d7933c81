"""`braidwise check`: is a study valid, what does it look like, can its geometry be trusted?

One frequency and no figures of merit: seconds instead of the full run, which goes on from what is
solved here.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import Study

if TYPE_CHECKING:
    from pipeline.mesh.evidence import GeometryEvidence
    from pipeline.solver.solve_cache import SolveRequest

    Drawn = Job[dict[str, SolveRequest]]

# As many cores as other commands use where they are not told.
_CORES = min(2, os.cpu_count() or 1)


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
    from pipeline.solver.structures import sized_antenna

    print(size_of(job), flush=True)
    study = job.study
    picture = work.folder / "check_installation"
    lines = [f"{study.name}: the study is valid ({len(study.chokes)} candidates)."]
    lines += [f"  default  {text}" for text in study.defaults]
    lines += [f"  derived  {text}" for text in sized_antenna(study).sentences]
    lines += [f"  note     {text}" for text in study.warnings]
    lines += [_line(e) for e in _tested(job, work.folder.parent, lambda: _picture(job, picture))]
    lines.append(f"  picture  {picture}.png")
    return Findings("\n".join(lines))


def _tested(job: Drawn, results: Path, meanwhile: Callable[[], None]) -> Iterable[GeometryEvidence]:
    """Checks of all geometries, by solves that a run finds in the store; ``meanwhile`` is done."""
    from pipeline.runtime.process import say
    from pipeline.runtime.progress import Telling
    from pipeline.solver.solve_cache import AVERAGE_GAIN, CENTRE, STORE, drop_damaged
    from pipeline.workflow.solves import FIELDS, missing, read_evidence, solve, write_requests

    store, wanted = results / STORE, job.plan
    for request in wanted.values():
        drop_damaged(store / request.digest(), say)
    write_requests(wanted.values(), store)
    jobs = missing(wanted.values(), store, [CENTRE, AVERAGE_GAIN])
    silent = Telling(lambda text: None)
    solve(jobs, _CORES, f"{job.study.name}: testing geometries", silent, FIELDS, meanwhile)
    return read_evidence(wanted, store).values()


def _picture(job: Drawn, target: Path) -> None:
    from pipeline.figures.installation import Scene, draw_installation

    study = job.study
    structures = {name: request.structure for name, request in job.plan.items()}
    scene = Scene(study.title, study.frequency, grounded=study.site.ground is not None)
    draw_installation(target, structures, scene)


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


# A picture (two files) that no other command touches, and solves named by their content, each
# written whole: a run may go on meanwhile.
WORK = StudyWork(_draw, _run, folder="", alone=False)
COMMAND = on_studies(
    "check",
    "read a study, draw its geometry and test it, without the full run",
    "Takes seconds, and may be used while another run goes on.",
    WORK,
    order=20,
)
