"""Reading YAML that a stranger wrote: plain data and line numbers, nothing executed.

In goes the path of a study, out comes a :class:`Document`. Tags, anchors, aliases, duplicate
keys, deep nesting and more than one document are refused before any value is built, so a
small file can neither run code nor grow in memory.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from pipeline.text.errors import Fault, StudyError

LARGEST_STUDY = 256 * 1024
DEEPEST = 12

KeyPath = tuple[str | int, ...]
_Loader = type[yaml.SafeLoader] | type[yaml.CSafeLoader]
# PyYAML that somebody has built without libyaml has only the parser in Python.
_FAST: _Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

# Digits are those of ASCII: what another script writes is no number here.
_INTEGER = re.compile(r"[+-]?(?:0|[1-9]\d{0,17})", re.ASCII)
_FLOAT = re.compile(
    r"[+-]?(?:\d{1,18}\.\d*|\.\d+)(?:[eE][+-]?\d{1,3})?|[+-]?\.(?:inf|nan)", re.I | re.ASCII
)
_ODD_LINE_END = re.compile("[\\x85\\u2028\\u2029]")
_PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]+")
_LONGEST_KEY = 60
_STRING_TAG = "tag:yaml.org,2002:str"
_NULL_TAG = "tag:yaml.org,2002:null"


@dataclass(frozen=True)
class Document:
    """Content of a YAML file: plain data, and the line of every key and list item.

    ``faults`` are keys that are there twice or are none; the data are without them.
    """

    name: str
    data: dict[str, Any]
    lines: dict[KeyPath, int]
    faults: tuple[Fault, ...] = ()

    def line(self, path: KeyPath) -> int:
        """Line of a key, or of the nearest enclosing one if the key is not there."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def place(self, path: KeyPath) -> str:
        """File, line and dotted key as messages show them."""
        return f"{self.name}:{self.line(path)}  {dotted(path)}".rstrip()

    def numbered(self) -> dict[str, int]:
        """Line of every key as messages write it; entries with an id are found by that as well."""
        found = {dotted(path): line for path, line in self.lines.items() if path}
        for path, line in self.lines.items():
            if path and isinstance(path[-1], int):
                name = self.value((*path, "id"))
                if isinstance(name, str):
                    found[dotted((*path[:-1], name))] = line
        return found

    def value(self, path: KeyPath) -> Any:
        """Value at a key; ``None`` if it is not there."""
        found: Any = self.data
        for step in path:
            if isinstance(found, dict) or (isinstance(found, list) and isinstance(step, int)):
                try:
                    found = found[step]  # type: ignore[index]
                except (KeyError, IndexError):
                    return None
            else:
                return None
        return found

    def words(self) -> Iterator[str]:
        """Every text among the values, cut at its commas; keys and titles are none."""
        yield from (
            word for key, value in self.data.items() if key != "title" for word in _words(value)
        )


def _words(value: Any) -> Iterator[str]:
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _words(inner)
    elif isinstance(value, str):
        yield from (word.strip() for word in value.split(","))


def dotted(path: KeyPath) -> str:
    """Text of a key path.

    Examples
    --------
    >>> dotted(("cable", "route", 1, "down_to"))
    'cable.route[1].down_to'
    >>> dotted(("line_prices", "10.3 mm foam"))
    'line_prices."10.3 mm foam"'
    """
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{_shown_key(step)}"
    return text.removeprefix(".")


def _shown_key(key: str) -> str:
    """A key as it stands, or in quotes where it could be taken for something else."""
    if len(key) > _LONGEST_KEY:
        key = f"{key[:_LONGEST_KEY]}..."
    return key if _PLAIN_KEY.fullmatch(key) else json.dumps(key, ensure_ascii=False)


def read_text(path: Path, largest: int, place: str) -> str:
    """Text of a regular file of UTF-8 of at most so many bytes, without a byte-order mark.

    ``place`` is how messages name the file.
    """
    try:
        # A fifo or device is turned away before it is opened: opening one could wait for ever.
        if not path.is_file():
            raise _file_fault(place, *_why_no_file(path))
        size = path.stat().st_size
        if size > largest:
            raise _too_large(place, largest)
        with path.open("rb") as file:
            content = file.read(largest + 1)
    except OSError as error:
        raise _file_fault(
            place, f"cannot be read: {error.strerror}", "check its name and rights", "unreadable"
        ) from error
    if len(content) > largest:
        raise _too_large(place, largest)
    if not content.strip():
        raise _file_fault(place, "is empty", "start from a copy of minimal.yaml", "empty")
    return _decoded(content, place)


def read_yaml(path: Path) -> Document:
    """Plain data of a study file of at most 256 KiB, with the line number of every key.

    Notes
    -----
    Words that YAML 1.1 turns into something else (``yes``, ``on``, ``12:30``, ``010``, dates)
    stay text: only ``true``, ``false``, plain decimal numbers and nothing at all are special.
    """
    # "." has no name of its own.
    name = path.name or str(path)
    text = read_text(path, LARGEST_STUDY, name)
    _check_lines(text, name)
    try:
        root = _composed(text, name)
    except yaml.MarkedYAMLError as error:
        raise _syntax_error(error, name) from error
    except yaml.reader.ReaderError as error:
        raise _not_text(name) from error
    if root is None:
        raise _file_fault(
            name, "holds nothing but comments", "start from a copy of minimal.yaml", "empty"
        )
    if not isinstance(root, yaml.MappingNode):
        raise StudyError(
            Fault(
                f"{name}:{_line(root.start_mark)}",
                "",
                "is not a set of keys and values at its top level",
                "begin with lines like  frequency: 145 MHz",
                "yaml-top",
            )
        )
    lines: dict[KeyPath, int] = {(): 1}
    faults: list[Fault] = []
    data = _plain(root, (), lines, faults, name)
    return Document(name, data, lines, tuple(faults))


def _composed(text: str, name: str) -> yaml.Node | None:
    """Nodes of a text without dangerous features, by the parser in C, twenty times as fast.

    What it refuses goes through the one in Python, whose words and places messages are made of.
    """
    try:
        _check_events(text, name, _FAST)
        root = yaml.compose(text, Loader=_FAST)
    except yaml.YAMLError:
        _check_events(text, name, yaml.SafeLoader)
        root = yaml.compose(text, Loader=yaml.SafeLoader)
    return root


def _why_no_file(path: Path) -> tuple[str, str, str]:
    if not path.exists():
        return "does not exist", "check the spelling of the path", "missing"
    what = "a folder" if path.is_dir() else "a device or pipe"
    return f"is {what}, not a file", "name a study file such as orchard_shed.yaml", "not-regular"


def _file_fault(place: str, rule: str, remedy: str, tag: str) -> StudyError:
    return StudyError(Fault(place, "", rule, remedy, f"file-{tag}"))


def _too_large(place: str, largest: int) -> StudyError:
    return _file_fault(
        place,
        f"is larger than the allowed {largest // 1024} KiB",
        "name the right file, or leave out what does not belong in it",
        "too-large",
    )


def _not_text(place: str) -> StudyError:
    return _file_fault(place, "is not UTF-8 text", "save it as plain text in UTF-8", "not-text")


def _decoded(content: bytes, place: str) -> str:
    if b"\0" in content:
        raise _not_text(place)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _not_text(place) from error


def _check_lines(text: str, name: str) -> None:
    """Refuse what ends a line for YAML and for no editor: the lines of messages would be wrong."""
    found = _ODD_LINE_END.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        rule = f"holds U+{ord(found[0]):04X}, a line separator that editors do not show"
        raise _feature(name, line, rule, "delete it, and write this line again")


def _check_events(text: str, name: str, loader: _Loader) -> None:
    """Refuse dangerous features while the parser still reads event by event, without recursion."""
    depth = 0
    documents = 0
    for event in yaml.parse(text, Loader=loader):
        line = _line(event.start_mark)
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise _feature(name, line, "starts a second document", "keep one study per file")
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None) is not None:
            raise _feature(
                name, line, "uses a YAML anchor or alias (& or *)", "write the value out in full"
            )
        if getattr(event, "tag", None) is not None:
            raise _feature(name, line, "uses a YAML tag (!)", "write plain text, without the tag")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > DEEPEST:
                raise _feature(
                    name, line, f"is nested deeper than {DEEPEST} levels", "flatten the lists"
                )
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1


def _line(mark: Any) -> int:
    """Line of a parser's mark, counted from one."""
    return int(mark.line) + 1


def _feature(name: str, line: int, rule: str, remedy: str) -> StudyError:
    return StudyError(Fault(f"{name}:{line}", "", rule, remedy, "yaml-feature"))


def _syntax_error(error: yaml.MarkedYAMLError, name: str) -> StudyError:
    mark = error.problem_mark or error.context_mark
    place = f"{name}:{mark.line + 1}:{mark.column + 1}" if mark else name
    remedy = "check the indentation, the space after each colon, and quotes around odd text"
    if "\\t" in (error.problem or ""):
        remedy = "indent with spaces; YAML does not allow tabs"
    return StudyError(
        Fault(place, "", f"is not valid YAML: {error.problem}", remedy, "yaml-syntax")
    )


def _plain(
    node: yaml.Node, path: KeyPath, lines: dict[KeyPath, int], faults: list[Fault], name: str
) -> Any:
    """Plain data of a node; the depth is limited, so recursion is safe."""
    if isinstance(node, yaml.SequenceNode):
        items = []
        for index, item in enumerate(node.value):
            lines[(*path, index)] = _line(item.start_mark)
            items.append(_plain(item, (*path, index), lines, faults, name))
        return items
    if not isinstance(node, yaml.MappingNode):
        return _scalar(node)
    found: dict[str, Any] = {}
    for key_node, value_node in node.value:
        line = _line(key_node.start_mark)
        if not isinstance(key_node, yaml.ScalarNode):
            faults.append(_key_fault(name, line, path, "has a list or mapping as a key", "form"))
            continue
        key = str(key_node.value)
        if key in found:
            first = lines[(*path, key)]
            rule = f"is given twice in the same place, first on line {first}"
            faults.append(_key_fault(name, line, (*path, key), rule, "duplicate"))
            continue
        lines[(*path, key)] = line
        found[key] = _plain(value_node, (*path, key), lines, faults, name)
    return found


def _key_fault(name: str, line: int, path: KeyPath, rule: str, tag: str) -> Fault:
    remedy = "keep one of the two lines" if tag == "duplicate" else "use a plain word as the key"
    return Fault(f"{name}:{line}  {dotted(path)}".rstrip(), "", rule, remedy, f"key-{tag}")


def _scalar(node: yaml.Node) -> str | int | float | bool | None:
    """Value of a scalar; quoted text and odd YAML 1.1 words stay text."""
    text = str(node.value)
    if node.tag == _STRING_TAG:
        return text
    if node.tag == _NULL_TAG:
        return None
    if text in ("true", "false"):
        return text == "true"
    if _INTEGER.fullmatch(text):
        return int(text)
    if _FLOAT.fullmatch(text):
        return float(text.replace(".inf", "inf").replace(".nan", "nan").replace(".NaN", "nan"))
    return text
