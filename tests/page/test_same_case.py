"""A setting of the page as a study file is the same case: the project finds the page's figures."""

from __future__ import annotations

import base64
from collections.abc import Callable, Hashable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page

from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, cases
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import SolveRequest, requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.small_study import small_study_file
from tests.page.sources import bundled

# What both sides promise of each other.
SAME = 1e-6
# How much the number of pieces that a cable is drawn in may change.
OTHER_PIECES = 1e-2
READ = """async (text) => {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const plain = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip'));
  window.model = await tried.readModel(new Uint8Array(await new Response(plain).arrayBuffer()));
  const {start, variants, kinds} = model.head;
  return {start, variants, kinds};
}"""
FIGURES = """(setting) => {
  const {refused, figures, score} = model.evaluate(setting);
  return {refused, figures, score};
}"""


@pytest.fixture(scope="module")
def page(module: Callable[[str], Page], results: Path) -> Page:
    """The page's model of the results, with what writes a setting as a study file."""
    page = module("engine/index")
    text = base64.b64encode((results / "live.gz").read_bytes()).decode("ascii")
    page.evaluate("(head) => { window.head = head }", page.evaluate(READ, text))
    page.evaluate(f"{bundled('around/study_file')}; window.writer = tried")
    return page


def settings(page: Page) -> dict[str, dict[str, Any]]:
    """Settings that differ from the advice in all that a file can say."""
    head = page.evaluate("window.head")
    start, (low, high) = (
        head["start"],
        max(head["variants"][0]["ranges"], key=lambda ends: ends[1] - ends[0]),
    )
    cores = [kind["id"] for kind in head["kinds"] if kind["counted"]]
    row = {"kind": cores[0], "count": 2}
    middle = round(low + 0.4 * (high - low), 3)
    other_ends = {"radio": [7.5, -31.25], "bond": [3.5, 12.0]}
    found = {
        "another place": {**start, "first": {**row, "count": 3, "position": round(low + 0.3, 2)}},
        "two places, other ends": {
            **{**start, **other_ends},
            "first": {**row, "position": round(low + 0.01, 3)},
            "second": {**row, "kind": cores[-1], "position": middle + 0.05},
        },
        "nothing on the cable, touching nothing": {
            **{**start, "first": None, "radio": "open", "bond": "none"},
        },
    }
    drawn = next((kind for kind in head["kinds"] if kind["fixed"] is not None), None)
    if drawn is not None:
        on = {"kind": drawn["id"], "count": 1, "position": drawn["fixed"]}
        found["what is drawn"] = {**start, "first": on}
    return found


def study_of(page: Page, setting: dict[str, Any], folder: Path) -> Study:
    """The study of the file that the page writes, read by the project."""
    file = page.evaluate("(s) => writer.studyFile(s, model.head)", setting)
    path = small_study_file(folder).with_name("as_set.yaml")
    path.write_text(file["text"], encoding="utf-8")
    return load_study(path)


def solved_of(
    wanted: dict[str, SolveRequest], known: dict[Hashable, Solved], geometry: str
) -> Solved:
    """A geometry at the design frequency, from those that are solved where it is one of them."""
    request = wanted[geometry]
    built = request.structure
    key = (built.wires, built.ports)
    if key not in known:
        f = request.frequency[request.centre : request.centre + 1]
        known[key] = Solved(built, solve_basis(built, f, 0, request.soil, request.azimuths))
    return known[key]


def figures_of(
    study: Study, case: Case, solved: Callable[[str], Solved], elevation_deg: float
) -> dict[str, float]:
    """Figures of merit of a case of a study by name, and its score."""

    def result(case: Case) -> CaseResult:
        return evaluate(solved(case.geometry), study, case)

    ideal = next(c for c in cases(study) if c.id == IDEAL)
    found = result(case)
    merit = found.merit(result(ideal).reference(elevation_deg), elevation_deg)
    values = {name: float(value[0]) for name, value in merit.values.items()}
    hottest = found.hottest_share * found.choke_power
    return {**values, "hottest_power": hottest, "score": float(merit.score()[0])}


def test_a_setting_as_a_study_file_is_the_same_case(page: Page, tmp_path: Path) -> None:
    """To a millionth where the cable is drawn in the same pieces, which it is near candidates."""
    every, differing, alike = settings(page), {}, 0
    drawn = requests(study_of(page, {**every["another place"], "first": None}, tmp_path))[CABLE]
    known: dict[Hashable, Solved] = {}
    for name, setting in every.items():
        found = page.evaluate(FIGURES, setting)
        assert found["refused"] == "", name
        study = study_of(page, setting, tmp_path)
        name_of = "as-set" if setting["first"] else NONE
        case = next(c for c in cases(study) if c.id == name_of)
        wanted = requests(study)
        solved = partial(solved_of, wanted, known)
        own = figures_of(study, case, solved, page.evaluate("model.head.elevation"))
        is_alike = wanted[CABLE].structure.wires == drawn.structure.wires
        alike += is_alike
        same = SAME if is_alike else OTHER_PIECES
        for figure, value in {**found["figures"], "score": found["score"]}.items():
            if not np.isclose(value, own[figure], rtol=same, atol=same, equal_nan=True):
                differing[name, figure] = (value, own[figure])
    assert differing == {}
    assert alike >= 2
