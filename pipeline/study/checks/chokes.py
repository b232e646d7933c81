"""Checks of candidates against the cable: do they fit on it, on its route and round its bends.

Finished records in, complaints out.
"""

from __future__ import annotations

from models.catalogues.parts import CoaxClass
from pipeline.chokes.kind import SLACK, Host
from pipeline.chokes.kinds import BELOW_A_BEND
from pipeline.study.checks.route import Walk
from pipeline.study.checks.values import Numbered
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath


def check_places(chokes: Numbered, walk: Walk, host: Host) -> list[FieldError]:
    """Every choke must sit on the cable, and what is stiff between two of its bends.

    What does not end on the cable at all has one fault, not two.
    """
    return _beyond_route(chokes, walk.length, host) or _across_bends(chokes, walk, host)


def _beyond_route(chokes: Numbered, route_length: float, host: Host) -> list[FieldError]:
    """Every choke must sit on the cable between the tap and the radio."""
    complaints: dict[KeyPath, FieldError] = {}
    for index, choke in chokes:
        end = choke.position + choke.extent(host)
        if end > route_length + SLACK:
            rule = (
                f"puts the far end of {choke.id} {show_quantity(end, 'm')} from the tap, beyond "
                f"the radio at {show_quantity(route_length, 'm')}"
            )
            at: KeyPath = ("chokes", index, "position")
            remedy = "move it towards the antenna or make it shorter"
            complaints.setdefault(at, FieldError(rule, remedy, "choke-beyond-route", at))
    return list(complaints.values())


def _across_bends(chokes: Numbered, walk: Walk, host: Host) -> list[FieldError]:
    """A row of cores and a sleeve are stiff: none may lie across a bend of the route."""
    complaints: dict[KeyPath, FieldError] = {}
    for index, choke in chokes:
        if not choke.shorter:
            continue
        length = choke.extent(host)
        bends = walk.bends_under(choke.position, length)
        if not bends:
            continue
        rule = (
            f"puts {choke.id}, {show_quantity(length, 'm')} long, across the bend of the cable "
            f"at {show_quantity(bends[0], 'm')}"
        )
        at: KeyPath = ("chokes", index, "position")
        place = _place_clear_of_bends(walk, choke.position, length)
        remedy = choke.shorter if place is None else f"position: {show_quantity(place, 'm')}"
        complaints.setdefault(at, FieldError(rule, remedy, "choke-across-bend", at))
    return list(complaints.values())


def _place_clear_of_bends(walk: Walk, position: float, length: float) -> float | None:
    """Next place [m] down the cable where a length [m] lies between two bends, if any."""
    for corner in walk.corners:
        place = round(corner + BELOW_A_BEND, 3)
        fits = not walk.bends_under(place, length) and place + length <= walk.length + SLACK
        if corner > position and fits:
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
