"""The metal around an antenna as a study describes it: read, refused, kept out of the way."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from models.site.earth import Earth
from models.site.metalwork import NOTHING
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.figures.installation import Scene, draw_installation
from pipeline.solver.cases import NO_FEEDLINE, cases, geometry_plans
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.solver.structures import structure
from pipeline.study.reader import json_schema, load_study
from pipeline.study.records import Study
from pipeline.text.errors import StudyError
from pipeline.text.yaml_reading import read_yaml
from tests.harness.small_study import SMALL, small_study_file

ROOF = Path(__file__).parents[2] / "models" / "studies" / "roof_mast.yaml"
MAST = {"material": "metal", "diameter": "42 mm", "length": "1.5 m"}
GUTTER = {
    "name": "gutter",
    "diameter": "60 mm",
    "points": ["1 m, -1 m, 2.5 m", ["1 m", "1 m", "2.5 m"]],
}
OTHER = {"type": "RG-213/U", "beside": "60 mm", "high": "2.8 m", "low": "1.7 m"}
SITE = {"height": "3 m", "ground": "average"}


def study_with(folder: Path, **site: Any) -> Study:
    return load_study(small_study_file(folder, site=SITE | site))


def tags(folder: Path, **site: Any) -> list[str]:
    with pytest.raises(StudyError) as caught:
        study_with(folder, **site)
    assert all(fault.place and fault.rule and fault.remedy for fault in caught.value.faults)
    return [fault.tag for fault in caught.value.faults]


# Which way the antenna stands


def test_a_bearing_of_the_front_is_read_in_degrees_and_changes_no_field(tmp_path: Path) -> None:
    turned, plain = study_with(tmp_path, facing="120 deg"), study_with(tmp_path)
    assert turned.site.facing == 120.0
    assert plain.site.facing is None
    assert not any("facing" in said for said in plain.defaults)
    assert [r.digest() for r in requests(turned).values()] == [
        r.digest() for r in requests(plain).values()
    ]


@pytest.mark.parametrize(
    ("given", "tag"),
    [("400 deg", "angle-range"), ("120", "unit-missing"), ("120 m", "unit-wrong")],
)
def test_a_bearing_beyond_the_circle_or_without_its_unit_is_refused_with_a_remedy(
    tmp_path: Path, given: str, tag: str
) -> None:
    with pytest.raises(StudyError) as caught:
        study_with(tmp_path, facing=given)
    (fault,) = caught.value.faults
    assert "site.facing" in fault.place
    assert "deg" in fault.remedy
    assert fault.tag == tag


# What is read


def test_a_study_without_surroundings_has_nothing_around_it() -> None:
    assert load_study(SMALL).site.around == NOTHING


def test_mast_metalwork_and_another_cable_are_read_in_si(tmp_path: Path) -> None:
    mast = MAST | {"bonded": "yes", "stand_off": "0.1 m", "foot": {"rod_impedance": "25 ohm"}}
    study = study_with(tmp_path, mast=mast, metalwork=[GUTTER], other_feedline=OTHER)
    around = study.site.around
    assert around.mast is not None
    assert (around.mast.radius, around.mast.bonded, around.mast.towards) == (0.021, True, "back")
    assert around.mast_earth == Earth(2.25e-3, 25 + 0j)
    assert around.pieces[0].points == ((1.0, -1.0, 2.5), (1.0, 1.0, 2.5))
    assert around.other is not None
    assert around.other.strap is None
    assert "site.mast.top: just below the antenna, without touching it" in study.defaults
    assert "site.other_feedline.towards: left" in study.defaults


def test_a_wooden_mast_changes_no_solve_and_the_study_says_so(tmp_path: Path) -> None:
    bare, wood = (
        study_with(tmp_path, **extra) for extra in ({}, {"mast": MAST | {"material": "wood"}})
    )
    digests = [{n: r.digest() for n, r in requests(s).items()} for s in (bare, wood)]
    assert digests[0] == digests[1]
    assert any("wooden mast is not drawn" in text for text in wood.warnings)
    assert not any("wooden" in text for text in bare.warnings)


def test_metal_changes_the_solve_of_every_geometry(tmp_path: Path) -> None:
    bare = requests(study_with(tmp_path))
    around = requests(study_with(tmp_path, metalwork=[GUTTER]))
    assert all(around[name].digest() != bare[name].digest() for name in bare)


def test_parts_are_drawn_under_their_own_names_with_and_without_our_cable(tmp_path: Path) -> None:
    study = study_with(tmp_path, mast=MAST, metalwork=[GUTTER], other_feedline=OTHER)
    for plan in geometry_plans(study):
        assert {"mast", "gutter", "other feedline"} <= set(structure(study, plan).parts())


def test_an_impedance_at_a_foot_or_strap_is_algebra_and_changes_no_solve(tmp_path: Path) -> None:
    def digests(strap: str, rod: str) -> list[str]:
        other = OTHER | {"strap": strap, "foot": {"rod_impedance": rod}}
        study = study_with(tmp_path, other_feedline=other)
        # The other cable lies so near that a sleeve of ours would touch it.
        study = replace(study, chokes=tuple(c for c in study.chokes if not c.is_drawn))
        built = structure(study, geometry_plans(study)[1])
        assert built.has_port("other top")
        assert built.has_port("other foot")
        return [r.digest() for r in requests(study).values()]

    assert digests("0 ohm", "40 ohm") == digests("100 ohm", "200 ohm")


def test_the_study_of_the_roof_is_valid_by_reader_and_schema() -> None:
    around = load_study(ROOF).site.around
    assert [p.name for p in around.pieces] == ["ridge capping", "gutter"]
    validator = jsonschema.Draft202012Validator(json_schema())
    assert list(validator.iter_errors(read_yaml(ROOF).data)) == []


def test_every_case_says_how_much_flows_on_what_stands_around(tmp_path: Path) -> None:
    study = study_with(tmp_path, metalwork=[GUTTER])
    alone = geometry_plans(study)[0]
    r = requests(study)[alone.name]
    solved = Solved(r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil))
    case = next(c for c in cases(study) if c.id == NO_FEEDLINE)
    (gutter,) = evaluate(solved, study, case, route=3.0).nearby
    assert (gutter.part, gutter.height) == ("gutter", pytest.approx(2.5, abs=1e-5))
    assert 0.001 < gutter.ratio < 0.5


def test_the_picture_of_the_installation_shows_and_names_every_part(tmp_path: Path) -> None:
    study = study_with(tmp_path, mast=MAST, metalwork=[GUTTER], other_feedline=OTHER)
    drawn = {plan.name: structure(study, plan) for plan in geometry_plans(study)[:2]}
    draw_installation(tmp_path / "site", drawn, Scene(study.title, study.frequency))
    picture = (tmp_path / "site.svg").read_text(encoding="utf-8")
    for part in ("mast", "gutter", "other feedline"):
        assert f'id="part-{part.replace(" ", "-")}"' in picture
        assert f"{part}</text>" in picture


# What is refused


def test_a_foot_needs_soil_and_another_cable_a_downward_run_of_ours(tmp_path: Path) -> None:
    # Single values are refused in tests/studies/wrong.csv.
    assert "bond-no-ground" in tags(tmp_path, mast=MAST | {"foot": {}}, ground="free space")
    cable = {"type": "RG-213/U", "route": [{"out": "6 m"}]}
    path = small_study_file(tmp_path, site=SITE | {"other_feedline": OTHER}, cable=cable)
    with pytest.raises(StudyError) as caught:
        load_study(path)
    assert "other-no-run" in [fault.tag for fault in caught.value.faults]


def test_parts_that_touch_are_named_with_their_place_in_the_study(tmp_path: Path) -> None:
    across = GUTTER | {"name": "railing", "points": ["0 m, -1 m, 4 m", "0 m, 1 m, 4 m"]}
    study = study_with(tmp_path, metalwork=[GUTTER, across])
    with pytest.raises(StudyError) as caught:
        requests(study)
    (fault,) = caught.value.faults
    assert fault.tag == "wires-cross"
    assert "railing" in fault.rule
    # The line is that of the entry, though it was found on the drawing.
    place, key = fault.place.split("  ")
    assert key == "site.metalwork[1]"
    rows = (tmp_path / "small.yaml").read_text("utf-8").split("\n")
    first = int(place.removeprefix("small.yaml:")) - 1
    assert rows[first].startswith("  - ")
    assert any("name: railing" in row for row in rows[first : first + 2])


def test_what_is_wrong_with_several_drawings_is_told_together(tmp_path: Path) -> None:
    """Two coils across two bends, each of them drawn by itself."""
    chokes = [
        {"id": f"coil-{k}", "kind": "coil", "turns": 9, "diameter": "0.3 m", "position": place}
        for k, place in enumerate(("0.16 m", "1.60 m"))
    ]
    study = load_study(small_study_file(tmp_path, chokes=chokes))
    with pytest.raises(StudyError) as caught:
        requests(study)
    keys = [fault.place.split("  ")[1] for fault in caught.value.faults]
    assert [key.split(".")[1] for key in keys] == ["coil-0", "coil-1"]
    assert all(re.match(r"small\.yaml:\d+  chokes", f.place) for f in caught.value.faults)
