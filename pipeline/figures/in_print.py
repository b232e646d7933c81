"""Figures of a report at the column widths of a journal: SVG, PDF and PNG, and the data of each.

A results folder in, files out, not a part of a run. A figure is laid out for a sheet of that width
and drawn small, so that letters and lines are alike in every file; what stands around it in a
report is its caption in print. Equal results give equal bytes: no dates, no random names.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_pdf import Op, PdfFile, PdfPages

from models import lengths
from pipeline.figures.data import load_cases, read_table
from pipeline.figures.page import Page
from pipeline.figures.registry import REPORT, figures_of
from pipeline.figures.style import LIKE_THIS, LIKE_YOURS, Sheet, style
from pipeline.runtime.store import whole_file
from pipeline.runtime.workers import worker_pool
from pipeline.text.formatting import plain

# Of the size of a layout: letters of 9 and 10 points become those of 7 and 7.8.
SCALE = 0.78
_INCH = 25.4
# Widths of columns that most journals have, within a few millimetres (common practice, no source).
COLUMNS_MM: Mapping[str, float] = {"single": 88.0, "double": 178.0}
# Dots an inch of what is meant for print (common practice for drawings with lines, no source).
PRINT_DPI = 600
# Letters as outlines, so that a drawing looks alike where the typeface is missing.
_OUTLINES: Any = {"svg.fonttype": "path", "pdf.fonttype": 42}
_KINDS = ("svg", "pdf", "png")


@dataclass(frozen=True)
class Printed:
    """A figure in print: what it finds, its caption, its files and the table that it is drawn from.

    ``evidence`` is how far it can be trusted, which many figures share; ``files`` are those of
    every column width, as ``NAME-COLUMN.KIND``.
    """

    name: str
    finding: str
    caption: str
    evidence: str
    files: tuple[Path, ...]
    data: Path


def draw_for_print(
    results: Path, folder: Path, cores: int = 1, names: Collection[str] = ()
) -> list[Printed]:
    """Draw the figures of a report for print, all or some by name, in the report's order.

    Several ``cores`` share the figures.

    Raises
    ------
    ResultError
        If a file of the results is missing or damaged.
    """
    summary = load_cases(results).summary
    shown = [name for name, f in figures_of(REPORT).items() if f.is_shown(results, summary)]
    wanted = [name for name in shown if not names or name in names]
    if cores == 1:
        found = [_printed(name, results, folder) for name in wanted]
    else:
        with worker_pool(cores, "drawing figures for print") as pool:
            # Where workers do not begin as copies of this process they know of no lengths.
            jobs = [
                pool.submit(_printed_in, lengths.system(), name, results, folder) for name in wanted
            ]
            found = [job.result() for job in jobs]
    return [one for one in found if one is not None]


def _printed_in(system: lengths.System, name: str, results: Path, folder: Path) -> Printed | None:
    with lengths.lengths_in(system):
        return _printed(name, results, folder)


def _printed(name: str, results: Path, folder: Path) -> Printed | None:
    """One figure at every width, and its table beside it; None where there is nothing to show."""
    wanted, cases = figures_of(REPORT)[name], load_cases(results)
    table = read_table(results, wanted.table)
    files, pages = [], []
    for column, millimetres in COLUMNS_MM.items():
        with style(Sheet(millimetres / _INCH / SCALE, is_plain=True)), mpl.rc_context(_OUTLINES):
            page = wanted.draw(cases, table)
            if page is None:
                return None
            pages.append(page)
            for kind in _KINDS:
                files.append(folder / f"{name}-{column}.{kind}")
                _save(page, files[-1], kind)
    data = folder / f"{name}.csv"
    with whole_file(data) as temporary:
        temporary.write_bytes((results / "tables" / f"{wanted.table}.csv").read_bytes())
    first = pages[0]
    caption = _sentences(wanted.caption.replace(LIKE_YOURS, LIKE_THIS), *first.untold)
    evidence = _sentences(first.evidence)
    return Printed(name, plain(first.title), caption, evidence, tuple(files), data)


def _sentences(*texts: str) -> str:
    """What stands around a plot as sentences."""
    begun = (f"{text[:1].upper()}{text[1:]}" for text in texts)
    return " ".join(plain(text).rstrip(".") + "." for text in begun if text)


def _save(page: Page, target: Path, kind: str) -> None:
    title = plain(page.title)
    with whole_file(target) as temporary:
        match kind:
            case "svg":
                page.figure.savefig(
                    temporary, metadata={"Date": None, "Creator": None, "Title": title}
                )
                temporary.write_text(_smaller(temporary.read_text("utf-8")), "utf-8")
            case "pdf":
                _save_pdf(page, temporary, title)
            case _:
                dots = {"dpi": (PRINT_DPI, PRINT_DPI)}
                metadata = {"Software": None, "Title": title}
                page.figure.savefig(
                    temporary, dpi=SCALE * PRINT_DPI, metadata=metadata, pil_kwargs=dots
                )


def _smaller(svg: str) -> str:
    """A drawing at the size of print: its view stays, its width and height shrink."""

    def shrunk(found: re.Match[str]) -> str:
        return f'{found[1]}="{SCALE * float(found[2]):.4f}pt"'

    head, mark, rest = svg.partition(" viewBox=")
    return re.sub(r'\b(width|height)="([\d.]+)pt"', shrunk, head) + mark + rest


class _SmallerPdf(PdfFile):
    """A PDF file whose pages are drawn at the size of print."""

    def newPage(self, width: float, height: float) -> None:  # noqa: N802
        """A page of the size of print, on which all that follows is drawn small."""
        super().newPage(SCALE * width, SCALE * height)  # type: ignore[no-untyped-call]
        scaled = (SCALE, 0, 0, SCALE, 0, 0, Op.concat_matrix)
        self.output(*scaled)  # type: ignore[no-untyped-call]


class _SmallerPages(PdfPages):
    """The same as matplotlib takes it to save a figure into."""

    def _ensure_file(self) -> PdfFile:
        if self._file is None:
            made = _SmallerPdf(self._filename, self._metadata)  # type: ignore[no-untyped-call]
            self._file = made
        return self._file


def _save_pdf(page: Page, target: Path, title: str) -> None:
    nothing = dict.fromkeys(("CreationDate", "Creator", "Producer"))
    with _SmallerPages(target, metadata={**nothing, "Title": title}) as pages:
        pages.savefig(page.figure)
