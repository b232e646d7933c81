"""Every figure of a report by its name; each is drawn from its own table only.

A results folder in; ``figures/<name>.png`` and ``.svg`` out, the same bytes for the same tables.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from models.wires.structure import Structure
from pipeline.figures import chokes as figure_chokes
from pipeline.figures import exposure as figure_exposure
from pipeline.figures import installation as figure_installation
from pipeline.figures import line as figure_line
from pipeline.figures import measured as figure_measured
from pipeline.figures import patterns as figure_patterns
from pipeline.figures import style as figure_style
from pipeline.runtime.store import read_json

_DRAW: dict[str, Callable[[Path], None]] = {
    "installation": figure_installation.installation,
    "azimuth_cut": figure_patterns.azimuth_cut,
    "elevation_cut": figure_patterns.elevation_cut,
    "low_elevation": figure_patterns.low_elevation,
    "band": figure_line.band,
    "shield_current": figure_line.shield_current,
    "choke_impedance": figure_chokes.choke_impedance,
    "core_count": figure_chokes.core_count,
    "choke_position": figure_chokes.choke_position,
}
FIGURES: tuple[str, ...] = tuple(_DRAW)
# Drawn where the summary has a part of that name, and nothing otherwise.
_IF_GIVEN: dict[str, Callable[[Path], None]] = {
    "measured": figure_measured.measured,
    "exposure": figure_exposure.exposure,
}
IF_GIVEN: tuple[str, ...] = tuple(_IF_GIVEN)


def draw(name: str, results: Path) -> None:
    """Draw one figure into the folder ``figures`` of a results folder.

    Parameters
    ----------
    name : str
        One of ``FIGURES``, or of ``IF_GIVEN`` for a figure that not every study has.
    results : Path
        Folder that holds ``summary.json``, ``tables`` and ``geometry``.

    Raises
    ------
    KeyError
        If there is no such figure.
    ResultError
        If a file of the results is missing or damaged.
    """
    if name in _IF_GIVEN and name not in read_json(results / "summary.json"):
        return
    with figure_style.style():
        (_DRAW | _IF_GIVEN)[name](results)


def draw_installation(
    target: Path,
    title: str,
    frequency: float,
    structures: Mapping[str, Structure],
    *,
    grounded: bool = True,
) -> None:
    """Draw an installation that has not been computed yet.

    Parameters
    ----------
    target : Path
        Where the picture goes, without its suffix.
    title : str
        Title of the study.
    frequency : float
        Design frequency. [Hz]
    structures : mapping
        Geometries by name, "cable" among them.
    grounded : bool
        Whether there is soil at height zero.
    """
    scene = figure_installation.Scene(title, frequency, grounded=grounded)
    with figure_style.style():
        figure_installation.paint(target, structures, scene)
