"""Markers that say what a parameter is: its SI unit, the range it may take, what it means.

Plain data on plain dataclasses. The study reader turns them into checks, messages and the
published JSON Schema; the generators only ever see SI floats.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Quantity:
    """What one numeric parameter means and which values make sense.

    ``unit`` is the SI unit the generator receives ("1" for a pure number), ``low`` and
    ``high`` are the inclusive limits in that unit, ``example`` is how a study would write it.
    """

    unit: str
    low: float
    high: float
    meaning: str
    example: str


@dataclass(frozen=True)
class Choice:
    """A parameter that takes one of a few words; the first is the usual one."""

    words: tuple[str, ...]
    meaning: str
