"""Which cable: loss, power, cost and bends. Loss tables: tests/validation/coax.csv."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.catalogues.parts import coax_class, coax_classes
from pipeline.analysis.line_choice import (
    CAUTIONS,
    LineChoice,
    average_power,
    line_choice,
    line_words,
    price_per_db,
)
from pipeline.chokes.coil import CoilChoke
from pipeline.circuit.line import matched_loss_db
from pipeline.solver.cases import CABLE
from pipeline.solver.terminations import route_length
from pipeline.study.reader import load_study
from pipeline.study.records import Price, Study
from pipeline.text.errors import StudyError
from tests.harness import small_study

PRICES = (
    Price("rg-213-u", 2.0, "EUR"),
    Price("10-3-mm-foam-low-loss", 3.0, "EUR"),
    Price("rg-58c-u", 0.5, "EUR"),
)


def long_run(**changes: object) -> Study:
    """The small study with a hundred metres of cable and no connectors."""
    study = small_study.study()
    cable = replace(study.cable, length=100.0, connectors=0, connector_loss_db=0.0)
    return replace(study, cable=cable, **changes)  # type: ignore[arg-type]


@cache
def small() -> LineChoice:
    route = route_length(small_study.solved()[CABLE].structure)
    return line_choice(small_study.study(), small_study.case("none"), route)


def coil(choice: LineChoice, case: str):  # type: ignore[no-untyped-def]
    return next(c for c in choice.coils if c.case == case)


# Published


@pytest.mark.parametrize(
    ("cable", "f_mhz", "printed", "tolerance"),
    [
        # A two-way-radio training guide, App. H, dB per 100 m; fitted, so within 2 %.
        ("RG-58C/U", 150, 20.0, 0.02),
        ("RG-213/U", 150, 8.9, 0.02),
        # Maker data sheets of the classes by a county emergency-communications table; within 5 %.
        ("10.3 mm foam low-loss", 150, 4.92, 0.05),
        ("6.1 mm foam low-loss", 150, 9.84, 0.05),
    ],
)
def test_the_table_over_a_hundred_metres_is_the_printed_loss(
    cable: str, f_mhz: float, printed: float, tolerance: float
) -> None:
    study = long_run(frequency=1e6 * f_mhz)
    found = line_choice(study, small_study.case("none"), 2.0)
    option = next(o for o in found.options if o.cable.name == cable)
    assert option.matched_loss_db == pytest.approx(printed, rel=tolerance)


@pytest.mark.parametrize(
    ("cable", "watts"), [("10.3 mm foam low-loss", 830.0), ("6.1 mm foam low-loss", 380.0)]
)
def test_the_rating_at_150_mhz_taken_to_450_mhz_is_the_printed_one(
    cable: str, watts: float
) -> None:
    # Maker data sheets of the 400 and 240 class, kilowatts at 150 and 450 MHz, from memory: a
    # second point of the same sheet holds the rule that power falls as loss rises.
    assert average_power(coax_class(cable), 450e6, 1.0) == pytest.approx(watts, rel=0.03)


# Laws


def test_every_class_of_the_catalogue_is_there_once_the_best_first() -> None:
    options = small().options
    assert {o.cable.id for o in options} == {c.id for c in coax_classes()}
    assert [o.loss_db for o in options] == sorted(o.loss_db for o in options)
    assert [o.cable for o in options if o.own] == [small_study.study().cable.type]


def test_the_own_cable_loses_what_the_comparison_says() -> None:
    own = next(o for o in small().options if o.own)
    case = small_study.case("none")
    assert own.loss_db == pytest.approx(float(case.line_loss_db[case.centre]), rel=1e-12)


def test_the_radiated_share_is_that_of_the_antenna_less_the_loss() -> None:
    share = small_study.case("none").balance.radiated
    for o in small().options:
        assert o.radiated == pytest.approx(share * 10 ** (-o.loss_db / 10), rel=1e-12)
        assert o.loss_db >= o.matched_loss_db


@given(st.floats(10e6, 500e6), st.floats(1.0, 10.0))
def test_a_cable_never_bears_more_at_a_higher_frequency_or_swr(f: float, swr: float) -> None:
    cable = coax_class("10.3 mm foam low-loss")
    here = average_power(cable, f, swr)
    assert here is not None
    for more in (average_power(cable, 1.1 * f, swr), average_power(cable, f, 1.1 * swr)):
        assert more is not None
        assert more < here


def test_the_rated_heat_per_metre_is_the_same_at_every_frequency() -> None:
    cable = coax_class("7/8 in foam hardline")
    heat = [
        power * float(matched_loss_db(f, cable.k1, cable.k2))
        for f in (50e6, 145e6, 435e6)
        if (power := average_power(cable, f, 1.0)) is not None
    ]
    assert heat == pytest.approx([heat[0]] * 3)


def test_a_decibel_costs_what_is_paid_more_over_what_is_saved() -> None:
    study = long_run(line_prices=PRICES)
    found = line_choice(study, small_study.case("none"), 2.0)
    by_id = {o.cable.id: o for o in found.options}
    thin, thick = by_id["rg-58c-u"], by_id["rg-213-u"]
    assert thin.cost == pytest.approx(50.0)
    assert thin.per_db is None
    assert thick.per_db == pytest.approx(150.0 / (thin.loss_db - thick.loss_db))
    assert by_id["rg-142-u"].cost is None
    assert found.currency == "EUR"


def test_a_coil_of_thinner_cable_costs_two_connectors_and_its_own_loss() -> None:
    study, jumper = small_study.study(), coil(small(), "jumper")
    assert jumper.connectors == 2
    assert jumper.connectors_db == pytest.approx(2 * study.cable.connector_loss_db)
    # What is left is cable: the wound length in the thin class, and the jumper up to the coil.
    thin, main = coax_class("5 mm foam low-loss"), study.cable.type
    per_metre = [float(matched_loss_db(study.frequency, c.k1, c.k2)) for c in (thin, main)]
    height = 3 * 8e-3
    own = (0.60 + jumper.wound) * per_metre[0] - (0.60 + height) * per_metre[1]
    assert jumper.extra_db - jumper.connectors_db == pytest.approx(own, rel=0.1)


def test_a_coil_of_the_same_cable_needs_no_connector() -> None:
    turns = coil(small(), "turns")
    assert (turns.connectors, turns.connectors_db) == (0, 0.0)
    assert turns.wound == pytest.approx(3 * 0.3142, rel=2e-3)
    assert 0 < turns.extra_db < 0.1


# Edges


def test_a_power_without_a_source_is_unknown() -> None:
    unrated = coax_class("6.1 mm foam (RG-8X class)")
    assert average_power(unrated, 145e6, 1.0) is None
    study = long_run()
    other = replace(study, cable=replace(study.cable, type=unrated))
    words = " ".join(line_words(line_choice(other, small_study.case("none"), 2.0), other))
    assert f"No source was found for the power that {unrated.name} bears" in words


def test_too_much_power_for_the_cable_is_told() -> None:
    loud = long_run(power=5000.0, duty=1.0)
    words = " ".join(line_words(line_choice(loud, small_study.case("none"), 2.0), loud))
    assert "take a thicker cable" in words
    assert "take a thicker cable" not in " ".join(line_words(small(), small_study.study()))


def test_half_a_decibel_is_nothing_that_anybody_hears() -> None:
    assert "nothing that anybody hears" in " ".join(line_words(small(), small_study.study()))


def test_the_cautions_are_two_sentences_of_common_practice() -> None:
    assert len(CAUTIONS) == 2
    assert all("common practice, no source" in text for text in CAUTIONS)


def test_without_prices_nothing_is_said_about_cost() -> None:
    assert all(o.cost is None and o.per_db is None for o in small().options)
    assert price_per_db([1.0, 2.0], [None, None]) == (None, None)
    # What costs more and loses as much has no price per decibel.
    assert price_per_db([1.0, 1.0], [10.0, 20.0]) == (None, None)


def tight(diameter: float) -> CoilChoke:
    given_coil = small_study.choke("turns")
    assert isinstance(given_coil, CoilChoke)
    return replace(given_coil, diameter=diameter)


def test_a_bend_is_allowed_too_tight_or_too_tight_even_once() -> None:
    # 10.3 mm foam class, maker data sheet from memory: 1 in once, 4 in repeatedly, as radii.
    words = {}
    for diameter in (0.21, 0.12, 0.04):
        study = replace(small_study.study(), chokes=(tight(diameter),))
        (found,) = line_choice(study, small_study.case("none"), 2.0).coils
        words[diameter] = found.bend
    assert words == {0.21: "allowed", 0.12: "too tight", 0.04: "too tight even once"}


def test_the_warning_of_a_bend_says_which_of_the_two_it_breaks() -> None:
    assert tight(0.21).notes(small_study.study().host) == ()
    (mild,) = tight(0.12).notes(small_study.study().host)
    assert "tighter than its repeated bend radius allows" in mild
    (severe,) = tight(0.04).notes(small_study.study().host)
    assert "tighter than it may be bent even once (50.8 mm across)" in severe
    assert "it will kink" in severe


# The study file


def test_prices_and_duty_are_read_from_the_study(tmp_path: Path) -> None:
    path = small_study.small_study_file(
        tmp_path, line_prices={"RG-213/U": "2.10 EUR", "rg-58c-u": "0.9 EUR"}, duty=0.2
    )
    study = load_study(path)
    assert study.duty == 0.2
    assert study.line_prices == (Price("rg-213-u", 2.1, "EUR"), Price("rg-58c-u", 0.9, "EUR"))
    assert not [text for text in study.defaults if text.startswith("duty")]


def test_the_duty_that_is_assumed_is_stated() -> None:
    assert "duty: 0.5 (a full carrier, on the air half of the time)" in small_study.study().defaults


# Refusals


@pytest.mark.parametrize(
    ("prices", "tag", "place"),
    [
        ({"RG-213/X": "2.10 EUR"}, "name-unknown", 'line_prices."RG-213/X"'),
        ({"RG-213/U": "2.10"}, "price-form", 'line_prices."RG-213/U"'),
        ({"RG-213/U": "2 EUR", "rg-213-u": "3 EUR"}, "key-duplicate", "line_prices.rg-213-u"),
        ({"RG-213/U": "2 EUR", "rg-58c-u": "3 USD"}, "price-currency", "line_prices"),
        ("2.10 EUR", "value-kind", "line_prices"),
    ],
)
def test_wrong_prices_are_refused_where_they_stand(
    tmp_path: Path, prices: object, tag: str, place: str
) -> None:
    path = small_study.small_study_file(tmp_path, line_prices=prices)
    with pytest.raises(StudyError) as error:
        load_study(path)
    (fault,) = error.value.faults
    assert fault.tag == tag
    assert place in fault.place
