"""The 95 % interval of every figure of merit of a case, from its expanded uncertainties.

Figures and :class:`Expanded` uncertainties in, low and high ends by column out. They cover what
the computation may be off by, for the installation as it was described.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.figures_of_merit_and_score import FIGURES, Merit, scored
from pipeline.circuit.line import LineRun, swr_on, through_line
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row

# Low and high end of a number.
Interval = tuple[float, float]
Rule = Callable[[float, "_Known"], Interval]
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
    """Impedances for a disc round ``z``: its rim, and ``z0`` where that lies inside. [ohm]

    Definition.

    Examples
    --------
    >>> disc = impedance_disc(52 + 0j, 0.05, 50.0)
    >>> round(float(abs(disc - 52).max()), 9), complex(disc[-1])
    (2.6, (50+0j))
    """
    return np.asarray(_discs(np.array([z]), relative, z0)[0])


def _discs(z: NDArray[np.complex128], relative: float, z0: float) -> NDArray[np.complex128]:
    """Discs round several impedances (n,), each a row."""
    rim = z[:, None] * (1 + relative * _RIM)
    inside = np.abs(z - z0) <= relative * np.abs(z)
    return np.column_stack([rim, z, np.where(inside, z0, z)]).astype(np.complex128)


# Low and high ends at several frequencies, (n,) each.
_Ends = tuple[NDArray[np.float64], NDArray[np.float64]]


def _impedance_ends(
    z: NDArray[np.complex128], f: NDArray[np.float64], half: Expanded, run: LineRun
) -> dict[str, _Ends]:
    """Ends of all that follows from impedances at the feed point alone, (n,), by rule."""
    z0 = run.pieces[0].cable.z0
    disc = _discs(z, half.impedance, z0)
    radius = half.impedance * np.abs(z)
    z_radio, loss = through_line(run, np.repeat(f, disc.shape[1]), disc.ravel())

    def ends(values: NDArray[np.float64]) -> _Ends:
        rows = values.reshape(disc.shape)
        return rows.min(axis=1), rows.max(axis=1)

    return {
        "resistance": (np.maximum(0.0, z.real - radius), z.real + radius),
        "reactance": (z.imag - radius, z.imag + radius),
        "swr_feed": ends(swr_on(disc, z0)),
        "swr_radio": ends(swr_on(z_radio, RADIO_OHM)),
        "line_loss": ends(loss),
    }


def band_intervals(result: CaseResult, half: Expanded) -> list[dict[str, Interval]]:
    """Ends of impedance, SWR and line loss at each frequency of a case, by column name."""
    ends = _impedance_ends(result.z_feed, result.frequency, half, result.line)
    columns = {
        f.column: list(zip(*(side.tolist() for side in ends[f.interval]), strict=True))
        for f in FIGURES.values()
        if f.interval in ends
    }
    return [{c: sides[k] for c, sides in columns.items()} for k in range(len(result.frequency))]


@dataclass(frozen=True)
class _Known:
    """A case's figures and half-widths, and ends that follow from its impedance."""

    merit: Merit
    half: Expanded
    impedance: Mapping[str, Interval]

    def value(self, name: str) -> float:
        """A figure of merit by its name."""
        return float(self.merit[name][0])

    def ends(self, names: Iterable[str]) -> dict[str, Interval]:
        """Ends of some figures by the rule of each, by column."""
        figures = [FIGURES[name] for name in names]
        return {f.column: RULES[f.interval](self.value(f.name), self) for f in figures}


def _gain(value: float, known: _Known) -> Interval:
    return gain_interval(value, known.value("mean_gain_dbi"), known.half.field)


def _pattern(value: float, known: _Known) -> Interval:
    return around(value, known.half.current, known.half.pattern_db)


def _current(value: float, half: Expanded, absolute: float) -> Interval:
    """Nothing is uncertain about the current on a cable that is not there."""
    return around(value, half.current, absolute if value else 0.0)


def _choke_power(value: float, known: _Known) -> Interval:
    return around(value, 2 * _current_share(known.merit, known.half))


def _system_gain(value: float, known: _Known) -> Interval:
    mean = known.value("mean_gain_dbi")
    gains, losses = _gain(mean, known), known.impedance["line_loss"]
    loss = mean - value
    below = np.hypot(mean - gains[0], losses[1] - loss)
    above = np.hypot(gains[1] - mean, loss - losses[0])
    return float(value - below), float(value + above)


def _follows(rule: str) -> Rule:
    """The rule of a figure that follows from the impedance at the feed point."""
    return lambda value, known: known.impedance[rule]


# By the name that a figure of merit gives its rule: ends from its value.
RULES: dict[str, Rule] = {
    "resistance": _follows("resistance"),
    "reactance": _follows("reactance"),
    "swr_feed": _follows("swr_feed"),
    "swr_radio": _follows("swr_radio"),
    "line_loss": _follows("line_loss"),
    "gain": _gain,
    "pattern": _pattern,
    "shield_current": lambda value, k: _current(value, k.half, k.half.shield_current),
    "station_current": lambda value, k: _current(value, k.half, k.half.station_current),
    "choke_power": _choke_power,
    "system_gain": _system_gain,
}


def effect_intervals(merit: Merit, half: Expanded, names: Iterable[str]) -> dict[str, Interval]:
    """Ends of some figures that do not follow from the impedance alone, by column name."""
    return _Known(merit, half, {}).ends(names)


def case_intervals(merit: Merit, half: Expanded, run: LineRun, f: float) -> dict[str, Interval]:
    """Low and high end of every figure of merit of a case, by column name.

    ``run`` is the cable between antenna and radio, ``f`` the design frequency. [Hz]
    """
    z = complex(merit["r_ohm"][0], merit["x_ohm"][0])
    names = [x.name for x in FIGURES.values() if x.interval and x.name in merit.values]
    found = _impedance_ends(np.array([z]), np.array([f]), half, run)
    own = {rule: (float(low[0]), float(high[0])) for rule, (low, high) in found.items()}
    return _Known(merit, half, own).ends(names)


def wider(
    ends: Mapping[str, Interval], merit: Merit, off: Mapping[str, Interval]
) -> dict[str, Interval]:
    """Ends of a case that is also off by something independent, as far below and above, by column.

    ``off`` are the two distances; what is never below zero stays so.

    Notes
    -----
    Root of the sum of squares on each side: JCGM 100:2008 (GUM), 5.1.2, both for 95 %.
    """
    found = dict(ends)
    for figure in FIGURES.values():
        if figure.column in ends and figure.column in off:
            value, (low, high) = float(merit[figure.name][0]), ends[figure.column]
            below, above = off[figure.column]
            under = value - float(np.hypot(value - low, below))
            over = value + float(np.hypot(high - value, above))
            found[figure.column] = (max(0.0, under) if low >= 0 else under, over)
    return found


def _current_share(merit: Merit, half: Expanded) -> float:
    """Relative half-width of the largest current on the shield."""
    ratio = float(merit["shield_ratio"][0])
    return float(np.hypot(half.current, half.shield_current / ratio)) if ratio else 0.0


def at_end(merit: Merit, half: Expanded, end: int) -> Merit:
    """A case with every change that speaks against it at one end of its interval.

    ``end`` is 0 for the low end and 1 for the high one. A change from the reference, such as that
    of SWR, is made by the current on the shield, so it shares that current's relative half-width;
    none changes its sign.
    """
    share = max(0.0, 1 + (2 * end - 1) * _current_share(merit, half))
    absolute = [f for f in scored(merit.limits) if not f.is_relative]
    ends = effect_intervals(merit, half, [f.name for f in absolute])
    return replace(
        merit,
        changes={name: change * share for name, change in merit.changes.items()}
        | {f.name: np.array([ends[f.column][end]]) for f in absolute},
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
