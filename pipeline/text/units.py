"""The edge where text with units becomes SI numbers; the only file that knows pint.

In go the words of a study ("55 mm", "4 ft 10 in", "40+10j ohm"), out come floats or complex
numbers in SI. Text is matched against a strict pattern before pint sees the unit, so
that nothing in a study file is ever evaluated.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from models.lengths import Rounding, large, made_to, small, system
from pipeline.text import lengths as length_text
from pipeline.text.refusals import FieldError, refuse_foreign_digits

if TYPE_CHECKING:
    import pint

LONGEST_TEXT = 48

# Digits are those of ASCII: what another script writes is refused before.
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_UNIT = r"[A-Za-zΩµ]{1,16}(?:/[A-Za-z]{1,12})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*({_UNIT})")
_COMPLEX = re.compile(rf"({_NUMBER})\s*([+-])\s*(?:j\s*({_NUMBER})|({_NUMBER})\s*j|j)\s*({_UNIT})")
_BARE_NUMBER = re.compile(_NUMBER)
_DECIMAL_COMMA = re.compile(r"\d,\d")
_NOT_FINITE = re.compile(r"[+-]?\.?(?:nan|inf|infinity)\b", re.IGNORECASE)
_WAVELENGTH = frozenset({"wavelength", "wavelengths"})

# What a JSON Schema can say about a quantity: a number, then a unit.
SCHEMA_PATTERN = rf"^\s*{_NUMBER}\s*{_UNIT}\s*$"
SCHEMA_PATTERN_LENGTH = rf"^\s*({_NUMBER}\s*{_UNIT}|{length_text.SCHEMA_PATTERN})\s*$"
SCHEMA_PATTERN_COMPLEX = rf"^\s*{_NUMBER}\s*([+-]\s*(j\s*{_NUMBER}|{_NUMBER}\s*j|j)\s*)?{_UNIT}\s*$"


@dataclass(frozen=True)
class Family:
    """Units of one kind: its name in messages, spellings to suggest, scales to show it in."""

    name: str
    spellings: tuple[str, ...]
    scales: tuple[tuple[float, str], ...]


FAMILIES = {
    "m": Family("length", ("m", "mm", "cm", "in", "ft", "wavelength"), ((0.1, "m"), (0.0, "mm"))),
    "Hz": Family(
        "frequency", ("MHz", "kHz", "GHz", "Hz"), ((1e6, "MHz"), (1e3, "kHz"), (0.0, "Hz"))
    ),
    "W": Family("power", ("W", "mW", "kW"), ((1.0, "W"), (0.0, "mW"))),
    "ohm": Family("impedance", ("ohm", "kohm", "Ω"), ((0.0, "ohm"),)),
    "S/m": Family("conductivity", ("S/m", "mS/m"), ((0.1, "S/m"), (0.0, "mS/m"))),
    "dB": Family("loss", ("dB",), ((0.0, "dB"),)),
    "F": Family("capacitance", ("pF", "nF", "F"), ((1e-9, "nF"), (0.0, "pF"))),
    "H": Family("inductance", ("nH", "µH", "uH", "H"), ((1e-6, "µH"), (0.0, "nH"))),
    "deg": Family("angle", ("deg",), ((0.0, "deg"),)),
    "m/s": Family("speed", ("m/s", "km/h", "mph", "knot"), ((0.0, "m/s"),)),
}
# What the usual spellings are worth, so that a study in them does without the library of units:
# to load that takes longer than to read a study. A test holds it against the library.
_SCALE = (
    {"mm": 1e-3, "cm": 1e-2, "in": 0.0254, "ft": 0.3048, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}
    | {"mW": 1e-3, "kW": 1e3, "kohm": 1e3, "Ω": 1.0, "mS/m": 1e-3, "pF": 1e-12, "nF": 1e-9}
    | {"nH": 1e-9, "µH": 1e-6, "uH": 1e-6, **dict.fromkeys(FAMILIES, 1.0)}
)


_METRIC_LENGTH = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) (mm|cm|m)(?=$|[],}\")])")
# Lengths below six feet are told to the hundredth of an inch. [m]
_TOLD_FINELY = 6 * 0.3048
# Every sign in the one spelling that is known here.
_SPELLINGS = str.maketrans(
    {"\u2126": "Ω", "\u03bc": "µ", "\u2212": "-", "′": "'", "’": "'", "″": '"', "”": '"'}
)


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    return pint.UnitRegistry()


def read_quantity(given: object, unit: str, example: str, wavelength: float | None = None) -> float:
    """SI value of a quantity written with its unit; always finite.

    Parameters
    ----------
    given : object
        Only text is taken.
    unit : str
        The SI unit wanted: m, Hz, W, ohm, S/m, F, H, deg, m/s or dB.
    example : str
        How a study would write such a value, for the remedy.
    wavelength : float, optional
        Free-space wavelength, for lengths given in wavelengths. [m]

    Examples
    --------
    >>> read_quantity("55 mm", "m", "55 mm")
    0.055
    >>> read_quantity("0.25 wavelength", "m", "55 mm", wavelength=2.0)
    0.5
    """
    example = in_units_of_reader(example)
    text = _plain_text(given, unit, example)
    match = _QUANTITY.fullmatch(text)
    if match is not None:
        return _to_si(float(match[1]), match[2], unit, wavelength)
    try:
        found = length_text.parse_length(text) if unit == "m" else None
    except length_text.OddLengthError as odd:
        remedy = odd.remedy or f'write it like "{example}"'
        raise FieldError(odd.rule, remedy, odd.tag) from odd
    if found is None:
        raise _form_refusal(text, unit, example)
    return _to_si(*found, unit, wavelength)


def in_units_of_reader(example: str) -> str:
    """An example with its lengths as they are worded now, in metres or feet; the rest as it is.

    A length ends with the text, a comma or a bracket, so that names of parts stay.

    Examples
    --------
    >>> from models.lengths import lengths_in
    >>> with lengths_in("imperial"):
    ...     in_units_of_reader("55 mm"), in_units_of_reader("8 m"), in_units_of_reader("145 MHz")
    ('2.17 in', '26 ft 3 in', '145 MHz')
    >>> with lengths_in("imperial"):
    ...     in_units_of_reader("- out: 0.15 m"), in_units_of_reader("22x1 mm")
    ('- out: 5.91 in', '22x1 mm')
    """
    if system() == "metric":
        return example
    return _METRIC_LENGTH.sub(
        lambda m: show_quantity(_to_si(float(m[1]), m[2], "m", None), "m"), example
    )


def read_impedance(given: object, example: str) -> complex:
    """Impedance [ohm], real ("40 ohm") or complex ("40+10j ohm", "40 - j10 ohm").

    Examples
    --------
    >>> read_impedance("40 - j10 ohm", "40 ohm")
    (40-10j)
    """
    text = _plain_text(given, "ohm", example)
    match = _COMPLEX.fullmatch(text)
    if match is None:
        return complex(read_quantity(text, "ohm", example))
    sign = -1.0 if match[2] == "-" else 1.0
    reactance = match[3] or match[4] or "1"
    if reactance[0] in "+-":
        raise _form_refusal(text, "ohm", example)
    unit = match[5]
    return complex(
        _to_si(float(match[1]), unit, "ohm", None),
        _to_si(sign * float(reactance), unit, "ohm", None),
    )


def show_quantity(value: float, unit: str, rounding: Rounding = "nearest") -> str:
    """Text of an SI value in a unit that reads well, a length as lengths are worded now.

    Up to six significant digits; ``rounding`` is that of lengths in feet and inches: "up" for the
    least that is allowed, "down" for the most.

    Examples
    --------
    >>> show_quantity(0.055, "m"), show_quantity(145e6, "Hz"), show_quantity(3, "1")
    ('55 mm', '145 MHz', '3')
    """
    if unit == "1":
        return f"{value:g}"
    if unit == "m" and system() == "imperial":
        finely = abs(value) < _TOLD_FINELY
        return small(value, 0, rounding) if finely else large(value, 2, rounding)
    scales = FAMILIES[unit].scales
    shown = scales[0][1] if value == 0 else next(s for low, s in scales if abs(value) >= low)
    return f"{value / _SCALE.get(shown, 1.0):.6g} {shown}"


def in_other_unit(value: float, unit: str, other: str) -> float:
    """A value in another unit of its kind.

    Examples
    --------
    >>> round(in_other_unit(1.0, "kg", "lb"), 4), round(in_other_unit(40.0, "m/s", "mph"), 1)
    (2.2046, 89.5)
    """
    return float(_registry().Quantity(value, unit).to(other).magnitude)


def show_impedance(value: complex) -> str:
    """Text of an impedance as a study would write it.

    Examples
    --------
    >>> show_impedance(40 + 0j), show_impedance(40 - 10j)
    ('40 ohm', '40-10j ohm')
    """
    if value.imag == 0:
        return f"{value.real:.6g} ohm"
    return f"{value.real:.6g}{value.imag:+.6g}j ohm"


def _plain_text(given: object, unit: str, example: str) -> str:
    """Stripped text of a value, or a refusal of what is no text or too long."""
    kind = FAMILIES[unit].name
    if given is None:
        raise FieldError(
            "is empty",
            f'write {_with_article(kind)}, for example "{example}"',
            "value-empty",
        )
    if isinstance(given, int | float) and not isinstance(given, bool):
        if not math.isfinite(given):
            raise _not_finite(kind, example)
        raise _bare_number(str(given), unit, example)
    if not isinstance(given, str) or len(given) > LONGEST_TEXT:
        raise _shape(kind, example)
    refuse_foreign_digits(given)
    return given.strip().translate(_SPELLINGS)


def _form_refusal(text: str, unit: str, example: str) -> FieldError:
    """Say what is wrong with text that is not a number and a unit."""
    kind = FAMILIES[unit].name
    if _NOT_FINITE.match(text):
        return _not_finite(kind, example)
    if _DECIMAL_COMMA.search(text):
        repaired = text.replace(",", "" if "." in text else ".")
        return FieldError(
            "has a comma in its number; the decimal mark is a point and digits are not grouped",
            f'write it like "{repaired}"',
            "decimal-comma",
        )
    if _BARE_NUMBER.fullmatch(text) or re.fullmatch(length_text.FRACTION, text):
        return _bare_number(text, unit, example)
    return _shape(kind, example)


def _shape(kind: str, example: str) -> FieldError:
    also = ", or feet and inches" if kind == FAMILIES["m"].name else ""
    return FieldError(
        f"is not {_with_article(kind)}: one number followed by one unit is wanted{also}",
        f'write it like "{example}"',
        "quantity-form",
    )


def _not_finite(kind: str, example: str) -> FieldError:
    return FieldError(
        f"is not a finite number, so it is no {kind}",
        f'write it like "{example}"',
        "not-finite",
    )


def _usual_unit(example: str) -> str:
    """Unit of an example; feet where it has feet and inches."""
    return "ft" if " ft" in example else example.split()[-1]


def _bare_number(number: str, unit: str, example: str) -> FieldError:
    """Name the value with the unit the example has, and the other usual units."""
    usual = "in" if "/" in number else _usual_unit(example)
    others = ", ".join(FAMILIES[unit].spellings)
    return FieldError(
        f"has no unit; {_with_article(FAMILIES[unit].name)} needs one ({others})",
        f'write "{number} {usual}" if you mean {usual}',
        "unit-missing",
    )


def _to_si(number: float, unit_text: str, unit: str, wavelength: float | None) -> float:
    """Convert one number; the unit text has passed the pattern."""
    kind = FAMILIES[unit].name
    if unit_text in _WAVELENGTH:
        if unit != "m" or wavelength is None:
            raise _wrong_kind("a number of wavelengths", unit)
        return number * wavelength
    if "dB" in (unit_text, unit):
        # pint would turn decibels into a power ratio; here they stay decibels.
        if unit_text == unit:
            return number
        if unit_text == "dB":
            raise _wrong_kind("a number of decibels", unit)
    usual = next((u for u, f in FAMILIES.items() if unit_text in (u, *f.spellings)), None)
    if unit_text in _SCALE and usual != unit and usual is not None:
        raise _wrong_kind(_with_article(FAMILIES[usual].name), unit)
    if unit_text in _SCALE:
        value = number * _SCALE[unit_text]
    else:
        value = _by_library(number, unit_text, unit)
    if not math.isfinite(value):
        raise FieldError(
            f"is too large for {_with_article(kind)}", "write a smaller number", "not-finite"
        )
    return value


def _by_library(number: float, unit_text: str, unit: str) -> float:
    """Convert from a unit that is not among the usual spellings."""
    import pint

    registry = _registry()
    try:
        parsed = registry.parse_units(unit_text)
    except pint.UndefinedUnitError:
        raise _unknown_unit(unit_text, unit) from None
    if unit == "dB" or not parsed.is_compatible_with(unit):
        raise _wrong_kind(_kind_of(parsed), unit)
    return float(registry.Quantity(number, parsed).to(unit).magnitude)


def _with_article(noun: str) -> str:
    return f"an {noun}" if noun[0] in "aeio" else f"a {noun}"


def _kind_of(parsed: pint.Unit) -> str:
    """Say which kind of quantity a unit measures."""
    for unit, family in FAMILIES.items():
        if unit != "dB" and parsed.is_compatible_with(unit):
            return _with_article(family.name)
    return f"in {parsed}"


def _wrong_kind(given: str, unit: str) -> FieldError:
    family = FAMILIES[unit]
    return FieldError(
        f"is {given}, but {_with_article(family.name)} is needed",
        f"use a unit of {family.name}: {', '.join(family.spellings)}",
        "unit-wrong",
    )


def _unknown_unit(unit_text: str, unit: str) -> FieldError:
    """Name the spelling that comes nearest, of the wanted kind first."""
    wanted = FAMILIES[unit].spellings
    everything = wanted + tuple(s for family in FAMILIES.values() for s in family.spellings)
    folded = {s.casefold(): s for s in reversed(everything)}
    near = difflib.get_close_matches(unit_text.casefold(), folded, n=1, cutoff=0.6)
    remedy = f"did you mean {folded[near[0]]}? " if near else ""
    return FieldError(
        f'has the unit "{unit_text}", which is not known',
        f"{remedy}Units of {FAMILIES[unit].name}: {', '.join(wanted)}",
        "unit-unknown",
    )


def in_unit(value: float, unit: str, grid: float) -> str:
    """A value as a study would write it, lengths to the grid they are rounded to.

    Examples
    --------
    >>> in_unit(0.5002, "m", 1e-4), in_unit(0.001, "m", 1e-3)
    ('500.2 mm', '1 mm')
    """
    if unit != "m":
        return show_quantity(value, unit)
    decimals = 0 if grid >= 1e-3 else 1 if grid >= 1e-4 else 2
    return made_to(value, decimals)
