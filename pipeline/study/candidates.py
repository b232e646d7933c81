"""Candidates of a study: lists become one choice each, and the standard set when none is given."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from models.catalogues.core_fit import takes_cable
from models.catalogues.parts import CoaxClass, FerriteCore, ferrite_cores
from models.lengths import large
from pipeline.study.fields import is_id
from pipeline.study.records import ChokeChoice, CoilChoice, CoilModel, FerriteChoice, SleeveChoice
from pipeline.text.units import show_quantity

KINDS = ("coil", "ferrite", "sleeve", "ideal", "table", "fixture")
AT_THE_FEED = 0.05
BELOW_THE_BEND = 0.15
# Cable that a row of cores leaves free below a bend: about the bend radius of thick cable [m].
BELOW_A_BEND = 0.05
# Sums and unit conversions of written lengths differ from the written total by rounding [m].
SLACK = 1e-9

_STANDARD_MATERIAL = "mix-43"
_STANDARD_COUNTS = (1, 2, 4, 8)
_STANDARD_TURNS = 9
_STANDARD_DIAMETER = 0.3
# A coil wound by hand and tied in two places: turns lie a fifth of a cable apart on average.
_STANDARD_PITCH = 1.2


@dataclass(frozen=True)
class Candidates:
    """The candidates of a file: those that could be read with their entry's number, and the rest.

    ``unread`` holds entries with a fault as the file has them, so that what else names one of
    them is not called wrong as well; ``partly`` what could be read of those.
    """

    sound: tuple[tuple[int, ChokeChoice], ...]
    unread: tuple[Any, ...] = ()
    partly: tuple[tuple[int, ChokeChoice], ...] = ()

    def may_be(self, name: str) -> bool:
        """Whether a candidate that could not be read may have a name."""
        ids = [entry.get("id") if isinstance(entry, dict) else None for entry in self.unread]
        return any(not is_id(i) or name == i or name.startswith(f"{i}-") for i in ids)

    def may_hold(self, kind: str) -> bool:
        """Whether a candidate that could not be read may be of a kind."""
        said = [entry.get("kind") if isinstance(entry, dict) else None for entry in self.unread]
        return any(k == kind or k not in KINDS for k in said)


@dataclass(frozen=True)
class Variant:
    """One combination of count and position [m] of a candidate, with its own id and label."""

    id: str
    label: str
    count: int
    position: float


def variants(
    name: str, label: str, count: int | tuple[int, ...], position: float | tuple[float, ...]
) -> Iterator[Variant]:
    """Every combination of count and position; ids and labels say which, where there are lists.

    Parameters
    ----------
    name, label : str
        The candidate's id and label.
    count : int or tuple of int
        Number of cores.
    position : float or tuple of float
        Distances along the shield. [m]

    Yields
    ------
    Variant

    Examples
    --------
    >>> [v.id for v in variants("bead", "bead", (1, 4), 0.05)]
    ['bead-x1', 'bead-x4']
    >>> [v.id for v in variants("bead", "bead", 4, (0.05, 0.567))]
    ['bead-at-0.05m', 'bead-at-0.57m']
    """
    counts = count if isinstance(count, tuple) else (count,)
    positions = position if isinstance(position, tuple) else (position,)
    for n in counts:
        for place in positions:
            id_end, label_end = "", ""
            if isinstance(count, tuple):
                id_end += f"-x{n}"
                label_end += f", {n} pieces" if n > 1 else ", 1 piece"
            if isinstance(position, tuple):
                id_end += f"-at-{place:.2f}m"
                label_end += f", at {large(place)}"
            yield Variant(name + id_end, label + label_end, n, place)


def extent(choice: ChokeChoice, wavelength: float) -> float:
    """Length of cable a choke takes up along the route. [m]

    Parameters
    ----------
    choice : ChokeChoice
    wavelength : float
        Free-space wavelength; a sleeve without a length takes a quarter of it at most. [m]

    Returns
    -------
    float
    """
    if isinstance(choice, CoilChoice):
        return choice.turns * choice.pitch
    if isinstance(choice, FerriteChoice):
        return choice.count * choice.core.length
    if isinstance(choice, SleeveChoice):
        return wavelength / 4 if choice.length is None else choice.length
    return 0.0


def is_on_sale(choice: ChokeChoice) -> bool:
    """Whether a candidate can be bought or made: no ideal choke, no core that nobody sells."""
    if isinstance(choice, FerriteChoice):
        return choice.core.on_sale
    return choice.kind != "ideal"


def cores_that_fit(jacket_diameter: float, material: str) -> list[FerriteCore]:
    """Cores on sale that take a cable, those of the same material and the tightest first."""
    fitting = [c for c in ferrite_cores() if c.on_sale and takes_cable(c, jacket_diameter)]
    return sorted(fitting, key=lambda core: (core.material != material, core.hole_diameter))


def standard_chokes(
    cable: CoaxClass, first_step: float, room: float, wavelength: float
) -> tuple[ChokeChoice, ...]:
    """Candidates for a study that names none, as far as the route has room for them.

    Parameters
    ----------
    cable : CoaxClass
    first_step : float
        Length of the route's first step; the coil hangs just below its end. [m]
    room : float
        Length of the route up to the radio. [m]
    wavelength : float
        Free-space wavelength. [m]

    Returns
    -------
    tuple of ChokeChoice
        1, 2, 4 and 8 cores of the NiZn 800 class, and nine turns of the cable. Cores sit at the
        feed, those that do not end before the first bend below it.
    """
    chokes: list[ChokeChoice] = [
        FerriteChoice(
            id=f"nizn-800-x{count}",
            label=f"{count} x {core.name}",
            kind="ferrite",
            count=count,
            position=_place_of_row(count * core.length, first_step),
            core=core,
        )
        for core in cores_that_fit(cable.jacket_diameter, _STANDARD_MATERIAL)[:1]
        if core.material == _STANDARD_MATERIAL
        for count in _STANDARD_COUNTS
    ]
    chokes.append(
        CoilChoice(
            id="coil-9",
            label=coil_label(_STANDARD_TURNS, _STANDARD_DIAMETER, "the cable"),
            kind="coil",
            position=first_step + BELOW_THE_BEND,
            turns=_STANDARD_TURNS,
            diameter=_STANDARD_DIAMETER,
            pitch=_STANDARD_PITCH * cable.jacket_diameter,
            cable=cable,
            model="wire",
        )
    )
    return tuple(c for c in chokes if c.position + extent(c, wavelength) <= room + SLACK)


def _place_of_row(length: float, first_step: float) -> float:
    """Where a row of cores [m] begins: a row is stiff and does not lie across a bend."""
    at_the_feed = AT_THE_FEED + length <= first_step + SLACK
    return AT_THE_FEED if at_the_feed else first_step + BELOW_A_BEND


def coil_label(turns: int, diameter: float, cable: str, model: CoilModel = "wire") -> str:
    """Text of a coil for people.

    Examples
    --------
    >>> coil_label(9, 0.3, "the cable", "lumped")
    '9 turns of the cable, 0.3 m across, as a lumped part'
    """
    plural = "turn" if turns == 1 else "turns"
    end = ", as a lumped part" if model == "lumped" else ""
    return f"{turns} {plural} of {cable}, {show_quantity(diameter, 'm')} across{end}"
