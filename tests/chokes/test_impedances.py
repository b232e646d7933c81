"""Candidates of a study as impedances, and what they do to the inside of the cable."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray
from skrf.media import DefinedGammaZ0

from models.catalogues.parts import coax_class, conductor, ferrite_material
from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.ideal import IDEAL_CHOKE_OHM
from pipeline.chokes.measured import TableChoke
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.circuit.choke import (
    ferrite_impedance,
    interpolate_over_log_f,
    sleeve_impedance,
)
from pipeline.circuit.coil import coil_impedance
from pipeline.circuit.line import (
    LinePiece,
    LineRun,
    attenuation,
    propagation_constant,
    through_line,
)
from tests.harness.small_study import choke, study

F = np.array([144e6, 145e6, 146e6])
MAIN = coax_class("10.3 mm foam low-loss")
THIN = coax_class("5 mm foam low-loss")
Z_FEED = np.array([52 + 11j, 20 - 35j, 180 + 90j])


def cascade(
    pieces: list[tuple[str, float]], f: NDArray[np.float64], z_load: NDArray[np.complex128]
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """Impedance and loss of lossy lines before a load, by scikit-rf's wave matrices.

    The loss is the power into the two-port over the power into the load, from the waves.
    """
    band = skrf.Frequency.from_f(f, unit="hz")
    two_port = None
    for name, length in pieces:
        cable = coax_class(name)
        gamma = propagation_constant(f, cable.velocity_factor, attenuation(f, cable.k1, cable.k2))
        line = DefinedGammaZ0(band, z0=50, gamma=gamma).line(length, "m")
        # Pieces are listed from the antenna; waves are followed from the radio.
        two_port = line if two_port is None else line**two_port
    assert two_port is not None
    s, g = two_port.s, (z_load - 50) / (z_load + 50)
    b2 = s[:, 1, 0] / (1 - s[:, 1, 1] * g)
    seen = s[:, 0, 0] + s[:, 0, 1] * g * b2
    loss = 10 * np.log10((1 - abs(seen) ** 2) / (abs(b2) ** 2 * (1 - abs(g) ** 2)))
    return 50 * (1 + seen) / (1 - seen), loss


# Laws


@pytest.mark.parametrize(
    "pieces",
    [
        [(MAIN.name, 18.0)],
        [(THIN.name, 2.1), (MAIN.name, 16.0)],
        [("RG-58C/U", 7.0), (MAIN.name, 3.0), (THIN.name, 1.0)],
    ],
)
def test_cables_in_a_row_are_the_cascade_of_scikit_rf(pieces: list[tuple[str, float]]) -> None:
    run = LineRun(tuple(LinePiece(coax_class(n), length) for n, length in pieces), 0.0)
    z, loss = through_line(run, F, Z_FEED)
    z_expected, loss_expected = cascade(pieces, F, Z_FEED)
    # The same lossy-line equations twice: only rounding may differ.
    np.testing.assert_allclose(z, z_expected, rtol=1e-9)
    np.testing.assert_allclose(loss, loss_expected, rtol=1e-9)


def test_connectors_add_their_loss_and_change_no_impedance() -> None:
    bare = LineRun((LinePiece(MAIN, 10.0),), 0.0)
    z, loss = through_line(bare, F, Z_FEED)
    z_more, loss_more = through_line(replace(bare, connector_loss_db=0.3), F, Z_FEED)
    np.testing.assert_array_equal(z_more, z)
    np.testing.assert_allclose(loss_more - loss, 0.3, rtol=1e-12)


def test_no_cable_at_all_changes_nothing() -> None:
    z, loss = through_line(LineRun((), 0.0), F, Z_FEED)
    np.testing.assert_array_equal(z, Z_FEED)
    np.testing.assert_array_equal(loss, 0.0)


def test_each_kind_of_choke_has_the_impedance_of_its_own_model() -> None:
    core, sleeve, turns, table = (choke(n) for n in ("core-x4", "sleeve", "turns", "measured"))
    assert isinstance(core, FerriteChoke)
    assert isinstance(sleeve, SleeveChoke)
    assert isinstance(turns, CoilChoke)
    assert isinstance(table, TableChoke)
    material = ferrite_material("mix-43")
    mu_r = interpolate_over_log_f(F, material.frequency, material.mu_r)
    sigma = conductor("copper-iacs").sigma
    expected = {
        core: ferrite_impedance(F, mu_r, 25.9e-3, 12.8e-3, 28.6e-3, 4),
        sleeve: sleeve_impedance(
            F, sleeve.extent(study().host), sleeve.section(study().cable.type)
        ),
        turns: coil_impedance(F, 3, 0.1, 12e-3, MAIN.shield_diameter, sigma),
        choke("perfect"): np.full(3, IDEAL_CHOKE_OHM),
    }
    for choice, z in expected.items():
        np.testing.assert_allclose(choice.impedance(F, study().host), z, rtol=1e-12)


def test_a_measured_choke_has_its_own_values_at_its_own_frequencies() -> None:
    z = choke("measured").impedance(np.array([140e6, 150e6]), study().host)
    np.testing.assert_allclose(z, [800 - 300j, 780 - 350j], rtol=1e-12)


def test_a_derived_sleeve_is_a_quarter_wave_of_its_own_line() -> None:
    sleeve = choke("sleeve")
    assert isinstance(sleeve, SleeveChoke)
    length = sleeve.extent(study().host)
    # Its line is partly filled with the jacket: shorter than in air, longer than in the jacket.
    in_air = 299_792_458.0 / study().frequency / 4
    assert in_air / np.sqrt(MAIN.jacket_eps_r) < length < in_air
    sizes = np.linspace(0.9, 1.1, 41) * length
    section = sleeve.section(study().cable.type)
    f = np.array([study().frequency])
    z = [abs(sleeve_impedance(f, size, section)[0]) for size in sizes]
    assert np.argmax(z) == 20
    assert replace(sleeve, length=0.3).extent(study().host) == 0.3


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


# Edges


def test_a_longer_line_always_loses_more() -> None:
    losses = [
        through_line(LineRun((LinePiece(MAIN, length),), 0.0), F, Z_FEED)[1]
        for length in (0.0, 0.5, 5.0, 50.0)
    ]
    np.testing.assert_allclose(losses[0], 0.0, atol=1e-12)
    assert (np.diff(losses, axis=0) > 0).all()


# Refusals


def test_a_table_that_does_not_reach_a_frequency_is_refused() -> None:
    with pytest.raises(ValueError, match="Hz"):
        choke("measured").impedance(np.array([200e6]), study().host)
