"""NEC-2 by PyNEC, which no other module imports: currents, far field and near field.

A checked structure goes in, segment currents for a unit source at each port come out; the fields
of the engine itself are for checks.

What NEC-2 cannot do and is not attempted: buried wire, wire inside a tube (a sleeve is a lossy line
at its mouth), current that differs round the circumference of the cable, turns that touch.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.solver.decks import distributed_loads
from pipeline.text.errors import Fault, SolverError

# Mark of stored solves (see field_solver.FieldSolver).
FORMAT = 3


def _fault(structure: Structure, rule: str, remedy: str) -> SolverError:
    remedy = f"look at its picture with `braidwise check`{remedy}"
    return SolverError(Fault(f"geometry {structure.name}", "", rule, remedy, "solver-refused"))


@contextmanager
def refusals_named(structure: Structure) -> Iterator[None]:
    """Turn what the engine raises into an error that names the geometry."""
    try:
        yield
    except RuntimeError as error:
        rule = "the field solver refused this geometry without saying why"
        raise _fault(structure, rule, " and change what touches or is extreme") from error


def engine_context(structure: Structure, soil: Soil | None) -> Any:
    """Context of the engine with geometry and ground; no loads, no frequency yet."""
    # It ships no types; only workers pay for the import.
    engine: Any = importlib.import_module("PyNEC")
    context = engine.nec_context()
    geometry = context.get_geometry()
    for tag, w in enumerate(structure.wires, start=1):
        geometry.wire(tag, int(w.n_segments), *w.start, *w.end, float(w.radius), 1.0, 1.0)
    context.geometry_complete(1 if soil else 0)
    if soil:
        kind = 0 if soil.approximate else 2
        context.gn_card(kind, 0, float(soil.eps_r), float(soil.sigma), 0.0, 0.0, 0.0, 0.0)
    return context


def set_loads(
    context: Any, structure: Structure, lossless: bool, loads: tuple[SeriesLoad, ...]
) -> None:
    """Conductor loss and jackets, unless lossless, and series impedances on segments."""
    # Consecutive cards add up; any other card in between would erase the earlier ones.
    if not lossless:
        for card, a, b, value in distributed_loads(structure):
            numbers = (value, 0.0, 0.0) if card == 5 else (0.0, value, 0.0)
            context.ld_card(card, 0, a, b, *numbers)
    for load in loads:
        s = load.segment + 1
        context.ld_card(4, 0, s, s, load.impedance.real, load.impedance.imag, 0.0)


def excite(context: Any, structure: Structure, segments: tuple[int, ...]) -> None:
    """One volt on each of some segments."""
    # Cards that follow each other add up: one volt on each of the segments.
    for segment in segments:
        wire = int(structure.segments.wire[segment])
        within = segment - int(structure.first_segment[wire]) + 1
        context.ex_card(0, wire + 1, within, 0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def solve_memory(n_segments: int, n_ports: int, n_frequencies: int) -> float:
    """Memory that a solve takes at its peak. [bytes]

    The matrix of complex numbers twice, since the factorisation copies it, and the currents of
    every port. Measured: 396 MiB for the matrices of 3,500 segments.

    Examples
    --------
    >>> round(solve_memory(3500, 0, 1) / 2**20)
    374
    """
    return 16.0 * (2 * n_segments**2 + n_frequencies * n_ports * n_segments)


def unit_source_currents(
    structure: Structure,
    frequencies: NDArray[np.float64],
    soil: Soil | None,
    lossless: bool = False,
    loads: tuple[SeriesLoad, ...] = (),
    sources: tuple[int, ...] | None = None,
) -> NDArray[np.complex128]:
    """Currents on all segments with one volt at each source in turn, the others shorted. [A]

    Shape (n_frequency, n_source, n_segment), peak current for a peak of one volt; arguments as
    :class:`field_solver.FieldSolver` has them, the ground after Sommerfeld unless it says
    otherwise. Raises SolverError if the engine refuses the geometry or returns a number that is
    not finite.
    """
    groups = structure.port_groups if sources is None else tuple((s,) for s in sources)
    currents = np.empty((len(frequencies), len(groups), len(structure.segments)), complex)
    with refusals_named(structure):
        context = engine_context(structure, soil)
        execution = 0
        for i, f in enumerate(frequencies):
            # Loads are given anew: a frequency card alone keeps tables of the one before.
            set_loads(context, structure, lossless, loads)
            context.fr_card(0, 1, float(f) / 1e6, 0.0)
            for j, group in enumerate(groups):
                excite(context, structure, group)
                context.xq_card(0)
                currents[i, j] = context.get_structure_currents(execution).get_current()
                execution += 1
    if not np.isfinite(currents).all():
        rule = "the field solver returned numbers that are not finite"
        raise _fault(structure, rule, "; two parts may coincide")
    return currents


@dataclass(frozen=True)
class SolverPattern:
    """Far field as the solver itself computes it, for checks.

    ``e_theta`` and ``e_phi`` have shape (n_theta, n_phi) [V]; ``average_gain`` is the power
    radiated over the whole sphere divided by the input power; ``z_in`` [ohm].
    """

    e_theta: NDArray[np.complex128]
    e_phi: NDArray[np.complex128]
    average_gain: float
    z_in: complex


def solver_pattern(
    structure: Structure,
    frequency: float,
    soil: Soil | None,
    loads: tuple[SeriesLoad, ...] = (),
    lossless: bool = False,
    step_deg: float = 5.0,
) -> SolverPattern:
    """Far field of one volt at the first port, by the engine's own RP card.

    The grid runs over the whole sphere in free space, down to one step above the horizon over
    ground. The average gain means something in free space only.
    """
    with refusals_named(structure):
        context = engine_context(structure, soil)
        set_loads(context, structure, lossless, loads)
        context.fr_card(0, 1, frequency / 1e6, 0.0)
        excite(context, structure, structure.port_groups[0])
        n_theta = round((90.0 if soil else 180.0) / step_deg) + (0 if soil else 1)
        n_phi = round(360.0 / step_deg) + 1
        context.rp_card(0, n_theta, n_phi, 1, 0, 0, 1, 0.0, 0.0, step_deg, step_deg, 0.0, 0.0)
        pattern = context.get_radiation_pattern(0)
        shape = (n_phi, n_theta)
        # Sources in parallel share one volt: their admittances add up.
        z_in = complex(1 / np.sum(1 / context.get_input_parameters(0).get_impedance()))
        return SolverPattern(
            pattern.get_e_theta().reshape(shape).T,
            pattern.get_e_phi().reshape(shape).T,
            float(pattern.get_average_power_gain()),
            z_in,
        )


def average_gain(
    structure: Structure,
    frequency: float,
    loads: tuple[SeriesLoad, ...] = (),
    step_deg: float = 5.0,
) -> float:
    """Average gain of a structure's lossless twin in free space (:func:`solver_pattern`). [-]"""
    return solver_pattern(structure, frequency, None, loads, True, step_deg).average_gain
