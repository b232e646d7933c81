"""Text and tables in Markdown and LaTeX: whatever a study says is text there, never markup.

Plain text and rows in, Markdown (CommonMark with the tables of GitHub) and LaTeX out. LaTeX is
plain ASCII and needs no package but ``booktabs``, so that it compiles with any engine.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pipeline.text.formatting import plain

# What CommonMark and GitHub's tables take for markup (CommonMark 0.31, 2.4 and 6).
_MARKED = re.compile(r"[\\`*_\[\]<>|~&$#@]|(?<=[A-Za-z]):(?=//)|(?<=www)\.", re.IGNORECASE)
# What makes a list, a heading's underline or a rule of a line that begins with it.
_BEGINS = re.compile(r"^(?:\d{1,9}(?=[.)](?: |$))|(?=[-+] |[-+]$|-{2}|=))")

# What TeX does not print as itself, or reads as more than a letter: a bracket behind the end of a
# row is its distance, a quotation mark is active in some languages.
_TEX = {
    "\\": r"\textbackslash{}",
    "{": r"\{",
    "}": r"\}",
    "$": r"\$",
    "&": r"\&",
    "#": r"\#",
    "%": r"\%",
    "_": r"\_",
    "^": r"\textasciicircum{}",
    "~": r"\textasciitilde{}",
    "<": r"\textless{}",
    ">": r"\textgreater{}",
    "|": r"\textbar{}",
    '"': r"\symbol{34}",
    "`": r"\symbol{96}",
    "[": "{[}",
    "]": "{]}",
    "*": "{*}",
    "−": "$-$",
    "–": r"\textendash{}",
    "—": r"\textemdash{}",
    "…": r"\ldots{}",
    "×": r"$\times$",
    "±": r"$\pm$",
    "°": r"$^{\circ}$",
    "²": "$^{2}$",
    "³": "$^{3}$",
    "µ": r"$\mu$",
    "μ": r"$\mu$",
    "Ω": r"$\Omega$",
    "λ": r"$\lambda$",
    "ε": r"$\varepsilon$",
    "σ": r"$\sigma$",
    "→": r"$\to$",
    "†": r"\dag{}",
    "≤": r"$\leq$",
    "≥": r"$\geq$",
    "‘": "{`}",
    "’": "{'}",
    "“": r"\textquotedblleft{}",
    "”": r"\textquotedblright{}",
    "\u00a0": "~",
    "ß": r"\ss{}",
    "æ": r"\ae{}",
    "Æ": r"\AE{}",
    "ø": r"\o{}",
    "Ø": r"\O{}",
    "ł": r"\l{}",
    "Ł": r"\L{}",
    "œ": r"\oe{}",
    "Œ": r"\OE{}",
    "ı": r"\i{}",
}
# Pairs that fonts of TeX join to another sign.
_JOINED = re.compile(r"([-',])(?=\1)")
# Accents by the mark that Unicode sets behind the letter.
_ACCENTS = {
    "\u0300": "`",
    "\u0301": "'",
    "\u0302": "^",
    "\u0303": "~",
    "\u0304": "=",
    "\u0306": "u",
    "\u0307": ".",
    "\u0308": '"',
    "\u030a": "r",
    "\u030b": "H",
    "\u030c": "v",
    "\u0327": "c",
    "\u0328": "k",
}


def markdown(text: str) -> str:
    """Plain text for Markdown: one line that shows as it is.

    Examples
    --------
    >>> markdown("2 * 3 <b> | `x`"), markdown("# not a heading"), markdown("0.05 to 0.25 m")
    ('2 \\\\* 3 \\\\<b\\\\> \\\\| \\\\`x\\\\`', '\\\\# not a heading', '0.05 to 0.25 m')
    """
    shown = _MARKED.sub(lambda found: f"\\{found[0]}", plain(text))
    return _BEGINS.sub(lambda found: f"{found[0]}\\", shown, count=1)


def latex(text: str) -> str:
    """Plain text for LaTeX in ASCII; a letter that no command is known for is named by its code.

    Examples
    --------
    >>> latex("50 % of $x_1$"), latex("Käse"), latex("−0.5 dB")
    ('50 \\\\% of \\\\$x\\\\_1\\\\$', 'K\\\\"{a}se', '$-$0.5 dB')
    """
    return _JOINED.sub(r"\1{}", "".join(map(_tex, plain(text))))


def _tex(letter: str) -> str:
    if letter in _TEX:
        return _TEX[letter]
    if letter.isascii():
        return letter
    apart = unicodedata.normalize("NFD", letter)
    base, mark = apart[0], apart[1:]
    if mark in _ACCENTS and base.isascii() and base.isalpha():
        return f"\\{_ACCENTS[mark]}{{{base}}}"
    return rf"\texttt{{U+{ord(letter):04X}}}"


@dataclass(frozen=True)
class Heading:
    """A column of a table in print: its words, and whether it holds numbers or a long text.

    ``width`` is the share of a line that a long text is broken in; none where it stands on one.
    """

    words: str
    is_number: bool = False
    width: float | None = None


# Text of a cell; several lines stand below each other where there is room for that.
Lines = str | tuple[str, ...]
# Signs in a line of the heading of a column of numbers, which are shorter than their heading.
_HEADING = 11
# Rows of a table that go on a page with their caption, each of two lines.
_ON_A_PAGE = 28
_ABOVE = "% Needs \\usepackage{booktabs}. As wide as a page: in two columns take table*.\n"


def markdown_table(headings: Sequence[Heading], rows: Sequence[Sequence[Lines]]) -> str:
    """A table in Markdown; texts of headings and cells are escaped."""
    lines = [
        _piped([markdown(h.words) for h in headings]),
        _piped(["---:" if h.is_number else "---" for h in headings]),
        *(_piped([markdown(" ".join(_lines(cell))) for cell in row]) for row in rows),
    ]
    return "".join(f"{line}\n" for line in lines)


def _piped(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def latex_table(
    headings: Sequence[Heading], rows: Sequence[Sequence[Lines]], caption: str, label: str
) -> str:
    """A floating table in LaTeX with the rules of ``booktabs``, several where one is too long.

    It is meant for a text as wide as a page. ``label`` is written as it is.
    """
    parts = [rows[k : k + _ON_A_PAGE] for k in range(0, max(1, len(rows)), _ON_A_PAGE)]
    told = [f"  \\caption{{{latex(caption)}}}\n  \\label{{{label}}}\n"]
    told += [f"  \\caption{{Table \\ref{{{label}}}, continued.}}\n"] * (len(parts) - 1)
    tables = (_floating(headings, *part) for part in zip(told, parts, strict=True))
    return f"{_ABOVE}{''.join(tables)}"


def _floating(headings: Sequence[Heading], told: str, rows: Sequence[Sequence[Lines]]) -> str:
    layout = "".join(_column(h) for h in headings)
    # Rows of several lines are told apart by a little room.
    is_stacked = any(len(_lines(cell)) > 1 for row in rows for cell in row)
    apart = "    \\addlinespace[2pt]\n" if is_stacked else ""
    body = apart.join(f"    {_row(headings, row)}\n" for row in rows)
    above = " & ".join(_heading(h) for h in headings)
    return (
        "\\begin{table}\n"
        "  \\centering\n"
        f"{told}"
        "  \\footnotesize\n"
        "  \\setlength{\\tabcolsep}{3pt}\n"
        f"  \\begin{{tabular}}{{{layout}}}\n"
        "    \\toprule\n"
        f"    {above} \\\\\n"
        "    \\midrule\n"
        f"{body}"
        "    \\bottomrule\n"
        "  \\end{tabular}\n"
        "\\end{table}\n"
    )


def _column(heading: Heading) -> str:
    if heading.width is not None:
        return f"p{{{heading.width:g}\\linewidth}}"
    return "r" if heading.is_number else "l"


def _heading(heading: Heading) -> str:
    """A heading; that of numbers in as many lines as it takes to be no wider than they are."""
    if not heading.is_number:
        return latex(heading.words)
    words, mark, unit = plain(heading.words).rpartition(" [")
    wrapped = textwrap.wrap(words or unit, _HEADING, break_long_words=False)
    return _stacked((*wrapped, *([f"[{unit}"] if mark else [])), "b")


def _row(headings: Sequence[Heading], row: Sequence[Lines]) -> str:
    return f"{' & '.join(_cells(headings, row))} \\\\"


def _cells(headings: Sequence[Heading], row: Sequence[Lines]) -> Iterator[str]:
    for k, (heading, cell) in enumerate(zip(headings, row, strict=True), start=1):
        # In the last column it would take the end of the row for that of a line.
        ragged = "\\raggedright " if heading.width is not None and k < len(row) else ""
        yield ragged + _stacked(_lines(cell), "t")


def _lines(cell: Lines) -> tuple[str, ...]:
    return (cell,) if isinstance(cell, str) else cell


def _stacked(lines: tuple[str, ...], end: str) -> str:
    """Lines below each other, of which the first ("t") or the last ("b") is in the row's line."""
    if len(lines) < 2:
        return latex("".join(lines))
    inside = r" \\ ".join(map(latex, lines))
    return f"\\begin{{tabular}}[{end}]{{@{{}}r@{{}}}}{inside}\\end{{tabular}}"
