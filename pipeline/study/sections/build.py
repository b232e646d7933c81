"""Costs and making: prices of parts, how the antenna is cut and joined, what cores may cost.

The sections ``build``, ``choke_design`` and the key ``line_prices``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, NamedTuple

from models.quantities import Choice, Key, Quantity
from pipeline.study import fields as kinds
from pipeline.study.fields import Context, FieldKind, as_text, plain_text
from pipeline.study.section import study_section
from pipeline.text.refusals import FieldError, each, refuse_foreign_digits
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath

if TYPE_CHECKING:
    from pipeline.study.sections_read import Parts

_PRICE = re.compile(r"([0-9]{1,7}(?:\.[0-9]{1,2})?) ?([A-Z]{3})")
_AMOUNT = re.compile(r"[0-9]{1,7}(?:\.[0-9]{1,2})?")
# Keys below which a study's prices stand.
_KEYS = ("price", "prices", "line_prices", "budget")


class Money(NamedTuple):
    """An amount and its currency of three letters."""

    amount: float
    currency: str


@dataclass(frozen=True)
class Price:
    """Price of a part: of a metre of pipe or cable, or of one piece."""

    part: str
    amount: float
    currency: str


def price(meaning: str, example: str) -> FieldKind:
    """Kind of an amount and a currency of three letters."""

    def read(raw: Any, context: Context) -> Money:
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
        return Money(float(match[1]), match[2])

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

        def priced(name: str, given: Any) -> tuple[Any, Money]:
            return thing.read(name, context), price_of_one.read(given, context)

        read_one = ((name, partial(priced, name, given)) for name, given in raw.items())
        found: dict[str, Price] = {}
        for name, (one, (amount, currency)) in zip(raw, each(read_one), strict=True):
            if one.id in found:
                rule = f"names {one.name} a second time"
                raise FieldError(rule, "leave one of the two out", "key-duplicate", (name,))
            found[one.id] = Price(one.id, amount, currency)
        if mixed := _mixed(found.values()):
            raise FieldError(*mixed, "price-currency")
        return tuple(found.values())

    one_price = price_of_one.described()
    schema = {
        "type": "object",
        "minProperties": 1,
        "description": f"price {one_price['description']}, by {thing.described()['description']}",
        "additionalProperties": one_price,
    }
    return FieldKind(read, example, schema)


def _mixed(prices: Iterable[Price]) -> tuple[str, str] | None:
    """Rule and remedy for prices that cannot be added up."""
    currencies = list(dict.fromkeys(price.currency for price in prices))
    if len(currencies) < 2:
        return None
    rule = f"are in several currencies: {', '.join(currencies)}"
    return rule, f"give all of them in {currencies[0]}"


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


_PER_METRE = price("of one metre of the antenna's pipe", "9.80 EUR")
_EACH = price("of one piece", "1.20 EUR")
_REACH = Quantity("m", 0.005, 0.25, "from the fitting's centre to the rim of its cup", "27 mm")
_CUP = Quantity("m", 0.003, 0.1, "depth of the cup", "15.4 mm")


@dataclass(frozen=True)
class PartPrices:
    """What the parts cost; all in one currency."""

    schema_title: ClassVar[str] = "PricesSection"
    pipe: Annotated[Money | None, _PER_METRE] = None
    elbow: Annotated[Money | None, _EACH] = None
    tee: Annotated[Money | None, _EACH] = None
    coupling: Annotated[Money | None, _EACH] = None
    cap: Annotated[Money | None, _EACH] = None
    clamp: Annotated[Money | None, _EACH] = None


@dataclass(frozen=True)
class Measured:
    """A fitting as its owner measured it."""

    centre_to_end: Annotated[float | None, _REACH] = None
    cup: Annotated[float | None, _CUP] = None

    def laying_length(self, cup: float | None, usual: float | None) -> float | None:
        """From its centre to the bottom of a cup of a depth [m], the usual one if not measured."""
        if self.centre_to_end is None:
            return usual
        return None if cup is None else self.centre_to_end - cup


@dataclass(frozen=True)
class MeasuredCap:
    """A cap as its owner measured it."""

    end: Annotated[
        float | None, Quantity("m", 2e-4, 0.02, "thickness of the cap's end", "1 mm")
    ] = None
    cup: Annotated[float | None, _CUP] = None

    def laying_length(self, cup: float | None, usual: float | None) -> float | None:
        """Thickness of its end [m], the usual one if not measured."""
        del cup
        return usual if self.end is None else self.end


@dataclass(frozen=True)
class Fittings:
    """Measured fittings; they stand in for those of the catalogue."""

    elbow_90: Measured | None = None
    elbow_45: Measured | None = None
    tee: Measured | None = None
    coupling: Measured | None = None
    cap: MeasuredCap | None = None

    def measured(self) -> dict[str, Measured | MeasuredCap]:
        """Those that were measured, by their kind in models/construction/fittings.py."""
        given = {f.name.replace("_", " "): getattr(self, f.name) for f in fields(self)}
        return {kind: fitting for kind, fitting in given.items() if fitting is not None}


@study_section("build", states_defaults=False)
@dataclass(frozen=True)
class Build:
    """How the antenna is cut and joined; used by the command that makes the cut list."""

    joints: Annotated[
        str,
        kinds.one_of(
            Choice(("fittings", "mitred"), "how pipes are joined; may be left out: what goes")
        ),
    ] = ""
    kerf: Annotated[
        float, Quantity("m", 0.0, 0.006, "width of a saw cut, 0 mm for a tube cutter", "1.5 mm")
    ] = 1.5e-3
    stock: Annotated[
        float | None,
        Quantity(
            "m",
            0.5,
            12.0,
            "length that the pipe is sold in; may be left out: by its standard",
            "3 m",
        ),
    ] = None
    wind_speed: Annotated[
        float, Quantity("m/s", 10.0, 90.0, "wind to find the load for", "40 m/s")
    ] = 40.0
    part_prices: Annotated[PartPrices, Key("prices")] = PartPrices()
    fittings: Fittings = Fittings()
    # A sentence for each value that the file left out.
    defaults: tuple[str, ...] = ()

    @property
    def prices(self) -> tuple[Price, ...]:
        """Prices of the parts that have one."""
        given = ((f.name, getattr(self.part_prices, f.name)) for f in fields(PartPrices))
        return tuple(Price(key, *money) for key, money in given if money is not None)

    def as_read(self, given: frozenset[str], stated: Sequence[str]) -> Build:
        """With sentences about what the file left out."""
        del given
        told = tuple(f"build.{s}" for s in stated if s.startswith(("kerf:", "wind_speed:")))
        return replace(self, defaults=told)

    def check(self, parts: Parts) -> list[FieldError]:
        """Prices are added up, so they share a currency; a cup lies inside its fitting."""
        del parts
        mixed = _mixed(self.prices)
        complaints = [FieldError(*mixed, "price-currency", ("build", "prices"))] if mixed else []
        for key in ("elbow_90", "elbow_45", "tee", "coupling"):
            fitting = getattr(self.fittings, key)
            if fitting is None or fitting.cup is None or fitting.centre_to_end is None:
                continue
            if fitting.centre_to_end <= fitting.cup:
                cup = show_quantity(fitting.cup, "m")
                rule = f"is not more than the depth of the cup ({cup}), which is a part of it"
                remedy = "measure from the centre of the fitting to the rim of its cup"
                at: KeyPath = ("build", "fittings", key, "centre_to_end")
                complaints.append(FieldError(rule, remedy, "fitting-size", at))
        return complaints


MOST_CORES = 12
_CORE_PRICES = prices_by(kinds.A_CORE, price("of one core", "4.50 EUR"), "some cores")
LINE_PRICES = prices_by(
    kinds.A_COAX, price("of one metre of cable", "2.10 EUR"), "some classes of cable"
)


@study_section("choke_design", states_defaults=False)
@dataclass(frozen=True)
class ChokeDesign:
    """What cores cost and what may be spent; used by the command that chooses them."""

    # None: no limit.
    budget: Annotated[Money | None, price("for all cores together", "30 EUR")] = None
    prices: Annotated[tuple[Price, ...], _CORE_PRICES] = ()
    most: Annotated[int, Quantity("1", 1, MOST_CORES, "cores in a set at most", "12")] = MOST_CORES

    def check(self, parts: Parts) -> list[FieldError]:
        """A budget has to be in the money that the cores are sold for."""
        del parts
        if self.budget is None or not self.prices:
            return []
        currency = self.prices[0].currency
        if currency == self.budget.currency:
            return []
        rule = f"is in {self.budget.currency}, the prices are in {currency}"
        remedy = f"give both in {currency}"
        return [FieldError(rule, remedy, "price-currency", ("choke_design", "budget"))]
