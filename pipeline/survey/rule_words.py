"""Conditions of a rule in words: names of columns, ranges and choices as a sentence has them."""

from __future__ import annotations

import math
import re

from pipeline.survey.decision_rule import Leaf, Part
from pipeline.text.formatting import in_unit, listed, plain

_INDEX = re.compile(r"\[\d+\]")


def column_words(name: str) -> str:
    """Name of a column as a sentence has it.

    Examples
    --------
    >>> column_words("site.height"), column_words("cable.route[1].down_to")
    ('site height', 'cable route down to')
    """
    return _INDEX.sub("", plain(name)).replace(".", " ").replace("_", " ")


def condition(part: Part) -> str:
    """A condition of a rule in words.

    Examples
    --------
    >>> from pipeline.survey.table_rows import ColumnMeaning
    >>> route, mast = ColumnMeaning("route", "m", "", ""), ColumnMeaning("mast", "", "", "")
    >>> condition(Part(route, low=9.0)), condition(Part(route, 3.0, 9.0))
    ('route above 9 m', 'route above 3 m up to 9 m')
    >>> condition(Part(mast, words=("metal",), of=("brick", "metal", "wood")))
    'mast is metal'
    >>> condition(Part(mast, words=("brick", "metal, tall"), of=("brick", "metal, tall", "wood")))
    'mast is not wood'
    """
    name = column_words(part.column.name)
    if part.words:
        others = tuple(word for word in part.of if word not in part.words)
        is_less = len(others) < len(part.words)
        told = " or ".join(_quoted(word) for word in (others if is_less else part.words))
        return f"{name} is {'not ' if is_less else ''}{told}"
    ends = [
        f"{word} {in_unit(value, part.column.unit)}"
        for word, value in (("above", part.low), ("up to", part.high))
        if math.isfinite(value)
    ]
    return f"{name} {' '.join(ends)}"


def _quoted(word: str) -> str:
    """A word, in quotes where it is several with a comma."""
    return f"“{plain(word)}”" if "," in word else plain(word)


def conditions(leaf: Leaf) -> str:
    """All conditions of a leaf."""
    return listed([condition(part) for part in leaf.parts])
