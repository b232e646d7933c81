"""Figures of the answer: chances of every candidate, causes of the spread, what money buys.

Drawn from the answer's tables (candidates, causes, front), whose words are those of
``pipeline.answer``; nothing is ranked here.
"""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from pipeline.answer.phrases import hundredths, of_hundred
from pipeline.answer.ranking import RARE
from pipeline.answer.record import SURE
from pipeline.figures.data import Cases, Table
from pipeline.figures.page import (
    Note,
    Page,
    Texts,
    label_rows,
    open_page,
    open_rows,
    width_of,
)
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    BRICK,
    FERN,
    INK,
    MIST,
    OCHRE,
    PAPER,
    SEA,
    SMALL,
    STEEL,
    Look,
    alike,
)
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import number, percent

_LEFT, _RIGHT = 2.1, 1.05
_ROW = 0.36
# More rows than these no reader takes in; the table has all of them.
_MOST_ROWS = 14
# Below a hundredth a cause has no bar of its own; the table has all of them.
_LEAST_SHARE = 0.01
_CLASSES = (("enough", FERN), ("noticeable", OCHRE), ("strong", BRICK), ("worse", INK))
_STRENGTH = {"enough": 0.5, "noticeable": 0.4, "strong": 0.55, "worse": 0.75}
# A page in the dark has no black.
_HATCHES = {"worse": "////"}


def _texts(cases: Cases, title: str, *notes: Note) -> Texts:
    """Texts around a figure of the answer: the evidence is how much was drawn."""
    found = cases.summary["answer"]
    evidence = f"{found['geometries']} geometries solved, {found['draws']} draws on each"
    return cases.texts(title, *notes, evidence=evidence)


def _beside(ax: Axes, k: int, text: str, colour: str = INK) -> None:
    """A number right of a row."""
    place = 1 + 0.09 / width_of(ax), k
    look: Look = {"transform": ax.get_yaxis_transform(), "va": "center", "size": SMALL}
    ax.text(*place, text, color=colour, **look)


# Chances


def _shown(table: Table) -> Table:
    """References, then the cheapest first; of very many the chosen, those to avoid, the cheap."""
    case, chosen = table.text("case"), table.text("chosen") == "yes"
    first = np.select([case == NONE, case == IDEAL], [0, 1], 2)
    told = np.where(chosen | (table.number("worse") >= RARE), 0, 1)
    cost = np.nan_to_num(table.number("cost"), nan=np.inf)
    enough = table.number("enough")
    kept = np.lexsort((-enough, cost, told, first))[:_MOST_ROWS]
    order = kept[np.lexsort((-enough[kept], cost[kept], first[kept]))]
    return Table({name: cells[order] for name, cells in table.columns.items()})


def _chances_title(table: Table) -> str:
    chosen = table.select(chosen="yes")
    enough, bare = (float(t.number("enough")[0]) for t in (chosen, table.select(case=NONE)))
    wanted = f"{100 * SURE:.0f} are wanted"
    if chosen.text("case")[0] == NONE:
        return f"No choke: harmless in {of_hundred(enough)} {alike()}; {wanted}"
    return (
        f"The chosen choke is enough in {of_hundred(enough)} {alike()}, going without in "
        f"{hundredths(bare)}; {wanted}"
    )


@figure(REPORT, 70, table="candidates", section="candidates")
def chances(cases: Cases, table: Table) -> Page:
    """In how many of a hundred installations like yours each candidate is enough."""
    rows = _shown(table)
    notes = [
        Note(
            "green: nothing to be seen; yellow: noticeable; red: strong; hatched: worse than none"
        ),
        Note("point with bar: chance of being enough, two standard errors either way", SEA),
        Note(f"line: {100 * SURE:.0f} of 100, from where on a choke is enough", STEEL),
    ]
    more = len(table) - len(rows)
    rest = f"; {more} more in the table of candidates" if more else ""
    notes.append(Note(f"references first, then by cost{rest}", STEEL))
    tall = _ROW * len(rows)
    page = open_page(_texts(cases, _chances_title(table), *notes), tall + 0.85)
    ax = page.panel(_LEFT, 0.55, page.width - _LEFT - _RIGHT, tall)
    ax.set_xlim(0, 100)
    for k in range(len(rows)):
        _chance(ax, k, rows)
    ax.axvline(100 * SURE, color=STEEL, lw=1.2)
    open_rows(ax, len(rows))
    bold = (rows.text("chosen") == "yes").tolist()
    label_rows(ax, rows.text("name").tolist(), _LEFT - 0.3, bold)
    ax.set_xlabel(f"of 100 {alike()}")
    return page


def _chance(ax: Axes, k: int, rows: Table) -> None:
    """One candidate: the parts of all draws, and the chance of being enough."""
    left = 0.0
    for name, colour in _CLASSES:
        part = 100 * float(rows.number(name)[k])
        look: Look = {"alpha": _STRENGTH[name], "hatch": _HATCHES.get(name), "ec": PAPER, "lw": 0}
        ax.barh(k, part, 0.56, left=left, color=colour, **look)
        left += part
    enough, error = (100 * float(rows.number(n)[k]) for n in ("enough", "enough_error"))
    ends = np.clip([enough - 2 * error, enough + 2 * error], 0, 100)
    ax.plot(ends, [k, k], color=SEA, lw=2.2, clip_on=False, zorder=4)
    ax.plot([enough], [k], "o", color=SEA, ms=5, clip_on=False, zorder=5)
    _beside(ax, k, hundredths(enough / 100), SEA if enough >= 100 * SURE else INK)


# Causes


def _causes_title(bare: Table) -> str:
    """The unknown that makes most of the spread, if one stands out from chance."""
    single = bare.keep(bare.text("unknown") != "geometry")
    if not len(single):
        return "The study leaves nothing open"
    share = single.number("share")
    certain = single.keep(share > single.number("noise"))
    if not len(certain):
        return "No single unknown stands out from chance"
    top = int(np.argmax(certain.number("share")))
    said, part = certain.text("label")[top], float(certain.number("share")[top])
    chance = float(certain.number("noise")[top])
    beside = f" (chance alone: up to {percent(chance)})" if part < 2 * chance else ""
    return f"{percent(part)} of the spread without a choke comes from {said}{beside}"


def _chosen_shares(table: Table) -> tuple[Table, Table]:
    """Rows of the bare cable and of the chosen choke; no second where there is none."""
    bare = table.select(case=NONE)
    return bare, table.keep(table.text("case") != NONE)


@figure(REPORT, 40, table="causes", section="sure")
def causes(cases: Cases, table: Table) -> Page:
    """Which unknown makes the spread, each by itself; what is left comes from several together."""
    bare, own = _chosen_shares(table)
    names = dict.fromkeys(zip(bare.text("unknown"), bare.text("joint"), strict=True))
    names |= dict.fromkeys(zip(own.text("unknown"), own.text("joint"), strict=True))
    rows = [(n, _of(bare, *n), _of(own, *n)) for n in names]
    rows = [r for r in rows if max(r[1][1], r[2][1]) >= _LEAST_SHARE or r[0][0] == "geometry"]
    notes = [Note("blue: without a choke; grey tick: what chance alone would show", SEA)]
    if len(own):
        notes.append(Note("yellow: with the chosen choke", OCHRE))
    notes.append(Note("hatched: several unknowns together; first-order shares, from 1 % on", STEEL))
    tall = 0.40 * len(rows)
    page = open_page(_texts(cases, _causes_title(bare), *notes), tall + 0.75)
    ax = page.panel(_LEFT, 0.55, page.width - _LEFT - 0.62, tall)
    most = max(0.1, *(max(b[1], c[1], b[2]) for _, b, c in rows))
    ax.set_xlim(0.0, 112 * most)
    for k, ((_, joint), (_, share, noise), (_, with_choke, _)) in enumerate(rows):
        look: Look = {"hatch": "////" if joint == "yes" else None, "edgecolor": PAPER, "lw": 0}
        ax.barh(k - 0.17, 100 * share, 0.3, color=SEA, **look)
        ax.barh(k + 0.17, 100 * with_choke, 0.3, color=OCHRE, **look)
        ax.plot([100 * noise] * 2, [k - 0.34, k + 0.34], color=MIST, lw=2.0)
        text = f"{number(100 * share, '.0f')} %"
        place: Look = {"transform": ax.get_yaxis_transform(), "va": "center", "size": SMALL}
        ax.text(1.02, k, text, color=INK, **place)
    open_rows(ax, len(rows))
    label_rows(ax, [b[0] or c[0] for _, b, c in rows], _LEFT - 0.3)
    ax.set_xlabel("share of the spread [%]")
    return page


def _of(table: Table, unknown: str, joint: str) -> tuple[str, float, float]:
    """Label, share and noise of an unknown; nothing where the table has none of it."""
    rows = table.select(unknown=unknown, joint=joint)
    if not len(rows):
        return "", 0.0, 0.0
    return (
        str(rows.text("label")[0]),
        float(rows.number("share")[0]),
        float(rows.number("noise")[0]),
    )


# Cost against chance


def _front_title(table: Table, unit: str) -> str:
    chosen, bare = table.select(chosen="yes"), table.select(set=NONE)
    if not len(chosen):
        return "What nothing betters in cost, change and heat at once"
    enough = of_hundred(float(chosen.number("enough")[0]))
    if chosen.text("set")[0] == NONE:
        return f"Nothing to pay: without a choke nothing is to be seen in {enough}"
    cost = _money(float(chosen.number("cost")[0]), unit)
    without = f", no choke in {hundredths(float(bare.number('enough')[0]))}" if len(bare) else ""
    return f"The chosen choke for {cost} is enough in {enough}{without}"


def _money(cost: float, unit: str) -> str:
    if unit == "pieces":
        return f"{cost:.0f} piece{'' if round(cost) == 1 else 's'}"
    return f"{cost:.2f} {unit}"


@figure(REPORT, 60, table="front", section="cost")
def front(cases: Cases, table: Table) -> Page:
    """What more money, or more pieces, would buy; like classes of ferrite are one point."""
    unit = str(table.text("currency")[0]) or "pieces"
    notes = (
        Note(
            "points: bettered by no other set in cost, change and heat; of classes of ferrite that "
            "cannot be told apart one stands for all; ring: the chosen one",
            SEA,
        ),
        Note(f"line: {100 * SURE:.0f} of 100, from where on a choke is enough", FERN),
    )
    page = open_page(_texts(cases, _front_title(table, unit), *notes), 4.3)
    wide = page.width - 0.66 - 0.25
    upper, lower = page.panel(0.66, 1.85, wide, 2.25), page.panel(0.66, 0.55, wide, 1.1)
    cost, enough = table.number("cost"), 100 * table.number("enough")
    chosen = table.text("chosen") == "yes"
    upper.axhspan(100 * SURE, 100, color=FERN, alpha=0.13, lw=0)
    upper.axhline(100 * SURE, color=FERN, lw=1.0)
    upper.set_ylim(min(0.9 * float(enough.min()), 88.0), 100.5)
    upper.set_ylabel("enough in, of 100")
    for ax, values in ((upper, enough), (lower, 100 * table.number("heat_share_95"))):
        ax.plot(cost, values, "o", color=SEA, ms=5, clip_on=False)
        ring: Look = {"mfc": "none", "mec": BRICK, "mew": 1.8, "ms": 11, "clip_on": False}
        ax.plot(cost[chosen], values[chosen], "o", **ring)
        ax.set_xlim(left=-0.03 * max(1.0, float(cost.max())))
    upper.tick_params(labelbottom=False)
    lower.set_ylim(bottom=0.0)
    lower.set_ylabel("heat [%]")
    lower.set_xlabel(f"cost [{unit}]")
    return page
