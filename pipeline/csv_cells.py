"""Text in cells of our CSV files, so that no spreadsheet takes it for a formula.

A label that begins with = is computed by whoever opens the table. A quote in front makes it text;
our own readers take it off again.
"""

from __future__ import annotations

# What spreadsheets take for the beginning of a formula, in full width as well, and the quote itself
# so that every text comes back as it was (OWASP, "CSV Injection", owasp.org, as of 2024).
_BEGINNINGS = tuple("=+-@\t\r\n＝＋－＠'")


def to_cell(text: str) -> str:
    """Text as a cell of a table has it; numbers stay as they are.

    Examples
    --------
    >>> to_cell("=1+1"), to_cell("-3.5"), to_cell("nine turns")
    ("'=1+1", '-3.5', 'nine turns')
    """
    if not text.startswith(_BEGINNINGS):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text


def from_cell(text: str) -> str:
    """What :func:`to_cell` was given, from the text of a cell.

    Examples
    --------
    >>> from_cell("'=1+1"), from_cell("-3.5"), from_cell("nine turns")
    ('=1+1', '-3.5', 'nine turns')
    """
    return text.removeprefix("'")
