"""The command that turns a study into a cut list, a drawing and a build sheet."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pipeline.construction.build_sheet import draw_sheet
from pipeline.construction.cut_plan import CutPlan, plan_cuts
from pipeline.construction.cut_text import build_record, cut_list_csv, cut_list_text
from pipeline.construction.drawing import draw_cut
from pipeline.runtime.store import write_json, write_text
from pipeline.study.batch import of_every_study
from pipeline.text.errors import Fault, StudyError

FOLDER = "build"


def plan_all(paths: Sequence[Path]) -> list[CutPlan]:
    """Read studies and work out their pieces; writes nothing.

    Raises
    ------
    StudyError
        With the faults of all of them, and what cannot be cut.
    """
    return of_every_study(paths, lambda path, study: plan_cuts(study))


def write_build(plan: CutPlan, results: Path) -> str:
    """Write everything a workshop needs; returns what to print.

    Parameters
    ----------
    plan : CutPlan
    results : Path
        Folder of results; the files go to a folder of the study in it.

    Raises
    ------
    StudyError
        If drawing or sheet do not fit a page.
    """
    folder = results / plan.study.name / FOLDER
    try:
        draw_cut(plan, folder / "drawing")
        draw_sheet(plan, folder / "build_sheet")
    except ValueError as error:
        raise StudyError(
            Fault(
                f"{plan.study.name}.yaml",
                "",
                f"cannot be drawn on one page: {error}",
                "use a simpler antenna, or shorter texts",
                "page-full",
            )
        ) from error
    text = cut_list_text(plan)
    write_text(folder / "cut_list.txt", text)
    write_text(folder / "cut_list.csv", cut_list_csv(plan))
    write_json(folder / "build.json", build_record(plan))
    return f"{text}{_tuned_copy(plan, results)}files: {folder}"


def _tuned_copy(plan: CutPlan, results: Path) -> str:
    """A line that says so where tuned lengths lie ready and were not the ones that were cut."""
    name = plan.study.name
    tuned = results / name / "tune" / f"{name}_tuned.yaml"
    if not tuned.exists():
        return ""
    return f"note: these are the study's own lengths; the tuned ones are in {tuned}\n"
