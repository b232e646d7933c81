"""The demo's installation as it stands, solved once a session, with draws of its impedances."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from pipeline.montecarlo.draws import circuit_draws, sobol, unknowns_of
from pipeline.montecarlo.installations import Installation, settled, solve_cable
from pipeline.study.reader import load_study
from pipeline.study.records import Study

DEMO = Path(__file__).parents[2] / "models" / "studies" / "orchard_shed.yaml"


@cache
def study() -> Study:
    return settled(load_study(DEMO))


@cache
def installation() -> Installation:
    """The study's own drawing with as many draws of its impedances as the study asks for."""
    reduced, directions = solve_cable(study(), isolated=False)
    unknowns = tuple(x for x in unknowns_of(study()) if not x.geometric)
    u = sobol(study().unknowns.draws, len(unknowns), study().unknowns.seed)
    draws = circuit_draws(study(), unknowns, u)
    return Installation(study(), reduced, directions, np.zeros(0), u, draws)
