"""Text of a Touchstone file, version 1 or 2: what it says, line by line, or the line that is wrong.

Comments and the information block are dropped here, so that nothing in them reaches a parser; what
comes out is a plain file of version 1 that any reader takes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from pipeline.text.refusals import plain_float

# Frequency unit, form of the numbers, reference [ohm]: what holds where a file names none [1].
_USUAL = ("ghz", "ma", 50.0)
_UNITS = ("hz", "khz", "mhz", "ghz")
_FORMS = ("ma", "db", "ri")
# Numbers behind a frequency, by the matrix format of version 2.
_NUMBERS: dict[str, Callable[[int], int]] = {
    "full": lambda ports: 2 * ports**2,
    "lower": lambda ports: ports * (ports + 1),
    "upper": lambda ports: ports * (ports + 1),
}
_ORDERS = ("12_21", "21_12")
_LONGEST_WORD = 24


class TouchstoneTextError(ValueError):
    """A fault in the text of a measurement, with its line."""


@dataclass
class Sweep:
    """A file of measurements: options, and the numbers of each frequency in the file's own unit."""

    unit: str
    form: str
    reference: float
    rows: list[list[float]] = field(default_factory=list)

    def text(self) -> str:
        """The same as a plain file of version 1, full matrices, the first port driven first."""
        options = f"# {self.unit} s {self.form} r {self.reference!r}"
        return "\n".join([options, *(" ".join(map(repr, row)) for row in self.rows), ""])


@dataclass
class _Layout:
    """Layout of the numbers by the keywords of version 2."""

    version: str = "1"
    matrix: str = "full"
    order: str = "21_12"
    frequencies: int | None = None
    reference: float | None = None
    data: bool = True


def read_sweep(text: str, ports: int) -> Sweep:
    """Options and numbers of a file of as many ports as its name promises.

    References
    ----------
    .. [1] Touchstone File Format Specification, versions 1.1, 2.0 and 2.1 (EIA/IBIS Open Forum).
    """
    layout, sweep = _Layout(), None
    lines = _contents(text)
    for number, content in lines:
        if content.startswith("["):
            if _keyword(content, number, layout, lines, ports):
                break
        elif content.startswith("#"):
            # Only the first counts [1].
            sweep = sweep or _options(content, number)
        elif sweep is None:
            raise TouchstoneTextError(
                f"has numbers in line {number} before a line that begins with #"
            )
        elif not layout.data:
            raise TouchstoneTextError(f"has numbers in line {number} before [Network Data]")
        elif _ends_in_noise(content, sweep, layout, ports):
            break
        else:
            sweep.rows.append(_row(content, number, layout, ports))
    if sweep is None:
        raise TouchstoneTextError("has no line that begins with # and says what the numbers are")
    if layout.frequencies not in (None, len(sweep.rows)):
        raise TouchstoneTextError(
            f"promises {layout.frequencies} frequencies and holds {len(sweep.rows)}"
        )
    sweep.reference = layout.reference or sweep.reference
    return sweep


def _contents(text: str) -> Iterator[tuple[int, str]]:
    """Lines with something in them, without comments and without the information block."""
    informing = False
    # Lines as an editor counts them, which is not what Python's splitlines takes for one.
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number, line in enumerate(lines, start=1):
        content = line.partition("!")[0].strip()
        if informing or content.lower().startswith("[begin information]"):
            informing = not content.lower().startswith("[end information]")
        elif content:
            yield number, content


def _options(content: str, number: int) -> Sweep:
    """The option line; words may be in any order, what is left out is as usual."""
    unit, form, reference = _USUAL
    words = iter(content[1:].lower().split())
    for word in words:
        if word in _UNITS:
            unit = word
        elif word in _FORMS:
            form = word
        elif word == "r":
            reference = _reference(next(words, ""), number)
        elif word in ("y", "z", "g", "h"):
            said = f"holds {word.upper()}-parameters, by line {number}; S-parameters are read"
            raise TouchstoneTextError(said)
        elif word != "s":
            said = f"has {_quoted(word)} in line {number}, which is no option of Touchstone"
            raise TouchstoneTextError(said)
    return Sweep(unit, form, reference)


def _reference(word: str, number: int) -> float:
    """A reference resistance [ohm]."""
    try:
        value = plain_float(word)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        said = _quoted(word) if word else "nothing"
        raise TouchstoneTextError(
            f"has {said} as its reference in line {number}, which has to be a positive resistance"
        )
    return value


def _keyword(
    content: str, number: int, layout: _Layout, lines: Iterator[tuple[int, str]], ports: int
) -> bool:
    """Take one keyword of version 2; whether the data of the network end with it."""
    name, _, rest = content.partition("]")
    name, word = name[1:].strip().lower(), rest.strip().lower()
    if name in ("end", "noise data"):
        return True
    if name == "network data":
        layout.data = True
    elif name == "version":
        layout.version, layout.data = word, False
        _among(word, ("2.0", "2.1"), number)
    elif name == "number of ports":
        if _count(word, number) != ports:
            raise TouchstoneTextError(f"holds {word} ports, by line {number}, and its name {ports}")
    elif name == "number of frequencies":
        layout.frequencies = _count(word, number)
    elif name == "two-port data order":
        layout.order = _among(word, _ORDERS, number)
    elif name == "matrix format":
        layout.matrix = _among(word, tuple(_NUMBERS), number)
    elif name == "reference":
        layout.reference = _references(word, number, lines, ports)
    elif name != "number of noise frequencies":
        raise TouchstoneTextError(f"has {_quoted(f'[{name}]')} in line {number}, which is not read")
    return False


def _references(word: str, number: int, lines: Iterator[tuple[int, str]], ports: int) -> float:
    """The one resistance [ohm] that all ports refer to; it may stand on the lines that follow."""
    words = [(number, w) for w in word.split()]
    while len(words) < ports:
        number, content = next(lines, (number, "[end]"))
        if content.startswith("["):
            raise TouchstoneTextError(f"has fewer than {ports} references before line {number}")
        words += [(number, w) for w in content.split()]
    values = {_reference(w, n) for n, w in words}
    if len(values) > 1 or len(words) > ports:
        raise TouchstoneTextError(
            f"has several references in line {number}; one that holds for all ports is read"
        )
    return values.pop()


def _row(content: str, number: int, layout: _Layout, ports: int) -> list[float]:
    """Frequency and full matrix of one line, in the order of version 1."""
    try:
        values = [plain_float(cell) for cell in content.split()]
    except ValueError:
        raise TouchstoneTextError(f"does not hold numbers only in line {number}") from None
    wanted = 1 + _NUMBERS[layout.matrix](ports)
    if len(values) != wanted:
        raise TouchstoneTextError(
            f"has {len(values)} numbers in line {number}; "
            f"{'one port makes' if ports == 1 else 'two ports make'} {wanted}"
        )
    if not all(math.isfinite(value) for value in values):
        raise TouchstoneTextError(f"holds a value that is no finite number in line {number}")
    if ports == 2 and layout.matrix != "full":
        # One of the two transfers is left out: they are alike.
        return [*values[:5], *values[3:]]
    if ports == 2 and layout.order == "12_21":
        return [*values[:3], *values[5:7], *values[3:5], *values[7:]]
    return values


def _ends_in_noise(content: str, sweep: Sweep, layout: _Layout, ports: int) -> bool:
    """Whether noise data of version 1 begin: five numbers, the frequency not above the last."""
    cells = content.split()
    if layout.version != "1" or ports != 2 or len(cells) != 5 or not sweep.rows:
        return False
    try:
        return plain_float(cells[0]) <= sweep.rows[-1][0]
    except ValueError:
        return False


def _count(word: str, number: int) -> int:
    if not (word.isascii() and word.isdigit() and len(word) < 9):
        raise TouchstoneTextError(f"has {_quoted(word)} in line {number}, and a count is wanted")
    return int(word)


def _among(word: str, known: tuple[str, ...], number: int) -> str:
    if word not in known:
        raise TouchstoneTextError(
            f"has {_quoted(word)} in line {number}, and one of {', '.join(known)} is read"
        )
    return word


def _quoted(word: str) -> str:
    return f'"{word[:_LONGEST_WORD]}"'
