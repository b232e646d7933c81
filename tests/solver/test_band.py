"""A port matrix over a band from few solves, held against solves between them and against laws."""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.wires.structure import Port, Structure, Wire
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.circuit.port_algebra import fed_voltages, loaded_admittance, port_currents
from pipeline.solver.band import (
    FIRST,
    TARGET,
    TOLD,
    BandBasis,
    Span,
    load_band,
    over_band,
    save_band,
    solve_band,
)
from pipeline.solver.cases import CABLE, GeometryPlan, cases, lumped_chokes
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.structures import structure
from pipeline.solver.terminations import choke_series, placed_weights, terminations, with_ports_for
from pipeline.study.reader import load_study
from pipeline.study.records import Study

pytestmark = pytest.mark.takes(28)
STUDIES = Path(__file__).parents[2] / "models" / "studies"
LOW, HIGH, DESIGN = 144e6, 146e6, 145e6
SPAN = Span(LOW, HIGH, DESIGN, 9)
# Where nothing was solved, for a direct solve beside it.
BETWEEN = np.array([144.0e6, 144.41e6, 145.21e6, 146.0e6])


@cache
def study() -> Study:
    return load_study(STUDIES / "orchard_shed.yaml")


@cache
def built(geometry: str) -> Structure:
    """A geometry of the demo with the ports that its candidates need."""
    coil = next((c for c in study().chokes if f"wire-{c.id}" == geometry), None)
    drawn = structure(study(), GeometryPlan(geometry, has_feedline=True, choke=coil))
    return with_ports_for(drawn, lumped_chokes(study()) if geometry == CABLE else ())


def y_at(drawn: Structure, f: np.ndarray) -> np.ndarray:
    currents = unit_source_currents(drawn, f, study().site.ground)
    return drawn.through_ports(currents).transpose(0, 2, 1)


@cache
def carried(geometry: str) -> BandBasis:
    """The band of a geometry as a run has it: solved until the error is small."""
    drawn = built(geometry)
    y_design = y_at(drawn, np.array([DESIGN]))[0]
    return over_band(drawn, SPAN, *solve_band(drawn, SPAN, y_design, partial(y_at, drawn)))


def feed_impedance(drawn: Structure, y_port: np.ndarray, z: np.ndarray) -> np.ndarray:
    feed = drawn.port_index("feed")
    return 1 / port_currents(y_port, fed_voltages(y_port, z, feed))[:, feed]


def resonant(poles: np.ndarray, parts: np.ndarray, flat: np.ndarray, f: np.ndarray) -> np.ndarray:
    """Port matrix of an installation with some resonances, (n, n_port, n_port)."""
    return flat + np.einsum("kij,fk->fij", parts, 1 / (f[:, None] - poles))


def two_ports() -> Structure:
    wire = Wire((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 3, 1e-3, "antenna")
    return Structure("two", (wire,), (Port("feed", 0, 0), Port("shield at 1 m", 0, 2, 1.0)))


# Published


@given(st.integers(0, 2**32 - 1))
def test_a_rational_function_of_few_poles_is_found_again(seed: int) -> None:
    # Nakatsukasa, Sete and Trefethen, SIAM J. Sci. Comput. 40, 2018, sec. 3: what is rational is
    # met to rounding once there are points enough. One pole beside the band, in a symmetric matrix.
    rng = np.random.default_rng(seed)
    pole = np.array([DESIGN + 1e6 * complex(rng.uniform(-1, 1), rng.uniform(1, 3))])
    part, flat = (rng.normal(size=(1, 2, 2)) + 1j * rng.normal(size=(1, 2, 2)) for _ in range(2))
    part, flat = (part + part.swapaxes(1, 2)) * 1e6, flat[0] + flat[0].T + 8 * np.eye(2)
    y_solved = resonant(pole, part, flat, SPAN.first())
    found = over_band(two_ports(), SPAN, SPAN.first(), y_solved)
    true = resonant(pole, part, flat, found.frequency)
    assert (len(found.solved), len(true)) == (FIRST, TOLD)
    np.testing.assert_allclose(found.y_port, true, rtol=0, atol=1e-7)
    # As far as rounding lets the estimate know.
    assert found.error < 1e-6


def test_the_first_frequencies_are_the_points_of_chebyshev_but_for_the_design_frequency() -> None:
    # Trefethen, Approximation Theory and Approximation Practice, 2013, ch. 2: cos of odd eighths.
    points = np.cos(np.pi * np.array([7, 5, 3, 1]) / 8)
    found = (Span(LOW, HIGH, 144.5e6, 9).first() - 145e6) / 1e6
    np.testing.assert_allclose(found, [points[0], -0.5, points[2], points[3]], atol=2e-9)


# Laws


@pytest.mark.parametrize("geometry", [CABLE, "wire-coil-9"])
def test_between_solves_the_feed_sees_what_a_solve_there_says(geometry: str) -> None:
    drawn, band = built(geometry), carried(geometry)
    assert len(band.solved) <= 5
    assert band.error <= TARGET
    direct = y_at(drawn, BETWEEN)
    at = [int(np.argmin(abs(band.frequency - f))) for f in BETWEEN]
    np.testing.assert_allclose(band.frequency[at], BETWEEN, rtol=1e-12)
    on_it = [c for c in cases(study()) if c.geometry == geometry]
    assert {c.id for c in on_it} >= ({"none", "ideal"} if geometry == CABLE else set())
    for case in on_it:
        series = choke_series(drawn, study(), case.choke, BETWEEN)
        series = series + terminations(drawn, study(), BETWEEN)
        told, true = (feed_impedance(drawn, y, series) for y in (band.y_port[at], direct))
        np.testing.assert_allclose(told, true, rtol=TARGET, err_msg=case.id)


@pytest.mark.parametrize("share", [0.5, 0.9, 1.0, 1.1])
def test_a_sleeve_in_resonance_with_the_cable_is_carried_as_well(share: float) -> None:
    # A mouth with little loss that takes away the cable's own reactance where it sits: the
    # sharpest thing that can hang there.
    drawn, band = built(CABLE), carried(CABLE)
    lumped = next(c for c in study().chokes if not c.is_drawn and not c.acts_over)
    place = placed_weights(drawn, lumped)
    series = terminations(drawn, study(), BETWEEN)
    port = int(np.argmax(place))
    rest = loaded_admittance(band.y_port[band.centre], series[2])
    series += (5.0 - 1j * share * (1 / rest[port, port]).imag) * place
    at = [int(np.argmin(abs(band.frequency - f))) for f in BETWEEN]
    direct = y_at(drawn, BETWEEN)
    told, true = (feed_impedance(drawn, y, series) for y in (band.y_port[at], direct))
    np.testing.assert_allclose(told, true, rtol=TARGET)


@pytest.mark.parametrize("geometry", [CABLE, "wire-coil-9"])
def test_what_was_solved_is_kept_and_a_passive_installation_stays_passive(geometry: str) -> None:
    drawn, band = built(geometry), carried(geometry)
    assert DESIGN in band.solved
    np.testing.assert_array_equal(band.y_port[band.centre], y_at(drawn, np.array([DESIGN]))[0])
    # Power only goes in: the real part of Y has no negative eigenvalue (Pozar, Microwave
    # Engineering, ch. 4), but for what the solver itself is off by.
    solved = y_at(drawn, band.solved)
    least = [
        np.linalg.eigvalsh((y + y.conj().swapaxes(1, 2)) / 2).min() for y in (solved, band.y_port)
    ]
    assert least[1] > least[0] - 1e-3 * np.abs(solved).max()
    assert (band.y_port.real[:, 0, 0] > 0).all()


@given(st.integers(0, 2**32 - 1), st.integers(3, 7))
def test_reciprocity_is_kept_to_rounding(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    y = rng.normal(size=(count, 2, 2)) + 1j * rng.normal(size=(count, 2, 2)) + 8 * np.eye(2)
    y = y + y.swapaxes(1, 2)
    solved = np.sort(rng.choice(np.linspace(LOW, HIGH, 50), count, replace=False))
    found = over_band(two_ports(), SPAN, solved, y).y_port
    size = np.abs(found).max()
    np.testing.assert_allclose(found, found.swapaxes(1, 2), rtol=0, atol=1e-12 * size)


def test_more_solves_are_asked_for_where_a_resonance_is_sharp() -> None:
    part = 1e5 * np.ones((3, 2, 2)) + 1e5 * np.eye(2)
    sharp = np.array([144.5e6 + 0.1e6j, 145.2e6 + 0.1e6j, 145.8e6 + 0.1e6j])
    y_design = resonant(sharp, part, np.eye(2), np.array([DESIGN]))[0]
    for most in (3, 5, 9):
        span = Span(LOW, HIGH, DESIGN, most)
        found = solve_band(two_ports(), span, y_design, partial(resonant, sharp, part, np.eye(2)))
        assert len(found[0]) == most
        assert over_band(two_ports(), span, *found).error > (TARGET if most < 9 else 0)


@given(st.floats(0.0, 1.0), st.integers(1, 9))
def test_frequencies_to_solve_rise_within_the_band_and_hold_the_design_frequency(
    share: float, most: int
) -> None:
    span = Span(LOW, HIGH, LOW + share * (HIGH - LOW), most)
    told, centre = span.told()
    assert told[centre] == span.design
    assert len(told) == TOLD
    assert (np.diff(told) > 0).all()
    found = span.first()
    assert len(found) <= most
    assert span.design in found
    for _ in range(5):
        assert (np.diff(found) > 0).all()
        assert found[0] >= LOW
        assert found[-1] <= HIGH
        found = np.sort(np.append(found, span.next(found)))


def test_a_case_over_the_band_is_itself_at_the_design_frequency() -> None:
    drawn, band = built(CABLE), carried(CABLE)
    basis = solve_basis(drawn, np.array([DESIGN]), 0, study().site.ground)
    for case in (c for c in cases(study()) if c.geometry == CABLE):
        own, over = (evaluate(Solved(drawn, basis, b), study(), case) for b in (None, band))
        assert over.frequency[over.centre] == DESIGN
        np.testing.assert_allclose(over.z_feed[over.centre], own.z_feed[0], rtol=1e-9)
        np.testing.assert_allclose(over.station_ratio[over.centre], own.station_ratio[0], rtol=1e-9)
        assert over.antenna_power == pytest.approx(own.antenna_power, rel=1e-9)
        one, other = (r.merit(r.reference(3.0), 3.0) for r in (own, over))
        for name, values in one.values.items():
            np.testing.assert_allclose(other[name], values, rtol=1e-9, atol=1e-12)


# Edges


def test_a_band_without_width_is_told_from_one_solve() -> None:
    span, y = Span(DESIGN, DESIGN, DESIGN, 9), np.eye(2, dtype=complex)
    found = over_band(two_ports(), span, *solve_band(two_ports(), span, y, never))
    np.testing.assert_array_equal(found.y_port, np.repeat(y[None], TOLD, axis=0))
    assert found.error == 0.0


def never(f: np.ndarray) -> np.ndarray:
    """A solve that nobody may ask for."""
    assert len(f) == 0, f
    return np.empty((0, 2, 2), complex)


def test_two_solves_tell_no_error() -> None:
    y = np.stack([np.eye(2), 2 * np.eye(2)]).astype(complex)
    found = over_band(two_ports(), SPAN, np.array([LOW, HIGH]), y)
    np.testing.assert_allclose(found.y_port[found.centre], 1.5 * np.eye(2), rtol=1e-12)
    assert found.error == float("inf")


def test_a_band_is_read_as_it_was_written(tmp_path: Path) -> None:
    path, drawn, before = tmp_path / "band.npz", built(CABLE), carried(CABLE)
    save_band(path, before.solved, y_at(drawn, before.solved))
    after = load_band(path, drawn, SPAN)
    np.testing.assert_array_equal(after.y_port, before.y_port)
    assert after.error == before.error
