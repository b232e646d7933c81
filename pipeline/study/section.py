"""Sections of a study file: one frozen record with markers on its fields is all that one needs.

From the record follow the reader of the section, its messages, the sentences about values left out
and its part of the JSON Schema. The part of the study reader that knows pydantic.
"""

from __future__ import annotations

import difflib
import inspect
import pkgutil
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass, replace
from functools import cache
from importlib import import_module
from types import NoneType, UnionType
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    ClassVar,
    Literal,
    Protocol,
    TypeVar,
    get_args,
    get_origin,
    get_type_hints,
    runtime_checkable,
)

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    create_model,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from models.quantities import (
    Choice,
    Derived,
    FileBeside,
    Key,
    KeyGroup,
    Listed,
    Part,
    Quantity,
    Several,
)
from pipeline.chokes.table_file import table_path
from pipeline.study import fields as kinds
from pipeline.study.faults import nearest
from pipeline.study.fields import Context, FieldKind
from pipeline.text.refusals import FieldError

if TYPE_CHECKING:
    from pipeline.study.sections_read import Parts

# Alike enough to be one letter off.
_SURE = 0.8
# Packages whose modules hold sections; each module registers its own.
ROOMS = ("pipeline.study.sections",)

T = TypeVar("T")
SectionT = TypeVar("SectionT", bound="Section")


@runtime_checkable
class Completed(Protocol):
    """A record that depends on which of its keys the file has."""

    def as_read(self, given: frozenset[str], stated: Sequence[str]) -> Any:
        """The record to go on with.

        ``given`` are the keys in the file, ``stated`` a sentence for each value left out.
        """


@runtime_checkable
class Checked(Protocol):
    """A record with rules beyond the range of each value."""

    def check(self, parts: Parts) -> list[FieldError]:
        """Complaints about it, beside the rest of the study."""


@dataclass(frozen=True)
class Registered:
    """A section of the study file: its record, and how a study goes on without it."""

    record: type
    required: bool
    states_defaults: bool


_REGISTERED: dict[str, Registered] = {}


def study_section(
    key: str, required: bool = False, states_defaults: bool = True
) -> Callable[[type[T]], type[T]]:
    """Register a record as the section of the study file below a key.

    Parameters
    ----------
    key : str
        Key at the top of the file.
    required : bool
        Whether every study needs it. One left out is the record of all defaults, or ``None``
        where one of its own keys is needed.
    states_defaults : bool
        Whether a report names the values that the file leaves out.
    """

    def register(record: type[T]) -> type[T]:
        _REGISTERED[key] = Registered(record, required, states_defaults)
        return record

    return register


@cache
def registered() -> Mapping[str, Registered]:
    """Sections by key, those of all modules in :data:`ROOMS`."""
    for room in ROOMS:
        for module in pkgutil.iter_modules(import_module(room).__path__):
            import_module(f"{room}.{module.name}")
    return dict(_REGISTERED)


class UnknownKindError(FieldError):
    """A type or kind that is none; ``meant`` is the one it can only stand for, if there is one."""

    def __init__(self, rule: str, remedy: str, key: str, meant: str) -> None:
        super().__init__(rule, remedy, "name-unknown", (key,))
        self.meant = meant


class Section(BaseModel):
    """Keys of the study file as pydantic checks them; ``derived`` is said of a key left out."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    derived: ClassVar[Mapping[str, str]] = {}
    made_of: ClassVar[type] = object

    def record(self) -> Any:
        """Frozen record of what was read."""
        read = {name: _plain(getattr(self, name)) for name in self.model_fields_set}
        made = self.made_of(**read)
        if not isinstance(made, Completed):
            return made
        names = {name: info.alias or name for name, info in type(self).model_fields.items()}
        return made.as_read(frozenset(names[name] for name in read), self.stated_defaults())

    @classmethod
    def kind_of(cls, key: str) -> FieldKind | None:
        """Kind of a field, if it has one."""
        markers = (m for m in cls.model_fields[key].metadata if isinstance(m, FieldKind))
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

    def stated_defaults(self, at: str = "") -> list[str]:
        """One sentence for every value the file left out; ``at`` is put before each."""
        sentences, inner = [], []
        for name, info in type(self).model_fields.items():
            value, kind, key = getattr(self, name), self.kind_of(name), info.alias or name
            if name in self.model_fields_set or info.is_required():
                listed = isinstance(value, list)
                for k, entry in enumerate(value if listed else [value]):
                    if isinstance(entry, Section):
                        here = f"{at}{key}[{k}]." if listed else f"{at}{key}."
                        inner += entry.stated_defaults(here)
            elif name in self.derived:
                sentences.append(f"{at}{key}: {self.derived[name]}")
            elif not _says_nothing(value) and value != [] and not isinstance(value, Section):
                sentences.append(f"{at}{key}: {kind.show(value) if kind else value}")
        return sentences + inner


def _plain(value: Any) -> Any:
    """Frozen records in place of sections, tuples in place of lists."""
    if isinstance(value, list):
        return tuple(_plain(entry) for entry in value)
    return value.record() if isinstance(value, Section) and value.made_of is not object else value


@cache
def section_of(record: type, base: type[Section] = Section) -> type[Section]:
    """Section of a record whose fields are marked; a field without a marker is no key.

    Markers are those of ``models.quantities``, or a kind of value; a field of another such record
    is a section in this one. The docstring is what an editor shows.
    """
    hints = get_type_hints(record, include_extras=True)
    keys = {f.name: _key(hints[f.name], f) for f in fields(record)}
    made: dict[str, Any] = {name: key for name, key in keys.items() if key is not None}
    title = getattr(record, "schema_title", f"{record.__name__}Section")
    section = create_model(title, __base__=base, __doc__=inspect.getdoc(record), **made)
    section.made_of = record
    marked = {name: _marker(hints[name], Derived) for name in made}
    section.derived = {name: mark.text for name, mark in marked.items() if mark}
    return section


def _marker(hint: Any, wanted: type[T]) -> T | None:
    marks = getattr(hint, "__metadata__", ())
    return next((m for m in marks if isinstance(m, wanted)), None)


_PARTS = {"pipe": kinds.A_PIPE, "cable": kinds.A_COAX, "core": kinds.A_CORE}


def kind_of_marker(hint: Any) -> FieldKind | None:
    """Kind of a field from the markers on its annotation; ``None`` for what is no key."""
    whole = get_origin(hint) is Annotated and hint.__origin__ is int
    kind: FieldKind | None = None
    for mark in getattr(hint, "__metadata__", ()):
        match mark:
            case FieldKind():
                kind = mark
            case Choice():
                kind = kinds.one_of(mark)
            case Quantity():
                kind = kinds.whole(mark) if whole else kinds.quantity(mark)
            case Part():
                kind = _PARTS[mark.of]
            case FileBeside():
                kind = file_beside(mark)
            case KeyGroup():
                kind = group(mark.of)
            case Several() if kind is not None:
                kind = kinds.one_or_list(kind)
    return kind


def file_beside(marker: FileBeside, make: Callable[[str, Any], Any] | None = None) -> FieldKind:
    """Kind of a file in the study's folder: the pair of its name and content, or what is made."""

    def read(raw: Any, context: Context) -> Any:
        found = str(raw), marker.read(table_path(raw, context.folder))
        return found if make is None else make(*found)

    schema = {"type": "string", "description": marker.meaning, "examples": [marker.example]}
    return FieldKind(read, marker.example, schema, lambda found: str(found[0]))


def group(record: type) -> FieldKind:
    """Kind of a set of keys; its schema stands in the place where it is used."""
    section = section_of(record)

    def read(raw: Any, context: Context) -> Any:
        return section.model_validate(raw, context=context).record()

    return FieldKind(read, "", section.model_json_schema, inside=lambda _: section)


def _key(hint: Any, field: Any) -> tuple[Any, Any] | None:
    """Annotation and default of one field, as the validation library wants them."""
    kind, listed = kind_of_marker(hint), _marker(hint, Listed)
    key = _marker(hint, Key) or Key()
    options: dict[str, Any] = {"alias": key.name or None}
    plain = hint.__origin__ if get_origin(hint) is Annotated else hint
    types = (get_args(plain) or (plain,)) if listed or isinstance(plain, UnionType) else (plain,)
    inner = next((t for t in types if is_section(t)), None)
    if kind is None and inner is None:
        return None
    entry: Any = section_of(inner) if kind is None else Annotated[Any, kind]
    group_of = _marker(hint, KeyGroup)
    if listed:
        options |= {"min_length": listed.least or None, "max_length": listed.most}
        if field.default is not MISSING:
            options["default_factory"] = list
        return list[entry], Field(**options)
    if kind is not None:
        entry = Annotated[plain, kind]
    elif NoneType in types:
        entry |= None
    if group_of is not None:
        options["default_factory"] = group_of.of
    elif _marker(hint, Derived) or key.filled_in or _says_nothing(field.default):
        options["default"] = None
        if kind is None and field.default is not None:
            options = {"alias": options["alias"], "default_factory": section_of(inner)}
    elif field.default is not MISSING:
        options["default"] = field.default
    return entry, Field(**options)


def _says_nothing(default: Any) -> bool:
    """Whether a default is an empty text, list or section, of which there is nothing to say."""
    if is_section(type(default)):
        return all(f.default is not MISSING for f in fields(default))
    return default is None or default in ("", ())


def is_section(record: Any) -> bool:
    """Whether a class is a record with at least one marked field."""
    if not (isinstance(record, type) and is_dataclass(record)):
        return False
    hints = get_type_hints(record, include_extras=True).values()
    return any(
        kind_of_marker(hint) is not None or any(map(is_section, (hint, *get_args(hint))))
        for hint in hints
    )


def words_or(
    record: type[T],
    words: FieldKind,
    make: Callable[[T], Any] = lambda made: made,
) -> FieldKind:
    """Kind of a value that is a word or the like, or the keys of a record to make it of."""
    section: type[Section] = section_of(record)  # type: ignore[arg-type]

    def read(raw: Any, context: Context) -> Any:
        if not isinstance(raw, dict):
            return words.read(raw, context)
        return make(section.model_validate(raw, context=context).record())

    def schema() -> dict[str, Any]:
        return {"anyOf": [words.described(), section.model_json_schema()]}

    return replace(words, read=read, schema=schema, inside=lambda _: section)


def _example_of(annotation: Any) -> str:
    """A section as short as it may be; empty for what is none."""
    if not (isinstance(annotation, type) and issubclass(annotation, Section)):
        return ""
    examples, fields = annotation.examples(), annotation.model_fields.items()
    needed = [info.alias or key for key, info in fields if info.is_required()]
    return f"{{{', '.join(f'{key}: {examples[key]}' for key in needed)}}}"


def pick(raw: Any, key: str, known: Collection[str]) -> str:
    """Word of a mapping's own key (type or kind), one of those that are known."""
    if not isinstance(raw, dict):
        raise FieldError("is not a set of keys and values", f"{key}: ...", "value-kind")
    name = raw.get(key)
    if isinstance(name, str) and name in known:
        return name
    offered = ", ".join(known)
    if name is None:
        rule = f"has no {key}, so it is not known what it is"
        at = (key,) if key in raw else ()
        raise FieldError(rule, f"{key}: one of {offered}", "key-missing", at)
    near = nearest(str(name), known)
    rule, remedy = f"is not one of: {offered}", f"{key}: {near or f'one of {offered}'}"
    sure = difflib.get_close_matches(str(name), known, n=1, cutoff=_SURE)
    raise UnknownKindError(rule, remedy, key, sure[0] if sure else "")


def picked(
    key: str,
    known: Callable[[], Collection[str]],
    section: Callable[[str], type[Section]],
    example: str = "",
) -> FieldKind:
    """Kind of a set of keys, one of which (type or kind) says what the others are.

    ``known`` gives the words of that key, ``section`` makes the section of one.
    """

    def read(raw: Any, context: Context) -> Section:
        return section(pick(raw, key, known())).model_validate(raw, context=context)

    def schema() -> dict[str, Any]:
        return {"oneOf": [section(name).model_json_schema() for name in known()]}

    def inside(raw: Any) -> type[Section] | None:
        name = str(raw.get(key))
        return section(name) if name in known() else None

    return FieldKind(read, example, schema, inside=inside)


def named_section(
    record: Any, base: type[SectionT], word: tuple[str, str], **more: Any
) -> type[SectionT]:
    """Section of a record that is picked by a key with a word.

    ``more`` are other keys of it, or its title and docstring as :func:`create_model` takes them.
    """
    keys: type[SectionT] = section_of(record, base)  # type: ignore[assignment]
    key, name = word
    own: dict[str, Any] = {"__doc__": None, key: (Literal[name], ...), **more}
    made: type[SectionT] = create_model(own.pop("title", keys.__name__), __base__=keys, **own)
    return made
