"""Findings of a command about one study, and the files that they become."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.runtime.csv_tables import Row, write_table
from pipeline.runtime.store import write_json, write_text

# A text as it is, rows of a table (CSV), or plain data (JSON).
Content = str | list[Row] | dict[str, Any]


@dataclass(frozen=True)
class Findings:
    """Text to print, files by their names, figures, a page, and whether the target is met.

    ``draw`` writes figures into the folder, after the files; ``page`` makes the page's text from
    the folder with its figures. The page is called like the folder.
    """

    said: str
    files: Mapping[str, Content] = field(default_factory=dict)
    draw: Callable[[Path], None] | None = None
    page: Callable[[Path], str] | None = None
    met: bool = True

    def write(self, folder: Path) -> str:
        """Write everything into a folder of results; returns what to print."""
        shown = folder / f"{folder.name}.html"
        if self.page is not None:
            # The page comes last and an old one goes first: where it is, all of it belongs
            # together.
            shown.unlink(missing_ok=True)
        for name, content in self.files.items():
            _write(folder / name, content)
        if self.draw is not None:
            self.draw(folder)
        if self.page is None:
            return self.said
        write_text(shown, self.page(folder))
        return f"{self.said}\nPage: {shown}"


def _write(path: Path, content: Content) -> None:
    if isinstance(content, str):
        write_text(path, content)
    elif isinstance(content, list):
        write_table(path, content)
    else:
        write_json(path, content)
