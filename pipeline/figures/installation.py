"""The installation as it was computed: side view to scale, and the region of the feed enlarged."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from models.lengths import axis_unit, large
from models.site.sleeve import SLEEVE
from models.wires.structure import Structure
from pipeline.figures.data import Cases, Table, landmarks
from pipeline.figures.page import (
    Note,
    Page,
    Texts,
    footer_of,
    heading,
    height_of,
    length_axis,
    open_page,
    spread,
    width_of,
)
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    HAIR,
    INK,
    LINE,
    OCHRE,
    PLUM,
    SEA,
    SMALL,
    STEEL,
    Look,
    sheet,
    style,
)
from pipeline.figures.wires import colour_of, draw_all, parts_around
from pipeline.solver.cases import CABLE
from pipeline.text.formatting import plain

# Room for the two pictures [inch]. The enlarged one has _SCALE metres an inch and names the chokes
# nearer to the antenna than _NEAR [m]; the other one names the rest.
_LOW, _TALL, _LEFT = 3.0, 4.7, 0.55
_MAIN, _DETAIL = 2.95, 1.3
# Between and beside the two: heights of the enlarged one, names of the chokes near the feed.
_BETWEEN, _NAMES = 0.25, 0.75
_NEAR, _SCALE = 0.45, 0.25
# A letter of the small print, about [inch]; how far something may leave the plane of the side view
# before it is shown from above as well [m], and how tall that picture is [inch].
_LETTER, _OUT_OF_PLANE, _PLAN = 0.075, 0.3, (0.7, 2.6)
# Room for the pipes either side of the feed. [m]
_PIPES = 0.06
# How far a name stands beside its mark. [point]
_ASIDE = {"left": 8, "right": -8, "center": 0}


@dataclass(frozen=True)
class Place:
    """A named point of the side view. [m]"""

    across: float
    height: float
    text: str
    colour: str = INK


@dataclass(frozen=True)
class Scene:
    """An installation beyond its bare structures.

    ``chokes`` holds positions along the cable [m]; ``grounded`` says whether there is soil.
    """

    title: str
    frequency: float
    chokes: tuple[float, ...] = ()
    evidence: str = "evidence: not computed yet"
    grounded: bool = True


@dataclass(frozen=True)
class _View:
    """Geometries by name, seen from the side along one horizontal axis: 0 shows x, 1 shows y."""

    structures: Mapping[str, Structure]
    scene: Scene

    @cached_property
    def main(self) -> Structure:
        """The antenna with its cable."""
        return self.structures[CABLE]

    @cached_property
    def _ends(self) -> NDArray[np.float64]:
        return np.concatenate([self.main.segments.start, self.main.segments.end])

    @cached_property
    def is_narrow(self) -> bool:
        """Whether the enlarged picture stands below the other one."""
        return sheet().width < _LEFT + _MAIN + _BETWEEN + _DETAIL + _NAMES - 1e-6

    @cached_property
    def axis(self) -> int:
        """The horizontal axis along which the installation is longest."""
        return int(np.argmax(np.ptp(self._ends[:, :2], axis=0)))

    @cached_property
    def box(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lower left and upper right corner of the side view, with a margin. [m]"""
        ends = self._ends[:, [self.axis, 2]]
        low, high = ends.min(axis=0), ends.max(axis=0)
        margin = 0.06 * float(max(high - low))
        floor = min(low[1], 0.0) if self.scene.grounded else low[1]
        return np.array([low[0] - margin, floor - margin]), high + margin

    def along_cable(self, position: float) -> tuple[float, float]:
        """Point of the side view at a distance along the cable. [m]"""
        path = np.array([k for k, _ in self.main.shield_path], dtype=np.int64)
        known = np.array([s for _, s in self.main.shield_path])
        centre = self.main.segments.centre[path]
        across, height = (float(np.interp(position, known, centre[:, k])) for k in (self.axis, 2))
        return across, height

    def ends_of(self, parts: Collection[str]) -> NDArray[np.float64]:
        """Both ends of every wire of some parts, shape (n, 3). [m]"""
        wires = (w for w in self.main.wires if w.part in parts)
        return np.array([end for w in wires for end in (w.start, w.end)]).reshape(-1, 3)

    def wound_near(self, height: float, within: float) -> list[float]:
        """Where windings of any geometry begin and end across, near a height of the view. [m]"""
        return [
            float(end[self.axis])
            for structure in self.structures.values()
            for wire in structure.wires
            if wire.part == "coil"
            for end in (wire.start, wire.end)
            if abs(end[2] - height) < within
        ]

    def chokes(self, *, near: bool) -> list[Place]:
        """Places of chokes near the antenna, which the enlarged picture shows, or of the others."""
        words = "" if near else "choke at "
        return [
            Place(*self.along_cable(position), f"{words}{large(position)}", PLUM)
            for position in sorted({round(p, 2) for p in self.scene.chokes})
            if (position < _NEAR) == near
        ]

    def title(self) -> str:
        """Where the cable begins, is bonded and ends."""
        marks = {m.name: m.position for m in landmarks(self.main)}
        joint = float(self.main.segments.start[self.main.shield_path[0][0], 2])
        said = f"The cable joins the antenna {large(joint)} above ground"
        if not self.scene.grounded:
            said = "The antenna and its cable in free space"
        if "bond" in marks:
            said += f", is bonded after {large(marks['bond'], 1)}"
        if "radio" in marks:
            said += f" and reaches the radio after {large(marks['radio'], 1)}"
        return said

    def notes(self) -> tuple[Note, ...]:
        """Meaning of colours and marks."""
        scale = (
            "to scale but for the width of lines; pipes are drawn as the cages that are computed"
        )
        notes = [Note(scale, STEEL), Note("cable: outside of the shield", SEA)]
        around = parts_around(self.main)
        if around:
            notes.append(Note(f"around it: {', '.join(plain(p) for p in around)}", STEEL))
        words = {"coil": "coil of the cable itself", SLEEVE: "sleeve over the cable"}
        drawn = {part for s in self.structures.values() for part in s.parts()}
        if there := [said for part, said in words.items() if part in drawn]:
            notes.append(Note(f"{' or '.join(there)}, where a candidate is one", OCHRE))
        if self.scene.chokes:
            tried = (
                "diamonds: where chokes are tried; distances are along the cable from the antenna"
            )
            notes.append(Note(tried, PLUM))
        return tuple(notes)

    def plan_height(self) -> float:
        """Height of the view from above, zero where nothing leaves the plane. [inch]"""
        parts = [p for p in self.main.parts() if p not in ("antenna", "rod star")]
        off = self.ends_of(parts)[:, 1 - self.axis]
        if not len(off) or np.ptp(off) < _OUT_OF_PLANE:
            return 0.0
        low, high = self.box
        whole = np.ptp(self.ends_of(self.main.parts())[:, 1 - self.axis])
        return float(np.clip(1.1 * whole * _MAIN / (high - low)[0], *_PLAN))

    def draw(self, ax: Axes, axes: tuple[int, int], width: float, around: float) -> None:
        """All wires, the limits of the axes set before."""
        draw_all(ax, self.structures, axes, width, around)
        ax.grid(visible=False)
        length_axis(ax.xaxis, "xy"[axes[0]])


def installation_page(structures: Mapping[str, Structure], scene: Scene) -> Page:
    """The installation from its geometries by name; "cable" among them.

    Windings of the others are drawn over it.
    """
    view = _View(structures, scene)
    low, high = view.box
    tall = float(np.clip((high - low)[1] * _MAIN / (high - low)[0], _LOW, _TALL))
    plan = view.plan_height()
    above = below = 0.5 + (plan + 0.85 if plan else 0.0)
    if view.is_narrow:
        above += _LOW + 0.85
    footer = footer_of(scene.title, scene.frequency)
    texts = Texts(view.title(), view.notes(), scene.evidence, footer)
    page = open_page(texts, tall + above + 0.25)
    main = page.panel(_LEFT, above, _MAIN, tall)
    _whole(main, view)
    left = _LEFT if view.is_narrow else page.width - _DETAIL - _NAMES
    _near_tap(page.panel(left, below, _DETAIL, _LOW if view.is_narrow else tall), view)
    if plan:
        _from_above(page.panel(_LEFT, 0.5, _MAIN, plan), view, main.get_xlim())
    return page


def _label_around(ax: Axes, view: _View) -> list[Place]:
    """Name level parts above one end; give back the upright ones, for the column."""
    upright = []
    for part in parts_around(view.main):
        ends = view.ends_of([part])[:, [view.axis, 2]]
        across, height = ends[:, 0], ends[:, 1]
        colour = colour_of(view.main, part)
        if np.ptp(across) < np.ptp(height):
            place = ends[np.argmin(abs(height - height.mean()))]
            upright.append(Place(float(place[0]), float(place[1]), part, colour))
            continue
        # At the end that is further from the antenna, which has names of its own beside it.
        left = abs(across.min()) >= abs(across.max())
        end = ends[across.argmin() if left else across.argmax()]
        look: Look = {"ha": "left" if left else "right", "va": "bottom", "color": colour}
        ax.annotate(part, (end[0], end[1]), (0, 3), textcoords="offset points", size=SMALL, **look)
    return upright


def _name(ax: Axes, places: list[Place], side: float, left: bool = False) -> None:
    """Names in a column at ``side`` (data), each with a thin line to its point.

    ``left`` puts them to the left of it.
    """
    low, high = ax.get_ylim()
    tall = height_of(ax)
    per_inch = (high - low) / tall
    order = sorted(places, key=lambda p: -p.height)
    heights = [(1 + p.text.count("\n")) * SMALL * LINE for p in order]
    wanted = [(p.height - low) / per_inch for p in order]
    look: Look = {"ha": "right" if left else "left", "va": "center", "linespacing": 1.15}
    for place, y in zip(order, spread(wanted, heights, tall), strict=True):
        level = low + y * per_inch
        ax.plot([place.across, side], [place.height, level], color=place.colour, lw=0.6, zorder=1)
        said = f"{place.text} " if left else f" {place.text}"
        ax.text(side, level, said, color=place.colour, size=SMALL, **look)


def _text_width(ax: Axes, text: str) -> float:
    """Width of a name, about. [data]"""
    longest = max(len(row) for row in text.split("\n"))
    return float(longest * _LETTER * np.ptp(ax.get_xlim()) / width_of(ax))


def _from_above(ax: Axes, view: _View, across: tuple[float, float]) -> None:
    """The installation from above, to the scale of the side view over it."""
    off = view.ends_of(view.main.parts())[:, 1 - view.axis]
    middle, half = 0.5 * (off.min() + off.max()), 0.5 * np.ptp(across) / _MAIN * height_of(ax)
    ax.set(xlim=across, ylim=(middle - half, middle + half))
    view.draw(ax, (view.axis, 1 - view.axis), 1.8, 4.0)
    length_axis(ax.yaxis, "xy"[1 - view.axis])
    heading(ax, "from above, to the same scale")


def _whole(ax: Axes, view: _View) -> None:
    """The side view of everything, the same scale both ways."""
    low, high = view.box
    room = height_of(ax)
    scale = max((high[0] - low[0]) / _MAIN, (high[1] - low[1]) / room)
    middle, half = 0.5 * (low[0] + high[0]), 0.5 * scale * _MAIN
    ax.set(xlim=(middle - half, middle + half), ylim=(low[1], low[1] + scale * room))
    view.draw(ax, (view.axis, 2), 1.8, 4.0)
    length_axis(ax.yaxis, "height")
    chokes = view.chokes(near=False)
    _scatter(ax, chokes)
    if view.scene.grounded:
        ax.axhspan(ax.get_ylim()[0], 0.0, color=HAIR, lw=0)
        ax.axhline(0.0, color=STEEL, lw=1.2)
    begin = (m for m in landmarks(view.main) if m.name == "antenna")
    names = [*chokes, *(Place(*view.along_cable(m.position), m.name) for m in begin)]
    names += _label_around(ax, view)
    gap = 0.1 * float(np.ptp(ax.get_xlim()))
    upright = [p.across for p in names]
    side = max(upright) + gap
    # Where the cable leads to the left the antenna stands at the right edge.
    left = side + max(_text_width(ax, p.text) for p in names) > ax.get_xlim()[1]
    _name(ax, names, min(upright) - gap if left else side, left)
    _low_ends(ax, view)
    heading(ax, "whole installation")


def _low_ends(ax: Axes, view: _View) -> None:
    """Bond and radio, named just above the cable that runs along the ground there."""
    named: list[tuple[float, float]] = []
    for mark in landmarks(view.main):
        if mark.name not in ("bond", "radio"):
            continue
        across, height = view.along_cable(mark.position)
        ax.plot([across], [height], marker="s", ms=6, color=INK, zorder=4)
        text = f"{mark.name} at {large(mark.position, 1)}"
        low, high = ax.get_xlim()
        wide = _text_width(ax, text)
        begins = {"left": across, "center": across - 0.5 * wide, "right": across - wide}
        # Beside the lead to the rod, above the radio, and on the side where there is room.
        usual = ("left", "right") if mark.name == "bond" else ("center", "right", "left")
        fits = [side for side in usual if low < begins[side] and begins[side] + wide < high]
        ha = (fits or usual)[0]
        begin, end = begins[ha], begins[ha] + wide
        # A name that would run into the one before stands a line higher.
        lifted = any(begin < after and before < end for before, after in named)
        named.append((begin, end))
        aside = (_ASIDE[ha], 9 + lifted * SMALL * LINE * 72)
        look: Look = {"size": SMALL, "ha": ha, "color": INK}
        ax.annotate(text, (across, height), aside, textcoords="offset points", **look)


def _scatter(ax: Axes, places: list[Place]) -> None:
    across, height = [p.across for p in places], [p.height for p in places]
    ax.scatter(across, height, marker="D", s=22, color=PLUM, zorder=5)


def _near_tap(ax: Axes, view: _View) -> None:
    """The feed and the chokes near it, enlarged."""
    main, chokes, room = view.main, view.chokes(near=True), height_of(ax)
    feed = main.segments.centre[main.port_segment(main.ports[main.port_index("feed")])]
    # Feed, joint of the cable and the chokes near it in one view, however far they are apart.
    heights = [float(feed[2]), view.along_cable(0.0)[1], *(p.height for p in chokes)]
    across = [float(feed[view.axis]), view.along_cable(0.3)[0]]
    coils = view.wound_near(float(feed[2]), 0.5 * _SCALE * room)
    pipes = [across[0] - _PIPES, across[0] + _PIPES]
    ends = (min(pipes + coils), max(pipes + coils)) if coils else (0.0, 0.0)
    # What is wound there reaches far to one side: the view is so wide that all of it is seen.
    scales = (max(heights) - min(heights)) / (0.8 * room), (ends[1] - ends[0]) / (0.85 * _DETAIL)
    scale = max(_SCALE, *scales)
    wide, tall = scale * _DETAIL, scale * room
    # Chokes down the cable may hang far below a feed: the view moves down only as far as it must.
    centre = min(float(feed[2]), min(heights) + 0.4 * tall)
    middle = 0.5 * (sum(ends) if coils else sum(across))
    low, high = centre - 0.52 * tall, centre + 0.48 * tall
    ax.set(xlim=(middle - wide / 2, middle + wide / 2), ylim=(low, high))
    view.draw(ax, (view.axis, 2), 1.5, 1.5)
    length_axis(ax.yaxis)
    _scatter(ax, chokes)
    tap = Place(float(feed[view.axis]), float(feed[2]), "feed")
    _name(ax, [tap, *chokes], ax.get_xlim()[1])
    # The lowest label would stand in the way of the other picture's last one.
    ax.set_yticks([t for t in ax.get_yticks() if low + 0.05 * (high - low) < t < high])
    size = axis_unit()[1]
    ax.set_xticks(size * np.round(np.array([middle - 0.3 * wide, middle + 0.3 * wide]) / size, 1))
    heading(ax, "feed, enlarged")


@figure(REPORT, 140, table="cases", section="assumed")
def installation(cases: Cases, table: Table) -> Page:
    """What was computed, to scale: antenna, outside of the cable, bond, radio end."""
    position = np.concatenate([table.number(name) for name in ("position_m", "also_at_m")])
    study = cases.summary["study"]
    scene = Scene(
        str(study["title"]),
        cases.frequency,
        tuple(float(p) for p in position[np.isfinite(position)]),
        cases.evidence,
        study["site"]["ground"] is not None,
    )
    return installation_page(cases.structures, scene)


def draw_installation(target: Path, structures: Mapping[str, Structure], scene: Scene) -> None:
    """Draw an installation that has not been computed yet; ``target`` has no suffix."""
    with style():
        installation_page(structures, scene).save(target)
