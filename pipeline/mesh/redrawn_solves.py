"""Each way of drawing a study solved once, and what every tracked quantity does then.

Redrawings in; numbers of each, their table, and the settling of each quantity with shorter segments
out. Chokes are port algebra on each solve.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.analysis.metrics import gain_at_elevation, horizon_elevation_deg
from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.mesh.convergence import Settling, settling
from pipeline.mesh.evidence import geometry_evidence
from pipeline.mesh.mesh_study import Redrawing
from pipeline.mesh.tracked_quantities import (
    DIFFERENCE,
    DRAWN,
    GEOMETRY,
    QUANTITIES,
    SEGMENTS,
    unit_of,
)
from pipeline.runtime.csv_tables import Row
from pipeline.solver.antenna_loads import load_impedances, twin_loads
from pipeline.solver.cases import IDEAL, NONE, cases
from pipeline.solver.far_field import Directions, far_field
from pipeline.solver.field_solver import solved_average_gain
from pipeline.solver.port_basis import PortBasis, solve_basis
from pipeline.study.records import Study

# Angular step of the solver's own pattern, from which the average gain is taken [deg].
PATTERN_STEP_DEG = 5.0
Numbers = dict[tuple[str, str], float]


def _scaled(directions: Directions, step: float) -> Directions:
    """The same sphere or half of it with all angular steps times a factor."""
    theta, n_phi = directions.theta, round(len(directions.phi) / step)
    n_theta = round((len(theta) - 1) / step) + 1
    if theta[-1] > np.pi / 2 + 1e-9 and n_theta % 2 == 0:
        # A whole sphere keeps its horizon on the grid, where the gain is read.
        n_theta -= 1
    turn = 2 * np.pi * np.arange(n_phi) / n_phi
    return Directions(np.linspace(theta[0], theta[-1], n_theta), turn)


def _with_step(way: Redrawing, basis: PortBasis) -> PortBasis:
    """A basis with its fields on a coarser or finer grid; currents stay."""
    directions = _scaled(basis.directions, way.step)
    f = float(basis.frequency[0])
    field = far_field(way.structure.segments, basis.i_segment, f, way.soil, directions)
    return replace(basis, e_port=field, directions=directions)


def _average_gain(way: Redrawing, f: float) -> float:
    """Average gain of the lossless twin in free space."""
    loads = twin_loads(way.structure, f)
    return solved_average_gain(way.structure, f, loads, PATTERN_STEP_DEG * way.step)


def _case_numbers(r: CaseResult, mean_gain_dbi: float) -> dict[str, float]:
    return {
        "r": float(r.z_feed[0].real),
        "x": float(r.z_feed[0].imag),
        "swr_feed": float(r.swr_feed[0]),
        "shield_current_ratio_max": r.shield_ratio_max,
        "station_current_ratio": float(abs(r.station_ratio[0])),
        "horizon_gain_mean": mean_gain_dbi,
    }


def numbers(study: Study, way: Redrawing, basis: PortBasis, average_gain: float) -> Numbers:
    """Every tracked quantity of one solve, by case and name.

    The gain is read at the top of the lowest lobe that the same solve has with an ideal choke.
    """
    solved = Solved(way.structure, basis)
    by_id = {c.id: c for c in cases(study)}
    results = {name: evaluate(solved, study, by_id[name]) for name in (NONE, IDEAL)}
    theta = basis.directions.theta
    elevation = horizon_elevation_deg(results[IDEAL].gain, theta)
    found: Numbers = {}
    for name, r in results.items():
        mean = gain_at_elevation(r.gain, theta, elevation).mean
        found |= {(name, key): value for key, value in _case_numbers(r, mean).items()}
    for case, key in list(found):
        if case == NONE:
            found[DIFFERENCE, key] = found[NONE, key] - found[IDEAL, key]
    elements = load_impedances(way.structure, basis.frequency, study.frequency)[0]
    loaded = loaded_admittance(basis.y_port[0], elements)
    own = geometry_evidence(way.structure, average_gain, loaded)
    found[GEOMETRY, "average_gain"] = own.average_gain
    found[GEOMETRY, "reciprocity"] = own.reciprocity
    return found


def solve(study: Study, ways: tuple[Redrawing, ...]) -> Iterator[tuple[Redrawing, Numbers]]:
    """Solve each way of drawing at the design frequency, one after the other."""
    f = np.array([study.frequency])
    bases: dict[str, PortBasis] = {}
    for way in ways:
        if way.step == 1.0:
            basis = solve_basis(way.structure, f, 0, way.soil)
            bases.setdefault(way.structure.name, basis)
        else:
            basis = _with_step(way, bases[way.structure.name])
        yield way, numbers(study, way, basis, _average_gain(way, study.frequency))


def rows_of(found: list[tuple[Redrawing, Numbers]]) -> list[Row]:
    """Tidy table: one row a way of drawing, case and quantity; the first way is the reference."""
    reference = found[0][1]
    return [
        {
            "variation": way.variation,
            "value": way.value,
            "n_segments": len(way.structure.segments),
            "mean_segment_m": way.mean_segment,
            "case": case,
            "quantity": key,
            "unit": unit_of(case, key),
            "result": value,
            "change": value - reference[case, key],
        }
        for way, numbers_of in found
        for (case, key), value in numbers_of.items()
    ]


def settlings(rows: list[Row]) -> dict[tuple[str, str], Settling]:
    """Settling of each quantity of each case as segments get shorter."""
    sequence = sorted(
        (row for row in rows if row["variation"] == SEGMENTS),
        key=lambda row: -row["mean_segment_m"],
    )
    drawn = next(row["mean_segment_m"] for row in sequence if row["value"] == DRAWN[1])
    found = {}
    for case, key in dict.fromkeys((row["case"], row["quantity"]) for row in sequence):
        pairs = [
            (row["mean_segment_m"], row["result"])
            for row in sequence
            if (row["case"], row["quantity"]) == (case, key)
        ]
        lengths, values = np.array(pairs).T
        found[case, key] = settling(lengths, values, QUANTITIES[key].resolution, drawn)
    return found


def settling_rows(found: Mapping[tuple[str, str], Settling]) -> list[Row]:
    """Tidy table: one row a case and quantity."""
    return [
        {
            "case": case,
            "quantity": key,
            "unit": unit_of(case, key),
            "verdict": s.kind,
            "low": s.low,
            "high": s.high,
            **{
                name: value if s.kind == "settles" else None
                for name, value in (
                    ("order", s.order),
                    ("limit", s.limit),
                    ("uncertainty", s.uncertainty),
                )
            },
        }
        for (case, key), s in found.items()
    ]
