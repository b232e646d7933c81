"""The section ``choke_design`` of a study: what cores cost, and what may be spent on them."""

from __future__ import annotations

from typing import Annotated, Any

from models.catalogue import ferrite_core
from models.quantities import Quantity
from pipeline import study_fields as kinds
from pipeline.study_faults import Complaint
from pipeline.study_fields import Context, FieldKind
from pipeline.study_section import As, Section
from pipeline.study_types import ChokeDesign, Price
from pipeline.units import FieldError

MOST_CORES = 12
_MOST = Quantity("1", 1, MOST_CORES, "cores in a set at most", "12")
_A_CORE = kinds.named(ferrite_core, "id or name in ferrites.csv", "mix-43-clamp-12-7")
_EACH = kinds.price("of one core", "4.50 EUR")


def _read_prices(raw: Any, context: Context) -> tuple[Price, ...]:
    """Prices by core, in one currency."""
    example = f"prices: {{{_A_CORE.example}: {_EACH.example}}}"
    if not isinstance(raw, dict) or not raw:
        raise FieldError("is not a price for each of some cores", example, "value-kind")
    found: dict[str, Price] = {}
    for name, given in raw.items():
        try:
            core = _A_CORE.read(name, context)
            amount, currency = _EACH.read(given, context)
        except FieldError as error:
            raise FieldError(error.rule, error.remedy, error.tag, (str(name),)) from error
        if core.id in found:
            rule = f"names {core.name} a second time"
            raise FieldError(rule, "leave one of the two out", "key-duplicate", (str(name),))
        found[core.id] = Price(core.id, amount, currency)
    currencies = dict.fromkeys(price.currency for price in found.values())
    if len(currencies) > 1:
        rule = f"are in several currencies: {', '.join(currencies)}"
        raise FieldError(rule, f"give all of them in {next(iter(currencies))}", "price-currency")
    return tuple(found.values())


_PRICES = FieldKind(
    _read_prices,
    f"{{{_A_CORE.example}: {_EACH.example}}}",
    {
        "type": "object",
        "minProperties": 1,
        "description": "price of one core by id or name in ferrites.csv",
        "additionalProperties": _EACH.schema,
    },
)


class ChokeDesignSection(Section):
    """What cores cost and what may be spent; used by the command that chooses them."""

    budget: Annotated[
        tuple[float, str] | None, As(kinds.price("for all cores together", "30 EUR"))
    ] = None
    prices: Annotated[tuple[Price, ...] | None, As(_PRICES)] = None
    most: Annotated[int, As(kinds.whole(_MOST))] = MOST_CORES

    def record(self) -> ChokeDesign:
        """Frozen record."""
        amount, currency = self.budget or (None, "")
        return ChokeDesign(amount, currency, self.prices or (), self.most)


def check_choke_design(design: ChokeDesign) -> list[Complaint]:
    """A budget has to be in the money that the cores are sold for."""
    if design.budget is None or not design.prices:
        return []
    currency = design.prices[0].currency
    if currency == design.currency:
        return []
    rule = f"is in {design.currency}, the prices are in {currency}"
    remedy = f"give both in {currency}"
    return [Complaint(("choke_design", "budget"), rule, remedy, "price-currency")]
