"""Gain round about as a dial: decibels from a hub outwards, seen from above or from the side.

Arrays of angles and gains in, lines on axes out. Rings are paper of two shades, so that only the
curves are lines; the hub is not zero but the lowest gain that is drawn, and holds a small picture
of what stands there. Seen from above the front of the antenna is up, or north where the study says
how the antenna stands.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Wedge
from numpy.typing import NDArray

from models.site.compass import bearing_of, compass_point
from models.wires.structure import Structure
from pipeline.figures.page import Page, width_of
from pipeline.figures.style import HAIR, INK, MIST, PAPER, SMALL, STEEL, Look
from pipeline.figures.wires import parts_around
from pipeline.text.formatting import number

Real = NDArray[np.float64]

# Radius of the hub, of the rim and of the names outside of it, in radii of the rim.
_HUB, _NAMES, _ROOM = 0.26, 1.09, 1.24
# Room below the horizon of a dial from the side, for the ground and the numbers in it.
_BELOW = 0.36
# On dials smaller than these only every other spoke has a name, and ring a number. [inch]
_FEW_NAMES, _FEW_NUMBERS = 3.4, 4.2
_STEPS = (1.0, 2.0, 5.0, 10.0)
_MOST_RINGS = 4
# Where numbers stand on a whole dial, off the spokes. [deg]
_NUMBERS = 67.5


@dataclass(frozen=True)
class Scale:
    """Gains from the hub to the rim of a dial, with rings ``step`` apart. [dBi]"""

    low: float
    high: float
    step: float

    def radius(self, gain: Real) -> Real:
        """Distance from the centre, one at the rim; what is below the scale lies on the hub."""
        share = (gain - self.low) / (self.high - self.low)
        return np.asarray(_HUB + (1 - _HUB) * np.maximum(share, 0.0))

    def rings(self) -> Real:
        """Gains of all rings, from the hub to the rim."""
        return np.arange(self.low, self.high + 0.5 * self.step, self.step)


def scale_for(gains: Real, deepest: float) -> Scale:
    """A scale that holds all gains, or what is less than ``deepest`` [dB] below the largest.

    Never finer than rings of a decibel: a tenth drawn large looks like a finding.
    """
    most = float(gains.max())
    least = max(float(gains.min()), most - deepest)
    for step in _STEPS:
        high, low = step * np.ceil(most / step + 0.02), step * np.floor(least / step - 0.02)
        if (high - low) / step <= _MOST_RINGS:
            break
    return Scale(float(low), float(high), step)


@dataclass(frozen=True)
class Compass:
    """Names of directions seen from above: bearings, or azimuths from the front of the antenna.

    ``facing`` is the bearing of the front [deg], None where the study does not say it.
    """

    facing: float | None

    def screen(self, azimuth: Real) -> Real:
        """Angle on paper, to the left from the right, of azimuths [deg]. [rad]"""
        return np.asarray(np.radians(90.0 - (self.facing or 0.0) + azimuth))

    def name(self, azimuth: float) -> str:
        """Name of a direction, azimuth in degrees."""
        if self.facing is None:
            return f"{azimuth:g}°"
        bearing = bearing_of(azimuth, self.facing)
        return f"{compass_point(bearing)} ({bearing:.0f}°)"

    def marks(self) -> list[tuple[float, str]]:
        """Azimuths of the spokes and what stands at their ends."""
        turns = [45.0 * k for k in range(8)]
        if self.facing is None:
            return [(turn, f"{turn:g}°") for turn in turns]
        return [(self.facing - turn, compass_point(turn)) for turn in turns]


def dial_panel(page: Page, left: float, bottom: float, size: float, half: bool = False) -> Axes:
    """Axes for a dial of a width [inch], without numbers of their own; half of one is less tall."""
    low = -_BELOW if half else -_ROOM
    tall = size * (_ROOM - low) / (2 * _ROOM)
    ax = page.panel(left, bottom, size, tall)
    ax.set(xlim=(-_ROOM, _ROOM), ylim=(low, _ROOM))
    ax.axis("off")
    return ax


def half_height(size: float) -> float:
    """Height of half a dial of a width. [inch]"""
    return size * (_ROOM + _BELOW) / (2 * _ROOM)


def _paper(ax: Axes, scale: Scale, ends: tuple[float, float]) -> None:
    """Rings between two angles on paper [deg], every other one shaded."""
    edges = scale.radius(scale.rings())
    for k, (inner, outer) in enumerate(itertools.pairwise(edges.tolist())):
        shade = 0.75 if (len(edges) - k) % 2 == 0 else 0.25
        look: Look = {"width": outer - inner, "fc": HAIR, "alpha": shade, "lw": 0, "zorder": 0.5}
        ax.add_patch(Wedge((0.0, 0.0), outer, *ends, **look))


def _spoke(ax: Axes, angle: float, text: str) -> None:
    """A line from the hub to the rim at an angle on paper [rad], named outside of it."""
    out = np.array([np.cos(angle), np.sin(angle)])
    ends = np.outer([_HUB, 1.0], out)
    ax.plot(*ends.T, color=PAPER, lw=1.0, zorder=0.8)
    ax.plot(*np.outer([1.0, 1.03], out).T, color=STEEL, lw=0.8)
    x, y = (_NAMES * out).tolist()
    # At the sides there is more room above than beside.
    level = abs(y) < 0.2
    look: Look = {"va": "bottom" if level else "center", "ha": "center" if level else _side(x)}
    ax.text(x, y + 0.03 * level, text, size=SMALL, color=INK, **look)


def _side(across: float) -> str:
    if abs(across) < 0.2:
        return "center"
    return "left" if across > 0 else "right"


def _number(ax: Axes, place: Real, gain: float, unit: str = "") -> None:
    said = f"{number(gain, 'g')}{unit}"
    look: Look = {"size": SMALL - 1, "color": STEEL, "ha": "center", "va": "center", "zorder": 4}
    box: Look = {"fc": PAPER, "ec": "none", "alpha": 0.75, "pad": 0.6}
    x, y = place.tolist()
    ax.text(x, y, said, bbox=box, **look)


def _numbers(ax: Axes, scale: Scale, angle: float) -> None:
    out = np.array([np.cos(angle), np.sin(angle)])
    rings = scale.rings()
    for gain, unit in _told_rings(ax, rings):
        _number(ax, float(scale.radius(np.asarray(gain))) * out, gain, unit)


def _told_rings(ax: Axes, rings: Real) -> list[tuple[float, str]]:
    """Gains of the rings that have a number, the outermost with its unit where there is room."""
    if width_of(ax) < _FEW_NUMBERS:
        return [(gain, "") for gain in rings[::-2].tolist()]
    told = rings[::-1].tolist()
    return [(gain, " dBi" if gain == told[0] else "") for gain in told]


def open_from_above(ax: Axes, scale: Scale, compass: Compass) -> None:
    """Rings, spokes and names of a dial from above."""
    _paper(ax, scale, (0.0, 360.0))
    for azimuth, text in compass.marks()[:: 2 if width_of(ax) < _FEW_NAMES else 1]:
        _spoke(ax, float(compass.screen(np.asarray(azimuth))), text)
    _numbers(ax, scale, np.radians(_NUMBERS))


def open_from_side(ax: Axes, scale: Scale, sides: tuple[str, str], grounded: bool) -> None:
    """Rings, elevations and the names of both sides; the whole circle in free space."""
    _paper(ax, scale, (0.0, 180.0) if grounded else (0.0, 360.0))
    for elevation in (30, 60, 90):
        for mirrored in (False, True)[: 1 if elevation == 90 else 2]:
            angle = np.radians(180 - elevation if mirrored else elevation)
            said = f"{elevation}°" if elevation > 30 or width_of(ax) >= _FEW_NAMES else ""
            _spoke(ax, float(angle), said)
            if not grounded:
                _spoke(ax, -float(angle), f"−{said}" if said else "")
    foot = -_BELOW if grounded else -_ROOM
    for name, across in zip(sides, (1.0, -1.0), strict=True):
        look: Look = {"size": SMALL, "color": INK, "ha": "right" if across > 0 else "left"}
        said = f"{name} →" if across > 0 else f"← {name}"
        ax.text(0.97 * _ROOM * across, foot + 0.04, said, va="bottom", zorder=4, **look)
    if not grounded:
        _numbers(ax, scale, np.radians(_NUMBERS - 22.5))
        return
    ax.fill_between([-_ROOM, _ROOM], -_BELOW, 0.0, color=HAIR, lw=0)
    ax.plot([-_ROOM, _ROOM], [0.0, 0.0], color=STEEL, lw=1.2)
    for gain, unit in _told_rings(ax, scale.rings()):
        for across in (1.0, -1.0):
            place = np.array([across * float(scale.radius(np.asarray(gain))), -0.3 * _BELOW])
            _number(ax, place, gain, unit)


def round_about(compass: Compass, azimuth: Real, radius: Real) -> tuple[Real, Real]:
    """Points on paper of a closed curve seen from above, azimuths in degrees."""
    angle = compass.screen(np.append(azimuth, azimuth[0] + 360.0))
    closed = np.append(radius, radius[0])
    return closed * np.cos(angle), closed * np.sin(angle)


def upwards(elevation: Real, radius: Real, mirrored: bool) -> tuple[Real, Real]:
    """Points on paper of a curve over elevation [deg] towards the right, or mirrored."""
    angle = np.radians(elevation)
    across = radius * np.cos(angle)
    return (-across if mirrored else across), radius * np.sin(angle)


def plan_in_hub(ax: Axes, structure: Structure, compass: Compass) -> None:
    """The installation from above inside the hub, as large as that is: antenna, cable, the rest."""
    segments, around = structure.segments, parts_around(structure)
    ends = np.concatenate([segments.start, segments.end])[:, :2]
    largest = max(float(np.linalg.norm(ends, axis=1).max()), 1e-6)
    turn = float(compass.screen(np.asarray(0.0)))
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    for wire in structure.wires:
        points = np.array([wire.start[:2], wire.end[:2]]) @ turned.T
        if np.ptp(points, axis=0).max() < 1e-3 * largest:
            continue
        colour, width = (MIST, 2.4) if wire.part in around else (INK, 1.3)
        ax.plot(*(0.85 * _HUB / largest * points).T, color=colour, lw=width, zorder=3.5)
    ax.plot([0.0], [0.0], marker="o", ms=4.5, color=INK, zorder=4)


def mast_in_hub(ax: Axes) -> None:
    """The antenna from the side inside the hub."""
    ax.plot([0.0, 0.0], [0.0, 0.7 * _HUB], color=INK, lw=2.2, zorder=4)
