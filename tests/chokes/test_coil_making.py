"""A coil is wound by hand: how else it may come out, what that does, what its cable costs."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from models.catalogues.parts import coax_class
from pipeline.chokes.coil import CoilChoke
from pipeline.solver.cases import CABLE, geometry_plans
from pipeline.study.reader import load_study
from pipeline.study.records import Study
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
