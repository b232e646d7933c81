"""What else than a choke could be done to an installation: a changed study and a phrase for each.

A study in, studies with one thing changed out. Nothing is solved here; what cannot be drawn is
found out by whoever draws it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

from models.antennas import generators
from models.lengths import large
from models.site.feedline_route import LOWEST_RUN, Step
from models.site.soil import common_rod
from pipeline.study.records import Bond, Study
from pipeline.study.whole_study import feed_height, with_rows
from pipeline.text.units import show_quantity

# A bond higher up than this is no short way to a rod. [m]
_NEAR_GROUND = 1.0
# A good rod, or several of them in good soil; common practice, no source. [ohm]
GOOD_ROD = 10.0
# A rod that is no more than so many times as good stays.
_MUCH_BETTER = 1.5
# Cable that is added before the radio, in wavelengths: a standing wave repeats itself every half of
# one, so that a quarter less is a quarter more.
_LONGER = (1 / 8, 1 / 4, -1 / 8)


@dataclass(frozen=True)
class Alternative:
    """A study with one thing changed, and a phrase for that.

    ``is_drawn_anew`` says that the change is one of wires and not only of an impedance.
    """

    what: str
    study: Study
    is_drawn_anew: bool = True


def alternatives(study: Study) -> tuple[Alternative, ...]:
    """Changes that may be made to a study's installation, each by itself."""
    return (
        *_bonds(study),
        *_rods(study),
        *_joints(study),
        *_lengths(study),
        *_cables(study),
    )


def _bonds(study: Study) -> Iterator[Alternative]:
    """No bond where there is one, a bond near the ground where there is none."""
    route, site = study.cable.route, study.site
    if study.bond is not None:
        around = site.around
        pieces = (*around.pieces, around.other)
        earths = (around.mast_earth, *(piece.earth for piece in pieces if piece is not None))
        # Something else may stand on the rod of this bond.
        if all(earth is None or earth.impedance is not None for earth in earths):
            kept = tuple(step for step in route if step.go != "bond")
            yield Alternative("no bond", _routed(replace(study, bond=None), kept))
        return
    place = _lowest_corner(study)
    if site.ground is None or place is None:
        return
    index, height = place
    with_bond = (*route[: index + 1], Step("bond", 0.0), *route[index + 1 :])
    bond = Bond(rod_impedance=common_rod(site.ground.sigma), usual=True)
    what = f"a bond to a rod where the cable is {large(height)} above ground"
    yield Alternative(what, _routed(replace(study, bond=bond), with_bond))


def _lowest_corner(study: Study) -> tuple[int, float] | None:
    """Step of the route that ends lowest, the last one aside, and its height [m].

    ``None`` where none comes near the ground.
    """
    height, low = feed_height(study), (-1, math.inf)
    for index, step in enumerate(study.cable.route[:-1]):
        go, move = step.move(height)
        height += {"up": move, "down": -move}.get(go, 0.0)
        if height < low[1]:
            low = index, height
    return low if low[1] <= _NEAR_GROUND else None


def _rods(study: Study) -> Iterator[Alternative]:
    """A good rod in place of a much worse one."""
    if study.bond is None:
        return
    used = study.bond.rod_impedance
    if used is None or abs(used) > _MUCH_BETTER * GOOD_ROD:
        bond = replace(study.bond, rod_impedance=complex(GOOD_ROD), usual=False)
        yield Alternative(f"a rod of {GOOD_ROD:g} ohm", replace(study, bond=bond), False)


def _joints(study: Study) -> Iterator[Alternative]:
    """The shield joined to another part of the antenna."""
    for joint in generators()[study.antenna.type].joints:
        if joint != study.cable.joins:
            cable = replace(study.cable, joins=joint)
            yield Alternative(f"the cable on the {joint}", replace(study, cable=cable))


def _lengths(study: Study) -> Iterator[Alternative]:
    """The antenna's lengths as they follow from the frequency, where the study states others."""
    generator, parameters = generators()[study.antenna.type], study.antenna.parameters
    cut = {trim.parameter for trim in generator.trims}
    stated = {
        f.name: None
        for f in fields(parameters)
        if f.name in cut and f.default is None and getattr(parameters, f.name) is not None
    }
    if stated:
        antenna = replace(study.antenna, parameters=replace(parameters, **stated))
        what = f"lengths as derived for {show_quantity(study.frequency, 'Hz')}"
        yield Alternative(what, replace(study, antenna=antenna))


def _cables(study: Study) -> Iterator[Alternative]:
    """More or less cable before the radio."""
    *others, last = study.cable.route
    if last.go == "bond":
        return
    for part in _LONGER:
        more = part * study.host.wavelength
        # Down to a height: the lower, the longer.
        length = last.length - more if last.go == "down_to" else last.length + more
        if length > LOWEST_RUN:
            what = f"{large(abs(more))} {'more' if more > 0 else 'less'} cable before the radio"
            changed = _routed(study, (*others, replace(last, length=length)))
            whole = study.cable.length
            longer = None if whole is None else whole + more
            cable = replace(changed.cable, length=longer)
            yield Alternative(what, replace(changed, cable=cable))


def _routed(study: Study, route: tuple[Step, ...]) -> Study:
    """The study with another way of its cable, and places for cores on that."""
    return with_rows(replace(study, cable=replace(study.cable, route=route)))
