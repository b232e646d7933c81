"""Candidates of a study as impedances, and the cable that they take."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.catalogues.parts import coax_class, conductor
from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.ideal import IDEAL_CHOKE_OHM
from pipeline.chokes.measured_choke import TableChoke
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.circuit.choke_materials import core_impedance
from pipeline.circuit.coil import coil_impedance
from pipeline.circuit.ferrite_and_sleeve import sleeve_impedance
from pipeline.circuit.line import (
    LinePiece,
    LineRun,
)
from tests.harness.small_study import choke, study

F = np.array([144e6, 145e6, 146e6])
MAIN = coax_class("10.3 mm foam low-loss")
THIN = coax_class("5 mm foam low-loss")


# Laws


def test_each_kind_of_choke_has_the_impedance_of_its_own_model() -> None:
    core, sleeve, turns, table = (choke(n) for n in ("core-x4", "sleeve", "turns", "measured"))
    assert isinstance(core, FerriteChoke)
    assert isinstance(sleeve, SleeveChoke)
    assert isinstance(turns, CoilChoke)
    assert isinstance(table, TableChoke)
    sigma = conductor("copper-iacs").sigma
    expected = {
        core: 4 * core_impedance(core.core, F),
        sleeve: sleeve_impedance(
            F, sleeve.inside(study().host), sleeve.section(study().cable.type)
        ),
        turns: coil_impedance(F, 3, 0.1, 12e-3, MAIN.shield_diameter, sigma),
        choke("perfect"): np.full(3, IDEAL_CHOKE_OHM),
    }
    for choice, z in expected.items():
        np.testing.assert_allclose(choice.impedance(F, study().host), z, rtol=1e-12)


def test_a_measured_choke_has_its_own_values_at_its_own_frequencies() -> None:
    z = choke("measured").impedance(np.array([140e6, 150e6]), study().host)
    np.testing.assert_allclose(z, [800 - 300j, 780 - 350j], rtol=1e-12)


def test_a_derived_sleeve_is_a_quarter_wave_of_its_own_line_less_the_end_correction() -> None:
    sleeve = choke("sleeve")
    assert isinstance(sleeve, SleeveChoke)
    # README of the tables of sleeves: 0.4 radii of the bore, here of 26 mm.
    length = sleeve.inside(study().host) + 0.4 * 13e-3
    # Its line is partly filled with the jacket: shorter than in air, longer than in the jacket.
    in_air = 299_792_458.0 / study().frequency / 4
    assert in_air / np.sqrt(MAIN.jacket_eps_r) < length < in_air
    sizes = np.linspace(0.9, 1.1, 41) * length
    section = sleeve.section(study().cable.type)
    f = np.array([study().frequency])
    z = [abs(sleeve_impedance(f, size, section)[0]) for size in sizes]
    assert np.argmax(z) == 20
    assert replace(sleeve, length=0.3).inside(study().host) == 0.3


def test_a_sleeve_is_as_wide_inside_as_its_pipe_less_two_walls() -> None:
    sleeve = choke("sleeve")
    assert isinstance(sleeve, SleeveChoke)
    section = sleeve.section(MAIN)
    assert section.sleeve_inner_diameter == pytest.approx(26e-3, rel=1e-12)
    assert section.jacket_diameter == MAIN.jacket_diameter


def test_the_line_is_the_route_unless_the_study_says_how_long_it_is() -> None:
    assert study().cable.run(None, 2.15) == LineRun((LinePiece(MAIN, 2.15),), 0.1)
    longer = replace(study(), cable=replace(study().cable, length=18.0))
    assert longer.cable.run(choke("core-x4"), 2.15) == LineRun((LinePiece(MAIN, 18.0),), 0.1)


def test_a_coil_of_the_same_cable_takes_more_of_it_and_no_connector() -> None:
    turns = choke("turns")
    assert isinstance(turns, CoilChoke)
    run = study().cable.run(turns, 2.15)
    # Three turns of 0.1 m, each a helix of 12 mm pitch; the winding replaces its own height.
    wound = 3 * np.hypot(np.pi * 0.1, 0.012)
    assert turns.helix.cable == pytest.approx(wound, rel=1e-12)
    assert run.length() == pytest.approx(2.15 + wound - 0.036, rel=1e-12)
    assert [p.cable for p in run.pieces] == [MAIN]
    assert run.connector_loss_db == pytest.approx(2 * 0.05)


def test_a_coil_of_thinner_cable_is_a_jumper_with_a_pair_of_connectors_more() -> None:
    jumper = choke("jumper")
    assert isinstance(jumper, CoilChoke)
    run = study().cable.run(jumper, 2.15)
    wound = 3 * np.hypot(np.pi * 0.1, 0.008)
    assert [p.cable for p in run.pieces] == [THIN, MAIN]
    assert run.pieces[0].length == pytest.approx(0.6 + wound, rel=1e-12)
    assert run.pieces[1].length == pytest.approx(2.15 - 0.6 - 0.024, rel=1e-12)
    assert run.connector_loss_db == pytest.approx(4 * 0.05)


# Refusals


def test_a_table_that_does_not_reach_a_frequency_is_refused() -> None:
    with pytest.raises(ValueError, match="Hz"):
        choke("measured").impedance(np.array([200e6]), study().host)
