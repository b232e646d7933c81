"""What every section of a study file has in common: markers on fields, defaults, validation.

With study_sections.py, the part of the study reader that knows pydantic.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, TypeVar

from pydantic import (
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationError,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from models.quantities import Quantity
from pipeline.study import fields as kinds
from pipeline.study.faults import nearest
from pipeline.study.fields import Context, FieldKind
from pipeline.text.refusals import FieldError

# Alike enough to be one letter off.
_SURE = 0.8

SectionT = TypeVar("SectionT", bound="Section")


class _UnknownKindError(FieldError):
    """A type or kind that is none; ``meant`` is the one it can only stand for, if there is one."""

    def __init__(self, rule: str, remedy: str, key: str, meant: str) -> None:
        super().__init__(rule, remedy, "name-unknown", (key,))
        self.meant = meant


class As:
    """Marker that has a field read, and described in the JSON Schema, by its kind."""

    def __init__(self, kind: FieldKind) -> None:
        self.kind = kind

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            lambda raw, info: self.kind.read(raw, info.context)
        )

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return dict(self.kind.schema)


class Section(BaseModel):
    """A set of keys of the study file; ``derived`` says what stands for a key left out."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    derived: ClassVar[Mapping[str, str]] = {}

    @classmethod
    def kind_of(cls, key: str) -> FieldKind | None:
        """Kind of a field, if it has one."""
        markers = (m.kind for m in cls.model_fields[key].metadata if isinstance(m, As))
        return next(markers, None)

    @classmethod
    def examples(cls) -> dict[str, str]:
        """Keys as written in a file, each with an example."""
        found = {}
        for key, info in cls.model_fields.items():
            kind = cls.kind_of(key)
            section = info.annotation if info.is_required() else None
            found[info.alias or key] = kind.example if kind else _example_of(section)
        return found

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Show defaults as a study would write them instead of in SI."""
        schema = handler(core)
        body = handler.resolve_ref_schema(schema)
        for key, info in cls.model_fields.items():
            entry, kind = body["properties"][info.alias or key], cls.kind_of(key)
            if entry.pop("default", None) is not None:
                whole_number = entry.get("type") in ("integer", "number")
                entry["default"] = (
                    info.default if kind is None or whole_number else kind.show(info.default)
                )
        return schema

    def stated_defaults(self, where: str) -> list[str]:
        """One sentence for every value the file left out."""
        sentences = []
        for key, info in type(self).model_fields.items():
            if key in self.model_fields_set or info.is_required():
                continue
            value, kind = getattr(self, key), self.kind_of(key)
            if key in self.derived:
                sentences.append(f"{where}.{key}: {self.derived[key]}")
            elif value is not None and value != []:
                sentences.append(f"{where}.{key}: {kind.show(value) if kind else value}")
        return sentences


def _example_of(annotation: Any) -> str:
    """A section as short as it may be; empty for what is none."""
    if not (isinstance(annotation, type) and issubclass(annotation, Section)):
        return ""
    examples, fields = annotation.examples(), annotation.model_fields.items()
    needed = [info.alias or key for key, info in fields if info.is_required()]
    return f"{{{', '.join(f'{key}: {examples[key]}' for key in needed)}}}"


def validate(
    section: type[SectionT], raw: Any, context: Context
) -> tuple[SectionT | None, list[dict[str, Any]]]:
    """Section read from plain data, or the validation library's error records.

    Parameters
    ----------
    section : type
        Class of the section.
    raw : object
        What the file says.
    context : Context

    Returns
    -------
    section : Section or None
    records : list of dict
        "type", "loc" and "ctx" of every error.
    """
    try:
        return section.model_validate(raw, context=context), []
    except ValidationError as error:
        records: list[dict[str, Any]] = [dict(r) for r in error.errors(include_url=False)]
    for record in tuple(records):
        kind = record.get("ctx", {}).get("error")
        if isinstance(kind, _UnknownKindError) and kind.meant and len(record["loc"]) == 1:
            # What is below a misspelt kind is read as that of the one meant.
            key = record["loc"][0]
            meant = {**raw, key: {**raw[key], kind.at[0]: kind.meant}}
            records.extend(validate(section, meant, context)[1])
    return None, records


def validate_rest(
    section: type[SectionT], raw: Any, records: Sequence[Mapping[str, Any]], context: Context
) -> SectionT | None:
    """Section without the keys that have a fault, so that what else is wrong is told as well.

    Parameters
    ----------
    section : type
        Class with one key, below which stands what was read.
    raw : dict
        What the file says, as :func:`validate` had it.
    records : sequence of dict
        What that found.
    context : Context

    Returns
    -------
    Section or None
        Stands in for cross-checks and is never computed with; ``None`` where a key cannot be
        done without.
    """
    ((key, value),) = raw.items()
    wrong = {record["loc"][1] for record in records if len(record["loc"]) > 1}
    if not isinstance(value, dict) or any(len(record["loc"]) < 2 for record in records):
        return None
    kept = {name: given for name, given in value.items() if name not in wrong}
    return validate(section, {key: kept}, context)[0]


def size(low: float, high: float, meaning: str, example: str) -> As:
    """Marker of a length."""
    return As(kinds.quantity(Quantity("m", low, high, meaning, example)))


def whole_number(low: int, high: int, meaning: str, example: str, odd: bool = False) -> As:
    """Marker of a whole number."""
    return As(kinds.whole(Quantity("1", low, high, meaning, example), odd))


def pick(raw: Any, key: str, known: Mapping[str, type[Section]]) -> type[Section]:
    """Section that a mapping's own key (type or kind) asks for."""
    if not isinstance(raw, dict):
        raise FieldError("is not a set of keys and values", f"{key}: ...", "value-kind")
    name = raw.get(key)
    if isinstance(name, str) and name in known:
        return known[name]
    offered = ", ".join(known)
    if name is None:
        rule = f"has no {key}, so it is not known what it is"
        at = (key,) if key in raw else ()
        raise FieldError(rule, f"{key}: one of {offered}", "key-missing", at)
    near = nearest(str(name), known)
    rule, remedy = f"is not one of: {offered}", f"{key}: {near or f'one of {offered}'}"
    sure = difflib.get_close_matches(str(name), known, n=1, cutoff=_SURE)
    raise _UnknownKindError(rule, remedy, key, sure[0] if sure else "")


A_PIPE = As(kinds.A_PIPE)
A_COAX = As(kinds.A_COAX)
