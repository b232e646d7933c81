"""The page of a convergence study: would the numbers move if the model were drawn differently?

Rows of the table, verdicts and figures in, one HTML file that needs nothing else out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.convergence import Settling, settling_words
from pipeline.followed import (
    CASES,
    DIFFERENCE,
    FREE_SPACE,
    GEOMETRY,
    GROUND,
    IDEAL,
    NONE,
    QUANTITIES,
    REFLECTION,
    SEGMENTS,
    Followed,
    coarser,
    unit_of,
)
from pipeline.report import page_environment, read_picture, style_sheet
from pipeline.study_types import Study
from pipeline.tables import Row

CAPTIONS = {
    "convergence": (
        "Each quantity against the mean length of all segments, finer to the right; the grey "
        "stripe is the model as it is drawn."
    ),
    "other_drawings": (
        "Every other way of drawing. The simpler ground is the one of plane-wave reflection "
        "coefficients; free space is there for orientation only."
    ),
}
Key = tuple[str, str]


@dataclass(frozen=True)
class Line:
    """One quantity of one case in words: as drawn, finer segments, other ways, other ground."""

    label: str
    drawn: str
    settling: str
    others: str
    reflection: str
    free_space: str


def _is_fine_drawing(row: Row) -> bool:
    """Whether a row is of a drawing as fine as the usual one or finer, on the same ground."""
    return row["variation"] != GROUND and not coarser(row["variation"], row["value"])


def _writer(case: str, quantity: str) -> Callable[[float], str]:
    """How a value is written with its unit; a gain in dBi where it is one."""
    shown, unit = QUANTITIES[quantity].shown, unit_of(case, quantity)
    return lambda value: f"{shown(value)}i" if unit == "dBi" else shown(value)


def _range(rows: Iterable[Row], shown: Callable[[float], str]) -> str:
    values = [row["result"] for row in rows]
    if not values:
        return "–"
    low, high = shown(min(values)), shown(max(values))
    return low if low == high else f"{low} to {high}"


def _line(rows: list[Row], found: Settling, case: str, quantity: str) -> Line:
    own = [row for row in rows if (row["case"], row["quantity"]) == (case, quantity)]
    fine = [row for row in own if _is_fine_drawing(row)]
    shown = _writer(case, quantity)

    def ground(value: str) -> str:
        return _range((r for r in own if (r["variation"], r["value"]) == (GROUND, value)), shown)

    return Line(
        label=QUANTITIES[quantity].label,
        drawn=shown(own[0]["result"]),
        settling=settling_words(found, shown),
        others=_range((r for r in fine if r["variation"] != SEGMENTS), shown),
        reflection=ground(REFLECTION),
        free_space=ground(FREE_SPACE),
    )


def _most(rows: Iterable[Row], cases: tuple[str, ...], quantity: str) -> float:
    """Largest change of a quantity."""
    return max(
        (abs(r["change"]) for r in rows if r["case"] in cases and r["quantity"] == quantity),
        default=0.0,
    )


def _moved(rows: list[Row], cases: tuple[str, ...]) -> dict[str, float]:
    """Largest change of each quantity that has a threshold."""
    followed = [q for q, f in QUANTITIES.items() if f.noticed is not None]
    return {q: _most(rows, cases, q) for q in followed}


def _listed(moved: Mapping[str, float]) -> str:
    said = []
    for quantity, change in moved.items():
        followed = QUANTITIES[quantity]
        amount = f"by up to {followed.shown(change)}"
        if change < followed.resolution:
            amount = f"by less than {followed.shown(followed.resolution)}"
        said.append(f"{followed.label} {amount}")
    return ", ".join(said[:-1]) + (" and " if len(said) > 1 else "") + said[-1]


def _is_noticed(followed: Followed, change: float) -> bool:
    return followed.noticed is not None and change > followed.noticed


def headline(rows: list[Row]) -> str:
    """The answer in one or two sentences; ``rows`` as in the table."""
    fine = [row for row in rows if _is_fine_drawing(row)]
    moved = _moved(fine, (NONE, IDEAL))
    seen = {q: v for q, v in moved.items() if _is_noticed(QUANTITIES[q], v)}
    if not seen:
        return (
            f"No. Drawn finer or otherwise, nothing moves that would be noticed: {_listed(moved)}."
        )
    return f"Yes. Drawn finer or otherwise, what would be noticed moves: {_listed(seen)}."


def choke_sentence(rows: list[Row]) -> str:
    """How much what a choke changes depends on the drawing."""
    fine = [row for row in rows if _is_fine_drawing(row)]
    return (
        "What the choke changes is the difference of the two cases on one drawing; errors that "
        f"both share fall out of it. It moves: {_listed(_moved(fine, (DIFFERENCE,)))}."
    )


def ground_sentence(rows: list[Row]) -> str:
    """What the simpler ground would have done; empty where there is no such run."""
    rough = [r for r in rows if (r["variation"], r["value"]) == (GROUND, REFLECTION)]
    if not rough:
        return ""
    return (
        "The soil is computed with Sommerfeld's integrals. The older approximation by plane-wave "
        "reflection coefficients is meant for wires well above the soil; with it the numbers "
        f"would move: {_listed(_moved(rough, (NONE, IDEAL)))}. This is a test of the "
        "approximation, not of the result."
    )


def _groups(rows: list[Row], verdicts: Mapping[Key, Settling]) -> list[tuple[str, list[Line]]]:
    names = {
        NONE: "cable without a choke",
        IDEAL: "with an ideal choke",
        DIFFERENCE: "what the choke changes: the first minus the second",
        GEOMETRY: "the geometry, whatever is on the cable",
    }
    return [
        (
            names[case],
            [_line(rows, s, case, q) for (own, q), s in verdicts.items() if own == case],
        )
        for case in (*CASES, GEOMETRY)
    ]


def page(
    folder: Path,
    study: Study,
    rows: list[Row],
    verdicts: Mapping[Key, Settling],
    remarks: tuple[str, ...],
) -> str:
    """The whole page as text.

    Parameters
    ----------
    folder : Path
        Folder that holds the two figures.
    study : Study
        What was drawn.
    rows : list of dict
        The table.
    verdicts : mapping
        What each quantity does as segments get shorter, by case and quantity.
    remarks : tuple of str
        Ways of drawing that were not possible, and why.

    Raises
    ------
    ResultError
        If a figure is missing or damaged.
    """
    css, digest = style_sheet()
    kinds = [s.kind for s in verdicts.values()]
    context: dict[str, Any] = {
        "study": study,
        "headline": headline(rows),
        "choke_sentence": choke_sentence(rows),
        "ground_sentence": ground_sentence(rows),
        "n_ways": len({(row["variation"], row["value"]) for row in rows}) - 1,
        "groups": _groups(rows, verdicts),
        "grounded": study.site.ground is not None,
        "n_moving": kinds.count("moves"),
        "n_settling": kinds.count("settles"),
        "n_followed": len(kinds),
        "remarks": remarks,
        "pictures": [read_picture(folder / f"{n}.svg", said) for n, said in CAPTIONS.items()],
    }
    template = page_environment().get_template("evidence.html.j2")
    return template.render(css=css, digest=digest, **context)
