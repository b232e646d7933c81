"""A coil is wound by hand: how else it may come out, what that does, what its cable costs."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.catalogues.parts import coax_class, ferrite_core
from pipeline.analysis.case_results import CaseResult, Solved, at_centre, evaluate
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.chokes.coil import CoilChoke
from pipeline.design.choke_design import set_cost
from pipeline.design.choke_sets import CoreSet, Place
from pipeline.judgement.coil_variants import as_made, with_making
from pipeline.judgement.intervals import Interval, case_intervals
from pipeline.judgement.sweeps import SolvedStudy, variations
from pipeline.judgement.verdict import Variation, recommend
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.solver.cases import CABLE, Case, cases
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import made_requests, requests
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.workflow.plans import plan_studies
from tests.harness.made_cases import bare, cores, made_case, steady, told
from tests.harness.small_study import small_study_file, solved

COIL = {"id": "wound", "kind": "coil", "turns": 3, "diameter": "0.10 m", "pitch": "12 mm",
        "position": "0.60 m"}  # fmt: skip
CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.05 m"}
EVIDENCE = CaseEvidence(average_gain=1.0, reciprocity=0.01, convergence=0.01, grade="sound")
HALF = Expanded(0.01, 0.01, 0.001, 0.001, 0.01, 0.01)


def read(**changes: object) -> Study:
    listed = {"chokes": [COIL, CORE], "band": {"from": "145 MHz", "to": "146 MHz", "points": 3}}
    with tempfile.TemporaryDirectory() as folder:
        return load_study(small_study_file(Path(folder), **(listed | changes)))


@cache
def study() -> Study:
    return read()


@cache
def bench() -> SolvedStudy:
    """The small study with a coil drawn as wire, and that coil as it may come out."""
    drawn = requests(study()) | made_requests(study())
    f = np.array([study().frequency])
    built = {
        name: Solved(r.structure, solve_basis(r.structure, f, 0, r.soil))
        for name, r in drawn.items()
        if name not in ("antenna-alone", CABLE)
    }
    built |= {name: at_centre(entry) for name, entry in solved().items() if name in drawn}
    names = [c.id for c in cases(study())]
    return SolvedStudy(
        study(), built, dict.fromkeys(names, EVIDENCE), dict.fromkeys(names, HALF), 0.0
    )


@cache
def results() -> dict[str, CaseResult]:
    of = bench()
    return {
        c.id: evaluate(of.solved[c.geometry], of.study, c)
        for c in cases(study())
        if c.geometry in of.solved
    }


def wound() -> CoilChoke:
    return next(c for c in study().chokes if isinstance(c, CoilChoke))


# What a hand makes of it


def test_pitch_diameter_and_place_are_each_varied_both_ways() -> None:
    made = {m.name: m.choke for m in wound().as_made(study().host)}
    assert made["tighter"].pitch < wound().pitch < made["wider"].pitch
    assert made["smaller"].diameter < wound().diameter < made["larger"].diameter
    assert made["higher"].position < wound().position < made["lower"].position
    assert len(made) == 6


@given(st.floats(1.0, 3.0))
def test_turns_are_never_pulled_closer_than_the_jacket(pitch: float) -> None:
    coil = replace(wound(), pitch=pitch * wound().cable.jacket_diameter)
    assert all(m.choke.pitch >= coil.cable.jacket_diameter for m in coil.as_made(study().host))
    assert all(m.choke != coil for m in coil.as_made(study().host))


def test_each_way_is_a_drawing_of_its_own_at_one_frequency() -> None:
    drawn = made_requests(study())
    assert len(drawn) == 6
    assert len({r.digest() for r in drawn.values()}) == 6
    assert all(list(r.frequency) == [study().frequency] for r in drawn.values())


def test_a_way_that_the_route_has_no_room_for_is_left_out() -> None:
    # Two centimetres below the bend: no higher.
    names = made_requests(read(chokes=[COIL | {"position": "0.18 m"}]))
    assert "made-wound-higher" not in names
    assert "made-wound-lower" in names


def test_the_workflow_solves_them_and_tests_only_the_coil_as_stated(tmp_path: Path) -> None:
    (plan,) = plan_studies([small_study_file(tmp_path, chokes=[COIL, CORE])]).values()
    assert len(plan.made_digests) == 6
    assert not set(plan.made_digests) & set(plan.digests)
    assert set(plan.made_digests) <= set(plan.own_digests)
    assert all(plan.sizes[d][2] == 1 for d in plan.made_digests)


# What that does to its figures


def test_the_variations_of_a_coil_are_solves_of_that_coil() -> None:
    case = next(c for c in cases(study()) if c.id == "wound")
    none = next(c for c in cases(study()) if c.id == "none")
    tried = [v for v in variations(bench(), case) if v.made]
    assert len(tried) == 6
    wide = next(m.choke for m in wound().as_made(study().host) if m.name == "wider")
    own = Case("wound", "", "made-wound-wider", wide)
    found = next(v for v in tried if "14.4 mm" in v.made)
    assert found.score_recommended == bench().merit(own).score()[0]
    assert found.score_none == bench().merit(none).score()[0]
    assert found.score_recommended != bench().merit(case).score()[0]


def intervals() -> dict[str, dict[str, Interval]]:
    kept = replace(bench(), uncertainty=dict.fromkeys(results(), HALF))
    return with_making(kept, results())[1]


def case_ends(name: str) -> dict[str, Interval]:
    """Intervals of a case as it is stated."""
    r, best = results()[name], results()["ideal"].reference(0.0)
    return case_intervals(r.merit(best, 0.0), HALF, r.line, study().frequency)


def test_the_intervals_of_a_coil_hold_what_its_making_does() -> None:
    ends, made = intervals()["wound"], as_made(bench(), results())["wound"]
    assert len(made) == 6
    best = results()["ideal"].reference(0.0)
    for r in made:
        merit = r.merit(best, 0.0)
        assert merit["r_ohm"][0] == r.z_feed[0].real
        for figure in FIGURES.values():
            if figure.interval and figure.interval != "system_gain":
                low, high = ends[figure.column]
                assert low <= merit[figure.name][0] <= high, figure.name


def test_the_uncertainty_of_a_coil_holds_the_furthest_of_its_makes() -> None:
    kept = replace(bench(), uncertainty=dict.fromkeys(results(), HALF))
    half, best = with_making(kept, results())[0].uncertainty["wound"], results()["ideal"]
    stated, *made = (
        r.merit(best.reference(0.0), 0.0)
        for r in (results()["wound"], *as_made(bench(), results())["wound"])
    )
    for name, own, whole in (
        ("shield_ratio", HALF.shield_current, half.shield_current),
        ("station_ratio", HALF.station_current, half.station_current),
        ("pattern_rms_db", HALF.pattern_db, half.pattern_db),
    ):
        furthest = max(abs(float(m[name][0] - stated[name][0])) for m in made)
        assert whole == pytest.approx((own**2 + furthest**2) ** 0.5), name


def test_no_interval_of_a_coil_is_narrower_and_none_of_anything_else_wider() -> None:
    found = intervals()
    for name in results():
        for column, (low, high) in case_ends(name).items():
            wide = found[name][column]
            assert wide[0] <= low + 1e-9
            assert wide[1] >= high - 1e-9
            if name != "wound":
                assert wide == (low, high)
    column = "station_current_ratio"
    assert found["wound"][column] != case_ends("wound")[column]


# What may be recommended


def made(*scores: float) -> list[Variation]:
    return [Variation(f"a coil made {s}", 2.0, s, made=f"made {s}") for s in scores]


def coil(own: float, **changes: object) -> object:
    return made_case("coil", own, kind="coil", coil_cable=8.4, **changes)  # type: ignore[arg-type]


@given(st.floats(0, 4), st.lists(st.floats(0, 4), max_size=6), st.floats(1.01, 9))
def test_a_coil_is_recommended_only_if_it_is_enough_however_it_is_wound(
    own: float, ways: list[float], none: float
) -> None:
    tried = [replace(v, score_none=none) for v in made(*ways)]
    chosen, _ = recommend([coil(own)], bare(none), lambda name: tried, {})  # type: ignore[list-item]
    assert (chosen.id == "coil") == (own <= 1 and bool(ways) and max(ways, default=9) <= 1)


def test_a_coil_that_is_a_lottery_is_named_as_one_and_no_advice_rests_on_it() -> None:
    a = told(bare(2.0), cores(1, 1.5), coil(0.5), tried=made(0.5, 1.7))  # type: ignore[arg-type]
    assert a.recommended_case == "core-x1"
    assert "is passed over" in a.text
    assert "made 1.7" in a.text
    assert "1.7 times what is just visible" in a.text


def test_what_raises_the_current_on_the_cable_or_the_pattern_error_is_no_improvement() -> None:
    # A chimney: radio from 14 to 7 %, pattern from 0.56 to 0.74 dB, cable from 15 to 18 %.
    none = bare(0.0, station_ratio=0.137, pattern_rms_db=0.564, shield_ratio=0.148)
    worse = made_case("x", 0.0, station_ratio=0.069, pattern_rms_db=0.740, shield_ratio=0.182)
    assert worse.score < none.score
    assert recommend([worse], none, lambda name: steady(), {})[0].id == "none"
    cooler = made_case("x", 0.0, station_ratio=0.069, pattern_rms_db=0.740, shield_ratio=0.1)
    assert recommend([cooler], none, lambda name: steady(), {})[0].id == "none"
    both = made_case("x", 0.0, station_ratio=0.069, pattern_rms_db=0.5, shield_ratio=0.1)
    assert recommend([both], none, lambda name: steady(), {})[0].id == "x"
    told_off = told(none, worse)
    assert told_off.headline.startswith("Of all that was tried nothing can be recommended")
    assert "the low-angle pattern and the current on the cable would be worse" in told_off.text


def test_what_grows_by_less_than_its_own_interval_is_not_held_against_a_choke() -> None:
    none = bare(0.0, station_ratio=0.137, pattern_rms_db=0.564)
    near = made_case("x", 0.0, station_ratio=0.069, pattern_rms_db=0.58)
    assert recommend([near], none, lambda name: steady(), {})[0].id == "none"
    within = {"x": {"pattern_change_rms_db": (0.5, 0.66)}}
    assert recommend([near], none, lambda name: steady(), within)[0].id == "x"


def test_the_advice_is_not_said_to_stay_the_same_where_a_choke_that_helps_becomes_worse() -> None:
    a = told(bare(2.0), cores(1, 1.5), tried=[Variation("a radio that floats", 1.2, 1.4)])
    assert "stays the same" not in a.certainty
    assert "a radio that floats: it would then be worse than no choke" in a.certainty


# What it costs


def test_the_price_of_a_coil_is_that_of_its_cable() -> None:
    study = read(line_prices={"10.3 mm foam low-loss": "2.50 EUR"})
    coil = next(c for c in study.chokes if c.id == "wound")
    assert isinstance(coil, CoilChoke)
    # Three turns of 0.1 m, less the 36 mm of way that they take.
    more = 3 * np.hypot(np.pi * 0.1, 0.012) - 0.036
    assert coil.own_cable(study.cable.type) == pytest.approx(more)
    assert (coil.price, coil.currency) == (pytest.approx(2.5 * more, abs=0.005), "EUR")
    assert next(c for c in study.chokes if c.id == "core").price is None


def test_a_price_of_ones_own_stands_and_without_any_there_is_none() -> None:
    prices = {"10.3 mm foam low-loss": "2.50 EUR"}
    assert read(line_prices=prices, chokes=[COIL | {"price": "1 EUR"}]).chokes[0].price == 1.0
    assert study().chokes[0].price is None


def test_a_jumper_of_another_cable_is_paid_from_the_tap_on() -> None:
    thin = replace(wound(), cable=coax_class("5 mm foam low-loss"))
    assert thin.own_cable(study().cable.type) == pytest.approx(0.6 + thin.helix.cable)


def test_a_coil_without_a_price_does_not_pass_for_one_cheap_piece() -> None:
    candidates = [coil(0.2, price=None), cores(4, 0.5, price=None)]
    chosen, _ = recommend(candidates, bare(2.0), lambda name: made(0.4), {})  # type: ignore[arg-type]
    assert chosen.id == "core-x4"


def test_metres_price_and_loss_of_a_coil_are_said() -> None:
    line = {"line_loss_db": 1.35}
    a = told(bare(2.0), coil(0.2, price=None, **line), tried=made(0.4))  # type: ignore[arg-type]
    assert "It takes 8.4 m of cable, and no price of it is given" in a.text
    assert "the line loses 0.35 dB more with it" in a.text
    priced = told(bare(2.0), coil(0.2, price=21.0, **line), tried=made(0.4))  # type: ignore[arg-type]
    assert "8.4 m of cable, and it costs 21.00 EUR" in priced.text


def test_cores_that_cannot_be_opened_ask_for_a_connector() -> None:
    assert "cannot be opened" not in told(bare(2.0), cores(2, 0.4)).text
    text = told(bare(2.0), cores(2, 0.4, is_solid=True)).text
    assert "The cores cannot be opened: they go on before the connector" in text


def test_a_connector_counts_as_a_piece_where_cores_cannot_be_opened() -> None:
    here = Place("at the antenna", 0.05)
    bead, clamp = ferrite_core("mix-43-bead-25-9"), ferrite_core("mix-43-clamp-12-7")
    assert set_cost(CoreSet(clamp, ((2, here),)), {}) == 2
    assert set_cost(CoreSet(bead, ((2, here),)), {}) == 3
    assert set_cost(CoreSet(bead, ((2, here),)), {bead.id: 3.0}) == 6.0
    assert set_cost(CoreSet(bead, ((2, here),)), {clamp.id: 3.0}) is None
    assert set_cost(CoreSet(None, ()), {}) == 0
