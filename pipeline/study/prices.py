"""Prices in a study: an amount and a currency; the currency that the study uses already."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from typing import Any

from pipeline.study.fields import Context, FieldKind, as_text, plain_text
from pipeline.study.records import Price
from pipeline.text.refusals import FieldError, each, refuse_foreign_digits

_PRICE = re.compile(r"([0-9]{1,7}(?:\.[0-9]{1,2})?) ?([A-Z]{3})")
_AMOUNT = re.compile(r"[0-9]{1,7}(?:\.[0-9]{1,2})?")
# Keys below which a study's prices stand.
_KEYS = ("price", "prices", "line_prices", "budget")


def price(meaning: str, example: str) -> FieldKind:
    """Kind of an amount and a currency of three letters."""

    def read(raw: Any, context: Context) -> tuple[float, str]:
        if isinstance(raw, str):
            refuse_foreign_digits(raw)
        if amount := _bare_amount(raw):
            rule = "has no currency; an amount of money needs one, in three capital letters"
            currency = context.currency or example[-3:]
            raise FieldError(rule, f'write "{amount} {currency}"', "price-form")
        match = _PRICE.fullmatch(plain_text(as_text(raw), 20, example))
        if match is None:
            raise FieldError(
                "is not an amount and a currency of three capital letters",
                f"write it like {example}",
                "price-form",
            )
        return float(match[1]), match[2]

    schema = {"type": "string", "pattern": f"^{_PRICE.pattern}$", "description": meaning}
    return FieldKind(read, example, {**schema, "examples": [example]})


def prices_by(thing: FieldKind, price_of_one: FieldKind, things: str) -> FieldKind:
    """Kind of a price for each of some things of a catalogue, all in one currency.

    ``thing`` reads the name of one, ``price_of_one`` its price, ``things`` is what they are called.
    """
    example = f"{{{thing.example}: {price_of_one.example}}}"

    def read(raw: Any, context: Context) -> tuple[Price, ...]:
        if not isinstance(raw, dict) or not raw:
            raise FieldError(f"is not a price for each of {things}", example, "value-kind")

        def priced(name: str, given: Any) -> tuple[Any, tuple[float, str]]:
            return thing.read(name, context), price_of_one.read(given, context)

        read_one = ((name, partial(priced, name, given)) for name, given in raw.items())
        found: dict[str, Price] = {}
        for name, (one, (amount, currency)) in zip(raw, each(read_one), strict=True):
            if one.id in found:
                rule = f"names {one.name} a second time"
                raise FieldError(rule, "leave one of the two out", "key-duplicate", (name,))
            found[one.id] = Price(one.id, amount, currency)
        currencies = dict.fromkeys(price.currency for price in found.values())
        if len(currencies) > 1:
            rule = f"are in several currencies: {', '.join(currencies)}"
            remedy = f"give all of them in {next(iter(currencies))}"
            raise FieldError(rule, remedy, "price-currency")
        return tuple(found.values())

    one_price = price_of_one.schema
    schema = {
        "type": "object",
        "minProperties": 1,
        "description": f"price {one_price['description']}, by {thing.schema['description']}",
        "additionalProperties": one_price,
    }
    return FieldKind(read, example, schema)


def currency_in(data: Any) -> str:
    """Currency of the first sound price in a study's plain data; empty where there is none.

    Examples
    --------
    >>> currency_in({"chokes": [{"id": "four", "price": "18 EUR"}], "choke_design": {"budget": 30}})
    'EUR'
    """
    matches = (_PRICE.fullmatch(text.strip()) for text in _price_texts(data, False))
    return next((match[2] for match in matches if match), "")


def _price_texts(data: Any, priced: bool) -> Iterator[str]:
    """Every text below a key of prices; ``priced`` says whether there is one above already."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _price_texts(value, priced or key in _KEYS)
    elif isinstance(data, list):
        for value in data:
            yield from _price_texts(value, priced)
    elif priced and isinstance(data, str):
        yield data


def _bare_amount(raw: Any) -> str:
    """An amount that was written without a currency, as a price has it; empty if it is none."""
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        return ""
    text = f"{raw:.2f}" if isinstance(raw, float) else str(raw).strip()
    return text if _AMOUNT.fullmatch(text) else ""
