"""The worked example of DEVELOPERS.md: a record and a line in the list are a new kind of choke."""

from __future__ import annotations

import importlib.util
import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import yaml

from pipeline.analysis.case_results import evaluate
from pipeline.chokes import kinds
from pipeline.chokes.measured_choke import TableChoke
from pipeline.judgement.case_merit import case_merit
from pipeline.judgement.intervals import case_intervals
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.report.tables import case_rows, choke_rows
from pipeline.solver.cases import CABLE, cases, ideal_choke
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.sections.chokes import choke_section
from pipeline.text.errors import StudyError
from tests.harness.small_study import case, small_study_file, solved

EXAMPLE = Path(__file__).parents[1] / "examples" / "trap.py"
GUIDE = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
NAME = "pipeline.chokes.trap"
TRAP = {"id": "tuned", "kind": "trap", "resonance": "144 MHz", "peak": "8 kohm", "quality": 60.0,
        "position": "0.30 m", "price": "20 EUR"}  # fmt: skip
OMEGA = 2 * np.pi * 144e6


@pytest.fixture(autouse=True)
def entered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The example's module in the list of kinds, as its author would enter it."""
    spec = importlib.util.spec_from_file_location(NAME, EXAMPLE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, NAME, module)
    spec.loader.exec_module(module)
    monkeypatch.setitem(kinds.KINDS, "trap", module.TrapChoke)
    yield
    choke_section.cache_clear()


def study(folder: Path, **changes: object) -> Study:
    return load_study(small_study_file(folder, chokes=[{**TRAP, **changes}]))


def side_by_side(f: np.ndarray) -> np.ndarray:
    """Resistance, coil and capacitor of a quality of 60, each from its own part."""
    inductance, capacitance = 8000 / (60 * OMEGA), 60 / (8000 * OMEGA)
    omega = 2 * np.pi * f
    return np.asarray(1 / (1 / 8000 + 1 / (1j * omega * inductance) + 1j * omega * capacitance))


def test_the_guide_shows_a_study_that_lists_it(tmp_path: Path) -> None:
    (page,) = re.findall(r"^## Add a kind of choke$(.*?)^## ", GUIDE, re.DOTALL | re.M)
    (text,) = re.findall(r"```yaml\n(.*?)```", page, re.DOTALL)
    (trap,) = load_study(small_study_file(tmp_path, **yaml.safe_load(text))).chokes
    assert trap.resonance == 144e6  # type: ignore[attr-defined]


def test_a_study_lists_it_by_keys_made_from_its_markers(tmp_path: Path) -> None:
    (trap,) = study(tmp_path).chokes
    assert (trap.kind, trap.label, trap.price, trap.currency) == ("trap", "trap", 20.0, "EUR")
    assert (trap.position, trap.resonance, trap.peak, trap.quality) == (0.3, 144e6, 8000.0, 60.0)  # type: ignore[attr-defined]
    schema = choke_section("trap").model_json_schema()
    jsonschema.validate(TRAP | {"quality": 60}, schema)
    with pytest.raises(jsonschema.ValidationError, match="resonance"):
        jsonschema.validate({"id": "a", "kind": "trap"}, schema)


def test_a_wrong_value_of_it_is_told_like_any_other(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        study(tmp_path, peak="1 ohm", quality="high", colour="red")
    assert {f.place.split()[-1] for f in caught.value.faults} == {
        f"chokes[0].{key}" for key in ("peak", "quality", "colour")
    }


def test_it_is_a_parallel_circuit_and_a_case_like_any_other(tmp_path: Path) -> None:
    # Terman, Radio Engineers' Handbook, 1943, sec. 3 (from memory): at a detuning of 1 / (2 Q)
    # either way the impedance of a parallel circuit is down to its peak over the root of two.
    changed = study(tmp_path)
    found = next(c for c in cases(changed) if c.id == "tuned")
    assert found.choke is not None
    ends = 144e6 * (np.sqrt(1 + 1 / 120**2) + np.array([-1, 0, 1]) / 120)
    size = abs(found.choke.impedance(np.array([ends[0], 144e6, ends[2]]), changed.host))
    np.testing.assert_allclose(size, [8000 / np.sqrt(2), 8000, 8000 / np.sqrt(2)], rtol=1e-12)
    result = evaluate(solved()[CABLE], changed, found)
    f, centre = result.frequency, result.centre
    expected = side_by_side(f)
    assert result.choke_impedance == pytest.approx(complex(expected[centre]), rel=1e-9)
    # The same ohms as a measured choke in its place make the same antenna.
    table = TableChoke(
        id="t", label="t", position=0.3, file="", f=tuple(f), z_choke=tuple(expected)
    )
    twin = evaluate(solved()[CABLE], changed, replace(found, choke=table))
    np.testing.assert_allclose(result.z_feed, twin.z_feed, rtol=1e-9)
    assert result.shield_ratio_max == pytest.approx(twin.shield_ratio_max, rel=1e-9)
    assert result.shield_ratio_max != pytest.approx(case("none").shield_ratio_max, rel=0.1)


def test_tables_hold_its_numbers_and_its_name(tmp_path: Path) -> None:
    changed = study(tmp_path)
    rows = choke_rows(changed)
    f = np.array([row["frequency_hz"] for row in rows])
    z = np.array([complex(row["r_ohm"], row["x_ohm"]) for row in rows])
    np.testing.assert_allclose(z, side_by_side(f), rtol=1e-9)
    entry = solved()[CABLE]
    every = {c.id: c for c in cases(changed)}
    ideal = evaluate(entry, changed, replace(every["ideal"], choke=ideal_choke(changed)))
    evidence = CaseEvidence(1.0, 0.0, 0.0, "sound")
    found = evaluate(entry, changed, every["tuned"])
    merit = found.merit(ideal.reference(0.0), 0.0)
    of = case_merit(found, merit, "sound")
    half = Expanded(0.01, 0.01, 0.001, 0.001, 0.01, 0.01)
    ends = case_intervals(merit, half, found.line, changed.frequency)
    (row,) = case_rows([of], {"tuned": evidence}, {"tuned": ends}, {"tuned": ""})
    expected = complex(side_by_side(np.array([changed.frequency]))[0])
    assert (row["case"], row["kind"], row["label"], row["price"]) == ("tuned", "trap", "trap", 20.0)
    assert complex(row["choke_r_ohm"], row["choke_x_ohm"]) == pytest.approx(expected, rel=1e-9)
