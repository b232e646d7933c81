"""Facts of invented cases, for the rules that judge them and the words that tell them."""

from __future__ import annotations

from typing import Any

from pipeline.judgement.advice import Advice, advise
from pipeline.judgement.verdict import Facts, Moved, Variation


def facts(name: str = "c", score: float = 0.5, **changes: Any) -> Facts:
    """A case whose score is that of its current at the radio; everything else is unchanged."""
    values: dict[str, Any] = {
        "id": name,
        "label": f"label of {name}",
        "part": f"part of {name}",
        "kind": "sleeve",
        "count": 1,
        "position": 0.05,
        "pattern_rms_db": 0.0,
        "pattern_max_db": 0.0,
        "mean_gain_dbi": 6.5,
        "mean_gain_change_db": 0.0,
        "swr": 1.3,
        "swr_change": 0.0,
        "station_ratio": 0.05 * score,
        "shield_ratio": 0.1 * score,
        "choke_impedance": 600 + 100j,
        "choke_power": 0.25,
        "hottest_power": 0.15,
        "line_loss_db": 1.0,
        "price": 10.0,
        "currency": "EUR",
        "grade": "sound",
    }
    return Facts(**(values | changes))


def bare(score: float, **changes: Any) -> Facts:
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
    return facts("none", score, **(nothing | changes))


def steady(score: float = 0.5, score_none: float = 2.0) -> list[Variation]:
    return [Variation("a radio that floats", score_none, score)]


def ends(of: Facts) -> dict[str, tuple[float, float]]:
    """Intervals as a computation good to a twentieth would state them."""
    return {
        "pattern_change_rms_db": (0.95 * of.pattern_rms_db, 1.05 * of.pattern_rms_db),
        "station_current_ratio": (0.95 * of.station_ratio, 1.05 * of.station_ratio),
        "swr_feed": (max(1.0, of.swr - 0.05), of.swr + 0.05),
        "horizon_gain_mean_dbi": (of.mean_gain_dbi - 0.2, of.mean_gain_dbi + 0.2),
    }


IDEAL = facts("ideal", 0.0, kind="ideal", price=None, currency="", mean_gain_dbi=6.6, swr=1.25)
ALONE = facts("no-feedline", 0.0, kind="none", position=None)


def told(
    none: Facts,
    *candidates: Facts,
    tried: list[Variation] | None = None,
    elevation: float = 3.0,
    places: tuple[Moved, ...] = (),
) -> Advice:
    everything = {f.id: f for f in (ALONE, IDEAL, none, *candidates)}
    variations = steady() if tried is None else tried
    intervals = {name: ends(f) for name, f in everything.items()}
    elsewhere = list(places)
    return advise(
        everything, intervals, lambda name: variations, lambda name: elsewhere, 25.0, elevation
    )[0]


def cores(count: int, score: float, **changes: Any) -> Facts:
    own = {"kind": "ferrite", "count": count, "part": "NiZn bead", "price": 4.5 * count}
    return facts(f"core-x{count}", score, **(own | changes))
