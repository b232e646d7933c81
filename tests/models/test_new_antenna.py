"""The worked example of DEVELOPERS.md: one new file is a new antenna."""

from __future__ import annotations

import dataclasses
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import yaml

import models.antennas
from models.antennas import generators
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.mesh.evidence import geometry_evidence, grade_of, quick_evidence
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.cases import ALONE, CABLE, cases
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.sections import antenna_and_cable as study_sections
from pipeline.text.errors import StudyError

STUDIES = Path(models.antennas.__file__).parents[1] / "studies"
EXAMPLES = Path(__file__).parents[1] / "examples"
STUDY = (EXAMPLES / "pipe_dipole.yaml").read_text(encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with the antenna's file beside the project's own, and its study."""
    antennas = tmp_path / "antennas"
    antennas.mkdir()
    shutil.copy(EXAMPLES / "pipe_dipole.py", antennas)
    path = [*models.antennas.__path__, str(antennas)]
    monkeypatch.setattr(models.antennas, "__path__", path)
    generators.cache_clear()
    (tmp_path / "dipole.yaml").write_text(STUDY, encoding="utf-8")
    yield tmp_path
    monkeypatch.undo()
    generators.cache_clear()
    study_sections.antenna_section.cache_clear()


@pytest.fixture
def study(folder: Path) -> Study:
    return load_study(folder / "dipole.yaml")


def test_its_geometries_are_graded_sound(study: Study) -> None:
    for r in requests(study).values():
        found = quick_evidence(r)
        assert grade_of("average_gain", abs(found.average_gain - 1)) == "sound"
        assert grade_of("reciprocity", found.reciprocity) == "sound"
        assert grade_of("segmentation", found.neighbour_ratio) == "sound"
        assert grade_of("feed", found.feed_thickness) == "sound"


def test_alone_it_is_a_half_wave_dipole(study: Study) -> None:
    # Balanis, Antenna Theory, ch. 8: 73 ohm, less where fat and cut to resonance; the soil four
    # wavelengths below moves it by a few ohm.
    r = requests(study)[ALONE]
    solved = Solved(r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil))
    alone = next(c for c in cases(study) if c.geometry == ALONE)
    z = evaluate(solved, study, alone).z_feed[r.centre]
    assert 60 < z.real < 76
    assert abs(z.imag) < 15


def test_a_choke_on_its_cable_is_algebra_as_with_any_other(study: Study) -> None:
    r = requests(study)[CABLE]
    solved = Solved(r.structure, solve_basis(r.structure, r.frequency, r.centre, r.soil))
    found = {c.id: evaluate(solved, study, c) for c in cases(study) if c.geometry == CABLE}
    most = {name: found[name].shield_ratio_max for name in ("none", "four", "ideal")}
    assert most["ideal"] < most["four"] < most["none"]
    assert not load_impedances(r.structure, r.frequency, study.frequency).any()
    own = geometry_evidence(r.structure, 1.0, solved.basis.y_port[r.centre])
    assert own.n_ports == len(r.structure.ports)


def test_its_own_rules_speak_in_the_messages_of_a_study(folder: Path) -> None:
    path = folder / "short.yaml"
    text = STUDY.replace("pipe: 22x1 mm", "pipe: 35x1 mm, length: 200 mm")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="eight pipe diameters"):
        load_study(path)
    # So do the range and form that its markers state, and keys of other antennas.
    for wrong, said in (("length: 9 m", "allowed 0.2 m"), ("length: 1", "no unit"),
                        ("spacing: 55 mm", "not a key")):  # fmt: skip
        path.write_text(STUDY.replace("pipe: 22x1 mm", f"pipe: 22x1 mm, {wrong}"), "utf-8")
        with pytest.raises(StudyError, match=said):
            load_study(path)
    path.write_text(STUDY.replace("cable:\n", "cable:\n  joins: hub\n"), encoding="utf-8")
    with pytest.raises(StudyError, match="lower half"):
        load_study(path)


def test_the_antennas_of_the_project_are_still_there(folder: Path) -> None:
    assert {"j-pole", "pipe-dipole"} <= set(generators())
    assert np.all([g.name == name for name, g in generators().items()])


@pytest.mark.parametrize("name", sorted(generators()))
def test_the_least_study_of_every_antenna_can_be_drawn_with_its_standard_candidates(
    tmp_path: Path, name: str
) -> None:
    # Its type, pipe, height and cable; a spacing only where that antenna wants one.
    data = yaml.safe_load((STUDIES / "minimal.yaml").read_text(encoding="utf-8"))
    fields = {f.name: f for f in dataclasses.fields(generators()[name].parameters)}
    wanted = "spacing" in fields and fields["spacing"].default is dataclasses.MISSING
    data["antenna"] = {"type": name, "pipe": "22x1 mm"} | ({"spacing": "55 mm"} if wanted else {})
    if name == "open-sleeve-j":
        data["antenna"] |= {"lower_band": "145 MHz", "upper_band": "435 MHz"}
    path = tmp_path / "least.yaml"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    study = load_study(path)
    assert [c.id for c in study.chokes][:1] == ["nizn-800-x1"]
    assert CABLE in requests(study)
