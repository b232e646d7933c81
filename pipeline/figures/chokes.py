"""Figures of the chokes themselves: impedance over frequency, how many cores, and where."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullFormatter
from numpy.typing import NDArray
from scipy.constants import speed_of_light

from models.lengths import large
from pipeline.figures.data import (
    CABLE,
    NONE,
    UNSOUND,
    Cast,
    Table,
    landmarks,
    load_cast,
    read_table,
)
from pipeline.figures.line import BESIDE, mark_places, shade
from pipeline.figures.style import (
    BRICK,
    DASHES,
    FERN,
    INK,
    MIST,
    OCHRE,
    PLUM,
    SEA,
    SMALL,
    SOLID,
    STEEL,
    UNSOUND_DASH,
    EndLabel,
    Note,
    label_ends,
    length_axis,
    open_page,
    save,
    shorten,
)
from pipeline.judgement.advice import in_words
from pipeline.judgement.choke_places import best_place, tried_places
from pipeline.solver.port_basis import load_structure
from pipeline.text.formatting import impedance_words, megahertz, number, percent, times

LEFT, RIGHT = 0.84, 1.42
WIDE = 5.8 - LEFT - RIGHT
# Curves beyond these are thin and grey; a reader cannot hold more apart.
COLOURS = (OCHRE, SEA, PLUM, BRICK, INK, FERN)
_NOTHING = "This study has no ferrite candidates, so there is nothing to draw here"


@dataclass(frozen=True)
class Curve:
    """Impedance of one choke over frequency."""

    choke: str
    label: str
    kind: str
    f: NDArray[np.float64]
    z: NDArray[np.complex128]

    def at(self, f: float) -> complex:
        """Impedance at a frequency inside the curve, along a line over log f. [ohm]"""
        x = np.log(self.f)
        return complex(np.interp(np.log(f), x, self.z.real), np.interp(np.log(f), x, self.z.imag))

    def short(self) -> str:
        """Name for beside a curve."""
        return shorten(self.label.split(" (handbook")[0], 40)


def curves(cast: Cast, table: Table) -> list[Curve]:
    """Curves of a table, coils first, so that colours go to what differs most."""
    kinds = dict(
        zip(cast.cases.text("case").tolist(), cast.cases.text("kind").tolist(), strict=True)
    )
    found = []
    for choke in table.distinct("choke"):
        rows = table.where(choke=choke)
        z = rows.number("r_ohm") + 1j * rows.number("x_ohm")
        kind = kinds.get(choke, "")
        found.append(Curve(choke, str(rows.text("label")[0]), kind, rows.number("frequency_hz"), z))
    first: list[Curve] = []
    rest: list[Curve] = []
    seen: set[str] = set()
    for curve in sorted(found, key=lambda c: c.kind != "coil"):
        (rest if curve.kind in seen else first).append(curve)
        seen.add(curve.kind)
    return first + rest


def said_impedance(z: complex) -> str:
    """Impedance in print.

    Examples
    --------
    >>> said_impedance(168.1 - 24.2j), said_impedance(0.002 + 6j), said_impedance(107522 - 42j)
    ('168 − j24 Ω', '0 + j6 Ω', '108 + j0 kΩ')
    """
    if abs(z) >= 9999.5:
        return impedance_words(z / 1e3, 0, "kΩ")
    return impedance_words(z, 0, "Ω")


def _impedance_title(found: list[Curve], f: float) -> str:
    reached = [c for c in found if c.f[0] <= f <= c.f[-1]]
    if not reached:
        return f"None of the chokes has data at {megahertz(f)}"
    said = []
    for curve in reached[:2]:
        z = curve.at(f)
        text = f"{curve.short()} is {said_impedance(z)}"
        if curve.kind == "coil":
            text += ", capacitive" if z.imag < 0 else ", inductive"
        said.append(text)
    return f"At {megahertz(f)} {'; '.join(said)}"


def choke_impedance(results: Path) -> None:
    """Resistance and reactance of each kind of choke over frequency, with the band marked."""
    cast, table = load_cast(results), read_table(results, "choke_impedance")
    found = curves(cast, table)
    f = cast.frequency
    title = _impedance_title(found, f)
    at_f = [c for c in found if c.f[0] <= f <= c.f[-1]]
    values = "; ".join(f"{c.short()} {said_impedance(c.at(f))}" for c in at_f[:8])
    notes = (
        Note(
            "only resistance takes power out of the cable's current; reactance detunes the cable, "
            "for better or worse",
            INK,
        ),
        Note(f"at {megahertz(f)}: {values}", STEEL),
    )
    evidence = (
        "evidence: formulas and catalogue data, no field computation; ferrite varies by a fifth to "
        "a third from piece to piece; a coil above its resonance is not a lumped part"
    )
    page = open_page(cast.words(title, notes, evidence), 6.0)
    top = page.panel(LEFT, 3.35, WIDE, 2.4)
    low = page.panel(LEFT, 0.55, WIDE, 2.4, sharex=top)
    ends: list[tuple[list[EndLabel], list[EndLabel]]] = []
    for k, curve in enumerate(found):
        ends.append(_curve(top, low, curve, COLOURS[k] if k < len(COLOURS) else MIST))
    _impedance_axes(top, low, cast)
    named = ends[: len(COLOURS)]
    label_ends(top, [e for pair in named for e in pair[0]], RIGHT)
    label_ends(low, [e for pair in named for e in pair[1]], RIGHT)
    save(page.figure, results / "figures" / "choke_impedance", title)


def _curve(top: Axes, low: Axes, c: Curve, colour: str) -> tuple[list[EndLabel], list[EndLabel]]:
    width = 0.8 if colour == MIST else 1.9
    labels: tuple[list[EndLabel], list[EndLabel]] = ([], [])
    for ax, y, store in ((top, c.z.real, labels[0]), (low, c.z.imag, labels[1])):
        ax.plot(c.f / 1e6, y, color=colour, lw=width, ls=DASHES[colour], gid=f"choke-{c.choke}")
        store.append(EndLabel(float(y[-1]), c.short(), colour))
    return labels


def _impedance_axes(top: Axes, low: Axes, cast: Cast) -> None:
    start, stop = (v / 1e6 for v in cast.summary["study"]["band_hz"])
    top.set_xscale("log")
    top.set_yscale("log")
    top.set_ylim(0.1, 3e5)
    low.set_yscale("symlog", linthresh=10, linscale=0.6)
    low.set_ylim(-1e5, 1e5)
    low.axhline(0, color=STEEL, lw=0.8)
    low.set_xlim(1, 450)
    low.set_xticks([1, 3, 10, 30, 100, 300])
    low.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
    low.xaxis.set_minor_formatter(NullFormatter())
    top.tick_params(labelbottom=False)
    top.set_yticks([0.1, 1, 10, 100, 1e3, 1e4, 1e5])
    top.yaxis.set_major_formatter(FuncFormatter(_ohms))
    low.set_yticks([-1e5, -1e4, -1e3, -100, -10, 0, 10, 100, 1e3, 1e4, 1e5])
    low.yaxis.set_major_formatter(FuncFormatter(_ohms))
    for ax in (top, low):
        ax.minorticks_off()
        ax.axvspan(start, stop, color=SEA, alpha=0.35, lw=0)
    top.text(
        cast.frequency / 1e6,
        3.6e5,
        megahertz(cast.frequency),
        size=SMALL,
        color=SEA,
        ha="center",
        va="bottom",
    )
    top.set_title("resistance", loc="left", size=SMALL, color=STEEL, pad=4)
    low.set_title(
        "reactance: above zero inductive, below capacitive",
        loc="left",
        size=SMALL,
        color=STEEL,
        pad=4,
    )
    top.set_ylabel("R [Ω]")
    low.set_ylabel("X [Ω]")
    low.set_xlabel("frequency [MHz], logarithmic")


def _ohms(value: float, _: object = None) -> str:
    if abs(value) >= 1e3:
        return f"{number(value / 1e3, 'g')} k"
    return number(value, "g")


def _empty(cast: Cast, target: Path) -> None:
    page = open_page(cast.words(_NOTHING, (), "evidence: none needed"), 0.3)
    save(page.figure, target, _NOTHING)


def _count_title(rows: Table) -> str:
    ratio = rows.number("station_current_ratio")
    count = rows.number("count").astype(int)
    half = (
        int(np.argmax(ratio <= 0.5 * ratio[0]))
        if (ratio <= 0.5 * ratio[0]).any()
        else len(ratio) - 1
    )
    last = len(ratio) - 1
    label = shorten(str(rows.text("label")[0]), 40)
    what, take = ("core", "takes") if count[half] == 1 else ("cores", "take")
    title = (
        f"{in_words(count[half]).capitalize()} {what} ({label}) {take} the current at the radio "
        f"from {percent(ratio[0])} to {percent(ratio[half])}"
    )
    if half < last:
        title += f"; {in_words(count[last] - count[half])} more only to {percent(ratio[last])}"
    return title


def core_count(results: Path) -> None:
    """What each further core at the feed brings: pattern and current at the radio."""
    cast, table = load_cast(results), read_table(results, "core_count")
    target = results / "figures" / "core_count"
    if not len(table):
        _empty(cast, target)
        return
    cores = table.distinct("core")
    title = _count_title(table.where(core=cores[0]))
    notes = [Note(f"dotted: where a change begins to be visible; {BESIDE}", STEEL)]
    if "unsound" in table.text("grade"):
        notes.append(Note(f"dashed: {UNSOUND}", BRICK, UNSOUND_DASH))
    page = open_page(cast.words(title, tuple(notes)), 4.6)
    for k, kind in enumerate(_COUNT_PANELS):
        ax = page.panel(LEFT, 2.6 - 2.1 * k, WIDE, 1.72)
        _count_panel(ax, table, kind, cast.threshold(kind.threshold))
        ax.tick_params(labelbottom=k == 1)
    ax.set_xlabel("number of cores at the feed")
    save(page.figure, target, title)


@dataclass(frozen=True)
class Panel:
    """One column of a table as a panel: scale to its unit, heading, threshold of the study."""

    column: str
    scale: float
    unit: str
    heading: str
    threshold: str


_STATION = Panel(
    "station_current_ratio",
    100.0,
    "[% of feed current]",
    "current that reaches the radio",
    "station_ratio",
)
_PATTERN = Panel(
    "pattern_change_rms_db", 1.0, "[dB rms]", "change of the low-angle pattern", "pattern_rms_db"
)
_COUNT_PANELS = (_STATION, _PATTERN)


def _count_panel(ax: Axes, table: Table, kind: Panel, limit: float) -> None:
    ends = []
    for n, core in enumerate(table.distinct("core")):
        colour = COLOURS[1:][n] if n < len(COLOURS) - 1 else MIST
        ends.append(_count_line(ax, table.where(core=core), kind.column, kind.scale, colour))
    ax.axhline(kind.scale * limit, color=STEEL, lw=1.1, ls=":")
    ax.set_ylim(bottom=0)
    ax.set_xlim(left=0, right=float(table.number("count").max()))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_ylabel(kind.unit)
    ax.set_title(kind.heading, loc="left", size=SMALL, color=STEEL, pad=4)
    label_ends(ax, ends[: len(COLOURS) - 1], RIGHT)


def _count_line(ax: Axes, rows: Table, column: str, scale: float, colour: str) -> EndLabel:
    x, y = rows.number("count"), scale * rows.number(column)
    unsound = "unsound" in rows.text("grade")
    ax.plot(
        x,
        y,
        color=colour,
        lw=1.9,
        marker="o",
        ms=4,
        ls=UNSOUND_DASH if unsound else DASHES[colour],
        gid=f"core-{rows.text('core')[0]}",
        clip_on=False,
    )
    if not unsound:
        low, high = (scale * end for end in rows.ends(column))
        shade(ax, x, (low, high), colour, str(rows.text("core")[0]))
    name = shorten(str(rows.text("label")[0]).split(",")[0], 42)
    return EndLabel(float(y[-1]), f"{name}: {UNSOUND}" if unsound else name, colour)


def _moved(rows: Table) -> str:
    """What is moved along the cable, and its verb."""
    count = int(rows.number("count")[0])
    if rows.text("kind")[0] != "ferrite":
        return "The choke leaves"
    return f"{in_words(count).capitalize()} cores leave" if count > 1 else "One core leaves"


def _position_note(rows: Table) -> str:
    label, count = shorten(str(rows.text("label")[0]), 80), int(rows.number("count")[0])
    if rows.text("kind")[0] != "ferrite":
        return f"moved: {label}"
    return f"{count} core{'s' if count > 1 else ''}: {label}"


def _position_title(rows: Table, wavelength: float) -> str:
    """Where the choke leaves least and most, by the score that the verdict goes by."""
    at, scores = rows.number("position_m").tolist(), rows.number("score").tolist()
    places = tried_places(at, scores, wavelength)
    best, worst = best_place(places), max(places, key=lambda place: place.score)
    return (
        f"{_moved(rows)} least at {large(best.position)} ({times(best.score)}) and most at "
        f"{large(worst.position)} ({times(worst.score)})"
    )


def choke_position(results: Path) -> None:
    """The same choke slid along the cable: where it helps and where it makes things worse."""
    cast, rows = load_cast(results), read_table(results, "choke_position")
    target = results / "figures" / "choke_position"
    if not len(rows):
        _empty(cast, target)
        return
    title = _position_title(rows, speed_of_light / cast.frequency)
    unsound = "unsound" in rows.text("grade")
    notes = [
        Note(
            _position_note(rows) + ("" if unsound else f"; {BESIDE}"),
            SEA,
        ),
        Note("no choke; filled: worse than that", BRICK, DASHES[OCHRE]),
    ]
    if unsound:
        notes.append(Note(f"dashed: {UNSOUND}", BRICK, UNSOUND_DASH))
    places = landmarks(load_structure(results / "geometry" / f"{CABLE}.json"))
    page = open_page(cast.words(title, tuple(notes)), 5.15)
    for k, kind in enumerate((_PATTERN, _STATION)):
        ax = page.panel(0.66, 2.92 - 2.4 * k, 5.8 - 0.66 - 0.3, 1.75)
        _position_panel(ax, rows, kind, cast.value(NONE, kind.column), unsound)
        length_axis(ax.xaxis, "distance along the cable from the antenna" if k else "")
        ax.tick_params(labelbottom=k == 1)
        if k == 0:
            mark_places(ax, places)
    save(page.figure, target, title)


def _position_panel(ax: Axes, rows: Table, kind: Panel, bare: float, unsound: bool) -> None:
    x, y = rows.number("position_m"), kind.scale * rows.number(kind.column)
    level = kind.scale * bare
    ax.fill_between(
        x, level, y, where=(y > level).tolist(), interpolate=True, color=BRICK, alpha=0.25, lw=0
    )
    ax.axhline(level, color=BRICK, lw=1.5, ls=DASHES[OCHRE])
    ax.plot(x, y, color=SEA, lw=1.6, marker="o", ms=2.6, ls=UNSOUND_DASH if unsound else SOLID)
    if not unsound:
        low, high = (kind.scale * end for end in rows.ends(kind.column))
        shade(ax, x, (low, high), SEA, "position")
    ax.set_xlim(0, float(x.max()))
    ax.set_ylim(0, 1.25 * max(float(y.max()), level))
    ax.set_ylabel(kind.unit)
    ax.text(0.99, 0.97, kind.heading, transform=ax.transAxes, size=SMALL, ha="right", va="top")
