"""Figures of a spread: bands of every candidate, and which unknown makes the spread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from pipeline.analysis.figures_of_merit_and_score import STRONG
from pipeline.figures.page import (
    Note,
    Page,
    Texts,
    footer_of,
    label_rows,
    log_ticks,
    open_page,
    open_rows,
)
from pipeline.figures.registry import figure
from pipeline.figures.style import BRICK, FERN, INK, MIST, OCHRE, SEA, SMALL, STEEL, WIDTH, Look
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_verdict import SURE, Candidate, Cause, Judgement
from pipeline.solver.cases import IDEAL, NONE
from pipeline.text.formatting import number

PAGE = "spread"
_LEFT, _RIGHT = 2.1, 0.62
_WIDE = WIDTH - _LEFT - _RIGHT
_ROW = 0.34
# Nothing below a twentieth of a threshold is worth a place on the axis.
_LEAST = 0.05
# Below a hundredth a cause has no bar of its own; the table has all of them.
_LEAST_SHARE = 0.01


@dataclass(frozen=True)
class Found:
    """A spread as it is drawn.

    ``labels`` are short names of cases, ``titles`` findings by the name of their figure.
    """

    spread: Spread
    judgement: Judgement
    labels: Mapping[str, str]
    titles: Mapping[str, str]

    def texts(self, name: str, *notes: Note) -> Texts:
        """Texts around one of the figures."""
        n_geometry, n_draw = self.spread.shape
        evidence = f"{n_geometry} geometries solved, {n_draw} draws of impedances on each"
        study = self.spread.study
        return Texts(self.titles[name], notes, evidence, footer_of(study.title, study.frequency))


def _percent_beside(ax: Axes, k: int, share: float, colour: str) -> None:
    """A share in whole per cent, right of a row."""
    ax.text(
        1 + 0.08 / _WIDE,
        k,
        f"{number(100 * share, '.0f')} %",
        transform=ax.get_yaxis_transform(),
        va="center",
        size=SMALL,
        color=colour,
    )


def _band(ax: Axes, k: int, candidate: Candidate) -> None:
    """One candidate: its bar, the middle draw, the worst, and as stated."""
    enough, score = candidate.enough.value, candidate.score
    colour = SEA if enough >= SURE else OCHRE if enough >= 0.5 else BRICK
    numbers = (score.p5, score.p50, score.p95, score.worst, candidate.stated_score)
    low, middle, high, worst, stated = np.maximum(numbers, _LEAST)
    ax.plot([high, worst], [k, k], color=colour, lw=1.0)
    ax.plot([low, high], [k, k], color=colour, lw=7.0, solid_capstyle="butt")
    ax.plot([middle, middle], [k - 0.3, k + 0.3], color=INK, lw=1.6)
    ax.plot([stated], [k], marker="o", ms=5.5, mfc="white", mec=INK, mew=1.1)
    _percent_beside(ax, k, enough, INK if colour == OCHRE else colour)


@figure(PAGE, 10)
def bands(found: Found) -> Page:
    """How far each candidate is from an ideal choke, over everything that could be so."""
    note = Note(
        "Bar: 90 % of all draws; tick: the middle one; thin line: to the worst; circle: "
        "everything as the study states it. Right: draws with no visible change.",
        STEEL,
    )
    rows = {name: c for name, c in found.judgement.candidates.items() if name != IDEAL}
    highest = max(max(c.score.worst, c.stated_score) for c in rows.values())
    page = open_page(found.texts("bands", note), _ROW * len(rows) + 0.85)
    ax = page.panel(_LEFT, 0.55, _WIDE, _ROW * len(rows))
    ax.set(xscale="log", xlim=(_LEAST, max(4.0, 1.15 * highest)))
    ax.axvspan(_LEAST, 1.0, color=FERN, alpha=0.13, lw=0)
    for place, colour in ((1.0, FERN), (STRONG, BRICK)):
        ax.axvline(place, color=colour, lw=1.0)
    for k, candidate in enumerate(rows.values()):
        _band(ax, k, candidate)
    open_rows(ax, len(rows))
    is_chosen = [name == found.judgement.chosen for name in rows]
    label_rows(ax, [found.labels[name] for name in rows], _LEFT - 0.3, is_chosen)
    log_ticks(ax.xaxis, [0.1, 0.3, 1, 3], "{:g}".format)
    ax.set_xlabel("change against an ideal choke, 1 = just visible")
    for x, text in ((1.0, "visible"), (STRONG, "strong")):
        ax.text(x * 1.04, -0.62, text, size=SMALL - 1, color=STEEL, va="bottom")
    return page


@dataclass(frozen=True)
class ShareRow:
    """One unknown: its share of the spread without a choke and with the chosen one, 0 to 1.

    ``noise`` is what chance alone would show in the first; ``together`` marks a sum of several.
    """

    label: str
    bare: float
    chosen: float | None
    noise: float
    together: bool


def share_rows(judgement: Judgement) -> list[ShareRow]:
    """Shares of all unknowns without a choke, and with the chosen one where it is another."""
    own = judgement.chosen if judgement.chosen != NONE else None
    causes = () if own is None else judgement.causes[own]
    other = {c.label: c.share.value for c in causes}
    bare = {c.label for c in judgement.causes[NONE]}
    whole = ShareRow(
        "all that changes the drawing, together",
        judgement.geometry[NONE].value,
        None if own is None else judgement.geometry[own].value,
        judgement.geometry[NONE].noise,
        True,
    )
    rows = [
        ShareRow(_row_label(c), c.share.value, other.get(c.label), c.share.noise, c.joint)
        for c in judgement.causes[NONE]
        if max(c.share.value, other.get(c.label, 0.0)) >= _LEAST_SHARE
    ]
    # How the chosen one is made is no cause without it.
    made = [
        ShareRow(c.label, 0.0, c.share.value, 0.0, False) for c in causes if c.label not in bare
    ]
    return [whole, *rows, *made]


def _row_label(cause: Cause) -> str:
    return f"{cause.label}, together" if cause.joint else cause.label


@figure(PAGE, 20)
def shares(found: Found) -> Page:
    """Which unknown makes the spread."""
    rows = share_rows(found.judgement)
    notes = [Note("Blue: without a choke. Grey tick: what chance alone would show.", SEA)]
    if any(r.chosen is not None for r in rows):
        notes.append(Note("Yellow: with the recommended choke.", OCHRE))
    notes.append(
        Note(
            "Each by itself (first-order index, of the logarithm of the change), from 1 % on; what "
            "is left comes from unknowns acting together.",
            STEEL,
        )
    )
    room = 0.40 * len(rows)
    page = open_page(found.texts("shares", *notes), room + 0.75)
    ax = page.panel(_LEFT, 0.55, _WIDE, room)
    most = max(0.1, *(max(r.bare, r.chosen or 0.0, r.noise) for r in rows))
    ax.set_xlim(0.0, 112 * most)
    for k, r in enumerate(rows):
        look: Look = {"hatch": "////" if r.together else None, "edgecolor": "white", "lw": 0}
        ax.barh(k - 0.17, 100 * r.bare, 0.3, color=SEA, **look)
        if r.chosen is not None:
            ax.barh(k + 0.17, 100 * r.chosen, 0.3, color=OCHRE, **look)
        if not r.together:
            ax.plot([100 * r.noise] * 2, [k - 0.34, k + 0.34], color=MIST, lw=2.0)
        _percent_beside(ax, k, r.bare, INK)
    open_rows(ax, len(rows))
    label_rows(ax, [r.label for r in rows], _LEFT - 0.3, [r.together for r in rows])
    ax.set_xlabel("share of the spread [%]")
    return page
