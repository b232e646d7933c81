"""NEC-2 by PyNEC, which no other module imports: currents, far field and near field.

A checked structure goes in, segment currents for a unit source at each port come out; the fields
of the engine itself are for checks.

What NEC-2 cannot do and is not attempted: buried wire, wire inside a tube (a sleeve is a lossy line
at its mouth), current that differs round the circumference of the cable, turns that touch.
"""

from __future__ import annotations

import importlib
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
    return SolverError(Fault(f"geometry {structure.name}", "", rule, remedy, "solver-refused"))


def _context(structure: Structure, soil: Soil | None) -> Any:
    """Solver context with geometry and ground; no loads, no frequency yet."""
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


def _set_loads(
    context: Any, structure: Structure, lossless: bool, lumped: tuple[SeriesLoad, ...]
) -> None:
    # Consecutive cards add up; any other card in between would erase the earlier ones.
    if not lossless:
        for card, a, b, value in distributed_loads(structure):
            numbers = (value, 0.0, 0.0) if card == 5 else (0.0, value, 0.0)
            context.ld_card(card, 0, a, b, *numbers)
    for load in lumped:
        s = load.segment + 1
        context.ld_card(4, 0, s, s, load.impedance.real, load.impedance.imag, 0.0)


def _excite(context: Any, structure: Structure, segments: tuple[int, ...]) -> None:
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
    """Currents on all segments with one volt at each source in turn, the others shorted.

    Parameters
    ----------
    structure : Structure
        Checked geometry.
    frequencies : ndarray, shape (n_frequency,)
        Frequencies. [Hz]
    soil : Soil or None
        Ground, computed after Sommerfeld unless it says otherwise; None in free space.
    lossless : bool
        Leave out conductor loss and jackets.
    loads : tuple of SeriesLoad
        Lumped impedances, for direct solves.
    sources : tuple of int, optional
        Source segments; default: all ports, each with the segments driven beside it.

    Returns
    -------
    ndarray, shape (n_frequency, n_source, n_segment)
        Peak current for a peak of one volt. [A]

    Raises
    ------
    SolverError
        If the solver refuses the geometry or returns a number that is not finite.
    """
    groups = structure.port_groups if sources is None else tuple((s,) for s in sources)
    currents = np.empty((len(frequencies), len(groups), len(structure.segments)), complex)
    try:
        context = _context(structure, soil)
        execution = 0
        for i, f in enumerate(frequencies):
            # Loads are given anew: a frequency card alone keeps tables of the one before.
            _set_loads(context, structure, lossless, loads)
            context.fr_card(0, 1, float(f) / 1e6, 0.0)
            for j, group in enumerate(groups):
                _excite(context, structure, group)
                context.xq_card(0)
                currents[i, j] = context.get_structure_currents(execution).get_current()
                execution += 1
    except RuntimeError as error:
        raise _fault(
            structure,
            "the field solver refused this geometry without saying why",
            "look at its picture with `braidwise check` and change what touches or is extreme",
        ) from error
    if not np.isfinite(currents).all():
        raise _fault(
            structure,
            "the field solver returned numbers that are not finite",
            "look at its picture with `braidwise check`; two parts may coincide",
        )
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
    """Far field of one volt at the first port, by the solver's own RP card.

    The grid runs over the whole sphere in free space, down to one step above the horizon over
    ground. The average gain means something in free space only.

    Raises
    ------
    SolverError
        If the solver refuses the geometry.
    """
    try:
        context = _context(structure, soil)
        _set_loads(context, structure, lossless, loads)
        context.fr_card(0, 1, frequency / 1e6, 0.0)
        _excite(context, structure, structure.port_groups[0])
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
    except RuntimeError as error:
        raise _fault(
            structure,
            "the field solver refused this geometry without saying why",
            "look at its picture with `braidwise check` and change what touches or is extreme",
        ) from error


def average_gain(
    structure: Structure,
    frequency: float,
    loads: tuple[SeriesLoad, ...] = (),
    step_deg: float = 5.0,
) -> float:
    """Average gain of a structure's lossless twin in free space (:func:`solver_pattern`). [-]"""
    return solver_pattern(structure, frequency, None, loads, True, step_deg).average_gain


def solver_near_field(
    structure: Structure,
    frequency: float,
    soil: Soil | None,
    points: NDArray[np.float64],
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Fields of one volt at the first port by the solver's own NE and NH cards, for checks.

    Parameters
    ----------
    structure : Structure
        Checked geometry; its wires are taken without loss.
    frequency : float
        Frequency. [Hz]
    soil : Soil or None
        Ground, or free space.
    points : ndarray, shape (n_point, 3)
        Where the fields are wanted. [m]

    Returns
    -------
    electric, magnetic : ndarray, complex, shape (n_point, 3)
        Peak values. [V/m, A/m]

    Raises
    ------
    SolverError
        If the solver refuses the geometry.
    """
    found = np.empty((2, len(points), 3), complex)
    try:
        context = _context(structure, soil)
        _set_loads(context, structure, True, ())
        context.fr_card(0, 1, frequency / 1e6, 0.0)
        for i, point in enumerate(points):
            for which, card in enumerate((context.ne_card, context.nh_card)):
                # Without a source of its own a second card would not run.
                _excite(context, structure, structure.port_groups[0])
                card(0, 1, 1, 1, *(float(x) for x in point), 1.0, 1.0, 1.0)
                field = context.get_near_field_pattern(2 * i + which)
                parts = field.get_field_x(), field.get_field_y(), field.get_field_z()
                found[which, i] = [part[0] for part in parts]
    except RuntimeError as error:
        raise _fault(
            structure,
            "the field solver refused this geometry without saying why",
            "look at its picture with `braidwise check` and change what touches or is extreme",
        ) from error
    return found[0], found[1]
