"""What else than a choke alone would do where no choke is enough, computed on a few drawings.

The drawings of a study and what was judged on them in; changes that help with their chances out.
Each change is tried on the drawing in which the best choke does worst of four that stand for all;
what helps there is solved on the other three. A better rod and another place for the choke are
algebra on drawings that are there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.lengths import large
from pipeline.answer.alternatives import Alternative, alternatives
from pipeline.answer.candidates import Outcome, chance, sure_case
from pipeline.answer.choice import barred
from pipeline.answer.comparison import Comparison
from pipeline.answer.record import SURE, Chance, Instead
from pipeline.answer.screen import QuickLook
from pipeline.chokes.kind import SLACK, Choke
from pipeline.montecarlo.draws import Unknown, circuit_draws, unknowns_of, varied_study
from pipeline.montecarlo.installations import (
    Installation,
    Installations,
    cable_of,
    on_cable,
    solve_cable,
)
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.montecarlo.sobol import sobol
from pipeline.runtime.progress import Stretch, Telling, basis_seconds
from pipeline.solver.cases import CABLE, NONE, Case
from pipeline.solver.catalogue_sets import catalogue_sets
from pipeline.solver.terminations import is_covered
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of
from pipeline.text.errors import StudyError

# Name of these steps in the progress of a run.
INSTEAD = "what else would do"
# Drawings that stand for all, and the likeliest sets that are judged on them with all draws.
DRAWINGS, _LIKELIEST = 4, 3
# Solves that may be spent, more of small drawings than of large ones, and their time. [s]
_FEWEST, _MOST, _SECONDS = 6, 12, 18.0
# A chance that is no more than so much better, or than its own error, is not told of.
_BETTER = 0.03
# Probabilities of unknowns of the drawing, which a changed study has behind it.
_NONE_LEFT = np.zeros(0)
# Chances above this are alike on few draws: the cheaper set is looked at.
_ALIKE = 0.98


@dataclass(frozen=True)
class _Found:
    """The best set on some drawings and its scores there, (n_geometry, n_draw)."""

    case: Case
    score: NDArray[np.float64]

    @property
    def enough(self) -> float:
        return float(np.mean(self.score <= 1))

    @property
    def rank(self) -> tuple[float, float]:
        """Better is larger."""
        return self.enough, -sure_case(self.score)


@dataclass
class _Tried:
    """An alternative with its drawings by the number of the one that each stands for."""

    of: Alternative
    made: dict[int, Installation] = field(default_factory=dict)


@dataclass(frozen=True)
class _Job:
    """One drawing of a changed study: the draw as a study, and probabilities of its impedances."""

    study: Study
    u_circuit: NDArray[np.float64]
    store: Path | None


def instead(
    comparison: Comparison, least: float, cores: int, say: Telling, store: Path | None = None
) -> tuple[Instead, ...]:
    """Changes that make no visible effect likelier than a choke alone does, the best first.

    ``comparison`` has judged the candidates of the study as it is, ``least`` is the chance of the
    best of them; ``cores`` drawings are solved at a time, ``say`` is told of each, solves are kept
    in the folder ``store``.
    """
    search = _Search(comparison, cores, say, store)
    gains = ((way, way.enough.value - least) for way in search.found())
    told = (way for way, gain in gains if gain > max(_BETTER, way.enough.error))
    return tuple(sorted(told, key=lambda way: -way.enough.value))


class _Search:
    """Changes tried for one study."""

    def __init__(
        self, comparison: Comparison, cores: int, say: Telling, store: Path | None
    ) -> None:
        self._comparison, self._cores, self._say, self._store = comparison, cores, say, store
        self._study = _lumped_only(comparison.drawn.study)
        self._best = best_lumped(comparison)
        self._numbers = stand_ins(self._best)
        self._base = self._best.score[self._numbers]
        self._solves = solves_allowed(self._study)

    def found(self) -> list[Instead]:
        """Every change that was followed up, whether it helps or not."""
        every = alternatives(self._study)
        algebra = [a for a in every if not a.is_drawn_anew]
        told = [self._told(a.what, self._best_on(a.study, self._algebra(a))) for a in algebra]
        moved = self._moved()
        told += [] if moved is None else [moved]
        return told + self._solved([a for a in every if a.is_drawn_anew])

    def _told(self, what: str, found: _Found) -> Instead:
        """A change with its chance: that of the best choke, and what the change does to it.

        References
        ----------
        .. [1] W. G. Cochran, "Sampling Techniques", 3rd ed., 1977, ch. 7 (difference estimate; from
           memory).
        """
        before = chance(self._best.score <= 1, self._study.unknowns.seed)
        gain = np.mean(found.score <= 1, axis=1) - np.mean(self._base <= 1, axis=1)
        n = len(gain)
        error = float(np.std(gain, ddof=1)) / math.sqrt(n) if n > 1 else 0.0
        value = float(np.clip(before.value + gain.mean(), 0.0, 1.0))
        likely = Chance(value, math.hypot(error, before.error))
        return Instead(what, found.case.id, found.case.label, likely, n, found.case.choke)

    def _algebra(self, way: Alternative) -> dict[int, Installation]:
        """Drawings that are there, with impedances changed."""
        bond = way.study.bond
        drawn = {k: self._comparison.drawn.drawn[k] for k in self._numbers}
        changed = {k: replace(one, study=replace(one.study, bond=bond)) for k, one in drawn.items()}
        return {k: one.first(len(one.u_circuit)) for k, one in changed.items()}

    def _moved(self) -> Instead | None:
        """The best choke at the best of all places that the drawings have ports for."""
        choke = self._best.case.choke
        if choke is None or not choke.can_be_moved:
            return None
        made = {k: self._comparison.drawn.drawn[k] for k in self._numbers}
        tried = places_for(choke, self._study, list(made.values()))
        if not tried:
            return None
        return self._told("another place on the cable", self._best_on(self._study, made, tried))

    def _solved(self, ways: Sequence[Alternative]) -> list[Instead]:
        """Alternatives that are drawn anew: all on one drawing, those that help there on all."""
        looks = self._solves // 2
        deeper = (self._solves - looks) // (DRAWINGS - 1)
        worst, *others = self._numbers
        tried = [_Tried(way) for way in ways[:looks]]
        self._say.plan(INSTEAD, Stretch(looks + deeper * len(others), self._seconds()))
        self._solve([(one, worst) for one in tried])
        base = _Found(self._best.case, self._base[:1])
        drawable = [one for one in tried if one.made]
        ranked = {one.of.what: self._best_on(one.of.study, one.made).rank for one in drawable}
        better = [one for one in drawable if ranked[one.of.what] > base.rank]
        better = sorted(better, key=lambda one: ranked[one.of.what], reverse=True)[:deeper]
        self._solve([(one, number) for one in better for number in others])
        whole = (one for one in better if len(one.made) == len(self._numbers))
        return [self._told(one.of.what, self._best_on(one.of.study, one.made)) for one in whole]

    def _seconds(self) -> float:
        built = cable_of(self._study)
        return basis_seconds((len(built.segments), len(built.ports), 1)) / self._cores

    def _solve(self, wanted: Sequence[tuple[_Tried, int]]) -> None:
        """Solve alternatives on the drawings of some numbers; what cannot be drawn stays away."""
        drawn = self._comparison.drawn
        jobs = [_Job(*drawn_alike(one.of.study, drawn, k), self._store) for one, k in wanted]
        task = f"{self._study.name}: {INSTEAD}"
        done = side_by_side(_drawing, jobs, self._cores, task, len(jobs)) if jobs else ()
        for (one, number), made in zip(wanted, done, strict=True):
            if made is not None:
                one.made[number] = made
            self._say(one.of.what, INSTEAD)

    def _best_on(
        self, study: Study, made: Mapping[int, Installation], sets: Sequence[Choke] = ()
    ) -> _Found:
        """The best of the bare cable and the likeliest sets on some drawings of a study."""
        costs = self._comparison.costs
        own = [c for c in study.chokes if c.is_real and c.on_sale]
        every = sets or [*own, *catalogue_sets(study)]
        every = [choke for choke in every if costs.of_choke(choke) <= costs.budget]
        every = [choke for choke in every if np.isfinite(costs.of_choke(choke))]
        scores = QuickLook(study, every).scores(list(made.values()))
        quick = np.minimum(np.mean(scores <= 1, axis=1), _ALIKE)
        order = sorted(
            range(len(every)),
            key=lambda k: (-quick[k], costs.of_choke(every[k]), sure_case(scores[k])),
        )
        tried = [every[k] for k in order[:_LIKELIEST]]
        wanted = [Case(NONE, "cable without a choke", CABLE, None)] * (not sets)
        wanted += [Case(choke.id, choke.label, CABLE, choke) for choke in tried]
        found = [self._scored(case, made) for case in wanted]
        sure = [one for one in found if one.enough >= SURE]
        cheapest = min(sure, key=lambda one: costs.of_choke(one.case.choke), default=None)
        return cheapest or max(found, key=lambda one: one.rank)

    def _scored(self, case: Case, made: Mapping[int, Installation]) -> _Found:
        """Scores of a case with what the computation may be off by."""
        merits = {k: on_cable(one, [case])[case.id] for k, one in made.items()}
        moved = (self._comparison.moved(case, k, merit) for k, merit in merits.items())
        return _Found(case, np.stack([merit.score() for merit in moved]))


def _lumped_only(study: Study) -> Study:
    return replace(study, chokes=tuple(c for c in study.chokes if not c.is_drawn))


def best_lumped(comparison: Comparison) -> Outcome:
    """The case that is most often enough of those that share the cable's drawing."""
    known = [
        of
        for of in comparison.outcomes.values()
        if of.case.geometry == CABLE
        and (of.id == NONE or (of.case.choke is not None and of.case.choke.is_real))
        and not barred(of, comparison.described.solved, comparison.costs)
    ]
    return max(known, key=lambda of: (of.enough, -sure_case(of.score)))


def stand_ins(of: Outcome) -> list[int]:
    """Drawings that stand for all, worst first: the typical of equal parts by how one case does.

    References
    ----------
    .. [1] W. G. Cochran, "Sampling Techniques", 3rd ed., 1977, ch. 5 (stratified sampling; from
       memory).
    """
    held, most = np.mean(of.score <= 1, axis=1), np.quantile(of.score, SURE, axis=1)
    order = np.lexsort((-most, held))
    parts = np.array_split(order, min(DRAWINGS, len(order)))
    nearest = (part[np.argmin(np.abs(held[part] - held[part].mean()))] for part in parts)
    return [int(of.numbers[k]) for k in nearest]


def solves_allowed(study: Study) -> int:
    """Solves that may be spent on a study: fewer where each takes long. [-]"""
    built = cable_of(study)
    each = basis_seconds((len(built.segments), len(built.ports), 1))
    return int(np.clip(round(_SECONDS / each), _FEWEST, _MOST))


def places_for(choke: Choke, study: Study, made: Sequence[Installation]) -> list[Choke]:
    """A choke at every place where drawings have ports for all of it and no bend is in its way."""
    walk, extent = walk_of(study), choke.extent(study.host)
    found = []
    for position in made[0].reduced.structure.shield_spans[1]:
        place = round(float(position), 3)
        moved = replace(choke, position=place, id=f"{choke.id}-moved-to-{place:.2f}m")
        moved = replace(moved, label=f"{choke.named}, at {large(place)}")
        free = place + extent <= walk.length + SLACK and not walk.bends_under(place, extent)
        if free and all(is_covered(one.reduced.structure, moved) for one in made):
            found.append(moved)
    return found


def drawn_alike(
    changed: Study, of: Installations, number: int
) -> tuple[Study, NDArray[np.float64]]:
    """A changed study as a drawing of a number has all that the two share; the rest is drawn.

    The study, and probabilities of what is only an impedance, (n_draw, n_unknown).
    """
    base, known, unknowns = of.drawn[number], of.unknowns, unknowns_of(changed)
    u, u_circuit = (
        _shared(
            [_key(x, changed) for x in unknowns if x.geometric == geometric],
            [_key(x, of.study) for x in known if x.geometric == geometric],
            rows,
            of.study.unknowns.seed + number,
        )
        for geometric, rows in ((True, base.u_geometric[None]), (False, base.u_circuit))
    )
    geometric = tuple(x for x in unknowns if x.geometric)
    return varied_study(changed, geometric, u[0]), u_circuit


def _key(unknown: Unknown, study: Study) -> str:
    """Name of an unknown that stays when a bond comes into the route or goes out of it."""
    if not unknown.name.startswith("step-"):
        return unknown.name
    before = study.cable.route[: int(unknown.name.removeprefix("step-")) - 1]
    return f"step-{sum(step.go != 'bond' for step in before)}"


def _shared(
    wanted: Sequence[str], known: Sequence[str], u: NDArray[np.float64], seed: int
) -> NDArray[np.float64]:
    """Columns of ``u`` (n, n_known) by their names, others drawn afresh; (n, n_wanted)."""
    fresh = sobol(len(u), len(wanted), seed)
    columns = {name: u[:, k] for k, name in enumerate(known)}
    rows = [columns.get(name, fresh[:, k]) for k, name in enumerate(wanted)]
    return np.stack(rows, axis=1) if rows else fresh


def _drawing(job: _Job, isolated: bool) -> Installation | None:
    """A changed study drawn and solved, ``None`` where it cannot be drawn."""
    try:
        reduced, directions = solve_cable(job.study, job.store, isolated)
    except StudyError:
        return None
    circuit = tuple(u for u in unknowns_of(job.study) if not u.geometric)
    draws = circuit_draws(job.study, circuit, job.u_circuit)
    return Installation(job.study, reduced, directions, _NONE_LEFT, job.u_circuit, draws)
