"""All kinds of choke, where a new one is entered, and the candidates of a study that names none."""

from __future__ import annotations

from pipeline.chokes.coil import CoilChoke, coil_label
from pipeline.chokes.ferrite import FerriteChoke, cores_that_fit
from pipeline.chokes.ideal import IdealChoke
from pipeline.chokes.kind import AT_THE_FEED, SLACK, Choke, Host, OwnUnknown
from pipeline.chokes.measured_choke import FixtureChoke, TableChoke
from pipeline.chokes.pair import PairChoke
from pipeline.chokes.sleeve import SleeveChoke

BELOW_THE_BEND = 0.15
# Cable that a row of cores leaves free below a bend: about the bend radius of thick cable [m].
BELOW_A_BEND = 0.05

_STANDARD_MATERIAL = "mix-43"
_STANDARD_COUNTS = (1, 2, 4, 8)
_STANDARD_TURNS = 9
_STANDARD_DIAMETER = 0.3
# A coil wound by hand and tied in two places: turns lie a fifth of a cable apart on average.
_STANDARD_PITCH = 1.2

KINDS: dict[str, type[Choke]] = {
    made.kind: made
    for made in (
        CoilChoke,
        FerriteChoke,
        SleeveChoke,
        IdealChoke,
        TableChoke,
        FixtureChoke,
        PairChoke,
    )
}


def kind_of(name: str) -> type[Choke]:
    """Kind by its name; what has none (the bare cable) is like a choke that differs in nothing.

    Examples
    --------
    >>> kind_of("ferrite").is_counted, kind_of("none").is_counted
    (True, False)
    """
    return KINDS.get(name, Choke)


def own_unknowns() -> dict[str, OwnUnknown]:
    """Unknowns that are some kind's own make, by their key."""
    return {own.key: own for kind in KINDS.values() for own in kind.unknowns}


def standard_chokes(
    host: Host, first_step: float, coil_place: float, room: float
) -> tuple[Choke, ...]:
    """Candidates for a study that names none, as far as the route has room for them.

    1, 2, 4 and 8 cores of the NiZn 800 class, and nine turns of the cable. Cores sit at the
    feed, those that do not end before the first bend below it.

    Parameters
    ----------
    host : Host
    first_step : float
        Length of the route's first step. [m]
    coil_place : float
        Where a coil begins. [m]
    room : float
        Length of the route up to the radio. [m]
    """
    cable = host.cable
    chokes: list[Choke] = [
        FerriteChoke(
            id=f"nizn-800-x{count}",
            label=f"{count} x {core.name}",
            count=count,
            position=_place_of_row(count * core.length, first_step),
            core=core,
        )
        for core in cores_that_fit(cable.jacket_diameter, _STANDARD_MATERIAL)[:1]
        if core.material == _STANDARD_MATERIAL
        for count in _STANDARD_COUNTS
    ]
    chokes.append(
        CoilChoke(
            id="coil-9",
            label=coil_label(_STANDARD_TURNS, _STANDARD_DIAMETER, "the cable"),
            position=coil_place,
            turns=_STANDARD_TURNS,
            diameter=_STANDARD_DIAMETER,
            pitch=_STANDARD_PITCH * cable.jacket_diameter,
            cable=cable,
            model="wire",
        )
    )
    return tuple(c for c in chokes if c.position + c.extent(host) <= room + SLACK)


def _place_of_row(length: float, first_step: float) -> float:
    """Where a row of cores [m] begins: a row is stiff and does not lie across a bend."""
    at_the_feed = AT_THE_FEED + length <= first_step + SLACK
    return AT_THE_FEED if at_the_feed else first_step + BELOW_A_BEND
