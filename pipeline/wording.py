"""Numbers as a reader meets them in sentences, tables and titles: one way for each."""

from __future__ import annotations


def percent(ratio: float) -> str:
    """A share in per cent, two digits; what is next to nothing is said to be so.

    Examples
    --------
    >>> percent(0.1289), percent(0.0404), percent(2e-9), percent(0.0)
    ('13 %', '4.0 %', 'under 0.1 %', '0 %')
    """
    value = 100 * ratio
    if value == 0 or value >= 9.95:
        return f"{value:.0f} %"
    return f"{value:.1f} %" if value >= 0.05 else "under 0.1 %"


def decibels(value: float) -> str:
    """One decimal, a true minus sign, and no sign on a nothing.

    Examples
    --------
    >>> decibels(-0.53), decibels(-0.02)
    ('−0.5', '0.0')
    """
    return f"{round(value, 1) + 0.0:.1f}".replace("-", "−")
