"""Sections of one file as far as they could be read, on their way to a whole study."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from models.antennas import generators
from models.antennas.generator import Generator
from models.catalogues.parts import Pipe
from models.catalogues.records import NO_PARTS, OwnParts
from models.quantities import SPEED_OF_LIGHT
from pipeline.chokes.kind import Choke
from pipeline.chokes.kinds import KINDS
from pipeline.study.fields import is_id
from pipeline.study.records import Antenna, Band, Bond, Cable, Price, Site, Station
from pipeline.text.refusals import FieldError


@dataclass(frozen=True)
class Candidates:
    """The candidates of a file: those that could be read with their entry's number, and the rest.

    ``unread`` holds entries with a fault as the file has them, so that what else names one of
    them is not called wrong as well; ``partly`` what could be read of those.
    """

    sound: tuple[tuple[int, Choke], ...]
    unread: tuple[Any, ...] = ()
    partly: tuple[tuple[int, Choke], ...] = ()

    def may_be(self, name: str) -> bool:
        """Whether a candidate that could not be read may have a name."""
        ids = [entry.get("id") if isinstance(entry, dict) else None for entry in self.unread]
        return any(not is_id(i) or name == i or name.startswith(f"{i}-") for i in ids)

    def may_hold(self, kind: str) -> bool:
        """Whether a candidate that could not be read may be of a kind."""
        said = [entry.get("kind") if isinstance(entry, dict) else None for entry in self.unread]
        return any(k == kind or k not in tuple(KINDS) for k in said)


@dataclass(frozen=True)
class Parts:
    """Values of a study as read; ``None`` for what is wrong, or for a band or chokes left out.

    ``given`` names the top-level keys of the file, ``sections`` holds the record of each section;
    ``problems`` is what the antenna's own file says about its parameters; ``lost_route`` says that
    the file has a route that is wrong, in whose place no other may be checked.
    """

    given: frozenset[str]
    sections: Mapping[str, Any]
    title: str | None
    frequency: float | None
    power: float | None
    duty: float | None
    antenna: Antenna | None
    pipe: Pipe | None
    problems: Sequence[FieldError]
    chokes: Candidates | None
    line_prices: tuple[Price, ...] = ()
    own: OwnParts = NO_PARTS
    lost_route: bool = False

    @property
    def band(self) -> Band | None:
        """Frequencies to sweep."""
        return self.sections.get("band")

    @property
    def site(self) -> Site | None:
        """Place, ground and surroundings of the antenna."""
        return self.sections.get("site")

    @property
    def cable(self) -> Cable | None:
        """The coax and its route."""
        return self.sections.get("cable")

    @property
    def bond(self) -> Bond | None:
        """The lead to a ground rod, whether or not the route has one."""
        return self.sections.get("bond")

    @property
    def station(self) -> Station | None:
        """Impedance and lead at the radio."""
        return self.sections.get("station")

    @property
    def generator(self) -> Generator | None:
        """The antenna's own file."""
        return None if self.antenna is None else generators()[self.antenna.type]

    @property
    def wavelength(self) -> float | None:
        """Free-space wavelength. [m]"""
        return None if self.frequency is None else SPEED_OF_LIGHT / self.frequency

    @property
    def has_bond(self) -> bool:
        """Whether the route has a bond."""
        return self.cable is not None and any(s.go == "bond" for s in self.cable.route)

    def having(self, **records: Any) -> Parts:
        """The same with records of some sections filled in."""
        return replace(self, sections={**self.sections, **records})
