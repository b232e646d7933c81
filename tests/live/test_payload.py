"""The data of a live page: what it computes with is what was solved, to what rounding leaves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml
from numpy.typing import NDArray

from models.wires.structure import GRID
from pipeline.analysis.metrics import gain_dbi
from pipeline.circuit.line import power_in
from pipeline.circuit.port_algebra import fed_voltages, port_currents, superpose
from pipeline.live import shown
from pipeline.live.kinds import kinds_of
from pipeline.live.packing import unpack
from pipeline.live.payload import Carried, packed
from pipeline.live.ports import MOST_PORTS, movable_ranges, stretches_of, with_movable_ports
from pipeline.live.solves import Source, live_solves
from pipeline.live.variants import variants_of
from pipeline.solver.cases import CABLE, Case, ideal_choke
from pipeline.solver.far_field import directive_power, far_field
from pipeline.solver.solve_cache import requests
from pipeline.solver.terminations import choke_weights, placed_weights, terminations
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of
from pipeline.text.yaml_reading import read_yaml
from tests.harness import small_study

# What rounding may cost of a pattern, within 40 dB of its largest; 0.05 dB would be asked for.
ROUNDING_DB = 1e-5
STUDIES = Path(__file__).parents[2] / "models" / "studies"


@pytest.fixture(scope="module")
def study() -> Study:
    return small_study.study()


@pytest.fixture(scope="module")
def carried(study: Study, tmp_path_factory: pytest.TempPathFactory) -> Carried:
    store = tmp_path_factory.mktemp("store")
    source = Source(small_study.SMALL, requests(study), small_study.solved(), store, 1)
    named = {CABLE: stretches_of(study, study.chokes)}
    solved = live_solves(study, source, named)
    written = read_yaml(small_study.SMALL).data
    kinds = kinds_of(study, written["chokes"])
    shown = {"title": study.title, "study": written}
    return Carried(study, solved, kinds, 3.0, shown, ((variants_of(study)[0], "sound"),))


def complex_of(pairs: NDArray[np.float64]) -> NDArray[np.complex128]:
    return np.asarray(pairs[..., 0] + 1j * pairs[..., 1])


def currents_in(arrays: dict[str, NDArray[np.float64]], near: list[int]) -> NDArray[np.complex128]:
    """Currents per volt as the page puts them together."""
    own = complex_of(arrays[f"{CABLE}/near_current"])
    parts = [arrays[f"{CABLE}/{name}"].astype(float) for name in ("pattern", "small_pattern")]
    rest = complex_of(arrays[f"{CABLE}/mix"]) @ complex_of(np.concatenate(parts))
    found = np.zeros((len(own), own.shape[1] + rest.shape[1]), complex)
    found[:, near] = own
    found[:, np.setdiff1d(np.arange(found.shape[1]), near)] = rest
    return found


def test_every_place_of_the_ranges_is_covered_by_ports(study: Study, carried: Carried) -> None:
    built = carried.solved[CABLE].structure
    ranges = movable_ranges(built)
    # A core is 29 mm long.
    for low, high in ranges:
        for place in np.linspace(low, high - 0.029, 9):
            assert choke_weights(built, place, 0.029).sum() == pytest.approx(1, abs=1e-3)
    assert ranges[0][0] <= ideal_choke(study).position


def test_something_can_be_put_on_both_sides_of_a_bond_at_the_radio_and_between() -> None:
    study = load_study(STUDIES / "orchard_shed.yaml")
    built = with_movable_ports(
        study, requests(study)[CABLE].structure, stretches_of(study, study.chokes)
    )
    ranges = movable_ranges(built)
    for choke in study.chokes:
        if not choke.is_drawn:
            assert placed_weights(built, choke).sum() == pytest.approx(1, abs=1e-3)
    # Three cores of 29 mm.
    bond, radio = 7.7, walk_of(study).length
    middles = (bond / 2 - 0.043, (bond + radio) / 2 - 0.043)
    for place in (bond - 0.09, bond + 0.01, *middles, radio - 0.09):
        assert any(low <= place and place + 0.086 < high for low, high in ranges), place
    assert not any(low < bond - 1e-3 and high > bond + 1e-3 for low, high in ranges)


@pytest.mark.parametrize(
    ("name", "others"), [("orchard_shed", ["long leg"]), ("ground_plane", []), ("folded_j", ["x"])]
)
def test_the_shield_on_another_leg_is_offered_where_the_antenna_has_one(
    name: str, others: list[str]
) -> None:
    first, *rest = variants_of(load_study(STUDIES / f"{name}.yaml"))
    assert (first.geometry, dict(first.change)) == (CABLE, {})
    assert len(rest) == len(others)
    for variant in rest:
        assert variant.study.cable.joins == variant.id == variant.change["cable"]["joins"]


def test_wires_are_those_of_the_study_and_ports_few_enough_for_a_page(
    study: Study, carried: Carried
) -> None:
    own = small_study.solved()[CABLE].structure
    built = with_movable_ports(study, own, [])
    assert built.wires == own.wires
    assert sum(port.name.startswith("shield") for port in built.ports) <= MOST_PORTS
    assert {p.name for p in own.ports if not p.name.startswith("shield")} <= {
        p.name for p in built.ports
    }


def test_more_ports_change_nothing_of_what_a_case_is(study: Study, carried: Carried) -> None:
    ideal = Case("ideal", "ideal", CABLE, ideal_choke(study))
    from pipeline.analysis.case_results import evaluate

    ours, own = (evaluate(s[CABLE], study, ideal) for s in (carried.solved, small_study.solved()))
    assert np.abs(ours.gain - own.gain).max() < 1e-6
    assert ours.feed_current == pytest.approx(own.feed_current, rel=1e-9)


def test_what_the_page_carries_loses_less_than_anybody_sees(study: Study, carried: Carried) -> None:
    head, arrays = unpack(packed(carried))
    one = carried.solved[CABLE]
    built, basis = one.structure, one.basis
    ours = currents_in(arrays, head["engine"]["geometries"][CABLE]["near"])
    f = basis.frequency
    fields = far_field(built.segments, ours, float(f[0]), study.site.ground, basis.directions)
    generator = np.random.default_rng(1)
    for _ in range(20):
        z = terminations(built, study, f)[0]
        at = generator.integers(0, len(z), 6)
        z[at] += 10 ** generator.uniform(1, 5, 6) * np.exp(1j * generator.uniform(-1.5, 1.5, 6))
        z[built.port_index("feed")] = 0
        w = fed_voltages(basis.y_port[0], z[None], built.port_index("feed"))[0]
        taken = power_in(port_currents(basis.y_port[0], w))[built.port_index("feed")]
        carry, true = (
            gain_dbi(
                directive_power(superpose(e.reshape(len(e), -1), w).reshape(e.shape[1:])), taken
            )
            for e in (fields, basis.e_port)
        )
        seen = true > true.max() - 40
        assert np.abs(carry - true)[seen].max() < ROUNDING_DB


def test_wires_come_back_from_their_steps(carried: Carried) -> None:
    _, arrays = unpack(packed(carried))
    ends = np.cumsum(arrays[f"{CABLE}/steps"], axis=0).reshape(-1, 2, 3) * GRID
    wires = carried.solved[CABLE].structure.wires
    assert np.array_equal(ends, np.array([[w.start, w.end] for w in wires]))


def test_the_same_study_has_the_same_bytes(carried: Carried) -> None:
    assert packed(carried) == packed(carried)


def test_text_of_a_study_stays_data(carried: Carried) -> None:
    evil = "</script><script>alert(1)</script>\u2028"
    shown = {"title": evil, "study": {"title": evil}}
    content = packed(replace(carried, shown=shown))
    head, _ = unpack(content)
    assert head["title"] == head["study"]["title"] == evil


def test_two_chokes_are_offered_and_set_as_what_each_of_them_is(tmp_path: Path) -> None:
    core = {"kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.2 m"}
    table = {"kind": "table", "file": "choke.csv", "position": "0.9 m"}
    both = {"id": "two", "kind": "pair", "first": core, "second": table}
    study = load_study(small_study.small_study_file(tmp_path, chokes=[both]))
    kinds = kinds_of(study, [both])
    found = shown._setting(study, study.chokes[0])
    assert found["first"] == {"kind": core["core"], "count": 1, "position": 0.2}
    assert found["second"] == {"kind": "two-second", "count": 1, "position": 0.9}
    written = {kind.id: kind.study for kind in kinds}
    assert written["two-second"] == {"kind": "table", "file": "choke.csv"}
    assert written[core["core"]] == {"kind": "ferrite", "core": core["core"]}


def test_kinds_write_themselves_as_the_study_did(study: Study, carried: Carried) -> None:
    entries = yaml.safe_load(small_study.SMALL.read_text(encoding="utf-8"))["chokes"]
    files = [e["file"] for e in entries if e["kind"] == "table"]
    assert [k.study["file"] for k in carried.kinds if k.one.kind == "table"] == files
    for kind in carried.kinds:
        assert not set(kind.study) & {"id", "count", "position", "label"}
        assert kind.study["kind"] == kind.one.kind


def test_results_without_data_have_no_living_part(tmp_path: Path) -> None:
    from pipeline.live.embedding import live_of

    assert live_of(tmp_path) is None
    (tmp_path / "live.gz").write_bytes(b"</script>")
    live = live_of(tmp_path)
    assert live is not None
    assert "<" not in live.data
    assert "</script" not in live.script
