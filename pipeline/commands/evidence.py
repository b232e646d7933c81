"""`braidwise evidence`: would the numbers move if the model were drawn differently?

Each way of drawing is solved once, chokes are port algebra on each solve; nothing is written
before all of a study is solved.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import Study

if TYPE_CHECKING:
    from pipeline.mesh.mesh_study import Redrawings


def _plan(path: Path, study: Study) -> Redrawings:
    """Every way of drawing a study."""
    from pipeline.mesh.mesh_study import redrawings

    return redrawings(study)


def _run(job: Job[Redrawings], work: Work) -> Findings:
    from pipeline.mesh.redrawn_solves import solve
    from pipeline.report.evidence_page import findings

    study, ways = job.study, job.plan.ways
    found = []
    for k, (way, own) in enumerate(solve(study, ways), start=1):
        found.append((way, own))
        segments = len(way.structure.segments)
        work.tell(f"{k}/{len(ways)}  {study.name}: {way.words}, {segments} segments")
    return findings(study, found, job.plan.remarks)


WORK = StudyWork(_plan, _run, folder="evidence")
COMMAND = on_studies(
    "evidence",
    "draw an installation in other ways and see whether the numbers move",
    "Takes minutes.",
    WORK,
    order=30,
)
