"""The machine-readable summary of a study; its layout is ``summary.schema.json``, versioned."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from dataclasses import asdict, fields
from importlib.metadata import version
from typing import Any

import numpy as np

from models.antennas import generators
from models.lengths import large, small
from models.site.metalwork import Surroundings
from models.site.soil import COMMON_ROD, common_rod
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.figures_of_merit_and_score import STRONG, WORSE_FACTOR
from pipeline.analysis.metrics import LOW_ELEVATIONS_DEG, MATTERS_BELOW_DEG, MATTERS_WITHIN_DB
from pipeline.answer.answer_data import answer_data
from pipeline.answer.phrases import standing_of
from pipeline.answer.record import Answer
from pipeline.answer.stored_summary import SCHEMA_VERSION
from pipeline.chokes.kind import Choke, Host
from pipeline.judgement.judgement import Judgement
from pipeline.mesh.evidence import LIMITS, GeometryEvidence
from pipeline.solver.structures import sized_antenna
from pipeline.study.records import Study, Thresholds

_PACKAGES = ("braidwise", "PyNEC", "numpy", "scipy", "matplotlib", "snakemake", "scikit-rf")


def versions() -> dict[str, str]:
    """Versions of this project, of Python and of what the numbers rest on."""
    found = {name: version(name) for name in _PACKAGES}
    return {**found, "python": platform.python_version()}


def _pair(z: complex) -> list[float]:
    return [float(z.real), float(z.imag)]


def _site_data(study: Study) -> dict[str, Any]:
    site, ground = study.site, study.site.ground
    soil = ground and {"name": ground.name, "eps_r": ground.eps_r, "sigma": ground.sigma}
    facing = {} if site.facing is None else {"facing_deg": site.facing % 360.0}
    return {
        "height_m": site.height,
        "ground": soil,
        "mast_m": site.mast,
        **facing,
        **_around_data(site.around),
    }


def _study_data(study: Study, route_length: float) -> dict[str, Any]:
    bond, station = study.bond, study.station
    return {
        "name": study.name,
        "title": study.title,
        "lengths_in": study.lengths,
        "frequency_hz": study.frequency,
        "band_hz": [study.band.start, study.band.stop],
        "power_w": study.power,
        "duty": study.duty,
        "antenna": _antenna_data(study),
        "site": _site_data(study),
        "cable": {
            "type": study.cable.type.name,
            "z0_ohm": study.cable.type.z0,
            "length_m": study.cable.run(None, route_length).length(),
            "joins": study.cable.joins,
            "route": [{"go": s.go, "length_m": s.length} for s in study.cable.route],
            "route_length_m": route_length,
        },
        "bond": None
        if bond is None
        else {
            "lead_diameter_m": bond.lead_diameter,
            "rod_impedance_ohm": None if bond.rod_impedance is None else _pair(bond.rod_impedance),
        },
        "station": {
            "impedance_ohm": None if station.impedance is None else _pair(station.impedance),
            "lead_m": station.lead,
        },
        "defaults": list(study.defaults),
        "warnings": list(study.warnings),
        "derived": _derived(study),
    }


def _around_data(around: Surroundings) -> dict[str, Any]:
    """What stands around the antenna; nothing where the study names nothing."""
    mast, other = around.mast, around.other
    found: dict[str, Any] = {}
    if mast is not None:
        found["mast"] = {
            "metal": mast.metal,
            "diameter_m": 2 * mast.radius,
            "length_m": mast.length,
            "stand_off_m": mast.stand_off,
            "bonded": mast.bonded,
        }
    if around.pieces:
        found["metalwork"] = [
            {"name": p.name, "diameter_m": 2 * p.radius, "points_m": [list(q) for q in p.points]}
            for p in around.pieces
        ]
    if other is not None:
        found["other_feedline"] = {
            "type": other.cable.name,
            "beside_m": other.beside,
            "high_m": other.high,
            "low_m": other.low,
        }
    return found


def _antenna_data(study: Study) -> dict[str, Any]:
    antenna = sized_antenna(study).antenna
    values = {f.name: getattr(antenna, f.name) for f in fields(antenna)}
    units = generators()[study.antenna.type].units()
    return {
        "type": study.antenna.type,
        "pipe": study.pipe.name,
        "pipe_diameter_m": study.pipe.outside_diameter,
        "lengths_m": {k: v for k, v in values.items() if units.get(k, "m") == "m"},
        "others": {
            k: {"value": v, "unit": units[k]} for k, v in values.items() if units.get(k, "m") != "m"
        },
    }


def _derived(study: Study) -> list[str]:
    chokes = [note for c in study.chokes if (note := c.derived_note(study.host))]
    return [*sized_antenna(study).sentences, *chokes, *_rod_for_comparison(study)]


def _rod_for_comparison(study: Study) -> list[str]:
    """Impedance of a common rod in this soil, beside the one that is assumed."""
    ground = study.site.ground
    rod_impedance = None if study.bond is None else study.bond.rod_impedance
    if rod_impedance is None or ground is None or ground.sigma <= 0:
        return []
    (length, diameter), common = COMMON_ROD, common_rod(ground.sigma)
    used = abs(rod_impedance)
    rod = f"a rod of {large(length, None)} and {small(diameter)} in this soil"
    if used == abs(common):
        return [f"bond.rod_impedance: {used:g} ohm, what {rod} has at low frequency"]
    return [
        f"bond.rod_impedance: {used:g} ohm is used; {rod} has {abs(common):g} ohm at low frequency"
    ]


def _nearby_data(result: CaseResult) -> dict[str, Any]:
    """Currents on what stands around the antenna; nothing where nothing does."""
    ratios = {n.part: n.ratio for n in result.nearby}
    return {"nearby_current_ratio": ratios} if ratios else {}


def _choke_data(choke: Choke, host: Host) -> dict[str, Any]:
    first, *more = choke.positions
    own = {"kind": choke.kind, "count": choke.count, "position_m": first}
    own |= {"also_at_m": more[0] if more else None}
    return own | {"length_m": choke.cut_length(host), "mouth": choke.opens_to or None}


def _case_data(found: Judgement, answer: Answer, name: str) -> dict[str, Any]:
    c, r = found.cases[name], found.results[name]
    choke, zc = r.case.choke, c.choke_impedance
    return {
        "id": c.id,
        "label": c.label,
        "choke": None if choke is None else _choke_data(choke, found.solved.study.host),
        "frequency_hz": float(r.frequency[r.centre]),
        "feedpoint_impedance_ohm": _pair(complex(r.z_feed[r.centre])),
        "swr": c["swr"],
        "swr_radio": c["swr_radio"],
        "swr_band_max": float(np.max(r.swr_feed)),
        "horizon_gain_dbi": {
            "min": c["min_gain_dbi"],
            "mean": c["mean_gain_dbi"],
            "max": c["max_gain_dbi"],
        },
        "peak_gain_dbi": c["peak_gain_dbi"],
        "peak_elevation_deg": c["peak_elevation_deg"],
        "pattern_change_db": {"max": c["pattern_max_db"], "rms": c["pattern_rms_db"]},
        "shield_current_ratio_max": c["shield_ratio"],
        "station_current_ratio": c["station_ratio"],
        **_nearby_data(r),
        "choke_impedance_ohm": None if zc is None else _pair(zc),
        "choke_power_w": c["choke_power"],
        "hottest_core_w": c.hottest_power,
        "line_loss_db": c["line_loss_db"],
        "system_gain_dbi": c["system_gain_dbi"],
        "power_balance": asdict(r.balance),
        "price": c.price,
        "currency": c.currency,
        "standing": standing_of(name, answer),
        "interval_95": {column: list(ends) for column, ends in found.intervals[name].items()},
        "evidence": asdict(found.solved.evidence[name]),
    }


def conventions(elevation_deg: float, outlet: str, limits: Thresholds) -> dict[str, Any]:
    """Conventions: meaning of the quantities of a summary where a choice had to be made."""
    return {
        "horizon_elevation_deg": elevation_deg,
        "low_elevations_deg": list(LOW_ELEVATIONS_DEG),
        "gain": (
            "relative to the power into the feed point; mean is of power over all azimuths, at the "
            f"top of the lowest lobe with an ideal choke, {elevation_deg:g} degrees above the "
            "horizon"
        ),
        "pattern_change": (
            f"against the ideal choke, all azimuths, elevations from 0 to {MATTERS_BELOW_DEG:g} "
            f"degrees where the reference is within {MATTERS_WITHIN_DB:g} dB of its largest value"
        ),
        "current_ratio": "magnitude of shield current over magnitude of feed current",
        "choke_power": "at the transmitter power less the loss of the line",
        "interval_95": (
            "what the computation may be off by for the installation as described, 95 %: "
            "comparison with surface solutions, average gain, reciprocity, finer segments; and the "
            "scatter of a ferrite core; not the soil or the cable's way"
        ),
        "system_gain": "mean gain in the lowest lobe less the loss of the line",
        "position": (
            f"along the cable, to the end of the choke that is nearer to the antenna, from {outlet}"
        ),
        "thresholds": {
            **asdict(limits),
            "strong": STRONG,
            "worse_factor": WORSE_FACTOR,
        },
    }


def summary_data(
    study: Study,
    found: Judgement,
    answer: Answer,
    geometries: Mapping[str, GeometryEvidence],
    parts: Mapping[str, Any],
) -> dict[str, Any]:
    """Everything a study found, as plain data; layout in ``summary.schema.json``.

    ``found`` are its cases as described, the one that is taken among them; ``parts`` are those that
    not every study has, by key.
    """
    outlet = generators()[study.antenna.type].outlet
    return {
        "schema_version": SCHEMA_VERSION,
        "study": _study_data(study, found.route),
        "versions": versions(),
        "conventions": conventions(found.solved.elevation_deg, outlet, study.verdict),
        "limits": {name: asdict(limit) for name, limit in LIMITS.items()},
        "geometries": [g.data() for g in geometries.values()],
        "cases": [_case_data(found, answer, name) for name in found.cases],
        "answer": answer_data(answer),
        **parts,
    }
