"""Checks of a study's unknowns against what it has: steps, bond, soil, lengths, chokes."""

from __future__ import annotations

import math

from models.antennas.generator import Generator
from models.site.feedline_route import Step
from pipeline.chokes.kind import SLACK, Choke, Least
from pipeline.chokes.kinds import KINDS
from pipeline.study.faults import nearest
from pipeline.study.records import Cable, Site
from pipeline.study.sections.unknowns import Distribution, Part, Unknowns
from pipeline.study.sections_read import Candidates
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity

# A normal distribution has no end; draws do not go further out than this.
_DEVIATIONS = 6.0


def check_unknowns(
    unknowns: Unknowns, site: Site | None, cable: Cable | None, generator: Generator | None
) -> list[FieldError]:
    """Spreads of steps, rods, soil or lengths that are not there; ``None``: could not be read."""
    complaints: list[FieldError] = []
    if cable is not None and cable.route:
        complaints += _check_route(unknowns.route, cable.route)
        if not any(step.go == "bond" for step in cable.route):
            spread = {k for k in ("rod", "bond_lead") if getattr(unknowns, k) is not None}
            for key in sorted(unknowns.given & spread):
                rule = "is spread, but the route has no bond to a rod"
                remedy = "take it out, or add - bond: here to cable.route"
                complaints.append(FieldError(rule, remedy, "unknown-absent", ("unknowns", key)))
    soil = any((unknowns.soil, unknowns.permittivity, unknowns.conductivity))
    if site is not None and site.ground is None and soil and "soil" in unknowns.given:
        rule = "is spread, but this study is in free space"
        remedy = "take it out, or give site.ground a soil class"
        complaints.append(FieldError(rule, remedy, "unknown-absent", ("unknowns", "soil")))
    if generator is not None:
        complaints += _check_lengths(unknowns.antenna, generator)
    return complaints


def check_made(
    unknowns: Unknowns, chokes: tuple[Choke, ...], listed: Candidates
) -> list[FieldError]:
    """Spreads of the making of chokes that are not tried, or in which turns overlap.

    ``listed`` is the file's own list: one that could not be read may be of the kind.
    """
    complaints = []
    for kind, key in ((of, own.key) for of in KINDS.values() for own in of.unknowns):
        spread = getattr(unknowns, key)
        if spread is None:
            continue
        own = [choke for choke in chokes if isinstance(choke, kind)]
        if key in unknowns.given and not own and not listed.may_hold(kind.kind):
            rule = f"is spread, but no {kind.kind} is among the candidates"
            remedy = f"take it out, or add a choke of kind: {kind.kind}"
            complaints.append(FieldError(rule, remedy, "unknown-absent", ("unknowns", key)))
        limits = [choke.least for choke in own if choke.least is not None]
        # Draws of a typical spread stop where turns touch.
        if limits and key in unknowns.given:
            closest = max(limits, key=lambda least: least.factor)
            complaints += _check_least(key, spread, closest)
    return complaints


def _check_least(key: str, spread: Distribution, limit: Least) -> list[FieldError]:
    """No draw may go below what can be made, such as turns wound closer than cable is thick."""
    least = limit.factor
    normal = spread.shape == "normal"
    low = spread.low - (_DEVIATIONS * spread.high if normal else 0.0)
    if low >= least - SLACK:
        return []
    reached = f"{low:.2f} within {_DEVIATIONS:g} deviations of the mean" if normal else f"{low:g}"
    rule = f"goes down to {reached}: {limit.reason}"
    allowed = f"{math.ceil(100 * least - SLACK) / 100:g} or more"
    remedy = (
        f"a mean that is {_DEVIATIONS:g} deviations above {allowed}, or from and to"
        if normal
        else f"from: {allowed}"
    )
    return [FieldError(rule, remedy, limit.tag, ("unknowns", key))]


def _check_route(parts: tuple[Part, ...], route: tuple[Step, ...]) -> list[FieldError]:
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
            complaints.append(FieldError(rule, remedy, "unknown-absent", at))
        elif part.spread.shape == "uniform" and part.spread.around:
            length = route[number - 1].length
            if part.spread.high >= length:
                rule = f"may be off by as much as the step is long ({show_quantity(length, 'm')})"
                remedy = "write from and to instead"
                complaints.append(
                    FieldError(rule, remedy, "unknown-large", ("unknowns", "route", index))
                )
    return complaints


def _check_lengths(parts: tuple[Part, ...], generator: Generator) -> list[FieldError]:
    trims = [trim.parameter for trim in generator.trims]
    complaints = []
    for index, part in enumerate(parts):
        if part.of and part.of not in trims:
            rule = f"is no length of {generator.title}"
            remedy = nearest(part.of, trims) or f"one of {', '.join(trims)}"
            at = ("unknowns", "antenna", index, "length")
            complaints.append(FieldError(rule, remedy, "unknown-absent", at))
    return complaints
