"""The 95 % interval of every number of a case, from its value and its expanded uncertainties.

A :class:`Judged` case and :class:`Expanded` uncertainties in, low and high ends by name out. They
cover what the computation may be off by, for the installation as it was described.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.metrics import GainRange
from pipeline.circuit.line import LineRun, swr_on, through_line
from pipeline.judgement.case_facts import Judged
from pipeline.judgement.verdict import Facts
from pipeline.judgement.verdict import Interval as Interval
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row

# Points on the rim of the disc in which an impedance may lie.
_RIM = np.exp(2j * np.pi * np.arange(24) / 24)
# A gain below this is a null, and no interval reaches further down. [dBi]
_FLOOR_DBI = -120.0


def around(value: float, relative: float, absolute: float = 0.0) -> Interval:
    """Interval of a magnitude from two independent half-widths; never below zero.

    Examples
    --------
    >>> around(0.1, 0.3, 0.04)
    (0.05, 0.15000000000000002)
    """
    half = float(np.hypot(relative * value, absolute))
    return max(0.0, value - half), value + half


def gain_interval(gain_dbi: float, mean_dbi: float, field: float) -> Interval:
    """Interval of a gain when the field is uncertain by a share of the mean field everywhere.

    So a direction near a null is less certain, in decibels, than one near the maximum.

    Examples
    --------
    >>> [round(g, 2) for g in gain_interval(6.0, 6.0, 0.01)]
    [5.91, 6.09]
    >>> [round(g, 1) for g in gain_interval(-34.0, 6.0, 0.01)]
    [-120.0, -28.0]
    """
    share = field * 10 ** ((mean_dbi - gain_dbi) / 20)
    low = 20 * np.log10(1 - share) if share < 1 else -np.inf
    return max(_FLOOR_DBI, float(gain_dbi + low)), float(gain_dbi + 20 * np.log10(1 + share))


def impedance_disc(z: complex, relative: float, z0: float) -> NDArray[np.complex128]:
    """Impedances that stand for a disc round ``z``: its rim, and ``z0`` where that lies inside."""
    rim = z * (1 + relative * _RIM)
    inside = abs(z - z0) <= relative * abs(z)
    return np.append(rim, [z, z0] if inside else [z]).astype(np.complex128)


def _swr_range(z: NDArray[np.complex128], z0: float) -> Interval:
    found = swr_on(z, z0)
    return float(found.min()), float(found.max())


def _impedances(z: complex, f: float, half: Expanded, run: LineRun) -> dict[str, Interval]:
    """What follows from the impedance at the feed point alone, at one frequency."""
    z0 = run.pieces[0].cable.z0
    disc = impedance_disc(z, half.impedance, z0)
    radius = half.impedance * abs(z)
    z_radio, loss = through_line(run, np.full(len(disc), f), disc)
    return {
        "r_ohm": (max(0.0, z.real - radius), z.real + radius),
        "x_ohm": (z.imag - radius, z.imag + radius),
        "swr_feed": _swr_range(disc, z0),
        "swr_radio": _swr_range(z_radio, RADIO_OHM),
        "line_loss_db": (float(loss.min()), float(loss.max())),
    }


def band_intervals(result: CaseResult, half: Expanded, run: LineRun) -> list[dict[str, Interval]]:
    """Ends of impedance, SWR and line loss at each frequency of a case, by column name."""
    return [
        _impedances(complex(z), float(f), half, run)
        for z, f in zip(result.z_feed, result.frequency, strict=True)
    ]


def _gains(horizon: GainRange, peak: float, field: float) -> dict[str, Interval]:
    named = {
        "horizon_gain_min_dbi": horizon.minimum,
        "horizon_gain_mean_dbi": horizon.mean,
        "horizon_gain_max_dbi": horizon.maximum,
        "peak_gain_dbi": peak,
    }
    return {name: gain_interval(g, horizon.mean, field) for name, g in named.items()}


def effect_intervals(judged: Judged, half: Expanded) -> dict[str, Interval]:
    """Ends of what a case does against the ideal choke and of its currents, by column name."""
    facts = judged.facts
    station = half.station_current if facts.station_ratio else 0.0
    return {
        "pattern_change_max_db": around(judged.change_max_db, half.current, half.pattern_db),
        "pattern_change_rms_db": around(judged.change_rms_db, half.current, half.pattern_db),
        "shield_current_ratio_max": around(facts.shield_ratio, half.current, _share(facts, half)),
        "station_current_ratio": around(facts.station_ratio, half.current, station),
        "choke_power_w": around(facts.choke_power, 2 * _current_share(facts, half)),
    }


def case_intervals(judged: Judged, half: Expanded, run: LineRun) -> dict[str, Interval]:
    """Low and high end of every number of a case that the tables hold, by column name.

    Parameters
    ----------
    judged : Judged
        The case.
    half : Expanded
        Its half-widths.
    run : LineRun
        Cable between antenna and radio.
    """
    r, mean, loss = judged.result, judged.horizon.mean, judged.facts.line_loss_db
    found = {
        **_impedances(complex(r.z_feed[r.centre]), float(r.frequency[r.centre]), half, run),
        **_gains(judged.horizon, judged.peak_dbi, half.field),
        **effect_intervals(judged, half),
    }
    gains, losses = found["horizon_gain_mean_dbi"], found["line_loss_db"]
    below = np.hypot(mean - gains[0], losses[1] - loss)
    above = np.hypot(gains[1] - mean, loss - losses[0])
    found["system_gain_dbi"] = (float(mean - loss - below), float(mean - loss + above))
    return found


def _share(facts: Facts, half: Expanded) -> float:
    """Nothing is uncertain about the current on a cable that is not there."""
    return half.shield_current if facts.shield_ratio else 0.0


def _current_share(facts: Facts, half: Expanded) -> float:
    """Relative half-width of the largest current on the shield."""
    if not facts.shield_ratio:
        return 0.0
    return float(np.hypot(half.current, half.shield_current / facts.shield_ratio))


def at_end(facts: Facts, half: Expanded, end: int) -> Facts:
    """Facts of a case with everything that speaks against it at one end of its interval.

    ``end`` is 0 for the low end and 1 for the high one. A change of SWR or of mean gain is made
    by the current on the shield, so it shares that current's relative half-width; none changes
    its sign.
    """
    sign = 2 * end - 1
    share = max(0.0, 1 + sign * _current_share(facts, half))
    station = half.station_current if facts.station_ratio else 0.0
    return replace(
        facts,
        pattern_rms_db=around(facts.pattern_rms_db, half.current, half.pattern_db)[end],
        mean_gain_change_db=facts.mean_gain_change_db * share,
        swr_change=facts.swr_change * share,
        station_ratio=around(facts.station_ratio, half.current, station)[end],
    )


def with_ends(row: Row, ends: Mapping[str, Interval]) -> Row:
    """A row in which a number's low and high end stand behind it.

    Examples
    --------
    >>> with_ends({"case": "none", "swr": 1.3}, {"swr": (1.2, 1.4), "more": (0.0, 1.0)})
    {'case': 'none', 'swr': 1.3, 'swr_low': 1.2, 'swr_high': 1.4}
    """
    found: Row = {}
    for column, value in row.items():
        found[column] = value
        if column in ends:
            found[f"{column}_low"], found[f"{column}_high"] = ends[column]
    return found
