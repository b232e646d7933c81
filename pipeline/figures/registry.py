"""Every figure as one record: name, drawing, page and place there, table, caption.

A new figure is a function with :func:`figure` over it and its caption as docstring, in any module
of this room: pages, workflow and tests find it here.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pipeline.figures
from pipeline.figures import SECTIONS
from pipeline.figures.data import load_cases, read_table
from pipeline.figures.page import Page
from pipeline.figures.style import PAGE, style
from pipeline.runtime.workers import worker_pool

REPORT = "report"
Draw = Callable[..., Page | None]


@dataclass(frozen=True)
class Figure:
    """One figure.

    ``draw`` takes what its page draws from and returns the figure, or None where there is nothing
    to show; in a report that is ``(Cases, Table)`` with ``table`` read from the results. ``order``
    sorts a page, ``caption`` stands below the figure there; its finding, the title, is what a
    reader who cannot see it is told. ``part`` is the part of the summary without which there is no
    such figure, ``section`` the part of a report that shows it; ``optional`` says that ``draw``
    may return None.
    """

    name: str
    page: str
    order: int
    caption: str
    draw: Draw
    table: str
    part: str
    optional: bool
    section: str

    def is_shown(self, results: Path, summary: Mapping[str, Any]) -> bool:
        """Whether a report has it: its part is there, and its table is not empty."""
        path = results / "tables" / f"{self.table}.csv"
        has_rows = not path.exists() or len(read_table(results, self.table)) > 0
        return has_rows and (not self.part or self.part in summary)


def figure(
    page: str,
    order: int,
    *,
    table: str = "",
    part: str = "",
    optional: bool = False,
    section: str = "",
) -> Callable[[Draw], Figure]:
    """Make a function the figure of its name, captioned with its docstring.

    The arguments are those of :class:`Figure`; ``table`` is the figure's name where none is given.

    Raises
    ------
    ValueError
        If a figure of a report belongs to no section, so that it would never be shown, or a figure
        has no docstring.
    """
    if page == REPORT and section not in SECTIONS:
        raise ValueError(f"section of a figure of a report: {section!r} is none of {SECTIONS}")

    def made(draw: Draw) -> Figure:
        name, caption = draw.__name__, " ".join((draw.__doc__ or "").split())
        if not caption:
            raise ValueError(f"the figure {name} has no docstring to stand below it")
        return Figure(name, page, order, caption, draw, table or name, part, optional, section)

    return made


def figures_of(page: str) -> dict[str, Figure]:
    """Figures of a page by name, in the order in which they are shown.

    Raises
    ------
    ValueError
        If two have one name.

    Examples
    --------
    >>> list(figures_of("tune"))
    ['tuning']
    """
    found: dict[str, Figure] = {}
    for info in pkgutil.iter_modules(pipeline.figures.__path__):
        module = importlib.import_module(f"{pipeline.figures.__name__}.{info.name}")
        for each in vars(module).values():
            if not isinstance(each, Figure) or each.page != page:
                continue
            if found.setdefault(each.name, each) is not each:
                raise ValueError(f"two figures of {page} are named {each.name}")
    return dict(sorted(found.items(), key=lambda item: item[1].order))


def draw_report(results: Path, *names: str, cores: int = 1) -> None:
    """Draw figures of a report, all or some by name, into the folder ``figures`` of its results.

    Several ``cores`` share them.

    Raises
    ------
    KeyError
        If there is no such figure.
    ResultError
        If a file of the results is missing or damaged.
    """
    every = figures_of(REPORT)
    cases = load_cases(results)
    wanted = [every[name] for name in names or every]
    shown = [f for f in wanted if not f.part or f.part in cases.summary]
    if cores == 1:
        for each in shown:
            _draw(each, results / "figures", cases, read_table(results, each.table))
        return
    with worker_pool(cores, "drawing figures") as pool:
        jobs = [pool.submit(draw_report, results, each.name) for each in shown]
        for job in jobs:
            job.result()


def draw_page(page: str, folder: Path, *data: Any, cores: int = 1) -> None:
    """Draw all figures of another page into a folder, from what that page is made of.

    Several ``cores`` share them.
    """
    every = figures_of(page)
    if cores == 1:
        for wanted in every.values():
            _draw(wanted, folder, *data)
        return
    with worker_pool(cores, "drawing figures") as pool:
        jobs = [pool.submit(_draw_named, page, name, folder, *data) for name in every]
        for job in jobs:
            job.result()


def _draw_named(page: str, name: str, folder: Path, *data: Any) -> None:
    """Draw one figure of a page in another process, which knows it by its name."""
    _draw(figures_of(page)[name], folder, *data)


def _draw(wanted: Figure, folder: Path, *data: Any) -> None:
    family = [
        f for f in figures_of(wanted.page).values() if f.section and f.section == wanted.section
    ]
    with style(replace(PAGE, has_evidence=not family or family[0] is wanted)):
        page = wanted.draw(*data)
        if page is not None:
            page.save(folder / wanted.name)
