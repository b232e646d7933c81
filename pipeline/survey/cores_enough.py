"""How many cores are enough, class by class and place by place.

Rows of one group in; the share of its settings in which n cores are enough, and the least n for
which that is so in half of them, in four of five, in nineteen of twenty. Enough is not monotone:
one core more can bring the choke's reactance into resonance with the cable's, so a count is judged
by itself and nothing is smoothed. With no cores at all the cable is bare.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import ferrite_cores
from models.lengths import large, stretch
from pipeline.analysis.figures_of_merit_and_score import WORSE_FACTOR
from pipeline.chokes.kinds import kind_of
from pipeline.survey.drawn_against_none import score_beside
from pipeline.survey.resampled import ENDS, Resampled, Share
from pipeline.survey.table_rows import SETTING, TableRows

# Parts of the installations in which cores are to be enough.
WANTED = (0.5, 0.8, 0.95)
# A reader compares no more places than these; more are told together.
_PLACES = 4
# Places that differ by less are one [m].
_APART = 0.01
# Numbers of cores that are told as one answer of a rule end at these.
_CLASSES = (0, 2, 4, 8, 16)
# A part in a million is rounding of a computer.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Least:
    """Least number of cores that are enough in a part of the settings, and its 95 % interval.

    ``None`` is more than were tried.
    """

    share: float
    count: int | None
    low: int | None
    high: int | None


@dataclass(frozen=True)
class CoresEnough:
    """One class of core at one place.

    ``core`` is its id, ``name`` its name, ``place`` the place in words, empty where there is but
    one. ``enough`` belongs to ``counts``; the first of these is 0, the bare cable. ``worse`` is the
    share in which so many make it visibly worse than that.
    """

    core: str
    name: str
    place: str
    counts: tuple[int, ...]
    enough: tuple[Share, ...]
    worse: tuple[Share, ...]
    least: tuple[Least, ...]

    @property
    def label(self) -> str:
        """Core and place."""
        return f"{self.name}, {self.place}" if self.place else self.name

    @property
    def most(self) -> int:
        """Most cores that were tried."""
        return self.counts[-1]

    @property
    def best(self) -> int:
        """Where in ``counts`` the share is largest, the first of several."""
        return int(np.argmax([share.value for share in self.enough]))

    @property
    def worst(self) -> int:
        """Where in ``counts`` most are worse than without, the first of several."""
        return int(np.argmax([share.value for share in self.worse]))


def core_name(core: str) -> str:
    """Name of a core by its id; what is not in the catalogue is named by that."""
    return next((each.name for each in ferrite_cores() if each.id == core), core)


def cores_enough(rows: TableRows, again: Resampled) -> list[CoresEnough]:
    """Every class of core at every place, in the order of the table."""
    if not len(rows.bare):
        return []
    return [_enough(core, place, on, rows.bare, again) for core, place, on in core_places(rows)]


def core_places(rows: TableRows) -> Iterator[tuple[str, str, TableRows]]:
    """Each class of core with each of its places in words, and the rows that have it there."""
    counted = rows.keep([kind_of(str(kind)).is_counted for kind in rows.frame["kind"]])
    for core in counted.frame["core"].unique():
        own = counted.keep(counted.frame["core"] == core)
        at = np.round(own.number("position") / _APART) * _APART
        places = np.unique(at)
        if len(places) > _PLACES:
            yield str(core), stretch(float(places[0]), float(places[-1])), own
            continue
        for place in places:
            said = f"at {large(float(place))}" if len(places) > 1 else ""
            yield str(core), said, own.keep(at == place)


def _enough(core: str, place: str, on: TableRows, bare: TableRows, again: Resampled) -> CoresEnough:
    counted = on.number("count").astype(int)
    counts = (0, *(int(n) for n in np.unique(counted)))
    parts = [bare, *(on.keep(counted == n) for n in counts[1:])]
    held = [part.score <= 1 for part in parts]
    of = [part.members for part in parts]
    worse = tuple(again.share(_is_worse(part, bare), part.members) for part in parts)
    shares = tuple(again.share(h, members) for h, members in zip(held, of, strict=True))
    ours = np.stack([again.totals(h, members) for h, members in zip(held, of, strict=True)], axis=1)
    every = np.stack([again.totals(np.ones(len(members)), members) for members in of], axis=1)
    drawn = again.ratios(ours, every)
    stated = np.array([share.value for share in shares])
    least = tuple(_least(wanted, counts, stated, drawn) for wanted in WANTED)
    return CoresEnough(core, core_name(core), place, counts, shares, worse, least)


def _is_worse(part: TableRows, bare: TableRows) -> NDArray[np.bool_]:
    """Which rows are visibly worse than the bare cable of their setting; unmatched ones are not."""
    return np.asarray((part.score > 1) & (part.score > WORSE_FACTOR * score_beside(part, bare)))


def _least(
    wanted: float, counts: tuple[int, ...], stated: NDArray[np.float64], drawn: NDArray[np.float64]
) -> Least:
    """Least count for a share, its interval by the same draws as the shares'.

    References
    ----------
    .. [1] R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", Am. Stat. 50, 1996,
       definition 1: quantiles that are counts themselves.
    """
    found = first_enough(np.vstack([stated, drawn]), wanted)
    ends = np.quantile(found[1:], ENDS, method="inverted_cdf")
    known: dict[int, int | None] = {**dict(enumerate(counts)), len(counts): None}
    return Least(wanted, *(known[int(place)] for place in (found[0], *ends)))


def first_enough(shares: NDArray[np.float64], wanted: float) -> NDArray[np.int64]:
    """First column of each row that has at least the share that is wanted; their number if none.

    Examples
    --------
    >>> first_enough(np.array([[0.2, 0.8, 0.6], [0.2, 0.3, 0.4]]), 0.8).tolist()
    [1, 3]
    """
    reached = shares >= wanted - _ROUNDING
    return np.asarray(np.where(reached.any(axis=1), reached.argmax(axis=1), shares.shape[1]))


@dataclass(frozen=True, eq=False)
class CoresNeeded:
    """How many cores of a class each setting needs, as numbers (n,) into ``answers``.

    ``rows`` are the settings, each by its bare cable.
    """

    answers: tuple[str, ...]
    answer: NDArray[np.int64]
    rows: TableRows


def cores_needed(rows: TableRows, of: CoresEnough) -> CoresNeeded:
    """Least count of a class that is enough in each setting, in few classes of counts."""
    bare = rows.bare
    ((_, _, on),) = (p for p in core_places(rows) if p[:2] == (of.core, of.place))
    enough = on.keep(on.score <= 1)
    fewest = enough.frame.groupby(SETTING)["count"].min()
    least = fewest.reindex(bare.setting).fillna(np.inf).to_numpy(dtype=float)
    least = np.where(bare.score <= 1, 0.0, least)
    edges = [*(n for n in _CLASSES if n < of.most), of.most]
    answer = np.searchsorted(edges, least)
    return CoresNeeded(_class_names(edges), answer, bare)


def _class_names(edges: list[int]) -> tuple[str, ...]:
    """Names of the classes of counts that end at these, and of what is above them.

    Examples
    --------
    >>> _class_names([0, 2, 4])
    ('none', '1 or 2', '3 or 4', 'more than 4')
    """
    names = ["none"]
    for before, last in itertools.pairwise(edges):
        first = before + 1
        join = "or" if last == first + 1 else "to"
        names.append(str(last) if first == last else f"{first} {join} {last}")
    return (*names, f"more than {edges[-1]}")


def best_of(classes: list[CoresEnough]) -> CoresEnough | None:
    """The class that needs the fewest cores in most settings, of even ones that with most left.

    Counted in nineteen of twenty settings first, then in four of five, then in half; what is not
    enough at any count comes last. ``None`` where there are no cores.
    """

    def rank(of: CoresEnough) -> tuple[float, ...]:
        fewest = (least.count for least in reversed(of.least))
        most = of.enough[of.best].value
        return (*(np.inf if n is None else float(n) for n in fewest), -most)

    return min(classes, key=rank, default=None)
