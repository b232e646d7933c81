"""The computation's own uncertainty in draws: every figure moved within its 95 % interval.

Figures of merit and half-widths in, figures as they may be in truth out; arrays only. One
standard normal a figure and drawing: what segments and joints get wrong is the same for all
candidates on one drawing, and for all terminations.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipeline.analysis.figures_of_merit_and_score import FIGURES, Merit, scored
from pipeline.circuit.line import swr_on
from pipeline.mesh.uncertainty import COVERAGE, Expanded
from pipeline.montecarlo.sobol import sobol

Real = NDArray[np.float64]
# Half-widths in standard deviations.
_WIDE = float(ndtri(0.5 + COVERAGE / 2))
# Apart from the seeds of all other numbers of a study.
_APART = 1_000_003
# What a value is off by beside its change: the impedance at the feed along itself and across, in
# the complex plane, and the field. The case it is compared with is off by the same.
OWN = ("impedance_along", "impedance_across", "field")


def moved_names(merit: Merit) -> tuple[str, ...]:
    """Figures that are moved: the scored ones, and those that are told of draws."""
    named = [f.name for f in FIGURES.values() if f.threshold or (f.worst and f.interval)]
    return tuple(name for name in named if name in merit.values)


def standard_normals(n: int, names: tuple[str, ...], seed: int) -> dict[str, Real]:
    """Standard normals of n drawings by figure, shape (n,) each. [-]

    Quantiles of a Sobol sequence, so that few drawings hold the whole distribution. Definition.
    """
    u = sobol(n, len(names), seed + _APART)
    return {name: np.asarray(ndtri(u[:, k])) for k, name in enumerate(names)}


def moved(merit: Merit, half: Expanded, z: Mapping[str, Real], z0: float) -> Merit:
    """Figures of n rows with every one off by as many standard deviations as ``z`` says.

    ``z`` holds for each figure and for :data:`OWN` (n,) or one number, ``z0`` [ohm] is the cable's.
    A change from the reference, such as that of
    SWR, is made by the current on the shield and shares that current's relative half-width; none
    changes its sign. What counts from zero has a half-width of its own; no magnitude is negative.
    At plus and minus 1.96 everywhere this is :func:`intervals.at_end`.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.7 (a quantity known by its expanded uncertainty is drawn as normal).
    """
    share = _current_share(merit, half)
    values, changes = dict(merit.values), dict(merit.changes)
    relative = {f.name for f in scored(merit.limits) if f.is_relative}
    for name in moved_names(merit):
        off = np.asarray(z[name]) / _WIDE
        if name in relative:
            changes[name] = merit.changes[name] * np.maximum(0.0, 1 + share * off)
            values[name] = merit.values[name] + changes[name] - merit.changes[name]
            continue
        value = merit.values[name]
        values[name] = np.maximum(0.0, value + off * _half(FIGURES[name].interval, value, half))
        if name in changes:
            changes[name] = values[name]
    values["swr"] = np.maximum(1.0, values["swr"] + _swr_off(merit, half, z, z0))
    values["mean_gain_dbi"] = values["mean_gain_dbi"] + _gain_off(half, z)
    return replace(merit, values=values, changes=changes)


def _swr_off(merit: Merit, half: Expanded, z: Mapping[str, Real], z0: float) -> Real:
    """What SWR is off by with its impedance, which lies in a disc as wide as itself by a share."""
    here = np.asarray(merit["r_ohm"] + 1j * merit["x_ohm"], dtype=np.complex128)
    turn = (np.asarray(z["impedance_along"]) + 1j * np.asarray(z["impedance_across"])) / _WIDE
    return swr_on(here * (1 + half.impedance * turn), z0) - swr_on(here, z0)


def _gain_off(half: Expanded, z: Mapping[str, Real]) -> Real:
    """What a mean gain is off by with its field. [dB]"""
    return np.asarray(20 * np.log10(1 + half.field * np.asarray(z["field"]) / _WIDE))


def _current_share(merit: Merit, half: Expanded) -> Real:
    """Relative half-width of the largest current on the shield, shape (n,). [-]"""
    ratio = merit["shield_ratio"]
    there = ratio > 0
    added = half.shield_current / np.where(there, ratio, 1.0)
    return np.where(there, np.hypot(half.current, added), 0.0)


def _half(rule: str, value: Real, half: Expanded) -> Real:
    """Half-width of a magnitude by the rule of its interval, shape (n,), in its unit.

    Nothing is uncertain about the current on a cable that is not there. A figure with a rule of
    its own is as uncertain, relatively, as the current that makes it.
    """
    added = {
        "pattern": half.pattern_db,
        "station_current": half.station_current,
        "shield_current": half.shield_current,
    }.get(rule, 0.0)
    whole = np.hypot(half.current * value, added)
    return np.asarray(np.where(value != 0, whole, 0.0) if rule.endswith("current") else whole)
