"""The batch file: what it may say, and that all that is wrong with it is told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.batch.batch_file import Batch, load_batch
from pipeline.batch.combinations import combinations
from pipeline.text.errors import StudyError

SMALL = Path(__file__).with_name("small_batch.yaml")


def changed(folder: Path, old: str, new: str) -> Path:
    text = SMALL.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path = folder / "batch.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def batch(folder: Path, more: str) -> Batch:
    path = folder / "batch.yaml"
    path.write_text(SMALL.read_text(encoding="utf-8") + more, encoding="utf-8")
    return load_batch(path)


def heights(made: Batch) -> list[object]:
    return [c.shown["site.height"] for group in made.groups for c in combinations(group)]


def test_every_value_of_every_axis_meets_every_other(tmp_path: Path) -> None:
    made = list(combinations(load_batch(SMALL).groups[0]))
    ends = {(c.shown["site.height"], c.shown["station.impedance"]) for c in made}
    assert ends == {(h, e) for h in (3.0, 4.0) for e in ("bonded", "touching nothing")}


def test_all_combinations_meet_the_same_draws() -> None:
    """Common random numbers: what differs between rows is what the axes say."""
    assert len({c.shown["low"] for c in combinations(load_batch(SMALL).groups[0])}) == 1


def test_a_table_pairs_its_columns(tmp_path: Path) -> None:
    (tmp_path / "sizes.csv").write_text(
        "antenna.pipe,antenna.radial_diameter\n22x1 mm,8 mm\n28x1 mm,10 mm\n", encoding="utf-8"
    )
    (group,) = batch(tmp_path, "table: sizes.csv\n").groups
    found = {
        (c.shown["antenna.pipe"], c.shown["antenna.radial_diameter"]) for c in combinations(group)
    }
    assert found == {("22x1 mm", 0.008), ("28x1 mm", 0.01)}


def test_conditions_keep_what_they_hold_for(tmp_path: Path) -> None:
    only = "only:\n  - {if: {station.impedance: bonded}, then: {site.height: {from: 3.5 m}}}\n"
    assert sorted(map(str, heights(batch(tmp_path, only)))) == ["3.0", "4.0", "4.0"]


def test_the_way_of_the_cable_can_be_asked_for(tmp_path: Path) -> None:
    """Down from 3 or 4 m to less than 1 m, and a metre on."""
    only = "only:\n  - {route: {from: 4 m, to: 5 m}}\n"
    assert set(heights(batch(tmp_path, only))) == {4.0}


def test_a_group_has_what_all_share_and_what_is_its_own(tmp_path: Path) -> None:
    more = "groups:\n  - name: low\n    axes: {site.height: [3 m]}\n  - name: with four\n"
    more += "    set: {antenna.radials: 4}\n"
    low, four = batch(tmp_path, more).groups
    assert {c.shown["site.height"] for c in combinations(low)} == {3.0}
    assert {c.values["antenna.radials"] for c in combinations(four)} == {4}


WRONG = [
    ("title: Two", "titel: Two", "key-unknown", "titel"),
    ("  site.height: [3 m", "  sight.height: [3 m", "axis-key", "sight.height"),
    ("count: 1\n", "count: none\n", "draws", "count"),
    ("refined_share: 0.5", "refined_share: 2", "share-range", "refined_share"),
    ("{$low: {from: 0.5 m, to: 1 m}}", "{$deep: {from: 0.5 m, to: 1 m}}", "axis-name", "$low"),
    ("{from: 0.5 m, to: 1 m}", "{from: 1 m, to: 0.5 m}", "axis-range", "to"),
]


def test_an_axis_that_is_given_twice_is_refused(tmp_path: Path) -> None:
    drawn = "  of: {$low: {from: 0.5 m, to: 1 m}, site.height: {from: 3 m, to: 4 m}}"
    with pytest.raises(StudyError, match="axis-twice"):
        load_batch(changed(tmp_path, "  of: {$low: {from: 0.5 m, to: 1 m}}", drawn))


def test_no_group_at_all_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="groups-empty"):
        batch(tmp_path, "groups: []\n")


@pytest.mark.parametrize(("old", "new", "tag", "told"), WRONG)
def test_what_is_wrong_is_told_with_its_place(
    tmp_path: Path, old: str, new: str, tag: str, told: str
) -> None:
    with pytest.raises(StudyError) as refused:
        load_batch(changed(tmp_path, old, new))
    faults = [f for f in refused.value.faults if f.tag == tag]
    assert faults
    assert told in faults[0].text()
    assert "batch.yaml:" in faults[0].place


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = SMALL.read_text(encoding="utf-8")
    for old, new in (("title", "titel"), ("refined_share: 0.5", "refined_share: 2")):
        text = text.replace(old, new)
    path = tmp_path / "batch.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError) as refused:
        load_batch(path)
    assert {f.tag for f in refused.value.faults} == {"key-unknown", "share-range"}


def test_a_condition_on_what_is_no_axis_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="condition-column"):
        batch(tmp_path, "only:\n  - {site.hight: {from: 3 m}}\n")


def test_conditions_that_keep_next_to_nothing_are_told(tmp_path: Path) -> None:
    (group,) = batch(tmp_path, "only:\n  - {low: {from: 2 m}}\n").groups
    with pytest.raises(StudyError, match="draws-few"):
        list(combinations(group))
