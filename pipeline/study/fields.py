"""Kinds of values a study may hold: how each is read, shown and described in the JSON Schema.

Every reader takes what the file says and gives an SI value, a catalogue record or plain text,
or raises :class:`FieldError`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pydantic_core import CoreSchema, core_schema

from models.catalogues.names import AmbiguousName
from models.catalogues.parts import UnknownName, coax_class, ferrite_core, pipe
from models.catalogues.records import NO_PARTS, OwnParts
from models.quantities import Choice, Quantity
from pipeline.study.faults import nearest
from pipeline.text.refusals import FieldError, each, refuse_foreign_digits, refuse_unprintable
from pipeline.text.units import (
    FAMILIES,
    SCHEMA_PATTERN,
    SCHEMA_PATTERN_COMPLEX,
    SCHEMA_PATTERN_LENGTH,
    in_units_of_reader,
    read_impedance,
    read_quantity,
    show_impedance,
    show_quantity,
)

ALWAYS_ADDED = ("none", "ideal", "no-feedline")
# The case that an antenna is tuned in, where the study names none: what the study takes.
RECOMMENDED = "recommended"
LONGEST_LIST = 50
HIGHEST_IMPEDANCE = 1e5

_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_LONGEST_ID = 40


@dataclass(frozen=True)
class Context:
    """Knowledge that readers need beside the value.

    The free-space wavelength [m], the study's folder, the currency of its first price (empty
    where it has none), its own parts, and the jacket [m] of its cable once that is read.
    """

    wavelength: float
    folder: Path
    currency: str = ""
    own: OwnParts = NO_PARTS
    jacket_diameter: float = 0.0


@dataclass(frozen=True, eq=False)
class FieldKind:
    """Reader of one kind of value, an example, its JSON Schema, and its text for people.

    ``limits`` is the range of a number; ``inside`` gives the section of a set of keys that the
    value may be. A schema that is long to make is a function: to read a study takes none.
    """

    read: Callable[[Any, Context], Any]
    example: str
    schema: dict[str, Any] | Callable[[], dict[str, Any]]
    show: Callable[[Any], str] = str
    limits: Quantity | None = None
    inside: Callable[[Any], Any] | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Have a field with this marker read by it."""
        return core_schema.with_info_plain_validator_function(
            lambda raw, info: self.read(raw, info.context)
        )

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: Any) -> dict[str, Any]:
        """Have a field with this marker described by it."""
        return self.described()

    def described(self) -> dict[str, Any]:
        """JSON Schema of the value."""
        return dict(self.schema() if callable(self.schema) else self.schema)


def quantity(q: Quantity) -> FieldKind:
    """Kind of a number with a unit inside a range; a plain number where the unit is "1"."""

    def read(raw: Any, context: Context) -> float:
        return _in_range(_number(raw, q, context), q)

    schema: dict[str, Any] = {"description": f"{q.meaning}; {allowed(q)}"}
    if q.unit == "1":
        schema |= {"type": "number", "minimum": q.low, "maximum": q.high}
    else:
        pattern = SCHEMA_PATTERN_LENGTH if q.unit == "m" else SCHEMA_PATTERN
        schema |= {"type": "string", "pattern": pattern, "examples": [q.example]}
    return FieldKind(read, q.example, schema, lambda value: show_quantity(value, q.unit), q)


def whole(q: Quantity, odd: bool = False) -> FieldKind:
    """Kind of a whole number inside a range, odd if it must be."""

    def read(raw: Any, context: Context) -> int:
        del context
        if raw is None:
            raise FieldError("is empty", f'write "{q.example}"', "value-empty")
        if isinstance(raw, str):
            refuse_foreign_digits(raw)
        if isinstance(raw, bool) or not isinstance(raw, int):
            raise FieldError(
                "is not a whole number", f"write a plain number like {q.example}", "number-form"
            )
        _in_range(raw, q)
        if odd and raw % 2 == 0:
            raise FieldError(
                "is even; an odd number puts one point in the middle",
                f"write {raw + 1 if raw < q.high else raw - 1}",
                "number-odd",
            )
        return raw

    bounds = {"minimum": int(q.low), "maximum": int(q.high)}
    schema = {"type": "integer", "description": q.meaning, "examples": [int(q.example)], **bounds}
    return FieldKind(read, q.example, schema, limits=q)


def one_or_list(kind: FieldKind) -> FieldKind:
    """Kind of a value, or of a list of values that are all tried; a list becomes a tuple."""

    def read(raw: Any, context: Context) -> Any:
        if not isinstance(raw, list):
            return kind.read(raw, context)
        if not 1 <= len(raw) <= LONGEST_LIST:
            raise FieldError(
                f"is a list of {len(raw)} entries; 1 to {LONGEST_LIST} are allowed",
                in_units_of_reader(f"[{kind.example}]"),
                "list-length",
            )
        values = each((k, partial(kind.read, item, context)) for k, item in enumerate(raw))
        for index, value in enumerate(values):
            if value in values[:index]:
                raise FieldError(
                    "is in the list twice", "leave one of them out", "list-repeats", (index,)
                )
        return tuple(values)

    one = kind.described()
    listed = {"type": "array", "items": one, "minItems": 1, "maxItems": LONGEST_LIST}
    return FieldKind(read, kind.example, {"anyOf": [one, listed]}, kind.show)


def impedance(meaning: str, example: str, may_be_open: bool = False) -> FieldKind:
    """Kind of a passive impedance; "open" reads as ``None`` where it is allowed."""

    def read(raw: Any, context: Context) -> complex | None:
        del context
        if may_be_open and raw == "open":
            return None
        try:
            value = read_impedance(raw, example)
        except FieldError as error:
            either = ", or open" if may_be_open else ""
            raise FieldError(error.rule, error.remedy + either, error.tag) from error
        if value.real < 0 or max(abs(value.real), abs(value.imag)) > HIGHEST_IMPEDANCE:
            raise FieldError(
                "is outside the allowed 0 ohm to 100000 ohm (reactance either way)",
                f'write it like "{example}"',
                "impedance-range",
            )
        return value

    schema: dict[str, Any] = {
        "type": "string",
        "pattern": SCHEMA_PATTERN_COMPLEX,
        "examples": [example],
    }
    if may_be_open:
        schema = {"anyOf": [schema, {"const": "open"}]}
    schema["description"] = meaning
    return FieldKind(read, example, schema, lambda z: "open" if z is None else show_impedance(z))


def named(find: Callable[[str, Context], Any], meaning: str, example: str, parts: str) -> FieldKind:
    """Kind of a catalogue entry, given by its id or name; ``parts`` is what lists them all."""

    def read(raw: Any, context: Context) -> Any:
        # "28" of a pipe has a nearest name, though YAML takes it for a number.
        name = plain_text(as_text(raw), 80, example)
        try:
            return find(name, context)
        except UnknownName as error:
            several = isinstance(error, AmbiguousName)
            tag = "name-ambiguous" if several else "name-unknown"
            every = "" if error.nearest else f"; braidwise catalogue {parts} lists all"
            raise FieldError(error.rule, f"{error.remedy}{every}", tag) from error

    schema = {"type": "string", "description": meaning, "examples": [example]}
    return FieldKind(read, example, schema, lambda item: str(item.name))


A_PIPE = named(
    lambda name, known: pipe(name, known.own),
    "id or name in pipes.csv, or of your own",
    "22x1 mm",
    "pipes",
)
A_COAX = named(
    lambda name, known: coax_class(name, known.own),
    "id or name in coax.csv, or of your own",
    "10.3 mm foam low-loss",
    "cables",
)
A_CORE = named(
    lambda name, known: ferrite_core(name, known.own, known.jacket_diameter),
    "id or name in ferrites.csv, or of your own",
    "mix-43-clamp-12-7",
    "cores",
)


def text(meaning: str, example: str, longest: int) -> FieldKind:
    """Kind of one line of free text."""

    def read(raw: Any, context: Context) -> str:
        del context
        return plain_text(raw, longest, example)

    schema = {"type": "string", "description": meaning, "maxLength": longest}
    return FieldKind(read, example, {**schema, "examples": [example]})


def identifier(meaning: str, example: str) -> FieldKind:
    """Kind of a short name made of lower-case letters, digits and hyphens."""

    def read(raw: Any, context: Context) -> str:
        del context
        name = plain_text(raw, _LONGEST_ID, example)
        if not is_id(name):
            raise FieldError(
                "is not made of lower-case letters, digits and single hyphens",
                f"write it like {example}",
                "id-form",
            )
        if name in (*ALWAYS_ADDED, RECOMMENDED):
            raise FieldError(
                "is a name that every study has already",
                f"choose another one, for example {name}-2",
                "id-reserved",
            )
        return name

    schema = {"type": "string", "pattern": f"^{_ID.pattern}$", "maxLength": _LONGEST_ID}
    return FieldKind(read, example, {**schema, "description": meaning, "examples": [example]})


def is_id(name: Any) -> bool:
    """Whether a value is made like the short name of a candidate.

    Examples
    --------
    >>> is_id("coil-9"), is_id("Coil 9"), is_id(9)
    (True, False, False)
    """
    return isinstance(name, str) and len(name) <= _LONGEST_ID and _ID.fullmatch(name) is not None


def one_of(choice: Choice) -> FieldKind:
    """Kind of a word out of a few."""

    def read(raw: Any, context: Context) -> str:
        del context
        if isinstance(raw, str) and raw in choice.words:
            return raw
        meant = {True: "yes", False: "no"}[raw] if isinstance(raw, bool) else str(raw)
        near = nearest(meant, choice.words) or choice.words[0]
        raise FieldError(f"is not one of: {', '.join(choice.words)}", near, "choice-unknown")

    schema = {"enum": list(choice.words), "description": choice.meaning}
    return FieldKind(read, choice.words[0], schema)


def plain_text(raw: Any, longest: int, example: str) -> str:
    """One stripped, printable line of text of at most so many characters."""
    if raw is None:
        raise FieldError("is empty", f"write it like {example}", "value-empty")
    if isinstance(raw, bool | int | float):
        read_as = "true or false" if isinstance(raw, bool) else "a number"
        quoted = json.dumps(as_text(raw))
        rule = f"is read as {read_as}, and text is wanted"
        raise FieldError(rule, f"put it in quotes, {quoted}, or write {example}", "text-form")
    if not isinstance(raw, str):
        shape = "a list" if isinstance(raw, list) else "a set of keys and values"
        rule = f"is {shape}, and one line of text is wanted"
        raise FieldError(rule, f"write it like {example}", "text-form")
    line = raw.strip()
    refuse_unprintable(line)
    if not line or len(line) > longest:
        raise FieldError(
            f"is not one line of 1 to {longest} characters",
            f"write it like {example}",
            "text-form",
        )
    return line


def as_text(raw: Any) -> Any:
    """A value as text where YAML took it for a number or for true or false.

    Examples
    --------
    >>> as_text(28), as_text(True), as_text("28x1 mm"), as_text(None)
    ('28', 'true', '28x1 mm', None)
    """
    return str(raw).lower() if isinstance(raw, bool | int | float) else raw


def allowed(q: Quantity) -> str:
    """Range of a quantity in words.

    Examples
    --------
    >>> allowed(Quantity("m", 0.025, 0.5, "spacing", "55 mm"))
    'allowed 25 mm to 0.5 m'
    """
    low, high = show_quantity(q.low, q.unit, "up"), show_quantity(q.high, q.unit, "down")
    return f"allowed {low} to {high}"


def _number(raw: Any, q: Quantity, context: Context) -> float:
    if q.unit != "1":
        return read_quantity(raw, q.unit, q.example, context.wavelength)
    if isinstance(raw, str):
        refuse_foreign_digits(raw)
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise FieldError(
            "is not a plain finite number", f"write it like {q.example}", "number-form"
        )
    return float(raw)


def _in_range(value: float, q: Quantity) -> float:
    # A limit that was written in another unit may come out a rounding error off.
    slack = 1e-12 * max(abs(q.low), abs(q.high))
    if q.low - slack <= value <= q.high + slack:
        return value
    side = "below" if value < q.low else "above"
    kind = FAMILIES[q.unit].name if q.unit in FAMILIES else "number"
    example = in_units_of_reader(q.example)
    raise FieldError(f"is {side} the {allowed(q)}", f"write it like {example}", f"{kind}-range")
