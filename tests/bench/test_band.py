"""A sweep of the band from the few frequencies that are solved, beside a solve at each of them.

The plain way drives the feed alone, with the impedances of one case on load cards; the band is
solved for every port, so that it holds for all cases. What the sweep is off by is measured where
nothing was solved, on the feed's impedance in every case of the demo.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wires.loads import SeriesLoad
from models.wires.structure import Structure
from pipeline.circuit.port_algebra import fed_voltages, port_currents
from pipeline.montecarlo.installations import cable_of, lumped_cases
from pipeline.solver.band import TARGET, TOLD, BandBasis, Span, over_band, solve_band
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.terminations import choke_series, terminations
from tests.bench.demo import study
from tests.bench.measuring import cpu_seconds, duration, rounded, tell

AT_LEAST = 10
# One frequency of the sweep in so many is solved to measure the error.
TRUE_STEP, PLAIN = 5, 5
Real, Complex = NDArray[np.float64], NDArray[np.complex128]


@cache
def drawn() -> Structure:
    return cable_of(study())


def y_at(f: Real) -> Complex:
    currents = unit_source_currents(drawn(), f, study().site.ground)
    return drawn().through_ports(currents).swapaxes(1, 2)


def sweep() -> BandBasis:
    """The whole band as a run has it, no frequency of it solved before."""
    band = study().band
    span = Span(band.start, band.stop, study().frequency, band.points)
    y_design = y_at(np.array([span.design]))[0]
    return over_band(drawn(), span, *solve_band(drawn(), span, y_design, y_at))


def feed_impedances(y_port: Complex, f: Real) -> Complex:
    """Impedance at the feed in every case, (n_case, n_f). [ohm]"""
    built, feed, found = drawn(), drawn().port_index("feed"), []
    for case in lumped_cases(study()):
        z = terminations(built, study(), f) + choke_series(built, study(), case.choke, f)
        found.append(1 / port_currents(y_port, fed_voltages(y_port, z, feed))[:, feed])
    return np.array(found)


def plain_solve(f: float) -> Complex:
    """Currents of the case without a choke, the feed alone driven."""
    z = terminations(drawn(), study(), np.array([f]))[0]
    loads = tuple(
        SeriesLoad(segment, complex(value) * len(group))
        for value, group in zip(z, drawn().port_groups, strict=True)
        if value != 0
        for segment in group
    )
    fed, soil = drawn().port_groups[0], study().site.ground
    return unit_source_currents(drawn(), np.array([f]), soil, loads=loads, sources=fed)


def test_a_sweep_from_few_solves_instead_of_one_solve_a_frequency(benchmark: Any) -> None:
    found = benchmark.pedantic(sweep, rounds=3)
    places = iter(found.frequency[:: TOLD // PLAIN])
    plain = TOLD * cpu_seconds(lambda: plain_solve(next(places)), PLAIN)
    between = [k for k in range(0, TOLD, TRUE_STEP) if found.frequency[k] not in found.solved]
    f = found.frequency[between]
    true = feed_impedances(y_at(f), f)
    off = float(np.max(np.abs(feed_impedances(found.y_port[between], f) / true - 1)))
    sooner = plain / benchmark.stats.stats.median
    tell(
        benchmark,
        f"{duration(plain / sooner)} instead of {duration(plain)}, {rounded(sooner)} times sooner; "
        f"{len(found.solved)} solves, off by {off:.0e} of the feed's impedance at most "
        f"({len(true)} cases, {len(f)} frequencies between)",
        f"{AT_LEAST} times at least, off by {TARGET:g} at most",
        off <= TARGET and sooner >= AT_LEAST,
    )
