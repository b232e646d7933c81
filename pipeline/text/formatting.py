"""Numbers as a reader meets them in sentences, tables and titles: one way for each."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from models.lengths import large

# Finer than this nobody reads a table.
_MOST_DECIMALS = 2
# Between a number and its unit, where a line must not end.
NO_BREAK = "\u00a0"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|dBi?|ohm|kohm|m|mm|in|ft|kHz|MHz|W|V|K|EUR)(?!\w))")


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


def whole_percent(ratio: float) -> str:
    """A share in whole per cent, never rounded to none or to all.

    Examples
    --------
    >>> whole_percent(0.413), whole_percent(0.998), whole_percent(0.002), whole_percent(1.0)
    ('41 %', 'over 99 %', 'under 1 %', '100 %')
    """
    whole = round(100 * ratio)
    if ratio > 0 and whole == 0:
        return "under 1 %"
    return "over 99 %" if ratio < 1 and whole == 100 else f"{whole} %"


def decibels(value: float) -> str:
    """One decimal, a true minus sign, and no sign on a nothing.

    Examples
    --------
    >>> decibels(-0.53), decibels(-0.02)
    ('−0.5', '0.0')
    """
    return fixed(value, 1)


def fixed(value: float, decimals: int) -> str:
    """A number with so many decimals, a true minus sign, and no sign on a nothing.

    Examples
    --------
    >>> fixed(-1.25, 1), fixed(-0.04, 1), fixed(53.6, 0)
    ('−1.2', '0.0', '54')
    """
    return f"{round(value, decimals) + 0.0:.{decimals}f}".replace("-", "−")


def signed(value: float, decimals: int) -> str:
    """A difference with its sign, and none on a nothing.

    Examples
    --------
    >>> signed(0.31, 1), signed(-1.25, 1), signed(-0.01, 1)
    ('+0.3', '−1.2', '0.0')
    """
    return ("+" if round(value, decimals) > 0 else "") + fixed(value, decimals)


def impedance_words(z: complex, decimals: int = 1, unit: str = "") -> str:
    """Resistance and reactance as R ± jX; the sign is that of what is printed.

    Examples
    --------
    >>> impedance_words(49.2 - 3.04j, unit="ohm"), impedance_words(53.7 - 0.02j, 0)
    ('49.2 − j3.0 ohm', '54 + j0')
    """
    sign = "−" if round(z.imag, decimals) < 0 else "+"
    said = f"{fixed(z.real, decimals)} {sign} j{fixed(abs(z.imag), decimals)}"
    return f"{said} {unit}" if unit else said


def sentence_case(text: str) -> str:
    """A text with its first letter in upper case, the rest as it is.

    Examples
    --------
    >>> sentence_case("four cores of mix 43")
    'Four cores of mix 43'
    """
    return text[:1].upper() + text[1:]


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def in_words(count: int) -> str:
    """Small counts as words.

    Examples
    --------
    >>> in_words(2), in_words(12)
    ('two', '12')
    """
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def decimals_of(low: float, high: float) -> int:
    """Decimals that a value with this interval deserves: to the first digit of half its width.

    Never more than two.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 7.2.6: no more digits than the uncertainty bears.

    Examples
    --------
    >>> decimals_of(1.23, 1.36), decimals_of(6.4, 6.8), decimals_of(50.4, 56.1)
    (2, 1, 0)
    """
    half = (high - low) / 2
    if half <= 0:
        return _MOST_DECIMALS
    return min(_MOST_DECIMALS, max(0, -math.floor(math.log10(half))))


def between(low: float, high: float, decimals: int) -> str:
    """An interval as it stands below a number in a table; none where both ends read the same.

    A minus sign is kept off the dash.

    Examples
    --------
    >>> between(1.2265, 1.3637, 2), between(-0.3, 0.24, 1), between(0.0, 1e-3, 2)
    ('1.23–1.36', '−0.3 to 0.2', '')
    """
    a, b = fixed(low, decimals), fixed(high, decimals)
    if a == b:
        return ""
    return f"{a} to {b}" if "−" in a + b else f"{a}–{b}"


def keep_away(distance: float, nearest: float) -> str:
    """A distance to keep, rounded up; zero means that nothing was found from ``nearest`` on. [m]

    Examples
    --------
    >>> keep_away(1.243, 0.1), keep_away(0.062, 0.05), keep_away(12.3, 0.1), keep_away(0.0, 0.05)
    ('1.3 m', '0.07 m', '13 m', 'under 0.05 m')
    """
    if distance <= 0:
        return f"under {large(nearest, None)}"
    return large(distance, 2 if distance < 1 else 1 if distance < 10 else 0, "up")


def passed(limits: Iterable[Mapping[str, Any]], above: Collection[str]) -> str:
    """Which limits a field is above, by their ids, the strictest of each group of people.

    ``limits`` are as the summary's part on exposure lists them.

    Examples
    --------
    >>> rule = {"id": "a", "group": "general public", "power_density_w_per_m2": 2.0}
    >>> passed([rule], ["a"])
    'the strictest limit for the general public (2 W/m²)'
    """
    strictest: dict[str, float] = {}
    for limit in limits:
        if limit["id"] in above:
            density = float(limit["power_density_w_per_m2"])
            group = str(limit["group"])
            strictest[group] = min(density, strictest.get(group, density))
    names = {"occupational": "those who work with it"}
    said = [f"{names.get(g, f'the {g}')} ({d:.3g} W/m²)" for g, d in strictest.items()]
    return "the strictest limit for " + " and for ".join(said)


def unparted(text: str) -> str:
    """A text for a page, in which a number stays on one line with its unit.

    Examples
    --------
    >>> unparted("from 11 % to 3.9 %").count(NO_BREAK)
    2
    """
    return _BEFORE_UNIT.sub(NO_BREAK, text)


def times(score: float) -> str:
    """A score as a reader meets it.

    Examples
    --------
    >>> times(0.87), times(3.07)
    ('0.87 of what is just visible', '3.1 times what is just visible')
    """
    if score <= 1:
        return f"{fixed(score, 2)} of what is just visible"
    return f"{fixed(score, 2 if score < 1.1 else 1)} times what is just visible"


def listed(said: Sequence[str]) -> str:
    """Several things as one phrase.

    Examples
    --------
    >>> listed(["mast"]), listed(["mast", "rod", "cable"])
    ('mast', 'mast, rod and cable')
    """
    return " and ".join((", ".join(said[:-1]), said[-1])) if len(said) > 1 else "".join(said)


def solid_sentence(count: int) -> str:
    """Sentence about cores that cannot be opened, which go on before the connector.

    Examples
    --------
    >>> solid_sentence(1)[:28]
    'The core cannot be opened: i'
    """
    what, it = ("The core", "it goes") if count == 1 else ("The cores", "they go")
    return (
        f"{what} cannot be opened: {it} on before the connector. Where the cable has one at both "
        "ends, one comes off and a new one is fitted, which is not in the price."
    )


def plain(text: str) -> str:
    """Text of a study made fit for print: one line, no control characters.

    Examples
    --------
    >>> plain("two\\nlines\\x00 and  gaps")
    'two lines and gaps'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def number(value: float, form: str) -> str:
    """A number with a true minus sign, and never minus zero.

    Examples
    --------
    >>> number(-1.25, "+.1f"), number(-0.01, ".1f")
    ('−1.2', '0.0')
    """
    text = format(value, form)
    if float(text) == 0:
        text = format(0.0, form)
    return text.replace("-", "−")


def megahertz(f: float, decimals: int | None = None) -> str:
    """A frequency in megahertz, to the hertz or with so many decimals.

    Examples
    --------
    >>> megahertz(145.5e6), megahertz(145.5e6, 2)
    ('145.5 MHz', '145.50 MHz')
    """
    return f"{f / 1e6:.7g} MHz" if decimals is None else f"{f / 1e6:.{decimals}f} MHz"


def in_unit(value: float, unit: str) -> str:
    """A number in an SI unit with that unit, as a reader has it.

    Examples
    --------
    >>> in_unit(12.5, "m"), in_unit(145e6, "Hz"), in_unit(7.0, "1"), in_unit(0.005, "S/m")
    ('12.5 m', '145 MHz', '7', '0.005 S/m')
    """
    if unit == "m":
        return large(value, None)
    if unit == "Hz":
        return megahertz(value)
    return f"{value:.4g}" if unit in ("", "1") else f"{value:.4g} {unit}"
