"""A fault as a reader is told of it: place, value, the rule it breaks, the remedy.

What finds one knows a key of the study; file and line are added where the file is known.
"""

from __future__ import annotations

from dataclasses import dataclass


def visible(text: str) -> str:
    """Text for one line of a terminal: what does not print as itself is written as an escape.

    Control characters would move the cursor or colour the screen, line separators break the
    form of a message, and marks of direction show a text backwards.

    Examples
    --------
    >>> print(visible("a" + chr(27) + "[31m" + chr(0x202E) + "b"))
    a\\x1b[31m\\u202eb
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


@dataclass(frozen=True)
class Fault:
    """One thing wrong: where, what was given, what is allowed, what to do.

    ``place`` is a key of the study; once the file is known, file and line before it.
    """

    place: str
    value: str
    rule: str
    remedy: str
    tag: str

    def text(self) -> str:
        """Four-part message for a reader, in three lines whatever its parts hold."""
        head = f"{self.place} = {self.value}" if self.value else self.place
        lines = (f"{head}  [{self.tag}]", f"    {self.rule}", f"    Try: {self.remedy}")
        return "\n".join(visible(line) for line in lines)
