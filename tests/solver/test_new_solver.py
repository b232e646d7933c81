"""The worked example of DEVELOPERS.md: one module and one line are another field solver."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from models.quantities import SPEED_OF_LIGHT
from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Port, Structure, Wire
from pipeline.circuit.port_algebra import reciprocity_errors
from pipeline.solver import field_solver, nec2
from pipeline.solver.far_field import directive_power
from pipeline.solver.port_basis import PortBasis, solve_basis
from pipeline.solver.solve_cache import SolveRequest
from pipeline.text.errors import SolverError
from tests.examples import straight_wire

F = np.array([140e6, 145e6, 150e6])
# Kernel and basis of the two differ: with 41 segments 2 to 3 % of the largest, less with more.
NEAR = 0.04


def wire(n_segments: int = 41, length: float = 0.96) -> Structure:
    """An upright wire with a port in its middle and two more."""
    ports = tuple(
        Port(name, 0, round(part * n_segments))
        for name, part in (("feed", 0.48), ("quarter", 0.25), ("near the tip", 0.9))
    )
    rod = Wire((0.0, 0.0, 0.0), (0.0, 0.0, length), n_segments, 1e-3, "antenna")
    return Structure("straight wire", (rod,), ports)


@pytest.fixture
def chosen(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The example as the solver of all studies: the line that the guide names."""
    with monkeypatch.context() as patch:
        patch.setattr(field_solver, "SOLVER", straight_wire)
        yield


def basis() -> PortBasis:
    return solve_basis(wire(), F, 1, None)


def furthest(ours: np.ndarray, theirs: np.ndarray) -> float:
    return float(np.abs(ours - theirs).max() / np.abs(theirs).max())


def test_a_solver_is_a_module_with_the_names_of_the_interface() -> None:
    wanted = [n for n in vars(field_solver.FieldSolver) if not n.startswith("_")]
    assert {"unit_source_currents", "average_gain", "solve_memory"} <= set(wanted)
    for name in wanted:
        own = inspect.signature(getattr(straight_wire, name))
        assert list(own.parameters) == list(inspect.signature(getattr(nec2, name)).parameters)
    assert straight_wire.FORMAT != nec2.FORMAT


def test_its_port_basis_is_that_of_nec_2_within_four_per_cent(chosen: None) -> None:
    ours = basis()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(field_solver, "SOLVER", nec2)
        theirs = basis()
    assert not np.array_equal(ours.y_port, theirs.y_port)
    assert furthest(ours.y_port, theirs.y_port) < NEAR
    assert furthest(ours.i_segment, theirs.i_segment) < NEAR
    gain = [
        10 * np.log10(directive_power(b.e_port[0]).max() / (0.5 * b.y_port[1, 0, 0].real))
        for b in (ours, theirs)
    ]
    assert gain[0] == pytest.approx(gain[1], abs=0.05)
    # Potentials are taken at the middle of cells that are half as long at the ends.
    assert reciprocity_errors(ours.y_port[1]).max() < 1e-3


def test_a_half_wave_of_thin_wire_has_73_ohm(chosen: None) -> None:
    # 73 + j42.5 ohm where infinitely thin (Balanis, Antenna Theory, ch. 8); with a radius of
    # 1e-5 of the length R is within 5 ohm.
    half = 0.5 * SPEED_OF_LIGHT / 145e6
    rod = replace(wire(61, half).wires[0], radius=1e-5 * half)
    built = replace(wire(61, half), wires=(rod,), ports=(Port("feed", 0, 30),))
    z = 1 / field_solver.solved_currents(built, F[1:2], None)[0, 0, 30]
    assert z.real == pytest.approx(73.1, abs=5)
    assert z.imag == pytest.approx(42.5, abs=6)


def test_its_average_gain_is_one_and_a_load_is_one_more_term(chosen: None) -> None:
    assert field_solver.solved_average_gain(wire(), 145e6) == pytest.approx(1, abs=0.01)
    load = (SeriesLoad(wire().port_segments[1], 1e9 + 0j),)
    open_there = straight_wire.unit_source_currents(wire(), F[:1], None, loads=load)
    assert abs(open_there[0, 0, load[0].segment]) < 1e-8


def test_a_stored_solve_of_one_solver_is_not_found_by_another(chosen: None) -> None:
    request = SolveRequest("wire", wire(), wire(), F, 1, None)
    own = request.digest()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(field_solver, "SOLVER", nec2)
        assert request.digest() != own


def test_what_it_cannot_solve_it_refuses_by_the_name_of_the_geometry(chosen: None) -> None:
    with pytest.raises(SolverError, match="free space only"):
        solve_basis(wire(), F, 1, Soil(13.0, 0.005))
    side = Wire((0.0, 0.0, 0.96), (0.3, 0.0, 0.96), 10, 1e-3, "antenna")
    bent = replace(wire(), wires=(*wire().wires, side))
    with pytest.raises(SolverError, match="geometry straight wire"):
        solve_basis(bent, F, 1, None)
