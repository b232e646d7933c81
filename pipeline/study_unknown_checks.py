"""Checks of a study's unknowns against what the study has: steps, bond, soil, lengths."""

from __future__ import annotations

from models.antenna import Generator
from pipeline.study_faults import Complaint, nearest
from pipeline.study_types import Cable, RouteStep, Site
from pipeline.units import show_quantity
from pipeline.unknown_types import Part, Unknowns


def check_unknowns(
    unknowns: Unknowns, site: Site | None, cable: Cable | None, generator: Generator | None
) -> list[Complaint]:
    """What the file spreads has to be there; ``None`` for sections that could not be read."""
    complaints: list[Complaint] = []
    if cable is not None and cable.route:
        complaints += _check_route(unknowns.route, cable.route)
        if not any(step.go == "bond" for step in cable.route):
            spread = {k for k in ("rod", "bond_lead") if getattr(unknowns, k) is not None}
            for key in sorted(unknowns.given & spread):
                rule = "is spread, but the route has no bond to a rod"
                remedy = "take it out, or add - bond: here to cable.route"
                complaints.append(Complaint(("unknowns", key), rule, remedy, "unknown-absent"))
    soil = any((unknowns.soil, unknowns.permittivity, unknowns.conductivity))
    if site is not None and site.ground is None and soil and "soil" in unknowns.given:
        rule = "is spread, but this study is in free space"
        remedy = "take it out, or give site.ground a soil class"
        complaints.append(Complaint(("unknowns", "soil"), rule, remedy, "unknown-absent"))
    if generator is not None:
        complaints += _check_lengths(unknowns.antenna, generator)
    return complaints


def _check_route(parts: tuple[Part, ...], route: tuple[RouteStep, ...]) -> list[Complaint]:
    """Named steps must exist and have a length that the spread does not use up."""
    complaints = []
    for index, part in enumerate(parts):
        if not part.of:
            continue
        number = int(part.of)
        if number > len(route) or route[number - 1].go == "bond":
            rule = f"names no step of the route that has a length (there are {len(route)} steps)"
            remedy = "count the steps of cable.route from 1, bond: here included"
            at = ("unknowns", "route", index, "step")
            complaints.append(Complaint(at, rule, remedy, "unknown-absent"))
        elif part.spread.shape == "uniform" and part.spread.around:
            length = route[number - 1].length
            if part.spread.high >= length:
                rule = f"may be off by as much as the step is long ({show_quantity(length, 'm')})"
                remedy = "write from and to instead"
                complaints.append(
                    Complaint(("unknowns", "route", index), rule, remedy, "unknown-large")
                )
    return complaints


def _check_lengths(parts: tuple[Part, ...], generator: Generator) -> list[Complaint]:
    knobs = [knob.parameter for knob in generator.knobs]
    complaints = []
    for index, part in enumerate(parts):
        if part.of and part.of not in knobs:
            rule = f"is no length of {generator.title}"
            remedy = nearest(part.of, knobs) or f"one of {', '.join(knobs)}"
            at = ("unknowns", "antenna", index, "length")
            complaints.append(Complaint(at, rule, remedy, "unknown-absent"))
    return complaints
