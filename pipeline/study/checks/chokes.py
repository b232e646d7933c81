"""Checks of candidates against the cable: do they fit on it, on its route and round its bends.

As in study_checks: finished records in, complaints out.
"""

from __future__ import annotations

from collections.abc import Sequence

from models.catalogues.core_fit import bore, goes_into, least_hole, takes_cable
from models.catalogues.parts import CoaxClass
from pipeline.study.candidates import BELOW_A_BEND, SLACK, cores_that_fit, extent
from pipeline.study.checks.route import Walk
from pipeline.study.checks.values import Numbered
from pipeline.study.faults import Complaint
from pipeline.study.records import ChokeChoice, CoilChoice, FerriteChoice, SleeveChoice
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath


def check_places(chokes: Numbered, walk: Walk, wavelength: float) -> list[Complaint]:
    """Every choke must sit on the cable, and what is stiff between two of its bends.

    What does not end on the cable at all has one fault, not two.
    """
    return _beyond_route(chokes, walk.length, wavelength) or _across_bends(chokes, walk, wavelength)


def _beyond_route(chokes: Numbered, route_length: float, wavelength: float) -> list[Complaint]:
    """Every choke must sit on the cable between the tap and the radio."""
    complaints: dict[KeyPath, Complaint] = {}
    for index, choke in chokes:
        end = choke.position + extent(choke, wavelength)
        if end > route_length + SLACK:
            rule = (
                f"puts the far end of {choke.id} {show_quantity(end, 'm')} from the tap, beyond "
                f"the radio at {show_quantity(route_length, 'm')}"
            )
            at: KeyPath = ("chokes", index, "position")
            remedy = "move it towards the antenna or make it shorter"
            complaints.setdefault(at, Complaint(at, rule, remedy, "choke-beyond-route"))
    return list(complaints.values())


def _across_bends(chokes: Numbered, walk: Walk, wavelength: float) -> list[Complaint]:
    """A row of cores and a sleeve are stiff: none may lie across a bend of the route."""
    complaints: dict[KeyPath, Complaint] = {}
    for index, choke in chokes:
        if not isinstance(choke, FerriteChoice | SleeveChoice):
            continue
        length = extent(choke, wavelength)
        bends = walk.bends_under(choke.position, length)
        if not bends:
            continue
        rule = (
            f"puts {choke.id}, {show_quantity(length, 'm')} long, across the bend of the cable "
            f"at {show_quantity(bends[0], 'm')}"
        )
        at: KeyPath = ("chokes", index, "position")
        place = _place_clear_of_bends(walk, choke.position, length)
        shorter = "fewer cores" if isinstance(choke, FerriteChoice) else "a shorter sleeve"
        remedy = shorter if place is None else f"position: {show_quantity(place, 'm')}"
        complaints.setdefault(at, Complaint(at, rule, remedy, "choke-across-bend"))
    return list(complaints.values())


def _place_clear_of_bends(walk: Walk, position: float, length: float) -> float | None:
    """Where further down the cable a length [m] lies between two bends; ``None``: nowhere."""
    for corner in walk.corners:
        place = round(corner + BELOW_A_BEND, 3)
        fits = not walk.bends_under(place, length) and place + length <= walk.length + SLACK
        if corner > position and fits:
            return place
    return None


def check_sizes(chokes: Numbered, cable: CoaxClass) -> list[Complaint]:
    """Cores and sleeves must go over the cable, turns must not overlap."""
    complaints: dict[KeyPath, Complaint] = {}
    for index, choke in chokes:
        at: KeyPath = ("chokes", index)
        found = _size_complaint(choke, at, cable)
        if found is not None:
            complaints.setdefault(found.at, found)
    return list(complaints.values())


def _size_complaint(choke: ChokeChoice, at: KeyPath, cable: CoaxClass) -> Complaint | None:
    jacket = show_quantity(cable.jacket_diameter, "m")
    if isinstance(choke, FerriteChoice) and not takes_cable(choke.core, cable.jacket_diameter):
        fitting = cores_that_fit(cable.jacket_diameter, choke.core.material)
        names = ", ".join(core.id for core in fitting[:4]) or "a thinner cable"
        hole = show_quantity(choke.core.hole_diameter, "m")
        rule = f"has a hole of {hole}, too small for the jacket of {jacket}"
        if choke.core.hole_diameter >= cable.jacket_diameter:
            least = show_quantity(least_hole(choke.core, cable.jacket_diameter), "m")
            rule += f": both scatter, and a solid core wants {least}"
        return Complaint((*at, "core"), rule, names, "core-too-small")
    if isinstance(choke, SleeveChoice) and not goes_into(cable.jacket_diameter, choke.pipe):
        width = show_quantity(bore(choke.pipe), "m")
        rule = f"is {width} wide inside, too narrow for the jacket of {jacket}"
        return Complaint((*at, "pipe"), rule, "take a wider pipe", "sleeve-narrow")
    if isinstance(choke, CoilChoice) and choke.pitch < choke.cable.jacket_diameter - SLACK:
        own = show_quantity(choke.cable.jacket_diameter, "m")
        rule = f"is less than the thickness of the cable, {own}: the turns would overlap"
        return Complaint((*at, "pitch"), rule, f"pitch: {own} or more", "pitch-small")
    return None


def bend_warnings(chokes: Sequence[ChokeChoice]) -> tuple[str, ...]:
    """Coils tighter than the cable's maker wants it bent more than once, or at all."""
    sentences = []
    for choke in chokes:
        if not isinstance(choke, CoilChoice):
            continue
        repeated = 2 * choke.cable.bend_radius_repeated
        once = 2 * choke.cable.bend_radius_install
        if choke.diameter >= repeated - SLACK:
            continue
        bends = f"{choke.id}: a coil of {show_quantity(choke.diameter, 'm')} bends "
        if choke.diameter < once - SLACK:
            sentences.append(
                f"{bends}{choke.cable.name} tighter than it may be bent even once "
                f"({show_quantity(once, 'm')} across): it will kink, and its centre moves; wind it "
                f"{show_quantity(repeated, 'm')} across or more, or use a thinner cable"
            )
            continue
        sentences.append(
            f"{bends}{choke.cable.name} tighter than its repeated bend radius allows "
            f"({show_quantity(repeated, 'm')} across)"
        )
    return tuple(dict.fromkeys(sentences))
