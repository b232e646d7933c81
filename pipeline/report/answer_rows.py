"""Rows of the answer as a page prints them: chances of a hundred, numbers with their ranges.

The part ``answer`` of a summary in, texts by the table that they stand in out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.lengths import small
from pipeline.answer.phrases import hundredths
from pipeline.answer.ranking import RARE, is_surely_worse
from pipeline.answer.record import Chance
from pipeline.figures.data import Table
from pipeline.report.answer_tables import OWN
from pipeline.report.html import Cell
from pipeline.solver.cases import NONE
from pipeline.text.formatting import decibels, fixed, impedance_words, percent

Part = Mapping[str, Any]


@dataclass(frozen=True)
class _Column:
    """A number of the table of candidates: the figure of merit, heading, how it is printed."""

    name: str
    heading: str
    say: Callable[[float], str]


_COLUMNS = (
    _Column("station_ratio", "current at the radio", percent),
    _Column("shield_ratio", "most on the cable", percent),
    _Column("pattern_rms_db", "pattern change rms [dB]", lambda v: fixed(v, 2)),
    _Column("mean_gain_dbi", "mean gain, lowest lobe [dBi]", decibels),
    _Column("swr", "SWR", lambda v: fixed(v, 2)),
)


def answer_rows(answer: Part) -> dict[str, Any]:
    """Rows in print by the name of their table."""
    found = answer["candidates"]
    shown = [c for c in _COLUMNS if all(c.name in entry["figures"] for entry in found)]
    return {
        "candidates": {
            "columns": [c.heading for c in shown],
            "rows": [_candidate(entry, shown, answer) for entry in found],
        },
        "risky": _risky(found),
        "causes": _causes(answer),
        "instead": [_instead(entry) for entry in answer["instead"]],
    }


def chance_words(value: float, error: float) -> str:
    """A chance of a hundred, with its standard error in points where both are numbers.

    Examples
    --------
    >>> chance_words(0.974, 0.013), chance_words(0.998, 0.002), chance_words(0.56, 0.004)
    ('97 ± 1', 'more than 99', '56 ± 0.4')
    """
    said, points = hundredths(value), 100 * error
    if points < 0.05 or not said.isdigit():
        return said
    return f"{said} ± {fixed(points, 0 if points >= 0.95 else 1)}"


def _chance(entry: Part, name: str) -> str:
    return chance_words(float(entry[name]), float(entry[f"{name}_error"]))


def _candidate(entry: Part, shown: Sequence[_Column], answer: Part) -> dict[str, Any]:
    is_bare, price = entry["id"] == NONE, entry["price"]
    return {
        "id": entry["id"],
        "label": entry["label"],
        "standing": entry["standing"],
        "chosen": entry["id"] == answer["chosen"],
        "unsound": entry["grade"] == "unsound",
        "cost": "" if price is None else f"{price:.2f} {answer['currency']}".strip(),
        "enough": _chance(entry, "enough"),
        "worse": "–" if is_bare else _chance(entry, "worse"),
        "numbers": [_ranged(c, entry["figures"][c.name]) for c in shown],
        "heat": "" if is_bare else percent(entry["heat"]),
        "place": hundredths(entry["place"]),
        "geometries": entry["geometries"],
    }


def _ranged(column: _Column, found: Part) -> Cell:
    """A number as described, and below it its range over the draws."""
    low, high = (column.say(found[end]) for end in ("low", "high"))
    if low.endswith(" %") and high.endswith(" %"):
        low = low.removesuffix(" %")
    return Cell(column.say(found["stated"]), low if low == high else f"{low} to {high}")


def _risky(found: Sequence[Part]) -> list[dict[str, Any]]:
    """Candidates that are worse than none more often than can be passed over, the worst first.

    Those of which that is within its own error only may be.
    """
    bad = [entry for entry in found if entry["worse"] >= RARE]
    bad.sort(key=lambda entry: -float(entry["worse"]))
    return [
        {
            "label": entry["label"],
            "worse": _chance(entry, "worse"),
            "surely": is_surely_worse(Chance(entry["worse"], entry["worse_error"])),
        }
        for entry in bad
    ]


def _causes(answer: Part) -> list[dict[str, str]]:
    """What is left open, with shares and chances without a choke and with the chosen one."""
    own_name = next((name for name in answer["causes"] if name != NONE), "")
    bare, own = (_by_key(answer["causes"].get(name)) for name in (NONE, own_name))
    known = {u["name"]: u for u in answer["unknowns"]}
    return [_cause(key, bare.get(key), own.get(key), known) for key in dict.fromkeys((*bare, *own))]


def _by_key(causes: Part | None) -> dict[tuple[str, bool], Part]:
    """Causes of one case by name, and whether it is of several together; the drawing first."""
    if causes is None or not causes["unknowns"]:
        return {}
    drawing = {"label": "all that changes the drawing", **causes["drawing"]}
    return {("", True): drawing} | {(c["name"], c["joint"]): c for c in causes["unknowns"]}


def _cause(
    key: tuple[str, bool], bare: Part | None, own: Part | None, known: Mapping[str, Part]
) -> dict[str, str]:
    name, joint = key
    unknown = known.get(name, {"drawn": "", "measure": ""})
    return {
        "label": str((bare or own or {})["label"]),
        "range": "all of it together" if joint else unknown["drawn"],
        "measure": unknown["measure"],
        "share": _share(bare, "share"),
        "noise": _share(bare, "noise"),
        "chances": _span(bare),
        "own": _share(own, "share"),
        "own_chances": _span(own),
    }


def _share(cause: Part | None, name: str) -> str:
    return "–" if cause is None else percent(cause[name])


def _span(cause: Part | None) -> str:
    """Least and most chance over an unknown's range."""
    if cause is None or "enough_least" not in cause:
        return "–"
    low, high = (hundredths(cause[n]) for n in ("enough_least", "enough_most"))
    return low if low == high else f"{low} to {high}"


def _instead(entry: Part) -> dict[str, str]:
    return {
        "what": entry["what"],
        "label": "no choke" if entry["with_choke"] == NONE else entry["label"],
        "enough": _chance(entry, "enough"),
        "geometries": str(entry["geometries"]),
    }


def core_rows_in_print(table: Table) -> dict[str, Any]:
    """Cores that were tried, and names of the others by the reason."""
    hole, r, x, low, high = (
        table.number(n) for n in ("hole_diameter_m", "r_ohm", "x_ohm", "z_low_ohm", "z_high_ohm")
    )
    tried: list[dict[str, str]] = []
    others: dict[str, list[str]] = {}
    columns = ("label", "kind", "tried", "known_from")
    for k, (label, kind, said, source) in enumerate(table.rows(*columns)):
        if said != "yes":
            others.setdefault(said.removeprefix("no: "), []).append(label)
            continue
        z = "–"
        if not np.isnan(r[k]):
            ends = f"{fixed(float(low[k]), 0)} to {fixed(float(high[k]), 0)}"
            z = f"{impedance_words(complex(r[k], x[k]), 0)}; {ends}"
        name = f"{label} ({source})" if source == OWN else label
        tried.append(
            {"label": name, "kind": kind, "hole": small(float(hole[k]), None), "one_pass": z}
        )
    return {"tried": tried, "others": {why: "; ".join(names) for why, names in others.items()}}
