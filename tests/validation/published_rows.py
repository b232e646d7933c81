"""Reads tests/validation/*.csv: a quantity, its inputs, what is printed, and how near is near.

A topic is one CSV and one test module; the module says how each quantity is computed with the
project's own code and how it reads in words. The ledger makes the README's table of the same rows.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import SupportsFloat

import pytest

FOLDER = Path(__file__).parent
COLUMNS = (
    *("quantity", "inputs", "unit", "expected", "tolerance", "kind", "why", "source", "seen"),
    *("confidence", "headline", "beyond"),
)
CONFIDENCES = ("measured", "datasheet", "handbook", "derived", "from-memory")
# Rows evaluated by a test are not evaluated again by the ledger of the same run.
_values: dict[tuple[str, ...], float] = {}


@dataclass(frozen=True)
class Published:
    """One row: ``seen`` says where the value was read, ``beyond`` that ours is known to be off.

    A row that is beyond its tolerance is kept with the reason in ``why``; the check then holds
    that it still is beyond, so that no excuse outlives its need.
    """

    topic: str
    quantity: str
    inputs: dict[str, str]
    unit: str
    printed: str
    tolerance: float
    kind: str
    why: str
    source: str
    seen: str
    confidence: str
    headline: bool
    beyond: bool

    def number(self, key: str) -> float:
        return float(self.inputs[key])

    @property
    def expected(self) -> float:
        return float(self.printed)

    @property
    def allowed(self) -> float:
        """Largest difference in the row's own unit."""
        return self.tolerance * (abs(self.expected) if self.kind == "relative" else 1.0)

    def value(self, quantities: Mapping[str, Quantity]) -> float:
        key = (self.topic, self.quantity, *sorted(f"{k}={v}" for k, v in self.inputs.items()))
        if key not in _values:
            _values[key] = float(quantities[self.quantity].value(self))
        return _values[key]

    def check(self, quantities: Mapping[str, Quantity]) -> None:
        off = self.value(quantities) - self.expected
        story = (
            f"{self.quantity}({self.inputs}) is off by {off:+.3g}, allowed {self.allowed:.3g}; "
            f"{self.why}; {self.source}"
        )
        # Rounding of the last bit is no difference: exact values have a tolerance of nil.
        within = abs(off) <= self.allowed + 1e-12 * abs(self.expected)
        assert within != self.beyond, story


@dataclass(frozen=True)
class Quantity:
    """How a quantity reads in words, with {inputs} in braces, and how it is computed."""

    words: str
    value: Callable[[Published], SupportsFloat]

    def sentence(self, row: Published) -> str:
        return self.words.format(**row.inputs)


def _flag(text: str) -> bool:
    return {"yes": True, "": False}[text]


def rows_of(topic: str) -> list[Published]:
    """All rows of one topic, in the order of its file."""
    with (FOLDER / f"{topic}.csv").open(encoding="utf-8", newline="") as file:
        return [
            Published(
                topic=topic,
                quantity=row["quantity"],
                inputs=dict(pair.split("=", 1) for pair in row["inputs"].split(";")),
                unit=row["unit"],
                printed=row["expected"],
                tolerance=float(row["tolerance"]),
                kind=row["kind"],
                why=row["why"],
                source=row["source"],
                seen=row["seen"],
                confidence=row["confidence"],
                headline=_flag(row["headline"]),
                beyond=_flag(row["beyond"]),
            )
            for row in csv.DictReader(file)
        ]


def published(topic: str) -> list[object]:
    """Rows of one topic as parameters of a test."""
    return [pytest.param(row, id=f"{row.quantity}-{row.inputs}") for row in rows_of(topic)]
