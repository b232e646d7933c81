"""Figures of the answer agree with it: titles, rows, what is chosen, over invented answers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings

from models.lengths import lengths_in
from pipeline.answer.phrases import hundredths, of_hundred
from pipeline.answer.ranking import RARE
from pipeline.answer.record import CLASSES, SURE, Answer
from pipeline.figures.answer import causes, chances, front
from pipeline.figures.data import Cases, Table
from pipeline.figures.page import Page
from pipeline.figures.registry import Figure
from pipeline.figures.style import style
from pipeline.report.answer_tables import TABLES
from pipeline.solver.cases import IDEAL, NONE
from tests.harness.made_answers import SEEDS, made_answer


def table(answer: Answer, name: str) -> Table:
    """A table of an answer as a figure reads it."""
    with lengths_in(answer.study.lengths):
        rows = TABLES[name](answer)
    return Table({n: np.array([_cell(r[n]) for r in rows], dtype=np.str_) for n in rows[0]})


def _cell(value: Any) -> str:
    return "" if value is None else str(value)


def drawn(answer: Answer, figure: Figure) -> Page:
    own = answer.study
    summary = {
        "study": {"title": own.title, "frequency_hz": own.frequency},
        "answer": {
            "chosen": answer.chosen,
            "geometries": answer.geometries,
            "draws": answer.draws,
        },
    }
    cases = Cases(Path(), summary, Table({}))
    with style(), lengths_in(own.lengths):
        page = figure.draw(cases, table(answer, figure.table))
    assert page is not None
    return page


def texts(page: Page) -> list[str]:
    return [t.get_text() for ax in page.figure.axes for t in ax.texts]


@given(SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_title_of_the_chances_says_those_of_the_answer(seed: int) -> None:
    answer = made_answer(seed)
    title = drawn(answer, chances).title
    assert f" in {of_hundred(answer.best.enough.value)} installations like yours" in title
    assert ("harmless" in title) == (answer.chosen == NONE)
    if answer.chosen != NONE:
        assert f"going without in {hundredths(answer.bare.enough.value)};" in title
    # No other word may pass for a judgement of its own.
    assert not {"recommended", "best", "worst", "needed"} & set(title.lower().split())


@given(SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_chosen_the_references_and_the_worst_are_among_the_rows_of_the_chances(
    seed: int,
) -> None:
    answer = made_answer(seed)
    page = drawn(answer, chances)
    (ax,) = page.figure.axes
    rows = round(ax.get_ylim()[0] + 0.4)
    assert rows == min(14, len(answer.candidates))
    bold = [t.get_text() for t in ax.texts if t.get_fontweight() == "bold"]
    assert len(bold) == 1
    name = "no choke" if answer.chosen == NONE else answer.best.case.choke.short  # type: ignore[union-attr]
    assert "".join(bold[0].split())[:12] == "".join(name.split())[:12]
    shown = " ".join(" ".join(texts(page)).split())
    assert "no choke" in shown
    assert "ideal choke" in shown
    bad = [c for c in answer.candidates.values() if c.chances["worse"].value >= RARE]
    black = [p for p in ax.patches if p.get_facecolor()[:3] == (28 / 255, 43 / 255, 54 / 255)]
    wide = [p for p in black if p.get_width() >= 100 * RARE - 1e-6]
    assert len(wide) >= min(len(bad), rows - 3)


@given(SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_parts_of_every_bar_fill_it_and_the_point_is_its_first(seed: int) -> None:
    page = drawn(made_answer(seed), chances)
    (ax,) = page.figure.axes
    rows = round(ax.get_ylim()[0] + 0.4)
    widths = np.array([p.get_width() for p in ax.patches]).reshape(rows, len(CLASSES))
    np.testing.assert_allclose(widths.sum(axis=1), 100, atol=1e-6)
    points = [line for line in ax.lines if line.get_marker() == "o"]
    np.testing.assert_allclose([float(p.get_xdata()[0]) for p in points], widths[:, 0], atol=1e-6)


@given(SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_title_of_the_causes_names_what_stands_out_from_chance_or_nothing(seed: int) -> None:
    answer = made_answer(seed)
    title = drawn(answer, causes).title
    if not answer.unknowns:
        assert title == "The study leaves nothing open"
        return
    certain = [c for c in answer.causes[NONE] if c.share.certain]
    if not certain:
        assert title == "No single unknown stands out from chance"
        return
    top = max(certain, key=lambda c: c.share.value)
    assert title.endswith(f"comes from {top.label}")


@given(SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_ring_of_the_front_is_on_what_is_chosen(seed: int) -> None:
    answer = made_answer(seed)
    page = drawn(answer, front)
    upper = page.figure.axes[0]
    own = [p for p in answer.front if p.id == answer.chosen]
    ring = next(line for line in upper.lines if line.get_markerfacecolor() == "none")
    assert ring.get_xdata().tolist() == [p.cost for p in own]
    np.testing.assert_allclose(ring.get_ydata(), [100 * p.enough for p in own])
    if own:
        assert of_hundred(own[0].enough) in page.title
    else:
        assert "enough" not in page.title


def test_a_point_above_the_line_of_the_front_is_enough_by_the_rule() -> None:
    """The same line in both figures: nineteen installations of twenty."""
    answer = made_answer(5)
    for figure in (chances, front):
        lines = [
            x
            for ax in drawn(answer, figure).figure.axes
            for line in ax.lines
            for x in (*np.atleast_1d(line.get_xdata()), *np.atleast_1d(line.get_ydata()))
        ]
        assert any(x == pytest.approx(100 * SURE) for x in lines)
    assert answer.ideal.id == IDEAL
