"""Jobs of a batch: the rows of one chunk, and the table of all.

Files of the plan in, Parquet files out, each whole or not there. A solve is kept as soon as it is
done, so that a job that dies goes on from there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.batch.described import Ground
from pipeline.batch.table import (
    Column,
    all_columns,
    joined,
    read_table,
    shortened,
    table_of,
    write_table,
)
from pipeline.batch.variants import Installation, rows_of
from pipeline.runtime.store import read_json

ROWS, TABLE, SHORT_TABLE = ".rows", "table.parquet", "table_short.parquet"


def write_rows(chunk: Path, store: Path, target: Path, say: Callable[[str], None]) -> None:
    """Rows of one chunk of the plan, solved with what is in the store; ``say`` is told of each."""
    data = read_json(chunk)
    ground = Ground(**{**data["ground"], "folder": Path(data["ground"]["folder"])})
    parts = []
    for raw in data["installations"]:
        one = Installation.of(raw)
        parts += rows_of(one, ground, store)
        say(f"{one.group}: installation {one.number}")
    columns = all_columns([Column(**column) for column in data["columns"]])
    write_table(target, table_of(parts, columns), {})


def write_whole(plan: Path, rows: Path, target: Path) -> None:
    """The table of all chunks in the order of the plan, and the same with fewer digits."""
    data = read_json(plan)
    columns = all_columns([Column(**column) for column in data["columns"]])
    whole = joined([rows / f"{chunk['digest']}.parquet" for chunk in data["chunks"]], columns)
    about = {name: data[name] for name in ("name", "title", "groups", "refined_share")}
    write_table(target, whole, about)
    digest = hashlib.sha256(target.read_bytes()).hexdigest()
    write_table(target.with_name(SHORT_TABLE), shortened(whole), {**about, "of_table": digest})


def failed_rows(table: Path) -> dict[str, int]:
    """How many variants failed of each cause, the most frequent first."""
    causes: Any = read_table(table).column("cause").to_pandas()
    found = causes[causes.astype(str) != ""].astype(str).value_counts()
    return {str(cause): int(n) for cause, n in found.items()}
