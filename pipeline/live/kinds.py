"""Kinds of choke that a page offers: cores of the catalogue that fit, and the study's others.

A study in; for each kind one piece of it, what it is called, costs and how a study file writes it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, get_type_hints

from models.quantities import Choice, Part, Quantity
from pipeline.chokes.ferrite import FerriteChoke, measured_cores
from pipeline.chokes.kind import Choke
from pipeline.chokes.kinds import KINDS
from pipeline.solver.cases import ideal_choke
from pipeline.solver.catalogue_sets import prices_of, worth_trying
from pipeline.study.records import Study
from pipeline.text.units import show_quantity

# Keys that a page sets by itself, or that say nothing of what a choke is.
_SET_BY_PAGE = ("id", "label", "count", "position", "also_at", "price")


@dataclass(frozen=True)
class LiveKind:
    """A kind of choke: ``one`` piece of it at its usual place, and its keys in a study file.

    ``most`` pieces may be put in a row.
    """

    id: str
    label: str
    one: Choke
    most: int
    study: Mapping[str, Any]


def kinds_of(study: Study, entries: list[Any]) -> tuple[LiveKind, ...]:
    """All kinds of a study's page; ``entries`` are its candidates as its file writes them."""
    return (*_cores(study, entries), *_others(study, entries))


def _cores(study: Study, entries: list[Any]) -> Iterator[LiveKind]:
    """Cores of the catalogue and of the study's candidates, measured where the study has that."""
    rows = [row for choke in study.chokes for row in choke.placed]
    counted = [(row.ferrite_core, row) for row in rows]
    own = {core.id: (core, choke) for core, choke in counted if core is not None}
    cores = {name: core for name, (core, _) in own.items()}
    cores |= {core.id: core for core in worth_trying(study)[0]}
    measured, (prices, currency) = measured_cores(study.chokes), prices_of(study)
    listed = [choke.count for _, choke in own.values()]
    place = ideal_choke(study).position
    for name, core in cores.items():
        one = FerriteChoke(id=name, label=core.name, position=place, core=core)
        one = one.with_measurement(measured)
        if name in prices:
            one = replace(one, price=prices[name], currency=currency)
        most = max([study.choke_design.most, *listed])
        written = _written(own[name][1], entries) if name in own else None
        yield LiveKind(name, core.name, one, most, written or keys_of(one))


def _others(study: Study, entries: list[Any]) -> Iterator[LiveKind]:
    for one in (row for choke in study.chokes for row in choke.placed):
        if one.ferrite_core is None:
            yield LiveKind(one.id, one.label, one, 1, _written(one, entries) or keys_of(one))


def kind_id(choke: Choke) -> str:
    """Name of the kind that a candidate, or one of several that it is, is of."""
    return choke.id if choke.ferrite_core is None else choke.ferrite_core.id


def _written(choke: Choke, entries: list[Any]) -> dict[str, Any] | None:
    """Keys of a candidate as the study's file has them; None where it does not stand there."""
    for entry in _each_choke(entries):
        name = entry["id"]
        # One of a list of counts or places has more behind the name of its entry.
        is_named = choke.id == name or choke.id.startswith(f"{name}-")
        if is_named and entry["kind"] == choke.kind:
            return {k: v for k, v in entry.items() if k not in _SET_BY_PAGE}
    return None


def _each_choke(entries: list[Any]) -> Iterator[dict[str, Any]]:
    """Every choke that a file has, those of several at once under the names that they have."""
    for entry in entries:
        yield entry
        for key in KINDS[entry["kind"]].holds:
            yield {"id": f"{entry['id']}-{key}", **entry[key]}


def keys_of(choke: Choke) -> dict[str, Any]:
    """Keys of a study file that make a choke which stands in none.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> core = ferrite_core("mix-43-clamp-12-7")
    >>> keys_of(FerriteChoke(id="x", label="x", position=0.1, count=4, core=core))
    {'kind': 'ferrite', 'core': 'mix-43-clamp-12-7'}
    """
    hints = get_type_hints(type(choke), include_extras=True)
    found: dict[str, Any] = {"kind": choke.kind}
    for field in fields(choke):
        value = getattr(choke, field.name)
        marks = getattr(hints[field.name], "__metadata__", ())
        mark = next((m for m in marks if isinstance(m, Quantity | Choice | Part)), None)
        if mark is None or value is None or field.name in _SET_BY_PAGE:
            continue
        found[field.name] = _as_written(value, mark)
    return found


def _as_written(value: Any, mark: Quantity | Choice | Part) -> Any:
    if isinstance(mark, Part):
        return value.id
    if isinstance(mark, Choice):
        return value
    return value if mark.unit == "1" else show_quantity(value, mark.unit)
