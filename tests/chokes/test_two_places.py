"""Cores in two rows: half of the impedance at each place, and refusals of what cannot be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.chokes.kind import Choke
from pipeline.judgement.sweeps import core_count_rows
from pipeline.solver.cases import CABLE, GeometryPlan
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series, choke_weights, hottest_share, placed_weights
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError
from tests.harness.answered import described
from tests.harness.small_study import small_study_file

ROW = {"id": "halves", "kind": "ferrite", "core": "mix-43-clamp-12-7", "price": "4.50 EUR"}
TWO = ROW | {"count": 4, "position": "0.20 m", "also_at": "0.60 m"}


def read(folder: Path, *chokes: dict[str, object]) -> Study:
    return load_study(small_study_file(folder, chokes=list(chokes)))


def fault(folder: Path, **keys: object) -> Fault:
    with pytest.raises(StudyError) as refused:
        read(folder, TWO | keys)
    (found,) = refused.value.faults
    return found


@pytest.fixture
def study(tmp_path: Path) -> Study:
    return read(tmp_path, TWO)


@pytest.fixture
def halves(study: Study) -> Choke:
    return next(c for c in study.chokes if c.id == "halves")


def test_half_of_the_cores_sit_at_each_place_and_all_are_bought(halves: Choke) -> None:
    assert [(row.position, row.count) for row in halves.placed] == [(0.20, 2), (0.60, 2)]
    assert halves.price == pytest.approx(18.0)
    assert sum(row.price or 0 for row in halves.placed) == pytest.approx(halves.price)
    assert halves.acts_over == pytest.approx(sum(row.acts_over for row in halves.placed))
    assert not halves.can_be_moved


def test_two_rows_have_the_impedance_of_all_cores_half_of_it_at_each_place(
    study: Study, halves: Choke
) -> None:
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    f = np.array([study.frequency])
    z = choke_series(built, study, halves, f)[0]
    first, second = (choke_series(built, study, row, f)[0] for row in halves.placed)
    # In series: one pass through each row, as if they were two chokes.
    np.testing.assert_allclose(z, first + second, rtol=1e-12)
    # Ends of a row fall on nodes of the wires to a thousandth of a millimetre.
    np.testing.assert_allclose(first.sum(), second.sum(), rtol=1e-4)
    assert placed_weights(built, halves).sum() == pytest.approx(1.0, rel=1e-4)


def test_the_hottest_of_equal_cores_is_the_one_with_most_current_in_either_row(
    study: Study, halves: Choke
) -> None:
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    even = np.ones(len(built.ports), complex)
    assert hottest_share(built, halves, even) == pytest.approx(0.25, rel=1e-4)
    # Twice the current under the second row is four times its heat.
    strong = np.where(choke_weights(built, 0.60, 0.0572) > 0, 2.0, 1.0).astype(complex)
    assert hottest_share(built, halves, strong) == pytest.approx(4 / (1 + 1 + 4 + 4), rel=1e-3)


def test_names_say_how_many_cores_are_where(tmp_path: Path, halves: Choke) -> None:
    assert halves.label.endswith("2 at 0.20 m and 2 at 0.60 m")
    assert halves.short.endswith("2 at 0.20 m and 2 at 0.60 m")
    assert halves.begins == "2 starting 0.20 m and 2 starting 0.60 m from the antenna"
    (named,) = read(tmp_path, TWO | {"label": "mine"}).chokes
    assert named.label == "mine"


def test_every_number_of_a_list_is_split(tmp_path: Path) -> None:
    found = read(tmp_path, TWO | {"count": [2, 4]}).chokes
    assert [[row.count for row in c.placed] for c in found] == [[1, 1], [2, 2]]
    assert [c.label[-27:] for c in found] == [
        "1 at 0.20 m and 1 at 0.60 m",
        "2 at 0.20 m and 2 at 0.60 m",
    ]


def test_an_odd_number_cannot_be_halved(tmp_path: Path) -> None:
    found = fault(tmp_path, count=3)
    assert (found.tag, "count" in found.place) == ("cores-odd", True)
    assert found.remedy == "count: 4"


def test_a_second_row_begins_past_the_end_of_the_first(tmp_path: Path) -> None:
    found = fault(tmp_path, also_at="0.25 m")
    assert (found.tag, "also_at" in found.place) == ("rows-overlap", True)
    # The hint is followed, and works: two cores of 28.6 mm from 0.20 m.
    assert found.remedy == "also_at: 0.2572 m or more"
    assert read(tmp_path, TWO | {"also_at": "0.2572 m"})


def test_each_row_has_to_lie_on_the_cable_and_between_two_bends(tmp_path: Path) -> None:
    beyond = fault(tmp_path, also_at="3 m")
    assert (beyond.tag, "also_at" in beyond.place) == ("choke-beyond-route", True)
    # The small study's cable turns 0.17 m and 1.65 m from the antenna.
    across = fault(tmp_path, also_at="1.64 m")
    assert (across.tag, "also_at" in across.place) == ("choke-across-bend", True)
    assert across.remedy == "also_at: 1.7 m"


# Judged


def test_a_study_with_two_rows_is_judged_and_the_number_of_cores_is_swept_on_the_first(
    study: Study,
) -> None:
    found = described(study)
    own, bare = found.cases["halves"], found.cases["none"]
    assert own["station_ratio"] < bare["station_ratio"]
    assert own.also_at == pytest.approx(0.60)
    rows = core_count_rows(found.solved)
    assert [row["count"] for row in rows] == [0, 1, 2]
    # One pass through every core, in series (the sweep goes on as far as the first row does).
    each = rows[1]["choke_r_ohm"]
    assert rows[2]["choke_r_ohm"] == pytest.approx(2 * each, rel=1e-4)
