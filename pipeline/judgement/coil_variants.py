"""What a coil's figures come to when it is wound a little otherwise: its intervals hold that too.

A bench and judged cases in; wider uncertainties and intervals of coils out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.case_results import case_line
from pipeline.circuit.line import LineRun
from pipeline.judgement.case_facts import Judged
from pipeline.judgement.intervals import Interval, case_intervals
from pipeline.judgement.sweeps import Bench
from pipeline.mesh.uncertainty import Expanded
from pipeline.solver.cases import CABLE, made_cases
from pipeline.solver.terminations import route_length


def as_made(bench: Bench, stated: Mapping[str, Judged]) -> dict[str, list[Judged]]:
    """Every case whose choke hangs on its making as it may come out, by its id."""
    found = {}
    for name, judged in stated.items():
        case = judged.result.case
        if case.choke is None or not case.choke.hangs_on_making:
            continue
        cases = made_cases(bench.study, case, bench.solved)
        if cases:
            found[name] = [bench.judge(case, evidence_of=name) for _, case in cases]
    return found


def with_making(
    bench: Bench, judged: Mapping[str, Judged], lines: Mapping[str, LineRun]
) -> tuple[Bench, dict[str, dict[str, Interval]]]:
    """A bench whose coils are as uncertain as their making leaves them, and all intervals.

    Parameters
    ----------
    bench : Bench
        With the uncertainty of the computation.
    judged : mapping
        Every case, by its id.
    lines : mapping
        The inside of the cable in each.

    Returns
    -------
    bench : Bench
    intervals : dict
        Of every number of every case; those of a coil hold whatever its making gives.
    """
    made = as_made(bench, judged)
    half = {
        name: widened(own, judged[name], made[name], bench) if name in made else own
        for name, own in bench.uncertainty.items()
    }
    intervals = {}
    for name, j in judged.items():
        own = bench.uncertainty[name]
        ends = case_intervals(j, own, lines[name])
        intervals[name] = _reaching(bench, ends, made.get(name, []), own)
    return replace(bench, uncertainty=half), intervals


def widened(half: Expanded, stated: Judged, made: list[Judged], bench: Bench) -> Expanded:
    """Uncertainty of a coil's case with what its making does.

    Parameters
    ----------
    half : Expanded
        That of the computation.
    stated : Judged
        The coil as the study has it.
    made : list of Judged
        As it may come out.
    bench : Bench
        For the elevation that stands for the horizon.

    Notes
    -----
    The two are independent and add as squares, so that each way of making lies within.
    """
    r, f = stated.result, stated.facts
    z = complex(r.z_feed[r.centre])
    return replace(
        half,
        impedance=_and(half.impedance, [abs(complex(m.result.z_feed[0]) / z - 1) for m in made]),
        shield_current=_and(
            half.shield_current, [m.facts.shield_ratio - f.shield_ratio for m in made]
        ),
        station_current=_and(
            half.station_current, [m.facts.station_ratio - f.station_ratio for m in made]
        ),
        field=_and(half.field, [_field_off(m, stated, bench) for m in made]),
        pattern_db=_and(half.pattern_db, [m.change_rms_db - stated.change_rms_db for m in made]),
    )


def _and(half: float, off: list[float]) -> float:
    """A half-width together with the largest of some departures."""
    return float(np.hypot(half, np.max(np.abs(off))))


def _field_off(made: Judged, stated: Judged, bench: Bench) -> float:
    """Largest change of field towards the horizon and at the peak, over the mean field there."""
    elevation = 90.0 - np.degrees(bench.solved[CABLE].basis.directions.theta)
    row = int(np.argmin(np.abs(elevation - bench.elevation_deg)))
    pairs = [(j.result.gain[row], j.peak_dbi) for j in (stated, made)]
    before, after = (_field(np.append(ring, peak)) for ring, peak in pairs)
    mean = 10 ** (stated.horizon.mean / 20)
    return float(np.max(np.abs(after - before)) / mean)


def _field(gain_dbi: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(10 ** (gain_dbi / 20))


def _reaching(
    bench: Bench, ends: dict[str, Interval], made: list[Judged], half: Expanded
) -> dict[str, Interval]:
    """Intervals of a case that hold those of every way in which it may come out."""
    route = route_length(bench.solved[CABLE].structure)
    for judged in made:
        case = judged.result.case
        run = case_line(bench.solved[case.geometry].structure, bench.study, case, route)
        values = case_intervals(judged, half, run)
        ends = {
            name: (min(low, values[name][0]), max(high, values[name][1]))
            for name, (low, high) in ends.items()
        }
    return ends
