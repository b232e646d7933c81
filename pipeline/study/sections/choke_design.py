"""The section ``choke_design`` of a study: what cores cost, and what may be spent on them."""

from __future__ import annotations

from typing import Annotated

from models.quantities import Quantity
from pipeline.study import fields as kinds
from pipeline.study.faults import Complaint
from pipeline.study.prices import price, prices_by
from pipeline.study.records import ChokeDesign, Price
from pipeline.study.section import As, Section

MOST_CORES = 12
_MOST = Quantity("1", 1, MOST_CORES, "cores in a set at most", "12")
_EACH = price("of one core", "4.50 EUR")


_PRICES = prices_by(kinds.A_CORE, _EACH, "some cores")


class ChokeDesignSection(Section):
    """What cores cost and what may be spent; used by the command that chooses them."""

    budget: Annotated[tuple[float, str] | None, As(price("for all cores together", "30 EUR"))] = (
        None
    )
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
