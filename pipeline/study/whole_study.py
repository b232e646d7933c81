"""From parts that were read one by one to a whole Study: defaults filled, cross-checked.

A section that could not be read is ``None`` here; checks that need it are left out, since its
own fault is known already, and all others still run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import TypeVar

from models.antennas import generators
from models.catalogues.parts import CoaxClass, Pipe
from models.site.feedline_route import Step
from models.site.soil import common_rod
from pipeline.chokes.ferrite import with_measurements
from pipeline.chokes.kind import SLACK, Choke, Host
from pipeline.chokes.kinds import BELOW_THE_BEND, standard_chokes
from pipeline.study.catalogue_rows import rows_on
from pipeline.study.checks.chokes import check_ids, check_places, check_sizes, check_tables
from pipeline.study.checks.route import Walk, check_bond, check_cable, check_lead, follow_route
from pipeline.study.checks.site import check_surroundings, site_notes
from pipeline.study.checks.unknowns import check_made, check_unknowns
from pipeline.study.records import Antenna, Band, Bond, Cable, Price, Site, Study
from pipeline.study.section import Checked
from pipeline.study.sections.antenna_and_cable import HIGHEST_FREQUENCY, LOWEST_FREQUENCY
from pipeline.study.sections.unknowns import STATED_BY
from pipeline.study.sections_read import Candidates, Parts
from pipeline.text.refusals import FieldError
from pipeline.text.units import in_units_of_reader, show_quantity

T = TypeVar("T")

_HALF_BAND = 0.01
_ROUTE_NEEDS = 1.0
# Straight cable below a coil before the next bend [m].
_COIL_MARGIN = 0.1
# How far below an antenna a coil hangs on a cable that goes straight down, in wavelengths.
_CLEAR_OF_ANTENNA = 0.25
NO_ROOM_FOR_COIL = "no coil of the cable: nowhere does it go straight down far enough for one"
_ASIDE = Step("out", 0.15)
_STANDARD_ROUTE = (Step("down_to", 0.5), Step("out", 6.0))


def default_band(frequency: float) -> Band:
    """Two per cent around a frequency, inside what the project computes.

    Examples
    --------
    >>> default_band(100e6)
    Band(start=99000000.0, stop=101000000.0, points=9)
    """
    return Band(
        max(LOWEST_FREQUENCY, (1 - _HALF_BAND) * frequency),
        min(HIGHEST_FREQUENCY, (1 + _HALF_BAND) * frequency),
    )


def feed_height(study: Study) -> float:
    """Height above ground of the feed, as given or derived with the antenna's lengths. [m]"""
    return study.site.height + _feed_above(
        study.antenna, study.pipe, study.frequency, study.cable.type
    )


def _feed_above(antenna: Antenna, pipe: Pipe, frequency: float, cable: CoaxClass) -> float:
    """Height of the feed above the base line, for a frequency [Hz]. [m]"""
    generator = generators()[antenna.type]
    given = generator.feed_height(antenna.parameters)
    if given is not None:
        return given
    sized, _ = generator.sized_on(antenna.parameters, pipe, frequency, cable)
    return _sound(generator.feed_height(sized))


def _feed_of(parts: Parts) -> float | None:
    """Height of the feed above ground, ``None`` where what it is derived from is wrong. [m]"""
    antenna, site, cable = parts.antenna, parts.site, parts.cable
    if antenna is None or site is None or cable is None:
        return None
    given = generators()[antenna.type].feed_height(antenna.parameters)
    if given is not None:
        return site.height + given
    if parts.pipe is None or parts.frequency is None:
        return None
    return site.height + _feed_above(antenna, parts.pipe, parts.frequency, cable.type)


def fill_defaults(parts: Parts) -> tuple[Parts, list[str], list[FieldError]]:
    """Parts with band, route and rod as they are where the file has none, and what was filled in.

    The sentences say what was filled in; there is a complaint if the antenna stands too low for the
    standard route.
    """
    sentences: list[str] = []
    unknowns = parts.sections.get("unknowns")
    if unknowns is not None:
        parts = parts.having(unknowns=unknowns.filled(_said(parts)))
    if "band" not in parts.given and parts.frequency is not None:
        band = default_band(parts.frequency)
        ends = f"{show_quantity(band.start, 'Hz')} to {show_quantity(band.stop, 'Hz')}"
        sentences.append(f"band: {ends} in {band.points} points")
        parts = parts.having(band=band)
    ground = None if parts.site is None else parts.site.ground
    if parts.bond is not None and parts.bond.usual and ground is not None:
        rod = common_rod(ground.sigma)
        parts = parts.having(bond=replace(parts.bond, rod_impedance=rod, usual=False))
        if parts.has_bond:
            sentences.append(f"bond.rod_impedance: {abs(rod):g} ohm, a common rod in this soil")
    usual = _usual_joint(parts)
    if usual is not None and parts.cable is not None:
        sentences.append(f"cable.joins: {usual}")
        parts = parts.having(cable=replace(parts.cable, joins=usual))
    no_route = parts.cable is not None and not parts.cable.route and not parts.lost_route
    if no_route and parts.cable is not None and parts.site is not None:
        if parts.site.height < _ROUTE_NEEDS:
            rule = "is missing; the antenna stands too low for the standard route"
            remedy = in_units_of_reader("route: [{out: 6 m}]")
            return parts, sentences, [FieldError(rule, remedy, "key-missing", ("cable", "route"))]
        parts, sentence = _standard_route(parts, parts.cable)
        sentences.append(sentence)
    return parts, sentences, []


def _said(parts: Parts) -> frozenset[str]:
    """Unknowns whose quantity the file states, by their key."""
    records = parts.sections
    return frozenset(
        key for key, (at, own) in STATED_BY.items() if own in getattr(records.get(at), "said", ())
    )


def _usual_joint(parts: Parts) -> str | None:
    """Usual joint of this antenna's shield, if the file names none."""
    if parts.cable is None or parts.cable.joins or parts.generator is None:
        return None
    return parts.generator.joints[0]


def _standard_route(parts: Parts, cable: Cable) -> tuple[Parts, str]:
    """Down to half a metre and six metres indoors, a hand's width aside first if need be."""
    straight = parts.generator is not None and parts.generator.leaves_downward
    route = _STANDARD_ROUTE if straight else (_ASIDE, *_STANDARD_ROUTE)
    side, low, far = (show_quantity(s.length, "m") for s in (_ASIDE, *_STANDARD_ROUTE))
    aside = "" if straight else f"out {side}, "
    sentence = f"cable.route: {aside}down to {low} above ground, out {far}; no bond"
    return parts.having(cable=replace(cable, route=route)), sentence


def check_parts(parts: Parts) -> tuple[list[FieldError], Walk | None]:
    """Everything that needs more than one value, and the route followed to its end, if it can be.

    ``parts`` have their defaults filled in.
    """
    complaints = list(parts.problems)
    for record in parts.sections.values():
        if isinstance(record, Checked):
            complaints += record.check(parts)
    if parts.site is not None:
        route = () if parts.cable is None else parts.cable.route
        complaints += check_surroundings(parts.site, route, parts.bond)
    walk, route_complaints = _check_way(parts)
    complaints += route_complaints
    unknowns = parts.sections["unknowns"]
    if unknowns is not None:
        complaints += check_unknowns(unknowns, parts.site, parts.cable, parts.generator)
        tried = _tried(parts, walk)
        if tried is not None and parts.cable is not None:
            complaints += check_made(unknowns, tried, parts.chokes or Candidates(()))
    return complaints + _check_candidates(parts, walk), walk


def _check_candidates(parts: Parts, walk: Walk | None) -> list[FieldError]:
    """Check every candidate that could be read against the rest of the study."""
    if parts.chokes is None:
        return []
    chokes = parts.chokes.sound
    complaints = check_ids(chokes)
    if parts.cable is not None:
        complaints += check_sizes((*chokes, *parts.chokes.partly), parts.cable.type)
    if walk is not None and parts.cable is not None and parts.frequency is not None:
        complaints += check_places(chokes, walk, Host(parts.cable.type, parts.frequency))
    if parts.band is not None:
        complaints += check_tables((*chokes, *parts.chokes.partly), parts.band)
    return complaints


def assemble(name: str, parts: Parts, walk: Walk, defaults: Sequence[str]) -> Study:
    """Whole study of parts without complaints; adds the standard candidates if it has none.

    ``name`` is the stem of the file's name, ``defaults`` are sentences about what was filled in so
    far.
    """
    site, cable, frequency = _sound(parts.site), _sound(parts.cable), _sound(parts.frequency)
    sentences = list(defaults)
    tried = _sound(_tried(parts, walk))
    chokes = tuple(with_cable_price(c, parts.line_prices, cable.type) for c in tried)
    if parts.chokes is None:
        names = ", ".join(choke.id for choke in chokes)
        sentences.append(f"chokes: the standard candidates {names or '(none fits on the route)'}")
        if names and not any(choke.hangs for choke in chokes):
            sentences.append(f"chokes: {NO_ROOM_FOR_COIL}")
    named = {field.name for field in fields(Study)}
    records = {**parts.sections, "bond": _sound(parts.bond) if parts.has_bond else None}
    study = Study(
        name=name,
        title=parts.title or name,
        frequency=frequency,
        power=_sound(parts.power),
        duty=_sound(parts.duty),
        antenna=_sound(parts.antenna),
        pipe=_sound(parts.pipe),
        chokes=chokes,
        defaults=tuple(sentences),
        warnings=_warnings(cable, frequency, site, chokes, records["bond"]),
        line_prices=parts.line_prices,
        own=parts.own,
        others=tuple(r for key, r in records.items() if key not in named and r is not None),
        **{key: record for key, record in records.items() if key in named},
    )
    return replace(study, rows=rows_on(study, walk))


def walk_of(study: Study) -> Walk:
    """The way of a study's cable, without complaints for one that was read."""
    return follow_route(study.cable.route, feed_height(study), study.site.ground is not None)


def with_rows(study: Study) -> Study:
    """The study with places for cores where its cable has them now, after a change of its way."""
    return replace(study, rows=rows_on(study, walk_of(study)))


def _warnings(
    cable: Cable, frequency: float, site: Site, chokes: tuple[Choke, ...], bond: Bond | None
) -> tuple[str, ...]:
    """Sentences about what is allowed but worth knowing."""
    host = Host(cable.type, frequency)
    own = dict.fromkeys(note for choke in chokes for note in choke.notes(host))
    of_bond = () if bond is None else bond.notes()
    return (*of_bond, *cable.notes(), *own, *site_notes(site))


def with_cable_price(choke: Choke, prices: tuple[Price, ...], main: CoaxClass) -> Choke:
    """A choke without a price of its own at that of its cable, where a metre of it has one."""
    length, cable = choke.own_cable(main), choke.cable_along(main)
    metre = next((p for p in prices if p.part == cable.id), None)
    if choke.price is not None or metre is None or not length:
        return choke
    return replace(choke, price=round(metre.amount * length, 2), currency=metre.currency)


def coil_place(cable: Cable | None, antenna: Antenna | None, wavelength: float) -> float:
    """Position of a coil that the study gives none, along the cable. [m]

    Just below the bend from which the cable first goes down; a quarter of a wavelength [m] down,
    clear of the antenna, where it does so at once.
    """
    straight = antenna is not None and generators()[antenna.type].leaves_downward
    usual = _STANDARD_ROUTE if straight else (_ASIDE, *_STANDARD_ROUTE)
    along = 0.0
    for step in (cable.route if cable else ()) or usual:
        if step.go in ("down", "down_to"):
            break
        along += step.length
    return along + BELOW_THE_BEND if along else _CLEAR_OF_ANTENNA * wavelength


def _tried(parts: Parts, walk: Walk | None) -> tuple[Choke, ...] | None:
    """Candidates of the file, or the standard ones; ``None`` where what they need is wrong."""
    if parts.chokes is not None:
        return with_measurements([choke for _, choke in parts.chokes.sound])
    site, cable, antenna = parts.site, parts.cable, parts.antenna
    if "chokes" in parts.given or site is None or cable is None or antenna is None:
        return None
    if walk is None or parts.frequency is None:
        return None
    tap = _feed_of(parts)
    if tap is None:
        return None
    return _usual_chokes(cable, walk.length, tap, Host(cable.type, parts.frequency))


def standard_coil(study: Study) -> Choke | None:
    """The coil of the standard candidates, under a name of its own.

    ``None`` where the route has no room; whether it can be drawn there is another question
    (``solver.standard_chokes``).
    """
    tap, length = feed_height(study), walk_of(study).length
    usual = _usual_chokes(study.cable, length, tap, study.host)
    coil = next((c for c in usual if c.is_drawn), None)
    if coil is None:
        return None
    taken = {choke.id for choke in study.chokes}
    free = (n for n in (coil.id, *(f"{coil.id}-standard{k}" for k in ("", *range(2, 99)))))
    named = replace(coil, id=next(n for n in free if n not in taken))
    return with_cable_price(named, study.line_prices, study.cable.type)


def _usual_chokes(cable: Cable, length: float, tap: float, host: Host) -> tuple[Choke, ...]:
    """Standard candidates on a route of a length [m] that starts at a height [m].

    The coil hangs below the bend at the wall, or clear of the antenna where the cable goes
    straight down; there is none where the cable does not go down far enough for it.
    """
    first = next(step for step in cable.route if step.go != "bond")
    straight = first.go in ("down", "down_to")
    place = coil_place(cable, None, host.wavelength)
    # Where the cable goes straight down a row is as free as the coil.
    free = place if straight else first.length
    found = standard_chokes(host, free, place, length)
    return tuple(c for c in found if not c.hangs or _hangs_free(cable, tap, c, host))


def _hangs_free(cable: Cable, tap: float, coil: Choke, host: Host) -> bool:
    """Whether a coil lies within one downward run of a route that starts at a height [m]."""
    begin, height = 0.0, tap
    end = coil.position + coil.extent(host) + _COIL_MARGIN
    for step in cable.route:
        go, move = step.move(height)
        if go == "down" and begin < coil.position and end <= begin + move + SLACK:
            return True
        begin += move
        height += {"up": move, "down": -move}.get(go, 0.0)
    return False


def _sound(section: T | None) -> T:
    """Section that has passed its checks; its absence here is a mistake in the reader."""
    if section is None:
        raise AssertionError("a study was assembled although a section of it is missing")
    return section


def _check_way(parts: Parts) -> tuple[Walk | None, list[FieldError]]:
    """Follow the route and check what hangs on it."""
    cable, site, station = parts.cable, parts.site, parts.station
    if cable is None or site is None or parts.antenna is None or not cable.route:
        return None, []
    has_ground = site.ground is not None
    complaints = check_bond("bond" in parts.given, cable.route, has_ground)
    tap = _feed_of(parts)
    walk = follow_route(cable.route, site.height if tap is None else tap, has_ground)
    if walk.complaints or tap is None:
        # What hangs on the way cannot be placed where it is not known how far it goes.
        return None, [*complaints, *walk.complaints]
    complaints += check_cable(cable, walk.length)
    if station is not None and has_ground:
        complaints += check_lead(station, cable.route, walk.end_height)
    return walk, complaints
