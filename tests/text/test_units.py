from __future__ import annotations

import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.text.refusals import FieldError
from pipeline.text.units import (
    _SCALE,
    FAMILIES,
    _by_library,
    read_impedance,
    read_quantity,
    show_impedance,
    show_quantity,
)


def value_or_refusal(text: str) -> float | FieldError:
    try:
        return read_quantity(text, "m", "55 mm", 2.0)
    except FieldError as error:
        return error


# Published: NIST Special Publication 811 (2008), appendix B.8, exact conversion factors of the
# inch, foot and yard; SI prefixes from the SI Brochure (BIPM, 9th edition, table 7).

READ = [
    ("1 in", "m", 0.0254),
    ("1 inch", "m", 0.0254),
    ("1 ft", "m", 0.3048),
    ("1 yd", "m", 0.9144),
    ("1 mm", "m", 1e-3),
    ("1 cm", "m", 1e-2),
    ("1 km", "m", 1e3),
    ("1 kHz", "Hz", 1e3),
    ("1 MHz", "Hz", 1e6),
    ("1 GHz", "Hz", 1e9),
    ("1 mW", "W", 1e-3),
    ("1 kohm", "ohm", 1e3),
    ("1 mS/m", "S/m", 1e-3),
    # Usual spellings.
    ("55 mm", "m", 0.055),
    ("55mm", "m", 0.055),
    ("  55   mm ", "m", 0.055),
    ("+5.5e1 mm", "m", 0.055),
    (".055 m", "m", 0.055),
    ("55. mm", "m", 0.055),
    ("145 MHz", "Hz", 145e6),
    ("40 Ω", "ohm", 40.0),
    ("40 \u2126", "ohm", 40.0),
    ("40 ohms", "ohm", 40.0),
    ("5000 µS/m", "S/m", 5e-3),
    ("0.005 S/m", "S/m", 5e-3),
    ("0.05 dB", "dB", 0.05),
    ("-3 dB", "dB", -3.0),
    ("\u22123 dB", "dB", -3.0),
]


@pytest.mark.parametrize(("text", "unit", "expected"), READ)
def test_units_are_worth_what_the_published_tables_say_in_all_usual_spellings(
    text: str, unit: str, expected: float
) -> None:
    assert read_quantity(text, unit, "") == pytest.approx(expected, rel=1e-15)


def test_a_wavelength_is_that_of_the_study() -> None:
    assert read_quantity("0.25 wavelength", "m", "1 m", 2.0) == 0.5
    assert read_quantity("2 wavelengths", "m", "1 m", 2.0) == 4.0


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("40 ohm", 40),
        ("40+10j ohm", 40 + 10j),
        ("40 - 10j ohm", 40 - 10j),
        ("40+j10 ohm", 40 + 10j),
        ("40 - j 10 Ω", 40 - 10j),
        ("0.04-0.01j kohm", 40 - 10j),
        ("40 + j ohm", 40 + 1j),
        ("-5e-1+2.5E1j ohm", -0.5 + 25j),
    ],
)
def test_impedances_are_read_in_all_usual_ways(text: str, expected: complex) -> None:
    assert read_impedance(text, "40 ohm") == pytest.approx(expected)


@pytest.mark.parametrize("unit", FAMILIES)
def test_the_usual_spellings_are_worth_what_the_library_of_units_says(unit: str) -> None:
    spellings = {s for s in FAMILIES[unit].spellings if s in _SCALE}
    assert spellings or unit == "m/s"
    for spelling in spellings - {"dB"}:
        value = 1480.5 * _SCALE[spelling]
        assert _by_library(1480.5, spelling, unit) == pytest.approx(value, rel=1e-15)


# Laws


@pytest.mark.parametrize("unit", FAMILIES)
@given(value=st.floats(1e-6, 1e10))
def test_what_is_shown_reads_back_to_six_digits(unit: str, value: float) -> None:
    assert read_quantity(show_quantity(value, unit), unit, "") == pytest.approx(value, rel=1e-5)


@given(value=st.floats(-1e9, 1e9, allow_subnormal=False), unit=st.sampled_from(["mm", "ft", "m"]))
def test_every_float_is_read_whatever_its_notation(value: float, unit: str) -> None:
    factor = {"mm": 1e-3, "ft": 0.3048, "m": 1.0}[unit]
    text = f"{value:.17e} {unit}" if abs(value) > 1e-90 else f"0 {unit}"
    expected = value * factor if abs(value) > 1e-90 else 0.0
    assert read_quantity(text, "m", "") == pytest.approx(expected, rel=1e-14)


@given(resistance=st.floats(1e-9, 1e5), reactance=st.floats(-1e5, -1e-9) | st.just(0.0))
def test_a_shown_impedance_reads_back(resistance: float, reactance: float) -> None:
    z = complex(resistance, reactance)
    again = read_impedance(show_impedance(z), "40 ohm")
    assert again.real == pytest.approx(z.real, rel=1e-5, abs=1e-90)
    assert again.imag == pytest.approx(z.imag, rel=1e-5, abs=1e-90)


@given(text=st.text(max_size=60))
def test_any_text_at_all_gives_a_finite_number_or_a_refusal(text: str) -> None:
    outcome = value_or_refusal(text)
    if isinstance(outcome, FieldError):
        assert outcome.rule
        assert outcome.remedy
        assert outcome.tag
    else:
        assert math.isfinite(outcome)


@given(text=st.from_regex(r"[0-9.+\-*^() ]{1,20}[a-zA-Z_/*]{1,12}", fullmatch=True))
def test_nothing_that_looks_like_arithmetic_is_worked_out(text: str) -> None:
    if any(sign in text for sign in "*^()_"):
        with pytest.raises(FieldError):
            read_quantity(text, "m", "55 mm", 2.0)


# Refusals


@pytest.mark.parametrize(
    ("given_value", "unit", "tag", "rule", "remedy"),
    [
        (55, "m", "unit-missing", "has no unit", '"55 mm"'),
        (5.5, "m", "unit-missing", "has no unit", '"5.5 mm"'),
        ("55", "m", "unit-missing", "has no unit", '"55 mm"'),
        ("55 MHz", "m", "unit-wrong", "is a frequency, but a length is needed", "mm"),
        ("40 ohm", "Hz", "unit-wrong", "is an impedance, but a frequency is needed", "MHz"),
        ("5 kg", "m", "unit-wrong", "is in kilogram, but a length is needed", "mm"),
        ("3 dB", "m", "unit-wrong", "is a number of decibels", "mm"),
        ("3 m", "dB", "unit-wrong", "is a length, but a loss is needed", "dB"),
        ("1 radian", "dB", "unit-wrong", "but a loss is needed", "dB"),
        ("2 wavelength", "Hz", "unit-wrong", "is a number of wavelengths", "MHz"),
        ("145 Mhz", "Hz", "unit-unknown", "Mhz", "did you mean MHz?"),
        ("25 w", "W", "unit-unknown", '"w"', "did you mean W?"),
        ("1 db", "dB", "unit-wrong", "but a loss is needed", "dB"),
        ("8 metrs", "m", "unit-unknown", "metrs", "Units of length: m, mm, cm"),
        ("0.5 wavelenght", "m", "unit-unknown", "wavelenght", "did you mean wavelength?"),
        ("0,5 m", "m", "decimal-comma", "decimal mark is a point", "0.5 m"),
        ("1,480.5 mm", "m", "decimal-comma", "digits are not grouped", "1480.5 mm"),
        (math.nan, "m", "not-finite", "not a finite number", "55 mm"),
        (-math.inf, "m", "not-finite", "not a finite number", "55 mm"),
        ("NaN m", "m", "not-finite", "not a finite number", "55 mm"),
        ("-.inf m", "m", "not-finite", "not a finite number", "55 mm"),
        ("1e999 m", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("9**9**9 m", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("(1+1) m", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("2 m*m/m", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("2 m**1", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("2 " + "m" * 30, "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("9" * 500 + " m", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("__import__ m", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("mm", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        ("", "m", "quantity-form", "one number followed by one unit", "55 mm"),
        (True, "m", "quantity-form", "one number followed by one unit", "55 mm"),
        (["55 mm"], "m", "quantity-form", "one number followed by one unit", "55 mm"),
        (None, "m", "value-empty", "is empty", "55 mm"),
    ],
)
def test_a_refusal_names_rule_and_remedy(
    given_value: object, unit: str, tag: str, rule: str, remedy: str
) -> None:
    example = {"m": "55 mm", "Hz": "145 MHz", "W": "25 W", "dB": "0.05 dB"}[unit]
    with pytest.raises(FieldError) as caught:
        read_quantity(given_value, unit, example, 2.0)
    assert caught.value.tag == tag
    assert rule in caught.value.rule
    assert remedy in caught.value.remedy


def test_wavelengths_need_a_known_frequency() -> None:
    with pytest.raises(FieldError, match="number of wavelengths"):
        read_quantity("1 wavelength", "m", "55 mm")


@pytest.mark.parametrize("text", ["40+-10j ohm", "40+10 ohm", "40j+10j ohm", "40+10i ohm"])
def test_an_impedance_of_another_form_is_refused(text: str) -> None:
    with pytest.raises(FieldError, match="quantity-form"):
        read_impedance(text, "40 ohm")


def test_a_refusal_survives_the_way_between_processes() -> None:
    error = FieldError("rule", "remedy", "tag", ("at", 1))
    again = pickle.loads(pickle.dumps(error))
    assert (again.rule, again.remedy, again.tag, again.at) == ("rule", "remedy", "tag", ("at", 1))
