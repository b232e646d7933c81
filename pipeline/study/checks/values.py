"""Checks of a study's values against each other; no wires are drawn for them.

Each function takes finished records and gives :class:`FieldError` data, an empty list when all
is well. What needs the drawn geometry is checked in models/.
"""

from __future__ import annotations

from collections.abc import Sequence

from models.antennas.generator import RADIO_OHM, Generator
from models.catalogues.parts import CoaxClass
from models.faults import Fault
from models.site.feedline_route import LOWEST_RUN
from pipeline.chokes.kind import Choke
from pipeline.study.faults import nearest
from pipeline.study.records import ALWAYS_ADDED, Band, Cable, Site
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import KeyPath

MOST_CASES = 200

Numbered = Sequence[tuple[int, Choke]]


def check_band(band: Band, frequency: float) -> list[FieldError]:
    """The band must rise and contain the frequency."""
    shown = f"{show_quantity(band.start, 'Hz')} to {show_quantity(band.stop, 'Hz')}"
    if band.start >= band.stop:
        rule = f"runs from {shown}, so it does not rise"
        return [FieldError(rule, "put the lower frequency into  from", "band-order", ("band",))]
    if not band.start <= frequency <= band.stop:
        own = show_quantity(frequency, "Hz")
        rule = f"runs from {shown} and does not contain the frequency {own}"
        remedy = f"choose from and to on both sides of {own}"
        return [FieldError(rule, remedy, "band-frequency", ("band",))]
    return []


def antenna_complaints(problems: Sequence[Fault]) -> list[FieldError]:
    """Problems that the antenna's own file found, as complaints."""
    return [FieldError(p.rule, p.remedy, p.tag, tuple(p.place.split("."))) for p in problems]


def check_site(site: Site) -> list[FieldError]:
    """The mast must end above the ground."""
    if site.ground is None or site.mast <= site.height - LOWEST_RUN:
        return []
    highest = show_quantity(site.height - LOWEST_RUN, "m")
    rule = f"reaches into the ground: the mast is longer than the allowed {highest}"
    return [FieldError(rule, f"mast: {highest}", "mast-length", ("site", "mount", "mast"))]


def check_joint(cable: Cable, generator: Generator) -> list[FieldError]:
    """The shield must join a part that this antenna has."""
    if cable.joins in generator.joints:
        return []
    near = nearest(cable.joins, generator.joints) or generator.joints[0]
    rule = f"is not one of: {', '.join(generator.joints)}"
    return [FieldError(rule, f"joins: {near}", "choice-unknown", ("cable", "joins"))]


def check_mast(site: Site, generator: Generator) -> list[FieldError]:
    """Only some antennas have a pipe that may go on as a mast."""
    if not site.mast or generator.carries_mast:
        return []
    rule = f"is not possible: {generator.title} has no pipe that goes on below its base line"
    return [FieldError(rule, "mount: insulated", "mast-none", ("site", "mount"))]


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
    for index, choke in chokes:
        if choke.known_range is None:
            continue
        low, high = choke.known_range
        if low > band.start or high < band.stop:
            rule = (
                f"covers {show_quantity(low, 'Hz')} to {show_quantity(high, 'Hz')}, not the whole "
                f"band {show_quantity(band.start, 'Hz')} to {show_quantity(band.stop, 'Hz')}"
            )
            at: KeyPath = ("chokes", index, "file")
            remedy = "measure over the band, or make the band narrower"
            complaints[at] = FieldError(rule, remedy, "table-range", at)
    return list(complaints.values())


def line_notes(cable: CoaxClass) -> tuple[str, ...]:
    """SWR that a line not of 50 ohm shows to a radio that is made for 50 ohm, in a sentence."""
    ratio = max(cable.z0, RADIO_OHM) / min(cable.z0, RADIO_OHM)
    if ratio == 1:
        return ()
    return (
        f"cable.type: {cable.name} is a line of {cable.z0:g} ohm, and radios are made for "
        f"{RADIO_OHM:g}: matched to the line, an antenna still shows the radio an SWR of "
        f"{ratio:.2g}; what the radio sees changes with the line's length",
    )
