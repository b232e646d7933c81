"""Chokes in two places: cores in two rows, or two chokes of different kinds; what cannot be."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.wires.structure import Structure
from pipeline.analysis.heat import stress
from pipeline.chokes.kind import Choke
from pipeline.judgement.sweeps import core_count_rows
from pipeline.solver.cases import CABLE, GeometryPlan
from pipeline.solver.catalogue_sets import prices_of
from pipeline.solver.structures import structure
from pipeline.solver.terminations import (
    choke_series,
    choke_weights,
    placed_weights,
    warmest_of_rows,
)
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError
from tests.harness.answered import described
from tests.harness.small_study import small_study_file

ROW = {"id": "halves", "kind": "ferrite", "core": "mix-43-clamp-12-7", "price": "4.50 EUR"}
TWO = ROW | {"count": 4, "position": "0.20 m", "also_at": "0.60 m"}
FIRST = {key: ROW[key] for key in ("kind", "core", "price")} | {"count": 2, "position": "0.20 m"}
SAME = {"id": "same", "kind": "pair", "first": FIRST, "second": FIRST | {"position": "0.60 m"}}
OTHER = {"kind": "ferrite", "core": "mix-31-clamp-12-7", "position": "0.60 m", "price": "5 EUR"}
PAIR = {"id": "unlike", "kind": "pair", "first": FIRST, "second": OTHER}


def read(folder: Path, *chokes: dict[str, object]) -> Study:
    # Copies, since YAML would write what two of them share as an alias.
    return load_study(small_study_file(folder, chokes=[json.loads(json.dumps(c)) for c in chokes]))


def fault(folder: Path, of: dict[str, Any] = TWO, **keys: object) -> Fault:
    with pytest.raises(StudyError) as refused:
        read(folder, of | keys)
    (found,) = refused.value.faults
    return found


@pytest.fixture
def study(tmp_path: Path) -> Study:
    return read(tmp_path, TWO, SAME, PAIR)


@pytest.fixture
def halves(study: Study) -> Choke:
    return study.chokes[0]


@pytest.fixture
def unlike(study: Study) -> Choke:
    return study.chokes[2]


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


def test_the_warmest_of_equal_cores_is_the_one_with_most_current_in_either_row(
    study: Study, halves: Choke
) -> None:
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    even = np.ones(len(built.ports), complex)
    assert shares(built, study, halves, even) == pytest.approx([0.25, 0.25], rel=1e-4)
    # Twice the current under the second row is four times its heat.
    strong = np.where(choke_weights(built, 0.60, 0.0572) > 0, 2.0, 1.0).astype(complex)
    assert max(shares(built, study, halves, strong)) == pytest.approx(4 / 10, rel=1e-3)


def shares(built: Structure, study: Study, choke: Choke, current: Any) -> list[float]:
    return [row.share for row in warmest_of_rows(built, study, choke, current)]


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


# Two chokes


def test_two_chokes_are_in_series_each_with_its_own_impedance_at_its_own_place(
    study: Study, unlike: Choke
) -> None:
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    f = np.array([study.frequency])
    expected = sum(
        one.impedance(f, study.host) * choke_weights(built, one.position, one.acts_over)
        for one in unlike.placed
    )
    np.testing.assert_allclose(choke_series(built, study, unlike, f)[0], expected, rtol=1e-12)
    total = choke_series(built, study, unlike, f)[0].sum()
    np.testing.assert_allclose(total, unlike.impedance(f, study.host)[0], rtol=1e-4)


def test_heat_is_told_of_the_warmest_core_of_each_class(study: Study, unlike: Choke) -> None:
    built = structure(study, GeometryPlan(CABLE, has_feedline=True))
    f, even = np.array([study.frequency]), np.ones(len(built.ports), complex)
    two, one = (float(row.impedance(f, study.host)[0].real) for row in unlike.placed)
    expected = [two / 2 / (two + one), one / (two + one)]
    assert shares(built, study, unlike, even) == pytest.approx(expected, rel=1e-3)


def test_a_pair_is_bought_whole_and_tells_the_price_of_each_core(
    study: Study, unlike: Choke
) -> None:
    assert (unlike.count, unlike.price, unlike.currency) == (3, 14.0, "EUR")
    prices, currency = prices_of(study)
    assert (prices["mix-43-clamp-12-7"], prices["mix-31-clamp-12-7"], currency) == (4.5, 5, "EUR")
    assert [core.id for core in unlike.cores] == ["mix-43-clamp-12-7", "mix-31-clamp-12-7"]
    assert unlike.label.startswith("2 cores, NiZn")
    assert unlike.label.endswith("at 0.60 m")


@pytest.mark.parametrize(
    ("keys", "place", "tag", "remedy"),
    [
        ({"second": OTHER | {"position": "0.21 m"}}, "second.position", "rows-overlap", "0.2572 m"),
        ({"second": OTHER | {"position": "3 m"}}, "second.position", "choke-beyond-route", "move"),
        ({"second": OTHER | {"position": "1.64 m"}}, "second.position", "choke-across", "1.7 m"),
        ({"second": OTHER | {"count": [1, 2]}}, "second.count", "list-in-several", "count: 1"),
        ({"second": OTHER | {"price": "5 USD"}}, "second.price", "price-currency", "EUR"),
        ({"first": FIRST | {"also_at": "0.4 m"}}, "first.also_at", "place-in-several", "leave"),
        ({"first": {"kind": "coil", "turns": 3}}, "first.kind", "name-unknown", "ferrite"),
        ({"second": OTHER | {"core": "mix-31-clamp-6-6"}}, "second.core", "core-too-small", "31"),
        ({"position": "1 m"}, "].position", "key-unknown", "one of"),
        ({"second": 3}, "].second", "value-kind", "kind"),
    ],
)
def test_a_pair_that_cannot_be_is_refused_at_its_key(
    tmp_path: Path, keys: dict[str, Any], place: str, tag: str, remedy: str
) -> None:
    found = fault(tmp_path, PAIR, **keys)
    assert found.place.endswith(place)
    assert found.tag.startswith(tag)
    assert remedy in found.remedy


# Judged


def test_two_places_are_judged_alike_however_they_are_written(study: Study) -> None:
    found = described(study)
    own, same, bare = (found.cases[name] for name in ("halves", "same", "none"))
    assert own["station_ratio"] < bare["station_ratio"]
    assert own.also_at == found.cases["unlike"].also_at == pytest.approx(0.60)
    for figure in own.merit.values:
        assert same[figure] == pytest.approx(own[figure], rel=1e-9), figure
    rows = core_count_rows(found.solved)
    of_first = [row for row in rows if row["core"] == ROW["core"]]
    assert [row["count"] for row in of_first] == [0, 1, 2]
    # One pass through every core, in series (the sweep goes on as far as the first row does).
    each = of_first[1]["choke_r_ohm"]
    assert of_first[2]["choke_r_ohm"] == pytest.approx(2 * each, rel=1e-4)
    # Both are cores: what is told is that of the one nearer to its Curie point.
    stressed = stress(found.results["unlike"])
    assert stressed is not None
    assert stressed.core is not None
    whole = found.results["unlike"].choke_power
    told = [row.share * whole for row in found.results["unlike"].warmest]
    assert stressed.core.carrier in told
