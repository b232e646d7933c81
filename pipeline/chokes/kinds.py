"""The list of all kinds of choke: the one place where a new kind is entered."""

from __future__ import annotations

from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.ideal import IdealChoke
from pipeline.chokes.kind import Choke, OwnUnknown
from pipeline.chokes.measured import FixtureChoke, TableChoke
from pipeline.chokes.sleeve import SleeveChoke

KINDS: dict[str, type[Choke]] = {
    made.kind: made
    for made in (CoilChoke, FerriteChoke, SleeveChoke, IdealChoke, TableChoke, FixtureChoke)
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
    return {kind.unknown.key: kind.unknown for kind in KINDS.values() if kind.unknown.key}
