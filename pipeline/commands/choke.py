"""`braidwise choke`: which cores, how many and where: the cheapest set that is enough."""

from __future__ import annotations

from pathlib import Path

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import Study


def _plan(path: Path, study: Study) -> None:
    """Any valid study will do."""


def _run(job: Job[None], work: Work) -> Findings:
    from pipeline.design.choke_design import design
    from pipeline.report.choke_page import findings

    return findings(design(job.study, work.cores, work.tell, work.store))


WORK = StudyWork(_plan, _run, folder="choke", parallel=True)
COMMAND = on_studies(
    "choke",
    "choose cores for the cable: the cheapest set that is enough",
    "Tries every core of the catalogue that fits, one to twelve, at one place or two. Two to "
    "three minutes.",
    WORK,
    order=70,
)
