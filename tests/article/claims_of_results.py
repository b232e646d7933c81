"""Whether every sentence of finished results has its rows in the table of claims, all true.

``python -m tests.article.claims_of_results RESULTS...`` does it for folders of results of studies.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

from pipeline.article.claims import claim_rows, value_at
from pipeline.runtime.csv_tables import Row

NAMED = {"headline": "headline", "why": "why", "how sure": "how_sure", "avoid": "avoid"}


def summary_of(results: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((results / "summary.json").read_text(encoding="utf-8"))
    return data


def check(results: Path) -> list[Row]:
    """The rows of a results folder, once they are found complete and true."""
    summary, rows = summary_of(results), claim_rows(results, results.name)
    answer = summary["answer"]
    told: dict[str, dict[str, None]] = {}
    for row in rows:
        told.setdefault(row["part"], {})[row["sentence"]] = None
    said = {part: " ".join(sentences) for part, sentences in told.items()}
    numbers = [
        f"{n['label']}: {n['value']} ({n['between']})"
        + (f", without {n['before']}" if n["before"] else "")
        for n in answer["numbers"]
    ]
    assert said.pop("numbers") == " ".join(numbers)
    for part, key in NAMED.items():
        assert said.pop(part, "") == answer[key], part
    assert said == answer["questions"]
    for row in rows:
        assert re.match(rf"data/{re.escape(results.name)}/(summary\.json|tables/)", row["file"])
        if row["file"].endswith("summary.json"):
            value = value_at(summary, row["key"])
            assert row["value"] == (len(value) if isinstance(value, list) else value), row
        assert row["tests"], row
    return rows


if __name__ == "__main__":
    for folder in map(Path, sys.argv[1:]):
        found = check(folder)
        print(
            f"{folder}: {len({row['sentence'] for row in found})} sentences, {len(found)} numbers"
        )
