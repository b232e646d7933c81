"""Where things go on a workshop drawing: scale, breaks in long parts, lanes of dimension lines.

Metres in, millimetres of paper out; knows no drawing library. A view looks along one axis at the
two others: from the front at x and z, from above at x and y.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from models.construction.assembly import Member
from models.lengths import MARKED, on_rule
from pipeline.construction.cut_plan import CutPlan

ViewName = Literal["front", "above"]
_AXES: dict[ViewName, tuple[int, int]] = {"front": (0, 2), "above": (0, 1)}

SCALES = (1, 2, 2.5, 5, 10, 15, 20, 25, 40, 50, 75, 100, 150, 200)
# Millimetres of paper.
BREAK = 7.0
LANE = (19.0, 10.0)
_TEXT = (17.0, 9.0)
# A pipe is not drawn wider than this.
_WIDEST = 9.0
# At least so much of a part is drawn on each side of whatever is shown on it.
_MARGIN = 11.0
_FLAT = 1e-6


@dataclass(frozen=True)
class Axis:
    """One direction of a view: what is kept of it [m], and how many metres one on paper stands for.

    What lies between two kept stretches is left out and takes ``BREAK`` of paper.
    """

    kept: tuple[tuple[float, float], ...]
    scale: float

    def at(self, place: float) -> float:
        """Paper coordinate of a place [m in, mm out]; straight lines inside a break."""
        paper = 0.0
        for index, (low, high) in enumerate(self.kept):
            last = index == len(self.kept) - 1
            if place <= high or last:
                return paper + 1e3 * (place - low) / self.scale
            paper += 1e3 * (high - low) / self.scale
            start = self.kept[index + 1][0]
            if place < start:
                return paper + BREAK * (place - high) / (start - high)
            paper += BREAK
        return paper

    @property
    def length(self) -> float:
        """Paper that the kept stretches and the breaks take [mm]."""
        drawn = sum(high - low for low, high in self.kept)
        return 1e3 * drawn / self.scale + BREAK * (len(self.kept) - 1)

    @property
    def breaks(self) -> tuple[tuple[float, float], ...]:
        """Paper between the kept stretches [mm], and there only."""
        pairs = itertools.pairwise(self.kept)
        return tuple((self.at(a[1]), self.at(b[0])) for a, b in pairs)


def axis_of(
    features: Sequence[float], ends: tuple[float, float], scale: float, margin: float, whole: bool
) -> Axis:
    """Axis that keeps a ``margin`` of paper [mm] around each feature.

    ``features`` are places that must show and ``ends`` the first and last place [m]; ``scale`` is
    how many metres one metre of paper stands for; ``whole`` leaves nothing out.

    Examples
    --------
    >>> axis_of([0.0, 1.0], (0.0, 1.0), 2, 20.0, False).kept
    ((0.0, 0.04), (0.96, 1.0))
    """
    low, high = ends
    if whole:
        return Axis((ends,), scale)
    reach = 1e-3 * margin * scale
    kept: list[tuple[float, float]] = []
    for place in sorted(features):
        start, stop = max(low, place - reach), min(high, place + reach)
        # A break that saves less than its own width is none.
        if kept and start - kept[-1][1] < 2e-3 * BREAK * scale:
            kept[-1] = (kept[-1][0], max(kept[-1][1], stop))
        else:
            kept.append((start, stop))
    return Axis(tuple(kept), scale)


@dataclass(frozen=True)
class Dimension:
    """A dimension line on paper [mm]: along "x" or "y" from ``low`` to ``high``.

    ``feature`` is where its extension lines begin on the other axis, ``lane`` how far out it
    lies (0 is next to the drawing), ``side`` -1 for left or below and 1 for right.
    """

    along: Literal["x", "y"]
    low: float
    high: float
    feature: float
    side: int
    text: str
    lane: int = 0


@dataclass(frozen=True)
class View:
    """One view on paper, its lower left corner on (0, 0)."""

    name: ViewName
    x: Axis
    y: Axis
    dimensions: tuple[Dimension, ...]

    def at(self, point: Sequence[float]) -> tuple[float, float]:
        """Paper coordinates of a point [m in, mm out]."""
        across, up = _AXES[self.name]
        return self.x.at(point[across]), self.y.at(point[up])

    def lanes(self, along: str, side: int) -> int:
        """Number of lanes that are taken on a side."""
        return max(
            (d.lane + 1 for d in self.dimensions if d.along == along and d.side == side), default=0
        )

    @property
    def left(self) -> float:
        """Paper that the lanes on the left take [mm]."""
        return LANE[0] * self.lanes("y", -1)

    @property
    def below(self) -> float:
        """Paper that the lanes below take [mm]."""
        return LANE[1] * self.lanes("x", -1)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height with dimension lines [mm]."""
        right = LANE[0] * self.lanes("y", 1)
        return self.left + self.x.length + right, self.below + self.y.length


def spans(
    plan: CutPlan, name: ViewName
) -> list[tuple[Member, tuple[float, ...], tuple[float, ...]]]:
    """Members with their two ends in a view, (across, up) each [m]."""
    axes = _AXES[name]
    found = []
    for member in plan.assembly.members:
        ends = (plan.assembly.joint(j).point for j in (member.start, member.end))
        a, b = (tuple(point[k] for k in axes) for point in ends)
        found.append((member, a, b))
    return found


def view_names(plan: CutPlan) -> tuple[ViewName, ...]:
    """The front, and from above where something stands out of the front's plane."""
    depth = [joint.point[1] for joint in plan.assembly.joints]
    return ("front", "above") if max(depth) - min(depth) > 1e-3 else ("front",)


def make_view(plan: CutPlan, name: ViewName, scale: float, margin: float) -> View:
    """A view at a scale, with a margin of paper [mm] around everything that must be seen."""
    members = spans(plan, name)
    widest = max(plan.joinery.diameter(m) for m in plan.assembly.members) / 2
    slanted = any(min(abs(a[0] - b[0]), abs(a[1] - b[1])) > _FLAT for _, a, b in members)
    axes = []
    for k, index in enumerate(_AXES[name]):
        places = [end[k] for _, *ends in members for end in ends]
        places += [mark.point[index] for mark in plan.assembly.marks]
        ends = (min(places) - 1.2 * widest, max(places) + 1.2 * widest)
        axes.append(axis_of(places, ends, scale, margin, slanted))
    x, y = axes
    return View(name, x, y, _dimensions(plan, name, x, y))


def _dimensions(plan: CutPlan, name: ViewName, x: Axis, y: Axis) -> tuple[Dimension, ...]:
    found: dict[tuple[object, ...], Dimension] = {}
    across, up = _AXES[name]
    for number, mark in enumerate(plan.marks, start=1):
        text = "\n".join((f"M{number}", *on_rule(mark.from_edge, MARKED)))
        ends = (
            (mark.start[across], mark.start[up]),
            (mark.point[across], mark.point[up]),
        )
        _add(found, ends, text, x, y)
    for member, a, b in spans(plan, name):
        length = plan.assembly.length(member)
        if math.isclose(math.dist(a, b), length, rel_tol=1e-6):
            _add(found, (a, b), "\n".join(on_rule(length)), x, y)
    return _in_lanes(list(found.values()))


def _add(
    found: dict[tuple[object, ...], Dimension],
    ends: tuple[Sequence[float], Sequence[float]],
    text: str,
    x: Axis,
    y: Axis,
) -> None:
    """Put a dimension where there is none yet; marks at one height share theirs."""
    a, b = ends
    if abs(a[0] - b[0]) < _FLAT:
        low, high = sorted((y.at(a[1]), y.at(b[1])))
        feature = x.at(a[0])
        side = -1 if feature <= x.length / 2 else 1
        new = Dimension("y", low, high, feature, side, text)
    elif abs(a[1] - b[1]) < _FLAT:
        low, high = sorted((x.at(a[0]), x.at(b[0])))
        new = Dimension("x", low, high, y.at(a[1]), -1, text)
    else:
        return
    key = (new.along, new.side, round(low, 2), round(high, 2))
    old = found.setdefault(key, new)
    name, _, rest = text.partition("\n")
    first = old.text.partition("\n")[0]
    if old.text != text and old.text.endswith(f"\n{rest}") and name.startswith("M"):
        found[key] = replace(old, text=f"{first}, {name}\n{rest}")


def _in_lanes(dimensions: list[Dimension]) -> tuple[Dimension, ...]:
    """Short ones inside, long ones outside; none over another."""
    placed: list[Dimension] = []
    for d in sorted(dimensions, key=lambda d: d.high - d.low):
        room = _TEXT[0] if d.along == "x" else _TEXT[1]
        low, high = _taken(d, room)
        lane = 0
        for other in placed:
            if (other.along, other.side) != (d.along, d.side):
                continue
            start, stop = _taken(other, room)
            if start < high and low < stop:
                lane = max(lane, other.lane + 1)
        placed.append(replace(d, lane=lane))
    return tuple(placed)


def _taken(dimension: Dimension, room: float) -> tuple[float, float]:
    """Stretch that a dimension takes in its lane, its text included [mm]."""
    middle = (dimension.low + dimension.high) / 2
    half = max(dimension.high - dimension.low, room) / 2 + 1
    return middle - half, middle + half


def choose_views(plan: CutPlan, width: float, height: float) -> tuple[float, tuple[View, ...]]:
    """Largest standard scale at which all views fit, one above the other, and the views.

    ``width`` and ``height`` are the paper that is free [mm]; the scale is how many metres one
    metre of paper stands for.

    Raises
    ------
    ValueError
        If even the smallest scale does not fit.
    """
    names = view_names(plan)
    thickest = 1e3 * max(plan.joinery.diameter(m) for m in plan.assembly.members)

    def fits(views: Sequence[View]) -> bool:
        gaps = 8 * (len(views) - 1)
        wide = max(view.size[0] for view in views)
        return wide <= width and sum(view.size[1] for view in views) + gaps <= height

    def views_at(scale: float, margin: float) -> tuple[View, ...]:
        return tuple(make_view(plan, name, scale, margin) for name in names)

    for scale in SCALES:
        views = views_at(scale, _MARGIN)
        if thickest / scale > _WIDEST or not fits(views):
            continue
        # What is free is given back to the parts that were shortened.
        for margin in (90, 75, 60, 50, 40, 34, 28, 24, 20, 17, 14):
            wider = views_at(scale, margin)
            if fits(wider):
                return scale, wider
        return scale, views
    raise ValueError("the antenna does not fit a page at any scale")
