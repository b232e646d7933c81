"""Figures of a batch: how often nothing is needed, how many cores are, what a drawn choke does.

Drawn from the batch's summary as plain data; a group is one antenna on one band.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.ticker import NullLocator

from pipeline.figures.page import (
    Note,
    Page,
    Texts,
    heading,
    label_rows,
    log_ticks,
    open_page,
    open_rows,
)
from pipeline.figures.registry import figure
from pipeline.figures.style import (
    BRICK,
    FERN,
    INK,
    MARKS,
    MIST,
    OCHRE,
    PAPER,
    PLUM,
    SEA,
    SMALL,
    SOLID,
    STEEL,
    Look,
    shorten,
    wrap,
)
from pipeline.text.formatting import listed, plain, whole_percent

PAGE = "batch"
Summary = Mapping[str, Any]
# Rows of groups: their names, the axes beside them, and the height of one. [inch]
_LEFT, _WIDE, _ROW = 2.15, 3.35, 0.24
# Small panels, three in a row: the first's left edge, size, and from one to the next. [inch]
_FIRST, _ACROSS, _PANEL_WIDE, _PANEL_TALL, _DOWN = 0.5, 1.78, 1.52, 0.86, 1.6
_COLUMNS = 3
# More cores than these cannot be told apart by colour and mark, more places not by width.
_COLOURS = (SEA, BRICK, INK, OCHRE, PLUM, FERN)
_PLACE_WIDTHS = (1.7, 1.1, 0.8, 0.6)
_LONGEST_NAME = 60
# A bar of fewer installations says nothing.
_FEWEST = 5
_OUTCOMES = (
    ("better", "blue: better than no choke", SEA, ""),
    ("no_matter", "grey: no matter", MIST, ""),
    ("worse", "hatched: worse than no choke, and visible", BRICK, "////"),
)


def _texts(summary: Summary, title: str, *notes: Note) -> Texts:
    grades = summary["all"]["grades"]
    counts = [f"{n} {grade}" for grade, n in grades["counts"].items() if n]
    evidence = f"evidence: {grades['drawings']} drawings, {listed(counts)}; unsound ones left out"
    return Texts(title, notes, evidence, f"{shorten(str(summary['title']), 100)} · Braidwise")


def _with_bare(summary: Summary) -> list[Mapping[str, Any]]:
    """Groups of which the bare cable is known, what needs nothing most often first."""
    known = [group for group in summary["groups"] if group["bare"]]
    return sorted(known, key=lambda g: -g["bare"]["nothing"]["value"])


def _rows(page: Page, groups: Sequence[Mapping[str, Any]]) -> Axes:
    """Axes with a row for each group, named at the left."""
    ax = page.panel(_LEFT, 0.5, _WIDE, _ROW * len(groups))
    open_rows(ax, len(groups))
    label_rows(ax, [_name(group, 48) for group in groups], _LEFT - 0.3)
    return ax


def _name(group: Mapping[str, Any], most: int) -> str:
    """Name of a group in so many letters; the band behind the last comma is never cut off."""
    name = plain(group["name"])
    front, comma, band = name.rpartition(", ")
    if len(name) <= most or not comma:
        return shorten(name, most)
    return f"{shorten(front, max(most - len(band) - 2, 12))}, {band}"


def _room(groups: Sequence[Mapping[str, Any]]) -> float:
    return 0.6 + _ROW * len(groups)


def _percent(value: float) -> float:
    return 100 * value


def _range_words(values: Sequence[float]) -> str:
    low, high = (f"{_percent(end):.0f}" for end in (min(values), max(values)))
    return f"{low} %" if low == high else f"{low} to {high} %"


@figure(PAGE, 10, optional=True)
def nothing_needed(summary: Summary) -> Page | None:
    """Share of the installations of each antenna whose cable needs nothing, with 95 % intervals,
    and of those where the change without a choke is strong.
    """
    groups = _with_bare(summary)
    if not groups:
        return None
    shares = [group["bare"]["nothing"]["value"] for group in groups]
    title = (
        f"No choke is needed in {_range_words(shares)} of the installations, by antenna and band"
    )
    notes = (
        Note("dot: nothing needed, with its 95 % interval", SEA),
        Note("open diamond: the change without a choke is strong", BRICK),
    )
    page = open_page(_texts(summary, title, *notes), _room(groups))
    ax = _rows(page, groups)
    for row, group in enumerate(groups):
        nothing, strong = group["bare"]["nothing"], group["bare"]["strong"]
        ends = [_percent(nothing["low"]), _percent(nothing["high"])]
        ax.plot(ends, [row, row], color=SEA, lw=2.2, solid_capstyle="butt")
        ax.plot(_percent(nothing["value"]), row, "o", color=SEA, ms=5)
        at = _percent(strong["value"])
        ax.plot(at, row, "D", mfc="none", mec=BRICK, ms=4.5, clip_on=False, zorder=4)
    ax.set_xlim(0, 100)
    ax.set_xlabel("share of the installations [%]")
    return page


@figure(PAGE, 20, optional=True)
def score_without(summary: Summary) -> Page | None:
    """Change without a choke in units of what is just visible: middle, half and nine tenths of the
    installations of each antenna.
    """
    groups = _with_bare(summary)
    if not groups:
        return None
    medians = [group["bare"]["score"]["50"] for group in groups]
    visible = sum(m > summary["limits"]["visible"] for m in medians)
    title = (
        "Without a choke the change is visible in more than half of the installations on "
        f"{visible or 'none'} of {len(groups)} antennas and bands"
    )
    notes = (
        Note("dot: middle; thick: half of the installations; thin: nine tenths", BRICK),
        Note("lines at 1, just visible, and at 3, from which it is strong", INK),
    )
    page = open_page(_texts(summary, title, *notes), _room(groups))
    ax = _rows(page, groups)
    ax.set_xscale("log")
    least = 0.1
    for row, group in enumerate(groups):
        score = {key: max(value, least / 2) for key, value in group["bare"]["score"].items()}
        ax.plot([score["5"], score["95"]], [row, row], color=BRICK, lw=0.9)
        half = [score["25"], score["75"]]
        ax.plot(half, [row, row], color=BRICK, lw=4, alpha=0.55, solid_capstyle="butt")
        ax.plot(score["50"], row, "o", color=BRICK, ms=5)
    most = max(group["bare"]["score"]["95"] for group in groups)
    for limit in (summary["limits"]["visible"], summary["limits"]["strong"]):
        ax.axvline(limit, color=INK, lw=0.9)
    ax.set_xlim(least, max(10.0, 1.2 * most))
    log_ticks(
        ax.xaxis, [t for t in (0.1, 0.3, 1, 3, 10, 30, 100) if t <= max(10, most)], "{:g}".format
    )
    ax.xaxis.set_minor_locator(NullLocator())
    ax.set_xlabel("largest change, in units of what is just visible")
    return page


def _panels(
    page: Page, groups: Sequence[Mapping[str, Any]]
) -> Iterator[tuple[Mapping[str, Any], Axes]]:
    """A small panel for each group, three in a row, those of a row named alike."""
    count = -(-len(groups) // _COLUMNS)
    for k, group in enumerate(groups):
        row, column = divmod(k, _COLUMNS)
        bottom = 0.55 + _DOWN * (count - 1 - row)
        ax = page.panel(_FIRST + _ACROSS * column, bottom, _PANEL_WIDE, _PANEL_TALL)
        said = wrap(_name(group, 32), _PANEL_WIDE + 0.15, SMALL)
        heading(ax, "\n".join(said[:2]), INK)
        ax.set_ylim(0, 100)
        ax.tick_params(labelsize=SMALL - 1.5, labelleft=not column)
        yield group, ax


def _panel_room(groups: Sequence[Mapping[str, Any]]) -> float:
    return 0.2 + _DOWN * -(-len(groups) // _COLUMNS)


@figure(PAGE, 30, optional=True)
def cores_enough(summary: Summary) -> Page | None:
    """Share of the installations of each antenna in which so many cores are enough, class by class;
    none is the bare cable. One core more is not always better.
    """
    groups = [group for group in summary["groups"] if group["cores"]]
    if not groups:
        return None
    names = list(dict.fromkeys(cores["name"] for group in groups for cores in group["cores"]))
    colours = {name: (_COLOURS[k] if k < len(_COLOURS) else STEEL) for k, name in enumerate(names)}
    notes = [
        Note(shorten(name, _LONGEST_NAME), c, SOLID, MARKS[c])
        for name, c in colours.items()
        if c != STEEL
    ]
    if STEEL in colours.values():
        notes.append(
            Note(f"{len(names) - len(_COLOURS)} other classes", STEEL, SOLID, MARKS[STEEL])
        )
    if any(cores["place"] for group in groups for cores in group["cores"]):
        notes.append(Note("the thicker a line, the nearer to the antenna", INK))
    page = open_page(_texts(summary, _cores_title(groups), *notes), _panel_room(groups))
    for group, ax in _panels(page, groups):
        of_core: dict[str, int] = {}
        for cores in group["cores"]:
            number = of_core[cores["name"]] = of_core.get(cores["name"], -1) + 1
            y = [_percent(share["value"]) for share in cores["enough"]]
            colour = colours[cores["name"]]
            width = _PLACE_WIDTHS[min(number, len(_PLACE_WIDTHS) - 1)]
            look: Look = {"lw": width, "marker": MARKS[colour], "ms": 1.6 + width}
            ax.plot(cores["counts"], y, color=colour, **look)
        ax.set_yticks([0, 50, 80, 95])
        ax.set_xlim(0, max(cores["most"] for cores in group["cores"]))
    return _named(page, "number of cores", "enough in [%]")


def _named(page: Page, below: str, beside: str) -> Page:
    """A page of panels with its axes named once."""
    tall = page.figure.get_figheight()
    page.figure.text(0.5, (page.bottom + 0.12) / tall, below, ha="center", size=SMALL)
    middle = (page.bottom + 0.5 * (tall - page.bottom)) / tall
    page.figure.text(0.012, middle, beside, va="center", rotation=90, size=SMALL)
    return page


def _cores_title(groups: Sequence[Mapping[str, Any]]) -> str:
    """In how many groups so many cores of the best class are enough in four of five."""
    least = [_least(group["cores"][group["best_cores"]], 0.8) for group in groups]
    reached = [n for n in least if n is not None]
    if not reached:
        return "No number of cores that was tried is enough in four of five installations"
    few = (
        ""
        if len(reached) == len(groups)
        else f", on {len(reached)} of {len(groups)} antennas and bands"
    )
    ends = sorted({min(reached), max(reached)})
    said = " to ".join(str(n) for n in ends)
    return f"{said} cores of the best class are enough in four of five installations{few}"


def _least(cores: Mapping[str, Any], share: float) -> int | None:
    found: int | None = next(x["count"] for x in cores["least"] if x["share"] == share)
    return found


@figure(PAGE, 40, optional=True)
def drawn_beside_none(summary: Summary) -> Page | None:
    """What a coil by its turns, and what else was drawn on the cable, does beside no choke on the
    same installation: better, no matter, or worse and visible.
    """
    groups = groups_of_drawn(summary)
    if not groups:
        return None
    labels = list(dict.fromkeys(_bar(x) for group in groups for x in _bars(group)))
    notes = [Note(f"{said}", INK if c == MIST else c) for _, said, c, _ in _OUTCOMES]
    if any(x["bin"] for group in groups for x in group["drawn"]):
        notes.append(Note("numbers below: turns of the coil", INK))
    if any(_is_thin(each) for group in groups for each in _bars(group)):
        notes.append(Note(f"bars of fewer than {_FEWEST} installations are left out", STEEL))
    page = open_page(_texts(summary, _drawn_title(summary), *notes), _panel_room(groups))
    for group, ax in _panels(page, groups):
        for each in _bars(group):
            if _is_thin(each):
                continue
            bottom, at = 0.0, labels.index(_bar(each))
            for key, _, colour, hatch in _OUTCOMES:
                tall = _percent(each[key]["value"])
                look: Look = {"color": colour, "ec": PAPER, "lw": 0.4, "hatch": hatch}
                ax.bar(at, tall, 0.82, bottom, **look)
                bottom += tall
        ax.set_xlim(-0.6, len(labels) - 0.4)
        ax.set_xticks(range(len(labels)), labels, rotation=50, ha="right", rotation_mode="anchor")
        ax.set_yticks([0, 50, 100])
        ax.grid(visible=False, axis="x")
    return _named(page, "", "share of the installations [%]")


def groups_of_drawn(summary: Summary) -> list[Mapping[str, Any]]:
    """Groups on which chokes were drawn, before them all together where they are several."""
    groups = [group for group in summary["groups"] if group["drawn"]]
    together = [{**summary["all"], "name": "all together"}] if len(groups) > 1 else []
    return together + groups


def _is_thin(each: Mapping[str, Any]) -> bool:
    return bool(each["better"]["installations"] < _FEWEST)


def _bars(group: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Bins of a kind where it has some, else the kind as a whole."""
    binned = {each["kind"] for each in group["drawn"] if each["bin"]}
    return [each for each in group["drawn"] if each["bin"] or each["kind"] not in binned]


def _bar(each: Mapping[str, Any]) -> str:
    return str(each["bin"] or each["kind"])


def _drawn_title(summary: Summary) -> str:
    every = [each for each in summary["all"]["drawn"] if not each["bin"]]
    said = [
        f"a {plain(each['kind'])} is better than no choke in "
        f"{whole_percent(each['better']['value'])} of the installations and worse in "
        f"{whole_percent(each['worse']['value'])}"
        for each in every
    ]
    text = "; ".join(said)
    return text[:1].upper() + text[1:]
