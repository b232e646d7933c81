"""Physical constants, and markers that say what a parameter is: unit, range, meaning.

Markers are plain data on plain dataclasses. The study reader turns them into checks, messages and
the published JSON Schema; the generators only ever see SI floats.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

# SI: metre and, until 2019, ampere by definition.
SPEED_OF_LIGHT = 299_792_458.0
MU_0 = 4e-7 * math.pi
# Measured since then: CODATA 2022 (Mohr, Newell, Taylor and Tiesinga, 2025), printed to twelve
# digits. The first differs from the old definition in the tenth.
VACUUM_PERMEABILITY = 1.25663706127e-06
VACUUM_PERMITTIVITY = 8.8541878188e-12
# Impedance of free space over a full turn. [ohm]
ETA_OVER_2PI = 376.730313668 / (2 * math.pi)
# The constants inside NEC-2, wherever agreement with it is wanted to many digits: its speed of
# light is 2e-5 above the real one.
EPS_0_NEC = 8.854e-12
SPEED_OF_LIGHT_NEC = 1.0 / math.sqrt(4e-7 * math.pi * EPS_0_NEC)
ETA_NEC = math.sqrt(4e-7 * math.pi / EPS_0_NEC)


@dataclass(frozen=True)
class Quantity:
    """Meaning of a numeric parameter and the values that make sense.

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


@dataclass(frozen=True)
class Key:
    """The name a parameter has in the study file, where that is not its own.

    ``filled_in`` says that its default only holds the place of what the rest of the study gives.
    """

    name: str = ""
    filled_in: bool = False


@dataclass(frozen=True)
class Listed:
    """A list of values, each of the kind beside it; the record has them in a tuple."""

    most: int
    least: int = 0


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
