"""One small installation, solved once a session, for every test that needs a real port basis."""

from __future__ import annotations

import shutil
from contextlib import AbstractContextManager
from functools import cache
from pathlib import Path
from unittest.mock import patch

import yaml

from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.chokes.kind import Choke
from pipeline.figures import page
from pipeline.solver.cases import CABLE, Case, cases
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.solves import one_at_a_time

SMALL = Path(__file__).parents[1] / "studies" / "good" / "small.yaml"


@cache
def study() -> Study:
    return load_study(SMALL)


@cache
def solved() -> dict[str, Solved]:
    return {
        name: Solved(
            r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil, r.azimuths)
        )
        for name, r in requests(study()).items()
    }


@cache
def case(name: str) -> CaseResult:
    chosen = next(c for c in cases(study()) if c.id == name)
    return evaluate(solved()[chosen.geometry], study(), chosen)


def choke(name: str) -> Choke:
    return next(c for c in study().chokes if c.id == name)


def with_choke(choice: Choke | None) -> CaseResult:
    return evaluate(solved()[CABLE], study(), Case("tried", "tried", CABLE, choice))


def small_study_file(folder: Path, name: str = "small", **changes: object) -> Path:
    """A copy of the small study in a folder, with some top-level keys replaced."""
    data = yaml.safe_load(SMALL.read_text(encoding="utf-8")) | changes
    path = folder / f"{name}.yaml"
    path.write_text(yaml.safe_dump(data, allow_unicode=True), encoding="utf-8")
    table = folder / "choke.csv"
    table.write_text(SMALL.with_name("choke.csv").read_text(encoding="utf-8"), encoding="utf-8")
    return path


def quick_study_file(folder: Path, **changes: object) -> Path:
    """The small study with two kinds of candidates only: a whole run of it takes least."""
    chokes = yaml.safe_load(SMALL.read_text(encoding="utf-8"))["chokes"]
    few = [c for c in chokes if c["id"] in ("core", "measured")]
    return small_study_file(folder, chokes=few, **changes)


def through_stages(study: Path, folder: Path) -> Path:
    """Results of a study file as the stages make them in this process, their store beside them."""
    from pipeline.workflow import stages

    stages.answer(study, folder / "cache", folder / study.stem, 1)
    return folder / study.stem


def finished() -> Path:
    """The small study with its store ("cache") and its results ("small"), made once a session.

    Whoever changes any of it makes a copy.
    """
    with one_at_a_time("finished") as folder:
        if not folder.exists():
            half = folder.with_name("unfinished")
            half.mkdir()
            through_stages(small_study_file(half), half)
            half.rename(folder)
    return folder


def few_dots() -> AbstractContextManager[object]:
    """Figures of few dots: to draw letters dot by dot takes a third of the time of a page."""
    return patch.object(page, "DPI", 50)


def pages_of(results: Path) -> None:
    """Figures and pages of finished results."""
    from pipeline.workflow import stages

    with few_dots():
        stages.pages(results, 1)


def finished_with_pages() -> Path:
    """Results of the small study with their figures and pages, made once a session."""

    results = finished() / "small"
    with one_at_a_time("with-pages") as folder:
        if not folder.exists():
            half = folder.with_name("half-with-pages")
            shutil.copytree(results, half)
            pages_of(half)
            half.rename(folder)
    return folder


def grounded_study(folder: Path, **soil: str) -> Study:
    """The small study over soil."""
    site = {"height": "3 m", "ground": {"permittivity": 13, "conductivity": "5 mS/m"} | soil}
    return load_study(small_study_file(folder, site=site))
