"""Places along the cable at which a choke was tried: which are enough, which is the best."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

# What is no longer than this part of a wavelength holds no surprise between its ends.
_PLACES_PER_WAVELENGTH = 20


@dataclass(frozen=True)
class Moved:
    """A choke at another place [m] of the cable, and its score there.

    ``near`` says that the place before is so close that nothing can lie between the two.
    """

    position: float
    score: float
    near: bool = True


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
