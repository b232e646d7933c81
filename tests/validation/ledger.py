"""Every published value beside ours, as one list, and the two tables made of it.

``python -m tests.validation.ledger --write`` writes tests/validation/RESULTS.md (all rows) and the
README's block between its two marks (the rows marked as headlines and the worst of each topic);
without ``--write`` it prints the first. A test compares what is committed with what this makes.
"""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.validation import (
    test_coax,
    test_coils,
    test_coupled_wires,
    test_dipoles,
    test_exposure_limits,
    test_ferrites,
    test_ground,
    test_in_use,
    test_insulated_wire,
    test_j_pole_rules,
    test_metal,
    test_monopoles,
    test_nec_examples,
    test_pipe_lines,
    test_pipes,
    test_surface_tubes,
    test_workshop,
)
from tests.validation.published_rows import CONFIDENCES, FOLDER, Published, Quantity, rows_of

README = FOLDER.parents[1] / "README.md"
RESULTS = FOLDER / "RESULTS.md"
BEGIN = "<!-- validation -->"
END = "<!-- end of validation -->"
# The antenna first, then what stands beside it, then the cable and its parts.
MODULES = {
    "surface_tubes": test_surface_tubes,
    "j_pole_rules": test_j_pole_rules,
    "nec_examples": test_nec_examples,
    "dipoles": test_dipoles,
    "monopoles": test_monopoles,
    "coupled_wires": test_coupled_wires,
    "pipe_lines": test_pipe_lines,
    "ground": test_ground,
    "insulated_wire": test_insulated_wire,
    "ferrites": test_ferrites,
    "coils": test_coils,
    "coax": test_coax,
    "in_use": test_in_use,
    "metal": test_metal,
    "pipes": test_pipes,
    "workshop": test_workshop,
    "exposure": test_exposure_limits,
}


@dataclass(frozen=True)
class Entry:
    """A published value beside ours."""

    row: Published
    words: str
    ours: float

    @property
    def off(self) -> float:
        return self.ours - self.row.expected

    @property
    def strain(self) -> float:
        """Difference in tolerances; rounded, so that another processor finds the same worst."""
        if self.row.allowed == 0:
            return 0.0
        return round(abs(self.off) / self.row.allowed, 4)


@dataclass(frozen=True)
class Topic:
    """All entries of one topic in the order of its file."""

    name: str
    title: str
    entries: tuple[Entry, ...]

    @property
    def worst(self) -> Entry:
        return max(self.entries, key=lambda e: e.strain)


def entries_of(name: str, quantities: Mapping[str, Quantity]) -> tuple[Entry, ...]:
    return tuple(
        Entry(row, quantities[row.quantity].sentence(row), row.value(quantities))
        for row in rows_of(name)
    )


@cache
def topics() -> tuple[Topic, ...]:
    """Every row of every topic, evaluated."""
    return tuple(
        Topic(name, module.TITLE, entries_of(name, module.QUANTITIES))
        for name, module in MODULES.items()
    )


def decimals(row: Published) -> int:
    """Decimals that show a fifth of what is allowed, at most two more than are printed."""
    printed = len(row.printed.partition(".")[2])
    if row.allowed == 0:
        return printed
    return min(max(printed, math.ceil(-math.log10(row.allowed / 5))), printed + 2)


def signed(number: float, places: int) -> str:
    text = f"{abs(number):.{places}f}"
    if float(text) == 0:
        return text
    return ("+" if number > 0 else "−") + text


def with_unit(number: str, unit: str) -> str:
    """A number with its unit; ratios have the unit 1, which is not written."""
    return number.replace("-", "−") + (f" {unit}" if unit != "1" else "")


def as_allowed(row: Published) -> str:
    if row.kind == "relative":
        return f"{100 * row.tolerance:g} %"
    return with_unit(f"{row.tolerance:.8f}".rstrip("0").rstrip("."), unit_of_difference(row))


def unit_of_difference(row: Published) -> str:
    """Two levels over an isotropic radiator differ by decibels."""
    return row.unit.replace("dBi", "dB")


def difference(entry: Entry) -> str:
    """In per cent where the tolerance is, else in the unit; what is beyond says so."""
    row = entry.row
    if row.kind == "relative":
        text = f"{signed(100 * entry.off / abs(row.expected), 1 if row.tolerance > 2e-3 else 2)} %"
    else:
        text = with_unit(signed(entry.off, decimals(row)), unit_of_difference(row))
    return f"{text}, beyond {as_allowed(row)}" if row.beyond else text


def published(entry: Entry) -> str:
    return with_unit(entry.row.printed, entry.row.unit)


def ours(entry: Entry) -> str:
    return with_unit(f"{entry.ours:.{decimals(entry.row)}f}", entry.row.unit)


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', '/') for cell in line)} |" for line in lines)


def readme_block() -> str:
    """Headline rows and the worst row of every topic."""
    rows = []
    for topic in topics():
        for entry in topic.entries:
            if not entry.row.headline and entry is not topic.worst:
                continue
            # A topic's worst row says so, and of how many it is the worst.
            note = f" (worst of {len(topic.entries)})" if entry is topic.worst else ""
            memory = ", from memory" if entry.row.confidence == "from-memory" else ""
            rows.append(
                (
                    entry.words + note,
                    published(entry),
                    entry.row.source + memory,
                    ours(entry),
                    difference(entry),
                )
            )
    return table(("quantity", "published", "source", "ours", "difference"), rows)


def _summary() -> list[str]:
    rows = [entry.row for topic in topics() for entry in topic.entries]
    sure = ", ".join(f"{sum(r.confidence == c for r in rows)} {c}" for c in CONFIDENCES)
    worst = [
        (t.title, t.worst.words, difference(t.worst), as_allowed(t.worst.row), f"{s:.2f}")
        for t, s in ((t, t.worst.strain) for t in topics())
    ]
    return [
        "# Published values and ours",
        "",
        "Written by `python -m tests.validation.ledger --write`; do not edit. "
        f"{len(rows)} values in {len(topics())} topics: {sure}. A value marked derived is worked "
        "out from the named formula by other code than ours; one from memory was not read again.",
        "",
        f"{sum(r.beyond for r in rows)} are beyond their tolerance, each with the reason below its "
        "table.",
        "",
        "## Worst of each topic, in tolerances",
        "",
        table(("topic", "quantity", "difference", "allowed", "in tolerances"), worst),
    ]


def results() -> str:
    """The whole of RESULTS.md."""
    head = (
        *("quantity", "published", "source", "where it was read", "confidence", "ours"),
        *("difference", "allowed", "why so much"),
    )
    lines = _summary()
    for topic in topics():
        rows = [
            (
                *(e.words, published(e), e.row.source, e.row.seen, e.row.confidence),
                *(ours(e), difference(e), as_allowed(e.row), e.row.why),
            )
            for e in topic.entries
        ]
        lines += ["", f"## {topic.title}", "", table(head, rows)]
        beyond = [e for e in topic.entries if e.row.beyond]
        if beyond:
            lines += ["", "Beyond its tolerance:", ""]
            lines += [f"- {e.words}, {difference(e)}: {e.row.why}." for e in beyond]
    return "\n".join(lines) + "\n"


def block_in(readme: str) -> str:
    """What stands between the two marks of a README.

    Raises
    ------
    ValueError
        If the marks are not there.
    """
    found = re.search(f"{re.escape(BEGIN)}\n(.*?)\n{re.escape(END)}", readme, re.DOTALL)
    if found is None:
        raise ValueError(f"README.md: need the lines {BEGIN!r} and {END!r}")
    return found[1]


def write(readme: Path = README, results_file: Path = RESULTS) -> None:
    """Put both tables where they belong."""
    text = readme.read_text(encoding="utf-8")
    old = f"{BEGIN}\n{block_in(text)}\n{END}"
    readme.write_text(text.replace(old, f"{BEGIN}\n{readme_block()}\n{END}"), encoding="utf-8")
    results_file.write_text(results(), encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description="Published values beside ours.")
    parser.add_argument("--write", action="store_true", help="write README block and RESULTS.md")
    if parser.parse_args().write:
        write()
    else:
        print(results())


if __name__ == "__main__":
    main()
