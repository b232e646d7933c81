"""Checks of candidates: their names and number, the band, and whether they fit on the cable.

Finished records in, complaints out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from models.catalogues.parts import CoaxClass
from pipeline.chokes.kind import SLACK, Choke, Host
from pipeline.chokes.kinds import BELOW_A_BEND
from pipeline.study.checks.route import Walk
from pipeline.study.records import ALWAYS_ADDED, Band
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath

MOST_CASES = 200

Numbered = Sequence[tuple[int, Choke]]


def check_ids(chokes: Numbered) -> list[FieldError]:
    """Every case needs a name of its own, and there is a limit to their number."""
    complaints, taken = [], set()
    for index, choke in chokes:
        if choke.id in taken:
            rule = f'names the case "{choke.id}" a second time'
            at: KeyPath = ("chokes", index, "id")
            complaints.append(FieldError(rule, f"id: {choke.id}-b", "id-duplicate", at))
        taken.add(choke.id)
    cases = len(chokes) + len(ALWAYS_ADDED)
    if cases > MOST_CASES:
        rule = f"makes {cases} cases with those always added, more than the allowed {MOST_CASES}"
        remedy = "shorten the lists of count and position"
        complaints.append(FieldError(rule, remedy, "cases-too-many", ("chokes",)))
    return complaints


def check_tables(chokes: Numbered, band: Band) -> list[FieldError]:
    """A measured table must cover the band: nothing is extrapolated."""
    complaints: dict[KeyPath, FieldError] = {}
    for index, path, choke in _members(chokes):
        if choke.known_range is None:
            continue
        low, high = choke.known_range
        if low > band.start or high < band.stop:
            rule = (
                f"covers {show_quantity(low, 'Hz')} to {show_quantity(high, 'Hz')}, not the whole "
                f"band {show_quantity(band.start, 'Hz')} to {show_quantity(band.stop, 'Hz')}"
            )
            at: KeyPath = ("chokes", index, *path, choke.data_key)
            remedy = "measure over the band, or make the band narrower"
            complaints[at] = FieldError(rule, remedy, "table-range", at)
    return list(complaints.values())


def check_places(chokes: Numbered, walk: Walk, host: Host) -> list[FieldError]:
    """Every choke must sit on the cable, and what is stiff between two of its bends.

    What does not end on the cable at all has one fault, not two.
    """
    long = [(index, choke) for index, choke in chokes if _has_length(choke, host.cable)]
    return _beyond_route(long, walk.length, host) or _across_bends(long, walk, host)


def _has_length(choke: Choke, cable: CoaxClass) -> bool:
    """Whether its length is known: one that the cable decides is not where it does not go on it."""
    return not choke.is_cut_to_cable or choke.misfit(cable) is None


def _members(chokes: Numbered) -> Iterator[tuple[int, KeyPath, Choke]]:
    """Every choke of every candidate by itself, with the keys below which it stands."""
    for index, choke in chokes:
        for path, member in choke.members.items():
            yield index, path, member


def _parts(chokes: Numbered) -> Iterator[tuple[int, tuple[str, ...], Choke]]:
    """Every part of every candidate by itself, with the keys that say where it sits."""
    for index, choke in chokes:
        for key, part in zip(choke.place_keys, choke.placed, strict=False):
            yield index, key, part


def _beyond_route(chokes: Numbered, route_length: float, host: Host) -> list[FieldError]:
    """Every choke must sit on the cable between the tap and the radio."""
    complaints: dict[KeyPath, FieldError] = {}
    for index, key, choke in _parts(chokes):
        end = choke.position + choke.extent(host)
        if end > route_length + SLACK:
            rule = (
                f"puts the far end of {choke.id} {show_quantity(end, 'm')} from the tap, beyond "
                f"the radio at {show_quantity(route_length, 'm')}"
            )
            at: KeyPath = ("chokes", index, *key)
            remedy = "move it towards the antenna or make it shorter"
            complaints.setdefault(at, FieldError(rule, remedy, "choke-beyond-route", at))
    return list(complaints.values())


def _across_bends(chokes: Numbered, walk: Walk, host: Host) -> list[FieldError]:
    """A row of cores and a sleeve are stiff: none may lie across a bend of the route."""
    complaints: dict[KeyPath, FieldError] = {}
    for index, key, choke in _parts(chokes):
        if not choke.shorter:
            continue
        length, (before, behind) = choke.extent(host), choke.free_cable(host)
        bends = walk.bends_under(choke.position - before, before + length + behind)
        if not bends:
            continue
        stiff = choke.position + SLACK < bends[0] < choke.position + length - SLACK
        how = "across" if stiff else "without straight cable for its mouth, at"
        rule = (
            f"puts {choke.id}, {show_quantity(length, 'm')} long, {how} the bend of the cable "
            f"at {show_quantity(bends[0], 'm')}"
        )
        at: KeyPath = ("chokes", index, *key)
        place = _place_clear_of_bends(walk, choke.position, length, (before, behind))
        remedy = choke.shorter if place is None else f"{key[-1]}: {show_quantity(place, 'm')}"
        complaints.setdefault(at, FieldError(rule, remedy, "choke-across-bend", at))
    return list(complaints.values())


def _place_clear_of_bends(
    walk: Walk, position: float, length: float, free: tuple[float, float]
) -> float | None:
    """Next place [m] down the cable where a length [m] lies between two bends, if any.

    ``free`` [m] is straight cable needed before and behind it.
    """
    before, behind = free
    # What needs straight cable is drawn, with a segment between its far end and the next bend.
    behind += BELOW_A_BEND if any(free) else 0.0
    for corner in walk.corners:
        place = round(corner + before + BELOW_A_BEND, 3)
        bends = walk.bends_under(place - before, before + length + behind)
        fits = not bends and place + length + behind <= walk.length + SLACK
        if place > position and fits:
            return place
    return None


def check_sizes(chokes: Numbered, cable: CoaxClass) -> list[FieldError]:
    """Cores and sleeves must go over the cable, turns must not overlap."""
    complaints: dict[KeyPath, FieldError] = {}
    for index, choke in chokes:
        found = choke.misfit(cable)
        if found is not None:
            complaint = found.below("chokes", index)
            complaints.setdefault(complaint.at, complaint)
    return list(complaints.values())
