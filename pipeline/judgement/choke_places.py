"""Where along the cable the recommended choke does what, in sentences made from numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from models.lengths import large, stretch
from pipeline.chokes.kinds import kind_of
from pipeline.judgement.case_merit import CaseMerit
from pipeline.judgement.verdict import WORSE_FACTOR, Moved
from pipeline.text.formatting import listed, times

# More stretches of cable than these no sentence holds.
_MOST_STRETCHES = 4
# Nearer than this is no distance to a reader. [m]
_AT_THE_ANTENNA = 0.05


# What is no longer than this part of a wavelength holds no surprise between its ends.
_PLACES_PER_WAVELENGTH = 20


def tried_places(
    positions: Sequence[float], scores: Sequence[float], wavelength: float
) -> list[Moved]:
    """Places along the cable, each with a choke's score there and whether the place before is near.

    ``positions`` [m] in order and ``scores`` there; ``wavelength`` [m] is that of free space.
    """
    fine = wavelength / _PLACES_PER_WAVELENGTH
    before = [float("-inf"), *positions[:-1]]
    return [
        Moved(at, value, at - last <= fine)
        for at, value, last in zip(positions, scores, before, strict=True)
    ]


def best_place(places: list[Moved]) -> Moved:
    """The best place of the first stretch that is enough; the best of all where none is.

    The best of all may lie far down, where half a metre more of cable undoes it.
    """
    enough = stretches(places, lambda place: place.score <= 1)
    return min(enough[0] if enough else places, key=lambda place: place.score)


def stretches(places: list[Moved], holds: Callable[[Moved], bool]) -> list[list[Moved]]:
    """Where along the cable something holds, neighbours joined where nothing lies between.

    Examples
    --------
    >>> tried = [Moved(0.04, 0.5), Moved(0.06, 0.5), Moved(0.26, 0.5, near=False)]
    >>> [len(found) for found in stretches(tried, lambda place: place.score <= 1)]
    [2, 1]
    """
    found: list[list[Moved]] = []
    joined = False
    for place in places:
        if not holds(place):
            joined = False
            continue
        if joined and place.near:
            found[-1].append(place)
        else:
            found.append([place])
        joined = True
    return found


def _told(found: list[list[Moved]]) -> str:
    """Stretches in words; a place that was tried alone is not known to the centimetre."""
    every = [
        _near(g[0].position) if len(g) == 1 else f"from {stretch(g[0].position, g[-1].position)}"
        for g in found
    ]
    # Two that are told alike are one to the reader.
    every = list(dict.fromkeys(every))
    said = every[:_MOST_STRETCHES]
    if len(every) > _MOST_STRETCHES:
        said.append("in places further on")
    return listed(said)


def _near(position: float) -> str:
    return "at the antenna" if position < _AT_THE_ANTENNA else f"near {large(position, 1)}"


def place_sentence(places: list[Moved], chosen: CaseMerit, bare: CaseMerit) -> str:
    """Paragraph on the recommended choke at other places of the cable.

    Where nothing is recommended, what a few cores would do there.
    """
    if len(places) < 2 or bare.score <= 1:
        return ""
    several = kind_of(chosen.kind).is_counted and chosen.count > 1
    what = (
        "A few of the study's first cores, all at one point, were"
        if chosen.id == bare.id
        else "The same cores, all at one point, were"
        if several
        else "The same choke, taken at one point, was"
    )
    enough = stretches(places, lambda p: p.score <= 1)
    worse = _told(stretches(places, lambda p: p.score > WORSE_FACTOR * bare.score))
    best = best_place(places)
    at = f"{large(best.position)} ({times(best.score)} is left)"
    said = [
        f"enough {_told(enough)}, {'in the first of these ' if len(enough) > 1 else ''}best at {at}"
        if enough
        else f"enough at none of the places tried, best at {at}"
    ]
    said += [f"worse than none {worse}"] if worse else []
    said += [note for note in (kind_of(chosen.kind).moving_note,) if note]
    shift = (
        " Places further on shift with the length of the cable; the first stretch is the surest."
        if len(enough) > 1
        else ""
    )
    return (
        f"Where? {what} tried at {len(places)} places from "
        f"{stretch(places[0].position, places[-1].position)} along the cable: "
        f"{'; '.join(said)}.{shift}"
    )
