"""The worked example of DEVELOPERS.md: one new module is a new section of the study file."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import pytest
import yaml

from pipeline.study import reader, section, sections
from pipeline.study.reader import json_schema, load_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError
from tests.harness.small_study import SMALL, small_study_file

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "tests" / "examples" / "weather.py"
MODULE = "pipeline.study.sections.weather"
CACHES = (section.registered, reader.file_section, reader.only)


@pytest.fixture(autouse=True)
def found_by_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The module beside the project's own sections, as its author would put it there."""
    folder = tmp_path / "sections"
    folder.mkdir()
    shutil.copy(EXAMPLE, folder)
    monkeypatch.setattr(sections, "__path__", [*sections.__path__, str(folder)])
    monkeypatch.setattr(section, "_REGISTERED", dict(section._REGISTERED))
    for cache in CACHES:
        cache.cache_clear()
    yield
    monkeypatch.undo()
    sys.modules.pop(MODULE, None)
    for cache in CACHES:
        cache.cache_clear()


def study(folder: Path, **weather: object) -> Study:
    return load_study(small_study_file(folder, weather=weather))


def fault(folder: Path, **weather: object) -> Fault:
    with pytest.raises(StudyError) as caught:
        study(folder, **weather)
    (found,) = caught.value.faults
    return found


def record(of: Study) -> object:
    """The section as whoever needs it asks for it."""
    return of.section(sys.modules[MODULE].Weather)


def test_the_study_carries_its_record_in_si(tmp_path: Path) -> None:
    made = sys.modules.get(MODULE)
    assert made is None, "it has to be found by itself"
    found = study(tmp_path, ice="5 mm")
    assert record(found) == sys.modules[MODULE].Weather(0.005, "no")
    assert [s for s in found.defaults if s.startswith("weather")] == ["weather.salt: no"]


def test_a_study_without_it_has_all_its_defaults_and_says_so() -> None:
    found = load_study(SMALL)
    assert record(found) == sys.modules[MODULE].Weather()
    said = [s for s in found.defaults if s.startswith("weather")]
    assert said == ["weather.ice: 0 m", "weather.salt: no"]


@pytest.mark.parametrize(
    ("weather", "key", "value", "tag", "rule", "remedy"),
    [
        ({"ice": "5"}, "ice", '"5"', "unit-missing", "has no unit", '"5 mm"'),
        ({"ice": "1 m"}, "ice", '"1 m"', "length-range", "allowed 0 m to 50 mm", "5 mm"),
        ({"ice": "40 mm"}, "ice", '"40 mm"', "ice-thick", "thicker than the pipe", "22 mm or less"),
        ({"salt": "some"}, "salt", '"some"', "choice-unknown", "no, yes", "no"),
        ({"slat": "yes"}, "slat", '"yes"', "key-unknown", "not a key", "salt:"),
    ],
)
def test_a_wrong_value_is_told_with_line_key_value_range_and_remedy(
    tmp_path: Path, weather: dict[str, str], key: str, value: str, tag: str, rule: str, remedy: str
) -> None:
    found = fault(tmp_path, **weather)
    lines = (tmp_path / "small.yaml").read_text("utf-8").splitlines()
    place, at = found.place.split("  ")
    assert at == f"weather.{key}"
    assert f"{key}:" in lines[int(place.removeprefix("small.yaml:")) - 1]
    assert (found.value, found.tag) == (value, tag)
    assert rule in found.rule
    assert remedy in found.remedy


def test_the_schema_of_an_editor_knows_it() -> None:
    schema = json_schema()
    entry = schema["$defs"]["WeatherSection"]
    assert entry["description"] == "What the antenna has to bear beside the wind."
    assert "allowed 0 m to 50 mm" in entry["properties"]["ice"]["description"]
    validator = jsonschema.Draft202012Validator(schema)
    small = yaml.safe_load(SMALL.read_text("utf-8"))
    assert validator.is_valid(small | {"weather": {"ice": "5 mm", "salt": "yes"}})
    assert not validator.is_valid(small | {"weather": {"ice": 5}})


def test_the_guide_names_it_and_shows_a_study_that_reads(tmp_path: Path) -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    (page,) = re.findall(r"^## Add a section of the study file$(.*?)^## ", guide, re.DOTALL | re.M)
    assert "tests/examples/weather.py" in page
    (example,) = re.findall(r"```yaml\n(.*?)```", page, re.DOTALL)
    assert record(study(tmp_path, **yaml.safe_load(example)["weather"])).ice > 0
