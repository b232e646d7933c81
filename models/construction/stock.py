"""Bars of stock: how long they are sold, and how pieces go into them, the kerf counted.

Pieces go longest first, each into the first bar that has room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from models.catalogues.rows import check_unique, read_rows


@dataclass(frozen=True)
class StockLength:
    """Length [m] that tube of a standard is sold in, with its source."""

    id: str
    name: str
    standard: str
    length: float
    source: str
    confidence: str


@cache
def stock_lengths() -> tuple[StockLength, ...]:
    """All rows of stock.csv."""
    text = (files("models") / "catalogues" / "stock.csv").read_text(encoding="utf-8")
    columns = ("id", "name", "standard", "length_m", "source", "confidence", "note")
    items = tuple(
        StockLength(
            id=row.text("id"),
            name=row.text("name"),
            standard=row.text("standard"),
            length=row.number("length_m", 0.5, 12),
            source=row.text("source"),
            confidence=row.confidence(),
        )
        for row in read_rows(text, "stock.csv", columns)
    )
    check_unique("stock.csv", items)
    return items


def stock_length(standard: str, imperial: bool) -> StockLength:
    """Bar of a standard; for a standard that is not known, that of copper tube of such units.

    Examples
    --------
    >>> stock_length("EN 1057", False).length, stock_length("ASTM B88", False).length
    (3.0, 3.048)
    """
    known = {item.standard: item for item in stock_lengths()}
    return known.get(standard) or known["ASTM B88" if imperial else "EN 1057"]


@dataclass(frozen=True)
class Bar:
    """A bar of stock and the indices of what is cut from it, in order; ``waste`` [m] is left."""

    pieces: tuple[int, ...]
    waste: float


def nest(lengths: Sequence[float], bar: float, kerf: float) -> tuple[Bar, ...]:
    """Bars that hold all pieces (first-fit decreasing).

    ``lengths`` of the pieces, ``bar`` that stock is sold in, ``kerf`` of one cut [m]. A bar of n
    pieces takes n cuts, or one less where nothing is left. Raises ValueError if a piece is longer
    than a bar.

    References
    ----------
    .. [1] D. S. Johnson, Near-optimal bin packing algorithms, MIT, 1973: first-fit decreasing
       takes at most 11/9 of the fewest bars, and four more.

    Examples
    --------
    >>> [b.pieces for b in nest([1.5, 1.4, 0.5, 0.1], 3.0, 0.002)]
    [(0, 1), (2, 3)]
    """
    if any(length > bar + 1e-9 for length in lengths):
        raise ValueError("a piece is longer than a bar")
    bins: list[list[int]] = []
    used: list[float] = []
    for index in sorted(range(len(lengths)), key=lambda i: (-lengths[i], i)):
        length = lengths[index]
        place = next((k for k, full in enumerate(used) if full + kerf + length <= bar + 1e-9), None)
        if place is None:
            bins.append([index])
            used.append(length)
        else:
            bins[place].append(index)
            used[place] += kerf + length
    return tuple(
        Bar(tuple(held), max(0.0, bar - full - kerf)) for held, full in zip(bins, used, strict=True)
    )
