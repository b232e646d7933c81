"""Every key of a study with every kind of wrong value: one message in three lines, at its line."""

from __future__ import annotations

import random
import re
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.antennas import generators
from pipeline.study.reader import json_schema, load_study, read_study
from pipeline.text.errors import Fault, StudyError
from tests.harness.wrong_studies import (
    STUDY,
    WRONG,
    Path_,
    changed,
    keys_of,
    plain,
    write_measurements,
    written,
)

pytestmark = pytest.mark.takes(18)

SCHEMA = json_schema()
KEYS = keys_of(SCHEMA, STUDY)
PLACE = re.compile(r"study\.yaml:(\d+)(  \S.*)?")
SEED = 20261126


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("wrong")
    write_measurements(made)
    return made


def told(study: dict[str, Any], folder: Path) -> tuple[Fault, ...]:
    """Faults of a study; whatever is raised but our error comes through."""
    try:
        read_study(written(study).document(study), folder)
    except StudyError as error:
        return error.faults
    return ()


def told_of_a_file(study: dict[str, Any], folder: Path) -> tuple[Fault, ...]:
    """The same by way of a file."""
    path = folder / "study.yaml"
    path.write_text(written(study).text, encoding="utf-8")
    try:
        load_study(path)
    except StudyError as error:
        return error.faults
    return ()


def line_of(fault: Fault) -> int:
    """Line that a message names, once its form is what it has to be."""
    text = fault.text()
    rows = text.split("\n")
    assert len(rows) == 3, text
    assert all(row.isprintable() for row in rows), text
    assert re.match(r"    \S{2}.{4}", rows[1]), text
    assert re.match(r"    Try: \S", rows[2]), text
    match = PLACE.match(fault.place)
    assert match is not None, text
    return int(match[1])


@cache
def _validator(at: Path_) -> Any:
    return jsonschema.Draft202012Validator({"$defs": SCHEMA["$defs"], **KEYS[at]})


def allowed(at: Path_, value: Any) -> bool:
    """Whether the published schema takes a value."""
    return bool(_validator(at).is_valid(plain(value)))


def test_the_study_that_is_made_wrong_is_right(folder: Path) -> None:
    assert told(STUDY, folder) == told_of_a_file(STUDY, folder) == ()
    assert len(KEYS) > 150


@pytest.mark.parametrize("what", WRONG)
def test_a_wrong_value_is_told_once_at_its_line(folder: Path, what: str) -> None:
    value = WRONG[what]
    # A tenth of the keys, another tenth for each value: hundreds of studies in seconds.
    for at in random.Random(f"{SEED} {what}").sample(sorted(KEYS, key=str), len(KEYS) // 10):
        study = changed(STUDY, at, value)
        first, last = written(study).lines[at]
        faults = told(study, folder)
        where = f"{at}: {what}: {[fault.text() for fault in faults]}"
        assert faults or allowed(at, value), where
        assert all(first <= line_of(fault) <= last for fault in faults), where
        assert len(faults) <= 1 or isinstance(value, dict | list), where


@pytest.mark.parametrize("what", WRONG)
def test_what_a_file_says_is_told_as_of_its_data(folder: Path, what: str) -> None:
    at = random.Random(f"{SEED} {what}").choice(sorted(KEYS, key=str))
    study = changed(STUDY, at, WRONG[what])
    assert told_of_a_file(study, folder) == told(study, folder)


@pytest.mark.parametrize("name", generators())
def test_every_length_of_every_antenna_is_refused_alike(folder: Path, name: str) -> None:
    base = {key: STUDY[key] for key in ("frequency", "site", "cable")}
    base["antenna"] = {"type": name, "pipe": "22x1 mm"}
    parameters = [at for at in keys_of(SCHEMA, base) if at[0] == "antenna" and len(at) > 1]
    assert len(parameters) > 3
    for at in parameters:
        for what in random.Random(f"{SEED} {at}").sample(sorted(WRONG), 3):
            study = changed(base, at, WRONG[what])
            first, last = written(study).lines[at]
            faults = [f for f in told(study, folder) if f"antenna.{at[-1]}" in f.place]
            assert faults, (at, what)
            assert all(first <= line_of(fault) <= last for fault in faults), (at, what)


def test_all_faults_of_a_file_are_told_in_one_round(folder: Path) -> None:
    """Keys of which none lies in another, each with a value that the schema does not take."""
    chance = random.Random(SEED)
    # Where a part of the study's own is wrong, names that may be its are not told as unknown.
    keys = [at for at in sorted(KEYS, key=str) if at[-1] not in ("type", "kind")]
    keys = [at for at in keys if at[0] != "catalogue"]
    for _ in range(100):
        study, spoilt = STUDY, []
        for at in chance.sample(keys, 8):
            value = chance.choice(list(WRONG.values()))
            apart = all(at[: len(x)] != x and x[: len(at)] != at for x in spoilt)
            if apart and not allowed(at, value):
                study = changed(study, at, value)
                spoilt.append(at)
        lines = written(study).lines
        found = {line_of(fault) for fault in told(study, folder)}
        for at in spoilt:
            first, last = lines[at]
            assert any(first <= line <= last for line in found), (at, spoilt, found)
        spans = [range(lines[at][0], lines[at][1] + 1) for at in spoilt]
        assert all(any(line in span for span in spans) for line in found), (spoilt, found)


_SCALAR = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
_ANYTHING = st.recursive(
    _SCALAR,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=6,
)


@settings(max_examples=80, deadline=None)
@given(at=st.sampled_from(sorted(KEYS, key=str)), value=_ANYTHING)
def test_any_value_at_any_key_gives_a_study_or_faults_with_a_place(
    folder: Path, at: Path_, value: Any
) -> None:
    for fault in told(changed(STUDY, at, value), folder):
        line_of(fault)


# Across sections


def test_two_wrong_steps_of_a_route_are_told_together(folder: Path) -> None:
    steps = [{"out": "0.1 m"}, {"back": "1 m"}, {"down_to": "9 m"}, {"left": "1 m"}]
    study = changed(STUDY, ("cable", "route"), [*steps, {"bond": "here"}, {"bond": "here"}])
    tags = [fault.tag for fault in told(study, folder)]
    assert tags == ["route-folds-back", "route-height", "bond-twice"]


def test_a_key_that_is_wrong_does_not_hide_what_its_section_says_against_others(
    folder: Path,
) -> None:
    study = changed(STUDY, ("cable", "jions"), "long leg")
    study = changed(study, ("cable", "length"), "2 m")
    study = changed(study, ("chokes", 1, "core"), "mix-43-bead-14-3")
    study = changed(study, ("chokes", 1, "cuont"), 2)
    tags = [fault.tag for fault in told(study, folder)]
    assert sorted(tags) == ["cable-short", "core-too-small", "key-unknown", "key-unknown"]


def test_keys_that_are_there_twice_are_told_with_all_else(tmp_path: Path) -> None:
    path = tmp_path / "study.yaml"
    text = "power: 10 W\npower: 20 W\nfrequency: 145\nantena: {type: j-pole}\ncable: {typ: x}\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        load_study(path)
    found = [(fault.place, fault.tag) for fault in caught.value.faults]
    # A key that is misspelt is not missing as well.
    assert found == [
        ("study.yaml:2  power", "key-duplicate"),
        ("study.yaml:1  site", "key-missing"),
        ("study.yaml:3  frequency", "unit-missing"),
        ("study.yaml:4  antena", "key-unknown"),
        ("study.yaml:5  cable.typ", "key-unknown"),
    ]


def test_what_is_missing_is_shown_as_it_could_be_written(folder: Path) -> None:
    """What the messages propose is a study, but for what has to be known of the house."""
    (missing,) = told({key: STUDY[key] for key in STUDY if key != "site"}, folder)
    assert missing.remedy == "site: {height: 8 m}"
    (missing,) = told({key: STUDY[key] for key in STUDY if key != "antenna"}, folder)
    assert missing.remedy == "antenna: {type: j-pole, pipe: 22x1 mm, spacing: 55 mm}"


def test_a_kind_that_is_a_letter_off_does_not_hide_what_is_below_it(folder: Path) -> None:
    study = changed(STUDY, ("antenna", "type"), "j-pol")
    study = changed(study, ("antenna", "spacing"), 55)
    study = changed(study, ("chokes", 0, "kind"), "coill")
    study = changed(study, ("chokes", 0, "turns"), 0)
    tags = [fault.tag for fault in told(study, folder)]
    assert tags == ["name-unknown", "unit-missing", "name-unknown", "number-range"]
    # A guess that could be wrong is none: its keys would be told as unknown.
    study = changed(STUDY, ("antenna", "type"), "dipole")
    assert [fault.tag for fault in told(study, folder)] == ["name-unknown"]


def test_a_case_that_nobody_has_is_still_told_beside_a_faulty_candidate(folder: Path) -> None:
    study = changed(STUDY, ("chokes", 0, "turns"), 0)
    study = changed(study, ("tune", "choke"), "cioil")
    assert [fault.tag for fault in told(study, folder)] == ["tune-choke", "number-range"]


def test_a_message_stays_three_lines_whatever_the_file_is_called(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        load_study(tmp_path / "a\x1b[2J\nb\u202e.yaml")
    assert caught.value.faults[0].text().split("\n")[0] == (
        r"a\x1b[2J\nb\u202e.yaml  [file-missing]"
    )


def test_a_line_end_that_editors_do_not_show_is_refused_at_its_line(folder: Path) -> None:
    path = folder / "study.yaml"
    path.write_text("# one\n# two \u2028 power: 3 W\nfrequency: 145 MHz\n", encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        load_study(path)
    (fault,) = caught.value.faults
    assert (fault.place, fault.tag) == ("study.yaml:2", "yaml-feature")
    assert "U+2028" in fault.rule
