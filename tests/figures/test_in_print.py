"""Figures in print: widths, letters that can be read, the same bytes each time, their data."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest

from models.lengths import lengths_in
from pipeline.figures import in_print
from pipeline.figures.data import load_cases, read_table
from pipeline.figures.in_print import COLUMNS_MM, SCALE, Printed, draw_for_print
from pipeline.figures.registry import REPORT, figures_of
from pipeline.figures.style import LIKE_THIS, LIKE_YOURS, Sheet, style
from pipeline.runtime.store import read_json
from pipeline.text.formatting import plain

pytestmark = pytest.mark.takes(20)

# Smallest letters at the size of print that journals take [point] (common practice, no source).
SMALLEST = 6.0
# Lines, areas, hatching, a chart of another library: what a build could make different.
AGAIN = ("causes", "azimuth_cut", "smith_chart")
# Bars, a drawing and curves beside them: how a file is made does not hang on which figure it is,
# and every one of them is laid out at every width below.
DRAWN = (*AGAIN, "installation", "core_count", "shield_current")


@pytest.fixture(scope="module", autouse=True)
def coarse() -> Iterator[None]:
    """Five dots a millimetre: what is held here does not hang on how many there are."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(in_print, "PRINT_DPI", 127)
        yield


@pytest.fixture(scope="module")
def printed(results: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Printed]:
    with lengths_in("metric"):
        return draw_for_print(results, tmp_path_factory.mktemp("print"), names=DRAWN)


def test_every_figure_of_a_report_is_drawn_where_none_is_named(
    results: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(in_print, "_printed", lambda name, *places: asked.append(name))
    assert draw_for_print(results, tmp_path) == []
    summary = read_json(results / "summary.json")
    assert asked == [n for n, f in figures_of(REPORT).items() if f.is_shown(results, summary)]


def test_a_figure_is_there_at_both_widths_in_three_kinds_with_its_table(
    printed: list[Printed], results: Path
) -> None:
    every = figures_of(REPORT)
    assert {p.name for p in printed} == set(DRAWN)
    for one in printed:
        kinds = {(p.stem.removeprefix(f"{one.name}-"), p.suffix) for p in one.files}
        assert kinds == {(c, k) for c in COLUMNS_MM for k in (".svg", ".pdf", ".png")}
        table = results / "tables" / f"{every[one.name].table}.csv"
        assert one.data.read_bytes() == table.read_bytes()
        told = every[one.name].caption.replace(LIKE_YOURS, LIKE_THIS)
        assert one.caption.startswith(told.rstrip("."))
        assert one.finding
        # It speaks of an installation, not to its owner.
        assert "yours" not in f"{one.finding} {one.caption}"


def test_each_file_is_as_wide_as_its_column(printed: list[Printed]) -> None:
    """A point is 1/72 inch in SVG and PDF; a PNG says how many dots are a metre (its standard)."""
    for one in printed:
        for path in one.files:
            wanted = COLUMNS_MM[path.stem.removeprefix(f"{one.name}-")]
            data = path.read_bytes()
            if path.suffix == ".svg":
                width = ElementTree.fromstring(data).get("width") or ""
                millimetres = float(width.removesuffix("pt")) * 25.4 / 72
            elif path.suffix == ".pdf":
                box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ", data)
                assert box is not None
                millimetres = float(box[1]) * 25.4 / 72
            else:
                dots = int.from_bytes(data[16:20])
                at = data.index(b"pHYs") + 4
                millimetres = 1000 * dots / int.from_bytes(data[at : at + 4])
            assert millimetres == pytest.approx(wanted, abs=0.1)
            assert b"CreationDate" not in data
            assert b"<dc:date>" not in data


def test_two_builds_have_the_same_bytes(
    printed: list[Printed], results: Path, tmp_path: Path
) -> None:
    with lengths_in("metric"):
        again = draw_for_print(results, tmp_path, 2, AGAIN)
    assert [p.name for p in again] == list(AGAIN)
    for one, other in zip([p for p in printed if p.name in AGAIN], again, strict=True):
        assert other.caption == one.caption
        for path, twin in zip(one.files, other.files, strict=True):
            assert twin.read_bytes() == path.read_bytes(), path.name


@pytest.mark.parametrize("column", COLUMNS_MM)
@pytest.mark.parametrize("name", [n for n in figures_of(REPORT) if n != "measured"])
def test_letters_can_be_read_and_lie_on_the_sheet(results: Path, name: str, column: str) -> None:
    wanted = figures_of(REPORT)[name]
    with lengths_in("metric"), style(Sheet(COLUMNS_MM[column] / 25.4 / SCALE, is_plain=True)):
        page = wanted.draw(load_cases(results), read_table(results, wanted.table))
        assert page is not None
        page.figure.draw_without_rendering()
        renderer, wide = page.figure.canvas.get_renderer(), page.figure.bbox.width
        for text in page.figure.findobj(lambda artist: hasattr(artist, "get_fontsize")):
            if not text.get_text().strip() or not text.get_visible():
                continue
            assert text.get_fontsize() * SCALE >= SMALLEST
            box = text.get_window_extent(renderer)
            # A tick beyond the axes has a label that is never drawn.
            if any(
                text in (*ax.get_xticklabels(), *ax.get_yticklabels()) for ax in page.figure.axes
            ):
                continue
            assert box.x0 > -3, (text.get_text(), box.x0)
            assert box.x1 < wide + 3, (text.get_text(), box.x1 - wide)


def test_what_stands_below_a_figure_in_a_report_is_said_in_its_caption(
    printed: list[Printed], results: Path
) -> None:
    by_name = {one.name: one for one in printed}
    for name in AGAIN:
        wanted, one = figures_of(REPORT)[name], by_name[name]
        with lengths_in("metric"), style(Sheet(4.4, is_plain=True)):
            page = wanted.draw(load_cases(results), read_table(results, wanted.table))
        assert page is not None
        assert page.untold
        assert all(plain(text)[1:].rstrip(".") in one.caption for text in page.untold)
        assert one.evidence == f"{page.evidence[:1].upper()}{plain(page.evidence)[1:]}."


def test_a_worker_draws_in_the_lengths_that_its_run_is_told_in(
    results: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(in_print, "COLUMNS_MM", {"single": 88.0})
    monkeypatch.setattr(in_print, "_KINDS", ("svg",))
    with lengths_in("imperial"):
        (here,) = draw_for_print(results, tmp_path / "here", names=("choke_position",))
    # As a worker that is no copy of this process has it: lengths are metric there.
    worker = in_print._printed_in("imperial", "choke_position", results, tmp_path / "worker")
    assert worker is not None
    assert " in " in worker.finding
    assert (worker.finding, worker.caption) == (here.finding, here.caption)
    for path, twin in zip(here.files, worker.files, strict=True):
        assert twin.read_bytes() == path.read_bytes(), path.name
