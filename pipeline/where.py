"""Where along the cable the recommended choke does what, in sentences made from numbers only."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.verdict import WORSE_FACTOR, Facts, Moved, score

# More stretches of cable than these no sentence holds.
_MOST_STRETCHES = 4
# A score below this is told as less than it.
_LEAST = 0.1


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
        f"near {g[0].position:.1f} m"
        if len(g) == 1
        else f"from {g[0].position:.2f} to {g[-1].position:.2f} m"
        for g in found
    ]
    # Two that are told alike are one to the reader.
    every = list(dict.fromkeys(every))
    said = every[:_MOST_STRETCHES]
    if len(every) > _MOST_STRETCHES:
        said.append("in places further on")
    return " and ".join((", ".join(said[:-1]), said[-1])) if len(said) > 1 else "".join(said)


def _amount(value: float) -> str:
    if value < _LEAST:
        return f"less than {_LEAST:g} of what is just visible"
    return f"{value:.1f} {'of' if value <= 1 else 'times'} what is just visible"


def where(places: list[Moved], chosen: Facts, bare: Facts) -> str:
    """What the recommended choke would do at other places of the cable."""
    if len(places) < 2 or score(bare) <= 1:
        return ""
    several = chosen.kind == "ferrite" and chosen.count > 1
    what = "cores, all at one point, were" if several else "choke, taken at one point, was"
    enough = stretches(places, lambda p: p.score <= 1)
    worse = _told(stretches(places, lambda p: p.score > WORSE_FACTOR * score(bare)))
    # The best of all may lie far down, where half a metre more of cable undoes it.
    best = min(enough[0] if enough else places, key=lambda p: p.score)
    at = f"{best.position:.2f} m ({_amount(best.score)})"
    said = [
        f"enough {_told(enough)}, {'in the first of these ' if len(enough) > 1 else ''}best at {at}"
        if enough
        else f"enough at none of the places tried, best at {at}"
    ]
    said += [f"worse than none {worse}"] if worse else []
    shift = (
        " Places further on shift with the length of the cable; the first stretch is the surest."
        if len(enough) > 1
        else ""
    )
    return (
        f"Where? The same {what} tried at {len(places)} places from "
        f"{places[0].position:.2f} to {places[-1].position:.2f} m along the cable: "
        f"{'; '.join(said)}.{shift}"
    )
