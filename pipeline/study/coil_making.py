"""A coil of cable as it is made: what cable it takes and costs, and how else it may come out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from models.catalogues.parts import CoaxClass
from models.catalogues.working_limits import working_value
from models.site.feedline_route import Helix
from pipeline.study.records import ChokeChoice, CoilChoice, Price
from pipeline.text.units import show_quantity


@dataclass(frozen=True)
class MadeCoil:
    """One way in which a coil came out otherwise: a short name, words for it, and that coil."""

    name: str
    words: str
    coil: CoilChoice


def coil_cable(choice: CoilChoice) -> float:
    """Cable wound up in a coil. [m]"""
    return Helix(choice.position, choice.turns, choice.diameter, choice.pitch).cable


def own_cable(choice: CoilChoice, main: CoaxClass) -> float:
    """Cable that has to be bought for a coil. [m]

    A winding of the ``main`` cable replaces its own height of the way; one of another class is a
    jumper from the tap to the end of the coil.
    """
    wound = coil_cable(choice)
    if choice.cable == main:
        return wound - choice.turns * choice.pitch
    return choice.position + wound


def with_cable_price(
    choice: ChokeChoice, prices: tuple[Price, ...], main: CoaxClass
) -> ChokeChoice:
    """A coil without a price of its own at that of its cable, where a metre of it has one."""
    if not isinstance(choice, CoilChoice) or choice.price is not None:
        return choice
    metre = next((p for p in prices if p.part == choice.cable.id), None)
    if metre is None:
        return choice
    price = round(metre.amount * own_cable(choice, main), 2)
    return replace(choice, price=price, currency=metre.currency)


def made_coils(choice: CoilChoice) -> tuple[MadeCoil, ...]:
    """The coil with pitch, diameter and place varied one at a time, by what is usual.

    Turns are never closer than the jacket lets them be: one wound close has no tighter twin.

    Parameters
    ----------
    choice : CoilChoice

    Returns
    -------
    tuple of MadeCoil
    """
    tight = max(choice.cable.jacket_diameter, working_value("coil-pitch-tighter") * choice.pitch)
    wide = working_value("coil-pitch-wider") * choice.pitch
    off, place = working_value("coil-diameter-off"), working_value("coil-place-off")
    percent, moved = f"{100 * off:.0f} %", show_quantity(place, "m")
    made = [
        MadeCoil(name, f"its turns {show_quantity(p, 'm')} apart", replace(choice, pitch=p))
        for name, p in (("tighter", tight), ("wider", wide))
    ]
    made += [
        MadeCoil(name, f"{percent} {name} across", replace(choice, diameter=d * choice.diameter))
        for name, d in (("smaller", 1 - off), ("larger", 1 + off))
    ]
    made += [
        MadeCoil(name, f"tied {moved} {name}", replace(choice, position=choice.position + x))
        for name, x in (("higher", -place), ("lower", place))
    ]
    return tuple(m for m in made if m.coil != choice and m.coil.position > 0)
