"""From what went wrong to messages of four parts: place, value, rule, remedy.

Readers and checks give :class:`FieldError` data; the study's document adds file, line and the value
as it was written.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from pipeline.text.errors import Fault
from pipeline.text.refusals import FieldError
from pipeline.text.units import in_units_of_reader
from pipeline.text.yaml_reading import Document, KeyPath, dotted

_LONGEST_VALUE = 60


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
