"""Reads tests/validation/*.csv: a quantity, its inputs, what is printed, and how near is near."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import SupportsFloat

import pytest

FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class Published:
    quantity: str
    inputs: dict[str, str]
    expected: float
    tolerance: float
    kind: str
    why: str
    source: str
    confidence: str

    def number(self, key: str) -> float:
        return float(self.inputs[key])

    def check(self, quantities: Mapping[str, Callable[[Published], SupportsFloat]]) -> None:
        found = float(quantities[self.quantity](self))
        allowed = self.tolerance * (abs(self.expected) if self.kind == "relative" else 1.0)
        assert found == pytest.approx(self.expected, rel=0, abs=allowed), (
            f"{self.quantity}({self.inputs}) is off by {found - self.expected:+.3g}; "
            f"{self.why}; {self.source}"
        )


def published(name: str) -> list[object]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        rows = [
            Published(
                quantity=row["quantity"],
                inputs=dict(pair.split("=", 1) for pair in row["inputs"].split(";")),
                expected=float(row["expected"]),
                tolerance=float(row["tolerance"]),
                kind=row["kind"],
                why=row["why"],
                source=row["source"],
                confidence=row["confidence"],
            )
            for row in csv.DictReader(file)
        ]
    return [pytest.param(row, id=f"{row.quantity}-{row.inputs}") for row in rows]
