"""Names of parts as people write them: what a name means, may mean, and what is near it.

Words, sizes and RG numbers of a name in, the one part that has them all out. The only place that
knows that a snap-on core is a clamp-on core or that RG8X is RG-8X.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Protocol, TypeVar

from models.lengths import METRE_PER_INCH, small

_FRACTIONS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
# What is written in several ways, in the order of reading.
_WAYS = (
    (r"×", "x"),
    (r"[“”″]|''", '"'),
    (r"(?<=\d),(?=\d)", "."),
    (r"\b(?:clamp|snap|clip)(?:[\s-]*on)?\b|\bsplit\b", " clampon "),
    (r"\b(?:toroid|torus)\b", " ring "),
    (r"\blow[\s-]*loss\b", " lowloss "),
    (r"\bhard[\s-]*line\b", " hardline "),
    (r"\bcu\b", " copper "),
    (r"\b(?:al|alu|aluminum)\b", " aluminium "),
    (r"\b(?:od|outer|outside)\b(?:[\s-]*diameter)?", " outside "),
    (r"(?:\b(?:mix|material)|#)[\s-]*(\d\d)\b", r" mix\1 "),
    (r"\b(\d\d)[\s-]*mix\b", r" mix\1 "),
)
# RG-58A/U, RG58 and rg 58c are one class; only an X makes another cable of it.
_RG = re.compile(r"\brg[\s_-]*(\d+)([a-z]*)(?:[\s-]*[abc]?/u)?\b")
_NUMBER = r"(?:\d+[\s-]+)?\d+/\d+|\d*\.?\d+"
_INCHES = re.compile(rf'({_NUMBER})[\s-]*(?:"|in(?:ch(?:es)?)?\b\.?)|((?:\d+[\s-]+)?\d+/\d+)')
_MILLIMETRES = re.compile(r"(\d*\.?\d+(?:\s*x\s*\d*\.?\d+)+)(?:\s*mm\b)?|(\d*\.?\d+)\s*mm\b")
_WORD = re.compile(r"[a-z]+\d*[a-z]*|\d+(?:\.\d+)?")
# Words that every part of a kind has, and so tell none from another.
_EMPTY = frozenset(
    [
        *("a", "the", "of", "or", "and", "u", "cable", "coax", "coaxial", "pipe", "tube", "tubing"),
        *("ferrite", "core", "cores", "class", "type", "hole", "size", "ground", "soil", "wall"),
    ]
)


_REMARK = re.compile(r"\s*\([^()]*\)\s*$")
# As many parts and sizes are named in a message.
_FEW = 4
# Words that are this much alike may be one word, misspelt.
_ALIKE = 0.7


class UnknownName(LookupError):  # noqa: N818
    """A name that no part has, with what may be written instead and all that are known."""

    def __init__(
        self, kind: str, name: str, nearest: tuple[str, ...], known: tuple[str, ...]
    ) -> None:
        super().__init__(kind, name, nearest, known)
        self.kind = kind
        self.name = name
        self.nearest = nearest
        self.known = known

    def __str__(self) -> str:
        hint = f"; nearest: {', '.join(self.nearest)}" if self.nearest else ""
        return f"no {self.kind} is called {self.name!r}{hint}"

    @property
    def rule(self) -> str:
        """What is wrong, for a message that shows the name already."""
        return f"is no {self.kind} of the catalogue"

    @property
    def remedy(self) -> str:
        """What to write instead."""
        return " or ".join(self.nearest or self.known[:6])


class AmbiguousName(UnknownName):
    """A name that several parts have; ``meanings`` says in sentences what it may mean."""

    def __init__(
        self, kind: str, name: str, nearest: tuple[str, ...], meanings: tuple[str, ...]
    ) -> None:
        super().__init__(kind, name, nearest, meanings)
        # Pickled by its arguments, which are those of an unknown name.
        self.meanings = meanings

    def __str__(self) -> str:
        return f"{self.name!r} {self.rule}; write {self.remedy}"

    @property
    def rule(self) -> str:
        """What it may mean."""
        return f"means more than one {self.kind}: {'; '.join(self.meanings)}"


class Named(Protocol):
    """Record with an id and a name."""

    @property
    def id(self) -> str:
        """Lower case with hyphens."""

    @property
    def name(self) -> str:
        """For people."""


ItemT = TypeVar("ItemT", bound=Named)


@dataclass(frozen=True)
class Sizes:
    """Sizes of parts that a name may be meant by: how they are found, what they are called.

    ``attribute`` holds a part's size [m], ``slack`` is the share that a written size may be off,
    ``meaning`` and ``labelled`` what it may mean: "an outside diameter", "a nominal size"; ``what``
    is the size: "outside".
    """

    attribute: str
    slack: float
    meaning: str
    labelled: str
    what: str

    def of(self, item: object) -> float:
        """Size of a part. [m]"""
        return float(getattr(item, self.attribute))


@lru_cache(maxsize=4096)
def fold_name(name: str) -> str:
    """Return a name without case and spaces, a multiplication sign read as x.

    Examples
    --------
    >>> fold_name("22 × 1 MM")
    '22x1mm'
    """
    return "".join(name.split()).casefold().replace("×", "x")


def tokens(name: str) -> frozenset[str]:
    """Words of a name as every way of writing it has them; sizes as "mm:22" and "in:0.5".

    Examples
    --------
    >>> sorted(tokens("RG58A/U coax")), sorted(tokens('½" Type L')), sorted(tokens("22 × 1"))
    (['rg58'], ['in:0.5', 'l'], ['mm:1', 'mm:22'])
    >>> sorted(tokens("Mix #43 snap-on, 12,7 mm"))
    ['clampon', 'mix43', 'mm:12.7']
    """
    text = name.casefold()
    for sign, plain in _FRACTIONS.items():
        text = text.replace(sign, plain)
    for way, plain in _WAYS:
        text = re.sub(way, plain, text)
    text = re.sub(r"\bmix\s+mix", "mix", text)
    found: set[str] = set()

    def keep(kind: str, *numbers: str) -> str:
        found.update(f"{kind}:{float(_value(n)):.6g}" for n in numbers)
        return " "

    text = _RG.sub(lambda m: f" rg{m[1]}{'x' if 'x' in m[2] else ''} ", text)
    text = _INCHES.sub(lambda m: keep("in", m[1] or m[2]), text)
    text = _MILLIMETRES.sub(lambda m: keep("mm", *re.split(r"\s*x\s*", m[1] or m[2])), text)
    return frozenset(found | set(_WORD.findall(text)) - _EMPTY)


def _value(number: str) -> Fraction:
    """Number of "1-1/4", "3/8" or ".5"."""
    return sum((Fraction(part) for part in re.split(r"[\s-]+", number.strip())), Fraction(0))


def _metres(token: str) -> float | None:
    """Length [m] of a token that is a size."""
    unit, _, number = token.partition(":")
    return float(number) * {"mm": 1e-3, "in": METRE_PER_INCH}[unit] if number else None


def _words_of(item: object) -> frozenset[str]:
    """Tokens of all that says what a part is."""
    texts = (getattr(item, key, "") for key in ("name", "also", "material", "shape", "standard"))
    return tokens(" ; ".join(texts))


def _of_this_size(item: ItemT, wanted: frozenset[str], sizes: Sizes) -> bool:
    """Whether a part has all the words of a name, and the one size in it."""
    lengths = [length for t in wanted if (length := _metres(t)) is not None]
    words = {t for t in wanted if _metres(t) is None} - {"outside"}
    if len(lengths) != 1 or not words <= _words_of(item):
        return False
    return abs(sizes.of(item) / lengths[0] - 1) <= sizes.slack


def find(
    kind: str,
    items: Sequence[ItemT],
    name: str,
    sizes: Sizes | None = None,
    written: Callable[[ItemT], str] = lambda item: item.name,
) -> ItemT:
    """Look a part up by id, by name, or by words that only one part has.

    Of ``items`` those to be offered first stand at the front; ``sizes`` tell what a part may be
    meant by where its name says another size or none, ``written`` what to write for a part,
    ``kind`` ("pipe") is for the message. Raises AmbiguousName with what it may mean, or UnknownName
    with up to three nearest names and all known ones.
    """
    by_name = {fold_name(label): item for item in items for label in (item.id, item.name)}
    # A name is often copied from a message, with the remark in brackets behind it.
    for label in (name, _REMARK.sub("", name)):
        if fold_name(label) in by_name:
            return by_name[fold_name(label)]
    wanted = tokens(name)
    named = (
        [] if "outside" in wanted else [i for i in items if wanted - {"nominal"} <= _words_of(i)]
    )
    if len(named) == 1 and wanted:
        return named[0]
    sized = []
    if sizes is not None and "nominal" not in wanted:
        sized = [i for i in items if i not in named and _of_this_size(i, wanted, sizes)]
    if len(named) + len(sized) == 1 and wanted:
        return (named + sized)[0]
    if wanted and named + sized:
        raise _ambiguous(kind, name, (named, sized), sizes, written)
    close = _nearest(wanted, fold_name(name), items, by_name)
    known = tuple(item.name for item in items)
    raise UnknownName(kind, name, tuple(written(item) for item in close), known)


def _likeness(wanted: frozenset[str], words: frozenset[str]) -> float:
    """Number of words of a name that another one has, words that look alike counted in part."""
    best = (
        max((difflib.SequenceMatcher(None, w, other).ratio() for other in words), default=0.0)
        for w in wanted
    )
    return sum(ratio for ratio in best if ratio >= _ALIKE)


def _nearest(
    wanted: frozenset[str], folded: str, items: Sequence[ItemT], by_name: dict[str, ItemT]
) -> list[ItemT]:
    """Up to three parts: those that share most of its words, then those that look like it."""
    shared = {item.id: _likeness(wanted, _words_of(item)) for item in items}
    most = max(shared.values(), default=0.0)
    by_words = [item for item in items if most and shared[item.id] == most]
    looks = difflib.get_close_matches(folded, by_name, n=6, cutoff=0.5)
    alike = [by_name[label] for label in looks]
    both = [item for item in alike if item in by_words]
    return list({item.id: item for item in (*both, *by_words, *alike)}.values())[:3]


def _spans(items: Sequence[ItemT], sizes: Sizes) -> str:
    """Sizes of some parts, from the least to the greatest where there are many."""
    every = list(dict.fromkeys(small(size, 1) for size in sorted(sizes.of(i) for i in items)))
    return ", ".join(every) if len(every) <= _FEW else f"{every[0]} to {every[-1]}"


def _various(items: Sequence[ItemT], sizes: Sizes | None) -> list[ItemT]:
    """A few of some parts, one of each size and material before a second one of any."""
    counts: Counter[object] = Counter()
    ranked = []
    for item in items:
        like = (getattr(item, "material", ""), sizes and sizes.of(item))
        ranked.append((counts[like], item))
        counts[like] += 1
    return [item for _, item in sorted(ranked, key=lambda pair: pair[0])][:_FEW]


def _ambiguous(
    kind: str,
    name: str,
    found: tuple[list[ItemT], list[ItemT]],
    sizes: Sizes | None,
    written: Callable[[ItemT], str],
) -> AmbiguousName:
    """Meanings a name may have, each with its sizes and what to write for it."""
    named, sized = found
    meanings = [f"{len(named)} have these words"] if named and sizes is None else []
    if sizes is not None and named:
        how = f"as {sizes.labelled}" if sizes.labelled else f"{len(named)} are called so"
        meanings.append(f"{how} ({_spans(named, sizes)} {sizes.what})")
    if sizes is not None and sized:
        meanings.append(f"as {sizes.meaning} ({_spans(sized, sizes)})")
    offered = (*_various(named, sizes), *_various(sized, sizes))
    return AmbiguousName(kind, name, tuple(written(i) for i in offered), tuple(meanings))
