"""Figures of the radiation pattern, on plain rectangular axes, in decibels as they are."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from models.antennas import generators
from pipeline.analysis.metrics import MATTERS_WITHIN_DB
from pipeline.figures.data import Cases, Curves, DrawnCase, Table, end_labels
from pipeline.figures.page import RIGHT, Note, Page, heading, label_ends, open_page
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import DASHES, INK, STEEL, shorten
from pipeline.solver.cases import IDEAL, NO_FEEDLINE, NONE
from pipeline.text.formatting import number

_LEFT = 0.7
# How far down a null is drawn; it goes to minus infinity, and nobody relies on what lies this far
# below the strongest lobe.
_DEPTH_DB = 30.0


def _limits(ax: Axes, curves: Curves, pad: float) -> None:
    flat = np.concatenate([y for _, y in curves])
    ax.set_ylim(float(flat.min()) - pad, float(flat.max()) + pad)


def _certainty(cases: Cases, column: str, what: str) -> tuple[Note, ...]:
    """Width of the 95 % intervals of the named cases, and what is surer or less sure."""
    trusted = [case.id for case in cases.every if case.emphasised and not case.is_unsound]
    if not trusted:
        return ()
    widest = max(cases.half_width(case, column) for case in trusted)
    return (
        Note(
            f"95 % interval of the computation: {what} ± {widest:.1f} dB at most in a named case, "
            "differences between cases less, gains in a null more",
            STEEL,
        ),
    )


def _largest_change(table: Table, case: str) -> float:
    gain, ideal = (table.select(case=c).number("gain_dbi") for c in (case, IDEAL))
    return float(abs(gain - ideal).max())


@figure(REPORT, 80, section="pattern")
def azimuth_cut(cases: Cases, table: Table) -> Page:
    """Gain all the way round at the low elevation that stands for the horizon."""
    elevation = f"{table.number('elevation_deg')[0]:g}°"
    title = (
        f"Without a choke the gain at {elevation} elevation moves by up to "
        f"{_largest_change(table, NONE):.1f} dB"
    )
    if cases.chosen != NONE:
        change = _largest_change(table, cases.chosen)
        title += f", with the chosen one by up to {change:.1f} dB"
    sure = _certainty(cases, "horizon_gain_mean_dbi", "a gain here")
    page = open_page(cases.texts(title, *sure, *cases.notes(table)), 4.5)
    wide = page.width - _LEFT - RIGHT
    top = page.panel(_LEFT, 2.62, wide, 1.78)
    low = page.panel(_LEFT, 0.55, wide, 1.78, sharex=top)
    reference = table.select(case=IDEAL).number("gain_dbi")
    gains: Curves = []
    changes: Curves = []
    for case, rows in cases.drawn(table):
        azimuth = np.append(rows.number("azimuth_deg"), 360.0)
        gain = rows.number("gain_dbi")
        for ax, y, curves in ((top, gain, gains), (low, gain - reference, changes)):
            closed = np.append(y, y[0])
            ax.plot(azimuth, closed, **case.line)
            curves.append((case, closed))
    _limits(top, gains, 0.3)
    _limits(low, changes, 0.3)
    top.set_ylabel("gain [dBi]")
    low.set_ylabel("change [dB]")
    heading(top, f"gain at {elevation} elevation")
    heading(low, "the same against the ideal choke")
    low.set_xlim(0, 360)
    low.set_xticks(range(0, 361, 45))
    top.tick_params(labelbottom=False)
    low.set_xlabel(f"azimuth [°]; 0° points {_zero(cases)}")
    label_ends(top, end_labels(gains))
    label_ends(low, end_labels(changes))
    return page


def _zero(cases: Cases) -> str:
    return generators()[cases.summary["study"]["antenna"]["type"]].azimuth_zero


def _peak(table: Table, case: str) -> tuple[float, float]:
    rows = table.select(case=case)
    k = int(np.argmax(rows.number("gain_dbi")))
    return float(rows.number("gain_dbi")[k]), float(rows.number("elevation_deg")[k])


def _lobe_title(cases: Cases, table: Table) -> str:
    """Strongest lobe without a choke, with an ideal one, and with the one furthest from that."""
    told = [(NONE, "without a choke"), (IDEAL, "with an ideal one")]
    ideal = _peak(table, IDEAL)[0]
    apart = [
        (abs(_peak(table, case.id)[0] - ideal), case.id) for case, _ in cases.candidates(table)
    ]
    if apart:
        name = max(apart)[1]
        furthest = ", furthest from that" if len(apart) > 1 else ""
        told.append((name, f"with {shorten(name, 30)}{furthest}"))
    said = [
        f"{_peak(table, case)[0]:.1f} dBi at {number(_peak(table, case)[1], '.0f')}° {words}"
        for case, words in told
    ]
    return f"In the antenna's vertical plane the strongest lobe is {', '.join(said)}"


@figure(REPORT, 90, section="pattern")
def elevation_cut(cases: Cases, table: Table) -> Page:
    """Gain over elevation towards both sides of the antenna."""
    texts = cases.texts(
        _lobe_title(cases, table),
        Note(f"nulls deeper than {_DEPTH_DB:g} dB below the strongest lobe are cut off", STEEL),
        *_certainty(cases, "peak_gain_dbi", "the strongest lobe"),
        *cases.notes(table),
    )
    page = open_page(texts, 6.1)
    sides = table.distinct("azimuth_deg")
    axes = [page.panel(_LEFT, b, page.width - _LEFT - RIGHT, 2.5) for b in (3.4, 0.5)]
    for ax, side in zip(axes, sides, strict=True):
        _elevation_side(ax, cases, table.select(azimuth_deg=side))
        words = _zero(cases) if side == sides[0] else "the other way"
        heading(ax, f"towards azimuth {side}°: {words}")
    axes[1].set_xlabel("elevation [°]")
    axes[0].tick_params(labelbottom=False)
    return page


def _elevation_side(ax: Axes, cases: Cases, table: Table) -> None:
    drawn: Curves = []
    for case, rows in cases.drawn(table):
        order = np.argsort(rows.number("elevation_deg"))
        x, y = rows.number("elevation_deg")[order], rows.number("gain_dbi")[order]
        ax.plot(x, y, **case.line)
        drawn.append((case, y))
    x = table.number("elevation_deg")
    highest = max(float(y.max()) for _, y in drawn)
    ax.set_ylim(highest - _DEPTH_DB, highest + 1.5)
    ax.set_xlim(float(x.min()), 90)
    ax.set_xticks(range(-90 if x.min() < -1 else 0, 91, 30 if x.min() < -1 else 15))
    ax.set_ylabel("gain [dBi]")
    label_ends(ax, end_labels(drawn))


def _relied_on(table: Table) -> NDArray[np.bool_]:
    """Low elevations that count, shape (n,): those at which the ideal has no null.

    Nobody relies on a null, and next to one a decibel says little. At least one counts.
    """
    ideal = table.select(case=IDEAL)
    weakest = ideal.number("gain_min_dbi")
    floor = ideal.number("gain_mean_dbi").max() - MATTERS_WITHIN_DB
    return np.asarray(weakest >= min(floor, weakest.max()))


def _low_title(table: Table) -> str:
    counts = _relied_on(table)
    bare, ideal = table.select(case=NONE), table.select(case=IDEAL)
    mean = abs(bare.number("gain_mean_dbi") - ideal.number("gain_mean_dbi"))[counts].max()
    spread = [
        float((t.number("gain_max_dbi") - t.number("gain_min_dbi"))[counts].max())
        for t in (bare, ideal)
    ]
    return (
        f"No choke: mean gain at low angles within {mean:.1f} dB of the ideal; directions differ "
        f"by up to {spread[0]:.1f} dB (ideal: {spread[1]:.1f} dB)"
    )


@figure(REPORT, 100, section="pattern")
def low_elevation(cases: Cases, table: Table) -> Page:
    """Mean, weakest and strongest gain at the elevations a VHF link uses."""
    texts = cases.texts(
        _low_title(table),
        Note("line: mean of all azimuths; band: weakest to strongest", INK),
        Note(
            f"elevations at which the ideal is anywhere more than {MATTERS_WITHIN_DB:g} dB below "
            "the mean of its strongest lobe count neither in the title nor in the lower scales",
            STEEL,
        ),
        *_certainty(cases, "horizon_gain_mean_dbi", "a mean gain here"),
        *cases.notes(table),
    )
    panels = [c for c in cases.every if c.emphasised and c.id not in (IDEAL, NO_FEEDLINE)]
    # What the reader has now comes first, then what is taken.
    panels.sort(key=lambda case: (case.id != NONE, case.id != cases.chosen))
    rows = (len(panels) + 1) // 2
    page = open_page(texts, 2.75 + 1.75 * rows)
    whole = page.panel(_LEFT, 0.6 + 1.75 * rows, page.width - _LEFT - RIGHT, 1.85)
    drawn: Curves = []
    for case, lines in cases.drawn(table):
        mean = lines.number("gain_mean_dbi")
        whole.plot(lines.number("elevation_deg"), mean, **case.line)
        drawn.append((case, mean))
    ideal = table.select(case=IDEAL)
    low, high = (ideal.number(f"gain_{end}_dbi") for end in ("min", "max"))
    whole.fill_between(ideal.number("elevation_deg"), low, high, color=INK, alpha=0.12, lw=0)
    whole.set_xlim(0, 10)
    whole.set_ylim(bottom=max(whole.get_ylim()[0], whole.get_ylim()[1] - _DEPTH_DB))
    whole.set_ylabel("gain [dBi]")
    heading(whole, "mean gain of every case, and the band of the ideal choke")
    label_ends(whole, end_labels(drawn))
    _bands(page, table, panels)
    return page


def _bands(page: Page, table: Table, panels: list[DrawnCase]) -> None:
    """One small panel a case: its mean and band against the mean of the ideal choke."""
    wide, tall = (page.width - _LEFT - 0.5) / 2, 1.2
    ideal = table.select(case=IDEAL)
    reference = ideal.number("gain_mean_dbi")
    counts, rows = _relied_on(table), (len(panels) + 1) // 2
    axes, shown = [], []
    for k, case in enumerate(panels):
        place = (_LEFT + (k % 2) * (wide + 0.35), 0.5 + 1.75 * (rows - 1 - k // 2))
        ax = page.panel(*place, wide, tall)
        axes.append(ax)
        own = (table.select(case=case.id), case.colour, case.line["ls"])
        for lines, colour, dash in ((ideal, INK, DASHES[INK]), own):
            x = lines.number("elevation_deg")
            low, mean, high = (
                lines.number(f"gain_{n}_dbi") - reference for n in ("min", "mean", "max")
            )
            ax.fill_between(x, low, high, color=colour, alpha=0.16, lw=0)
            ax.plot(x, mean, color=colour, lw=1.9, ls=dash)
            shown += [low[counts], high[counts]]
        heading(ax, case.name, case.colour)
        ax.set_xlim(0, 10)
        if k % 2 == 0:
            ax.set_ylabel("re. ideal [dB]")
        if k >= len(panels) - 2:
            ax.set_xlabel("elevation [°]")
    # Never less than a decibel either way: a tenth drawn large looks like a finding.
    bottom = min(-1.0, 1.1 * float(np.min(shown)))
    top = max(1.0, 1.1 * float(np.max(shown)))
    for k, ax in enumerate(axes):
        ax.set_ylim(bottom, top)
        ax.tick_params(labelleft=k % 2 == 0)
