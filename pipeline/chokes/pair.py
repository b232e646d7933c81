"""Two chokes on one cable, each of its own kind and at its own place.

The two are whole chokes by themselves; what is asked of the pair is the sum or the list of what
they answer. More than two are not one candidate: tables have a first and a second place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass
from models.lengths import large
from pipeline.chokes.kind import SLACK, Choke, Host
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class PairChoke(Choke):
    """Two chokes on one cable, each at a place of its own; the first is nearer to the antenna."""

    kind: ClassVar[str] = "pair"
    holds: ClassVar[tuple[str, ...]] = ("first", "second")
    place_keys: ClassVar[tuple[tuple[str, ...], ...]] = (
        ("first", "position"),
        ("second", "position"),
    )
    shorter: ClassVar[str] = "fewer cores"

    first: Choke
    second: Choke

    @classmethod
    def of(cls, name: str, label: str, first: Choke, second: Choke) -> Self:
        """Pair of two chokes; priced where both are, as one candidate in one currency."""
        both = (first, second)
        prices = [one.price for one in both if one.price is not None]
        whole = len(prices) == len(both)
        pair = cls(
            id=name,
            label=label,
            position=first.position,
            count=sum(one.count for one in both),
            price=sum(prices) if whole else None,
            currency=first.currency if whole else "",
            first=first,
            second=second,
        )
        return pair if label else replace(pair, label=pair.part)

    @property
    def members(self) -> dict[tuple[str, ...], Choke]:
        """Both chokes by their keys."""
        return {("first",): self.first, ("second",): self.second}

    @property
    def placed(self) -> tuple[Choke, ...]:
        """Both chokes."""
        return self.first, self.second

    def _each(self, asked: Callable[[Choke], Iterable[T]]) -> tuple[T, ...]:
        """What both answer, each answer once."""
        return tuple(dict.fromkeys(answer for one in self.placed for answer in asked(one)))

    @property
    def files(self) -> tuple[str, ...]:
        """Files of both."""
        return self._each(lambda one: one.files)

    def notes(self, host: Host) -> tuple[str, ...]:
        """What is worth knowing about either."""
        return self._each(lambda one: one.notes(host))

    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """Impedance of both together, one pass of the cable, shape (n_f,) [ohm]."""
        return self.first.impedance(f, host) + self.second.impedance(f, host)

    def drawn_impedance(
        self, host: Host, factors: Mapping[str, NDArray[np.float64]]
    ) -> NDArray[np.complex128]:
        """Impedance of both together in every draw, shape (n or 1,) [ohm]."""
        each = [one.drawn_impedance(host, factors) for one in self.placed]
        return np.asarray(each[0] + each[1])

    def spread(self, host: Host) -> tuple[float, float]:
        """Least and largest factor of either: that of both together lies between them."""
        low, high = zip(*(one.spread(host) for one in self.placed), strict=True)
        return min(low), max(high)

    @property
    def acts_over(self) -> float:
        """Length of both together. [m]"""
        return self.first.acts_over + self.second.acts_over

    def misfit(self, main: CoaxClass) -> FieldError | None:
        """What keeps either from the cable, two that overlap, or prices in two currencies."""
        for key, one in self.members.items():
            if (found := one.misfit(main)) is not None:
                return found.below(*key)
        currencies = [one.currency for one in self.placed if one.currency]
        if len(set(currencies)) > 1:
            rule = f"is in {currencies[1]}, and that of the first choke in {currencies[0]}"
            remedy = f"give both in {currencies[0]}"
            return FieldError(rule, remedy, "price-currency", ("second", "price"))
        end = self.first.position + self.first.acts_over
        if self.second.position >= end - SLACK:
            return None
        here = show_quantity(self.first.position, "m")
        rule = f"lies before the end of the first choke, which begins {here} from the antenna"
        remedy = f"position: {show_quantity(end, 'm', 'up')} or more"
        return FieldError(rule, remedy, "rows-overlap", ("second", "position"))

    def with_measurement(self, known: Mapping[str, Any]) -> Self:
        """The same with what was measured of the core of either."""
        first, second = (one.with_measurement(known) for one in self.placed)
        return replace(self, first=first, second=second)

    @property
    def pieces_beside(self) -> int:
        """Pieces that putting both on takes: where one is solid the connector comes off once."""
        return max(one.pieces_beside for one in self.placed)

    @property
    def on_sale(self) -> bool:
        """Whether both can be had."""
        return all(one.on_sale for one in self.placed)

    @property
    def part(self) -> str:
        """Both with their places, in a sentence."""
        return " and ".join(f"{one.named}, at {large(one.position)}" for one in self.placed)

    @property
    def named(self) -> str:
        """Both with their places, in a sentence."""
        return self.part

    @property
    def short(self) -> str:
        """Both with their places, in a row of a table."""
        return " and ".join(_short(one) for one in self.placed)

    @property
    def begins(self) -> str:
        """Where either begins."""
        first, second = map(large, self.positions)
        return f"the first starting {first} and the second {second} from the antenna"

    def curves(self) -> tuple[tuple[Choke, tuple[Any, ...], str], ...]:
        """Curves of both."""
        return self.first.curves() + self.second.curves()


def _short(one: Choke) -> str:
    place = f"at {large(one.position)}"
    return one.short if place in one.short else f"{one.short}, {place}"
