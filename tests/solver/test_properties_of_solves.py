"""Laws that hold for any wires, routes, loads and sources once they are solved; all are drawn.

Algebra and lines by themselves are in tests/analysis/test_properties.py. Here the field solver's
own errors set the tolerances.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.feedline_route import Step
from models.site.shield import Zone
from models.site.soil import Soil
from models.wires.structure import Port, Structure, Wire
from pipeline.analysis.metrics import series_power
from pipeline.chokes.measured_choke import TableChoke
from pipeline.circuit.port_algebra import (
    OPEN,
    port_currents,
    port_voltages,
    reciprocity_errors,
    superpose,
    transfer_asymmetry,
)
from pipeline.mesh.evidence import LIMITS
from pipeline.report.page import bounds
from pipeline.solver.cases import CABLE
from pipeline.solver.far_field import radiated_power
from pipeline.solver.nec2 import engine_context, solver_pattern, unit_source_currents
from pipeline.solver.port_basis import PortBasis, solve_basis
from pipeline.solver.terminations import choke_weights
from tests.circuit.test_port_algebra import INSTALLED
from tests.harness.antenna_with_cable import AVERAGE, Plan, build
from tests.harness.drawn import LAW, assert_near, drive, loaded, passive
from tests.harness.small_study import solved as solved_study
from tests.harness.small_study import study, with_choke

pytestmark = pytest.mark.takes(15)

FREQUENCY = 145e6
WAVELENGTH = SPEED_OF_LIGHT_NEC / FREQUENCY
AT = np.array([FREQUENCY])
# Each example is one or two solves of a third of a second; looking for a simpler one that fails
# would take minutes.
SOLVES = settings(LAW, max_examples=6, phases=[Phase.generate])

HANGING = Plan(joins="short leg", zones=(Zone(0.05, 0.1),))
WHERE = {"hanging": (HANGING, None), "installed": (INSTALLED, AVERAGE)}


# What is drawn


@st.composite
def dipoles(draw: st.DrawFn) -> Structure:
    """Three thin wires side by side, equally thick and finely cut, ports in and off their middles.

    The first is fed; the others are the parasitic wires beside it.
    """
    x = np.cumsum([draw(st.floats(0.08, 0.4)) for _ in range(3)]) * WAVELENGTH
    y = [draw(st.floats(-0.1, 0.1)) * WAVELENGTH for _ in range(3)]
    half = [draw(st.floats(0.15, 0.3)) * WAVELENGTH for _ in range(3)]
    places = ((1, 10), (0, 10), (2, 10), (0, 5), (1, 15))
    wires = tuple(
        Wire((x[k], y[k], -half[k]), (x[k], y[k], half[k]), 21, 1e-3, "antenna") for k in range(3)
    )
    return Structure("dipoles", wires, tuple(Port(f"{w} {s}", w, s) for w, s in places))


# What is solved, once


@cache
def structure(where: str) -> Structure:
    return build(WHERE[where][0])


@cache
def basis(where: str) -> PortBasis:
    return solve_basis(structure(where), AT, 0, WHERE[where][1])


@cache
def average_gain_error(where: str) -> float:
    return abs(solver_pattern(structure(where), FREQUENCY, None, lossless=True).average_gain - 1)


def port_matrix(built: Structure) -> NDArray[np.complex128]:
    return unit_source_currents(built, AT, None)[0][:, built.port_segments].T


# The port matrix of what was solved


@LAW
@given(dipoles())
def test_thin_wires_of_one_radius_are_reciprocal(built):
    # Point matching is not symmetric by itself: 21 segments a wire leave up to 0.35 per mil.
    assert reciprocity_errors(port_matrix(built)).max() < 5e-4


@pytest.mark.parametrize("where", WHERE)
def test_feed_and_cable_are_reciprocal_to_the_limit_any_two_ports_to_sixteen_per_cent(where):
    # Beside a bend and where segment lengths change the worst pair is at 13.7 %.
    y = basis(where).y_port[0]
    assert transfer_asymmetry(y, 0) < LIMITS["reciprocity"].sound
    assert reciprocity_errors(y).max() < bounds()["ports"].value


@pytest.mark.parametrize("where", WHERE)
def test_no_voltages_at_the_ports_draw_power_out_of_the_wires(where):
    # Re(v* Y v) >= 0; the asymmetry of ports beside bends leaves 0.3 % of the largest value.
    y = basis(where).y_port[0]
    values = np.linalg.eigvalsh(0.5 * (y + y.conj().T))
    assert values.min() > -0.005 * values.max()


@LAW
@given(dipoles())
def test_no_voltages_draw_power_out_of_thin_wires(built):
    # With wires this thin the smallest eigenvalue, though near zero, is not below it: rounding.
    y = port_matrix(built)
    values = np.linalg.eigvalsh(0.5 * (y + y.conj().T))
    assert values.min() > -1e-6 * values.max()


@LAW
@given(st.sampled_from(sorted(WHERE)), st.data())
def test_the_feed_never_gives_power_back_whatever_passive_loads_are_connected(where, data):
    y = basis(where).y_port[0]
    z = data.draw(passive(len(y)))
    assert (1 / loaded(y, z)[0, 0]).real > 0


# Power


@LAW
@given(st.data())
def test_in_free_space_what_enters_is_radiated_or_lost_in_the_loads(data):
    # No better than the average gain of the geometry, and the grid of two degrees: 0.1 %.
    built, solution = structure("hanging"), basis("hanging")
    z = data.draw(passive(len(built.ports)))
    w = port_voltages(solution.y_port[0], z, drive(len(z)))
    current = port_currents(solution.y_port[0], w)
    field = superpose(solution.e_port.reshape(len(w), -1), w).reshape(solution.e_port.shape[1:])
    used = radiated_power(field, solution.directions) + series_power(z, current).sum()
    allowed = average_gain_error("hanging") + 0.01
    assert used / (0.5 * current[0].real) == pytest.approx(1, abs=allowed)


def table(position: float, z: complex) -> TableChoke:
    f = study().frequency
    return TableChoke(
        id="drawn",
        label="drawn",
        position=position,
        file="",
        f=(0.5 * f, 2 * f),
        z_choke=(z, z),
    )


@LAW
@given(st.data(), st.floats(0, 3000), st.floats(-2000, 2000))
def test_over_soil_no_share_of_the_power_is_negative(data, r, x):
    # The ground's share is what is left, so it carries the error of the balance.
    places = [p.position for p in solved_study()[CABLE].structure.ports if "shield" in p.name]
    balance = with_choke(table(data.draw(st.sampled_from(places)), r + 1j * x)).balance
    error = LIMITS["average_gain"].sound
    assert min(balance.chokes, balance.rod, balance.station, balance.conductors) >= 0
    assert 0 < balance.radiated < 1 + error
    assert balance.ground > -error


# Geometry


def times(built: Structure, k: float) -> Structure:
    """Every length times k."""
    wires = tuple(
        replace(
            w,
            start=tuple(k * c for c in w.start),
            end=tuple(k * c for c in w.end),
            radius=k * w.radius,
        )
        for w in built.wires
    )
    return replace(built, wires=wires)


@LAW
@given(dipoles(), st.floats(0.1, 10))
def test_thin_wires_k_times_as_large_are_the_same_at_a_kth_of_the_frequency(built, k):
    # Coordinates times k are rounded once, and joints are not at stake.
    large = unit_source_currents(times(built, k), AT / k, None)
    assert_near(large, unit_source_currents(built, AT, None), 1e-9)


@pytest.mark.parametrize("grounded", [False, True])
@settings(SOLVES, max_examples=3)
@given(k=st.sampled_from((0.25, 0.5, 2.0, 4.0)))
def test_an_installation_k_times_as_large_is_the_same_at_a_kth_of_the_frequency(k, grounded):
    # Powers of two, so that the grid of the nodes scales with it and only rounding is left. Soil
    # scales with its conductivity over frequency; fields [V] times distance do not change.
    plan = replace(HANGING, height=2.0, grounded=True) if grounded else HANGING
    small = build(plan)
    soils = (Soil(13.0, 0.005), Soil(13.0, 0.005 / k)) if grounded else (None, None)
    a = solve_basis(small, AT, 0, soils[0])
    b = solve_basis(times(small, k), AT / k, 0, soils[1])
    assert_near(b.y_port, a.y_port, 1e-12)
    assert_near(b.e_port, a.e_port, 1e-12)


@pytest.mark.parametrize("grounded", [False, True])
@settings(SOLVES, max_examples=3)
@given(down=st.floats(0.2, 0.6), across=st.floats(0.1, 0.8))
def test_a_route_turned_left_or_right_is_a_mirror_image(down, across, grounded):
    # All but the turn lies in one vertical plane. Nodes mirror to within their grid of a
    # micrometre, one part in ten thousand of a short segment.
    found = []
    for turn in ("left", "right"):
        steps = (Step("out", 0.15), Step("down", down), Step(turn, across))
        plan = Plan(joins="long leg", steps=steps, zones=(Zone(0.05, 0.06),), height=2.0)
        soil = AVERAGE if grounded else None
        found.append(solve_basis(build(replace(plan, grounded=grounded)), AT, 0, soil))
    left, right = found
    assert_near(left.y_port, right.y_port, 1e-4)
    # Azimuth phi against -phi; the horizontal component changes its sign.
    back = np.roll(right.e_port[..., ::-1], 1, axis=-1) * np.array([1, -1])[:, None, None]
    assert_near(left.e_port, back, 1e-4)
    assert np.abs(left.e_port - right.e_port).max() > 0.01 * np.abs(left.e_port).max()


# Ports against solves of their own


def direct(
    built: Structure, soil: Soil | None, voltages: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Currents on all segments with all sources in one and the same solve, shape (n_segment,)."""
    context = engine_context(built, soil)
    context.fr_card(0, 1, FREQUENCY / 1e6, 0.0)
    for port, v in zip(built.ports, voltages, strict=True):
        # One tag a wire; the engine counts segments from one.
        place = (port.wire + 1, port.segment + 1)
        context.ex_card(0, *place, 0, float(v.real), float(v.imag), 0.0, 0.0, 0.0, 0.0)
    context.xq_card(0)
    return np.asarray(context.get_structure_currents(0).get_current())


@LAW
@given(dipoles(), arrays(np.float64, (2, 5), elements=st.floats(0.1, 1)))
def test_sources_in_one_solve_are_the_sum_of_a_solve_for_each(built, parts):
    # One matrix, other right-hand sides: rounding. (The engine takes zero volts for one.)
    v = parts[0] - 1j * parts[1]
    assert_near(
        superpose(unit_source_currents(built, AT, None)[0], v), direct(built, None, v), 1e-9
    )


def without_wire(built: Structure, wire: int) -> Structure:
    """The structure with one wire taken out, and the ports on it."""
    kept = [k for k in range(len(built.wires)) if k != wire]
    ports = tuple(replace(p, wire=kept.index(p.wire)) for p in built.ports if p.wire != wire)
    return Structure(built.name, tuple(built.wires[k] for k in kept), ports)


@SOLVES
@given(st.integers(1, 4))
def test_an_endless_choke_is_a_shield_that_is_cut(port):
    # A real cut is as long as the segment that is taken out, a 74th of a wavelength: its two ends
    # hold less charge than two that all but touch. That is worth 0.2 % at the feed, 0.4 % of the
    # feed current on the wires; without any choke both move by 18 %.
    built = structure("hanging")
    z = OPEN * drive(len(built.ports), port)
    w = port_voltages(basis("hanging").y_port[0], z, drive(len(z)))
    ours = superpose(basis("hanging").i_segment, w)
    cut = without_wire(built, built.ports[port].wire)
    theirs = unit_source_currents(cut, AT, None, sources=(cut.port_segment(cut.ports[0]),))[0, 0]
    kept = np.delete(ours, built.port_segment(built.ports[port]))
    feed = abs(theirs[cut.port_segments[0]])
    assert np.abs(kept - theirs).max() < bounds()["cut"].value * feed
    assert np.abs(basis("hanging").i_segment[0] - ours).max() > 0.1 * feed


def beside_a_cut(n: int, spacing: float, cut: bool) -> complex:
    """Impedance of a half-wave wire beside one of n segments with an open port in its middle,
    or without that segment. [ohm]"""
    x, middle = spacing * WAVELENGTH, n // 2
    z = np.linspace(-0.25, 0.25, n + 1) * WAVELENGTH
    fed = Wire((0.0, 0.0, z[0]), (0.0, 0.0, z[-1]), n, 1e-3, "antenna")
    spans = ((0, middle), (middle + 1, n), (middle, middle + 1))
    parts = [Wire((x, 0.0, z[a]), (x, 0.0, z[b]), b - a, 1e-3, "beside") for a, b in spans]
    ports = (Port("feed", 0, middle), Port("gap", 3, 0))
    if cut:
        return complex(1 / port_matrix(Structure("cut", (fed, *parts[:2]), ports[:1]))[0, 0])
    whole = port_matrix(Structure("whole", (fed, *parts), ports))
    return complex(1 / loaded(whole, np.array([0.0, OPEN]))[0, 0])


@LAW
@given(st.floats(0.08, 0.4))
def test_the_shorter_the_cut_the_more_it_is_an_endless_choke(spacing):
    # What differs is the charge of the two ends across the gap, which vanishes with its length.
    off = [
        abs(beside_a_cut(n, spacing, cut=False) / beside_a_cut(n, spacing, cut=True) - 1)
        for n in (21, 41, 81)
    ]
    assert off[0] > off[1] > off[2]
    assert off[2] < 0.002


# Chokes along the cable


@LAW
@given(st.floats(0.05, 0.09), st.floats(0.005, 0.03), st.floats(0.005, 0.03))
def test_two_chokes_end_to_end_are_one_of_their_length(start, first, second):
    # Shares go by length, so the sum is exact but for nodes on a grid of a micrometre.
    built = structure("hanging")
    whole = (first + second) * choke_weights(built, start, first + second)
    parts = first * choke_weights(built, start, first)
    parts = parts + second * choke_weights(built, start + first, second)
    np.testing.assert_allclose(parts, whole, atol=2e-6)


@LAW
@given(st.data())
def test_a_choke_of_no_impedance_changes_no_figure_of_merit(data):
    places = [p.position for p in solved_study()[CABLE].structure.ports if "shield" in p.name]
    nothing, none = with_choke(table(data.draw(st.sampled_from(places)), 0j)), with_choke(None)
    assert_near(nothing.z_feed, none.z_feed, 1e-12)
    np.testing.assert_allclose(nothing.gain, none.gain, atol=1e-9)
    assert nothing.balance == none.balance
