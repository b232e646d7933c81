"""A sheet for a sleeve on the cable: what is sawn, where it goes, in which order.

A study and one of its sleeves in; a page, a line for the terminal and plain data out. Solves
nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from models.antennas import generators
from models.catalogues.parts import bore
from models.lengths import MARKED, beside, on_rule, small
from pipeline.chokes.kind import Choke, SawnPipe
from pipeline.construction.cut_text import CAUTIONS
from pipeline.construction.sheet import (
    EDGE,
    PAGE,
    SMALL_TYPE,
    TEXT_TYPE,
    TOP,
    Column,
    open_sheet,
    save_sheet,
)
from pipeline.figures.style import HAIR, INK, MIST, PAPER, SEA, STEEL, style
from pipeline.solver.standard_chokes import with_standard_chokes
from pipeline.study.records import Study
from pipeline.text.formatting import megahertz

_WIDE = PAGE[0] - 2 * EDGE
_GUTTER = 8.0
# The section on paper [mm]: half the width of sleeve, jacket and shield, its length, its middle.
_HALF, _JACKET, _SHIELD, _LONG, _WALL = 13.0, 5.5, 4.0, 112.0, 1.6
_LEFT, _MIDDLE = EDGE + 38, TOP - 44
# Jacket cut away beside the plate, what plate and spacers are wider or narrower; common practice.
_BARED, _PLAY = 0.008, 0.0005
_SPACERS = 3
# Every sleeve that is judged has a sheet, and few of them are worth making.
_IF_TAKEN = "only where the report takes it"


@dataclass(frozen=True)
class SleeveCut:
    """One choke of a study for which a pipe is sawn."""

    study: Study
    choke: Choke
    sawn: SawnPipe

    @property
    def faces_radio(self) -> bool:
        """Whether its mouth points to the radio."""
        return self.sawn.mouth > self.sawn.plate

    @property
    def hole(self) -> float:
        """Hole in the plate: the jacket goes through it. [m]"""
        return self.study.cable.type.jacket_diameter + _PLAY

    @property
    def outlet(self) -> str:
        """From where distances along the cable count."""
        return generators()[self.study.antenna.type].outlet

    @property
    def mouth_words(self) -> str:
        """Which way it is open."""
        return f"mouth towards the {'radio' if self.faces_radio else 'antenna'}"


def sleeve_cuts(study: Study) -> tuple[SleeveCut, ...]:
    """Every sleeve that is judged with a study: its own, or the standard one."""
    found = ((choke, choke.sawn(study.host)) for choke in with_standard_chokes(study).chokes)
    return tuple(SleeveCut(study, choke, sawn) for choke, sawn in found if sawn is not None)


def sleeve_line(cut: SleeveCut) -> str:
    """A sleeve in one line of the terminal."""
    at = beside(cut.choke.position, MARKED)
    return (
        f"sleeve {cut.choke.id}, {_IF_TAKEN}: {cut.sawn.pipe.name} pipe, "
        f"saw to {beside(cut.sawn.length)}; {cut.mouth_words}, "
        f"{at} from the antenna to its nearer end"
    )


def sleeve_record(cut: SleeveCut) -> dict[str, Any]:
    """Numbers of a sleeve as plain data: lengths in mm."""
    pipe = cut.sawn.pipe
    return {
        "id": cut.choke.id,
        "pipe": pipe.id,
        "cut_mm": 1e3 * cut.sawn.length,
        "bore_mm": 1e3 * bore(pipe),
        "plate_mm": 1e3 * pipe.outside_diameter,
        "hole_mm": 1e3 * cut.hole,
        "mouth_at_mm": 1e3 * cut.sawn.mouth,
        "plate_at_mm": 1e3 * cut.sawn.plate,
        "mouth_towards": "radio" if cut.faces_radio else "antenna",
        "steps": sleeve_steps(cut),
    }


def sleeve_steps(cut: SleeveCut) -> list[str]:
    """Order of work on one sleeve."""
    pipe = cut.sawn.pipe
    return [
        f"Saw the pipe square, {small(cut.sawn.length, 0)} long, and deburr it. A millimetre more "
        "or less moves the frequency at which it holds back most "
        f"by {0.1 / cut.sawn.length:.2g} %.",
        f"Cut a disc of {small(pipe.outside_diameter)} for the plate, drill it for the jacket "
        f"({small(cut.hole, 1)}) and solder it flat on one end of the pipe.",
        f"Put {_SPACERS} spacers on the cable where the sleeve will be: at the mouth, in the "
        "middle, beside the plate. A cable that lies at the wall makes the sleeve another one.",
        "With a connector off push the sleeve over cable and spacers until the mouth is at M1 and "
        "the plate's outer face at M2.",
        f"Take {small(_BARED)} of jacket off just outside of the plate, without a nick in the "
        "shield. Lay copper foil or braid round it over the gap to the plate and solder it to "
        "both all round, fast: the foam in the cable gives way early.",
        f"Keep {small(cut.sawn.straight)} of cable straight at the mouth, and metal away from it. "
        "Leave it open; where it does not hang down, close it with a plastic cap and drill a small "
        "hole beside the plate for water to run out.",
        "Seal the bared shield against water.",
    ]


def draw_sleeve(cut: SleeveCut, target: Path) -> None:
    """Write a sleeve's sheet as PDF; ``target`` is without the ending."""
    with style():
        title = f"{cut.study.title}: sleeve {cut.choke.id}"
        save_sheet(sleeve_page(cut), target, title, ("pdf",))


def sleeve_page(cut: SleeveCut) -> Figure:
    """The page; build it inside :func:`style.style`."""
    figure, ax = open_sheet()
    cable, pipe = cut.study.cable.type, cut.sawn.pipe
    head = Column(ax, EDGE, TOP, _WIDE, 1.0)
    head.text(f"Sleeve for {cut.study.title}", 15, bold=True)
    what = f"{pipe.material} pipe {pipe.name} over {cable.name}, for"
    head.text(f"{what} {megahertz(cut.study.frequency)}; not to scale; {_IF_TAKEN}", 9.5, STEEL)
    _section(ax, cut)
    page = Column(ax, EDGE, _MIDDLE - 36, _WIDE, 1.0)
    page.head("Cut and mark")
    _lengths(cut, page)
    half = (_WIDE - _GUTTER) / 2
    left = Column(ax, EDGE, page.y, half, 1.0)
    left.head("Order of work")
    for number, step in enumerate(sleeve_steps(cut), start=1):
        left.item(f"{number}. {step}")
    right = Column(ax, EDGE + half + _GUTTER, page.y, half, 1.0)
    right.head("Parts")
    for part in _parts(cut):
        right.item(part)
    right.head("Cautions")
    for caution in CAUTIONS:
        right.item(caution, 8)
    return figure


def _lengths(cut: SleeveCut, page: Column) -> None:
    """What is sawn and where it goes, in figures that can be read from the saw."""
    rows = (
        ("A", cut.sawn.length, "sleeve, mouth to plate", "both ends square"),
        ("M1", cut.sawn.mouth, f"mouth, along the cable from {cut.outlet}", cut.mouth_words),
        (
            "M2",
            cut.sawn.plate,
            f"plate's outer face, from {cut.outlet}",
            "the jacket comes off beyond it",
        ),
    )
    for letter, length, said, more in rows:
        own, other = on_rule(length) if letter == "A" else on_rule(length, MARKED)
        cells = [
            (0.0, letter, 13.0, SEA, True),
            (25.0, own, 17.0, INK, True),
            (67.0, other, 13.0, INK, True),
        ]
        page.row(cells, said, more)


def _parts(cut: SleeveCut) -> list[str]:
    cable, pipe = cut.study.cable.type, cut.sawn.pipe
    return [
        f"1 x {pipe.material} pipe {pipe.name}, {small(cut.sawn.length)} and the saw's kerf",
        f"1 x brass or copper disc of {small(pipe.outside_diameter)}, hole {small(cut.hole, 1)}",
        f"{_SPACERS} x plastic spacer, {small(bore(pipe) - _PLAY, 1)} outside, "
        f"{small(cable.jacket_diameter, 1)} inside, no metal in it",
        "copper foil or braid for the collar at the plate",
        f"these lengths hold for this cable only: jacket of permittivity {cable.jacket_eps_r:g}, "
        "in the sleeve's middle",
    ]


def _section(ax: Axes, cut: SleeveCut) -> None:
    """The sleeve cut open along the cable, the antenna on the left."""
    right = _LEFT + _LONG
    _box(ax, (EDGE + 4, right + 24), (-_JACKET, _JACKET), MIST)
    _box(ax, (EDGE + 4, right + 24), (-_SHIELD, _SHIELD), STEEL)
    out = -1 if cut.faces_radio else 1
    plate, mouth = (_LEFT, right) if cut.faces_radio else (right, _LEFT)
    behind = plate + out * _WALL
    for side in (1, -1):
        edges = sorted((side * _HALF, side * (_HALF - _WALL)))
        _box(ax, (_LEFT, right), (edges[0], edges[1]), SEA)
        inner, bared, collar = (
            sorted((side * a, side * b))
            for a, b in ((_HALF, _JACKET), (_JACKET, _SHIELD), (_JACKET + 1, _SHIELD))
        )
        _box(ax, _between(plate, behind), (inner[0], inner[1]), SEA)
        _box(ax, _between(behind, behind + out * 8), (bared[0], bared[1]), PAPER)
        _box(ax, _between(behind, behind + out * 3), (collar[0], collar[1]), INK)
    for text, x in (("to the antenna", EDGE + 4), ("to the radio", right + 24)):
        align = "left" if x < _LEFT else "right"
        ax.text(x, _MIDDLE + 8, text, size=TEXT_TYPE, color=STEEL, ha=align)
    for text, x in (("mouth, open", mouth), ("plate, joined to the shield", plate)):
        ax.text(x, _MIDDLE + _HALF + 3, text, size=TEXT_TYPE, color=INK, ha="center")
    _dimension(ax, (_LEFT, right), _MIDDLE - 20, f"A: {beside(cut.sawn.length)}")
    start = beside(cut.choke.position, MARKED)
    _dimension(ax, (EDGE + 4, _LEFT), _MIDDLE - 27, start)
    pipe, cable = cut.sawn.pipe, cut.study.cable.type
    widths = (
        f"sleeve {small(pipe.outside_diameter, 1)} outside, {small(bore(pipe), 1)} inside; "
        f"shield {small(cable.shield_diameter, 1)}, jacket {small(cable.jacket_diameter, 1)}"
    )
    ax.text(_LEFT, _MIDDLE + _HALF + 9, widths, size=SMALL_TYPE, color=STEEL)


def _between(a: float, b: float) -> tuple[float, float]:
    return min(a, b), max(a, b)


def _box(ax: Axes, along: tuple[float, float], across: tuple[float, float], colour: str) -> None:
    size = along[1] - along[0], across[1] - across[0]
    place = along[0], _MIDDLE + across[0]
    ax.add_patch(Rectangle(place, *size, facecolor=colour, edgecolor=PAPER, lw=0.4))


def _dimension(ax: Axes, ends: tuple[float, float], y: float, text: str) -> None:
    """A dimension line with its ends drawn up to the section."""
    arrow = {"arrowstyle": "<->", "color": INK, "lw": 0.7, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", (ends[0], y), (ends[1], y), arrowprops=arrow)
    for x in ends:
        ax.plot([x, x], [y - 1.5, _MIDDLE - _HALF - 1], color=HAIR, lw=0.7)
    ax.text(sum(ends) / 2, y - 1, text, size=TEXT_TYPE, color=INK, ha="center", va="top")
