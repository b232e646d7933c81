"""Whatever a study chooses about its antenna, the workshop's papers say: one law for all."""

from __future__ import annotations

import dataclasses
import json
import math
import typing
from pathlib import Path

import pytest
import yaml

from models.antennas import generators
from models.quantities import Choice, Quantity
from pipeline.construction.build_sheet import sheet_page
from pipeline.construction.cut_plan import CutPlan, plan_cuts
from pipeline.construction.cut_text import build_record, cut_list_text, work_steps
from pipeline.construction.drawing import drawing_page
from pipeline.figures.style import style
from pipeline.solver.cases import ALONE, geometry_plans
from pipeline.solver.structures import draw_antenna, sized_antenna
from pipeline.study.reader import load_study
from pipeline.text.units import show_quantity
from tests.harness.shipped import shipped_studies

pytestmark = pytest.mark.takes(14)

STUDIES = shipped_studies()
NAMES = sorted(generators())
JOINTS = [(name, joint) for name in NAMES for joint in generators()[name].joints]
# Parameters that count only with another choice than the usual one.
ONLY_WITH = {"stub": {"match": "stub"}, "stub_cable": {"match": "stub"}}


def of_type(name: str) -> dict[str, object]:
    """The sample study of an antenna, as text."""
    for path in STUDIES:
        data = yaml.safe_load(path.read_text(encoding="utf-8"))
        if data["antenna"]["type"] == name:
            return data
    raise AssertionError(f"no sample study has a {name}")


def plan_of(folder: Path, data: dict[str, object]) -> CutPlan:
    path = folder / "tried.yaml"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    return plan_cuts(load_study(path))


def papers(plan: CutPlan) -> dict[str, str]:
    """Every paper's words by its name."""
    with style():
        pages = {"sheet": sheet_page(plan), "drawing": drawing_page(plan)}
    words = {
        kind: " ".join(" ".join(t.get_text().split()) for ax in page.axes for t in ax.texts)
        for kind, page in pages.items()
    }
    record = build_record(plan)
    marks = json.dumps([record["marks"], record["landings"]])
    return words | {"list": cut_list_text(plan), "build.json": marks}


def work_lines(plan: CutPlan) -> list[str]:
    """Steps, and lines of the list that say what to do; mass and wind follow from everything."""
    aside = ("derived", "mass", "wind", "bar ")
    lines = [line for line in cut_list_text(plan).splitlines() if not line.startswith(aside)]
    return lines + work_steps(plan)


@pytest.mark.parametrize(("name", "joint"), JOINTS, ids=lambda value: value.replace(" ", "-"))
def test_the_shield_is_marked_where_the_study_joins_and_the_solver_has_it(
    tmp_path: Path, name: str, joint: str
) -> None:
    data = of_type(name)
    data["cable"] = data["cable"] | {"joins": joint}
    plan = plan_of(tmp_path, data)
    shields = [mark for mark in plan.assembly.marks if "shield" in mark.name]
    assert len(shields) == 1
    alone = next(p for p in geometry_plans(plan.study) if p.name == ALONE)
    drawn = draw_antenna(plan.study, alone, 1.0).joints[joint]
    axis = [p - drawn.inside * a for p, a in zip(drawn.point, drawn.away, strict=True)]
    # Cages are drawn a little closer together or further apart than the pipes they stand for.
    assert shields[0].point[:2] == pytest.approx(axis[:2], abs=2e-3)
    if not plan.generator.leaves_downward:
        assert shields[0].point[2] == pytest.approx(axis[2], abs=1e-5)
    for paper, words in papers(plan).items():
        assert joint in words, paper
    other = [word for word in plan.generator.joints if word != joint]
    said = [line for line in papers(plan)["list"].splitlines() if "shield" in line]
    for line in said:
        assert joint in line or not any(word in line.split(";")[0] for word in other), line


def test_the_marks_of_every_j_change_legs_with_the_shield(tmp_path: Path) -> None:
    legs = ("short leg", "long leg")
    for name in (name for name in NAMES if generators()[name].joints == legs):
        for shield, centre in (legs, legs[::-1]):
            data = of_type(name)
            data["cable"] = data["cable"] | {"joins": shield}
            plan = plan_of(tmp_path, data)
            on = {mark.name: mark.piece for mark in plan.marks}
            assert on["tap, shield"] == shield
            assert on["tap, centre conductor"] == centre
            step = f"the shield to the {shield} and the centre conductor to the {centre}"
            assert sum(step in line for line in work_steps(plan)) == 1
            assert build_record(plan)["steps"] == work_steps(plan)


def parameter_cases() -> list[tuple[str, str]]:
    return [
        (name, field.name)
        for name in NAMES
        for field in dataclasses.fields(generators()[name].parameters)
    ]


def other_value(generator, field: str, antenna: object) -> tuple[object, object]:
    """A value of a parameter as the study writes it, and another one that is allowed as well."""
    hints = typing.get_type_hints(generator.parameters, include_extras=True)
    for marker in hints[field].__metadata__:
        if isinstance(marker, Choice):
            return marker.words[0], marker.words[1]
        if isinstance(marker, Quantity) and marker.unit == "1":
            here = getattr(antenna, field)
            there = 3 if here == 4 else 1.1 * here
            return here, there
        if isinstance(marker, Quantity):
            here = getattr(antenna, field)
            there = 0.97 * here or 10.0
            return tuple(show_quantity(value, marker.unit) for value in (here, there))
    raise AssertionError(f"{field} says neither what it is nor what words it takes")


@pytest.mark.parametrize(("name", "field"), parameter_cases())
def test_every_parameter_of_every_antenna_is_in_what_the_workshop_reads(
    tmp_path: Path, name: str, field: str
) -> None:
    data = of_type(name)
    data["antenna"] = data["antenna"] | ONLY_WITH.get(field, {})
    sized = sized_antenna(plan_of(tmp_path, data).study).antenna
    words = []
    for value in other_value(generators()[name], field, sized):
        changed = data | {"antenna": data["antenna"] | {field: value}}
        words.append(work_lines(plan_of(tmp_path, changed)))
    assert words[0] != words[1]


def test_rods_weigh_as_solid_copper_and_pipe_as_its_catalogue_says(tmp_path: Path) -> None:
    # Copper 8940 kg/m3; the mass of a pipe is printed to three digits.
    plan = plan_of(tmp_path, of_type("gamma-dipole"))
    rods = [p for p in plan.pieces if p.stock != "pipe"]
    assert len(rods) == 3
    solid = sum(8940 * math.pi * p.diameter**2 / 4 * p.centre_length for p in rods)
    pipes = sum(p.centre_length for p in plan.pieces if p.stock == "pipe")
    wanted = solid + plan.study.pipe.mass_per_m * pipes
    assert plan.mass.stock == pytest.approx(wanted, rel=0.006)


@pytest.mark.parametrize("name", NAMES)
def test_what_holds_the_antenna_is_on_the_papers(tmp_path: Path, name: str) -> None:
    data = of_type(name)
    mounts: list[dict[str, object]] = [{}, {"mast": {"material": "wood", "diameter": "40 mm",
                                                     "length": "1 m"}}]  # fmt: skip
    if generators()[name].carries_mast:
        mounts += [{"mount": "insulated"}, {"mount": {"mast": "1.2 m"}}]
    said = set()
    for mount in mounts:
        site = {"height": "8 m"} | mount
        words = "\n".join(work_steps(plan_of(tmp_path, data | {"site": site})))
        said.add(words)
        assert ("wooden" in words) == ("mast" in mount)
        if mount.get("mount") == "insulated":
            assert "insulating material" in words
        elif "mount" in mount:
            assert "1.2 m" in words
    # Insulated is what a study has that says nothing.
    assert len(said) == len(mounts) - ({"mount": "insulated"} in mounts)


@pytest.mark.parametrize("name", ["j-pole", "ground-plane"])
def test_what_antenna_and_mast_are_joined_to_is_on_the_papers(tmp_path: Path, name: str) -> None:
    data = of_type(name)
    mast = {"material": "metal", "diameter": "40 mm", "length": "1 m", "bonded": "yes"}
    ends = ["-2 m, 0 m, 7.9 m", "2 m, 0 m, 7.9 m"]
    rail = {"name": "railing", "diameter": "42 mm", "points": ends}
    sites = {
        "alone": {},
        "rail beside": {"metalwork": [rail]},
        "rail clamped": {"metalwork": [rail | {"joined": "yes"}]},
        "rail clamped and earthed": {"metalwork": [rail | {"joined": "yes", "foot": {}}]},
        "mast": {"mast": mast},
        "mast earthed": {"mast": mast | {"foot": {}}},
    }
    said = {}
    for which, around in sites.items():
        site = {"height": "8 m"} | around
        steps = work_steps(plan_of(tmp_path, data | {"site": site}))
        said[which] = "\n".join(steps)
        assert ("Clamp:" in said[which]) == ("clamped" in which)
        assert ("ground rod" in said[which]) == ("earthed" in which)
        for step in steps:
            if "no metal" in step:
                assert ("but the clamp to the railing may" in step) == ("clamped" in which)
    # What stands beside without a joint is no work of the workshop's.
    assert said["rail beside"] == said["alone"]
