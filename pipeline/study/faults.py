"""From what went wrong to messages of four parts: place, value, rule, remedy.

The checks give :class:`FieldError` data; the study's document adds file, line and the value as
it was written. Nothing here imports the validation library: its error records are plain data.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pipeline.text.errors import Fault
from pipeline.text.refusals import FieldError, FieldsError
from pipeline.text.units import in_units_of_reader
from pipeline.text.yaml_reading import Document, KeyPath, dotted

_LONGEST_VALUE = 60
# Wrong shapes of sections and lists, by the validation library's own error types.
_SHAPES = {
    "model_type": ("is not a set of keys and values", "write its keys below it, indented"),
    "list_type": ("is not a list", "start each entry with a hyphen, on a line of its own"),
    "too_short": ("is an empty list", "add an entry, or leave the key out"),
    "too_long": ("is a list with too many entries", "leave some of them out"),
}


def to_fault(complaint: FieldError, document: Document) -> Fault:
    """Add file, line and the value as it was written."""
    return Fault(
        complaint.place or document.place(complaint.at),
        complaint.value if complaint.place else shown_value(document.value(complaint.at)),
        complaint.rule,
        complaint.remedy,
        complaint.tag,
    )


def shown_value(value: Any) -> str:
    """Value as a message shows it; sections are not repeated.

    Examples
    --------
    >>> shown_value("76 mm"), shown_value(3), shown_value({"from": 1})
    ('"76 mm"', '3', '')
    """
    if value is None or isinstance(value, dict):
        return ""
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= _LONGEST_VALUE else f"{text[:_LONGEST_VALUE]}..."


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Known word that a misspelt one most likely stands for.

    Examples
    --------
    >>> nearest("lenght", ["length", "joins"])
    'length'
    """
    folded = {k.casefold().replace("-", "_"): k for k in known}
    wanted = word.casefold().replace("-", "_").replace(" ", "_")
    near = difflib.get_close_matches(wanted, folded, n=1, cutoff=0.55)
    return folded[near[0]] if near else None


def unknown_key(at: KeyPath, known: Sequence[str]) -> FieldError:
    """Complain about a key that means nothing here."""
    near = nearest(str(at[-1]), known)
    remedy = f"{near}:" if near else f"one of {', '.join(known)}"
    return FieldError("is not a key that is known here", remedy, "key-unknown", at)


def missing_key(at: KeyPath, example: str) -> FieldError:
    """Complain about a key that must be there."""
    section = dotted(at[:-1])
    rule = f"is missing; {section or 'a study'} needs it"
    shown = in_units_of_reader(example)
    return FieldError(rule, f"{at[-1]}: {shown}" if shown else f"{at[-1]}:", "key-missing", at)


def all_faults(complaints: Sequence[FieldError], document: Document) -> list[Fault]:
    """Faults of a file by line, each once; a key that is misspelt is not missing as well."""
    meant = {(*c.at[:-1], c.remedy.rstrip(":")) for c in complaints if c.tag == "key-unknown"}
    found = [c for c in complaints if c.tag != "key-missing" or c.at not in meant]
    found.sort(key=lambda complaint: document.line(complaint.at))
    return [*document.faults, *dict.fromkeys(to_fault(c, document) for c in found)]


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
