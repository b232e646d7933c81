"""The answer as numbers: what each candidate does over all draws, which is taken, what decides it.

A choke is *enough* in an installation where what it leaves is below every threshold, and *enough*
without more words where that holds in at least :data:`SURE` of the installations that agree with
the study: all that it leaves open drawn, the computation's own uncertainty and the scatter of
ferrite included. Sentences, pages, figures and tables read these records and work nothing out anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.chokes.kind import Choke
from pipeline.mesh.evidence import Grade
from pipeline.montecarlo.draws import Unknown
from pipeline.montecarlo.sensitivity import Share
from pipeline.solver.cases import IDEAL, NONE, Case
from pipeline.study.records import Study

# A choke that is enough in so many installations is enough.
SURE = 0.95
# Classes of one installation with one candidate; exactly one holds.
CLASSES = ("invisible", "noticeable", "strong", "worse")

# Where a candidate comes from: a reference, the study, the coil that is always judged, or the
# catalogue.
Origin = Literal["reference", "study", "standard", "catalogue"]
# Why a candidate that is enough is not taken: its drawing failed a check, it is not on sale, it
# rests on a size from memory, it comes to its Curie point, it is above the budget.
Barred = Literal["", "unsound", "not-sold", "remembered", "hot", "budget"]


@dataclass(frozen=True)
class Chance:
    """Part of the installations in which something is so, and its standard error.

    The error is of the geometries that were drawn (bootstrap over them).
    """

    value: float
    error: float


@dataclass(frozen=True)
class Range:
    """A number as described, and its median and 95 % range over the draws.

    ``low`` and ``high`` are the 2.5 and 97.5 % points, moved out to the number as described where
    that lies beyond: it is one that agrees with the study too. The computation may be off as well.
    """

    stated: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Candidate:
    """One case over all draws.

    ``chances`` are those of each of :data:`CLASSES`, ``better`` that of a score clearly below the
    bare cable's. ``figures`` are ranges by name of the figure of merit, ``score`` that of the
    largest change over its threshold, ``changes`` those of each scored change over its threshold;
    ``driver`` names the figure that most often sets the score. ``place`` is the part of the draws
    that score less than the installation as described. ``geometries`` is how many drawings it was
    judged on: a coil that is hopeless is not drawn as often. ``heat`` is the part of the power
    that it takes, not exceeded in :data:`SURE` of the draws. ``ohms`` is the size of all its cores'
    impedance, ``None`` for what has none.
    """

    case: Case
    origin: Origin
    chances: Mapping[str, Chance]
    better: Chance
    figures: Mapping[str, Range]
    changes: Mapping[str, Range]
    score: Range
    driver: str
    place: float
    grade: Grade
    geometries: int
    heat: float
    barred: Barred = ""
    ohms: Range | None = None

    @property
    def id(self) -> str:
        """Short name."""
        return self.case.id

    @property
    def enough(self) -> Chance:
        """Chance that no change is visible."""
        return self.chances["invisible"]

    @property
    def is_enough(self) -> bool:
        """Whether it is enough by the rule."""
        return self.enough.value >= SURE

    @property
    def price(self) -> float | None:
        """Of all its pieces; ``None`` where nobody said."""
        return None if self.case.choke is None else self.case.choke.price

    @property
    def pieces(self) -> int:
        """Pieces to be bought; none for the bare cable and the reference."""
        choke = self.case.choke
        return choke.count if choke is not None and choke.is_real else 0

    @property
    def may_be_taken(self) -> bool:
        """Whether it may be the answer at all."""
        return self.origin != "reference" or self.id == NONE


@dataclass(frozen=True)
class Cause:
    """Effect of one unknown on a result: its share of the spread, and the chances it can bring.

    ``low`` and ``high`` are the smallest and largest chance of no visible change over parts of
    its range, ``at_low`` and ``at_high`` those parts as probabilities of the unknown; ``turns``
    says that they differ by more than chance. A ``joint`` cause is several unknowns together; its
    chances are those of the one that is named.
    """

    name: str
    label: str
    share: Share
    turns: bool
    low: float
    high: float
    at_low: tuple[float, float]
    at_high: tuple[float, float]
    joint: bool = False


@dataclass(frozen=True)
class Instead:
    """Something else than a choke alone, computed: in words, with the chance that comes of it.

    ``what`` is a phrase ("the cable on the other leg"), ``with_choke`` the id of the best
    candidate then ("none": without one), ``label`` its name; ``geometries`` how many were drawn.
    ``choke`` is what that candidate puts on the cable.
    """

    what: str
    with_choke: str
    label: str
    enough: Chance
    geometries: int
    choke: Choke | None = None


@dataclass(frozen=True)
class FrontPoint:
    """One set on the front of cost, change and heat: nothing betters it in all three at once.

    Of classes of ferrite that cannot be told apart one set stands for the others.
    """

    id: str
    label: str
    cost: float
    score: float
    heat: float
    enough: float


@dataclass(frozen=True)
class Answer:
    """All candidates, the one to take, and what decides.

    ``study`` has the chosen set among its chokes, also where it comes from the catalogue.
    ``enough`` says whether the chosen one is enough by the rule; if not it is the one with the
    best chance. ``causes`` and ``geometry`` (the share of all that changes the drawing) are those
    of the bare cable and of the chosen; ``instead`` is empty where the chosen one is enough.
    ``currency`` is empty where pieces are counted; ``tried`` is how many sets were.
    ``draws`` are those on each geometry.
    """

    study: Study
    candidates: Mapping[str, Candidate]
    chosen: str
    enough: bool
    causes: Mapping[str, tuple[Cause, ...]]
    geometry: Mapping[str, Share]
    front: tuple[FrontPoint, ...]
    instead: tuple[Instead, ...]
    unknowns: tuple[Unknown, ...]
    currency: str
    tried: int
    geometries: int
    draws: int

    @property
    def bare(self) -> Candidate:
        """The cable without a choke."""
        return self.candidates[NONE]

    @property
    def ideal(self) -> Candidate:
        """The reference."""
        return self.candidates[IDEAL]

    @property
    def best(self) -> Candidate:
        """The one to take."""
        return self.candidates[self.chosen]
