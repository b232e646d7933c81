"""The table of a batch as its statistics see it: what was scored, by installation and setting.

``table.parquet`` in, rows with the numbers of their installation and setting out. An installation
is one drawing of antenna and cable, whatever is put on it; a setting is an installation with one
radio end and bond. What stands beside a choke on the same cable has the same setting. Installations
count alike, and each setting of one alike within it.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from pipeline.batch.conditions import ROUTE
from pipeline.chokes.kinds import KINDS
from pipeline.runtime.store import UnsoundError, content_of, reading
from pipeline.solver.cases import IDEAL, NONE
from pipeline.survey.resampled import Members

# Key of the table's own description among its metadata.
_ABOUT = b"braidwise"
# Columns that every table has, whatever its axes are.
NEEDED = (
    *("group", "installation", ROUTE, "geometry", "case", "label", "kind", "core", "count"),
    *("position", "score", "grade", "cause"),
)
UNSOUND = "unsound"
# Rows of one setting that agree in all of these are one variant, computed twice.
_SAME = ("case", "core", "count", "position", "geometry", "score")
# Numbers that are added to the rows.
CLUSTER, SETTING, WEIGHT = "_installation", "_setting", "_weight"


@dataclass(frozen=True)
class ColumnMeaning:
    """A column of the table: its unit, what it holds, and its role there."""

    name: str
    unit: str
    meaning: str
    role: str

    @property
    def is_of_choke(self) -> bool:
        """Whether it says something of a choke, so that a bare cable cannot depend on it.

        Examples
        --------
        >>> names = ["chokes.coil.turns", "turns", "coil_diameter", "antenna.sleeve_diameter"]
        >>> [ColumnMeaning(name, "", "", "axis").is_of_choke for name in names]
        [True, True, True, False]
        """
        first = self.name.split(".")[0].split("[")[0]
        return first == "chokes" or turns_of(self.name) or first.split("_")[0] in KINDS


def turns_of(name: str) -> bool:
    """Whether a column holds the turns of a coil.

    Examples
    --------
    >>> turns_of("chokes.coil.turns"), turns_of("turns"), turns_of("returns")
    (True, True, False)
    """
    return name.rsplit(".", 1)[-1] == "turns"


@dataclass(frozen=True)
class TableRows:
    """Rows of a table with what is known of its columns.

    ``frame`` has the table's columns, and in :data:`CLUSTER` and :data:`SETTING` the number of the
    installation and of the setting of each row, counted over all groups; :data:`WEIGHT` is one over
    the settings of its installation. ``about`` is what the table says of itself, ``digest`` that of
    its bytes.
    """

    frame: pd.DataFrame
    columns: Mapping[str, ColumnMeaning]
    about: Mapping[str, Any]
    digest: str

    def __len__(self) -> int:
        return len(self.frame)

    @cached_property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups in the order of the table."""
        return tuple(str(name) for name in self.frame["group"].unique())

    @property
    def failed(self) -> TableRows:
        """Those without a score."""
        return self.keep((self.frame["cause"] != "") | ~np.isfinite(self.frame["score"]))

    @cached_property
    def scored(self) -> TableRows:
        """Those that have a score, what was computed twice once."""
        held = (self.frame["cause"] == "") & np.isfinite(self.frame["score"])
        return self.keep(held & ~self.frame.duplicated([SETTING, *_SAME]))

    @cached_property
    def trusted(self) -> TableRows:
        """Those that have a score and whose drawing is not unsound."""
        return self.scored.keep(self.scored.frame["grade"] != UNSOUND)

    @cached_property
    def bare(self) -> TableRows:
        """Those without a choke."""
        return self.of_kind(NONE)

    @cached_property
    def ideal(self) -> TableRows:
        """Those with the ideal choke."""
        return self.of_kind(IDEAL)

    @property
    def traits(self) -> tuple[ColumnMeaning, ...]:
        """Columns that say how an installation is, whatever choke is on it."""
        return _traits(self.columns)

    def of_group(self, group: str) -> TableRows:
        """Those of one group."""
        return self.keep(self.frame["group"] == group)

    def of_kind(self, kind: str) -> TableRows:
        """Those with one kind of choke."""
        return self.keep(self.frame["kind"] == kind)

    def keep(self, rows: Any) -> TableRows:
        """Some of the rows."""
        return replace(self, frame=self.frame[np.asarray(rows, dtype=bool)])

    @property
    def members(self) -> Members:
        """Installation and weight of each row."""
        return Members(
            np.asarray(self.frame[CLUSTER], dtype=np.int64),
            np.asarray(self.frame[WEIGHT], dtype=np.float64),
        )

    @property
    def setting(self) -> NDArray[np.int64]:
        """Number of the setting of each row."""
        return np.asarray(self.frame[SETTING], dtype=np.int64)

    @property
    def score(self) -> NDArray[np.float64]:
        """Largest change over its threshold, row by row."""
        return self.number("score")

    def number(self, name: str) -> NDArray[np.float64]:
        """A column of numbers."""
        return np.asarray(self.frame[name], dtype=np.float64)

    def text(self, name: str) -> list[str]:
        """A column of words, row by row."""
        return [str(value) for value in self.frame[name]]


def read_rows(table: Path) -> TableRows:
    """Rows of a batch's table.

    Raises
    ------
    ResultError
        If it is missing, damaged, or no table of a batch.
    """

    def read() -> TableRows:
        content = content_of(table)
        try:
            return rows_in(pq.read_table(io.BytesIO(content)), content)
        except pa.ArrowException as error:
            raise UnsoundError(f"is no table that can be read ({type(error).__name__})") from error

    return reading(table, read)


def rows_in(table: pa.Table, content: bytes = b"") -> TableRows:
    """The same from a table in memory; ``content`` is what its digest is of."""
    missing = [name for name in NEEDED if name not in table.column_names]
    if missing:
        raise UnsoundError(f"has no column {missing[0]}")
    columns = {field.name: _meaning(field) for field in table.schema}
    about = json.loads((table.schema.metadata or {}).get(_ABOUT, b"{}"))
    frame = table.to_pandas()
    for field in table.schema:
        if _is_text(field.type):
            frame[field.name] = frame[field.name].astype("category")
    frame[CLUSTER] = _clusters(frame)
    frame[SETTING] = _numbered(frame, [CLUSTER, *(trait.name for trait in _traits(columns))])
    frame[WEIGHT] = 1 / frame.groupby(CLUSTER)[SETTING].transform("nunique")
    return TableRows(frame, columns, about, hashlib.sha256(content).hexdigest())


def _clusters(frame: pd.DataFrame) -> Any:
    """Number of each row's installation: those whose cable is drawn alike are one.

    Installations of a table may differ in nothing but a choke that is drawn on them.
    """
    places = ["group", "installation"]
    bare = frame.loc[frame["kind"] == NONE, [*places, "geometry"]].drop_duplicates(places)
    of_cable = frame[places].merge(bare, on=places, how="left")["geometry"].astype(object)
    own = "installation " + frame["installation"].astype(str)
    name = of_cable.where(of_cable.notna() & (of_cable != ""), own)
    return _numbered(pd.DataFrame({"group": frame["group"], "of": name}), ["group", "of"])


def _traits(columns: Mapping[str, ColumnMeaning]) -> tuple[ColumnMeaning, ...]:
    return tuple(
        column
        for column in columns.values()
        if column.name == ROUTE or (column.role == "axis" and not column.is_of_choke)
    )


def _meaning(field: pa.Field) -> ColumnMeaning:
    known = {key.decode(): value.decode() for key, value in (field.metadata or {}).items()}
    return ColumnMeaning(field.name, *(known.get(key, "") for key in ("unit", "meaning", "role")))


def _is_text(kind: pa.DataType) -> bool:
    return bool(
        pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_dictionary(kind)
    )


def _numbered(frame: pd.DataFrame, names: list[str]) -> Any:
    """Number of each row's combination, in order of appearance."""
    return frame.groupby(names, dropna=False, sort=False, observed=True).ngroup()
