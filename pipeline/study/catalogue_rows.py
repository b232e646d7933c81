"""Where on the cable rows of cores from the catalogue may begin, and how long each may be.

A study and the way of its cable in; up to four places out. The drawing has ports there, so that
every set of cores is algebra on the one solved cable.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from models.catalogues.parts import FerriteCore, every_core, takes_cable
from pipeline.chokes.ferrite import measured_cores
from pipeline.chokes.ideal import first_place
from pipeline.chokes.kind import SLACK
from pipeline.chokes.kinds import BELOW_A_BEND
from pipeline.circuit.choke_materials import one_pass
from pipeline.study.checks.route import Walk
from pipeline.study.records import RowPlace, Study

# Free cable kept between the last core and the end of the route, which draws may shorten [m].
_SPARE = 0.4
# Longest row in wavelengths: what lies further along sits in another part of the standing wave, and
# is tried as a second row.
_LONGEST_ROW = 0.25


@dataclass(frozen=True)
class LeftOut:
    """Cores that are not tried, by the reason.

    They do not go over the cable; nobody sells them; their size is known from memory only, which
    nobody should buy by; their data do not reach the frequency; a tighter one of the same mix and
    shape does more.
    """

    unfit: tuple[FerriteCore, ...]
    unsold: tuple[FerriteCore, ...]
    remembered: tuple[FerriteCore, ...]
    unknown: tuple[FerriteCore, ...]
    loose: tuple[FerriteCore, ...] = ()


def usable_cores(study: Study) -> tuple[tuple[FerriteCore, ...], LeftOut]:
    """Cores that may be advised on a study's cable at its frequency, and the others by the reason.

    Which of them a tighter one betters is not asked here.
    """
    jacket, f = study.cable.type.jacket_diameter, study.frequency
    every = every_core(study.own)
    fitting = tuple(c for c in every if takes_cable(c, jacket))
    sold = tuple(c for c in fitting if c.on_sale)
    read = tuple(c for c in sold if c.confidence != "from-memory" or c in study.own.cores)
    measured = measured_cores(study.chokes)
    known = tuple(c for c in read if c.id in measured or one_pass(c, f) is not None)

    def gone(
        before: Sequence[FerriteCore], after: Sequence[FerriteCore]
    ) -> tuple[FerriteCore, ...]:
        return tuple(c for c in before if c not in after)

    out = LeftOut(gone(every, fitting), gone(fitting, sold), gone(sold, read), gone(read, known))
    return known, out


def rows_on(study: Study, walk: Walk) -> tuple[RowPlace, ...]:
    """Where rows may begin: at the antenna, a quarter and half a wave down, before the radio.

    Below the first bend in place of the half wave, where the longest row would lie across it: a row
    is stiff. ``walk`` is the way of the study's cable.
    """
    cores, _ = usable_cores(study)
    wavelength, first = study.host.wavelength, first_place(study.pipe.outside_diameter)
    row = study.choke_design.most * max((core.length for core in cores), default=0.0)
    row = min(row, _LONGEST_ROW * wavelength)
    if not row:
        return ()
    quarter = RowPlace("a quarter wave down the cable", first + wavelength / 4, row)
    half = RowPlace("half a wave down the cable", first + wavelength / 2, row)
    below = [
        RowPlace("below the first bend", corner + BELOW_A_BEND, row)
        for corner in walk.bends_under(first, row)[:1]
    ]
    down = (_past_bends(place, walk) for place in (*below, quarter, *([] if below else [half])))
    end = walk.length - _SPARE
    wanted = [RowPlace("at the antenna", first, row)]
    for place in sorted(down, key=lambda place: place.position):
        # Of two that a bend brings together the first one stays.
        if place.position > wanted[-1].position and place.position + row <= end + SLACK:
            wanted.append(place)
    last = RowPlace("before the radio", math.floor(1e3 * (end - row)) / 1e3, row)
    if last.position >= wanted[-1].position + row:
        wanted.append(last)
    least = min(core.length for core in cores)
    rooms = (replace(place, room=_room(walk, place.position, row)) for place in wanted)
    return tuple(place for place in rooms if place.room >= least)


def _past_bends(place: RowPlace, walk: Walk) -> RowPlace:
    """The place itself, or just below the last bend that its row would lie across."""
    bends = walk.bends_under(place.position, place.room)
    position = bends[-1] + BELOW_A_BEND if bends else place.position
    return replace(place, position=round(position, 3))


def _room(walk: Walk, place: float, row: float) -> float:
    """Length of the row from a place to the next bend, no more than ``row``. [m]"""
    bends = walk.bends_under(place, row)
    free = walk.length - _SPARE - place
    return max(0.0, min(row, free, *(bend - place for bend in bends[:1])))
