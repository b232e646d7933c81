"""Reading of plain data by a section, and what the validation library finds wrong, in our words.

Plain data in; a section, or refusals with their place in the file out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar, get_args

from pydantic import ValidationError

from pipeline.study.faults import missing_key, unknown_key
from pipeline.study.fields import Context, FieldKind
from pipeline.study.section import Section, UnknownKindError
from pipeline.text.refusals import FieldError, FieldsError
from pipeline.text.units import in_units_of_reader
from pipeline.text.yaml_reading import Document, KeyPath

SectionT = TypeVar("SectionT", bound=Section)

# Wrong shapes of sections and lists, by the validation library's own error types.
_SHAPES = {
    "model_type": ("is not a set of keys and values", "write its keys below it, indented"),
    "list_type": ("is not a list", "start each entry with a hyphen, on a line of its own"),
    "too_short": ("is an empty list", "add an entry, or leave the key out"),
    "too_long": ("is a list with too many entries", "leave some of them out"),
}


def validate(
    section: type[SectionT], raw: Any, context: Context
) -> tuple[SectionT | None, list[dict[str, Any]]]:
    """Section read from plain data, or the validation library's error records."""
    try:
        return section.model_validate(raw, context=context), []
    except ValidationError as error:
        records: list[dict[str, Any]] = [dict(r) for r in error.errors(include_url=False)]
    for record in tuple(records):
        kind = record.get("ctx", {}).get("error")
        if isinstance(kind, UnknownKindError) and kind.meant and len(record["loc"]) == 1:
            # What is below a misspelt kind is read as that of the one meant.
            key = record["loc"][0]
            meant = {**raw, key: {**raw[key], kind.at[0]: kind.meant}}
            records.extend(validate(section, meant, context)[1])
    return None, records


def validate_rest(
    section: type[SectionT], raw: Any, records: Sequence[Mapping[str, Any]], context: Context
) -> SectionT | None:
    """Section without the keys that have a fault, so that what else is wrong is told as well.

    ``section`` has one key, below which stands what was read. The result stands in for cross-checks
    and is never computed with; ``None`` where a key cannot be done without.
    """
    ((key, value),) = raw.items()
    wrong = {record["loc"][1] for record in records if len(record["loc"]) > 1}
    if not isinstance(value, dict) or any(len(record["loc"]) < 2 for record in records):
        return None
    kept = {name: given for name, given in value.items() if name not in wrong}
    return validate(section, {key: kept}, context)[0]


def section_at(section: type[Section] | None, path: KeyPath, raw: Any) -> type[Section] | None:
    """Section that stands at a path of what a file says, to know its keys."""
    kind: FieldKind | None = None
    for step in path:
        if isinstance(step, int):
            raw = raw[step] if isinstance(raw, list) and step < len(raw) else None
        else:
            model_fields = {} if section is None else section.model_fields
            name = next((n for n, f in model_fields.items() if step == (f.alias or n)), None)
            if section is None or name is None:
                return None
            raw = raw.get(step) if isinstance(raw, dict) else None
            kind = _marked(section.model_fields[name])
            section = _inner(section.model_fields[name].annotation)
        if kind is not None:
            section = kind.inside(raw) if kind.inside and isinstance(raw, dict) else None
    return section


def _marked(info: Any) -> FieldKind | None:
    """Kind of a key, or of the entries of its list."""
    marks = list(info.metadata)
    for entry in get_args(info.annotation):
        marks += getattr(entry, "__metadata__", ())
    return next((m for m in marks if isinstance(m, FieldKind)), None)


def _inner(annotation: Any) -> type[Section] | None:
    """Section that an annotation holds: itself, in a list, or beside None."""
    options = (annotation, *get_args(annotation))
    return next((t for t in options if isinstance(t, type) and issubclass(t, Section)), None)


def record_complaints(
    record: Mapping[str, Any], place: KeyPath, keys: Mapping[str, str], document: Document
) -> list[FieldError]:
    """Refusals that one error record of the validation library stands for.

    ``record`` has the "type" of the error, and in "ctx" what a reader of ours raised; ``keys`` are
    those known at the place, each with an example.
    """
    cause = record.get("ctx", {}).get("error")
    if isinstance(cause, FieldsError):
        return [error.below(*place) for error in cause.errors]
    return [_shape_complaint(record, place, keys, document)]


def _shape_complaint(
    record: Mapping[str, Any], place: KeyPath, keys: Mapping[str, str], document: Document
) -> FieldError:
    """Complaint about a key or a shape, as the validation library found it."""
    kind = str(record["type"])
    if kind == "extra_forbidden":
        return unknown_key(place, list(keys))
    if kind == "missing":
        return missing_key(place, keys.get(str(place[-1]), ""))
    example = in_units_of_reader(keys.get(str(place[-1]), "")) if place else ""
    if document.value(place) is None:
        remedy = f"{place[-1]}: {example}" if example else "fill it in, or leave the key out"
        return FieldError("is empty", remedy, "value-empty", place)
    rule, remedy = _SHAPES[kind]
    return FieldError(rule, remedy, "value-kind", place)
