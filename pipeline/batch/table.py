"""The table of a batch: one row a variant, as Parquet, with what each column means in it.

Arrays by column in, files out. Written by one writer with everything that could change left out,
the same rows give the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import scored
from pipeline.batch.variants import TOLD
from pipeline.runtime.store import reading, whole_file
from pipeline.study.records import USUAL

Role = Literal["place", "axis", "case", "figure", "check"]
_KINDS = {"number": pa.float64(), "whole": pa.int32(), "word": pa.dictionary(pa.int32(), pa.utf8())}
AXIS = "axis:"
# Digits of the short table, and how hard the writer packs: a table is written once.
_DIGITS, _LEVEL = 4, 15


@dataclass(frozen=True)
class Column:
    """A column of the table: what it holds ("number", "whole" or "word"), unit, meaning, role."""

    name: str
    kind: str
    unit: str
    meaning: str
    role: Role

    @property
    def field(self) -> Any:
        """The column as a field of the table's schema."""
        told = {"unit": self.unit, "meaning": self.meaning, "role": self.role}
        return pa.field(self.name, _KINDS[self.kind], metadata=told)


_MEANINGS = {
    "r_ohm": "resistance at the feed point",
    "x_ohm": "reactance at the feed point",
    "swr": "standing-wave ratio at the feed, for the cable's impedance",
    "swr_radio": "standing-wave ratio at the radio",
    "mean_gain_dbi": "mean gain all round at the lowest lobe",
    "pattern_max_db": "largest difference of gain to the ideal choke, horizon to ten degrees",
    "pattern_rms_db": "root-mean-square difference of gain to the ideal choke, same directions",
    "shield_ratio": "largest current on the outside of the cable over the feed current",
    "station_ratio": "current at the radio over the feed current",
    "choke_r_ohm": "resistance of the choke",
    "choke_x_ohm": "reactance of the choke",
    "choke_share": "power in the choke over that into the antenna",
    "choke_power": "power in the choke at the transmitter power of the study",
    "line_loss_db": "loss inside the cable, mismatch included",
    "system_gain_dbi": "mean gain less the loss inside the cable",
}
_BEFORE = (
    Column("group", "word", "", "group of the batch", "place"),
    Column("installation", "whole", "", "number of the installation in the batch", "place"),
)
_AFTER = (
    Column("route", "number", "m", "length of the cable's way", "place"),
    Column("geometry", "word", "", "digest of the drawing that was solved", "place"),
    Column("case", "word", "", "what is on the cable", "case"),
    Column("label", "word", "", "the same in words", "case"),
    Column("kind", "word", "", "kind of choke", "case"),
    Column("core", "word", "", "core by its id in the catalogue", "case"),
    Column("count", "whole", "", "cores", "case"),
    Column("position", "number", "m", "place along the shield", "case"),
    *(Column(f.name, "number", f.unit, _MEANINGS.get(f.name, f.words), "figure") for f in TOLD),
    Column(
        "score",
        "number",
        "1",
        "largest change over its threshold: match, gain and pattern against the ideal choke, "
        "current at the radio by itself",
        "figure",
    ),
    Column("driver", "word", "", "figure of merit that sets the score", "figure"),
    Column("change", "word", "", "class of the change", "figure"),
    Column("average_gain", "number", "1", "average gain of the lossless twin", "check"),
    Column("asymmetry", "number", "1", "asymmetry of the transfer admittances", "check"),
    Column("convergence", "number", "1", "what finer segments move", "check"),
    Column("grade", "word", "", "what the drawing is worth", "check"),
    Column("cause", "word", "", "why the variant failed; empty if it did not", "check"),
)


def axis_columns(
    shown: Iterable[Mapping[str, float | str]], units: Mapping[str, str]
) -> list[Column]:
    """Columns of axes from all that they show; one with a word in it is a column of words."""
    words: dict[str, bool] = {}
    for row in shown:
        for name, value in row.items():
            words[name] = words.get(name, False) or isinstance(value, str)
    return [
        Column(
            name,
            "word" if is_word else "number",
            "" if is_word else units.get(name, "1"),
            f"axis {name}",
            "axis",
        )
        for name, is_word in words.items()
    ]


def all_columns(axes: Sequence[Column]) -> list[Column]:
    """Every column of a table in its order. Definition."""
    return [*_BEFORE, *axes, *_AFTER]


def column_data(column: Column) -> dict[str, str]:
    """A column as plain data for a JSON file."""
    return dict(vars(column))


def table_of(parts: Iterable[Mapping[str, NDArray[Any]]], columns: Sequence[Column]) -> Any:
    """Table of rows that come in parts; what a part has not is empty there."""
    schema = pa.schema([c.field for c in columns])
    batches = [_batch(part, columns, schema) for part in parts]
    return pa.Table.from_batches(batches, schema=_plain(schema)).cast(schema)


def _plain(schema: Any) -> Any:
    """The schema with words as they are, not as numbers of a dictionary."""
    fields = [f.with_type(pa.utf8()) if pa.types.is_dictionary(f.type) else f for f in schema]
    return pa.schema(fields)


def _batch(part: Mapping[str, NDArray[Any]], columns: Sequence[Column], schema: Any) -> Any:
    n = len(next(iter(part.values())))
    named = {key.removeprefix(AXIS): values for key, values in part.items()}
    arrays = [_array(named.get(c.name), c, n) for c in columns]
    return pa.record_batch(arrays, schema=_plain(schema))


def _array(values: NDArray[Any] | None, column: Column, n: int) -> Any:
    if values is None:
        values = np.full(n, {"number": np.nan, "whole": 0, "word": ""}[column.kind], dtype=object)
    if column.kind == "word":
        return pa.array([_word(value) for value in values], pa.utf8())
    return pa.array(np.asarray(values, dtype=float if column.kind == "number" else np.int32))


def _word(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def write_table(path: Path, table: Any, about: Mapping[str, Any]) -> None:
    """Write a table, whole, with what it is about as JSON among its metadata."""
    told = json.dumps(about, sort_keys=True, ensure_ascii=False)
    labelled = table.replace_schema_metadata({"braidwise": told})
    with whole_file(path) as temporary:
        pq.write_table(labelled, temporary, compression="zstd", compression_level=_LEVEL)


def read_table(path: Path) -> Any:
    """Read a table; ResultError if it is missing or damaged."""
    return reading(path, lambda: pq.read_table(path))


def about(table: Any) -> dict[str, Any]:
    """What a table says it is about."""
    found: dict[str, Any] = json.loads((table.schema.metadata or {}).get(b"braidwise", b"{}"))
    return found


def shortened(table: Any, digits: int = _DIGITS) -> Any:
    """The table for a repository: what the score is made of, and numbers to so many digits.

    It takes a tenth of the room. Definition.
    """
    told = {"score", "change", *(f.name for f in scored(USUAL))}
    roles = {f.name: f.metadata[b"role"].decode() for f in table.schema}
    found = table.select([n for n, role in roles.items() if role != "figure" or n in told])
    for k, field in enumerate(found.schema):
        if pa.types.is_floating(field.type):
            values = _to_digits(found.column(k).to_numpy(), digits)
            short = pa.field(field.name, pa.float32(), metadata=field.metadata)
            found = found.set_column(k, short, pa.array(values.astype(np.float32)))
    return found


def _to_digits(values: NDArray[np.float64], digits: int) -> NDArray[np.float64]:
    """Numbers to so many digits; what is zero or no number stays. Definition."""
    found = np.array(values)
    sized = np.isfinite(found) & (found != 0)
    scale = 10.0 ** (digits - 1 - np.floor(np.log10(np.abs(found[sized]))))
    found[sized] = np.round(found[sized] * scale) / scale
    return found


def joined(paths: Sequence[Path], columns: Sequence[Column]) -> Any:
    """Tables of the same columns, one after the other, words with one dictionary."""
    whole = pa.concat_tables([read_table(path) for path in paths]).unify_dictionaries()
    return whole.cast(pa.schema([column.field for column in columns]))
