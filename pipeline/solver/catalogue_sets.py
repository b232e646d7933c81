"""Sets of catalogue parts that may be tried on a study's cable, as plain chokes with their prices.

A study in; out come sets of equal cores in every number, at one of the study's places or in equal
halves at two, and what they cost. No row lies across a bend. Coils and sleeves are no part of it:
they change the drawing (``standard_chokes``).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from models.catalogues.parts import FerriteCore
from pipeline.chokes.ferrite import FerriteChoke, measured_cores
from pipeline.chokes.kind import SLACK, Choke
from pipeline.circuit.choke_materials import looser, one_pass
from pipeline.study.catalogue_rows import LeftOut, usable_cores
from pipeline.study.records import RowPlace, Study


def catalogue_sets(study: Study) -> tuple[Choke, ...]:
    """Every set of catalogue parts that fits a study's cable, the cheapest first.

    Those without a price stand behind those that have one, ordered by their pieces; of two that
    cost the same the one with more impedance comes first. Sets that the study lists are left out.
    """
    prices, currency = prices_of(study)
    cores, _ = worth_trying(study)
    listed = {_sameness(choke) for choke in study.chokes}
    sets = [s for core in cores for s in _sets_of(core, study) if _sameness(s) not in listed]
    measured = measured_cores(study.chokes)
    sets = [_priced(s.with_measurement(measured), prices, currency) for s in sets]
    each = {core: abs(one_pass(core, study.frequency) or 0.0) for core in cores}

    def order(tried: Choke) -> tuple[float, ...]:
        cost, pieces = set_cost(tried, currency), set_cost(tried, "") or 0.0
        core = tried.ferrite_core
        strength = 0.0 if core is None else tried.count * each[core]
        return (math.inf if cost is None else cost, pieces, -strength, *tried.positions)

    return tuple(sorted(sets, key=order))


def worth_trying(study: Study) -> tuple[tuple[FerriteCore, ...], LeftOut]:
    """Cores that may be advised at the study's frequency, and all others by the reason."""
    known, out = usable_cores(study)
    loose = looser(known, study.frequency, prices_of(study)[0])
    return tuple(c for c in known if c not in loose), replace(out, loose=loose)


def prices_of(study: Study) -> tuple[dict[str, float], str]:
    """Price of one core by id, and the currency: the section's own, else those of the candidates.

    Empty where there are none, or in several currencies.
    """
    if study.choke_design.prices:
        prices = study.choke_design.prices
        return {p.part: p.amount for p in prices}, prices[0].currency
    found = {
        row.ferrite_core.id: (row.price / row.count, row.currency)
        for choke in study.chokes
        for row in choke.placed
        if row.ferrite_core is not None and row.price is not None
    }
    currencies = {currency for _, currency in found.values()}
    if len(currencies) != 1:
        return {}, ""
    return {name: amount for name, (amount, _) in found.items()}, currencies.pop()


def set_cost(choke: Choke | None, currency: str) -> float | None:
    """Cost in a currency, ``None`` where it has no price in it; without a currency in pieces.

    Where it goes on with the connector off, putting one on again is a piece more. No choke costs
    nothing.
    """
    if choke is None:
        return 0.0
    if not currency:
        return float(choke.count + choke.pieces_beside)
    return choke.price if choke.currency == currency else None


def _sets_of(core: FerriteCore, study: Study) -> Iterator[FerriteChoke]:
    """Every number of one core at one place, and equal halves at two."""
    for count in range(1, study.choke_design.most + 1):
        row = count * core.length
        roomy = [place for place in study.rows if row <= place.room + SLACK]
        yield from (_set(core, count, (place,)) for place in roomy)
        if 2 * count <= study.choke_design.most:
            yield from (
                _set(core, 2 * count, pair)
                for pair in itertools.combinations(roomy, 2)
                if pair[0].position + row <= pair[1].position
            )


def _set(core: FerriteCore, count: int, places: Sequence[RowPlace]) -> FerriteChoke:
    first, *more = (place.position for place in places)
    share = count // len(places)
    rows = "-and-".join(f"x{share}-at-{place.position:.2f}m" for place in places)
    tried = FerriteChoke(
        id=f"{core.id}-{rows}",
        label="",
        position=first,
        count=count,
        core=core,
        also_at=more[0] if more else None,
    )
    return replace(tried, label=f"{count} x {core.name}, {tried.spread_out}")


def _priced(tried: FerriteChoke, prices: dict[str, float], currency: str) -> FerriteChoke:
    """A set with its price, where its core has one."""
    if tried.core.id not in prices:
        return tried
    return replace(tried, price=round(prices[tried.core.id] * tried.count, 2), currency=currency)


def _sameness(choke: Choke) -> tuple[object, ...]:
    """What two sets have in common that are the same but for their names."""
    return tuple((row.ferrite_core, row.count, row.position) for row in choke.placed)
