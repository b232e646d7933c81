"""Invented cases as described, for intervals and tables."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.judgement.case_merit import CaseMerit
from pipeline.study.records import USUAL

# Figures of merit, and changes against the ideal choke by the figure that changes.
_VALUES = {
    "pattern_rms_db": 0.0,
    "pattern_max_db": 0.0,
    "mean_gain_dbi": 6.5,
    "swr": 1.3,
    "choke_power": 0.25,
    "line_loss_db": 1.0,
}
_CHANGES = {"mean_gain_change_db": "mean_gain_dbi", "swr_change": "swr"}
_OWN = {
    "kind": "sleeve",
    "count": 1,
    "position": 0.05,
    "hottest_power": 0.15,
    "price": 10.0,
    "currency": "EUR",
    "grade": "sound",
}


def made_case(name: str = "c", score: float = 0.5, **own: Any) -> CaseMerit:
    """A case whose score is that of its current at the radio; everything else is unchanged."""
    limits, z = own.pop("limits", USUAL), own.pop("choke_impedance", 600 + 100j)
    z = complex(np.nan, np.nan) if z is None else z
    values = _VALUES | {"station_ratio": 0.05 * score, "shield_ratio": 0.1 * score}
    values |= {"choke_r_ohm": z.real, "choke_x_ohm": z.imag}
    values |= {key: own.pop(key) for key in list(own) if key in values}
    changes = {key: values[key] for key in ("pattern_rms_db", "station_ratio")}
    changes |= {figure: own.pop(key, 0.0) for key, figure in _CHANGES.items()}
    merit = Merit(
        *({key: np.array([v]) for key, v in numbers.items()} for numbers in (values, changes)),
        limits,
    )
    named = {"id": name, "label": f"label of {name}"}
    return CaseMerit(**(named | _OWN | {"merit": merit} | own))


def bare(score: float, **changes: Any) -> CaseMerit:
    nothing = {
        "kind": "none",
        "count": 0,
        "position": None,
        "price": None,
        "currency": "",
        "choke_impedance": None,
        "choke_power": 0.0,
        "hottest_power": 0.0,
    }
    return made_case("none", score, **(nothing | changes))
