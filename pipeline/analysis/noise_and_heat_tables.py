"""A choke and a cable in use: noise, heat and voltage, loss and cost.

Cases with their bases in; rows of tables and the part ``in_use`` of the summary out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from models.catalogues.working_limits import working_value
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.heat import ZERO_CELSIUS, Stress, stress, stress_words
from pipeline.analysis.line_choice import CAUTIONS, LineChoice, line_choice, line_words
from pipeline.analysis.receive_noise import Reception, change_db, receive, receive_words
from pipeline.runtime.csv_tables import Row
from pipeline.study.records import Study


@dataclass(frozen=True)
class StationUse:
    """Noise of all cases with a cable, stress of all with a choke, and the choice of cable.

    ``chosen`` is the case that is advised.
    """

    study: Study
    chosen: str
    noise: Mapping[str, Reception]
    stress: Mapping[str, Stress]
    line: LineChoice


def use_of(
    study: Study, results: Mapping[str, CaseResult], route: float, chosen: str
) -> StationUse:
    """Everything about use, from the cases as they were computed.

    ``results`` are all cases by id, ``route`` [m] the length of the cable's way, ``chosen`` the
    case that is advised.
    """
    heard = {name: receive(result) for name, result in results.items()}
    stresses = {name: stress(result) for name, result in results.items()}
    return StationUse(
        study,
        chosen,
        {name: found for name, found in heard.items() if found is not None},
        {name: found for name, found in stresses.items() if found is not None},
        line_choice(study, results[chosen], route),
    )


def noise_rows(use: StationUse) -> list[Row]:
    """Noise at the receiver, and its change against the cable without a choke, by case."""
    rows = []
    for name, heard in use.noise.items():
        bare = use.noise["none"]
        station, bond = change_db(heard, bare)
        upright, level = heard.house_db
        rows.append(
            {
                "case": name,
                "station_db": heard.station_db,
                "station_current_db_ohm": heard.station_current_db,
                "bond_db": heard.bond_db,
                "house_upright_db_ohm_per_m": upright,
                "house_level_db_ohm_per_m": level,
                "station_change_db": station,
                "bond_change_db": bond,
                "house_upright_change_db": upright - bare.house_db[0],
                "house_level_change_db": level - bare.house_db[1],
                "there_and_back_db": heard.there_and_back_db,
                "line_loss_db": heard.line_loss_db,
            }
        )
    return rows


def heat_rows(use: StationUse) -> list[Row]:
    """Heat, temperature and voltage of every case with a choke; empty where there is none."""
    return [
        {
            "case": name,
            "power_w": s.power,
            "mean_power_w": s.mean_power,
            **_core_row(s),
            "voltage_peak_v": s.voltage,
            "voltage_rms_v": s.voltage_rms,
            "withstand_peak_v": s.withstand,
            "warnings": "; ".join(s.warnings),
        }
        for name, s in use.stress.items()
    ]


def _core_row(s: Stress) -> Row:
    c = s.core
    return {
        "hottest_core_w": None if c is None else c.carrier,
        "hottest_core_mean_w": None if c is None else c.mean,
        "rise_free_k": None if c is None else c.rise[0],
        "rise_covered_k": None if c is None else c.rise[1],
        "resistance_free_k_per_w": None if c is None else c.resistance[0],
        "resistance_covered_k_per_w": None if c is None else c.resistance[1],
        "curie_c": None if c is None else c.curie - ZERO_CELSIUS,
        "margin_k": None if c is None else c.margin,
    }


def line_rows(use: StationUse) -> list[Row]:
    """Every class of cable over the study's run."""
    return [
        {
            "cable": o.cable.id,
            "name": o.cable.name,
            "own": "yes" if o.own else "",
            "matched_loss_db": o.matched_loss_db,
            "loss_db": o.loss_db,
            "radiated_share": o.radiated,
            "jacket_diameter_mm": 1e3 * o.cable.jacket_diameter,
            "bend_diameter_mm": 2e3 * o.cable.bend_radius_repeated,
            "mass_kg": o.cable.mass_per_m * use.line.length,
            "average_power_w": o.average_power,
            "power_source": o.cable.power_source or "unknown",
            "cost": o.cost,
            "price_per_db": o.per_db,
            "currency": use.line.currency,
        }
        for o in use.line.options
    ]


def coil_rows(use: StationUse) -> list[Row]:
    """Effect of every coil on the line beside choking; empty where there is none."""
    return [
        {
            "case": c.case,
            "cable": c.cable.id,
            "diameter_mm": 1e3 * c.diameter,
            "smallest_mm": 1e3 * c.smallest,
            "smallest_once_mm": 1e3 * c.smallest_once,
            "bend": c.bend,
            "wound_m": c.wound,
            "connectors_more": c.connectors,
            "extra_loss_db": c.extra_db,
            "of_connectors_db": c.connectors_db,
        }
        for c in use.line.coils
    ]


TABLES = {
    "noise": noise_rows,
    "heat": heat_rows,
    "line_choice": line_rows,
    "coil_cable": coil_rows,
}


def use_data(use: StationUse) -> dict[str, Any]:
    """The part ``in_use`` of the summary; its layout is in ``summary.schema.json``."""
    study = use.study
    return {
        "noise": {
            "device_beside_m": study.station.noise_beside,
            "cases": {row.pop("case"): row for row in noise_rows(use)},
            "sentences": list(receive_words(use.noise, use.chosen, study.station.noise_beside)),
        },
        "heat": {
            "duty": study.duty,
            "ambient_c": working_value("ambient") - ZERO_CELSIUS,
            "cases": {
                row.pop("case"): {**row, "warnings": list(use.stress[name].warnings)}
                for name, row in zip(use.stress, heat_rows(use), strict=True)
            },
            "sentences": list(stress_words(use.stress, study)),
        },
        "line": {
            "length_m": use.line.length,
            "currency": use.line.currency,
            "options": [{**row, "own": bool(row["own"])} for row in line_rows(use)],
            "coils": coil_rows(use),
            "sentences": list(line_words(use.line, study)),
            "cautions": list(CAUTIONS),
        },
    }
