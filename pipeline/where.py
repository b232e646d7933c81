"""Where along the cable the recommended choke does what, in sentences made from numbers only."""

from __future__ import annotations

import itertools
from collections.abc import Callable

from pipeline.verdict import WORSE_FACTOR, Facts, Moved, score

# More stretches of cable than these no sentence holds.
_MOST_STRETCHES = 4


def not_enough(places: list[Moved]) -> str:
    """That a choke is not enough where it is, and where it would be."""
    best = min(places, key=lambda p: p.score, default=None)
    elsewhere = (
        f" At {best.position:.2f} m along the cable it would be enough."
        if best is not None and best.score <= 1
        else ""
    )
    return f" It helps, but does not make the cable invisible.{elsewhere}"


def _stretches(places: list[Moved], holds: Callable[[Moved], bool]) -> str:
    """Where along the cable something holds, neighbours joined; the first four stretches."""
    groups = [list(g) for true, g in itertools.groupby(places, key=holds) if true]
    said = [
        f"at {g[0].position:.2f} m"
        if len(g) == 1
        else f"from {g[0].position:.2f} to {g[-1].position:.2f} m"
        for g in groups[:_MOST_STRETCHES]
    ]
    if len(groups) > _MOST_STRETCHES:
        said.append("in places further on")
    return " and ".join((", ".join(said[:-1]), said[-1])) if len(said) > 1 else "".join(said)


def where(places: list[Moved], chosen: Facts, bare: Facts) -> str:
    """What the recommended choke would do at other places of the cable."""
    if len(places) < 2 or score(bare) <= 1:
        return ""
    what = "cores" if chosen.kind == "ferrite" and chosen.count > 1 else "choke"
    best = min(places, key=lambda p: p.score)
    enough = _stretches(places, lambda p: p.score <= 1)
    worse = _stretches(places, lambda p: p.score > WORSE_FACTOR * score(bare))
    said = [
        f"enough {enough}" if enough else "nowhere enough",
        f"best at {best.position:.2f} m ({best.score:.1f} of what is just visible)"
        if best.score <= 1
        else f"best at {best.position:.2f} m, with {best.score:.1f} times what is just visible",
    ]
    said += [f"worse than none {worse}"] if worse else []
    shift = (
        " Stretches further on shift with the length of the cable; the first is the surest."
        if " and " in enough
        else ""
    )
    last, first = places[-1].position, places[0].position
    return (
        f"Where? The same {what}, taken at one point and moved along the cable from {first:.2f} to "
        f"{last:.2f} m: {'; '.join(said)}.{shift}"
    )
