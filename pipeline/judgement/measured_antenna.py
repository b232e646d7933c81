"""A measured antenna beside the computed one: where its match lies, and how well both agree.

Measured reflection and a computed case in, an :class:`Agreement` and a table's rows out. What is
said about it is in measured_words.py.

The shift is the one after which the reflections differ least; of a measurement at the radio only
their sizes count, because a hundredth of the line's length turns the angle by most of a quarter
turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.case_results import CaseResult
from pipeline.circuit.line import (
    LineRun,
    attenuation,
    propagation_constant,
    reflection_coefficient,
    swr_on,
)
from pipeline.judgement.intervals import Interval, impedance_disc, with_ends
from pipeline.runtime.csv_tables import Row
from pipeline.study.records import MeasuredAntenna
from pipeline.text.touchstone import REFERENCE_OHM

# An antenna further off than this was built to other lengths.
FURTHEST_OFFSET = 0.08
# Less of the band in common than this says too little about a shift.
LEAST_OVERLAP = 0.5
# How much of the measurement outside the band is kept for the table, of the frequency.
_MARGIN = 0.03
# A shift smaller than this is none: a band of 2 MHz at 145 MHz is seventy times as wide.
SAME = 2e-4
# Steps of the search, fine enough that no dip of an antenna lies between two.
_STEP = 5e-4
_GRID = 101


@dataclass(frozen=True)
class Curve:
    """An antenna's impedance at its feed point over frequency.

    ``f`` [Hz], ``z`` [ohm] and ``gamma`` (reflection referred to ``z0``) have shape (n_f,);
    ``has_angle`` is whether the angle of the reflection is known as well as its size.
    """

    f: NDArray[np.float64]
    z: NDArray[np.complex128]
    gamma: NDArray[np.complex128]
    z0: float
    has_angle: bool = True

    def at(self, f: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Reflection at other frequencies, not a number outside the curve's own."""
        return np.asarray(self._spline(f))

    @cached_property
    def _spline(self) -> Any:
        # Here and below: what few studies need, and takes long to load.
        from scipy.interpolate import CubicSpline

        return CubicSpline(self.f, self.gamma, extrapolate=False)


@dataclass(frozen=True)
class Agreement:
    """Agreement of a measured antenna with a computed one.

    ``offset`` is how much higher all features lie in frequency, relative, None where none was
    found; ``offset_unsure`` the shift that moves the computed impedance by its own 95 % interval;
    ``rms`` and ``rms_shifted`` the difference of the reflection coefficients before and after the
    shift; ``inside`` and ``inside_shifted`` at how many of the ``compared`` frequencies the
    measurement lies in the interval; ``match`` and ``match_computed`` where least is reflected
    [Hz], None where that is at an end of the data; ``swr`` is measured at the design frequency,
    ``swr_match`` where least is reflected.
    """

    measured: MeasuredAntenna
    offset: float | None
    offset_unsure: float
    rms: float
    rms_shifted: float | None
    inside: tuple[int, int]
    inside_shifted: tuple[int, int] | None
    match: float | None
    match_computed: float | None
    swr: float | None
    swr_match: float | None = None


def computed_curve(result: CaseResult, z0: float) -> Curve:
    """Curve of a computed case."""
    gamma = reflection_coefficient(result.z_feed, z0)
    return Curve(result.frequency, result.z_feed, gamma, z0)


def measured_curve(measured: MeasuredAntenna, run: LineRun) -> Curve:
    """Curve of a measured antenna at its feed point, referred to the impedance of the cable there.

    If it was measured at the radio, the line ``run`` is taken off piece by piece, the one at the
    radio first, by scikit-rf's wave matrices. A connector's loss is not: what it does to a
    reflection is not known.
    """
    from skrf import Frequency, Network

    band = Frequency.from_f(list(measured.antenna.f), unit="hz")
    gamma = np.array(measured.antenna.gamma).reshape(-1, 1, 1)
    network = Network(frequency=band, s=gamma, z0=REFERENCE_OHM)
    if measured.at == "radio":
        for piece in reversed(run.pieces):
            network = _line(band, piece.cable, piece.length).inv ** network
    z0 = run.pieces[0].cable.z0
    network.renormalize(z0)
    return Curve(
        np.array(measured.antenna.f),
        np.asarray(network.z[:, 0, 0]),
        np.asarray(network.s[:, 0, 0]),
        z0,
        has_angle=measured.at == "feed",
    )


def _line(band: Any, cable: Any, length: float) -> Any:
    """A length [m] of cable between ports of 50 ohm, as scikit-rf draws it."""
    from skrf.media import DefinedGammaZ0

    per_metre = attenuation(band.f, cable.k1, cable.k2)
    medium = DefinedGammaZ0(
        frequency=band,
        z0=cable.z0,
        z0_port=REFERENCE_OHM,
        gamma=propagation_constant(band.f, cable.velocity_factor, per_metre),
    )
    return medium.line(length, "m")


def _distance(
    one: NDArray[np.complex128], other: NDArray[np.complex128], has_angle: bool
) -> NDArray[np.float64]:
    apart = one - other if has_angle else np.abs(one) - np.abs(other)
    return np.asarray(np.abs(apart), dtype=np.float64)


def rms_difference(measured: Curve, computed: Curve, offset: float = 0.0) -> float:
    """Root mean square of the difference of two reflections after a shift. [-]

    ``offset`` is how much higher, relative, the features of the measured one lie. Sizes only are
    compared where a curve's angle is not known; infinite where less than half of the computed band
    is in common. Definition.

    Examples
    --------
    >>> f = np.linspace(1.0, 2.0, 11)
    >>> one, other = (Curve(f, f + 0j, np.full(11, g + 0j), 50.0) for g in (0.1, 0.4))
    >>> round(rms_difference(one, other), 9)
    0.3
    """
    f = np.linspace(computed.f[0], computed.f[-1], _GRID)
    moved = measured.at(f * (1 + offset))
    common = np.isfinite(moved)
    if common.mean() < LEAST_OVERLAP:
        return float("inf")
    both = measured.has_angle and computed.has_angle
    apart = _distance(moved[common], computed.at(f)[common], both)
    return float(np.sqrt(np.mean(apart**2)))


def frequency_offset(measured: Curve, computed: Curve) -> float | None:
    """Relative shift in frequency of a measured antenna's features from the computed ones. [-]

    None where the best fit lies at the end of what can be searched. An antenna whose lengths are
    all longer by a share has everything lower in frequency by that share, since fields scale with
    the wavelength: so the shift sought is the one after which the two reflections differ least.
    """
    from scipy.optimize import minimize_scalar

    steps = np.arange(-FURTHEST_OFFSET, FURTHEST_OFFSET + _STEP / 2, _STEP)
    rms = np.array([rms_difference(measured, computed, float(s)) for s in steps])
    usable = np.flatnonzero(np.isfinite(rms))
    if len(usable) < 3:
        return None
    best = int(usable[np.argmin(rms[usable])])
    if best in (usable[0], usable[-1]):
        return None
    found = minimize_scalar(
        lambda s: rms_difference(measured, computed, float(s)),
        bounds=(steps[best - 1], steps[best + 1]),
        method="bounded",
        options={"xatol": 1e-8},
    )
    # Where two curves are the same, the search ends a rounding error beside nothing.
    return 0.0 if rms_difference(measured, computed) <= found.fun else float(found.x)


def inside_interval(
    measured: Curve, computed: Curve, half: float, offset: float = 0.0
) -> tuple[int, int]:
    """Frequencies at which a measurement lies within the computed 95 % interval, and all compared.

    ``half`` is the relative half-width of the computed impedance in any direction, ``offset`` the
    relative shift of the measured one. The SWR stands for the impedance where the angle is not
    known. Definition.

    Examples
    --------
    >>> f = np.linspace(140e6, 150e6, 11)
    >>> one, other = (Curve(f, np.full(11, z + 0j), np.full(11, (z - 50) / (z + 50) + 0j), 50.0)
    ...               for z in (50.0, 52.0))
    >>> inside_interval(one, other, 0.05), inside_interval(one, other, 0.03)
    ((11, 11), (0, 11))
    """
    gamma = measured.at(computed.f * (1 + offset))
    inside = compared = 0
    for reflected, z in zip(gamma.tolist(), computed.z.tolist(), strict=True):
        if not np.isfinite(reflected):
            continue
        compared += 1
        if measured.has_angle:
            # (1 - gamma) Z is compared, not Z: an open end has no finite impedance.
            there = computed.z0 * (1 + reflected)
            inside += abs(there - z * (1 - reflected)) <= half * abs(z * (1 - reflected)) + 1e-9
        else:
            disc = np.abs(reflection_coefficient(impedance_disc(z, half, computed.z0), computed.z0))
            inside += disc.min() - 1e-9 <= abs(reflected) <= disc.max() + 1e-9
    return int(inside), compared


def best_match(curve: Curve) -> float | None:
    """Frequency [Hz] at which least is reflected; None if that is at an end of the curve."""
    f = np.linspace(curve.f[0], curve.f[-1], 20 * max(len(curve.f), _GRID))
    size = np.abs(curve.at(f))
    best = int(np.nanargmin(size))
    return None if best in (0, len(f) - 1) else float(f[best])


def offset_unsure(computed: Curve, f: float, half: float) -> float:
    """Shift, relative, that moves a computed impedance by its half-width at a frequency [Hz].

    Definition.

    Examples
    --------
    >>> f = np.linspace(140e6, 150e6, 11)
    >>> curve = Curve(f, 50 * f / 145e6 + 0j, np.zeros(11, complex), 50.0)
    >>> round(offset_unsure(curve, 145e6, 0.02), 9)
    0.02
    """
    from scipy.interpolate import CubicSpline

    spline = CubicSpline(computed.f, computed.z)
    return float(half * abs(spline(f)) / (f * abs(spline(f, 1))))


def agreement(
    measured: MeasuredAntenna, curves: tuple[Curve, Curve], f: float, half: float
) -> Agreement:
    """Compare a measured antenna with a computed one.

    ``curves`` are as measured and as computed, both at the feed point; ``f`` [Hz] is the design
    frequency, ``half`` the relative half-width of the computed impedance, 95 %.
    """
    own, computed = curves
    offset = frequency_offset(own, computed)
    reflected = own.at(np.array([f]))
    shifted = offset is not None
    near = _within(
        own, computed.f[0] * (1 - FURTHEST_OFFSET), computed.f[-1] * (1 + FURTHEST_OFFSET)
    )
    match = best_match(near)
    least = None if match is None else float(_swr(near.at(np.array([match])))[0])
    return Agreement(
        measured=measured,
        offset=offset,
        offset_unsure=offset_unsure(computed, f, half),
        rms=rms_difference(own, computed),
        rms_shifted=rms_difference(own, computed, offset or 0.0) if shifted else None,
        inside=inside_interval(own, computed, half),
        inside_shifted=inside_interval(own, computed, half, offset or 0.0) if shifted else None,
        match=match,
        match_computed=best_match(computed),
        swr=float(_swr(reflected)[0]) if np.isfinite(reflected[0]) else None,
        swr_match=least,
    )


def _swr(gamma: NDArray[np.complex128]) -> NDArray[np.float64]:
    return swr_on((1 + gamma) / (1 - gamma), 1.0)


def _within(curve: Curve, low: float, high: float) -> Curve:
    """The part of a curve between two frequencies; a sweep may hold more than one match."""
    keep = (curve.f >= low) & (curve.f <= high)
    return Curve(curve.f[keep], curve.z[keep], curve.gamma[keep], curve.z0, curve.has_angle)


def measured_rows(
    found: Agreement, curves: tuple[Curve, Curve], ends: list[dict[str, Interval]]
) -> list[Row]:
    """Rows of both curves, and of the measured one shifted; ``ends`` are the computed one's."""
    own, computed = curves
    # The dip belongs to the picture, however far it lies beside the band.
    places = [computed.f[0], computed.f[-1], *([] if found.match is None else [found.match])]
    shown = _within(own, min(places) * (1 - _MARGIN), max(places) * (1 + _MARGIN))
    rows = [
        with_ends(row, interval)
        for row, interval in zip(_rows("computed", computed, computed.f), ends, strict=True)
    ]
    empty = {f"{name}{end}": None for name in ("r_ohm", "x_ohm", "swr_feed") for end in _ENDS}
    more = _rows("measured", shown, shown.f)
    if found.offset is not None and abs(found.offset) >= SAME:
        more += _rows("measured, shifted", shown, shown.f / (1 + found.offset))
    return rows + [{**row, **empty} for row in more]


_ENDS = ("_low", "_high")


def _rows(curve_name: str, curve: Curve, f: NDArray[np.float64]) -> list[Row]:
    swr = _swr(curve.gamma)
    return [
        {
            "curve": curve_name,
            "frequency_hz": float(f[k]),
            "r_ohm": float(curve.z[k].real),
            "x_ohm": float(curve.z[k].imag),
            "swr_feed": float(swr[k]),
        }
        for k in range(len(f))
    ]
