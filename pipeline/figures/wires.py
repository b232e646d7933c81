"""Wires of an installation as coloured lines, from the side or from above."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from models.site.metalwork import OWN_PARTS
from models.site.sleeve import SLEEVE
from models.wires.structure import Structure, Wire
from pipeline.figures.style import BRICK, FERN, INK, MIST, OCHRE, SEA, STEEL
from pipeline.solver.cases import CABLE

# What stands around the antenna, in the order in which it was drawn; soft beside the cable.
_AROUND = ("#8a7a5c", FERN, "#a05a7d", "#5c74a8", MIST)
# What candidates add to the cable, each in a geometry of its own.
_ON_CABLE = ("coil", SLEEVE)
_COLOUR = {
    "shield": SEA,
    **dict.fromkeys(_ON_CABLE, OCHRE),
    "bond lead": BRICK,
    "rod star": BRICK,
    "station lead": STEEL,
}


def parts_around(structure: Structure) -> tuple[str, ...]:
    """Names of the parts that are neither antenna nor our own cable."""
    return tuple(p for p in structure.parts() if p not in OWN_PARTS)


def colour_of(structure: Structure, part: str) -> str:
    """Colour of a part."""
    around = parts_around(structure)
    if part in around:
        return _AROUND[around.index(part) % len(_AROUND)]
    return _COLOUR.get(part, INK)


def draw_lines(
    ax: Axes, wires: Iterable[Wire], axes: tuple[int, int], colour: str, width: float, **more: Any
) -> None:
    """Wires as lines, seen along the axis that is not one of ``axes``."""
    lines = [[tuple(end[k] for k in axes) for end in (w.start, w.end)] for w in wires]
    style = {"colors": colour, "linewidths": width, "capstyle": "round", **more}
    ax.add_collection(LineCollection(lines, **style), autolim=True)


def draw_parts(
    ax: Axes, structure: Structure, axes: tuple[int, int], parts: tuple[str, ...], width: float
) -> None:
    """Lines of some parts in their colours; each part can be found by its name."""
    for part in parts:
        wires, name = (w for w in structure.wires if w.part == part), part.replace(" ", "-")
        draw_lines(ax, wires, axes, colour_of(structure, part), width, gid=f"part-{name}")


def draw_all(
    ax: Axes,
    structures: Mapping[str, Structure],
    axes: tuple[int, int],
    width: float,
    around: float,
) -> None:
    """The whole installation; what stands around it below our own parts and broader."""
    main = structures[CABLE]
    for structure in structures.values():
        there = tuple(part for part in _ON_CABLE if part in structure.parts())
        draw_parts(ax, structure, axes, there, 0.55 * width)
    # So that what hangs behind the cable is seen beside it.
    draw_parts(ax, main, axes, parts_around(main), around)
    others = tuple(p for p in main.parts() if p in OWN_PARTS and p not in _ON_CABLE)
    draw_parts(ax, main, axes, others, width)
