"""Markers on a choke's record that say how a key of the study file is read, beside its quantity.

Plain data like :mod:`models.quantities`, on annotations of the record; the study reader turns them
into checks, messages and the published JSON Schema.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal


@dataclass(frozen=True)
class Part:
    """An entry of a catalogue, by its id or name."""

    of: Literal["pipe", "cable", "core"]


@dataclass(frozen=True)
class FileBeside:
    """A file in the study's folder: its reader gives the value, a pair of name and content."""

    read: Callable[[Path], Any]
    meaning: str
    example: str


@dataclass(frozen=True)
class KeyGroup:
    """Keys of their own below one key: the marked fields of a dataclass, all of them optional."""

    of: type[Any]


@dataclass(frozen=True)
class Several:
    """A list is allowed, each entry a candidate of its own."""


@dataclass(frozen=True)
class Derived:
    """The key may be left out; ``text`` says what then stands for it."""

    text: str
