"""A coil's figures when it is wound a little otherwise: its intervals hold that too.

Results and uncertainties of cases in; wider uncertainties and intervals of coils out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.case_results import CaseResult, evaluate
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.metrics import ring_at
from pipeline.judgement.intervals import Interval, case_intervals
from pipeline.judgement.sweeps import SolvedStudy
from pipeline.mesh.uncertainty import Expanded
from pipeline.solver.cases import CABLE, IDEAL, made_cases
from pipeline.solver.terminations import route_length


def as_made(of: SolvedStudy, results: Mapping[str, CaseResult]) -> dict[str, list[CaseResult]]:
    """Every case whose choke hangs on its making as it may come out, by its id."""
    route = route_length(of.solved[CABLE].structure)
    found = {}
    for name, result in results.items():
        choke = result.case.choke
        if choke is None or not choke.hangs_on_making:
            continue
        made = made_cases(of.study, result.case, of.solved)
        if made:
            found[name] = [
                evaluate(of.solved[case.geometry], of.study, case, route=route) for _, case in made
            ]
    return found


def with_making(
    of: SolvedStudy, results: Mapping[str, CaseResult]
) -> tuple[SolvedStudy, dict[str, dict[str, Interval]]]:
    """The study with coils as uncertain as their making leaves them, and intervals of all cases.

    ``of`` has the uncertainty of the computation; the intervals of a coil hold whatever its making
    gives.
    """
    elevation = of.elevation_deg
    best = results[IDEAL].reference(elevation)

    def with_merit(result: CaseResult) -> _Made:
        return _Made(result, result.merit(best, elevation))

    stated = {name: with_merit(r) for name, r in results.items()}
    made = {name: [with_merit(r) for r in rs] for name, rs in as_made(of, results).items()}
    half = {
        name: widened(own, stated[name], made[name], elevation) if name in made else own
        for name, own in of.uncertainty.items()
    }
    intervals = {
        name: _reaching([one, *made.get(name, [])], of.uncertainty[name])
        for name, one in stated.items()
    }
    return replace(of, uncertainty=half), intervals


@dataclass(frozen=True)
class _Made:
    """A coil's case, as stated or as it may come out, with its figures of merit."""

    result: CaseResult
    merit: Merit

    def value(self, name: str) -> float:
        return float(self.merit[name][0])


def widened(half: Expanded, stated: _Made, made: list[_Made], elevation_deg: float) -> Expanded:
    """Uncertainty of a coil's case with what its making does.

    The two are independent and add as squares, so that each way of making lies within.
    """

    def impedance(of: _Made) -> complex:
        return complex(of.value("r_ohm"), of.value("x_ohm"))

    def also(own: float, off: Callable[[_Made], float]) -> float:
        return float(np.hypot(own, np.max(np.abs([off(m) for m in made]))))

    def moved(name: str) -> Callable[[_Made], float]:
        return lambda m: m.value(name) - stated.value(name)

    return replace(
        half,
        impedance=also(half.impedance, lambda m: abs(impedance(m) / impedance(stated) - 1)),
        shield_current=also(half.shield_current, moved("shield_ratio")),
        station_current=also(half.station_current, moved("station_ratio")),
        field=also(half.field, lambda m: _field_off(m, stated, elevation_deg)),
        pattern_db=also(half.pattern_db, moved("pattern_rms_db")),
    )


def _field_off(made: _Made, stated: _Made, elevation_deg: float) -> float:
    """Largest change of field towards the horizon and at the peak, over the mean field there."""
    row = ring_at(stated.result.solved.basis.directions.theta, elevation_deg)
    before, after = (
        _field(np.append(of.result.gain[row], of.value("peak_gain_dbi"))) for of in (stated, made)
    )
    mean = 10 ** (stated.value("mean_gain_dbi") / 20)
    return float(np.max(np.abs(after - before)) / mean)


def _field(gain_dbi: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(10 ** (gain_dbi / 20))


def _reaching(cases: list[_Made], half: Expanded) -> dict[str, Interval]:
    """Intervals that hold those of every way in which a case may come out."""
    each = []
    for of in cases:
        f = float(of.result.frequency[of.result.centre])
        each.append(case_intervals(of.merit, half, of.result.line, f))
    return {
        name: (min(ends[name][0] for ends in each), max(ends[name][1] for ends in each))
        for name in each[0]
    }
