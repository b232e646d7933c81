"""Figures of the chokes themselves: impedance over frequency, how many cores, and where."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from models.catalogues.core_curves import spread_of_readings
from models.lengths import large
from models.quantities import SPEED_OF_LIGHT
from pipeline.chokes.kinds import kind_of
from pipeline.figures.data import UNSOUND, Cases, Table, landmarks, read_table, unsound_note
from pipeline.figures.feed_line import BESIDE, mark_places
from pipeline.figures.page import (
    LEFT,
    EndLabel,
    Note,
    Page,
    heading,
    label_ends,
    length_axis,
    log_ticks,
    open_page,
    shade,
)
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    BRICK,
    CHOSEN_LINE,
    FERN,
    INK,
    MARKS,
    NONE_LINE,
    OCHRE,
    OTHER_DASH,
    OTHER_LINE,
    PLUM,
    SEA,
    SMALL,
    STEEL,
    UNSOUND_DASH,
    Look,
    Stroke,
    alike,
    shorten,
)
from pipeline.judgement.choke_places import best_place, tried_places
from pipeline.solver.cases import NONE
from pipeline.text.formatting import impedance_words, in_words, megahertz, number, percent, times

_LEFT, _RIGHT = 0.84, 1.42
# Beside the chosen one; curves beyond these are thin and grey, a reader cannot hold more apart.
_COLOURS = (OCHRE, PLUM, FERN, BRICK, INK)
_NOTHING = "This study has no ferrite candidates, so there is nothing to draw here"


@dataclass(frozen=True)
class Curve:
    """Impedance of one choke over frequency."""

    choke: str
    label: str
    kind: str
    f: NDArray[np.float64]
    z: NDArray[np.complex128]

    def reaches(self, f: float) -> bool:
        """Whether it holds a frequency [Hz]."""
        return bool(self.f[0] <= f <= self.f[-1])

    def at(self, f: float) -> complex:
        """Impedance at a frequency inside the curve, along a line over log f. [ohm]"""
        x = np.log(self.f)
        return complex(np.interp(np.log(f), x, self.z.real), np.interp(np.log(f), x, self.z.imag))

    @property
    def holds_to(self) -> float:
        """Frequency up to which it is to be believed: of a coil its first resonance. [Hz]

        There the reactance falls through zero; above it a coil is a line, and no lumped part.
        """
        turns = np.flatnonzero((self.z.imag[:-1] > 0) & (self.z.imag[1:] <= 0))
        if not kind_of(self.kind).is_inductor or not len(turns):
            return float(self.f[-1])
        return float(self.f[turns[0]])

    @property
    def short(self) -> str:
        """Name for beside a curve."""
        return shorten(self.label.split(" (handbook")[0], 40)


def _curves(cases: Cases, table: Table) -> list[Curve]:
    """Curves of a table, coils first, so that colours go to what differs most."""
    kinds = dict(cases.table.rows("case", "kind"))
    found = []
    for choke in table.distinct("choke"):
        rows = table.select(choke=choke)
        z = rows.number("r_ohm") + 1j * rows.number("x_ohm")
        kind = kinds.get(choke, "")
        found.append(Curve(choke, str(rows.text("label")[0]), kind, rows.number("frequency_hz"), z))
    found.sort(key=lambda c: not kind_of(c.kind).is_inductor)
    first = {curve.kind: curve for curve in reversed(found)}
    return sorted(found, key=lambda c: first[c.kind] is not c)


def _lines(names: Iterable[str], chosen: str) -> dict[str, Stroke]:
    """Line of each of several chokes by name: the chosen one's own, the others by colour."""
    left = iter(_COLOURS)
    return {
        name: CHOSEN_LINE if name == chosen else Stroke(colour, OTHER_DASH, 1.5)
        for name in names
        if (colour := SEA if name == chosen else next(left, ""))
    }


def _chosen_curve(cases: Cases, found: list[Curve]) -> str:
    """Choke whose curve is the chosen one's: itself, or one core of its class; empty for none."""
    cores = dict(read_table(cases.results, "candidates").rows("case", "core"))
    own = cores.get(cases.chosen, "")
    same = (c.choke for c in found if own and cores.get(c.choke) == own)
    return next((c.choke for c in found if c.choke == cases.chosen), next(same, ""))


def _impedance(z: complex) -> str:
    """Impedance [ohm] in print, in kilohm where it is large.

    Examples
    --------
    >>> _impedance(168.1 - 24.2j), _impedance(0.002 + 6j), _impedance(107522 - 42j)
    ('168 − j24 Ω', '0 + j6 Ω', '108 + j0 kΩ')
    """
    return impedance_words(z / 1e3, 0, "kΩ") if abs(z) >= 9999.5 else impedance_words(z, 0, "Ω")


def _impedance_title(found: list[Curve], f: float) -> str:
    if not found:
        return f"None of the chokes has data at {megahertz(f)}"
    return f"At {megahertz(f)} {'; '.join(_said_of(curve, f, 'is ') for curve in found[:2])}"


def _said_of(curve: Curve, f: float, verb: str = "") -> str:
    """A choke and its impedance at a frequency [Hz]; of a coil beyond its resonance only that."""
    if f > curve.holds_to:
        beyond = f"beyond its resonance at {megahertz(curve.holds_to, 1)}"
        return f"{curve.short} {verb}{beyond}"
    text = f"{curve.short} {verb}{_impedance(curve.at(f))}"
    return f"{text}, inductive" if kind_of(curve.kind).is_inductor else text


@figure(REPORT, 50, section="avoid")
def choke_impedance(cases: Cases, table: Table) -> Page:
    """What each choke puts in the current's way."""
    found, f = _curves(cases, table), cases.frequency
    at_f = [curve for curve in found if curve.reaches(f)]
    at_f.sort(key=lambda curve: f > curve.holds_to)
    values = "; ".join(_said_of(curve, f) for curve in at_f[:8])
    least, most = spread_of_readings()
    texts = cases.texts(
        _impedance_title(at_f, f),
        Note(
            "only resistance takes power out of the cable's current; reactance detunes the cable, "
            "for better or worse",
            INK,
        ),
        Note(f"at {megahertz(f)}: {values}", STEEL),
        evidence=(
            "evidence: formulas, prints and measurements, no field computation; readings of "
            f"ferrite parts lie {least:g} to {most:g} times what is computed, by class and "
            "frequency; a coil's peak is what its copper alone leaves, and beyond it, drawn pale, "
            "no formula holds; of a sleeve the least that the range of its length leaves"
        ),
    )
    page = open_page(texts, 6.0)
    wide = page.width - _LEFT - _RIGHT
    top = page.panel(_LEFT, 3.35, wide, 2.4)
    low = page.panel(_LEFT, 0.55, wide, 2.4, sharex=top)
    lines = _lines((curve.choke for curve in found), _chosen_curve(cases, found))
    for curve in found:
        line = lines.get(curve.choke, OTHER_LINE)
        look: Look = {**line.look, "marker": MARKS[line.colour], "ms": 4, "markevery": 0.11}
        here, beyond = curve.f <= curve.holds_to, curve.f >= curve.holds_to
        for ax, y in ((top, curve.z.real), (low, curve.z.imag)):
            ax.plot(curve.f[here] / 1e6, y[here], gid=f"choke-{curve.choke}", **look)
            ax.plot(curve.f[beyond] / 1e6, y[beyond], alpha=0.4, **line.look)
    _impedance_axes(top, low, cases, max(float(abs(curve.z).max()) for curve in found))
    named = [(c, lines[c.choke].colour) for c in found if c.choke in lines]
    label_ends(top, [EndLabel(float(c.z.real[-1]), c.short, colour) for c, colour in named], _RIGHT)
    label_ends(low, [EndLabel(float(c.z.imag[-1]), c.short, colour) for c, colour in named], _RIGHT)
    return page


def _impedance_axes(top: Axes, low: Axes, cases: Cases, most: float) -> None:
    """Axes as far as the largest impedance [ohm], which a resonance may have anywhere."""
    decade = max(5, int(np.ceil(np.log10(most))))
    start, stop = (v / 1e6 for v in cases.summary["study"]["band_hz"])
    top.set(xscale="log", yscale="log", ylim=(0.1, 3 * 10.0**decade))
    low.set_yscale("symlog", linthresh=10, linscale=0.6)
    low.set_ylim(-(10.0**decade), 10.0**decade)
    low.axhline(0, color=STEEL, lw=0.8)
    low.set_xlim(1, 450)
    log_ticks(low.xaxis, [1, 3, 10, 30, 100, 300], "{:g}".format)
    top.tick_params(labelbottom=False)
    log_ticks(top.yaxis, [10.0**k for k in range(-1, decade + 1)], _ohms)
    sizes = [10.0**k for k in range(1, decade + 1, 1 if decade < 6 else 2)]
    log_ticks(low.yaxis, [*(-size for size in reversed(sizes)), 0, *sizes], _ohms)
    for ax in (top, low):
        ax.minorticks_off()
        ax.axvspan(start, stop, color=SEA, alpha=0.35, lw=0)
    f, said = cases.frequency / 1e6, megahertz(cases.frequency)
    top.text(f, 3.6 * 10.0**decade, said, size=SMALL, color=SEA, ha="center", va="bottom")
    heading(top, "resistance")
    heading(low, "reactance: above zero inductive, below capacitive")
    top.set_ylabel("R [Ω]")
    low.set(ylabel="X [Ω]", xlabel="frequency [MHz], logarithmic")


def _ohms(value: float) -> str:
    for size, unit in ((1e6, " M"), (1e3, " k")):
        if abs(value) >= size:
            return f"{number(value / size, 'g')}{unit}"
    return number(value, "g")


def _empty(cases: Cases) -> Page:
    return open_page(cases.texts(_NOTHING, evidence="evidence: none needed"), 0.3)


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


def _count_title(rows: Table, chosen: int) -> str:
    """Current at the radio with none, one, the chosen number and the most cores.

    What is enough is not said here.
    """
    ratio = rows.number("station_current_ratio")
    count = rows.number("count").astype(int)
    label = shorten(str(rows.text("label")[0]), 40)
    shown = [k for k, n in enumerate(count.tolist()) if k and (n in (1, chosen) or n == count[-1])]
    steps = [f"{percent(ratio[k])} with {in_words(count[k])}" for k in shown]
    return f"{percent(ratio[0])} reaches the radio without a core, {', '.join(steps)} ({label})"


@figure(REPORT, 10, section="many")
def core_count(cases: Cases, table: Table) -> Page:
    """What one more core brings, and where it stops being worth it."""
    if not len(table):
        return _empty(cases)
    over = read_table(cases.results, "candidates")
    own = over.select(chosen="yes").text("core")[0]
    core = own if own in table.text("core") else table.distinct("core")[0]
    taken = int(over.select(chosen="yes").number("count")[0]) if core == own else 0
    title = f"As described {_count_title(table.select(core=core), taken)}"
    notes = [
        Note(f"grey line: where a change begins to be visible; {BESIDE}", STEEL),
        Note(f"upright bars: 95 of 100 {alike()}", STEEL),
    ]
    if "unsound" in table.text("grade"):
        notes.append(unsound_note())
    page = open_page(cases.texts(title, *notes), 4.6)
    lines = _lines(table.distinct("core"), own)
    for k, panel in enumerate((_STATION, _PATTERN)):
        ax = page.panel(_LEFT, 2.6 - 2.1 * k, page.width - _LEFT - _RIGHT, 1.72)
        _count_panel(ax, table, panel, lines, cases.threshold(panel.threshold))
        _drawn_ranges(ax, table, panel, lines, over)
        ax.tick_params(labelbottom=k == 1)
    ax.set_xlabel("number of cores at the feed")
    return page


def _count_panel(
    ax: Axes, table: Table, panel: Panel, lines: Mapping[str, Stroke], limit: float
) -> None:
    ends = []
    for core in table.distinct("core"):
        end = _count_line(ax, table.select(core=core), panel, lines.get(core, OTHER_LINE))
        if core in lines:
            ends.append(end)
    ax.axhline(panel.scale * limit, color=STEEL, lw=1.1)
    ax.set_ylim(bottom=0)
    ax.set_xlim(left=0, right=float(table.number("count").max()))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_ylabel(panel.unit)
    heading(ax, panel.heading)
    label_ends(ax, ends, _RIGHT)


def _drawn_ranges(
    ax: Axes, table: Table, panel: Panel, lines: Mapping[str, Stroke], over: Table
) -> None:
    """Range over all draws of each candidate that is one of the cores drawn, all at one place."""
    for n, (core, line) in enumerate(lines.items()):
        here = table.select(core=core)
        known = set(here.number("count").tolist())
        rows = over.select(core=core, position_m=_feed_place(over, core), also_at_m="")
        ends = (panel.scale * rows.number(f"{panel.column}_{end}") for end in ("low", "high"))
        for count, low, high in zip(rows.number("count").tolist(), *ends, strict=True):
            if count in known:
                x = count + 0.05 * (n - 1)
                ax.plot([x, x], [low, high], color=line.colour, lw=3.0, alpha=0.35, zorder=1.6)


def _feed_place(over: Table, core: str) -> str:
    """Place nearest to the antenna at which a core is a candidate, as the table has it."""
    rows = over.select(core=core)
    return str(rows.text("position_m")[np.argmin(rows.number("position_m"))]) if len(rows) else ""


def _count_line(ax: Axes, rows: Table, panel: Panel, line: Stroke) -> EndLabel:
    x, y = rows.number("count"), panel.scale * rows.number(panel.column)
    unsound = "unsound" in rows.text("grade")
    dash, core = UNSOUND_DASH if unsound else line.dash, str(rows.text("core")[0])
    look: Look = {**line.look, "ls": dash, "marker": MARKS[line.colour], "ms": 4}
    ax.plot(x, y, gid=f"core-{core}", clip_on=False, **look)
    if not unsound:
        low, high = (panel.scale * end for end in rows.ends(panel.column))
        shade(ax, x, (low, high), line.colour, core)
    name = shorten(str(rows.text("label")[0]).split(",")[0], 42)
    return EndLabel(float(y[-1]), f"{name}: {UNSOUND}" if unsound else name, line.colour)


def _moved(rows: Table) -> tuple[str, str]:
    """The choke that is moved along the cable: with its verb, and by its label."""
    label, count = shorten(str(rows.text("label")[0]), 80), int(rows.number("count")[0])
    if not kind_of(str(rows.text("kind")[0])).is_counted:
        return "the choke leaves", f"moved: {label}"
    if count > 1:
        return f"{in_words(count)} cores leave", f"{count} cores: {label}"
    return "one core leaves", f"{count} core: {label}"


def _position_title(rows: Table, wavelength: float) -> str:
    """Where the choke leaves least and most, by the largest change over its threshold."""
    at, scores = rows.number("position_m").tolist(), rows.number("score").tolist()
    places = tried_places(at, scores, wavelength)
    best, worst = best_place(places), max(places, key=lambda place: place.score)
    return (
        f"As described {_moved(rows)[0]} least at {large(best.position)} ({times(best.score)}) and "
        f"most at {large(worst.position)} ({times(worst.score)})"
    )


@figure(REPORT, 30, section="place")
def choke_position(cases: Cases, table: Table) -> Page:
    """The same choke slid along the cable: where it helps and where it does not."""
    if not len(table):
        return _empty(cases)
    unsound = "unsound" in table.text("grade")
    texts = cases.texts(
        _position_title(table, SPEED_OF_LIGHT / cases.frequency),
        Note(_moved(table)[1] + ("" if unsound else f"; {BESIDE}"), SEA),
        Note("no choke; filled: worse than that", BRICK, NONE_LINE.dash),
        *([unsound_note()] if unsound else []),
    )
    page = open_page(texts, 5.15)
    for k, panel in enumerate((_PATTERN, _STATION)):
        ax = page.panel(LEFT, 2.92 - 2.4 * k, page.width - LEFT - 0.3, 1.75)
        _position_panel(ax, table, panel, cases.value(NONE, panel.column), unsound)
        length_axis(ax.xaxis, "distance along the cable from the antenna" if k else "")
        ax.tick_params(labelbottom=k == 1)
        if k == 0:
            mark_places(ax, landmarks(cases.cable))
    return page


def _position_panel(ax: Axes, rows: Table, panel: Panel, bare: float, unsound: bool) -> None:
    x, y = rows.number("position_m"), panel.scale * rows.number(panel.column)
    level = panel.scale * bare
    worse = {"where": (y > level).tolist(), "interpolate": True}
    ax.fill_between(x, level, y, color=BRICK, alpha=0.25, lw=0, **worse)
    ax.axhline(level, **NONE_LINE.look)
    look: Look = {**CHOSEN_LINE.look, "lw": 1.6, **({"ls": UNSOUND_DASH} if unsound else {})}
    ax.plot(x, y, marker="o", ms=2.6, **look)
    if not unsound:
        low, high = (panel.scale * end for end in rows.ends(panel.column))
        shade(ax, x, (low, high), SEA, "position")
    ax.set(xlim=(0, float(x.max())), ylim=(0, 1.25 * max(float(y.max()), level)), ylabel=panel.unit)
    said = panel.heading
    ax.text(0.99, 0.97, said, transform=ax.transAxes, size=SMALL, ha="right", va="top")
