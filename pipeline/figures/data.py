"""What figures are drawn from: tables as columns, the cast of cases, evidence, landmarks.

Results folder in, plain data out. Who is emphasised is decided here, once for all figures.
"""

from __future__ import annotations

import csv
import itertools
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.figures.style import (
    BRICK,
    DASHES,
    INK,
    MIST,
    OCHRE,
    PLUM,
    SEA,
    STEEL,
    UNSOUND_DASH,
    Note,
    Words,
    shorten,
)
from pipeline.runtime.csv_tables import from_cell
from pipeline.runtime.store import read_json
from pipeline.text.errors import Fault, ResultError
from pipeline.text.formatting import megahertz, percent, plain

UNSOUND = "unsound – do not rely on it"
NONE, IDEAL, ALONE = "none", "ideal", "no-feedline"
# More letters than these do not fit beside a curve.
_LONGEST_NAME = 30
# Geometry that all lumped chokes share.
CABLE = "cable"


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

    def where(self, **wanted: str) -> Table:
        """The rows in which each named column holds the wanted text."""
        keep = np.ones(len(self), dtype=bool)
        for name, value in wanted.items():
            keep &= self.columns[name] == value
        return Table({name: cells[keep] for name, cells in self.columns.items()})

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
        raise ResultError(
            Fault(
                str(path),
                "",
                f"cannot be read as a table ({type(error).__name__})",
                "delete this file and run the study again; only what is missing is computed",
                "result-damaged",
            )
        ) from error
    return Table({head: np.array(column, dtype=np.str_) for head, column in pairs})


@dataclass(frozen=True)
class Player:
    """A case as it is drawn: short name beside its line, full name below, colour, weight."""

    id: str
    name: str
    label: str
    colour: str
    emphasised: bool
    grade: str

    @property
    def line(self) -> dict[str, Any]:
        """Keywords of its line; an unsound case has a dash of its own wherever it is drawn."""
        return {
            "color": self.colour,
            "lw": 1.9 if self.emphasised else 0.8,
            "ls": UNSOUND_DASH if self.grade == "unsound" else DASHES[self.colour],
            "zorder": 3 if self.emphasised else 2,
            "gid": f"case-{self.id}",
        }


@dataclass(frozen=True)
class Cast:
    """All cases of a study and the words that every figure shares."""

    results: Path
    summary: dict[str, Any]
    cases: Table

    @cached_property
    def frequency(self) -> float:
        """Design frequency. [Hz]"""
        return float(self.summary["study"]["frequency_hz"])

    @cached_property
    def recommended(self) -> str:
        """Id of the recommended case."""
        return str(self.summary["verdict"]["recommended_case"])

    @cached_property
    def with_bands(self) -> tuple[str, ...]:
        """Cases whose intervals are drawn: what the reader has and what is advised, if sound."""
        wanted = dict.fromkeys((NONE, self.recommended))
        return tuple(c for c in wanted if self.player(c).grade != "unsound")

    def half_width(self, case: str, column: str) -> float:
        """Larger half of the 95 % interval of a number from the comparison."""
        value = self.value(case, column)
        return max(
            value - self.value(case, f"{column}_low"), self.value(case, f"{column}_high") - value
        )

    def value(self, case: str, column: str) -> float:
        """A number of a case from the comparison."""
        return float(self.cases.where(case=case).number(column)[0])

    def threshold(self, name: str) -> float:
        """A threshold of a visible change, as the verdict uses it."""
        return float(self.summary["conventions"]["thresholds"][name])

    @cached_property
    def scores(self) -> dict[str, float]:
        """Largest change against the ideal over its threshold, as in the verdict, by case."""
        c = self.cases
        gain, swr = c.number("horizon_gain_mean_dbi"), c.number("swr_feed")
        parts = [
            c.number("pattern_change_rms_db") / self.threshold("pattern_rms_db"),
            abs(gain - self.value(IDEAL, "horizon_gain_mean_dbi")) / self.threshold("mean_gain_db"),
            abs(swr - self.value(IDEAL, "swr_feed")) / self.threshold("swr_step"),
            c.number("station_current_ratio") / self.threshold("station_ratio"),
        ]
        return dict(zip(c.text("case").tolist(), np.max(parts, axis=0).tolist(), strict=True))

    @cached_property
    def players(self) -> tuple[Player, ...]:
        """Every case, the emphasised ones last so that they lie on top."""
        names = self._names()
        players = []
        rows = zip(*(self.cases.text(n) for n in ("case", "label", "grade")), strict=True)
        for case, label, grade in rows:
            name, colour = names.get(case, (case, MIST))
            if grade == "unsound":
                name = f"{name}: {UNSOUND}"
            emphasised = case in names
            players.append(Player(case, name, plain(label), colour, emphasised, grade))
        return tuple(sorted(players, key=lambda p: p.emphasised))

    def _names(self) -> dict[str, tuple[str, str]]:
        fixed = (NONE, IDEAL, ALONE)
        rank = sorted(
            (
                c
                for c, kind, grade in zip(
                    self.cases.text("case").tolist(),
                    self.cases.text("kind"),
                    self.cases.text("grade"),
                    strict=True,
                )
                if c not in fixed and kind != "ideal" and grade != "unsound"
            ),
            key=lambda c: self.scores[c],
        )
        names = {ALONE: ("no cable", STEEL)}
        # A rank by one number says nothing about another: who is named has no rank in its name.
        for case, colour in zip((rank[:1] + rank[1:][-1:]), (PLUM, OCHRE), strict=False):
            names[case] = (shorten(case, _LONGEST_NAME), colour)
        names[NONE] = ("no choke", BRICK)
        names[IDEAL] = ("ideal choke", INK)
        if self.recommended == NONE:
            # Where nothing that was tried is any good, going without is no recommendation.
            needless = self.cases.where(case=NONE).text("effect")[0] == "harmless"
            names[NONE] = ("no choke" + (" (recommended)" if needless else ""), BRICK)
        else:
            names[self.recommended] = ("recommended", SEA)
        return names

    def player(self, case: str) -> Player:
        """A case by its id."""
        return next(p for p in self.players if p.id == case)

    def candidates(self, table: Table) -> list[tuple[Player, Table]]:
        """Candidates that may be relied on, other than the recommended one, with their rows."""
        left_out = (NONE, IDEAL, ALONE, self.recommended)
        return [
            (p, rows)
            for p, rows in self.drawn(table)
            if p.id not in left_out and p.grade != "unsound"
        ]

    def drawn(self, table: Table) -> list[tuple[Player, Table]]:
        """Each case with its rows of a table, cases without rows left out."""
        pairs = [(p, table.where(case=p.id)) for p in self.players]
        return [(p, rows) for p, rows in pairs if len(rows)]

    def notes(self, table: Table | None = None) -> tuple[Note, ...]:
        """Full names of the emphasised candidates, what is grey, what is unsound."""
        shown = self.players if table is None else tuple(p for p, _ in self.drawn(table))
        notes = [
            Note(_told(p), p.colour, p.line["ls"])
            for p in shown
            if p.emphasised and p.id not in (NONE, IDEAL, ALONE)
        ]
        grey = sum(not p.emphasised for p in shown)
        if grey:
            plural = "s" if grey > 1 else ""
            ranked = "named: the least and the most change by the verdict's score; "
            notes.append(Note(f"{ranked}thin grey: {grey} other candidate{plural}", STEEL))
        unsound = [p.id for p in shown if p.grade == "unsound"]
        if unsound:
            more = f" and {len(unsound) - 8} more" if len(unsound) > 8 else ""
            said = f"dashed: {UNSOUND}: {', '.join(unsound[:8])}{more}"
            notes.append(Note(said, BRICK, UNSOUND_DASH))
        return tuple(notes)

    @cached_property
    def evidence(self) -> str:
        """One line: grades, and the worst of each check over all cases."""
        count = Counter(self.cases.text("grade").tolist())
        grades = [g for g in ("sound", "usable", "unsound") if count[g]]
        said = ", ".join(f"{count[g]} {g}" for g in grades) if len(grades) > 1 else grades[0]
        gains = self.cases.number("average_gain")
        furthest = gains[np.argmax(abs(gains - 1))]
        return (
            f"evidence: {said} (worst of all cases: average gain {furthest:.2f}, reciprocity "
            f"{percent(self.cases.number('reciprocity').max())}, refined run "
            f"{percent(self.cases.number('convergence').max())})"
        )

    @cached_property
    def footer(self) -> str:
        """Study and frequency."""
        title = shorten(str(self.summary["study"]["title"]), 100)
        return f"{title} · {megahertz(self.frequency)} · Braidwise"

    def words(self, title: str, notes: tuple[Note, ...], evidence: str | None = None) -> Words:
        """Words around a plot."""
        return Words(title, notes, self.evidence if evidence is None else evidence, self.footer)


def _told(player: Player) -> str:
    """Name beside a curve, full name, and the id where the first is another."""
    name = player.name.split(":")[0]
    own = "" if name == player.id else f" [{player.id}]"
    return f"{name}: {shorten(player.label, 90)}{own}"


def load_cast(results: Path) -> Cast:
    """Cases and summary of a results folder.

    Raises
    ------
    ResultError
        If a file is missing or damaged.
    """
    return Cast(results, read_json(results / "summary.json"), read_table(results, "cases"))


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
