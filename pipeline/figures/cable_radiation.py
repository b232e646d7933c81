"""What the cable radiates by itself, beside what the antenna does, as dials."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from pipeline.analysis.pattern_parts import (
    AZIMUTH,
    BY_ALL,
    BY_ANTENNA,
    BY_CABLE,
    BY_OTHERS,
    ELEVATION,
)
from pipeline.figures.data import Cases, Table, unsound_note
from pipeline.figures.dial import (
    Compass,
    Scale,
    dial_panel,
    half_height,
    open_from_above,
    open_from_side,
    round_about,
    scale_for,
    upwards,
)
from pipeline.figures.page import Note, Page, open_page
from pipeline.figures.patterns import compass_of, zero_note
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    BRICK,
    INK,
    MARKS,
    OCHRE,
    SEA,
    SMALL,
    SOLID,
    STEEL,
    Look,
    sheet,
)
from pipeline.solver.cases import NONE
from pipeline.text.formatting import number, percent

# What lies further below the strongest of all nobody receives. [dB]
_DEPTH_DB = 40.0
# Widest dial; heading above each and air between them. [inch]
_WIDEST, _HEAD, _APART = 3.6, 0.3, 0.1
# From mark to mark on a curve, in diagonals of a dial.
_MARKED = 0.12
_LOOKS: dict[str, Look] = {
    BY_ALL: {"color": SEA, "lw": 2.2, "zorder": 3},
    BY_ANTENNA: {"color": INK, "lw": 0.9, "marker": MARKS[INK], "ms": 3.5, "zorder": 3.2},
    BY_OTHERS: {"color": OCHRE, "lw": 1.2, "marker": MARKS[OCHRE], "ms": 3.5, "zorder": 2.8},
    BY_CABLE: {"color": BRICK, "lw": 1.6, "zorder": 3.4},
}
_SAID = {
    BY_CABLE: "the cable's current by itself, with that on its leads to rod and power",
    BY_ANTENNA: "the antenna's current by itself",
    BY_OTHERS: "the current on what stands round them by itself",
    BY_ALL: "all of them together",
}


def _share(table: Table, case: str) -> float:
    return float(table.select(case=case, carrier=BY_CABLE).number("radiated_share")[0])


def _title(cases: Cases, table: Table) -> str:
    told = [f"{percent(_share(table, NONE))} without a choke"]
    if cases.chosen != NONE:
        told.append(f"{percent(_share(table, cases.chosen))} with the chosen one")
    return (
        f"Of the power the cable's current would radiate {', '.join(told)}, were it alone: its "
        "interference with the antenna's field is left out, so that is not what the pattern loses"
    )


@figure(REPORT, 95, section="pattern")
def cable_radiation(cases: Cases, table: Table) -> Page:
    """What the cable radiates by itself, and what the antenna does.

    Their fields add up to the pattern, here stronger, there weaker; their powers do not.
    """
    shown = [cases.of(case) for case in table.distinct("case")]
    unsound = ", ".join(case.id for case in shown if case.is_unsound)
    carriers = [c for c in _SAID if c in table.distinct("carrier")]
    elevation = number(float(table.select(cut=AZIMUTH).number("elevation_deg")[0]), "g")
    compass, grounded = compass_of(cases), cases.summary["study"]["site"]["ground"] is not None
    texts = cases.texts(
        _title(cases, table),
        *(Note(_SAID[c], _LOOKS[c]["color"], SOLID, _LOOKS[c].get("marker", "")) for c in carriers),
        *([unsound_note(f": {unsound}")] if unsound else []),
        Note(
            f"upper: from above at {elevation}° elevation, lower: from the side; gain [dBi] "
            f"against the power into the antenna, from {_DEPTH_DB:g} dB below the strongest on",
            STEEL,
        ),
        zero_note(cases),
    )
    size = min(_WIDEST, (sheet().width - 2 * _APART) / len(shown) - _APART)
    tall = half_height(size) if grounded else size
    page = open_page(texts, size + tall + _HEAD + _APART)
    scale = scale_for(table.number("gain_dbi"), _DEPTH_DB)
    margin = 0.5 * (page.width - len(shown) * size - (len(shown) - 1) * _APART)
    for k, case in enumerate(shown):
        left = margin + k * (size + _APART)
        above = dial_panel(page, left, tall + _APART, size)
        beside = dial_panel(page, left, 0.0, size, half=grounded)
        own = table.select(case=case.id)
        _from_above(above, own.select(cut=AZIMUTH), scale, compass)
        _from_side(beside, own.select(cut=ELEVATION), scale, compass, grounded)
        above.set_title(case.name, size=SMALL + 1, color=case.colour, pad=2)
    return page


def _from_above(ax: Axes, table: Table, scale: Scale, compass: Compass) -> None:
    open_from_above(ax, scale, compass)
    for carrier, look in _LOOKS.items():
        rows = table.select(carrier=carrier)
        if len(rows):
            radius = scale.radius(rows.number("gain_dbi"))
            x, y = round_about(compass, rows.number("azimuth_deg"), radius)
            ax.plot(x, y, gid=f"carrier-{carrier}", markevery=_MARKED, **look)
            if carrier == BY_CABLE:
                _fill(ax, x, y)


def _from_side(ax: Axes, table: Table, scale: Scale, compass: Compass, grounded: bool) -> None:
    sides = table.distinct("azimuth_deg")
    right, left = (compass.name(float(side)) for side in sides)
    open_from_side(ax, scale, (right, left), grounded)
    for carrier, look in _LOOKS.items():
        for side in sides:
            rows = table.select(carrier=carrier, azimuth_deg=side)
            if not len(rows):
                continue
            radius = scale.radius(rows.number("gain_dbi"))
            x, y = upwards(rows.number("elevation_deg"), radius, side != sides[0])
            ax.plot(x, y, markevery=_MARKED, **look)
            if carrier == BY_CABLE:
                _fill(ax, np.append(x, 0.0), np.append(y, 0.0))


def _fill(ax: Axes, x: object, y: object) -> None:
    """What the cable radiates as an area, so that it is found at a glance."""
    ax.fill(x, y, color=BRICK, alpha=0.18, lw=0, zorder=1.6)
