"""The route of the cable step by step, and checks of what hangs on it.

Plain records in, :class:`FieldError` data out; no wires are drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from models.site.feedline_route import LOWEST_RUN, OPPOSITE, Step
from pipeline.chokes.kind import SLACK
from pipeline.study.records import Cable, Station
from pipeline.text.refusals import FieldError
from pipeline.text.units import in_units_of_reader, show_quantity
from pipeline.text.yaml_reading import KeyPath

_ROUTE: KeyPath = ("cable", "route")


@dataclass(frozen=True)
class Walk:
    """The shield's path from the tap: length [m], height [m] at its end, complaints.

    ``corners`` [m] are the places along it where it turns.
    """

    length: float
    end_height: float
    complaints: tuple[FieldError, ...]
    corners: tuple[float, ...] = ()

    def bends_under(self, position: float, length: float) -> tuple[float, ...]:
        """Corners [m] that something stiff would lie across, from ``position`` over ``length``."""
        end = position + length
        return tuple(c for c in self.corners if position + SLACK < c < end - SLACK)


def follow_route(route: Sequence[Step], start: float, has_ground: bool) -> Walk:
    """Length, end height and corners of the shield's path from a tap at a height [m] to the radio.

    Only meaningful without complaints; ``has_ground`` is whether there is soil to stay above.
    """
    height, length, last, bonds = start, 0.0, "", 0
    corners, complaints = [], []
    for index, step in enumerate(route):
        at: KeyPath = (*_ROUTE, index, step.go)
        if step.go == "bond":
            bonds += 1
            if bonds > 1:
                rule = "is a second bond; one is the most that can be computed"
                complaints.append(FieldError(rule, "leave one bond out", "bond-twice", at))
            continue
        go, move = step.move(height)
        complaint = _step_complaint(at, step, height, last)
        end = height + {"up": move, "down": -move}.get(go, 0.0)
        if complaint is None and has_ground and end < LOWEST_RUN:
            rule = f"ends {show_quantity(end, 'm')} above ground, less than the allowed "
            rule += show_quantity(LOWEST_RUN, "m", "up")
            complaint = FieldError(rule, "take a shorter step", "route-below-ground", at)
        if complaint is not None:
            # The steps behind it are checked as if it kept the height: it is told once.
            complaints.append(complaint)
        height = end if complaint is None else height
        if last not in ("", go):
            corners.append(length)
        length, last = length + move, go
    if complaints:
        return Walk(0, 0, tuple(complaints))
    if length == 0:
        rule = "leads nowhere: it has no step with a length"
        example = in_units_of_reader("- out: 0.15 m")
        return Walk(0, 0, (FieldError(rule, example, "route-empty", _ROUTE),))
    return Walk(length, height, (), tuple(corners))


def check_cable(cable: Cable, route_length: float) -> list[FieldError]:
    """The cable must at least be as long as its way."""
    if cable.length is None or cable.length >= route_length - SLACK:
        return []
    # A derived tap gives a way to more digits than a tape has; told to the millimetre that does.
    needed = show_quantity(math.ceil(1e3 * route_length - 1e-6) / 1e3, "m", "up")
    rule = f"is shorter than the route to the radio, which takes {needed}"
    return [FieldError(rule, f"length: {needed} or more", "cable-short", ("cable", "length"))]


def check_lead(station: Station, route: Sequence[Step], end_height: float) -> list[FieldError]:
    """The lead beyond the radio goes on like the last step and must stay above ground."""
    moves = [step.go for step in route if step.go != "bond"]
    if moves[-1] not in ("down", "down_to") or station.lead <= end_height - LOWEST_RUN:
        return []
    rule = (
        f"goes into the ground: the route ends downwards, {show_quantity(end_height, 'm')} above "
        f"ground, and the lead of {show_quantity(station.lead, 'm')} goes on that way"
    )
    remedy = in_units_of_reader("end the route with a level step such as  out: 1 m")
    return [FieldError(rule, remedy, "lead-below-ground", ("station", "lead"))]


def check_bond(has_section: bool, route: Sequence[Step], has_ground: bool) -> list[FieldError]:
    """Bond values need a bond in the route, and a bond needs ground."""
    index = next((i for i, step in enumerate(route) if step.go == "bond"), None)
    if index is None and has_section:
        rule = "describes a bond, but the route has none"
        return [FieldError(rule, "add  - bond: here  to cable.route", "bond-unused", ("bond",))]
    if index is not None and not has_ground:
        rule = "is a bond to a ground rod, but there is no ground in free space"
        at: KeyPath = (*_ROUTE, index, "bond")
        return [FieldError(rule, "leave it out or name a site.ground", "bond-no-ground", at)]
    return []


def _step_complaint(at: KeyPath, step: Step, height: float, last: str) -> FieldError | None:
    """Complaint about a step by itself or after the one before it."""
    go, move = step.move(height)
    if move <= 0:
        rule = f"is not below the height of {show_quantity(height, 'm')} that the route has there"
        remedy = "give a lower height, or go  up: by a length"
        return FieldError(rule, remedy, "route-height", at)
    if last == OPPOSITE[go]:
        rule = f"folds back onto the step before it ({last})"
        remedy = in_units_of_reader("turn aside first, for example  left: 0.2 m")
        return FieldError(rule, remedy, "route-folds-back", at)
    return None
