"""Pictures of the first screen as lines: installation, current along the cable, pattern.

Tables and the geometry of a results folder in, paths of an SVG out, in units of each picture's own
box; ``first.html.j2`` writes them. They stand where the page's script draws the same pictures live,
and are all there is without it and on paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.antennas import generators
from models.lengths import large
from models.wires.structure import Structure
from pipeline.figures.data import Cases, Table, landmarks, load_cases, read_table
from pipeline.figures.patterns import compass_of
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import percent

Floats = NDArray[np.float64]

# Boxes of the pictures, wide and tall, and what stays free around what they show: left, top,
# right, bottom. The script draws into the same ones (page/src/view/boxes.ts).
SIDE, SIDE_FREE = (360.0, 400.0), (26.0, 30.0, 26.0, 34.0)
ALONG, ALONG_FREE = (360.0, 400.0), (104.0, 30.0, 14.0, 46.0)
FAN, FAN_FOOT, FAN_RADIUS = (300.0, 178.0), (150.0, 152.0), 130.0
RING, RING_MIDDLE, RING_RADIUS = (240.0, 226.0), (120.0, 113.0), 88.0
# Current as colour and as width of the cable: so many steps, from the least to the most wide.
STEPS, LEAST_WIDE, MOST_WIDE = 10, 1.5, 15.0
# The fan spans so many decibels, the ring at least so many; each has three rings.
_FAN_SPAN_DB, _RING_STEP_DB, _RINGS = 30.0, 2.0, 3


@dataclass(frozen=True)
class Line:
    """A line of a picture: ``look`` is the last part of its class in the style sheet."""

    look: str
    path: str


@dataclass(frozen=True)
class Mark:
    """A named place of a picture; ``more`` may be left away where room is scarce."""

    x: float
    y: float
    text: str
    more: str = ""


@dataclass(frozen=True)
class Sketch:
    """A picture of the first screen, and what it finds in words for those who cannot see it."""

    box: tuple[float, float]
    said: str
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...] = ()
    chokes: tuple[Mark, ...] = ()
    ticks: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class FirstPictures:
    """All pictures of the first screen, and whether the case that they show has no choke.

    ``zero`` says where degrees count from, empty where the study has bearings.
    """

    side: Sketch
    along: Sketch
    fan: Sketch
    ring: Sketch
    is_bare: bool
    zero: str


def polyline(points: Floats, closed: bool = False) -> str:
    """Path of an SVG through points (n, 2) of a picture.

    Examples
    --------
    >>> polyline(np.array([[0.0, 1.04], [2.5, 3.0]]))
    'M0 1L2.5 3'
    """
    said = "L".join(f"{x:.1f} {y:.1f}".replace(".0 ", " ").removesuffix(".0") for x, y in points)
    return f"M{said}{'Z' if closed else ''}"


def first_pictures(results: Path) -> FirstPictures:
    """Pictures of the advised case, beside the ideal choke and none."""
    cases = load_cases(results)
    current = read_table(results, "shield_current")
    round_about, upwards = (read_table(results, f"{n}_cut") for n in ("azimuth", "elevation"))
    return FirstPictures(
        _side(cases, current),
        _along(cases, current),
        _fan(cases, upwards),
        _ring(cases, round_about),
        cases.chosen == NONE,
        _zero(cases),
    )


def _zero(cases: Cases) -> str:
    """Where degrees count from and which way, empty where directions are bearings."""
    if compass_of(cases).facing is not None:
        return ""
    zero = generators()[cases.summary["study"]["antenna"]["type"]].azimuth_zero
    return f"0° points {zero}, degrees count to the left"


def _shown(cases: Cases) -> list[tuple[str, str]]:
    """Cases and looks of their lines, the advised one on top."""
    bare = [(NONE, "bare")] if cases.chosen != NONE else []
    return [*bare, (IDEAL, "ideal"), (cases.chosen, "set")]


# Installation and cable


@dataclass(frozen=True)
class _Sheet:
    """The plane of the side view laid on a picture: ``axis`` is the horizontal one of it."""

    axis: int
    scale: float
    left: float
    foot: float

    def on(self, points: Floats) -> Floats:
        """Places in the picture, (n, 2), of points (n, 3). [m in]"""
        x = self.left + self.scale * points[:, self.axis]
        return np.stack([x, self.foot - self.scale * points[:, 2]], axis=1)


def _sheet(structure: Structure, grounded: bool) -> _Sheet:
    """The longer side of the installation, to scale, what stands on the ground at the foot."""
    ends = np.concatenate([structure.segments.start, structure.segments.end])
    axis = int(np.argmax(np.ptp(ends[:, :2], axis=0)))
    low, high = ends[:, [axis, 2]].min(axis=0), ends[:, [axis, 2]].max(axis=0)
    if grounded:
        low[1] = min(low[1], 0.0)
    size = np.maximum(high - low, 1e-3)
    left, top, right, bottom = SIDE_FREE
    room = np.array([SIDE[0] - left - right, SIDE[1] - top - bottom])
    scale = float(min(room / size))
    middle = 0.5 * (SIDE[0] + left - right) - scale * 0.5 * (low[0] + high[0])
    return _Sheet(axis, scale, float(middle), SIDE[1] - bottom + scale * float(low[1]))


def _cable_points(structure: Structure) -> tuple[Floats, Floats]:
    """Places along the cable (n,) and where they are (n, 3). [m]"""
    index = [k for k, _ in structure.shield_path]
    return np.array([s for _, s in structure.shield_path]), structure.segments.centre[index]


def _current(table: Table, case: str, places: Floats) -> Floats:
    """Current per feed current at places along the cable; a coil's own cable is left out."""
    rows = table.select(case=case)
    return np.asarray(
        np.interp(places, rows.number("position_m"), rows.number("current_ratio")), dtype=np.float64
    )


def ribbons(points: Floats, current: Floats, most: float) -> list[Line]:
    """The cable as bands as wide and as dark as the current on it, one path a step of colour.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Places of the picture along the cable.
    current : ndarray, shape (n,)
        Current there per feed current.
    most : float
        Current that is drawn widest.

    Examples
    --------
    >>> [r.look for r in ribbons(np.array([[0.0, 0.0], [0.0, 9.0]]), np.array([0.1, 0.1]), 0.2)]
    ['q5']
    """
    share = np.clip(current / most, 0.0, 1.0)
    half = 0.5 * (LEAST_WIDE + (MOST_WIDE - LEAST_WIDE) * share)
    along = np.diff(points, axis=0)
    length = np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    across = np.stack([along[:, 1], -along[:, 0]], axis=1) / length
    step = np.minimum((STEPS * 0.5 * (share[1:] + share[:-1])).astype(int), STEPS - 1)
    found: dict[int, list[str]] = {}
    for k, level in enumerate(step):
        a, b = points[k], points[k + 1]
        wide, next_wide = half[k] * across[k], half[k + 1] * across[k]
        corners = np.array([a + wide, b + next_wide, b - next_wide, a - wide])
        found.setdefault(int(level), []).append(polyline(corners, closed=True))
    return [Line(f"q{level}", "".join(paths)) for level, paths in sorted(found.items())]


def _look_of(part: str) -> str:
    """Look of a part of the installation that is not the cable."""
    own = {"antenna": "antenna", "bond lead": "lead", "rod star": "lead", "station lead": "lead"}
    return own.get(part, "around")


def _side(cases: Cases, table: Table) -> Sketch:
    structure = cases.cable
    grounded = cases.summary["study"]["site"]["ground"] is not None
    sheet, (places, points) = _sheet(structure, grounded), _cable_points(structure)
    lines = [Line("ground", f"M0 {sheet.foot:.1f}H{SIDE[0]:g}")] if grounded else []
    for look in ("around", "lead", "antenna"):
        wires = [w for w in structure.wires if w.part != "shield" and _look_of(w.part) == look]
        paths = [polyline(sheet.on(np.array([w.start, w.end]))) for w in wires]
        if paths:
            lines.append(Line(look, "".join(paths)))
    chosen = _current(table, cases.chosen, places)
    # Twice what counts at the radio is wide in every report, as without a choke where that is more.
    most = max(float(_current(table, NONE, places).max()), 2 * cases.threshold("station_ratio"))
    lines += ribbons(sheet.on(points), chosen, most)
    said = "The installation from the side, to scale: the wider and darker the cable, the more"
    return Sketch(
        SIDE,
        f"{said} current it carries, at most {percent(float(chosen.max()))} of the feed current",
        tuple(lines),
        tuple(_landmarks(cases, sheet, places, points)),
        tuple(_beads(cases, sheet, places, points)),
    )


def _landmarks(cases: Cases, sheet: _Sheet, places: Floats, points: Floats) -> list[Mark]:
    """Antenna above its top, bond and radio below the foot, where the cable has them."""
    antenna = np.array(
        [e for w in cases.cable.wires if w.part == "antenna" for e in (w.start, w.end)]
    )
    top = sheet.on(antenna[[int(np.argmax(antenna[:, 2]))]])[0]
    found = [Mark(float(top[0]), float(top[1]), "antenna")]
    for mark in landmarks(cases.cable):
        if mark.name in ("bond", "radio"):
            x = sheet.on(_at(mark.position, places, points))[0, 0]
            found.append(Mark(float(x), SIDE[1] - SIDE_FREE[3] + 22.0, mark.name))
    return found


def _at(position: float, places: Floats, points: Floats) -> Floats:
    """Point (1, 3) of the cable at a distance along it. [m]"""
    return np.array([[float(np.interp(position, places, column)) for column in points.T]])


def _positions(cases: Cases) -> list[float]:
    """Where the chosen choke begins, and its second part where it has one. [m]"""
    if cases.chosen == NONE:
        return []
    found = [cases.value(cases.chosen, name) for name in ("position_m", "also_at_m")]
    return [position for position in found if not math.isnan(position)]


def _beads(cases: Cases, sheet: _Sheet, places: Floats, points: Floats) -> list[Mark]:
    found = []
    for position in _positions(cases):
        x, y = sheet.on(_at(position, places, points))[0]
        found.append(Mark(float(x), float(y), "choke", large(position)))
    return found


def _along(cases: Cases, table: Table) -> Sketch:
    """Current along the cable, which leads downwards as it hangs."""
    places, _ = _cable_points(cases.cable)
    left, top, right, bottom = ALONG_FREE
    curves = {case: _current(table, case, places) for case, _ in _shown(cases)}
    limit = cases.threshold("station_ratio")
    most = 1.08 * max(*(float(c.max()) for c in curves.values()), 1.3 * limit)
    wide, tall = ALONG[0] - left - right, ALONG[1] - top - bottom
    length = max(float(places[-1]), *(m.position for m in landmarks(cases.cable)))

    def on(ratio: Floats, place: Floats) -> Floats:
        return np.stack([left + wide * ratio / most, top + tall * place / length], axis=1)

    edge = left + wide * limit / most
    lines = [Line("limit", f"M{edge:.1f} {top:g}V{ALONG[1] - bottom:g}")]
    area = np.concatenate([[0.0], curves[cases.chosen], [0.0]])
    down = np.concatenate([places[:1], places, places[-1:]])
    lines.append(Line("area", polyline(on(area, down), closed=True)))
    lines += [Line(look, polyline(on(curves[case], places))) for case, look in _shown(cases)]
    step = next(s for s in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0) if most / s <= 4)
    ticks = [
        Mark(left + wide * k * step / most, ALONG[1] - bottom, f"{100 * k * step:.0f} %")
        for k in range(int(most / step) + 1)
    ]
    said = "; ".join(
        f"{words}: up to {percent(float(curves[case].max()))}"
        for case, words in ((cases.chosen, "as advised"), (NONE, "without"), (IDEAL, "ideal"))
        if case in curves
    )
    return Sketch(
        ALONG,
        f"Current on the outside of the cable as a share of the feed current, {said}",
        tuple(lines),
        tuple(_names(cases, top, tall / length)),
        tuple(Mark(left, top + tall * p / length, large(p)) for p in _positions(cases)),
        tuple(ticks),
    )


def _names(cases: Cases, top: float, scale: float) -> list[Mark]:
    """Known places beside the curves; a bend gives way to whatever else is near."""
    named: list[Mark] = []
    for mark in sorted(landmarks(cases.cable), key=lambda m: m.name == "bend"):
        y = top + scale * mark.position
        if all(abs(y - other.y) > 26.0 for other in named):
            more = large(mark.position, 1) if mark.position else ""
            named.append(Mark(0.0, y, mark.name, more))
    return named


# Pattern


def polar(radii: Floats, angles: Floats, middle: tuple[float, float]) -> Floats:
    """Points (n, 2) of a picture at radii and angles [deg], counted from the right upwards.

    Definition.

    Examples
    --------
    >>> polar(np.array([2.0]), np.array([90.0]), (10.0, 10.0)).round(6).tolist()
    [[10.0, 8.0]]
    """
    turned = np.radians(angles)
    x, y = radii * np.cos(turned), radii * np.sin(turned)
    return np.stack([middle[0] + x, middle[1] - y], axis=1)


@dataclass(frozen=True)
class _Scale:
    """Gain as a radius: from the middle, ``low`` [dBi], outwards to ``high``. [dBi]"""

    low: float
    high: float
    radius: float

    def radii(self, gain: Floats) -> Floats:
        share = (gain - self.low) / (self.high - self.low)
        return np.asarray(self.radius * np.clip(share, 0.0, None))

    def rings(self) -> list[tuple[float, float]]:
        """Gain of each ring and its radius. [dBi, picture]"""
        step = (self.high - self.low) / _RINGS
        levels = [self.low + step * k for k in range(1, _RINGS + 1)]
        return [(level, float(self.radii(np.array([level]))[0])) for level in levels]


def _curves(cases: Cases, table: Table) -> list[tuple[str, Table]]:
    return [(look, table.select(case=case)) for case, look in _shown(cases)]


def _said(cases: Cases, table: Table) -> str:
    """Most gain of the advised case and of the ideal choke."""
    most = [float(table.select(case=c).number("gain_dbi").max()) for c in (cases.chosen, IDEAL)]
    return f"at most {most[0]:.1f} dBi, with an ideal choke {most[1]:.1f} dBi".replace("-", "−")


def _fan(cases: Cases, table: Table) -> Sketch:
    """Gain over elevation towards both sides, as a fan above the ground."""
    # On the ground itself nothing is radiated.
    upper = table.keep(table.number("elevation_deg") > 0)
    highest = float(upper.number("gain_dbi").max())
    top = 5.0 * math.ceil((highest + 0.1) / 5.0)
    scale = _Scale(top - _FAN_SPAN_DB, top, FAN_RADIUS)
    x, y = FAN_FOOT
    lines = [Line("axis", f"M{x - FAN_RADIUS - 12:g} {y:g}H{x + FAN_RADIUS + 12:g}")]
    for _, r in scale.rings():
        lines.append(Line("grid", f"M{x - r:.1f} {y:g}A{r:.1f} {r:.1f} 0 0 1 {x + r:.1f} {y:g}"))
    sides = table.distinct("azimuth_deg")
    for look, rows in _curves(cases, upper):
        # One line from the ground on the right over the top to the ground on the left.
        halves = [_half(rows.select(azimuth_deg=side), k == 1) for k, side in enumerate(sides)]
        angles, gain = (np.concatenate(columns) for columns in zip(*halves, strict=True))
        order = np.argsort(angles, kind="stable")
        path = polyline(polar(scale.radii(gain[order]), angles[order], FAN_FOOT))
        lines.append(Line(look, path))
    ticks = [Mark(x + r, y, f"{level:g}".replace("-", "−")) for level, r in scale.rings()]
    outside = FAN_RADIUS + 14.0
    # The point of the compass alone: there is no room for its degrees.
    names = [compass_of(cases).name(float(side)).split(" ")[0] for side in sides]
    marks = [Mark(x + outside, y - 6.0, names[0]), Mark(x - outside, y - 6.0, names[1])]
    said = f"Gain over elevation towards both sides, {_said(cases, upper)}"
    return Sketch(FAN, said, tuple(lines), tuple(marks), ticks=tuple(ticks))


def _half(rows: Table, mirrored: bool) -> tuple[Floats, Floats]:
    """Angle in the fan, from the ground on the right, and gain of one side. [deg, dBi]"""
    elevation = rows.number("elevation_deg")
    return (180.0 - elevation if mirrored else elevation), rows.number("gain_dbi")


def _ring(cases: Cases, table: Table) -> Sketch:
    """Gain all round at the top of the lowest lobe, as seen from above."""
    every = np.concatenate([rows.number("gain_dbi") for _, rows in _curves(cases, table)])
    top = math.ceil(float(every.max()) + 0.1)
    step = max(_RING_STEP_DB, float(math.ceil((top - max(float(every.min()), top - 25.0)) / 2.0)))
    scale = _Scale(top - _RINGS * step, top, RING_RADIUS)
    compass = compass_of(cases)
    lines = [Line("grid", _circle(r)) for _, r in scale.rings()]
    lines.append(Line("compass", _compass()))
    for look, rows in _curves(cases, table):
        radii = scale.radii(rows.number("gain_dbi"))
        turned = np.degrees(compass.screen(rows.number("azimuth_deg")))
        lines.append(Line(look, polyline(polar(radii, turned, RING_MIDDLE), closed=True)))
    named = compass.marks()[::2]
    turns = np.degrees(compass.screen(np.array([azimuth for azimuth, _ in named])))
    outside = polar(np.full(len(turns), RING_RADIUS + 16.0), turns, RING_MIDDLE).tolist()
    marks = [Mark(x, y, name) for (x, y), (_, name) in zip(outside, named, strict=True)]
    # Between the directions that have names, and off a needle that points at one of them.
    levels, distances = zip(*scale.rings(), strict=True)
    beside = polar(np.array(distances), np.full(len(distances), 45.0), RING_MIDDLE).tolist()
    ticks = [
        Mark(x, y, f"{level:g}".replace("-", "−"))
        for (x, y), level in zip(beside, levels, strict=True)
    ]
    elevation = f"{table.number('elevation_deg')[0]:g}°"
    said = f"Gain all round at {elevation} elevation, seen from above, {_said(cases, table)}"
    return Sketch(RING, said, tuple(lines), tuple(marks), ticks=tuple(ticks))


def _circle(radius: float) -> str:
    x, y = RING_MIDDLE
    arc = f"A{radius:.1f} {radius:.1f} 0 1 0"
    return f"M{x - radius:.1f} {y:g}{arc} {x + radius:.1f} {y:g}{arc} {x - radius:.1f} {y:g}Z"


def _compass() -> str:
    """Short strokes outside of the last ring."""
    turns = np.arange(0.0, 360.0, 30.0)
    inner, outer = (
        polar(np.full(len(turns), RING_RADIUS + more), turns, RING_MIDDLE) for more in (2.0, 7.0)
    )
    return "".join(polyline(np.stack(ends)) for ends in zip(inner, outer, strict=True))
