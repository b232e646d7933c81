"""The candidates a study may list: a section for each kind, made from the markers on its record.

In go plain data, out come frozen records of pipeline/chokes, one for every count and position. A
candidate of several chokes at once has each of them below a key of its own.
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
from pipeline.text.refusals import FieldError

_POSITION = Quantity(
    "m", 0.01, 200.0, "along the shield, from the tap to the choke's antenna-side end", "0.05 m"
)
_LABEL = kinds.text("text shown for this candidate", "nine turns at the gable", 60)
_PRICE = price("price of one piece", "4.50 EUR")
_A_POSITION = kinds.one_or_list(kinds.quantity(_POSITION))


class PartSection(Section):
    """Part common to all chokes; the rest comes from the record of the kind."""

    made_of: ClassVar[type[Choke]]
    kind: str
    price: Annotated[tuple[float, str] | None, _PRICE] = None

    @model_validator(mode="after")
    def has_values(self) -> Self:
        """Work out once, while the section is read, the values that its keys give together."""
        self.values  # noqa: B018
        return self

    @cached_property
    def given(self) -> dict[str, Any]:
        """Keys that only this kind has, as read."""
        return {key: getattr(self, key) for key in type(self).model_fields if key not in _COMMON}

    @cached_property
    def values(self) -> dict[str, Any]:
        """Values of the record that only this kind has."""
        return self.made_of.read(self.given)


class ChokeSection(PartSection):
    """Part common to candidates that are one choke."""

    id: Annotated[str, kinds.identifier("short name of the candidate", "coil-9")]
    label: Annotated[str | None, _LABEL] = None
    position: Annotated[float | tuple[float, ...] | None, _A_POSITION] = AT_THE_FEED

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


_COMMON = frozenset(ChokeSection.model_fields)


class MemberSection(PartSection):
    """One of several chokes that are a candidate together: one number, and one place."""

    position: Annotated[float, kinds.quantity(_POSITION)]

    @model_validator(mode="after")
    def is_one(self) -> Self:
        """Refuse a list to be tried, and a choke that is in several places by itself."""
        for key, value in self.given.items():
            if key == "count" and isinstance(value, tuple):
                rule = "is a list, and each choke of several at once has one number"
                raise FieldError(rule, f"count: {value[0]}", "list-in-several", (key,))
        if len(self.choke(_ANY_ID).placed) > 1:
            rule = "is a place too many: each choke of several at once has one"
            key = self.made_of.place_keys[-1][-1]
            raise FieldError(rule, f"leave {key} out", "place-in-several", (key,))
        return self

    def choke(self, name: str) -> Choke:
        """The choke under a name."""
        amount, currency = self.price or (None, "")
        values = {"count": 1} | self.values
        return self.made_of(
            id=name,
            label=self.made_of.named_by(self.given),
            position=self.position,
            price=None if amount is None else amount * values["count"],
            currency=currency,
            **values,
        )


_ANY_ID = "part"


class SeveralSection(Section):
    """Part common to candidates that are several chokes at once."""

    made_of: ClassVar[Any]
    id: Annotated[str, kinds.identifier("short name of the candidate", "two-places")]
    kind: str
    label: Annotated[str | None, _LABEL] = None

    def records(self, cable: CoaxClass, hanging: float = AT_THE_FEED) -> list[Choke]:
        """The one record; nothing of it comes from the cable."""
        del cable, hanging
        keys = self.made_of.holds
        members = (getattr(self, key).choke(f"{self.id}-{key}") for key in keys)
        return [self.made_of.of(self.id, self.label or "", *members)]


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
def choke_section(name: str) -> type[Section]:
    """Section of a kind: the common keys, and those marked on its own record."""
    kind = KINDS[name]
    more: dict[str, Any] = {"__doc__": (kind.__doc__ or "").split("\n\n", 1)[0]}
    title = kind.__name__.replace("Choke", "Section")
    if kind.holds:
        held: dict[str, Any] = dict.fromkeys(kind.holds, (Annotated[Any, MEMBER], ...))
        return named_section(kind, SeveralSection, ("kind", name), title=title, **held, **more)
    if kind.hangs or kind.usual_position != AT_THE_FEED:
        usual = None if kind.hangs else kind.usual_position
        more["position"] = (Annotated[Any, _A_POSITION], usual)
    section = named_section(kind, ChokeSection, ("kind", name), title=title, **more)
    if kind.hangs:
        below = {"position": "just below the first bend that it can hang from"}
        section.derived = {**section.derived, **below}
    return section


@cache
def member_section(name: str) -> type[MemberSection]:
    """Section of a kind as one of several at once."""
    kind = KINDS[name]
    title = kind.__name__.replace("Choke", "MemberSection")
    return named_section(kind, MemberSection, ("kind", name), title=title)


MEMBER = picked(
    "kind",
    lambda: [name for name, kind in KINDS.items() if kind.goes_with_others],
    member_section,
    "{kind: ferrite, core: mix-43-clamp-12-7, position: 0.05 m}",
)
CHOKE = picked("kind", lambda: KINDS, choke_section)
