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

from models.catalogues.parts import coax_class
from pipeline.chokes.coil import CoilChoke
from pipeline.judgement.verdict import Variation, recommend
from pipeline.solver.cases import CABLE, geometry_plans
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.made_cases import bare, cores, made_case, steady, told
from tests.harness.small_study import small_study_file

COIL = {"id": "wound", "kind": "coil", "turns": 3, "diameter": "0.10 m", "pitch": "12 mm",
        "position": "0.60 m"}  # fmt: skip
CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.05 m"}


def read(**changes: object) -> Study:
    listed = {"chokes": [COIL, CORE], "band": {"from": "145 MHz", "to": "146 MHz", "points": 3}}
    with tempfile.TemporaryDirectory() as folder:
        return load_study(small_study_file(Path(folder), **(listed | changes)))


@cache
def study() -> Study:
    return read()


def wound() -> CoilChoke:
    return next(c for c in study().chokes if isinstance(c, CoilChoke))


# What a hand makes of it


def test_a_coil_wound_wider_is_the_same_turns_over_more_height() -> None:
    main = study().cable.type
    wide = wound().redrawn(1.25, 0.0, main, main)
    assert wide.pitch == pytest.approx(1.25 * wound().pitch)
    assert wide.extent(study().host) == pytest.approx(1.25 * wound().extent(study().host))
    assert (wide.turns, wide.diameter, wide.position) == (3, 0.10, 0.60)


def test_a_coil_goes_with_the_bend_that_it_hangs_from_and_has_the_jacket_of_the_cable() -> None:
    main = study().cable.type
    other = replace(main, jacket_eps_r=3.2)
    moved = wound().redrawn(1.0, 0.07, main, other)
    assert moved.position == pytest.approx(0.67)
    assert moved.cable == other
    thin = replace(wound(), cable=coax_class("5 mm foam low-loss"))
    assert thin.redrawn(1.0, 0.0, main, other).cable == coax_class("5 mm foam low-loss")


def test_the_least_factor_on_its_pitch_is_where_its_turns_touch() -> None:
    least = wound().least
    assert least.factor * wound().pitch == pytest.approx(wound().cable.jacket_diameter)


def test_how_a_coil_is_made_is_no_geometry_of_the_study_as_described() -> None:
    assert [plan.name for plan in geometry_plans(study())] == ["antenna-alone", CABLE, "wire-wound"]
    assert wound().as_made(study().host) == ()


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
