"""Figures of merit, each defined once: function, threshold, interval and words in one row.

Currents and gains of n sets of impedances in, figures by name out; one case is n = 1, a study of
uncertain inputs a hundred thousand. What counts as a change and how far one is from the reference
(:func:`score`) is said here and nowhere else; the thresholds are the study's section ``verdict``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from pipeline.analysis.metrics import (
    directions_that_matter,
    extreme_gains,
    largest_change_db,
    mean_gain,
    peak_gain,
    rms_change_db,
)
from pipeline.circuit.line import LineRun, absorbing, power_in, swr_on, through_line
from pipeline.study.records import USUAL, Thresholds

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
# So many thresholds are a strong change.
STRONG = 3.0
# A case counts as worse than none, or better, where its score is so many times the other.
WORSE_FACTOR = 1.15


@dataclass(frozen=True)
class Pattern:
    """Gain in all directions: ``gain`` (n, n_theta, n_phi) [dBi] at ``theta`` (n_theta,) [rad]."""

    gain: Real
    theta: Real


@dataclass(frozen=True)
class RadioEnd:
    """The radio's end of the line: impedance [ohm], loss [dB], power into the antenna [W]; (n,)."""

    z_radio: Complex
    loss_db: Real
    antenna_power: Real


def radio_end(run: LineRun, f: Real, z_feed: Complex, power: float) -> RadioEnd:
    """Far end of a line with some impedances at its near end.

    ``f`` [Hz] and ``z_feed`` [ohm] of the antenna, (n,) each; ``power`` [W] of the transmitter.
    """
    z_radio, loss_db = through_line(run, f, z_feed)
    return RadioEnd(z_radio, loss_db, power * 10 ** (-loss_db / 10))


@dataclass(frozen=True)
class Rows:
    """Response that figures of merit follow from: n rows at one frequency, a volt at the feed.

    ``i_feed``, ``i_station`` (n,) and ``i_shield`` (n, n_shield) are peak currents [A];
    ``gain_low`` (n, n_low, n_phi) is the gain at low angles and ``gain_ring`` (n, n_phi) that at
    the elevation that stands for the horizon [dBi]; ``choke_heat`` (n,) is the power in the choke
    [W], ``z_choke`` (n,) all of its impedance [ohm]; ``z0`` [ohm] the cable's. ``pattern`` and
    ``radio`` are there where they are known: very many rows go without.
    """

    z0: float
    i_feed: Complex
    i_station: Complex
    i_shield: Complex
    gain_low: Real
    gain_ring: Real
    choke_heat: Real
    z_choke: Complex
    pattern: Pattern | None = None
    radio: RadioEnd | None = None

    @cached_property
    def z_feed(self) -> Complex:
        """Impedance at the feed point, shape (n,). [ohm]"""
        return np.asarray(1 / self.i_feed)


@dataclass(frozen=True)
class Reference:
    """The ideal choke on the same terminations, n rows or one that all share.

    ``gain_low`` and ``matters`` have shape (n, n_low, n_phi); ``values`` (n,) are of the figures
    whose change is counted from it.
    """

    gain_low: Real
    matters: NDArray[np.bool_]
    values: Mapping[str, Real]

    def rows(self, rows: slice) -> Reference:
        """Some of its rows; all of it where one row stands for all."""
        if len(self.gain_low) == 1:
            return self
        values = {name: value[rows] for name, value in self.values.items()}
        return Reference(self.gain_low[rows], self.matters[rows], values)


@dataclass(frozen=True)
class FigureOfMerit:
    """One row of the table.

    ``of`` gives (n,) values from rows and reference; ``column`` is its name in the table of cases,
    empty where it is not shown there. ``threshold`` is the field of :class:`Thresholds` from which
    a change is visible, empty where it is not scored; ``is_relative`` says that the change counts
    from the reference, not from zero; ``words`` are a reader's for it. ``interval`` names the rule
    by which it is uncertain (:data:`intervals.RULES`); ``worst`` is the end at which it is bad:
    with one, it is told of uncertain inputs. ``needs`` names the part of the rows without which it
    is left out.
    """

    name: str
    unit: str
    of: Callable[[Rows, Reference], Real]
    column: str = ""
    interval: str = ""
    threshold: str = ""
    is_relative: bool = False
    words: str = ""
    worst: Literal["", "low", "high"] = ""
    needs: Literal["", "pattern", "radio"] = ""


def _choke_impedance(rows: Rows) -> Complex:
    """Not a number where no impedance is in series. [ohm]"""
    return np.where(rows.z_choke != 0, rows.z_choke, complex(np.nan, np.nan))


def _radio(rows: Rows) -> RadioEnd:
    if rows.radio is None:
        raise ValueError("nothing is known of the line to the radio")
    return rows.radio


def _peak(rows: Rows) -> tuple[Real, Real]:
    if rows.pattern is None:
        raise ValueError("the whole pattern is not known")
    return peak_gain(rows.pattern.gain, rows.pattern.theta)


# In the order of the columns of the table of cases.
_TABLE = (
    FigureOfMerit(
        "r_ohm", "ohm", lambda r, _: absorbing(r.z_feed).real, "r_ohm", interval="resistance"
    ),
    FigureOfMerit("x_ohm", "ohm", lambda r, _: r.z_feed.imag, "x_ohm", interval="reactance"),
    FigureOfMerit(
        "swr",
        "1",
        lambda r, _: swr_on(r.z_feed, r.z0),
        "swr_feed",
        interval="swr_feed",
        threshold="swr_step",
        is_relative=True,
        words="the match",
        worst="high",
    ),
    FigureOfMerit(
        "swr_radio",
        "1",
        lambda r, _: swr_on(_radio(r).z_radio, RADIO_OHM),
        "swr_radio",
        interval="swr_radio",
        needs="radio",
    ),
    FigureOfMerit(
        "min_gain_dbi",
        "dBi",
        lambda r, _: extreme_gains(r.gain_ring)[0],
        "horizon_gain_min_dbi",
        interval="gain",
        needs="pattern",
    ),
    FigureOfMerit(
        "mean_gain_dbi",
        "dBi",
        lambda r, _: mean_gain(r.gain_ring),
        "horizon_gain_mean_dbi",
        interval="gain",
        threshold="mean_gain_db",
        is_relative=True,
        words="the mean gain in the lowest lobe",
        worst="low",
    ),
    FigureOfMerit(
        "max_gain_dbi",
        "dBi",
        lambda r, _: extreme_gains(r.gain_ring)[1],
        "horizon_gain_max_dbi",
        interval="gain",
        needs="pattern",
    ),
    FigureOfMerit(
        "peak_gain_dbi",
        "dBi",
        lambda r, _: _peak(r)[0],
        "peak_gain_dbi",
        interval="gain",
        needs="pattern",
    ),
    FigureOfMerit(
        "peak_elevation_deg",
        "deg",
        lambda r, _: _peak(r)[1],
        "peak_elevation_deg",
        needs="pattern",
    ),
    FigureOfMerit(
        "pattern_max_db",
        "dB",
        lambda r, ideal: largest_change_db(r.gain_low, ideal.gain_low, ideal.matters),
        "pattern_change_max_db",
        interval="pattern",
    ),
    FigureOfMerit(
        "pattern_rms_db",
        "dB",
        lambda r, ideal: rms_change_db(r.gain_low, ideal.gain_low, ideal.matters),
        "pattern_change_rms_db",
        interval="pattern",
        threshold="pattern_rms_db",
        words="the low-angle pattern",
        worst="high",
    ),
    FigureOfMerit(
        "shield_ratio",
        "1",
        lambda r, _: np.abs(r.i_shield).max(axis=1, initial=0.0) / np.abs(r.i_feed),
        "shield_current_ratio_max",
        interval="shield_current",
        words="the current on the cable",
        worst="high",
    ),
    FigureOfMerit(
        "station_ratio",
        "1",
        lambda r, _: np.abs(r.i_station) / np.abs(r.i_feed),
        "station_current_ratio",
        interval="station_current",
        threshold="station_ratio",
        words="the current that reaches the radio",
        worst="high",
    ),
    FigureOfMerit("choke_r_ohm", "ohm", lambda r, _: _choke_impedance(r).real, "choke_r_ohm"),
    FigureOfMerit("choke_x_ohm", "ohm", lambda r, _: _choke_impedance(r).imag, "choke_x_ohm"),
    FigureOfMerit("choke_share", "1", lambda r, _: r.choke_heat / power_in(r.i_feed), worst="high"),
    FigureOfMerit(
        "choke_power",
        "W",
        lambda r, _: r.choke_heat / power_in(r.i_feed) * _radio(r).antenna_power,
        "choke_power_w",
        interval="choke_power",
        needs="radio",
    ),
    FigureOfMerit(
        "line_loss_db",
        "dB",
        lambda r, _: _radio(r).loss_db,
        "line_loss_db",
        interval="line_loss",
        needs="radio",
    ),
    FigureOfMerit(
        "system_gain_dbi",
        "dBi",
        lambda r, _: mean_gain(r.gain_ring) - _radio(r).loss_db,
        "system_gain_dbi",
        interval="system_gain",
        needs="radio",
    ),
)
FIGURES: dict[str, FigureOfMerit] = {figure.name: figure for figure in _TABLE}


@dataclass(frozen=True)
class Merit:
    """Figures of merit of n rows by name, and the changes of the scored ones, (n,) each."""

    values: Mapping[str, Real]
    changes: Mapping[str, Real]
    limits: Thresholds = USUAL

    def __getitem__(self, name: str) -> Real:
        return self.values[name]

    def __len__(self) -> int:
        return len(next(iter(self.values.values())))

    def row(self, number: int) -> Merit:
        """One of its rows."""
        values, changes = (
            {name: part[number : number + 1] for name, part in parts.items()}
            for parts in (self.values, self.changes)
        )
        return Merit(values, changes, self.limits)

    @cached_property
    def over_thresholds(self) -> dict[str, Real]:
        """Every change over its threshold, by name of the figure, (n,) each."""
        return over_thresholds(self.changes, self.limits)

    def score(self) -> Real:
        """Largest change over its threshold, shape (n,): one or less is no visible change."""
        return score(self.changes, self.limits)


def scored(limits: Thresholds) -> list[FigureOfMerit]:
    """Figures that have a threshold, in the order in which the thresholds stand."""
    by_threshold = {f.threshold: f for f in FIGURES.values() if f.threshold}
    return [by_threshold[x.name] for x in fields(limits) if x.name in by_threshold]


def changes_of(
    values: Mapping[str, Any], reference: Mapping[str, Any], limits: Thresholds
) -> dict[str, Real]:
    """Change of every scored figure; ``values`` and ``reference`` by name, arrays or numbers."""
    return {
        f.name: np.asarray(values[f.name] - (reference[f.name] if f.is_relative else 0.0))
        for f in scored(limits)
    }


def over_thresholds(changes: Mapping[str, Real], limits: Thresholds) -> dict[str, Real]:
    """Every change over its threshold; same shapes.

    Examples
    --------
    >>> changes = {"pattern_rms_db": np.array([1.0]), "mean_gain_dbi": np.array([-0.25])}
    >>> changes |= {"swr": np.array([0.0]), "station_ratio": np.array([0.0])}
    >>> [float(part[0]) for part in over_thresholds(changes, USUAL).values()]
    [2.0, 0.5, 0.0, 0.0]
    """
    return {
        f.name: np.asarray(np.abs(changes[f.name]) / getattr(limits, f.threshold))
        for f in scored(limits)
    }


def score(changes: Mapping[str, Real], limits: Thresholds) -> Real:
    """Largest change from the reference over its threshold, row by row. [-]

    Definition. One or less is no visible change.

    Examples
    --------
    >>> changes = {f.name: np.array([0.1]) for f in scored(USUAL)}
    >>> changes["pattern_rms_db"] = np.array([-1.0])
    >>> score(changes, USUAL).tolist()
    [2.0]
    """
    return np.asarray(np.maximum.reduce(list(over_thresholds(changes, limits).values())))


def reference_of(rows: Rows) -> Reference:
    """Rows of the ideal choke as what others are compared with."""
    bare = Reference(rows.gain_low, directions_that_matter(rows.gain_low), {})
    relative = [f for f in FIGURES.values() if f.is_relative]
    return Reference(bare.gain_low, bare.matters, {f.name: f.of(rows, bare) for f in relative})


def merit_of(rows: Rows, reference: Reference, limits: Thresholds = USUAL) -> Merit:
    """All figures of merit of some rows for which these hold what is needed."""
    values = {
        f.name: f.of(rows, reference)
        for f in FIGURES.values()
        if not f.needs or getattr(rows, f.needs) is not None
    }
    return Merit(values, changes_of(values, reference.values, limits), limits)
