"""Checks of what stands around the antenna against the rest of the study.

Each function takes finished records and gives complaints. What needs the drawn geometry, such as
two parts that touch, is checked in models/.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from models.site.earth import Earth
from models.site.feedline_route import LOWEST_RUN, Step
from models.site.metalwork import OtherFeedline, Piece
from pipeline.chokes.kind import SLACK
from pipeline.study.records import Bond, Site
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath

# Shortest wire that hangs beside ours. [m]
_SHORTEST_RUN = 0.1


def check_surroundings(site: Site, route: Sequence[Step], bond: Bond | None) -> list[FieldError]:
    """Mast, metalwork and the other feedline against the site, our cable's route and its bond."""
    around = site.around
    complaints = _mast_complaints(site)
    complaints += _earth_complaints(site, _earths(site))
    shares = [at for at, e in _earths(site) if e is not None and e.impedance is None]
    if route and not any(step.go == "bond" for step in route):
        rule = "goes to the rod of the cable's bond, and cable.route has none"
        remedy = "add  - bond: here  to cable.route, or foot: {rod_impedance: 40 ohm}"
        complaints += [FieldError(rule, remedy, "bond-none", at) for at in shares]
    elif bond is not None and bond.rod_impedance is None:
        rule = "goes to the rod of the cable's bond, and bond.rod_impedance is open"
        remedy = "foot: {rod_impedance: 40 ohm}, or give the bond's rod its impedance"
        complaints += [FieldError(rule, remedy, "rod-open", at) for at in shares]
    names: set[str] = set()
    for k, piece in enumerate(around.pieces):
        at: KeyPath = ("site", "metalwork", k)
        if piece.name in names:
            rule = f'names the part "{piece.name}" a second time'
            remedy = f"name: {piece.name} 2"
            complaints.append(FieldError(rule, remedy, "part-name", (*at, "name")))
        names.add(piece.name)
        complaints += _piece_complaints(piece, at, site.ground is not None)
    if around.other is not None:
        complaints += _other_complaints(around.other, route, site.ground is not None)
    return complaints


def site_notes(site: Site) -> tuple[str, ...]:
    """Parts of a site that are left out of its drawing on purpose, a sentence each."""
    mast = site.around.mast
    if mast is None or mast.metal:
        return ()
    return (
        "site.mast: a wooden mast is not drawn; dry wood changes little at these frequencies, wet "
        "or tarred wood has not been studied",
    )


def _mast_complaints(site: Site) -> list[FieldError]:
    mast, at = site.around.mast, ("site", "mast")
    if mast is None:
        return []
    complaints = []
    if site.mast and mast.metal:
        rule = "is a second mast: mount already lets the antenna's own pipe go on below it"
        remedy = "keep one of mount: {mast: ...} and mast"
        complaints.append(FieldError(rule, remedy, "mast-twice", at))
    foot = site.height - (mast.top or 0.0) - mast.length
    if site.ground is not None and foot < LOWEST_RUN - SLACK:
        longest = site.height - (mast.top or 0.0) - LOWEST_RUN
        shown = show_quantity(max(longest, 0.0), "m")
        rule = f"reaches into the ground: at most {shown} can be drawn above it"
        remedy = f"length: {shown}, and foot: {{rod_impedance: 40 ohm}} if it stands in the ground"
        complaints.append(FieldError(rule, remedy, "mast-length", (*at, "length")))
    return complaints


def _earths(site: Site) -> Iterable[tuple[KeyPath, Earth | None]]:
    around = site.around
    yield ("site", "mast", "foot"), around.mast_earth
    for k, piece in enumerate(around.pieces):
        yield ("site", "metalwork", k, "foot"), piece.earth
    if around.other is not None:
        yield ("site", "other_feedline", "foot"), around.other.earth


def _earth_complaints(
    site: Site, earths: Iterable[tuple[KeyPath, Earth | None]]
) -> list[FieldError]:
    if site.ground is not None:
        return []
    rule = "leads to a ground rod, but there is no ground in free space"
    remedy = "foot: open, or name a site.ground"
    return [
        FieldError(rule, remedy, "bond-no-ground", at) for at, earth in earths if earth is not None
    ]


def _piece_complaints(piece: Piece, at: KeyPath, has_ground: bool) -> list[FieldError]:
    complaints = []
    points = np.array(piece.points)
    low = float(points[:, 2].min()) - piece.radius
    if has_ground and low < LOWEST_RUN:
        k = int(points[:, 2].argmin())
        rule = f"brings the {piece.name} within {show_quantity(max(low, 0.0), 'm')} of the ground"
        remedy = f"a z of {show_quantity(LOWEST_RUN + piece.radius, 'm')} or more"
        complaints.append(FieldError(rule, remedy, "metal-low", (*at, "points", k)))
    if len(points) < 2:
        rule = f"is one point only: the {piece.name} goes from point to point"
        return [*complaints, FieldError(rule, "add another point", "points-few", (*at, "points"))]
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    least = max(0.01, 4 * piece.radius)
    if steps.min() < least:
        k = int(steps.argmin()) + 1
        rule = f"is closer to the point before it than {show_quantity(least, 'm')}"
        remedy = f"leave out one of the two points of the {piece.name}"
        complaints.append(FieldError(rule, remedy, "points-close", (*at, "points", k)))
    return complaints


def _other_complaints(
    other: OtherFeedline, route: Sequence[Step], has_ground: bool
) -> list[FieldError]:
    at: KeyPath = ("site", "other_feedline")
    complaints = []
    if other.high < other.low + _SHORTEST_RUN:
        rule = f"is not at least {show_quantity(_SHORTEST_RUN, 'm')} above its low end"
        complaints.append(FieldError(rule, "exchange high and low", "other-order", (*at, "high")))
    if has_ground and other.low < LOWEST_RUN:
        rule = "ends in the ground"
        remedy = f"low: {show_quantity(LOWEST_RUN, 'm')} or more"
        complaints.append(FieldError(rule, remedy, "metal-low", (*at, "low")))
    if route and not any(step.go in ("down", "down_to") for step in route):
        rule = "hangs beside the downward run of our cable, and cable.route has none"
        remedy = "describe it as a piece of site.metalwork"
        complaints.append(FieldError(rule, remedy, "other-no-run", at))
    return complaints
