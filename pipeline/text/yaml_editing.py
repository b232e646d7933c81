"""Changes a few values of a YAML text and leaves every other letter as it is.

Comments, order and spelling of a study stay its owner's. Where a value cannot be set by replacing
one word or adding one line, it is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import yaml


def yaml_text(data: Mapping[str, Any]) -> str:
    """YAML text of plain data, in the order in which they stand.

    Examples
    --------
    >>> print(yaml_text({"site": {"height": "8 m", "mount": "no"}}), end="")
    site:
      height: 8 m
      mount: 'no'
    """
    return yaml.safe_dump(dict(data), sort_keys=False, allow_unicode=True)


def with_values(text: str, section: str, values: Mapping[str, str]) -> str:
    """A YAML text with some keys of one section set, replaced where they are, else added.

    A ValueError says that the section is not there, is empty, or holds one of the keys in another
    form than a word on one line.

    Examples
    --------
    >>> print(with_values("a:\\n  x: 1 # one\\n  z: 3\\n", "a", {"x": "2", "y": "5"}))
    a:
      x: 2 # one
      z: 3
      y: 5
    <BLANKLINE>
    >>> with_values("a: {x: 1}", "a", {"y": "5"})
    'a: {x: 1, y: 5}'
    """
    node = _section(text, section)
    words = {key.value: value for key, value in node.value if _is_word(value)}
    held = {key.value for key, _ in node.value}
    if not words:
        raise ValueError(f"the section {section} has no value on a line of its own")
    edits: list[tuple[int, int, str]] = []
    for key, wanted in values.items():
        if key in words:
            old = words[key]
            edits.append((old.start_mark.index, old.end_mark.index, wanted))
        elif key in held:
            raise ValueError(f"{section}.{key} is not a word on one line")
    added = [f"{key}: {wanted}" for key, wanted in values.items() if key not in held]
    if added:
        edits.append(_addition(text, node, list(words.values())[-1], added))
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


def _section(text: str, section: str) -> yaml.MappingNode:
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    pairs = root.value if isinstance(root, yaml.MappingNode) else []
    for key, value in pairs:
        if key.value == section and isinstance(value, yaml.MappingNode):
            return value
    raise ValueError(f"the text has no section {section}")


def _is_word(node: yaml.Node) -> bool:
    """Whether a node is a scalar on one line, quoted or not."""
    block = isinstance(node, yaml.ScalarNode) and node.style in ("|", ">")
    return (
        isinstance(node, yaml.ScalarNode)
        and not block
        and bool(node.start_mark.line == node.end_mark.line)
    )


def _addition(
    text: str, node: yaml.MappingNode, after: yaml.Node, added: list[str]
) -> tuple[int, int, str]:
    """Edit that adds keys: behind the last word in braces, else on lines below it."""
    if node.flow_style:
        at = after.end_mark.index
        return at, at, "".join(f", {line}" for line in added)
    indent = " " * node.value[0][0].start_mark.column
    at = text.find("\n", after.end_mark.index)
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = newline.join(indent + line for line in added)
    if at < 0:
        return len(text), len(text), newline + lines
    return at + 1, at + 1, lines + newline
