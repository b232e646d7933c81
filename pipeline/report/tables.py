"""Tidy CSV tables: one row an observation, units in the column names; one table a figure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.site.compass import bearing_of
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.analysis.metrics import (
    LOW_ELEVATIONS_DEG,
    all_the_way_round,
    gain_at_elevation,
    ring_at,
)
from pipeline.chokes.kind import Choke
from pipeline.judgement.case_merit import CaseMerit
from pipeline.judgement.intervals import Interval, around, gain_interval, with_ends
from pipeline.judgement.sweeps import SWEPT
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.far_field import evenly_round
from pipeline.solver.terminations import told_impedance
from pipeline.study.records import Study

# Chokes are drawn over this range; outside a table's data there is no curve.
CHOKE_CURVE_HZ = (1e6, 450e6, 181)
# Beside the top of a peak a curve is that near to it: the top itself is then right to a hundredth.
_BESIDE_A_TOP = 0.98
# A resonance of any quality that metal has is found within these halvings of a step.
_MOST_HALVINGS = 40


def _ends_of(*columns: str) -> tuple[str, ...]:
    """Columns, each with those of its interval behind it."""
    return tuple(c + end for c in columns for end in ("", "_low", "_high"))


_SWEPT = _ends_of(*(FIGURES[name].column for name in SWEPT))
_COUNTED = ("choke_r_ohm", "choke_x_ohm", *_SWEPT, *_ends_of("choke_power_w"), "grade")
# A study without a ferrite has no sweep, one of ideal chokes no curve: headers for those.
MAY_BE_EMPTY = {
    "choke_impedance": ("choke", "label", "frequency_hz", "r_ohm", "x_ohm"),
    "core_count": ("core", "label", "count", *_COUNTED),
    "choke_position": ("choke", "kind", "label", "count", "position_m", "score", *_SWEPT, "grade"),
}


def with_bearings(rows: list[Row], facing: float | None) -> list[Row]:
    """Rows with the bearing of each azimuth beside it; ``facing`` [deg] is that of azimuth zero.

    Rows without an azimuth, and all where nothing is said of how the antenna stands, stay as they
    are.

    Examples
    --------
    >>> with_bearings([{"azimuth_deg": 90.0, "gain_dbi": 1.0}], 120.0)
    [{'azimuth_deg': 90.0, 'bearing_deg': 30.0, 'gain_dbi': 1.0}]
    """
    if facing is None or not rows or "azimuth_deg" not in rows[0]:
        return rows
    k = list(rows[0]).index("azimuth_deg") + 1
    return [
        dict([*cells[:k], ("bearing_deg", bearing_of(row["azimuth_deg"], facing)), *cells[k:]])
        for row in rows
        for cells in [list(row.items())]
    ]


def band_rows(
    results: Iterable[CaseResult],
    evidence: Mapping[str, CaseEvidence],
    intervals: Mapping[str, Sequence[Mapping[str, Interval]]],
) -> list[Row]:
    """Impedance, SWR and loss of every case over the band; ``intervals`` at each frequency."""
    return [
        with_ends(
            {
                "case": r.case.id,
                "frequency_hz": float(f),
                "r_ohm": r.z_feed[i].real,
                "x_ohm": r.z_feed[i].imag,
                "swr_feed": r.swr_feed[i],
                "swr_radio": r.swr_radio[i],
                "line_loss_db": r.line_loss_db[i],
                "grade": evidence[r.case.id].grade,
            },
            intervals[r.case.id][i],
        )
        for r in results
        for i, f in enumerate(r.frequency)
    ]


def azimuth_rows(
    cases: Iterable[CaseMerit],
    results: Mapping[str, CaseResult],
    uncertainty: Mapping[str, Expanded],
    elevation_deg: float,
) -> list[Row]:
    """Gain all the way round at the grid's elevation nearest to the stated one.

    In steps that miss no extreme (:func:`metrics.all_the_way_round`).
    """
    theta = next(iter(results.values())).solved.basis.directions.theta
    row = ring_at(theta, elevation_deg)
    elevation = 90.0 - np.degrees(theta)
    rings = [(c, all_the_way_round(results[c.id].gain[row]).tolist()) for c in cases]
    return [
        with_ends(
            {
                "case": c.id,
                "elevation_deg": float(elevation[row]),
                "azimuth_deg": float(np.degrees(angle)),
                "gain_dbi": gain,
                "grade": c.grade,
            },
            {"gain_dbi": gain_interval(gain, c["mean_gain_dbi"], uncertainty[c.id].field)},
        )
        for c, ring in rings
        for angle, gain in zip(evenly_round(len(ring)), ring, strict=True)
    ]


def elevation_rows(cases: Iterable[CaseMerit], results: Mapping[str, CaseResult]) -> list[Row]:
    """Gain over elevation in the plane of the antenna, towards both sides."""
    directions = next(iter(results.values())).solved.basis.directions
    elevation = 90.0 - np.degrees(directions.theta)
    sides = (0, int(np.argmin(np.abs(directions.phi - np.pi))))
    return [
        {
            "case": c.id,
            "azimuth_deg": float(np.degrees(directions.phi[k])),
            "elevation_deg": float(e),
            "gain_dbi": results[c.id].gain[i, k],
            "grade": c.grade,
        }
        for c in cases
        for k in sides
        for i, e in enumerate(elevation)
    ]


def low_rows(
    cases: Iterable[CaseMerit],
    gains: Mapping[str, NDArray[np.float64]],
    uncertainty: Mapping[str, Expanded],
) -> list[Row]:
    """Smallest, mean and largest gain round the horizon at each low elevation.

    ``gains`` are those of each case at these elevations, shape (n_elevation, n_phi) [dBi].
    What is uncertain is a share of the mean field at that elevation: towards the horizon the
    reflection takes the same from a field and from its error.
    """
    rows = []
    theta = np.radians(90.0 - np.array(LOW_ELEVATIONS_DEG))
    for c in cases:
        field = uncertainty[c.id].field
        for e in LOW_ELEVATIONS_DEG:
            g = gain_at_elevation(gains[c.id], theta, e)
            shown = {
                "gain_min_dbi": g.minimum,
                "gain_mean_dbi": g.mean,
                "gain_max_dbi": g.maximum,
            }
            ends = {name: gain_interval(gain, g.mean, field) for name, gain in shown.items()}
            row = {"case": c.id, "elevation_deg": e, **shown, "grade": c.grade}
            rows.append(with_ends(row, ends))
    return rows


def shield_rows(
    cases: Iterable[CaseMerit],
    results: Mapping[str, CaseResult],
    uncertainty: Mapping[str, Expanded],
) -> list[Row]:
    """Shield current per feed current along the cable, at the design frequency."""
    rows = []
    for c in cases:
        r, half = results[c.id], uncertainty[c.id]
        structure = r.solved.structure
        height = structure.segments.centre[:, 2]
        for (segment, position), current in zip(
            structure.shield_path, np.abs(r.shield_ratio).tolist(), strict=True
        ):
            row = {
                "case": c.id,
                "position_m": position,
                "height_m": float(height[segment]),
                "current_ratio": current,
                "grade": c.grade,
            }
            ends = {"current_ratio": around(current, half.current, half.shield_current)}
            rows.append(with_ends(row, ends))
    return rows


def nearby_rows(cases: Iterable[CaseMerit], results: Mapping[str, CaseResult]) -> list[Row]:
    """Largest current per feed current on each part that stands around the antenna."""
    return [
        {
            "case": c.id,
            "part": n.part,
            "height_m": n.height,
            "current_ratio": n.ratio,
            "grade": c.grade,
        }
        for c in cases
        for n in results[c.id].nearby
    ]


def choke_rows(study: Study) -> list[Row]:
    """Impedance over frequency of each kind of choke in the study, one core of each ferrite."""
    rows: list[Row] = []
    listed: set[tuple[Any, ...]] = set()
    for single, key, label in (shown for choke in study.chokes for shown in choke.curves()):
        if key in listed:
            continue
        listed.add(key)
        # The design frequency is one of the points: a sharp resonance may sit exactly there.
        steps = np.union1d(np.geomspace(*CHOKE_CURVE_HZ), [study.frequency]).tolist()
        told = with_tops(steps, partial(_told, single, study))
        rows += [
            {
                "choke": single.id,
                "label": label,
                "frequency_hz": f,
                "r_ohm": z.real,
                "x_ohm": z.imag,
            }
            for f, z in told.items()
        ]
    return rows


def _told(choke: Choke, study: Study, f: float) -> complex | None:
    """Impedance that may be told of a choke; None beyond the data of a table. [ohm]"""
    try:
        return complex(told_impedance(choke, study, np.array([f]))[0])
    except ValueError:
        return None


def with_tops(
    frequencies: Iterable[float], impedance: Callable[[float], complex | None]
) -> dict[float, complex]:
    """Impedances by frequency [Hz], in order, with points at the tops of resistance. [ohm]

    Where ``impedance`` is None there is no point. Steps beside a top are halved until it is as
    high as the curve gets, to a hundredth. Definition.

    Examples
    --------
    >>> curve = with_tops([1e6, 2e6, 4e6], lambda f: 1 / (1 + 1e6j * (f / 2.3e6 - 1)))
    >>> round(max(z.real for z in curve.values()), 2)
    1.0
    """
    found = {f: z for f in sorted(frequencies) if (z := impedance(f)) is not None}
    for _ in range(_MOST_HALVINGS):
        more = [f for f in _beside_tops(found) if f not in found]
        values = {f: z for f in more if (z := impedance(f)) is not None}
        if not values:
            break
        found = dict(sorted((found | values).items()))
    return found


def _beside_tops(found: Mapping[float, complex]) -> list[float]:
    """Middles of the steps beside each top of resistance that stands out from its neighbours."""
    f, r = list(found), [z.real for z in found.values()]
    middles = []
    for k in range(1, len(f) - 1):
        if r[k] >= max(r[k - 1], r[k + 1]) and min(r[k - 1], r[k + 1]) < _BESIDE_A_TOP * r[k]:
            middles += [math.sqrt(f[k - 1] * f[k]), math.sqrt(f[k] * f[k + 1])]
    return middles


def case_rows(
    cases: Iterable[CaseMerit],
    evidence: Mapping[str, CaseEvidence],
    intervals: Mapping[str, Mapping[str, Interval]],
    standings: Mapping[str, str],
) -> list[Row]:
    """The comparison as described: one row a case, every number with the ends of its 95 % interval.

    ``standings`` say how each case stands over all draws (:func:`phrases.standing_of`).
    """
    return [
        {
            **with_ends(_merit(c), intervals[c.id]),
            "standing": standings[c.id],
            "average_gain": evidence[c.id].average_gain,
            "reciprocity": evidence[c.id].reciprocity,
            "convergence": evidence[c.id].convergence,
            "grade": evidence[c.id].grade,
        }
        for c in cases
    ]


def _merit(c: CaseMerit) -> Row:
    """Every figure of merit that has a column; an empty cell where one does not apply."""
    figures = [f for f in FIGURES.values() if f.column and f.name in c.merit.values]
    values: Row = {f.column: None if np.isnan(c[f.name]) else c[f.name] for f in figures}
    own: Row = {
        "case": c.id,
        "label": c.label,
        "kind": c.kind,
        "count": c.count,
        "position_m": c.position,
        "also_at_m": c.also_at,
    }
    return own | values | {"price": c.price, "currency": c.currency}
