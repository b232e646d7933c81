"""Results of cases boiled down to what tables and verdict need."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import is_split
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.metrics import (
    GainRange,
    directions_that_matter,
    gain_at_elevation,
    pattern_change_db,
    peak_gain,
)
from pipeline.judgement.verdict import Facts
from pipeline.mesh.evidence import CaseEvidence, Grade
from pipeline.study.records import USUAL, Thresholds


@dataclass(frozen=True)
class Judged:
    """A case with its figures of merit at the design frequency."""

    result: CaseResult
    horizon: GainRange
    peak_dbi: float
    peak_elevation_deg: float
    change_max_db: float
    change_rms_db: float
    facts: Facts


def judge(
    result: CaseResult,
    reference: CaseResult,
    theta: NDArray[np.float64],
    elevation_deg: float,
    evidence: CaseEvidence,
    limits: Thresholds = USUAL,
) -> Judged:
    """Figures of merit of one case against the reference.

    Parameters
    ----------
    result, reference : CaseResult
        The case, and the ideal choke.
    theta : ndarray, shape (n_theta,)
        Polar angles of the gain grids. [rad]
    elevation_deg : float
        Elevation that stands for the horizon. [deg]
    evidence : CaseEvidence
        What the case rests on.
    limits : Thresholds
        From where on a change is visible.
    """
    matters = directions_that_matter(reference.gain, theta)
    change = pattern_change_db(result.gain, reference.gain, matters)
    horizon = gain_at_elevation(result.gain, theta, elevation_deg)
    reference_mean = gain_at_elevation(reference.gain, theta, elevation_deg).mean
    peak, peak_elevation = peak_gain(result.gain, theta)
    facts = _facts(result, reference, change, horizon.mean, reference_mean, evidence.grade)
    facts = replace(facts, limits=limits)
    return Judged(result, horizon, peak, peak_elevation, *change, facts)


# How a core's size got into the catalogue where no print gives it.
_ASSUMED = ("derived", "from-memory")


def _facts(
    result: CaseResult,
    reference: CaseResult,
    change: tuple[float, float],
    mean: float,
    reference_mean: float,
    grade: Grade,
) -> Facts:
    choke, centre = result.case.choke, result.centre
    core = None if choke is None else choke.ferrite_core
    swr = float(result.swr_feed[centre])
    return Facts(
        id=result.case.id,
        label=result.case.label,
        part=choke.part if choke else result.case.label,
        kind=choke.kind if choke else "none",
        count=choke.count if choke else 0,
        position=choke.position if choke else None,
        pattern_rms_db=change[1],
        pattern_max_db=change[0],
        mean_gain_dbi=mean,
        mean_gain_change_db=mean - reference_mean,
        swr=swr,
        swr_change=swr - float(reference.swr_feed[centre]),
        station_ratio=float(np.abs(result.station_ratio[centre])),
        shield_ratio=result.shield_ratio_max,
        choke_impedance=result.choke_impedance,
        choke_power=result.choke_power,
        hottest_power=result.hottest_share * result.choke_power,
        line_loss_db=float(result.line_loss_db[centre]),
        price=choke.price if choke else None,
        currency=choke.currency if choke else "",
        grade=grade,
        sleeve_length=result.sleeve_length,
        on_sale=choke is None or choke.on_sale,
        coil_cable=result.coil_cable,
        is_solid=core is not None and not is_split(core),
        is_size_assumed=core is not None and core.confidence in _ASSUMED,
    )
