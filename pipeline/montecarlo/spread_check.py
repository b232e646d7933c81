"""Random draws of a spread solved again with the solver's own load cards.

Each draw is drawn and solved anew with its impedances as loads on segments: neither port basis
nor port algebra takes part, and no port but the feed has a source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.montecarlo.draws import circuit_draws
from pipeline.montecarlo.ensemble_check import solve_merit, solve_rows
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_solve import candidates, choke_rows, end_rows, low_directions

# What is compared; changes against the reference follow from these.
COMPARED = (
    "r_ohm",
    "x_ohm",
    "swr",
    "station_ratio",
    "shield_ratio",
    "mean_gain_dbi",
    "pattern_rms_db",
)


@dataclass(frozen=True)
class Recheck:
    """One draw both ways: geometry and draw, and for each figure the two values."""

    geometry: int
    draw: int
    algebra: dict[str, float]
    direct: dict[str, float]

    def difference(self, name: str) -> float:
        """Relative difference, absolute where a value is below one (dB and ratios)."""
        a, b = self.algebra[name], self.direct[name]
        return float(abs(a - b) / max(1.0, abs(b)))


def recheck(spread: Spread, case: str, n: int, seed: int) -> list[Recheck]:
    """Solve n random draws of one case directly.

    Parameters
    ----------
    spread : Spread
        What was found by algebra.
    case : str
        Id of a case.
    n : int
        How many draws.
    seed : int
        Start of the random numbers that pick them.

    Raises
    ------
    SolverError
        If the solver refuses.
    """
    rng = np.random.default_rng(seed)
    n_geometry, n_draw = spread.shape
    which = zip(rng.integers(0, n_geometry, n), rng.integers(0, n_draw, n), strict=True)
    return [_one(spread, case, int(g), int(k)) for g, k in which]


def _one(spread: Spread, name: str, geometry: int, draw: int) -> Recheck:
    drawn = spread.drawn[geometry]
    study = drawn.study
    circuit = tuple(u for u in spread.unknowns if not u.geometric)
    draws = circuit_draws(study, circuit, spread.u_circuit[geometry, draw : draw + 1])
    case = next(c for c in candidates(study) if c.id == name)
    soil = study.site.ground
    top = max(10.0, float(np.ceil(drawn.reduced.elevation_deg)))
    directions = low_directions(soil is not None, top, drawn.reduced.e_low.shape[-1])
    best = end_rows(drawn.reduced, study, draws)[0]
    ideal = solve_rows(drawn.reduced, soil, directions, best, drawn.reduced.ideal)
    ends = end_rows(drawn.on(case), study, draws)[0]
    z_choke = choke_rows(drawn, case, draws)[0]
    direct = solve_merit(drawn.on(case), soil, directions, ends, z_choke, ideal)
    row = geometry * spread.shape[1] + draw
    return Recheck(
        geometry,
        draw,
        {n: float(spread.found[name][n][row]) for n in COMPARED},
        {n: float(direct[n][0]) for n in COMPARED},
    )
