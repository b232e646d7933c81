"""The first answer: what each candidate does in the installation as described, before any chance.

Geometries solved at the design frequency in, a line for the screen and plain data out. Whether a
choke is enough is not said here: that takes all installations that agree with the study.
"""

from __future__ import annotations

from typing import Any

from pipeline.analysis.case_results import Solved, evaluate
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.metrics import horizon_elevation_deg
from pipeline.solver.cases import CABLE, IDEAL, NONE, cases
from pipeline.solver.terminations import route_length
from pipeline.study.records import Study
from pipeline.text.formatting import percent


def merits(study: Study, solved: dict[str, Solved]) -> dict[str, Merit]:
    """Figures of merit of every case with a cable, by its id; one row each."""
    route = route_length(solved[CABLE].structure)
    found = {
        c.id: evaluate(solved[c.geometry], study, c, route=route)
        for c in cases(study)
        if solved[c.geometry].structure.has_port("station")
    }
    theta = solved[CABLE].basis.directions.theta
    elevation = horizon_elevation_deg(found[IDEAL].gain, theta)
    best = found[IDEAL].reference(elevation)
    return {name: result.merit(best, elevation) for name, result in found.items()}


def first_answer(study: Study, solved: dict[str, Solved]) -> dict[str, Any]:
    """Current at the radio and largest change of every case, and the line that tells of it."""
    found = merits(study, solved)
    at_radio = {name: float(merit["station_ratio"][0]) for name, merit in found.items()}
    score = {name: float(merit.score()[0]) for name, merit in found.items()}
    labels = {c.id: c.label for c in cases(study)}
    tried = [name for name in found if name not in (NONE, IDEAL)]
    least = min(tried, key=lambda name: score[name], default=IDEAL)
    text = (
        f"As described: {percent(at_radio[NONE])} of the feed current reaches the radio "
        f"without a choke, the largest change is {score[NONE]:.1f} times what is just visible; "
        f"least with {labels[least]}: {percent(at_radio[least])}, {score[least]:.1f} times. "
        "How sure that is follows."
    )
    return {"text": text, "station_current_ratio": at_radio, "score": score}
