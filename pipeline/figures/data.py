"""Data that figures are drawn from: tables as columns, cases and their lines, places on a cable.

Results folder in, plain data out. Which cases are emphasised is decided here, once for all figures.
"""

from __future__ import annotations

import csv
import itertools
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.answer.stored_summary import read_summary
from pipeline.chokes.kinds import kind_of
from pipeline.figures.page import EndLabel, Note, Texts, footer_of
from pipeline.figures.style import (
    BRICK,
    CHOSEN_LINE,
    IDEAL_LINE,
    LONGER_DASH,
    NO_CABLE_LINE,
    NONE_LINE,
    OCHRE,
    OTHER_DASH,
    OTHER_LINE,
    PLUM,
    STEEL,
    UNSOUND_DASH,
    Stroke,
    sheet,
    shorten,
)
from pipeline.runtime.csv_tables import from_cell
from pipeline.solver.cases import CABLE, IDEAL, NO_FEEDLINE, NONE
from pipeline.solver.port_basis import load_structure
from pipeline.text.errors import Fault, ResultError
from pipeline.text.formatting import percent, plain

UNSOUND = "unsound – do not rely on it"
_FIXED = (NONE, IDEAL, NO_FEEDLINE)
# More letters than these do not fit beside a curve.
_LONGEST_NAME = 30


@dataclass(frozen=True)
class Table:
    """A CSV table as text columns."""

    columns: dict[str, NDArray[np.str_]]

    def __len__(self) -> int:
        return len(next(iter(self.columns.values()), ()))

    def text(self, name: str) -> NDArray[np.str_]:
        """A column as text."""
        return self.columns[name]

    def number(self, name: str) -> NDArray[np.float64]:
        """A column as numbers; an empty cell is not a number."""
        cells = self.columns[name]
        return np.where(cells == "", "nan", cells).astype(np.float64)

    def ends(self, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Low and high ends of a column's 95 % intervals."""
        return self.number(f"{name}_low"), self.number(f"{name}_high")

    def select(self, **wanted: str) -> Table:
        """The rows in which each named column holds the wanted text."""
        keep = np.ones(len(self), dtype=bool)
        for name, value in wanted.items():
            keep &= self.columns[name] == value
        return self.keep(keep)

    def keep(self, rows: Sequence[bool] | NDArray[np.bool_]) -> Table:
        """Some of the rows."""
        mask = np.asarray(rows, dtype=bool)
        return Table({name: cells[mask] for name, cells in self.columns.items()})

    def rows(self, *names: str) -> Iterator[Any]:
        """Some columns row by row, as text."""
        return zip(*(self.columns[name].tolist() for name in names), strict=True)

    def distinct(self, name: str) -> list[str]:
        """Values of a column, each once, in order of appearance."""
        return [str(v) for v in dict.fromkeys(self.columns[name].tolist())]


def read_table(results: Path, name: str) -> Table:
    """A table of a results folder; errors as :func:`table_at`."""
    return table_at(results / "tables" / f"{name}.csv")


def table_at(path: Path) -> Table:
    """A table by the path of its file.

    Raises
    ------
    ResultError
        If it is missing or damaged.
    """
    try:
        with path.open(encoding="utf-8", newline="") as stream:
            header, *rows = list(csv.reader(stream, strict=True)) or [[]]
        rows = [[from_cell(cell) for cell in row] for row in rows]
        cells = list(zip(*rows, strict=True)) if rows else [()] * len(header)
        pairs = list(zip(header, cells, strict=True))
    except (OSError, ValueError, csv.Error) as error:
        rule = f"cannot be read as a table ({type(error).__name__})"
        remedy = "delete this file and run the study again; only what is missing is computed"
        raise ResultError(Fault(str(path), "", rule, remedy, "result-damaged")) from error
    return Table({head: np.array(column, dtype=np.str_) for head, column in pairs})


@dataclass(frozen=True)
class DrawnCase:
    """A case as it is drawn: short name beside its line, full name below, its line, weight."""

    id: str
    name: str
    label: str
    stroke: Stroke
    emphasised: bool
    grade: str

    @property
    def colour(self) -> str:
        """Colour of its line and of what is said of it."""
        return self.stroke.colour

    @property
    def is_unsound(self) -> bool:
        """Whether nobody should rely on it."""
        return self.grade == "unsound"

    @property
    def is_candidate(self) -> bool:
        """Whether it is a choke that somebody could use."""
        return self.id not in _FIXED

    @property
    def line(self) -> dict[str, Any]:
        """Keywords of its line; an unsound case has a dash of its own wherever it is drawn."""
        return {
            **self.stroke.look,
            **({"ls": UNSOUND_DASH} if self.is_unsound else {}),
            "zorder": 3 if self.emphasised else 2,
            "gid": f"case-{self.id}",
        }


Curves = list[tuple[DrawnCase, NDArray[np.float64]]]


def end_labels(curves: Curves) -> list[EndLabel]:
    """Names at the ends of the curves of emphasised cases and of those not to rely on."""
    return [
        EndLabel(float(y[-1]), case.name, case.colour)
        for case, y in curves
        if case.emphasised or case.is_unsound
    ]


@dataclass(frozen=True)
class Cases:
    """All cases of a study, their comparison as a table, and the texts that every figure shares."""

    results: Path
    summary: dict[str, Any]
    table: Table

    @cached_property
    def frequency(self) -> float:
        """Design frequency. [Hz]"""
        return float(self.summary["study"]["frequency_hz"])

    @cached_property
    def chosen(self) -> str:
        """Id of the case that the answer takes."""
        return str(self.summary["answer"]["chosen"])

    @cached_property
    def with_bands(self) -> tuple[str, ...]:
        """Cases whose intervals are drawn: what the reader has and what is taken, if sound."""
        wanted = dict.fromkeys((NONE, self.chosen))
        return tuple(c for c in wanted if not self.of(c).is_unsound)

    @cached_property
    def structures(self) -> dict[str, Structure]:
        """Every geometry of the study by its name."""
        paths = sorted((self.results / "geometry").glob("*.json"))
        return {path.stem: load_structure(path) for path in paths}

    @cached_property
    def cable(self) -> Structure:
        """The geometry that all lumped chokes share."""
        return load_structure(self.results / "geometry" / f"{CABLE}.json")

    def half_width(self, case: str, column: str) -> float:
        """Larger half of the 95 % interval of a number from the comparison."""
        low, value, high = (self.value(case, column + end) for end in ("_low", "", "_high"))
        return max(value - low, high - value)

    def value(self, case: str, column: str) -> float:
        """A number of a case from the comparison."""
        return float(self.table.select(case=case).number(column)[0])

    def threshold(self, name: str) -> float:
        """A threshold of a visible change."""
        return float(self.summary["conventions"]["thresholds"][name])

    def candidate(self, case: str) -> Mapping[str, Any]:
        """A candidate over all draws, as the answer has it."""
        found: list[Mapping[str, Any]] = self.summary["answer"]["candidates"]
        return next(entry for entry in found if entry["id"] == case)

    @cached_property
    def every(self) -> tuple[DrawnCase, ...]:
        """Every case, the emphasised ones last so that they lie on top."""
        names = self._names()
        found = []
        for case, label, grade in self.table.rows("case", "label", "grade"):
            name, stroke = names.get(case, (case, OTHER_LINE))
            if grade == "unsound":
                name = f"{name}: {UNSOUND}"
            found.append(DrawnCase(case, name, plain(label), stroke, case in names, grade))
        return tuple(sorted(found, key=lambda case: case.emphasised))

    def _names(self) -> dict[str, tuple[str, Stroke]]:
        """Name and line of each case that is emphasised: those at either end of the chances."""
        by_chance = {
            entry["id"]: (-float(entry["enough"]), float(entry["score"]["high"]))
            for entry in self.summary["answer"]["candidates"]
        }
        ranked = sorted(
            (
                case
                for case, kind, grade in self.table.rows("case", "kind", "grade")
                if case in by_chance
                and case not in (*_FIXED, self.chosen)
                and kind_of(kind).is_real
                and grade != "unsound"
            ),
            key=by_chance.__getitem__,
        )
        names = {NO_FEEDLINE: ("no cable", NO_CABLE_LINE)}
        # A rank by chance says nothing about another number: who is named has no rank in its name.
        lines = Stroke(PLUM, OTHER_DASH, 1.5), Stroke(OCHRE, LONGER_DASH, 1.5)
        for case, line in zip((ranked[:1] + ranked[1:][-1:]), lines, strict=False):
            names[case] = (shorten(case, _LONGEST_NAME), line)
        names[NONE] = ("no choke", NONE_LINE)
        names[IDEAL] = ("ideal choke", IDEAL_LINE)
        if self.chosen != NONE:
            names[self.chosen] = ("chosen", CHOSEN_LINE)
        return names

    def of(self, case: str) -> DrawnCase:
        """A case by its id."""
        return next(c for c in self.every if c.id == case)

    def candidates(self, table: Table) -> list[tuple[DrawnCase, Table]]:
        """Candidates that may be relied on, other than the chosen one, with their rows."""
        return [
            (case, rows)
            for case, rows in self.drawn(table)
            if case.is_candidate and case.id != self.chosen and not case.is_unsound
        ]

    def drawn(self, table: Table) -> list[tuple[DrawnCase, Table]]:
        """Each case with its rows of a table, cases without rows left out."""
        pairs = [(case, table.select(case=case.id)) for case in self.every]
        return [(case, rows) for case, rows in pairs if len(rows)]

    def main(self, table: Table) -> list[tuple[DrawnCase, Table]]:
        """What the reader has, what is taken and the ideal, each with its rows, that one first."""
        wanted = (IDEAL, NONE, self.chosen)
        found = {case.id: (case, rows) for case, rows in self.drawn(table)}
        return [found[name] for name in dict.fromkeys(wanted) if name in found]

    def told(self, case: DrawnCase) -> str:
        """A case in a note: its short name, of a candidate also its full one."""
        return self._full_name(case) if case.is_candidate else case.name

    def notes(self, table: Table | None = None) -> tuple[Note, ...]:
        """Full names of the emphasised candidates, what is grey, what is unsound."""
        shown = self.every if table is None else tuple(case for case, _ in self.drawn(table))
        notes = [
            Note(self._full_name(case), case.colour, case.line["ls"])
            for case in shown
            if case.emphasised and case.is_candidate
        ]
        grey = sum(not case.emphasised for case in shown)
        if grey:
            plural = "s" if grey > 1 else ""
            notes.append(Note(f"thin grey: {grey} other candidate{plural}", STEEL, OTHER_DASH))
        unsound = [case.id for case in shown if case.is_unsound]
        if unsound:
            more = f" and {len(unsound) - 8} more" if len(unsound) > 8 else ""
            notes.append(unsound_note(f": {', '.join(unsound[:8])}{more}"))
        return tuple(notes)

    def _full_name(self, case: DrawnCase) -> str:
        """Name beside a curve, full name, how it stands, and the id where the first is another."""
        name = case.name.split(":")[0]
        own = "" if name == case.id else f" [{case.id}]"
        standing = self.table.select(case=case.id).text("standing")[0]
        return f"{name}: {shorten(case.label, 90)}{own}, {standing}"

    @cached_property
    def evidence(self) -> str:
        """One line: grades, and the worst of each check over all cases."""
        count = Counter(self.table.text("grade").tolist())
        grades = [g for g in ("sound", "usable", "unsound") if count[g]]
        said = ", ".join(f"{count[g]} {g}" for g in grades) if len(grades) > 1 else grades[0]
        gains = self.table.number("average_gain")
        furthest = gains[np.argmax(abs(gains - 1))]
        return (
            f"evidence: {said} (worst of all cases: average gain {furthest:.2f}, reciprocity "
            f"{percent(self.table.number('reciprocity').max())}, refined run "
            f"{percent(self.table.number('convergence').max())})"
        )

    @cached_property
    def footer(self) -> str:
        """Study and frequency."""
        return footer_of(str(self.summary["study"]["title"]), self.frequency, 100)

    def texts(self, title: str, *notes: Note, evidence: str | None = None) -> Texts:
        """Texts around a plot; the evidence of all cases once in a family of figures."""
        if evidence is None:
            evidence = self.evidence if sheet().has_evidence else ""
        return Texts(title, notes, evidence, self.footer)


def unsound_note(of: str = "") -> Note:
    """Note on the dash of what nobody should rely on."""
    return Note(f"dash and two dots: {UNSOUND}{of}", BRICK, UNSOUND_DASH)


def load_cases(results: Path) -> Cases:
    """Cases and summary of a results folder.

    Raises
    ------
    ResultError
        If a file is missing or damaged, or of another version.
    """
    return Cases(results, read_summary(results), read_table(results, "cases"))


@dataclass(frozen=True)
class Landmark:
    """A place along the cable that a reader knows: antenna, bend, bond, radio."""

    position: float
    name: str


def landmarks(structure: Structure) -> tuple[Landmark, ...]:
    """Known places along the cable of a geometry without a coil, in order."""
    found = [Landmark(0.0, "antenna")]
    path = structure.shield_path
    direction = structure.segments.direction
    known = [
        (p.position, p.name)
        for p in structure.ports
        if p.position is not None and p.name in ("bond", "station")
    ]
    for (a, s), (b, t) in itertools.pairwise(path):
        corner = 0.5 * (s + t)
        if float(direction[a] @ direction[b]) > 0.9:
            continue
        if all(abs(corner - place) > 0.1 for place, _ in known):
            found.append(Landmark(corner, "bend"))
    found += [Landmark(place, {"station": "radio"}.get(name, name)) for place, name in known]
    return tuple(sorted(found, key=lambda m: m.position))
