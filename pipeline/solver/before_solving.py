"""A study that is drawn, before anything is solved: what is refused, and the ports that it needs.

A drawn installation comes in; chokes that lie where the shield has no place for them, or whose data
do not reach the band, are named here instead of at the end of a run.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Structure
from pipeline.chokes.kind import Choke
from pipeline.solver import field_solver
from pipeline.solver.cases import CABLE, IDEAL, lumped_chokes
from pipeline.solver.terminations import (
    choke_at_frequencies,
    choke_weights,
    route_length,
    with_ports_for,
)
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError
from pipeline.text.units import show_quantity

_MEBIBYTE = 2**20
# Cable past the place of a choke that a route should have. [m]
_PAST = 0.03
_MILLIMETRE = 1e-3


def refuse_chokes(study: Study, structure: Structure, frequency: NDArray[np.float64]) -> None:
    """Raise StudyError with every lumped choke that cannot be put on its cable as it is drawn."""
    faults: list[Fault] = []
    for choke in lumped_chokes(study):
        if (misplaced := _misplaced(study, structure, choke)) is not None:
            faults.append(misplaced)
            continue
        try:
            choke_at_frequencies(choke, study, frequency)
        except StudyError as error:
            faults += error.faults
    if faults:
        raise StudyError(*dict.fromkeys(faults))


def _misplaced(study: Study, structure: Structure, choke: Choke) -> Fault | None:
    """The first part of a choke that lies where the shield has no place for it, if any does."""
    for key, part in zip(choke.place_keys, choke.placed, strict=False):
        try:
            choke_weights(structure, part.position, part.acts_over)
        except ValueError:
            return _no_place(study, structure, part, ".".join(key))
    return None


def _no_place(study: Study, structure: Structure, choke: Choke, key: str) -> Fault:
    """A choke that lies partly inside the antenna's pipe or past the end of the cable."""
    end, begin = route_length(structure), _begin(structure)
    place, key = study.place(f"chokes.{choke.id}.{key}"), key.rsplit(".", 1)[-1]
    here = show_quantity(choke.position, "m")
    reached = choke.position + choke.acts_over
    least = show_quantity(np.ceil(begin / _MILLIMETRE) * _MILLIMETRE, "m", "up")
    if choke.id == IDEAL:
        rule = f"is {show_quantity(end, 'm')} long; the reference choke of every study sits {here}"
        rule += " along the cable"
        wanted = show_quantity(choke.position + _PAST, "m", "up")
        remedy = f"a longer first step, {wanted} or more"
        return Fault(study.place("cable.route"), "", rule, remedy, "route-short")
    if choke.position < begin:
        rule = f"lies inside the pipe that the cable is joined to: its shield begins {least} from "
        rule += "the pipe's axis"
        return Fault(place, here, rule, f"{key}: {least}", "choke-inside")
    rule = f"reaches {show_quantity(reached, 'm')} along a cable of {show_quantity(end, 'm')}"
    last = np.floor((end - choke.acts_over) / _MILLIMETRE - 1) * _MILLIMETRE
    remedy = f"{key}: {show_quantity(max(last, begin), 'm', 'down')}, or a longer route"
    return Fault(place, here, rule, remedy, "choke-beyond-route")


def needed_ports(study: Study, built: Structure) -> Structure:
    """A geometry of a study with the ports that something is put on; other ports are left out.

    On the cable's own that is what lumped candidates and sets of the catalogue cover. StudyError if
    one lies where the shield has no ports.
    """
    if built.name != CABLE:
        return with_ports_for(built, ())
    stretches = [(row.position, row.room) for row in study.rows]
    try:
        return with_ports_for(built, lumped_chokes(study), stretches)
    except ValueError as error:
        rule = f"leaves no room for a candidate: {error}"
        remedy = "let the route be longer, or the candidates sit nearer to the antenna"
        place = study.place("cable.route")
        raise StudyError(Fault(place, "", rule, remedy, "choke-no-room")) from error


def _begin(structure: Structure) -> float:
    """Distance at which the drawn shield begins: the surface of what it is joined to. [m]"""
    segment, centre = structure.shield_path[0]
    return centre - 0.5 * float(structure.segments.length[segment])


def size_sentence(name: str, drawings: Sequence[tuple[int, int, int]]) -> str:
    """Size of a study's solves in a sentence, to be said before they begin.

    ``drawings`` are numbers of segments, ports and frequencies.

    Examples
    --------
    >>> size_sentence("roof", [(500, 1, 9), (1000, 50, 9)])
    'roof: solves of up to 1000 segments, about 37 MB of memory each.'
    """
    largest, memory = max(n for n, _, _ in drawings), memory_of(drawings)
    return f"{name}: solves of up to {largest} segments, about {memory:.0f} MB of memory each."


def memory_of(drawings: Sequence[tuple[int, int, int]]) -> float:
    """Memory that the largest of some solves takes, sizes as :func:`size_sentence` has them. [MB]

    Definition.
    """
    return max(field_solver.SOLVER.solve_memory(*drawing) for drawing in drawings) / _MEBIBYTE
