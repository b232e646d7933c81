"""The candidates a study may list: a section for each kind, made from the markers on its record.

In go plain data, out come frozen records of pipeline/chokes, one for every count and position.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, cached_property
from typing import Annotated, Any, ClassVar, Self

from pydantic import model_validator

from models.catalogues.parts import CoaxClass
from models.lengths import large
from models.quantities import Quantity
from pipeline.chokes.kind import AT_THE_FEED, Choke
from pipeline.chokes.kinds import KINDS
from pipeline.study import fields as kinds
from pipeline.study.section import Section, named_section, picked
from pipeline.study.sections.build import price

_POSITION = Quantity(
    "m", 0.01, 200.0, "along the shield, from the tap to the choke's antenna-side end", "0.05 m"
)
_LABEL = kinds.text("text shown for this candidate", "nine turns at the gable", 60)
_PRICE = price("price of one piece", "4.50 EUR")
_A_POSITION = kinds.one_or_list(kinds.quantity(_POSITION))


class ChokeSection(Section):
    """Part common to all candidates; the rest comes from the record of the kind."""

    made_of: ClassVar[type[Choke]]
    id: Annotated[str, kinds.identifier("short name of the candidate", "coil-9")]
    kind: str
    label: Annotated[str | None, _LABEL] = None
    price: Annotated[tuple[float, str] | None, _PRICE] = None
    position: Annotated[float | tuple[float, ...] | None, _A_POSITION] = AT_THE_FEED

    @model_validator(mode="after")
    def has_values(self) -> Self:
        """Work out once, while the section is read, the values that its keys give together."""
        self.values  # noqa: B018
        return self

    @cached_property
    def given(self) -> dict[str, Any]:
        """Keys that only this kind has, as read."""
        common = ChokeSection.model_fields
        return {key: getattr(self, key) for key in type(self).model_fields if key not in common}

    @cached_property
    def values(self) -> dict[str, Any]:
        """Values of the record that only this kind has."""
        return self.made_of.read(self.given)

    def records(self, cable: CoaxClass, hanging: float = AT_THE_FEED) -> list[Choke]:
        """Frozen records, one per count and position.

        `cable` is the main one, `hanging` where a coil is put that has no position. [m]
        """
        values = self.made_of.completed(self.values, cable)
        counts = values.pop("count", 1)
        amount, currency = self.price or (None, "")
        said = self.label or self.made_of.named_by(self.given)
        position = hanging if self.position is None else self.position
        made = [
            self.made_of(
                id=name,
                label=label,
                count=count,
                position=place,
                price=None if amount is None else amount * count,
                currency=currency,
                **values,
            )
            for name, label, count, place in variants(self.id, said, counts, position)
        ]
        return made if self.label else [one.labelled() for one in made]


def variants(
    name: str, label: str, count: int | tuple[int, ...], position: float | tuple[float, ...]
) -> Iterator[tuple[str, str, int, float]]:
    """Id, label, count and position [m] of every combination; the first two say which it is.

    Examples
    --------
    >>> [v[0] for v in variants("bead", "bead", (1, 4), 0.05)]
    ['bead-x1', 'bead-x4']
    >>> [v[0] for v in variants("bead", "bead", 4, (0.05, 0.567))]
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
            yield name + id_end, label + label_end, n, place


@cache
def choke_section(name: str) -> type[ChokeSection]:
    """Section of a kind: the common keys, and those marked on its own record."""
    kind = KINDS[name]
    more: dict[str, Any] = {"__doc__": (kind.__doc__ or "").split("\n\n", 1)[0]}
    if kind.hangs or kind.usual_position != AT_THE_FEED:
        usual = None if kind.hangs else kind.usual_position
        more["position"] = (Annotated[Any, _A_POSITION], usual)
    title = kind.__name__.replace("Choke", "Section")
    section = named_section(kind, ChokeSection, ("kind", name), title=title, **more)
    if kind.hangs:
        below = {"position": "just below the first bend that it can hang from"}
        section.derived = {**section.derived, **below}
    return section


CHOKE = picked("kind", lambda: KINDS, choke_section)
