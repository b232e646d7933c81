"""The candidates a study may list: a section for each kind, made from the markers on its record.

In go plain data, out come frozen records of pipeline/chokes, one for every count and position.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, fields
from functools import cache, cached_property
from typing import Annotated, Any, ClassVar, Literal, Self, get_type_hints

from pydantic import Field, create_model, model_validator

from models.catalogues.parts import CoaxClass
from models.quantities import Quantity
from pipeline.chokes.keys import Derived, FileBeside, KeyGroup, Part, Several
from pipeline.chokes.kind import AT_THE_FEED, Choke
from pipeline.chokes.kinds import KINDS
from pipeline.chokes.table_file import table_path
from pipeline.study import fields as kinds
from pipeline.study.candidates import variants
from pipeline.study.fields import Context, FieldKind
from pipeline.study.section import As, Section, kind_of_marker, pick
from pipeline.study.sections.build import price

_POSITION = Quantity(
    "m", 0.01, 200.0, "along the shield, from the tap to the choke's antenna-side end", "0.05 m"
)
_LABEL = As(kinds.text("text shown for this candidate", "nine turns at the gable", 60))
_PRICE = As(price("price of one piece", "4.50 EUR"))
_A_POSITION = As(kinds.one_or_list(kinds.quantity(_POSITION)))
_PARTS = {"pipe": kinds.A_PIPE, "cable": kinds.A_COAX, "core": kinds.A_CORE}


def _pair(name: str, found: Any) -> tuple[str, Any]:
    return name, found


def file_beside(marker: FileBeside, make: Callable[[str, Any], Any] = _pair) -> FieldKind:
    """Kind of a file in the study's folder; a value is made of its name and what is in it."""

    def read(raw: Any, context: Context) -> Any:
        return make(str(raw), marker.read(table_path(raw, context.folder)))

    schema = {"type": "string", "description": marker.meaning, "examples": [marker.example]}
    return FieldKind(read, marker.example, schema, lambda found: str(found[0]))


def _key_group(marker: KeyGroup) -> FieldKind:
    section = group_section(marker.of)

    def read(raw: Any, context: Context) -> Any:
        found = section.model_validate(raw, context=context)
        return marker.of(**{key: getattr(found, key) for key in section.model_fields})

    # Its schema stands in the place where it is used, like that of every kind of value.
    return FieldKind(read, "", section.model_json_schema(), inside=lambda _: section)


def _field_kind(hint: Any) -> FieldKind | None:
    """Reader of a key by the markers on its annotation; ``None`` for what is no key."""
    markers = getattr(hint, "__metadata__", ())
    kind = kind_of_marker(hint)
    for marker in markers:
        match marker:
            case Part():
                kind = _PARTS[marker.of]
            case FileBeside():
                kind = file_beside(marker)
            case KeyGroup():
                kind = _key_group(marker)
    return kinds.one_or_list(kind) if kind is not None and Several() in markers else kind


def _summary(record: type[Any]) -> str:
    return (record.__doc__ or "").split("\n\n", 1)[0]


def _keys(record: type[Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """Fields of the section for a record's own marked fields, and what derived ones stand for."""
    hints = get_type_hints(record, include_extras=True)
    stated = {field.name: field.default for field in fields(record)}
    made, derived = {}, {}
    for name in inspect.get_annotations(record):
        markers = getattr(hints[name], "__metadata__", ())
        kind = _field_kind(hints[name])
        if kind is None:
            continue
        group = next((m for m in markers if isinstance(m, KeyGroup)), None)
        default = ... if stated[name] is MISSING else stated[name]
        for marker in markers:
            if isinstance(marker, Derived):
                derived[name] = marker.text
                default = Field(default_factory=group.of) if group else None
        made[name] = (Annotated[Any, As(kind)], default)
    return made, derived


def group_section(record: type[Any]) -> type[Section]:
    """Section of the keys below one key."""
    made, _ = _keys(record)
    return create_model(
        f"{record.__name__}Section", __base__=Section, __doc__=_summary(record), **made
    )


class ChokeSection(Section):
    """Part common to all candidates; the rest comes from the record of the kind."""

    of: ClassVar[type[Choke]]
    id: Annotated[str, As(kinds.identifier("short name of the candidate", "coil-9"))]
    kind: str
    label: Annotated[str | None, _LABEL] = None
    price: Annotated[tuple[float, str] | None, _PRICE] = None
    position: Annotated[float | tuple[float, ...] | None, _A_POSITION] = AT_THE_FEED

    @model_validator(mode="after")
    def has_values(self) -> Self:
        """What the keys give together is worked out once, so that its faults are found."""
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
        return self.of.read(self.given)

    def records(self, cable: CoaxClass, hanging: float = AT_THE_FEED) -> list[Choke]:
        """Frozen records, one per count and position.

        `cable` is the main one, `hanging` where a coil is put that has no position. [m]
        """
        values = self.of.completed(self.values, cable)
        count = values.pop("count", 1)
        amount, currency = self.price or (None, "")
        label = self.label or self.of.named_by(self.given)
        position = hanging if self.position is None else self.position
        return [
            self.of(
                id=v.id,
                label=v.label,
                count=v.count,
                position=v.position,
                price=None if amount is None else amount * v.count,
                currency=currency,
                **values,
            )
            for v in variants(self.id, label, count, position)
        ]


@cache
def choke_section(name: str) -> type[ChokeSection]:
    """Section of a kind: the common keys, and those marked on its own record."""
    kind = KINDS[name]
    made, derived = _keys(kind)
    if kind.hangs:
        derived["position"] = "just below the first bend that it can hang from"
        made["position"] = (Annotated[Any, _A_POSITION], None)
    made["kind"] = (Literal[name], ...)
    title = kind.__name__.replace("Choke", "Section")
    section = create_model(title, __base__=ChokeSection, __doc__=_summary(kind), **made)
    section.of, section.derived = kind, derived
    return section


def choke_sections() -> dict[str, type[ChokeSection]]:
    """Sections of all kinds by name."""
    return {name: choke_section(name) for name in KINDS}


def _read_choke(raw: Any, context: Context) -> Section:
    return pick(raw, "kind", choke_sections()).model_validate(raw, context=context)


CHOKE = FieldKind(
    _read_choke,
    "",
    {"oneOf": [s.model_json_schema() for s in choke_sections().values()]},
    inside=lambda raw: choke_sections().get(str(raw.get("kind"))),
)
