"""What a study does not know exactly, as frozen records of SI values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shape = Literal["uniform", "log", "normal", "classes", "chance"]


@dataclass(frozen=True)
class Distribution:
    """How a value is spread, in its SI unit.

    ``low`` and ``high`` are the ends of a uniform or log-uniform one, mean and standard deviation
    of a normal one; "classes" is any class of the catalogue, "chance" something that is so with
    the probability ``low``. ``around`` says that it is added to what the study states. Values
    never leave ``least`` to ``most``.
    """

    shape: Shape
    low: float = 0.0
    high: float = 0.0
    around: bool = False
    least: float = float("-inf")
    most: float = float("inf")


@dataclass(frozen=True)
class Part:
    """One of several alike: a step of the route by its number from 1, a length by its name."""

    of: str
    spread: Distribution


@dataclass(frozen=True)
class Unknowns:
    """Everything that may be spread; ``None`` or empty: known exactly.

    ``route`` and ``antenna`` name steps and lengths, "" stands for all of them. ``floating`` is
    the probability that the radio's case touches nothing. ``given`` names the keys of the file,
    ``defaults`` says in a sentence what each key left out was taken to be. Coils that are drawn as
    wire take part only where ``coil_pitch`` is among the keys given, be it known.
    """

    route: tuple[Part, ...] = ()
    height: Distribution | None = None
    soil: Distribution | None = None
    permittivity: Distribution | None = None
    conductivity: Distribution | None = None
    rod: Distribution | None = None
    bond_lead: Distribution | None = None
    resistance: Distribution | None = None
    reactance: Distribution | None = None
    floating: float = 0.0
    lead: Distribution | None = None
    ferrite: Distribution | None = None
    temperature: Distribution | None = None
    antenna: tuple[Part, ...] = ()
    jacket: Distribution | None = None
    sleeve: Distribution | None = None
    coil_pitch: Distribution | None = None
    geometries: int = 24
    draws: int = 256
    seed: int = 1
    given: frozenset[str] = frozenset()
    defaults: tuple[str, ...] = ()


ALL_KNOWN = Unknowns()
