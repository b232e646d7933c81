"""The installation as it was computed: side view to scale, and the region of the feed enlarged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from models.lengths import axis_unit, large
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
)
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import HAIR, INK, LINE, OCHRE, PLUM, SEA, SMALL, STEEL, WIDTH, style
from pipeline.figures.wires import colour_of, draw_all, parts_around
from pipeline.solver.cases import CABLE
from pipeline.text.formatting import plain

# Room for the two pictures [inch]. The enlarged one has _SCALE metres an inch and names the chokes
# nearer to the antenna than _NEAR [m]; the other one names the rest.
_LOW, _TALL, _LEFT = 3.0, 4.7, 0.55
_MAIN, _DETAIL = 2.95, 1.3
_NEAR, _SCALE = 0.45, 0.25
# A letter of the small print, about [inch]; how far something may leave the plane of the side view
# before it is shown from above as well [m], and how tall that picture is [inch].
_LETTER, _OUT_OF_PLANE, _PLAN = 0.075, 0.3, (0.7, 2.6)
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
    """What is drawn beyond the bare structures.

    ``chokes`` holds positions along the cable [m]; ``grounded`` says whether there is soil.
    """

    title: str
    frequency: float
    chokes: tuple[float, ...] = ()
    evidence: str = "evidence: not computed yet"
    grounded: bool = True


def _across(structure: Structure) -> int:
    """The horizontal axis along which the installation is longest: 0 for x, 1 for y."""
    ends = np.concatenate([structure.segments.start, structure.segments.end])
    return int(np.argmax(np.ptp(ends[:, :2], axis=0)))


def along_cable(structure: Structure, position: float, axis: int) -> tuple[float, float]:
    """Point of the side view at a distance along the cable. [m]"""
    path = np.array([k for k, _ in structure.shield_path], dtype=np.int64)
    known = np.array([s for _, s in structure.shield_path])
    centre = structure.segments.centre[path]
    across, height = (float(np.interp(position, known, centre[:, k])) for k in (axis, 2))
    return across, height


def _label_around(ax: Axes, structure: Structure, axis: int) -> list[Place]:
    """Name level parts above one end; give back the upright ones, for the column."""
    upright = []
    for part in parts_around(structure):
        wires = [w for w in structure.wires if w.part == part]
        ends = np.array([p for w in wires for p in (w.start, w.end)])[:, [axis, 2]]
        across, height = ends[:, 0], ends[:, 1]
        colour = colour_of(structure, part)
        if np.ptp(across) < np.ptp(height):
            place = ends[np.argmin(abs(height - height.mean()))]
            upright.append(Place(float(place[0]), float(place[1]), part, colour))
            continue
        # At the end that is further from the antenna, which has names of its own beside it.
        left = abs(across.min()) >= abs(across.max())
        end = ends[across.argmin() if left else across.argmax()]
        ax.annotate(
            part,
            (float(end[0]), float(end[1])),
            (0, 3),
            textcoords="offset points",
            ha="left" if left else "right",
            va="bottom",
            size=SMALL,
            color=colour,
        )
    return upright


def _name(ax: Axes, places: list[Place], tall: float, side: float, left: bool = False) -> None:
    """Names in a column at ``side`` (data), each with a thin line to its point.

    ``left`` puts them to the left of it.
    """
    low, high = ax.get_ylim()
    per_inch = (high - low) / tall
    order = sorted(places, key=lambda p: -p.height)
    heights = [(1 + p.text.count("\n")) * SMALL * LINE for p in order]
    wanted = [(p.height - low) / per_inch for p in order]
    for place, y in zip(order, spread(wanted, heights, tall), strict=True):
        level = low + y * per_inch
        ax.plot([place.across, side], [place.height, level], color=place.colour, lw=0.6, zorder=1)
        ax.text(
            side,
            level,
            f"{place.text} " if left else f" {place.text}",
            color=place.colour,
            size=SMALL,
            ha="right" if left else "left",
            va="center",
            linespacing=1.15,
        )


def _text_width(ax: Axes, text: str) -> float:
    """About how wide a name is. [data]"""
    longest = max(len(row) for row in text.split("\n"))
    return float(longest * _LETTER * np.ptp(ax.get_xlim()) / _MAIN)


def _choke_places(scene: Scene, structure: Structure, axis: int) -> dict[bool, list[Place]]:
    """Places of chokes: under True those near the antenna, which the enlarged picture shows."""
    found: dict[bool, list[Place]] = {True: [], False: []}
    for position in sorted({round(p, 2) for p in scene.chokes}):
        across, height = along_cable(structure, position, axis)
        near = position < _NEAR
        text = large(position) if near else f"choke at {large(position)}"
        found[near].append(Place(across, height, text, PLUM))
    return found


def _title(structure: Structure, scene: Scene) -> str:
    marks = {m.name: m.position for m in landmarks(structure)}
    joint = float(structure.segments.start[structure.shield_path[0][0], 2])
    said = f"The cable joins the antenna {large(joint)} above ground"
    if not scene.grounded:
        said = "The antenna and its cable in free space"
    if "bond" in marks:
        said += f", is bonded after {large(marks['bond'], 1)}"
    if "radio" in marks:
        said += f" and reaches the radio after {large(marks['radio'], 1)}"
    return said


def installation_page(structures: Mapping[str, Structure], scene: Scene) -> Page:
    """The installation from its geometries by name; "cable" among them.

    Windings of the others are drawn over it.
    """
    structure = structures[CABLE]
    axis = _across(structure)
    low, high = _box(structure, axis, scene.grounded)
    tall = float(np.clip((high - low)[1] * _MAIN / (high - low)[0], _LOW, _TALL))
    plan = _plan_height(structure, axis, float((high - low)[0]))
    above = 0.5 + (plan + 0.85 if plan else 0.0)
    footer = footer_of(scene.title, scene.frequency)
    notes = _notes(structures, scene)
    page = open_page(
        Texts(_title(structure, scene), notes, scene.evidence, footer), tall + above + 0.25
    )
    chokes = _choke_places(scene, structure, axis)
    main = page.panel(_LEFT, above, _MAIN, tall)
    _fit(main, low, high, tall)
    _whole(main, structures, axis, scene.grounded, chokes[False])
    near = page.panel(WIDTH - _DETAIL - 0.75, above, _DETAIL, tall)
    _near_tap(near, structures, axis, chokes[True])
    if plan:
        _from_above(page.panel(_LEFT, 0.5, _MAIN, plan), structures, axis, main.get_xlim())
    return page


def _notes(structures: Mapping[str, Structure], scene: Scene) -> tuple[Note, ...]:
    scale = "to scale but for the width of lines; pipes are drawn as the cages that are computed"
    notes = [Note(scale, STEEL), Note("cable: outside of the shield", SEA)]
    around = parts_around(structures[CABLE])
    if around:
        notes.append(Note(f"around it: {', '.join(plain(p) for p in around)}", STEEL))
    if "coil" in {p for s in structures.values() for p in s.parts()}:
        notes.append(Note("coil of the cable itself, where a candidate is one", OCHRE))
    if scene.chokes:
        tried = "diamonds: where chokes are tried; distances are along the cable from the antenna"
        notes.append(Note(tried, PLUM))
    return tuple(notes)


def _box(
    structure: Structure, axis: int, grounded: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower left and upper right corner of the side view, with a margin. [m]"""
    ends = np.concatenate([structure.segments.start, structure.segments.end])[:, [axis, 2]]
    low, high = ends.min(axis=0), ends.max(axis=0)
    margin = 0.06 * float(max(high - low))
    floor = min(low[1], 0.0) if grounded else low[1]
    return np.array([low[0] - margin, floor - margin]), high + margin


def _off_plane(structure: Structure, axis: int, parts: tuple[str, ...]) -> NDArray[np.float64]:
    """Ends of wires of some parts along the horizontal that the side view does not show. [m]"""
    wires = [w for w in structure.wires if w.part in parts]
    return np.array([end[1 - axis] for w in wires for end in (w.start, w.end)])


def _plan_height(structure: Structure, axis: int, wide: float) -> float:
    """Height of the view from above, zero where nothing leaves the plane. [inch]"""
    parts = tuple(p for p in structure.parts() if p not in ("antenna", "rod star"))
    off = _off_plane(structure, axis, parts)
    if not len(off) or np.ptp(off) < _OUT_OF_PLANE:
        return 0.0
    whole = np.ptp(_off_plane(structure, axis, structure.parts()))
    return float(np.clip(1.1 * whole * _MAIN / wide, *_PLAN))


def _from_above(
    ax: Axes, structures: Mapping[str, Structure], axis: int, across: tuple[float, float]
) -> None:
    """The installation from above, to the scale of the side view over it."""
    off = _off_plane(structures[CABLE], axis, structures[CABLE].parts())
    middle, half = 0.5 * (off.min() + off.max()), 0.5 * np.ptp(across) / _MAIN * height_of(ax)
    ax.set_xlim(*across)
    ax.set_ylim(middle - half, middle + half)
    draw_all(ax, structures, (axis, 1 - axis), 1.8, 4.0)
    length_axis(ax.xaxis, "xy"[axis])
    length_axis(ax.yaxis, "xy"[1 - axis])
    ax.grid(visible=False)
    heading(ax, "from above, to the same scale")


def _fit(ax: Axes, low: NDArray[np.float64], high: NDArray[np.float64], room: float) -> None:
    """Limits that hold a box of the side view, the same scale both ways."""
    scale = max((high[0] - low[0]) / _MAIN, (high[1] - low[1]) / room)
    middle = 0.5 * (low[0] + high[0])
    ax.set_xlim(middle - 0.5 * scale * _MAIN, middle + 0.5 * scale * _MAIN)
    ax.set_ylim(low[1], low[1] + scale * room)


def _whole(
    ax: Axes,
    structures: Mapping[str, Structure],
    axis: int,
    grounded: bool,
    chokes: list[Place],
) -> None:
    structure = structures[CABLE]
    draw_all(ax, structures, (axis, 2), 1.8, 4.0)
    _scatter(ax, chokes)
    if grounded:
        ax.axhspan(ax.get_ylim()[0], 0.0, color=HAIR, lw=0)
        ax.axhline(0.0, color=STEEL, lw=1.2)
    names = chokes + [
        Place(*along_cable(structure, m.position, axis), m.name)
        for m in landmarks(structure)
        if m.name == "antenna"
    ]
    names += _label_around(ax, structure, axis)
    span = float(np.ptp(ax.get_xlim()))
    points = [along_cable(structure, s, axis)[0] for _, s in structure.shield_path]
    upright = [p.across for p in names] or [float(np.median(points))]
    side = max(upright) + 0.1 * span
    widest = max((_text_width(ax, p.text) for p in names), default=0.0)
    # Where the cable leads to the left the antenna stands at the right edge.
    left = side + widest > ax.get_xlim()[1]
    _name(ax, names, height_of(ax), min(upright) - 0.1 * span if left else side, left)
    _low_ends(ax, structure, axis)
    length_axis(ax.yaxis, "height")
    length_axis(ax.xaxis, "xy"[axis])
    ax.grid(visible=False)
    heading(ax, "whole installation")


def _low_ends(ax: Axes, structure: Structure, axis: int) -> None:
    """Bond and radio, named just above the cable that runs along the ground there."""
    named: list[tuple[float, float]] = []
    for mark in landmarks(structure):
        if mark.name not in ("bond", "radio"):
            continue
        across, height = along_cable(structure, mark.position, axis)
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
        ax.annotate(
            text,
            (across, height),
            (_ASIDE[ha], 9 + lifted * SMALL * LINE * 72),
            size=SMALL,
            textcoords="offset points",
            ha=ha,
            color=INK,
        )


def _scatter(ax: Axes, places: list[Place]) -> None:
    across, height = [p.across for p in places], [p.height for p in places]
    ax.scatter(across, height, marker="D", s=22, color=PLUM, zorder=5)


def _near_tap(
    ax: Axes, structures: Mapping[str, Structure], axis: int, chokes: list[Place]
) -> None:
    structure = structures[CABLE]
    feed_port = structure.ports[structure.port_index("feed")]
    feed = structure.segments.centre[structure.port_segment(feed_port)]
    # Feed, joint of the cable and the chokes near it in one view, however far they are apart.
    heights = [float(feed[2]), along_cable(structure, 0.0, axis)[1], *(p.height for p in chokes)]
    span = max(heights) - min(heights)
    scale = max(_SCALE, span / (0.8 * height_of(ax)))
    wide, tall = scale * _DETAIL, scale * height_of(ax)
    # Chokes down the cable may hang far below a feed: the view moves down only as far as it must.
    centre = min(float(feed[2]), min(heights) + 0.4 * tall)
    ax.set_ylim(centre - 0.52 * tall, centre + 0.48 * tall)
    middle = 0.5 * (feed[axis] + along_cable(structure, 0.3, axis)[0])
    ax.set_xlim(middle - wide / 2, middle + wide / 2)
    draw_all(ax, structures, (axis, 2), 1.5, 1.5)
    _scatter(ax, chokes)
    tap = Place(float(feed[axis]), float(feed[2]), "feed")
    _name(ax, [tap, *chokes], height_of(ax), ax.get_xlim()[1])
    ax.grid(visible=False)
    # The lowest label would stand in the way of the other picture's last one.
    low, high = ax.get_ylim()
    length_axis(ax.yaxis)
    ax.set_yticks([t for t in ax.get_yticks() if low + 0.05 * (high - low) < t < high])
    length_axis(ax.xaxis, "xy"[axis])
    size = axis_unit()[1]
    ends = np.array([middle - 0.1, middle + 0.1]) / size
    ax.set_xticks(size * np.round(ends, 1))
    heading(ax, "feed, enlarged")


@figure(
    REPORT,
    110,
    "What was computed, to scale: antenna, outside of the cable, bond, radio end.",
    group="space",
    table="cases",
)
def installation(cases: Cases, table: Table) -> Page:
    """The installation of a results folder."""
    position = table.number("position_m")
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
