"""The installation to scale, and beside it the current along its cable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from models.lengths import large
from models.site.sleeve import SLEEVE
from models.wires.structure import Structure
from pipeline.figures.data import Cases, Landmark, Table, landmarks
from pipeline.figures.page import Note, Page, heading, length_axis, open_page
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    CHOSEN_LINE,
    HAIR,
    INK,
    NONE_LINE,
    PAPER,
    PLUM,
    SMALL,
    STEEL,
    Look,
    Stroke,
    sheet,
)
from pipeline.figures.wires import draw_parts
from pipeline.mesh.evidence import GRADES
from pipeline.solver.cases import NONE
from pipeline.text.formatting import percent

# Room of the two panels, and of the names between them. [inch]
_LOW, _TALL, _LEFT, _SIDE, _BETWEEN, _RIGHT = 2.5, 3.7, 0.5, 2.3, 1.05, 0.2
# The side view's share of that on a narrow sheet.
_SIDE_SHARE = 0.57
# The widest band of current beside the cable, as a share of the picture's width.
_WIDEST = 0.12
# Bends nearer to another name than this share of the cable have none of their own.
_APART = 0.07
_OWN = ("antenna", "shield", "bond lead", "rod star", "station lead")
# Current along the cable, its line, strength of what it fills.
_Curve = tuple[NDArray[np.float64], Stroke, float]


@dataclass(frozen=True)
class _Cable:
    """The cable in the side view: ``places`` (n,) along it, ``points`` (n, 2) of the view. [m]"""

    places: NDArray[np.float64]
    points: NDArray[np.float64]

    def at(self, position: float) -> tuple[float, float]:
        """Point of the view at a distance along the cable. [m]"""
        across, height = (float(np.interp(position, self.places, p)) for p in self.points.T)
        return across, height

    def beside(
        self, widths: NDArray[np.float64], inside: tuple[float, float]
    ) -> NDArray[np.float64]:
        """Outline (2 n, 2) of a band, ``widths`` (n,) wide, on the side of a point inside. [m]"""
        along = np.gradient(self.points, axis=0)
        length = np.maximum(np.hypot(*along.T), 1e-12)[:, None]
        across = np.stack([along[:, 1], -along[:, 0]], axis=1) / length
        if np.sum(across * (np.array(inside) - self.points)) < 0:
            across = -across
        return np.concatenate([self.points, (self.points + widths[:, None] * across)[::-1]])


def _plane(structure: Structure) -> tuple[int, int]:
    """Axes of the side view: the horizontal one along which the cable is longest, and height."""
    ends = np.concatenate([structure.segments.start, structure.segments.end])
    return int(np.argmax(np.ptp(ends[:, :2], axis=0))), 2


def _cable(structure: Structure) -> _Cable:
    index = [k for k, _ in structure.shield_path]
    places = np.array([s for _, s in structure.shield_path])
    return _Cable(places, structure.segments.centre[index][:, list(_plane(structure))])


def _current(table: Table, case: str, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Current per feed current at places along the cable; a coil's own cable is left out."""
    rows = table.select(case=case)
    x, y = rows.number("position_m"), rows.number("current_ratio")
    return np.asarray(np.interp(places, x, y))


def _title(cases: Cases, table: Table) -> str:
    def most(case: str) -> str:
        return percent(float(table.select(case=case).number("current_ratio").max()))

    title = f"Without a choke up to {most(NONE)} of the feed current flows on the cable"
    if cases.chosen == NONE:
        return title
    return f"{title}, with the chosen one up to {most(cases.chosen)}"


@dataclass(frozen=True)
class _Box:
    """Limits of the side view [m], the same scale both ways, and how large it is. [inch]"""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    wide: float
    tall: float


def _box(structure: Structure, grounded: bool) -> _Box:
    """Room for the whole installation and the bands beside its cable."""
    axes = list(_plane(structure))
    ends = np.concatenate([structure.segments.start, structure.segments.end])[:, axes]
    low, high = ends.min(axis=0), ends.max(axis=0)
    if grounded:
        low[1] = min(low[1], 0.0)
    size = high - low
    margin = 0.07 * float(size.max())
    wide = min(_SIDE, _SIDE_SHARE * (sheet().width - _LEFT - _BETWEEN - _RIGHT))
    tall = float(np.clip((size[1] + 2 * margin) / (size[0] + 2 * margin) * wide, _LOW, _TALL))
    scale = float(max((size + 2 * margin) / (wide, tall)))
    half = 0.5 * scale * np.array([wide, tall])
    middle = 0.5 * (low + high)
    # What stands on the ground stands at the foot of the picture.
    middle[1] = low[1] - margin + half[1]
    return _Box(middle - half, middle + half, wide, tall)


@figure(REPORT, 5, table="shield_current", section="why")
def overview(cases: Cases, table: Table) -> Page:
    """The installation as described, from the side, and the current on the outside of its cable."""
    notes = [Note("no choke", NONE_LINE.colour, NONE_LINE.dash)]
    shown = [(NONE, NONE_LINE, 0.35)]
    if cases.chosen != NONE:
        said = f"chosen: {cases.of(cases.chosen).label}"
        notes.append(Note(said, CHOSEN_LINE.colour, CHOSEN_LINE.dash))
        shown.append((cases.chosen, CHOSEN_LINE, 0.75))
    limit = f"{100 * cases.threshold('station_ratio'):g} %"
    said = f"grey line: from {limit} on it counts at the radio"
    if cases.chosen != NONE:
        said += "; diamond: where the choke begins"
    notes.append(Note(said, STEEL))
    evidence = f"evidence: {max((cases.of(case).grade for case, _, _ in shown), key=GRADES.index)}"
    structure, grounded = cases.cable, cases.summary["study"]["site"]["ground"] is not None
    box, cable = _box(structure, grounded), _cable(structure)
    texts = cases.texts(_title(cases, table), *notes, evidence=evidence)
    page = open_page(texts, box.tall + 0.85)
    curves = [(_current(table, case, cable.places), line, a) for case, line, a in shown]
    side = page.panel(_LEFT, 0.55, box.wide, box.tall)
    side.set(xlim=(box.low[0], box.high[0]), ylim=(box.low[1], box.high[1]))
    _side(side, structure, grounded)
    _bands(side, cable, curves)
    left = _LEFT + box.wide + _BETWEEN
    beside = page.panel(left, 0.55, page.width - left - _RIGHT, box.tall)
    _along(beside, cases, cable, curves)
    _marks(side, beside, cases, cable)
    return page


def _side(ax: Axes, structure: Structure, grounded: bool) -> None:
    """The side view to scale."""
    axes = _plane(structure)
    if grounded:
        ax.axhspan(ax.get_ylim()[0], 0.0, color=HAIR, lw=0)
        ax.axhline(0.0, color=STEEL, lw=1.0)
    others = tuple(p for p in structure.parts() if p not in (*_OWN, "coil", SLEEVE))
    draw_parts(ax, structure, axes, others, 3.0)
    draw_parts(ax, structure, axes, tuple(p for p in _OWN if p in structure.parts()), 1.4)
    ax.grid(visible=False)
    length_axis(ax.xaxis, "xy"[axes[0]])
    length_axis(ax.yaxis, "height")
    heading(ax, "from the side, to scale")


def _bands(ax: Axes, cable: _Cable, curves: list[_Curve]) -> None:
    """Current as bands beside the cable, the widest the largest of all."""
    most = max(float(current.max()) for current, _, _ in curves)
    width = _WIDEST * float(np.ptp(ax.get_xlim())) / most
    inside = float(np.mean(ax.get_xlim())), float(np.mean(ax.get_ylim()))
    for current, line, strength in curves:
        outline = cable.beside(width * current, inside)
        ax.add_patch(Polygon(outline, fc=line.colour, alpha=strength, lw=0, zorder=1.8))


def _along(ax: Axes, cases: Cases, cable: _Cable, curves: list[_Curve]) -> None:
    """Current along the cable, which leads downwards from the antenna to the radio."""
    length = float(cable.places[-1])
    for current, line, strength in curves:
        fill: Look = {"color": line.colour, "alpha": 0.5 * strength, "lw": 0}
        ax.fill_betweenx(cable.places, 0, 100 * current, **fill)
        ax.plot(100 * current, cable.places, **line.look)
    most = max(100 * float(current.max()) for current, _, _ in curves)
    limit = 100 * cases.threshold("station_ratio")
    ax.set(xlim=(0, 1.12 * max(most, 1.3 * limit)), ylim=(length, 0))
    ax.axvline(limit, color=STEEL, lw=1.1)
    ax.set_xlabel("% of feed current")
    heading(ax, "along the cable")


def _marks(side: Axes, beside: Axes, cases: Cases, cable: _Cable) -> None:
    """Known places of the cable by name beside the curves, and where the chosen choke begins."""
    named: list[Landmark] = []
    every = sorted(landmarks(cases.cable), key=lambda mark: mark.name == "bend")
    apart = _APART * float(cable.places[-1])
    for mark in every:
        if all(abs(mark.position - other.position) > apart for other in named):
            named.append(mark)
    words = [m.name + (f" {large(m.position, 1)}" if m.position else "") for m in named]
    beside.set_yticks([m.position for m in named], words)
    beside.tick_params(axis="y", labelsize=SMALL, labelcolor=INK)
    beside.grid(visible=True, axis="y")
    for mark in named:
        if mark.name in ("bond", "radio"):
            at = cable.at(mark.position)
            side.plot(*at, marker="s", ms=5, color=INK, zorder=5)
            look: Look = {"size": SMALL, "color": INK, "zorder": 5}
            side.annotate(mark.name, at, (0, -13), textcoords="offset points", ha="center", **look)
    if cases.chosen == NONE:
        return
    position = cases.value(cases.chosen, "position_m")
    look = {"color": PLUM, "mec": PAPER, "mew": 0.8, "clip_on": False, "zorder": 6}
    for ax, place in ((side, cable.at(position)), (beside, (0.0, position))):
        ax.plot(*place, marker="D", ms=7, **look)
