"""Feed impedance on a Smith chart: the way that it takes over the band, with and without a choke.

The chart is that of scikit-rf, drawn in our own colours; only its middle is shown, since that is
where an antenna that is any good stays.
"""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from pipeline.figures.data import Cases, DrawnCase, Table, unsound_note
from pipeline.figures.page import Note, Page, open_page
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import HAIR, INK, MIST, PAPER, SMALL, STEEL, Look, sheet
from pipeline.solver.cases import NONE
from pipeline.text.formatting import impedance_words, megahertz

Complex = NDArray[np.complex128]

# Largest chart [inch], air round it in its own radius.
_LARGEST, _ROOM = 4.4, 1.16
# Ratios on the line at which the chart may end, and those of the circles inside.
_ENDS, _CIRCLES = (1.5, 2.0, 3.0, 5.0, 10.0), (1.2, 1.5, 2.0, 3.0, 5.0)
_MARKS = ("o", "D", "s")


def _reflection(rows: Table, z0: float) -> Complex:
    z = rows.number("r_ohm") + 1j * rows.number("x_ohm")
    return np.asarray((z - z0) / (z + z0))


def _radius_of(ratio: float) -> float:
    """Radius of the circle of a standing-wave ratio on the chart. [-]"""
    return (ratio - 1.0) / (ratio + 1.0)


def _end_for(largest: float) -> float:
    """Ratio at which the chart ends so that it holds a reflection of this size."""
    return next((end for end in _ENDS if 1.08 * largest < _radius_of(end)), np.inf)


def _title(cases: Cases, table: Table) -> str:
    said: list[str] = []
    for case, words in ((NONE, "without a choke"), (cases.chosen, "with the chosen one")):
        if case == NONE and said:
            continue
        rows = table.select(case=case)
        at = int(np.argmin(abs(rows.number("frequency_hz") - cases.frequency)))
        z = complex(rows.number("r_ohm")[at], rows.number("x_ohm")[at])
        said.append(f"{impedance_words(z, 0, 'Ω')} {words}")
    return f"The antenna is {', '.join(said)} at {megahertz(cases.frequency)}"


@figure(REPORT, 117, table="band", section="band")
def smith_chart(cases: Cases, table: Table) -> Page:
    """The way of the feed impedance over the band: the nearer to the middle, the better matched.

    Round the middle it turns with the line's length; a choke moves it only by taking the cable out
    of the antenna.
    """
    z0 = float(cases.summary["study"]["cable"]["z0_ohm"])
    drawn = cases.main(table)
    curves = [(case, _reflection(rows, z0)) for case, rows in drawn]
    end = _end_for(max(float(abs(g).max()) for _, g in curves))
    low, high = (megahertz(f) for f in cases.summary["study"]["band_hz"])
    unsound = ", ".join(case.id for case, _ in drawn if case.is_unsound)
    shown = "the whole chart" if np.isinf(end) else f"the chart as far as an SWR of {end:g}"
    texts = cases.texts(
        _title(cases, table),
        *(Note(cases.told(case), case.colour, case.line["ls"]) for case, _ in drawn),
        *([unsound_note(f": {unsound}")] if unsound else []),
        Note(
            f"point: {low}; diamond: {megahertz(cases.frequency)}, the design frequency; square: "
            f"{high}",
            STEEL,
        ),
        Note(f"{shown}, in a line of {z0:g} Ω; circles round the middle: SWR", STEEL),
    )
    size = min(_LARGEST, sheet().width - 0.2)
    page = open_page(texts, size)
    ax = page.panel(0.5 * (page.width - size), 0.0, size, size)
    _chart(ax, 1.0 if np.isinf(end) else _radius_of(end), z0)
    frequency = drawn[0][1].number("frequency_hz")
    middle = int(np.argmin(abs(frequency - cases.frequency)))
    for case, reflection in curves:
        _way(ax, case, reflection, middle)
    return page


def _way(ax: Axes, case: DrawnCase, reflection: Complex, middle: int) -> None:
    ax.plot(reflection.real, reflection.imag, **case.line)
    for place, mark in zip((0, middle, -1), _MARKS, strict=True):
        at = reflection[place]
        look: Look = {"color": case.colour, "mec": PAPER, "mew": 0.7, "zorder": 4}
        ax.plot([at.real], [at.imag], marker=mark, ms=6.5, ls="none", **look)


def _chart(ax: Axes, radius: float, z0: float) -> None:
    """Circles of resistance, reactance and SWR inside a radius, in our own colours."""
    # What takes long to load, and one figure needs.
    from skrf.plotting import smith

    smith(smithR=radius, ax=ax)
    for patch in ax.patches:
        patch.set(edgecolor=MIST, linewidth=0.6, zorder=1.0)
    for line in ax.lines:
        line.set(color=MIST, linewidth=0.6, zorder=1.0)
    rim = ax.patches[0]
    rim.set(edgecolor=STEEL, linewidth=1.0)
    ax.set(xlim=(-_ROOM * radius, _ROOM * radius), ylim=(-_ROOM * radius, _ROOM * radius))
    ax.axis("off")
    turn = np.linspace(0.0, 2 * np.pi, 181)
    for ratio in (r for r in _CIRCLES if _radius_of(r) < 0.97 * radius):
        inside = _radius_of(ratio)
        ax.plot(inside * np.cos(turn), inside * np.sin(turn), color=STEEL, lw=0.9)
        _said(ax, complex(0.0, -inside), f"SWR {ratio:g}", STEEL)
    _name_circles(ax, radius, z0)


def _name_circles(ax: Axes, radius: float, z0: float) -> None:
    """Resistances along the axis, reactances at the rim, in ohms."""
    for r in (0.25, 0.5, 1.0, 2.0, 4.0):
        place = (r - 1.0) / (r + 1.0)
        if abs(place) < 1.01 * radius:
            _said(ax, complex(place, 0.0), f"{r * z0:g} Ω", INK)
    for x in (0.25, 0.5, 1.0, 2.0):
        at = _end_of_reactance(x, radius)
        if at is not None:
            for sign, end in (("+", at), ("−", at.conjugate())):
                _said(ax, 1.07 * end, f"{sign}j{x * z0:g}", INK)


def _end_of_reactance(x: float, radius: float) -> complex | None:
    """Left end of the circle of a reactance at the rim; None where that lies within no chart."""
    # On the circle round 1 + j/x with radius 1/x, at this distance from the middle.
    centre = complex(1.0, 1.0 / x)
    away, inside = abs(centre), 1.0 / x
    along = (radius**2 - inside**2 + away**2) / (2 * away)
    aside = radius**2 - along**2
    if aside <= 0.0:
        return None
    unit = centre / away
    ends = [unit * complex(along, side * np.sqrt(aside)) for side in (1.0, -1.0)]
    return min(ends, key=lambda end: end.real)


def _said(ax: Axes, place: complex, text: str, colour: str) -> None:
    look: Look = {"size": SMALL - 1, "color": colour, "ha": "center", "va": "center", "zorder": 2.5}
    box: Look = {"fc": PAPER, "ec": HAIR, "lw": 0.0, "alpha": 0.8, "pad": 0.5}
    ax.text(place.real, place.imag, text, bbox=box, **look)
