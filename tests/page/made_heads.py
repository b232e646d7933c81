"""What a page knows beside its arrays, made from a study file for tests that need no solve."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

# As a study file has it, and as a page offers it: (id, keys, most, fixed place).
KINDS: tuple[tuple[str, dict[str, Any], int, float | None], ...] = (
    ("mix-43-clamp-12-7", {"kind": "ferrite", "core": "mix-43-clamp-12-7"}, 12, None),
    ("mix-31-clamp-12-7", {"kind": "ferrite", "core": "mix-31-clamp-12-7"}, 12, None),
    ("sleeve", {"kind": "sleeve", "pipe": "28x1 mm"}, 1, 0.30),
    ("perfect", {"kind": "ideal"}, 1, None),
)


def made_variant(name: str, study: dict[str, Any]) -> dict[str, Any]:
    """An installation of a page that is called by its name."""
    ranges = [[0.05, 2.1], [6.0, 6.4]]
    return {"id": name, "label": name, "grade": "sound", "ranges": ranges, "study": study}


def made_head(study: Path, **changes: Any) -> dict[str, Any]:
    """Head of a page (`contract.ts`) as plain data, with some of its keys replaced."""
    data = yaml.safe_load(study.read_text(encoding="utf-8"))
    kinds = [
        {
            "id": name,
            "label": name,
            "counted": most > 1,
            "most": most,
            "length": 0.0286,
            "fixed": fixed,
            "price": 4.5,
            "currency": "EUR",
            "study": keys,
        }
        for name, keys, most, fixed in KINDS
    ]
    head = {
        "title": data["title"],
        "name": study.stem,
        "frequency": 145.3e6,
        "band": [144e6, 146e6],
        "kinds": kinds,
        "variants": [made_variant("as-described", {})],
        "start": {
            "variant": "as-described",
            "first": {"kind": "mix-43-clamp-12-7", "count": 2, "position": 0.05},
            "second": None,
            "bond": [40.0, 0.0],
            "radio": [30.0, 20.0],
            "frequency": 145.3e6,
        },
        "places": [0.05],
        "hasBond": "bond" in data,
        "study": data,
    }
    return head | changes
