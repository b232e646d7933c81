"""The page of a convergence study: would the numbers move if the model were drawn differently?

Rows of the table, verdicts and figures in, one HTML file that needs nothing else out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from pipeline.figures.convergence import PAGE as FIGURES
from pipeline.figures.convergence import draw
from pipeline.mesh.convergence import Settling, settling_words
from pipeline.mesh.mesh_study import Redrawing
from pipeline.mesh.redrawn_solves import Numbers, rows_of, settling_rows, settlings
from pipeline.mesh.tracked_quantities import (
    CASES,
    DIFFERENCE,
    FREE_SPACE,
    GEOMETRY,
    GROUND,
    ONE_PART,
    PARTS,
    QUANTITIES,
    REFLECTION,
    SEGMENTS,
    Tracked,
    amount,
    is_test,
    unit_of,
    untested,
    ways_tried,
)
from pipeline.report.findings import Findings
from pipeline.report.html import page_text
from pipeline.report.pictures import read_pictures
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import IDEAL, NONE
from pipeline.study.records import Study
from pipeline.text.formatting import listed

Key = tuple[str, str]
# Heading of a case, and a line in words of each of its quantities.
Group = tuple[str, list[dict[str, str]]]


def _tests(rows: Iterable[Row]) -> list[Row]:
    """Rows of drawings that test the usual one."""
    return [row for row in rows if is_test(row["variation"], row["value"])]


def _writer(case: str, quantity: str) -> Callable[[float], str]:
    """Writer of a value with its unit; a gain in dBi where it is one."""
    shown, unit = QUANTITIES[quantity].shown, unit_of(case, quantity)
    return lambda value: f"{shown(value)}i" if unit == "dBi" else shown(value)


def _range(rows: Iterable[Row], shown: Callable[[float], str]) -> str:
    values = [row["result"] for row in rows]
    if not values:
        return "not tested"
    low, high = shown(min(values)), shown(max(values))
    return low if low == high else f"{low} to {high}"


def _line(rows: list[Row], found: Settling, case: str, quantity: str) -> dict[str, str]:
    """One quantity of one case in words: as drawn, finer segments, other ways, other ground."""
    own = [row for row in rows if (row["case"], row["quantity"]) == (case, quantity)]
    tests = _tests(own)
    shown = _writer(case, quantity)

    def ground(value: str) -> str:
        return _range((r for r in own if (r["variation"], r["value"]) == (GROUND, value)), shown)

    one_part = [row for row in tests if row["variation"] in PARTS]
    return {
        "label": QUANTITIES[quantity].label,
        "drawn": shown(own[0]["result"]),
        "settling": settling_words(found, shown)
        + (f"; of one part at a time: {_range(one_part, shown)}" if one_part else ""),
        "others": _range((r for r in tests if r["variation"] not in (SEGMENTS, *PARTS)), shown),
        "reflection": ground(REFLECTION),
        "free_space": ground(FREE_SPACE),
    }


def _most(rows: Iterable[Row], cases: tuple[str, ...], quantity: str) -> float:
    """Largest change of a quantity."""
    return max(
        (abs(r["change"]) for r in rows if r["case"] in cases and r["quantity"] == quantity),
        default=0.0,
    )


def _moved(rows: list[Row], cases: tuple[str, ...]) -> dict[str, float]:
    """Largest change of each quantity that has a threshold."""
    tracked = [q for q, f in QUANTITIES.items() if f.noticed is not None]
    return {q: _most(rows, cases, q) for q in tracked}


def _amounts(moved: Mapping[str, float]) -> str:
    said = [f"{QUANTITIES[q].label} {amount(q, change)}" for q, change in moved.items()]
    return listed(said)


def _is_noticed(tracked: Tracked, change: float) -> bool:
    return tracked.noticed is not None and change > tracked.noticed


def _how_fine(rows: list[Row]) -> str:
    """Clause on the shortest segments; empty where none were made shorter."""

    def shortest(variation: str) -> str:
        return min((r["value"] for r in rows if r["variation"] == variation), key=float, default="")

    whole = shortest(SEGMENTS)
    said = [f"segments down to {whole} of their length"] if whole else []
    parts = [f"{shortest(v)} in the {part}" for part, v in ONE_PART.items() if shortest(v)]
    if parts:
        alone = f"{listed(parts)} by {'itself' if len(parts) == 1 else 'themselves'}"
        said.append(alone if whole else f"segments down to {alone}")
    return "".join(f"{text}, " for text in said)


def headline(rows: list[Row]) -> str:
    """The answer in one to three sentences, what was not tested last; ``rows`` as in the table."""
    tests = _tests(rows)
    missing = untested((row["variation"], row["value"]) for row in rows)
    left_out = f" Not tested: {listed(missing)}." if missing else ""
    if not tests:
        return f"Not known.{left_out}"
    moved = _moved(tests, (NONE, IDEAL))
    noticed = {q: v for q, v in moved.items() if _is_noticed(QUANTITIES[q], v)}
    how_fine = _how_fine(tests)
    how = f"Drawn finer, {how_fine}or otherwise" if how_fine else "Drawn otherwise"
    if noticed:
        return f"Yes. {how}, what would be noticed moves: {_amounts(noticed)}.{left_out}"
    answer = "No" if how_fine else "Not known: shorter segments were not tested"
    return f"{answer}. {how}, nothing moves that would be noticed: {_amounts(moved)}.{left_out}"


def choke_sentence(rows: list[Row]) -> str:
    """Dependence on the drawing of what a choke changes."""
    tests = _tests(rows)
    amounts = _amounts(_moved(tests, (DIFFERENCE,))) if tests else "not tested"
    return (
        "What the choke changes is the difference of the two cases on one drawing; errors that "
        f"both share fall out of it. It moves: {amounts}."
    )


def ground_sentence(rows: list[Row]) -> str:
    """Changes by the simpler ground; empty where there is no such run."""
    rough = [r for r in rows if (r["variation"], r["value"]) == (GROUND, REFLECTION)]
    if not rough:
        return ""
    return (
        "The soil is computed with Sommerfeld's integrals. The older approximation by plane-wave "
        "reflection coefficients is meant for wires well above the soil; with it the numbers "
        f"would move: {_amounts(_moved(rough, (NONE, IDEAL)))}. This is a test of the "
        "approximation, not of the result."
    )


def _groups(rows: list[Row], verdicts: Mapping[Key, Settling]) -> list[Group]:
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


def findings(
    study: Study, found: list[tuple[Redrawing, Numbers]], remarks: tuple[str, ...]
) -> Findings:
    """Everything about a convergence study: tables, figures, page, and what is printed."""
    rows = rows_of(found)
    verdicts = settlings(rows)
    return Findings(
        f"{study.name}: {headline(rows)}",
        {"convergence.csv": rows, "settling.csv": settling_rows(verdicts)},
        lambda folder: draw(folder, study.title, study.frequency),
        lambda folder: page(folder, study, rows, verdicts, remarks),
    )


def page(
    folder: Path,
    study: Study,
    rows: list[Row],
    verdicts: Mapping[Key, Settling],
    remarks: tuple[str, ...],
) -> str:
    """The whole page as text; ``folder`` holds the two figures.

    ``remarks`` say which ways of drawing were not possible, and why.
    """
    ways = list(dict.fromkeys((row["variation"], row["value"]) for row in rows))
    kinds = [s.kind for s in verdicts.values()]
    return page_text(
        "evidence",
        read_pictures(folder, FIGURES),
        study=study,
        headline=headline(rows),
        choke_sentence=choke_sentence(rows),
        ground_sentence=ground_sentence(rows),
        n_ways=len(ways) - 1,
        ways_tried=listed(ways_tried(ways)),
        one_part=any(row["variation"] in PARTS for row in rows),
        groups=_groups(rows, verdicts),
        grounded=study.site.ground is not None,
        n_moving=kinds.count("moves"),
        n_settling=kinds.count("settles"),
        n_tracked=len(kinds),
        remarks=remarks,
    )
