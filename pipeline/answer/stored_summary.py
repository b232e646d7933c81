"""``summary.json`` as it is read again: one of an older version is answered with what has changed.

A results folder in, its summary out. Whoever draws, compares or prints stored results comes here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.runtime.store import read_json
from pipeline.text.errors import Fault, ResultError

# A minor version adds keys, a major one changes them.
SCHEMA_VERSION = "3.1"
# Keys that went with version 3, and what stands for each.
_GONE = {
    "verdict.headline": "answer.headline",
    "verdict.paragraphs": "answer.why, answer.how_sure, answer.avoid and answer.questions",
    "verdict.certainty": "answer.how_sure",
    "verdict.text": "answer.text",
    "verdict.recommended_case": "answer.chosen",
    "verdict.effect_none": "standing of the case none in cases",
    "verdict.variations": "answer.causes",
    "cases.effect": "cases.standing",
}


def read_summary(results: Path) -> dict[str, Any]:
    """Summary of a results folder.

    Raises
    ------
    ResultError
        If it is missing, damaged, or of another version than this program's.
    """
    path = results / "summary.json"
    summary: dict[str, Any] = read_json(path)
    version = str(summary.get("schema_version", "unknown"))
    if version.split(".")[0] != SCHEMA_VERSION.split(".")[0]:
        raise ResultError(_of_another_version(path, version, summary))
    return summary


def _of_another_version(path: Path, version: str, summary: dict[str, Any]) -> Fault:
    gone = [f"{key} (now {instead})" for key, instead in _GONE.items() if _has(summary, key)]
    said = f"; gone are {'; '.join(gone)}" if gone else ""
    return Fault(
        str(path),
        f"schema_version: {version}",
        f"is not of version {SCHEMA_VERSION.split('.')[0]}, the one that is read{said}",
        "run the study again; what was solved is kept where it has not changed",
        "summary-version",
    )


def _has(summary: dict[str, Any], key: str) -> bool:
    """Whether a summary has a key of a part, or its cases have."""
    part, name = key.split(".")
    found = summary.get(part, {})
    return any(name in entry for entry in (found if isinstance(found, list) else [found]))
