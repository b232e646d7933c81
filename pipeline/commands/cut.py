"""`braidwise cut`: what a workshop needs for an antenna and for a sleeve; solves nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.command import Job, StudyWork, Work, on_studies
from pipeline.report.findings import Findings
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

if TYPE_CHECKING:
    from pipeline.construction.cut_plan import CutPlan


def _plan(path: Path, study: Study) -> CutPlan:
    """Pieces of an antenna; refuses what cannot be cut."""
    from pipeline.construction.cut_plan import plan_cuts

    return plan_cuts(study)


def _run(job: Job[CutPlan], work: Work) -> Findings:
    """Everything a workshop needs; the two drawings are written first, as they may not fit."""
    from pipeline.construction.build_sheet import draw_sheet
    from pipeline.construction.cut_text import build_record, cut_list_csv, cut_list_text
    from pipeline.construction.drawing import draw_cut
    from pipeline.construction.sleeve_sheet import (
        draw_sleeve,
        sleeve_cuts,
        sleeve_line,
        sleeve_record,
    )

    plan, name = job.plan, job.study.name
    sleeves = sleeve_cuts(job.study)
    try:
        draw_cut(plan, work.folder / "drawing")
        draw_sheet(plan, work.folder / "build_sheet")
        for sleeve in sleeves:
            draw_sleeve(sleeve, work.folder / f"sleeve_{sleeve.choke.id}")
    except ValueError as error:
        rule = f"cannot be drawn on one page: {error}"
        remedy = "use a simpler antenna, or shorter texts"
        raise StudyError(Fault(f"{name}.yaml", "", rule, remedy, "page-full")) from error
    text = cut_list_text(plan) + "".join(f"{sleeve_line(sleeve)}\n" for sleeve in sleeves)
    tuned = work.folder.parent / "tune" / f"{name}_tuned.yaml"
    note = (
        f"note: these are the study's own lengths; the tuned ones are in {tuned}\n"
        if tuned.exists()
        else ""
    )
    return Findings(
        f"{text}{note}files: {work.folder}",
        {
            "cut_list.txt": text,
            "cut_list.csv": cut_list_csv(plan),
            "build.json": build_record(plan)
            | {"sleeves": [sleeve_record(sleeve) for sleeve in sleeves]},
        },
    )


WORK = StudyWork(_plan, _run, folder="build")
COMMAND = on_studies(
    "cut",
    "cut list, workshop drawing and build sheet of the antenna; solves nothing",
    "Takes seconds.",
    WORK,
    order=50,
)
