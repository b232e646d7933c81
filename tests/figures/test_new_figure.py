"""The worked example of DEVELOPERS.md: one function is a new figure, drawn, captioned and told."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import pipeline.figures
from pipeline.figures.registry import REPORT, draw_report, figure, figures_of
from pipeline.report.page import build_report
from pipeline.runtime.store import read_json
from tests.harness.small_study import finished_with_pages

ROOT = Path(__file__).parents[2]
NAME = "line_loss"


@pytest.fixture
def module(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The example's file in a folder beside the project's own figures."""
    example = ROOT / "tests" / "examples" / f"{NAME}.py"
    path = tmp_path / "more" / f"{NAME}.py"
    path.parent.mkdir()
    shutil.copy(example, path)
    monkeypatch.setattr(
        pipeline.figures, "__path__", [*pipeline.figures.__path__, str(path.parent)]
    )
    yield path
    for name in (NAME, "again"):
        sys.modules.pop(f"pipeline.figures.{name}", None)


def test_a_new_figure_is_drawn_captioned_and_follows_its_table(
    tmp_path: Path, module: Path
) -> None:
    copy = Path(shutil.copytree(finished_with_pages(), tmp_path / "small"))
    draw_report(copy, NAME)
    assert (copy / "figures" / f"{NAME}.png").stat().st_size > 5000
    build_report(copy)
    page = (copy / "report.html").read_text(encoding="utf-8")
    caption = "Loss of the cable between radio and antenna over the band, in every case. [dB]"
    assert f"<figcaption>{caption}</figcaption>" in page
    shown = re.findall(r'<figure id="(\w+)">', page)
    assert shown == [
        name
        for name, each in figures_of(REPORT).items()
        if each.is_shown(copy, read_json(copy / "summary.json"))
    ]
    assert shown[shown.index("band") + 1] == NAME
    told = re.search(rf'id="{NAME}">\s*<img [^>]*alt="The cable loses up to ([\d.]+) dB"', page)
    assert told is not None
    table = copy / "tables" / "band.csv"
    header, *rows = table.read_text(encoding="utf-8").splitlines()
    cells = [row.split(",") for row in rows]
    at = header.split(",").index("line_loss_db")
    assert float(told[1]) == pytest.approx(max(float(row[at]) for row in cells), abs=0.006)
    cells[0][at] = "9.5"
    table.write_text("\n".join([header, *(",".join(row) for row in cells)]) + "\n", "utf-8")
    draw_report(copy, NAME)
    svg = (copy / "figures" / f"{NAME}.svg").read_text(encoding="utf-8")
    assert "The cable loses up to 9.50 dB</dc:title>" in svg
    assert all(f'id="case-{row[0]}"' in svg for row in cells)


def test_a_figure_without_a_section_or_a_caption_or_twice_is_refused(
    module: Path,
) -> None:
    with pytest.raises(ValueError, match="section of a figure of a report: '' is none of"):
        figure(REPORT, 1)
    with pytest.raises(ValueError, match="no docstring"):
        figure("choke", 1)(lambda: None)
    module.with_name("again.py").write_bytes(module.read_bytes())
    with pytest.raises(ValueError, match=f"two figures of report are named {NAME}"):
        figures_of(REPORT)
