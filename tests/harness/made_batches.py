"""Invented tables of a batch: what a score hangs on is known, so that its statistics can be."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

# Meaning, unit and role of each column.
COLUMNS = {
    "group": ("antenna and band", "", "case"),
    "installation": ("number of the installation", "1", "case"),
    "geometry": ("digest of the solve", "", "case"),
    "site.height": ("height of the antenna's lower edge", "m", "axis"),
    "mast": ("what stands below the antenna", "", "axis"),
    "radio_end": ("what the radio is connected to", "", "axis"),
    "turns": ("turns of the coil", "1", "axis"),
    "route": ("length of the cable", "m", "place"),
    "case": ("variant", "", "case"),
    "label": ("name of the variant", "", "case"),
    "kind": ("kind of choke", "", "case"),
    "core": ("core", "", "case"),
    "count": ("cores", "1", "case"),
    "position": ("place along the cable", "m", "place"),
    "swr": ("SWR at the antenna", "1", "figure"),
    "mean_gain_dbi": ("mean gain in the lowest lobe", "dBi", "figure"),
    "station_ratio": ("current at the radio", "1", "figure"),
    "score": ("largest change over its threshold", "1", "figure"),
    "change": ("class of the change", "", "figure"),
    "grade": ("grade of the drawing", "", "figure"),
    "cause": ("why it failed", "", "figure"),
}
CORES = {"mix-31-clamp-12-7": 1.0, "mix-43-clamp-12-7": 0.7, "mix-61-clamp-12-7": 0.4}
ENDS = ("bonded", "floating")
MASTS = ("wood", "metal", "brick")
_BLANK = {"core": "", "count": 0, "position": np.nan, "turns": np.nan, "cause": ""}


def made_rows(
    group: str = "j-pole, 145 MHz", installations: int = 40, start: int = 0, most: int = 12
) -> list[dict[str, Any]]:
    """Rows of a group: cables longer than 9 m whose radio is bonded need a choke, others seldom."""
    draw = np.random.default_rng(start)
    rows = []
    for number in range(installations):
        height, route = draw.uniform(3, 12), draw.uniform(3, 20)
        there = {
            "group": group,
            "installation": number,
            "site.height": height,
            "route": route,
            "mast": MASTS[draw.integers(3)],
        }
        unsound = draw.random() < 0.03
        for end in ENDS:
            need = route > 9 and end == "bonded"
            bare = (3.2 if need else 0.6) * draw.lognormal(0, 0.35)
            at = there | {"radio_end": end, "grade": "unsound" if unsound else "sound"}
            rows += [at | row for row in _cases(bare, draw, most, f"{group}/{number}")]
    return rows


def _cases(bare: float, draw: Any, most: int, name: str) -> list[dict[str, Any]]:
    cable = _BLANK | {"geometry": f"{name}/cable"}
    rows = [
        cable | {"case": "none", "label": "no choke", "kind": "none", "score": bare},
        cable | {"case": "ideal", "label": "ideal choke", "kind": "ideal", "score": 0.2},
    ]
    for core, strength in CORES.items():
        for count in range(1, most + 1):
            left = bare / (1 + 0.5 * strength * count) * draw.lognormal(0, 0.2)
            rows.append(
                cable
                | {"case": f"{core}-x{count}", "label": f"{count} x {core}", "kind": "ferrite"}
                | {"core": core, "count": count, "position": 0.2, "score": left}
            )
    turns = int(draw.integers(3, 13))
    coil = bare * abs(turns - 7) / 4 * draw.lognormal(0, 0.3)
    own = {"case": "coil", "label": "coil", "kind": "coil", "turns": float(turns), "score": coil}
    rows.append(_BLANK | {"geometry": f"{name}/coil", "position": 0.5} | own)
    sleeve = {"case": "sleeve", "label": "sleeve", "kind": "sleeve", "score": 0.5 * bare}
    if draw.random() < 0.05:
        sleeve |= {"score": np.nan, "cause": "a wire lies inside another"}
    rows.append(_BLANK | {"geometry": f"{name}/sleeve", "position": 0.5} | sleeve)
    return rows


def made_table(rows: list[dict[str, Any]], title: str = "J-poles on a packing shed") -> pa.Table:
    """Rows as a table of the contract."""
    fields, arrays = [], []
    for name, (meaning, unit, role) in COLUMNS.items():
        values = [row[name] if name in row else _usual(name, row["score"]) for row in rows]
        text = all(isinstance(value, str) for value in values)
        whole = name in ("installation", "count")
        kind = pa.string() if text else pa.int64() if whole else pa.float64()
        meta = {"unit": unit, "meaning": meaning, "role": role}
        fields.append(pa.field(name, kind, metadata=meta))
        arrays.append(pa.array(values, kind, from_pandas=True))
    about = {"name": "shed", "title": title}
    schema = pa.schema(fields, metadata={"braidwise": json.dumps(about)})
    return pa.Table.from_arrays(arrays, schema=schema)


def _usual(name: str, score: float) -> Any:
    """Figures of merit that follow from a row's score."""
    if name == "change":
        return "invisible" if score <= 1 else "strong" if score > 3 else "noticeable"
    return {
        "swr": 1.2 + 0 * score,
        "mean_gain_dbi": 6.5 - 0.1 * score,
        "station_ratio": 0.05 * score,
    }[name]


def write_made(path: Path, rows: list[dict[str, Any]], title: str = "J-poles on a shed") -> Path:
    """A table of the contract as a file."""
    pq.write_table(made_table(rows, title), path)
    return path
