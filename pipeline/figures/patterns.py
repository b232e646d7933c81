"""Figures of the radiation pattern: dials from above and from the side, what a choke changes."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from models.antennas import generators
from models.site.compass import compass_point
from pipeline.analysis.metrics import MATTERS_WITHIN_DB
from pipeline.analysis.pattern_parts import AZIMUTH, ELEVATION
from pipeline.figures.data import Cases, Curves, DrawnCase, Table, end_labels, unsound_note
from pipeline.figures.dial import (
    Compass,
    dial_panel,
    half_height,
    mast_in_hub,
    open_from_above,
    open_from_side,
    plan_in_hub,
    round_about,
    scale_for,
    upwards,
)
from pipeline.figures.page import RIGHT, Note, Page, heading, label_ends, open_page
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import BRICK, IDEAL_LINE, INK, SMALL, STEEL, Look, sheet
from pipeline.solver.cases import IDEAL, NO_FEEDLINE, NONE
from pipeline.text.formatting import number

Floats = NDArray[np.float64]

_LEFT = 0.7
# Widest dial from above and from the side; on a narrower sheet it fills that. [inch]
_LARGEST, _WIDEST = 4.6, 7.0
# How far down a null is drawn; it goes to minus infinity, and nobody relies on what lies this far
# below the strongest lobe.
_DEPTH_DB = 30.0


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


def _pattern_notes(cases: Cases, table: Table) -> tuple[Note, ...]:
    """What each line of a dial is, and which of them nobody should rely on."""
    shown = [case for case, _ in cases.main(table)]
    notes = [Note(cases.told(case), case.colour, case.line["ls"]) for case in shown]
    return (*notes, *([unsound_note(f": {said}")] if (said := _unsound(shown)) else []))


def _unsound(shown: list[DrawnCase]) -> str:
    return ", ".join(case.id for case in shown if case.is_unsound)


def _words(cases: Cases) -> list[tuple[str, str]]:
    """Cases of a title with the words for them."""
    told = [(NONE, "without a choke"), (cases.chosen, "with the chosen one")]
    return [*dict(told if cases.chosen != NONE else told[:1]).items(), (IDEAL, "with an ideal one")]


def compass_of(cases: Cases) -> Compass:
    """Names of directions in a study's figures."""
    return Compass(cases.summary["study"]["site"].get("facing_deg"))


def zero_note(cases: Cases) -> Note:
    """Where the directions of a dial or an axis count from."""
    zero = generators()[cases.summary["study"]["antenna"]["type"]].azimuth_zero
    facing = compass_of(cases).facing
    if facing is None:
        return Note(f"0° points {zero}; degrees count to the left, as seen from above", STEEL)
    return Note(f"bearings from true north; {number(facing, '.0f')}° points {zero}", STEEL)


def _azimuth_title(table: Table, words: list[tuple[str, str]]) -> str:
    said = []
    for case, with_it in words:
        gain = table.select(case=case).number("gain_dbi")
        least, most = (number(float(g), ".1f") for g in (gain.min(), gain.max()))
        said.append(f"{least} to {most} dBi {with_it}")
    return f"Round about at {table.number('elevation_deg')[0]:g}° elevation: {', '.join(said)}"


@figure(REPORT, 80, section="pattern")
def azimuth_cut(cases: Cases, table: Table) -> Page:
    """Gain all the way round at the top of the lowest lobe, as seen from above."""
    texts = cases.texts(
        _azimuth_title(table, _words(cases)),
        *_pattern_notes(cases, table),
        Note("between no choke and the ideal one: shaded", BRICK),
        Note("in the middle: antenna and cable from above, and what stands round them", STEEL),
        zero_note(cases),
        *_certainty(cases, "horizon_gain_mean_dbi", "a gain here"),
    )
    size = min(_LARGEST, sheet().width - 0.2)
    page = open_page(texts, size)
    ax = dial_panel(page, 0.5 * (page.width - size), 0.0, size)
    drawn = cases.main(table)
    gains = np.concatenate([rows.number("gain_dbi") for _, rows in drawn])
    scale, compass = scale_for(gains, _DEPTH_DB), compass_of(cases)
    open_from_above(ax, scale, compass)
    plan_in_hub(ax, cases.cable, compass)
    curves = {
        case.id: round_about(
            compass, rows.number("azimuth_deg"), scale.radius(rows.number("gain_dbi"))
        )
        for case, rows in drawn
    }
    _between(ax, curves[NONE], curves[IDEAL])
    for case, _ in drawn:
        ax.plot(*curves[case.id], **case.line)
    return page


def _between(ax: Axes, *curves: tuple[Floats, Floats]) -> None:
    """Shade what lies between two closed curves."""
    (x, y), (other_x, other_y) = curves
    outline = np.append(x, other_x[::-1]), np.append(y, other_y[::-1])
    ax.fill(*outline, color=BRICK, alpha=0.16, lw=0, zorder=1.5)


def _peak(table: Table, case: str) -> tuple[float, float]:
    rows = table.select(case=case)
    k = int(np.argmax(rows.number("gain_dbi")))
    return float(rows.number("gain_dbi")[k]), float(rows.number("elevation_deg")[k])


def _lobe_title(cases: Cases, table: Table) -> str:
    """Strongest lobe without a choke, with the chosen one and with an ideal one."""
    said = [
        f"{number(_peak(table, case)[0], '.1f')} dBi at {number(_peak(table, case)[1], '.0f')}° "
        f"{words}"
        for case, words in _words(cases)
    ]
    return f"In the antenna's vertical plane the strongest lobe is {', '.join(said)}"


@figure(REPORT, 85, section="pattern")
def elevation_cut(cases: Cases, table: Table) -> Page:
    """Gain over elevation towards both sides of the antenna, from the side."""
    compass = compass_of(cases)
    texts = cases.texts(
        _lobe_title(cases, table),
        *_pattern_notes(cases, table),
        Note(f"what is more than {_DEPTH_DB:g} dB below the strongest lobe is cut off", STEEL),
        zero_note(cases),
        *_certainty(cases, "peak_gain_dbi", "the strongest lobe"),
    )
    size = min(_WIDEST, sheet().width - 0.1)
    grounded = cases.summary["study"]["site"]["ground"] is not None
    page = open_page(texts, half_height(size) if grounded else size)
    ax = dial_panel(page, 0.5 * (page.width - size), 0.0, size, half=grounded)
    drawn = cases.main(table)
    scale = scale_for(np.concatenate([t.number("gain_dbi") for _, t in drawn]), _DEPTH_DB)
    sides = table.distinct("azimuth_deg")
    right, left = (compass.name(float(side)) for side in sides)
    open_from_side(ax, scale, (right, left), grounded)
    mast_in_hub(ax)
    for case, rows in drawn:
        for side, line in zip(sides, (case.line, case.line | {"gid": None}), strict=True):
            own = rows.select(azimuth_deg=side)
            radius = scale.radius(own.number("gain_dbi"))
            ax.plot(*upwards(own.number("elevation_deg"), radius, side != sides[0]), **line)
    return page


def _difference_title(cases: Cases, table: Table) -> str:
    about = table.select(cut=AZIMUTH)

    def largest(case: str) -> float:
        return float(abs(about.select(case=case).number("difference_db")).max())

    title = (
        f"Without a choke the gain at {about.number('elevation_deg')[0]:g}° elevation moves by up "
        f"to {largest(NONE):.1f} dB"
    )
    if cases.chosen != NONE:
        title += f", with the chosen one by up to {largest(cases.chosen):.1f} dB"
    return title


@figure(REPORT, 90, section="pattern")
def difference_to_ideal(cases: Cases, table: Table) -> Page:
    """What the cable's current changes: gain against that with an ideal choke."""
    shown = [(case, rows) for case, rows in cases.main(table) if case.id != IDEAL]
    unsound = _unsound([case for case, _ in shown])
    texts = cases.texts(
        _difference_title(cases, table),
        *(Note(cases.told(case), case.colour, case.line["ls"]) for case, _ in shown),
        *([unsound_note(f": {unsound}")] if unsound else []),
        Note(
            f"left out: directions in which the ideal is more than {MATTERS_WITHIN_DB:g} dB below "
            "its strongest lobe, where a decibel says little",
            STEEL,
        ),
        zero_note(cases),
    )
    page = open_page(texts, 5.1)
    wide = page.width - _LEFT - 0.35
    about, upward = page.panel(_LEFT, 3.05, wide, 1.75), page.panel(_LEFT, 0.55, wide, 1.75)
    _difference_about(about, cases, shown)
    _difference_upward(upward, cases, shown)
    elevation = f"{table.select(cut=AZIMUTH).number('elevation_deg')[0]:g}°"
    heading(about, f"all the way round at {elevation} elevation")
    heading(upward, "over elevation, towards both sides")
    for ax, cut in ((about, AZIMUTH), (upward, ELEVATION)):
        # Never less than half a decibel either way: a tenth drawn large looks like a finding.
        most = 1.1 * max(0.5, *(_most(rows.select(cut=cut)) for _, rows in shown))
        ax.axhline(0.0, **IDEAL_LINE.look)
        ax.set(ylim=(-most, most), ylabel="re. ideal [dB]")
    return page


def _most(rows: Table) -> float:
    """Largest change that is drawn. [dB]"""
    change = rows.number("difference_db")
    return float(np.nanmax(abs(change), initial=0.0))


def _difference_about(ax: Axes, cases: Cases, shown: list[tuple[DrawnCase, Table]]) -> None:
    compass = compass_of(cases)
    for case, rows in shown:
        own = rows.select(cut=AZIMUTH)
        x, y = own.number("azimuth_deg"), own.number("difference_db")
        if compass.facing is not None:
            x = (compass.facing - x) % 360.0
        order = np.argsort(x, kind="stable")
        closed = np.append(x[order], x[order][0] + 360.0), np.append(y[order], y[order][0])
        ax.plot(*closed, **case.line)
    turns = range(0, 361, 45)
    names = [f"{turn}°" for turn in turns]
    if compass.facing is not None:
        names = [compass_point(turn) for turn in turns]
    ax.set_xlim(0, 360)
    ax.set_xticks(turns, names)
    ax.set_xlabel("bearing" if compass.facing is not None else "azimuth")


def _difference_upward(ax: Axes, cases: Cases, shown: list[tuple[DrawnCase, Table]]) -> None:
    """From the horizon behind the antenna over the zenith to the one before it."""
    sides = shown[0][1].select(cut=ELEVATION).distinct("azimuth_deg")
    for case, rows in shown:
        front, back = (rows.select(cut=ELEVATION, azimuth_deg=side) for side in sides)
        x = np.append(back.number("elevation_deg"), 180.0 - front.number("elevation_deg")[::-1])
        y = np.append(back.number("difference_db"), front.number("difference_db")[::-1])
        order = np.argsort(x, kind="stable")
        ax.plot(x[order], y[order], **case.line)
    least = float(np.min(shown[0][1].select(cut=ELEVATION).number("elevation_deg")))
    ticks = [t for t in range(-90, 271, 30) if least - 1e-6 <= t <= 180.0 - least + 1e-6]
    ax.set_xlim(least, 180.0 - least)
    ax.set_xticks(ticks, [f"{number(90 - abs(t - 90), 'g')}°" for t in ticks])
    right, left = (compass_of(cases).name(float(side)) for side in sides)
    look: Look = {"transform": ax.transAxes, "size": SMALL, "color": STEEL, "va": "bottom"}
    ax.text(0.01, 0.02, f"← {left}", ha="left", **look)
    ax.text(0.99, 0.02, f"{right} →", ha="right", **look)
    ax.set_xlabel("elevation")


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
        own = (table.select(case=case.id), case.stroke.look | {"ls": case.line["ls"]})
        for lines, look in ((ideal, IDEAL_LINE.look), own):
            x = lines.number("elevation_deg")
            low, mean, high = (
                lines.number(f"gain_{n}_dbi") - reference for n in ("min", "mean", "max")
            )
            ax.fill_between(x, low, high, color=look["color"], alpha=0.16, lw=0)
            ax.plot(x, mean, **look)
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
