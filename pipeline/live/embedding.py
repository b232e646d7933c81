"""What a page needs to be alive, as text that goes into its HTML.

A results folder in; the data of its study as base64, and script and style as they were built, out.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

# A solved study, packed; beside the summary of its results.
DATA = "live.gz"


@dataclass(frozen=True)
class Live:
    """The living part of a page: ``script`` and ``style`` are ours, ``data`` the study's."""

    script: str
    style: str
    data: str


@cache
def _built(name: str) -> str:
    return (files("pipeline.live") / "built" / name).read_text(encoding="utf-8")


def live_of(results: Path) -> Live | None:
    """The living part of a report; None where its results have no data for one.

    Base64 holds no sign that means anything in HTML, whatever a study calls itself.
    """
    path = results / DATA
    if not path.exists():
        return None
    data = base64.b64encode(path.read_bytes()).decode("ascii")
    return Live(_built("live.js"), _built("live.css"), data)
