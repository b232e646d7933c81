"""A choke on the shield: the record that all kinds share, and every question a kind answers.

A kind overrides what differs for it; what it leaves alone is that of a lumped part of no length
that can be bought and moved, and of whose making nothing is unknown.

A choke has two lengths: over ``acts_over`` of the shield its impedance is spread, ``extent`` of the
cable it takes up. They are the same for a row of cores; a coil as a lumped part acts at its
antenna-side end, though it is long.

What changes the drawing is drawn (``is_drawn``) and a geometry of its own: a coil's turns are all
there is of it; of a sleeve the outside is drawn and what is inside stands in series with
``own_port`` of that geometry.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass, FerriteCore, Pipe
from models.catalogues.working_limits import working_value
from models.lengths import large
from models.quantities import SPEED_OF_LIGHT
from models.site.feedline_route import Helix
from models.site.sleeve import Sleeve
from pipeline.text.refusals import FieldError

AT_THE_FEED = 0.05
# Sums and unit conversions of written lengths differ from the written total by rounding [m].
SLACK = 1e-9


@dataclass(frozen=True)
class Host:
    """The cable that a choke is put on, and the frequency it is meant for. [Hz]"""

    cable: CoaxClass
    frequency: float

    @property
    def wavelength(self) -> float:
        """Free-space wavelength. [m]"""
        return SPEED_OF_LIGHT / self.frequency


@dataclass(frozen=True)
class OwnUnknown:
    """An unknown that is a kind's own: its key below ``unknowns`` and its words.

    ``label`` is its name in a sentence, ``measure`` how a reader gets to know it; ``is_geometric``
    says that it changes the drawing and not only an impedance; ``stated`` is its value where the
    choke is as the study states it.
    """

    key: str
    label: str
    measure: str
    is_geometric: bool = False
    stated: float = 1.0


@dataclass(frozen=True)
class Least:
    """Smallest factor on a kind's own unknown that can be made, why, and a tag."""

    factor: float
    reason: str
    tag: str


@dataclass(frozen=True)
class SawnPipe:
    """A pipe over the cable that a workshop saws and joins to the shield at one end.

    ``length`` [m] from the open end to the plate; ``mouth`` and ``plate`` are their places along
    the cable and ``straight`` so much of it beside the mouth that stays straight [m].
    """

    pipe: Pipe
    length: float
    mouth: float
    plate: float
    straight: float


@dataclass(frozen=True, kw_only=True)
class Choke(ABC):
    """One candidate.

    ``position`` [m] is the distance along the shield from the leg's axis to the end of the
    choke that is nearer to the antenna; ``count`` is 1 unless cores are counted; ``price`` is
    that of all pieces together.
    """

    kind: ClassVar[str] = ""
    # It can be had at all; a reference cannot.
    is_real: ClassVar[bool] = True
    # Pieces of it are counted out; they are bought and named one by one.
    is_counted: ClassVar[bool] = False
    # Paths of the keys of the study file that say where it sits, in the order of `placed`.
    place_keys: ClassVar[tuple[tuple[str, ...], ...]] = (("position",),)
    # Keys of the study file that hold a whole choke each, for what is made of several.
    holds: ClassVar[tuple[str, ...]] = ()
    # It can be one of several at once: an impedance that needs no drawing, and can be had.
    goes_with_others: ClassVar[bool] = False
    # Key of the study file that names its measured data.
    data_key: ClassVar[str] = "file"
    # Where it begins if the study says nothing and it does not hang. [m]
    usual_position: ClassVar[float] = AT_THE_FEED
    # It hangs below a bend, which is its place where the study names none.
    hangs: ClassVar[bool] = False
    # What to take in place of one that is stiff and lies across a bend; empty if it goes round.
    shorter: ClassVar[str] = ""
    # Its making decides what it does: it is taken only if it is enough however it comes out.
    hangs_on_making: ClassVar[bool] = False
    # An inductance by intention, capacitive above its own resonance.
    is_inductor: ClassVar[bool] = False
    # A line in resonance, whose impedance on paper is an upper limit.
    is_resonant: ClassVar[bool] = False
    # What is unknown about its making.
    unknowns: ClassVar[tuple[OwnUnknown, ...]] = ()
    # Port of a geometry of its own that its impedance is in series with; empty if it has none.
    own_port: ClassVar[str] = ""
    # End of a sentence: why it may do harm.
    why_worse: ClassVar[str] = ""

    id: str
    label: str
    position: float
    count: int = 1
    price: float | None = None
    currency: str = ""

    # From the study file

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Label for a candidate that the study gives none, from its keys as read."""
        return cls.kind

    @classmethod
    def read(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Values of the record that keys give; raises FieldError for what they cannot be."""
        return dict(given)

    @classmethod
    def completed(cls, values: Mapping[str, Any], main: CoaxClass) -> dict[str, Any]:
        """Those values with what the main cable decides where the study leaves it open."""
        return dict(values)

    def labelled(self) -> Self:
        """The same with what its name has to say of its places, where the study names it not."""
        return self

    @property
    def files(self) -> tuple[str, ...]:
        """Files beside the study that it rests on, as the study names them."""
        return ()

    # Circuit

    @abstractmethod
    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """Series impedance on the shield, shape (n_f,) [ohm], as a lumped part.

        Raises
        ------
        ValueError
            If its data do not reach a frequency.
        """

    def drawn_impedance(
        self, host: Host, factors: Mapping[str, NDArray[np.float64]]
    ) -> NDArray[np.complex128]:
        """Impedance at the design frequency in every draw of unknowns, shape (n or 1,) [ohm]."""
        return self.impedance(np.array([host.frequency]), host)

    def spread(self, host: Host) -> tuple[float, float]:
        """Least and largest factor by which its impedance may be off, from one piece to the next.

        One and one where nothing is known to scatter.
        """
        return 1.0, 1.0

    def told_impedance(
        self, f: NDArray[np.float64], host: Host, factors: NDArray[np.float64]
    ) -> NDArray[np.complex128]:
        """Impedance that may be told of it, shape (n_f,) [ohm].

        ``factors`` (n,) are the first of its own unknowns as stated and at the ends of its range:
        what hangs on that is told as the least of it.
        """
        return self.impedance(f, host)

    @property
    def acts_over(self) -> float:
        """Length of shield that the impedance is spread over; 0: it acts at its place. [m]"""
        return 0.0

    @property
    def known_range(self) -> tuple[float, float] | None:
        """Lowest and highest frequency of measured data; ``None`` where a formula goes on. [Hz]"""
        return None

    @property
    def data_remedy(self) -> str:
        """What to change where it has no impedance over the band."""
        return "choose another core or table, or a narrower band"

    # On the cable

    @property
    def placed(self) -> tuple[Choke, ...]:
        """Its parts by themselves, each at its own place with its share of pieces and price."""
        return (self,)

    @property
    def members(self) -> Mapping[tuple[str, ...], Choke]:
        """Chokes that it is made of, each with its path of keys from here; itself for most."""
        return {(): self}

    @property
    def positions(self) -> tuple[float, ...]:
        """Where each of its parts begins. [m]"""
        return tuple(part.position for part in self.placed)

    def extent(self, host: Host) -> float:
        """Length of cable that it takes up along the route. [m]"""
        return self.acts_over

    def cut_length(self, host: Host) -> float | None:
        """Length to cut it to, where that is a question. [m]"""
        return None

    @property
    def is_cut_to_cable(self) -> bool:
        """Whether its length comes from the cable, so that it has none where it does not go on."""
        return False

    def sawn(self, host: Host) -> SawnPipe | None:
        """Pipe that is sawn for it; ``None`` where there is none."""
        return None

    def settled(self, host: Host) -> Self:
        """The same choke with lengths that are derived from the cable written down."""
        return self

    def misfit(self, main: CoaxClass) -> FieldError | None:
        """What keeps it from going on a cable, at its key; ``None`` where it goes."""
        return None

    def notes(self, host: Host) -> tuple[str, ...]:
        """What is allowed but worth knowing, a sentence each."""
        return ()

    def derived_note(self, host: Host) -> str:
        """A size that is derived from the cable, in words."""
        return ""

    # Wire and cable of its own

    @property
    def helix(self) -> Helix | None:
        """Winding of the cable itself; ``None`` for what only sits on it."""
        return None

    @property
    def is_drawn(self) -> bool:
        """Whether it changes the geometry, not only an impedance."""
        return False

    def over_cable(self, host: Host) -> Sleeve | None:
        """Pipe over the cable to be drawn; ``None`` for what has none."""
        return None

    @property
    def opens_to(self) -> str:
        """Which end of the cable its open end points to; empty for what has none."""
        return ""

    def free_cable(self, host: Host) -> tuple[float, float]:
        """Straight cable that it needs before its end at the antenna and behind the other. [m]"""
        return 0.0, 0.0

    def cable_along(self, main: CoaxClass) -> CoaxClass:
        """Class of the cable at the choke."""
        return main

    def own_cable(self, main: CoaxClass) -> float:
        """Cable that has to be bought for it beside the run's own. [m]

        A winding of the ``main`` cable replaces its own height of the way; one of another class
        is a jumper from the tap to the end of the winding.
        """
        if self.helix is None:
            return 0.0
        if self.cable_along(main) == main:
            return self.helix.cable - self.helix.height
        return self.position + self.helix.cable

    def redrawn(self, pitch: float, shift: float, stated: CoaxClass, drawn: CoaxClass) -> Self:
        """The choke in a draw: pitch by a factor, its bend shifted [m], the main cable another."""
        return self

    # Variation

    @property
    def least(self) -> Least | None:
        """Limit of the first of its own unknowns; ``None`` without."""
        return None

    @property
    def can_be_moved(self) -> bool:
        """Whether it acts at one place of the cable and is one that can be had."""
        return self.is_real and not self.is_drawn and len(self.placed) == 1

    # Bought and heated

    @property
    def ferrite_core(self) -> FerriteCore | None:
        """Core that it is a row of; ``None`` for what has none, or is made of others."""
        return None

    @property
    def cores(self) -> tuple[FerriteCore, ...]:
        """Cores of all its parts, each class of them once; empty for what has none."""
        found = (part.ferrite_core for part in self.placed)
        return tuple(dict.fromkeys(core for core in found if core is not None))

    @property
    def core_ids(self) -> str:
        """Ids of its cores for a table; empty for what has none."""
        return " + ".join(core.id for core in self.cores)

    @property
    def measurement(self) -> Any:
        """What was measured of one of its cores; ``None`` where nothing was."""
        return None

    def with_measurement(self, known: Mapping[str, Any]) -> Self:
        """The same with what was measured of its core, by the core's id."""
        return self

    @property
    def pieces_beside(self) -> int:
        """Pieces that putting it on takes beside its own, such as a connector that comes off."""
        return 0

    @property
    def on_sale(self) -> bool:
        """Whether it can be bought or made."""
        return self.is_real

    def withstand(self, host: Host) -> float | None:
        """Peak voltage that creepage along it stands, wet and dirty; ``None``: not known. [V]"""
        along = self.extent(host)
        return float(np.sqrt(2)) * working_value("creepage") * along if along else None

    # Words

    @classmethod
    def counted(cls, count: int, said: str, part: str) -> str:
        """A part with how many of it for a sentence; ``said`` is the count in words."""
        return part

    @property
    def part(self) -> str:
        """Name of the thing itself, without how many and where."""
        return self.label

    @property
    def named(self) -> str:
        """Name in a sentence, with how many."""
        return self.label

    @property
    def short(self) -> str:
        """Name in a row of a table."""
        return self.label

    @property
    def begins(self) -> str:
        """Where it begins, as the end of a sentence: "starting 0.20 m from the antenna"."""
        return f"starting {large(self.position)} from the antenna"

    def curves(self) -> tuple[tuple[Choke, tuple[Any, ...], str], ...]:
        """Chokes whose impedance is drawn for this one, what makes each the same, its label."""
        return ((self, (self.kind, self.id), self.label),)
