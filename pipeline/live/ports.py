"""Where along the cable a page can put something: stretches that have a port on every segment.

A page carries the square of the number of its ports, so that a long cable cannot have them
everywhere. First come the places of candidates and of whatever the answer names, then the antenna's
end, both sides of a bond, the radio's end and the middle between them, and with what is left some
places between these, the fewer the further out. Between the stretches nothing is solved.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import Port, Structure
from pipeline.chokes.ideal import first_place
from pipeline.chokes.kind import Choke
from pipeline.solver.cases import ideal_choke
from pipeline.study.records import Study

# Ports along the cable at most: of the installation as described, and of another one beside it.
MOST_PORTS, FEWER_PORTS = 68, 40
# A stretch somewhere on the cable has room for three of the usual cores. [m]
_ROOM = 0.10
# As far from the antenna no segment is left out, where there are enough ports. [wavelengths]
_NEAR = 0.25
# Places between the known ones that are looked at, more than there are ports for.
_BETWEEN = 15
# Ends of segments that differ by less are one place. [m]
_SAME = 1e-6

Stretch = tuple[float, float]


def stretches_of(study: Study, chokes: Iterable[Choke]) -> list[Stretch]:
    """First and last place of an ideal choke and of others that are no drawings of their own. [m]

    Those that come first are the first to get ports.
    """
    every = (ideal_choke(study), *chokes)
    parts = (part for choke in every if not choke.is_drawn for part in choke.placed)
    return [(part.position, part.position + part.acts_over) for part in parts]


def with_movable_ports(
    study: Study, built: Structure, named: Sequence[Stretch], most: int = MOST_PORTS
) -> Structure:
    """The cable's geometry with ports where something can be tried; others on the shield go.

    ``named`` are stretches that have to have them, the first before the others; there are ``most``
    of them, or one on every segment. Wires and segments are those of ``built``.
    """
    own = {built.port_segment(port): port for port in built.ports}
    taken = {k for k, port in own.items() if not port.name.startswith("shield")}
    segments, middle, half = _segments(study, built, taken)
    covered = np.zeros(len(segments), dtype=bool)
    for low, high in _wishes(study, built, named):
        # What has no length lies on the segment that holds its place.
        end = max(high, low + 2 * _SAME)
        more = (middle + half > low + _SAME) & (middle - half < end - _SAME) & ~covered
        if covered.sum() + more.sum() <= most:
            covered |= more
    along = [
        own.get(int(k)) or _port(built, int(k), float(position))
        for k, position in zip(segments[covered], middle[covered], strict=True)
    ]
    rest = [port for port in built.ports if not port.name.startswith("shield")]
    return replace(built, ports=(*rest, *along))


def _segments(
    study: Study, built: Structure, taken: set[int]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Segments of the shield that may have a port, their middles along it and half lengths."""
    first = first_place(study.pipe.outside_diameter)
    path = [(k, s) for k, s in built.shield_path if k not in taken]
    index, middle = np.array([k for k, _ in path], dtype=np.int64), np.array([s for _, s in path])
    half = 0.5 * built.segments.length[index]
    free = middle + half > first + _SAME
    return index[free], middle[free], half[free]


def _port(built: Structure, segment: int, position: float) -> Port:
    wire = int(built.segments.wire[segment])
    at = segment - int(built.first_segment[wire])
    return Port(f"shield segment {segment}", wire, at, position)


def _wishes(study: Study, built: Structure, named: Sequence[Stretch]) -> Iterator[Stretch]:
    """Stretches that should have ports, the first before the others. [m]"""
    first = first_place(study.pipe.outside_diameter)
    last = float(built.shield_path[-1][1])
    yield from named
    yield from ((low, low + _ROOM) for low, high in named if high < low + _ROOM)
    yield first, min(first + _NEAR * study.host.wavelength, last)
    knots = [first, *bonds_of(built), last]
    for knot in knots[1:]:
        yield knot - _ROOM, knot
        yield knot, knot + _ROOM
    for before, after in itertools.pairwise(knots):
        yield _around(0.5 * (before + after))
    for part in _bisected(_BETWEEN):
        yield _around(first + part**2 * (last - first))
    # What is left over goes to the antenna's end, segment by segment.
    yield from ((position, position) for _, position in built.shield_path)


def _around(place: float) -> Stretch:
    return place - 0.5 * _ROOM, place + 0.5 * _ROOM


def _bisected(count: int) -> list[float]:
    """So many numbers between 0 and 1, each halfway between two that are there.

    References
    ----------
    .. [1] J. G. van der Corput, "Verteilungsfunktionen", 1935 (radical inverse; from memory).

    Examples
    --------
    >>> _bisected(3)
    [0.5, 0.25, 0.75]
    """
    digits = (f"{k:b}"[::-1] for k in range(1, count + 1))
    return [int(text, 2) / 2 ** len(text) for text in digits]


def bonds_of(structure: Structure) -> list[float]:
    """Places along the cable that a lead to a rod leaves from: nothing lies across them. [m]"""
    return [float(p.position) for p in structure.ports if p.name == "bond" and p.position]


def movable_ranges(structure: Structure) -> list[Stretch]:
    """First and last place of every stretch that ports cover without a gap, up to a bond. [m]"""
    _, low, high = structure.shield_spans
    found: list[Stretch] = []
    for begin, end in zip(low.tolist(), high.tolist(), strict=True):
        is_next = bool(found) and abs(found[-1][1] - begin) < _SAME
        if is_next and not any(abs(bond - begin) < _SAME for bond in bonds_of(structure)):
            found[-1] = found[-1][0], end
        else:
            found.append((begin, end))
    return found
