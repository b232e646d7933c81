"""What is wrong with each file of tests/studies/bad, and what the reader must be told."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

BAD = Path(__file__).parents[1] / "studies" / "bad"


class Case(NamedTuple):
    """A wrong study: key, start of the value shown, parts of rule and remedy, tag."""

    file: str
    key: str
    value: str
    rule: str
    remedy: str
    tag: str


def _read() -> tuple[Case, ...]:
    with (BAD / "cases.csv").open(encoding="utf-8", newline="") as file:
        return tuple(Case(**row) for row in csv.DictReader(file))


CASES = _read()
