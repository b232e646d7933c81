"""From sections that were read one by one to a whole Study: defaults filled, cross-checked.

A section that could not be read is ``None`` here; checks that need it are left out, since its
own fault is known already, and all others still run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from models.antennas import generators
from models.catalogues.parts import CoaxClass, Pipe
from models.catalogues.records import NO_PARTS, OwnParts
from models.quantities import SPEED_OF_LIGHT
from models.site.soil import common_rod
from models.wires.structure import Problem
from pipeline.study.candidates import BELOW_THE_BEND, Candidates, standard_chokes
from pipeline.study.checks.chokes import bend_warnings, check_places, check_sizes
from pipeline.study.checks.route import Walk, check_bond, check_cable, check_lead, follow_route
from pipeline.study.checks.site import check_surroundings, site_notes
from pipeline.study.checks.unknowns import check_made, check_unknowns
from pipeline.study.checks.values import (
    antenna_complaints,
    check_band,
    check_build,
    check_ids,
    check_joint,
    check_mast,
    check_measured,
    check_site,
    check_tables,
    check_tune,
    line_notes,
)
from pipeline.study.coil_making import with_cable_price
from pipeline.study.faults import Complaint
from pipeline.study.fixture import measurement_notes
from pipeline.study.records import (
    Antenna,
    Band,
    Bond,
    Build,
    Cable,
    ChokeChoice,
    ChokeDesign,
    CoilChoice,
    Exposure,
    MeasuredAntenna,
    Price,
    RouteStep,
    Site,
    Station,
    Study,
    Thresholds,
    Tuning,
)
from pipeline.study.sections.choke_design import check_choke_design
from pipeline.study.unknown_records import Unknowns
from pipeline.text.units import in_units_of_reader, show_quantity

T = TypeVar("T")

LOWEST_FREQUENCY = 30e6
HIGHEST_FREQUENCY = 500e6
DEFAULT_POINTS = 9

_HALF_BAND = 0.01
_ROUTE_NEEDS = 1.0
# Straight cable below a coil before the next bend [m].
_COIL_MARGIN = 0.1
# How far below an antenna a coil hangs on a cable that goes straight down, in wavelengths.
_CLEAR_OF_ANTENNA = 0.25
_ASIDE = RouteStep("out", 0.15)
_STANDARD_ROUTE = (RouteStep("down_to", 0.5), RouteStep("out", 6.0))


@dataclass(frozen=True)
class Parts:
    """Sections as read; ``None`` for what is wrong, or for a band or chokes that are absent.

    ``given`` names the top-level keys of the file, ``problems`` is what the antenna's own file
    says about its parameters; ``lost_route`` says that the file has a route that is wrong, in
    whose place no other may be checked.
    """

    given: frozenset[str]
    title: str | None
    frequency: float | None
    band: Band | None
    power: float | None
    antenna: Antenna | None
    pipe: Pipe | None
    problems: Sequence[Problem]
    site: Site | None
    cable: Cable | None
    bond: Bond | None
    station: Station | None
    chokes: Candidates | None
    tune: Tuning | None = None
    build: Build | None = None
    exposure: Exposure | None = None
    duty: float | None = None
    line_prices: tuple[Price, ...] = ()
    unknowns: Unknowns | None = None
    measured: MeasuredAntenna | None = None
    choke_design: ChokeDesign | None = None
    verdict: Thresholds | None = None
    own: OwnParts = NO_PARTS
    lost_route: bool = False


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
        DEFAULT_POINTS,
    )


def feed_height(site: Site, antenna: Antenna) -> float:
    """Height above ground of the feed, that of the base line where it is derived later. [m]"""
    return site.height + generators()[antenna.type].feed_height(antenna.parameters)


def fill_defaults(parts: Parts) -> tuple[Parts, list[str], list[Complaint]]:
    """Standard band, route and candidates where the file has none.

    Parameters
    ----------
    parts : Parts

    Returns
    -------
    parts : Parts
        With band, route and chokes wherever what they depend on is known.
    sentences : list of str
        What was filled in.
    complaints : list of Complaint
        If the antenna stands too low for the standard route.
    """
    sentences: list[str] = []
    if "band" not in parts.given and parts.frequency is not None:
        band = default_band(parts.frequency)
        ends = f"{show_quantity(band.start, 'Hz')} to {show_quantity(band.stop, 'Hz')}"
        sentences.append(f"band: {ends} in {band.points} points")
        parts = replace(parts, band=band)
    ground = None if parts.site is None else parts.site.ground
    if parts.bond is not None and parts.bond.usual and ground is not None:
        rod = common_rod(ground.sigma)
        parts = replace(parts, bond=replace(parts.bond, rod_impedance=rod, usual=False))
        if parts.cable is not None and any(step.go == "bond" for step in parts.cable.route):
            sentences.append(f"bond.rod_impedance: {abs(rod):g} ohm, a common rod in this soil")
    usual = _usual_joint(parts)
    if usual is not None and parts.cable is not None:
        sentences.append(f"cable.joins: {usual}")
        parts = replace(parts, cable=replace(parts.cable, joins=usual))
    no_route = parts.cable is not None and not parts.cable.route and not parts.lost_route
    if no_route and parts.cable is not None and parts.site is not None:
        if parts.site.height < _ROUTE_NEEDS:
            rule = "is missing; the antenna stands too low for the standard route"
            remedy = in_units_of_reader("route: [{out: 6 m}]")
            return parts, sentences, [Complaint(("cable", "route"), rule, remedy, "key-missing")]
        parts, sentence = _standard_route(parts, parts.cable)
        sentences.append(sentence)
    return parts, sentences, []


def _usual_joint(parts: Parts) -> str | None:
    """Where this antenna's shield usually joins, if the file names no place."""
    if parts.cable is None or parts.cable.joins or parts.antenna is None:
        return None
    return generators()[parts.antenna.type].joints[0]


def _standard_route(parts: Parts, cable: Cable) -> tuple[Parts, str]:
    """Down to half a metre and six metres indoors, a hand's width aside first if need be."""
    antenna = parts.antenna
    straight = antenna is not None and generators()[antenna.type].leaves_downward
    route = _STANDARD_ROUTE if straight else (_ASIDE, *_STANDARD_ROUTE)
    side, low, far = (show_quantity(s.length, "m") for s in (_ASIDE, *_STANDARD_ROUTE))
    aside = "" if straight else f"out {side}, "
    sentence = f"cable.route: {aside}down to {low} above ground, out {far}; no bond"
    return replace(parts, cable=replace(cable, route=route)), sentence


def check_parts(parts: Parts) -> tuple[list[Complaint], Walk | None]:
    """Check everything that needs more than one value.

    Parameters
    ----------
    parts : Parts
        With defaults filled in.

    Returns
    -------
    complaints : list of Complaint
    walk : Walk or None
        The route followed to its end; ``None`` if it cannot be.
    """
    complaints = antenna_complaints(parts.problems)
    if parts.band is not None and parts.frequency is not None:
        complaints += check_band(parts.band, parts.frequency)
    if parts.site is not None:
        complaints += check_site(parts.site)
        route = () if parts.cable is None else parts.cable.route
        complaints += check_surroundings(parts.site, route)
    if parts.antenna is not None:
        generator = generators()[parts.antenna.type]
        if parts.cable is not None:
            complaints += check_joint(parts.cable, generator)
        if parts.site is not None:
            complaints += check_mast(parts.site, generator)
    walk, route_complaints = _check_way(parts)
    complaints += route_complaints
    if parts.build is not None:
        complaints += check_build(parts.build)
    if parts.tune is not None and parts.antenna is not None:
        complaints += check_tune(parts.tune, generators()[parts.antenna.type], parts.chokes)
    if parts.measured is not None and parts.band is not None:
        complaints += check_measured(parts.measured, parts.band, parts.chokes)
    if parts.choke_design is not None:
        complaints += check_choke_design(parts.choke_design)
    if parts.unknowns is not None:
        generator_of = None if parts.antenna is None else generators()[parts.antenna.type]
        complaints += check_unknowns(parts.unknowns, parts.site, parts.cable, generator_of)
        tried = _tried(parts, walk)
        if tried is not None and parts.cable is not None:
            complaints += check_made(parts.unknowns, tried, parts.chokes or Candidates(()))
    return complaints + _check_candidates(parts, walk), walk


def _check_candidates(parts: Parts, walk: Walk | None) -> list[Complaint]:
    """Check every candidate that could be read against the rest of the study."""
    if parts.chokes is None:
        return []
    chokes = parts.chokes.sound
    complaints = check_ids(chokes)
    if parts.cable is not None:
        complaints += check_sizes((*chokes, *parts.chokes.partly), parts.cable.type)
    if walk is not None and parts.frequency is not None:
        complaints += check_places(chokes, walk, SPEED_OF_LIGHT / parts.frequency)
    if parts.band is not None:
        complaints += check_tables((*chokes, *parts.chokes.partly), parts.band)
    return complaints


def assemble(name: str, parts: Parts, walk: Walk, defaults: Sequence[str]) -> Study:
    """Whole study of parts without faults; adds the standard candidates if it has none.

    Parameters
    ----------
    name : str
        Stem of the file's name.
    parts : Parts
        Complete and without complaints.
    walk : Walk
        The route, followed to its end.
    defaults : sequence of str
        What was filled in so far.

    Returns
    -------
    Study
    """
    p = parts
    site, cable, antenna = _sound(p.site), _sound(p.cable), _sound(p.antenna)
    frequency = _sound(p.frequency)
    sentences = list(defaults)
    tried = _sound(_tried(p, walk))
    chokes = tuple(with_cable_price(c, p.line_prices, cable.type) for c in tried)
    if p.chokes is None:
        names = ", ".join(choke.id for choke in chokes)
        sentences.append(f"chokes: the standard candidates {names or '(none fits on the route)'}")
    has_bond = any(step.go == "bond" for step in cable.route)
    return Study(
        name=name,
        title=p.title or name,
        frequency=frequency,
        band=_sound(p.band),
        power=_sound(p.power),
        antenna=antenna,
        pipe=_sound(p.pipe),
        site=site,
        cable=cable,
        bond=_sound(p.bond) if has_bond else None,
        station=_sound(p.station),
        chokes=chokes,
        defaults=tuple(sentences),
        warnings=_warnings(cable.type, site, chokes, frequency),
        tune=_sound(p.tune),
        build=_sound(p.build),
        exposure=_sound(p.exposure),
        duty=_sound(p.duty),
        line_prices=p.line_prices,
        unknowns=_sound(p.unknowns),
        measured=p.measured,
        choke_design=_sound(p.choke_design),
        verdict=_sound(p.verdict),
        own=p.own,
    )


def _warnings(
    cable: CoaxClass, site: Site, chokes: tuple[ChokeChoice, ...], frequency: float
) -> tuple[str, ...]:
    """What is allowed but worth knowing."""
    own = line_notes(cable) + bend_warnings(chokes)
    return own + site_notes(site) + measurement_notes(chokes, frequency)


def coil_place(cable: Cable | None, antenna: Antenna | None, wavelength: float) -> float:
    """Where along a cable a coil hangs that has no position of its own. [m]

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


def _tried(parts: Parts, walk: Walk | None) -> tuple[ChokeChoice, ...] | None:
    """Candidates of the file, or the standard ones; ``None`` where what they need is wrong."""
    if parts.chokes is not None:
        return tuple(choke for _, choke in parts.chokes.sound)
    site, cable, antenna = parts.site, parts.cable, parts.antenna
    if "chokes" in parts.given or site is None or cable is None or antenna is None:
        return None
    if walk is None or parts.frequency is None:
        return None
    tap = feed_height(site, antenna)
    return _usual_chokes(cable, walk.length, tap, SPEED_OF_LIGHT / parts.frequency)


def _usual_chokes(
    cable: Cable, length: float, tap: float, wavelength: float
) -> tuple[ChokeChoice, ...]:
    """Standard candidates on a route of a length [m] that starts at a height [m].

    The coil hangs below the bend at the wall, or clear of the antenna where the cable goes
    straight down.
    """
    first = next(step for step in cable.route if step.go != "bond")
    if first.go not in ("down", "down_to"):
        return standard_chokes(cable.type, first.length, length, wavelength)
    run = tap - first.length if first.go == "down_to" else first.length
    found = standard_chokes(cable.type, _CLEAR_OF_ANTENNA * wavelength, length, wavelength)
    return tuple(choke for choke in found if _hangs(choke, run))


def _hangs(choke: ChokeChoice, length: float) -> bool:
    """Whether a choke that is a coil has room in a downward run of a length [m]."""
    if not isinstance(choke, CoilChoice):
        return True
    return choke.position + choke.turns * choke.pitch + _COIL_MARGIN <= length


def _sound(section: T | None) -> T:
    """Section that has passed its checks; its absence here is a mistake in the reader."""
    if section is None:
        raise AssertionError("a study was assembled although a section of it is missing")
    return section


def _check_way(parts: Parts) -> tuple[Walk | None, list[Complaint]]:
    """Follow the route and check what hangs on it."""
    cable, site, station = parts.cable, parts.site, parts.station
    if cable is None or site is None or parts.antenna is None or not cable.route:
        return None, []
    has_ground = site.ground is not None
    complaints = check_bond("bond" in parts.given, cable.route, has_ground)
    walk = follow_route(cable.route, feed_height(site, parts.antenna), has_ground)
    if walk.complaints:
        return None, [*complaints, *walk.complaints]
    complaints += check_cable(cable, walk.length)
    if station is not None and has_ground:
        complaints += check_lead(station, cable.route, walk.end_height)
    return walk, complaints
