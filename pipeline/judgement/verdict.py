"""From numbers to advice: what each case does, which one to take, how sure that is.

Rules are explicit and few. Three things count, each against a threshold of its own: the
low-angle pattern, the match, and what reaches the radio on the outside of the cable.

A coil is taken only if it is enough with pitch, diameter and place varied one at a time, each on a
drawing of its own that is solved at the design frequency; its 95 % intervals reach to all of them.
What is not enough is recommended only if it makes nothing visible worse than without a choke, by
more than its own interval.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.chokes.kinds import kind_of
from pipeline.judgement.case_merit import CaseMerit
from pipeline.mesh.evidence import GRADES

# Low and high end of a number.
Interval = tuple[float, float]
# So many thresholds are strong.
STRONG = 3.0
# A case counts as worse than none when its score is higher by more than this factor.
WORSE_FACTOR = 1.15
# Variations that ask nothing of the installation: every number at one end of its own interval.
OWN_ENDS = (
    "the low end of this computation's own 95 % intervals",
    "the high end of this computation's own 95 % intervals",
)


def driver(of: CaseMerit) -> str:
    """Name of the figure whose change sets the score."""
    changes = of.over_thresholds
    return max(changes, key=lambda name: changes[name])


def effect(of: CaseMerit, without: CaseMerit) -> str:
    """Effect of a case in a few words for a table; ``without`` is the cable without a choke."""
    if of.id == "ideal":
        return "reference"
    if of.id == "no-feedline":
        return "no cable"
    own, bare = of.score, without.score
    if of.id == without.id:
        return "harmless" if own <= 1 else "strong" if own > STRONG else "noticeable"
    if own <= 1:
        return "as good as ideal"
    if own > WORSE_FACTOR * bare:
        return "worse than none"
    # The largest change alone would hide what another one does.
    better = own < bare / WORSE_FACTOR or _improves(of, without)
    if grown(of, without):
        return "mixed" if better else "worse than none"
    return "helps" if better else "as good as none"


def _improves(of: CaseMerit, without: CaseMerit) -> bool:
    """Whether anything that is visible without a choke is clearly better with it."""
    before, after = without.over_thresholds, of.over_thresholds
    return any(b > 1 and after[name] < b / WORSE_FACTOR for name, b in before.items())


def grown(of: CaseMerit, without: CaseMerit) -> list[str]:
    """Changes that are visible with a choke and clearly worse than without, in words.

    The largest first; the current on the cable comes last, as it has no threshold.
    """
    before, after = without.over_thresholds, of.over_thresholds
    worse = [n for n in before if after[n] > 1 and after[n] > WORSE_FACTOR * before[n]]
    worse.sort(key=after.__getitem__, reverse=True)
    return [FIGURES[name].words for name in worse] + _more_on_the_cable(of, without)


def _more_on_the_cable(of: CaseMerit, without: CaseMerit) -> list[str]:
    more = of["shield_ratio"] > WORSE_FACTOR * without["shield_ratio"]
    return [FIGURES["shield_ratio"].words] if more else []


@dataclass(frozen=True)
class Variation:
    """One assumption changed, and the scores of the bare cable and the recommended case then.

    ``made`` says how the choke itself came out otherwise, where it is that which changed.
    """

    what: str
    score_none: float
    score_recommended: float
    made: str = ""


@dataclass(frozen=True)
class Moved:
    """The recommended choke at another place [m] of the cable, and its score there.

    ``near`` says that the place before is so close that nothing can lie between the two.
    """

    position: float
    score: float
    near: bool = True


def ranked(candidates: list[CaseMerit]) -> list[CaseMerit]:
    """Candidates that leave no visible change, sound ones first, of those the cheapest.

    A computation that passed its checks only in part is no reason to pass over one that passed
    them all. Fewest pieces first where prices are missing; then the lower score. Cases graded
    unsound, ideal chokes and parts that nobody sells are left out. Metres of cable are no piece:
    a coil whose cable has no price comes after all others.
    """
    enough = [c for c in candidates if can_be_had(c) and c.score <= 1]
    open_ended = {c.id for c in enough if kind_of(c.kind).hangs_on_making and c.price is None}
    rest = [c for c in enough if c.id not in open_ended]
    # Prices in two currencies are no more comparable than missing ones.
    priced = all(c.price is not None for c in rest) and len({c.currency for c in rest}) <= 1

    def cost(c: CaseMerit) -> tuple[int, bool, float, float]:
        price = (c.price or 0.0) if priced else float(c.count)
        return GRADES.index(c.grade), c.id in open_ended, price, c.score

    return sorted(enough, key=cost)


def can_be_had(case: CaseMerit) -> bool:
    """Whether a candidate is one that may be recommended at all."""
    return case.grade != "unsound" and kind_of(case.kind).is_real and case.on_sale


def is_lottery(case: CaseMerit, tried: list[Variation]) -> bool:
    """Whether how a coil is wound decides what it does: it is not enough however it comes out.

    A coil that was not tried otherwise is one as well: nothing is known about it.
    """
    made = [v.score_recommended for v in tried if v.made]
    if not kind_of(case.kind).hangs_on_making:
        return False
    return not (case.score <= 1 and made and max(made) <= 1)


def worsened(of: CaseMerit, without: CaseMerit, ends: Mapping[str, Interval]) -> list[str]:
    """Changes that are visible with a candidate and worse than on the bare cable, in words.

    By more than the candidate's own interval says it may be off by. The current on the cable is
    among it where it is clearly more than without.
    """
    before, after = without.over_thresholds, of.over_thresholds
    worse = [
        name
        for name in before
        if after[name] > 1 and after[name] > before[name] + _allowance(of, name, ends)
    ]
    return [FIGURES[name].words for name in worse] + _more_on_the_cable(of, without)


def _allowance(of: CaseMerit, name: str, ends: Mapping[str, Interval]) -> float:
    """Larger half of a figure's interval over its threshold: a change may be so much more."""
    figure, value = FIGURES[name], of[name]
    low, high = ends.get(figure.column, (value, value))
    return float(max(value - low, high - value) / getattr(of.merit.limits, figure.threshold))


def recommend(
    candidates: list[CaseMerit],
    without: CaseMerit,
    variations_of: Callable[[str], list[Variation]],
    intervals: Mapping[str, Mapping[str, Interval]],
) -> tuple[CaseMerit, list[Variation]]:
    """The case to take and what was tried on it.

    Nothing where nothing is needed. Else the cheapest candidate that is enough and stays so
    when what nobody knows exactly is varied; failing that, the cheapest that is enough as
    described; failing that, the lowest score of those that improve what the bare cable does and
    make nothing worse; failing that, nothing. A coil is taken only if it is enough however it is
    wound. ``variations_of`` gives those of a case by its id, ``intervals`` the ends of its numbers.
    """
    if without.score <= 1 and without.grade != "unsound":
        return without, variations_of(without.id)
    as_described = None
    for choice in ranked(candidates):
        tried = variations_of(choice.id)
        if is_lottery(choice, tried):
            continue
        if all(v.score_recommended <= 1 for v in tried):
            return choice, tried
        as_described = as_described or choice
    better = [
        c
        for c in candidates
        if can_be_had(c)
        and not kind_of(c.kind).hangs_on_making
        and c.score < without.score
        and not worsened(c, without, intervals.get(c.id, {}))
    ]
    chosen = as_described or min(better, key=lambda c: c.score, default=without)
    return chosen, variations_of(chosen.id)


def flips(variations: list[Variation], none_needed: bool, enough: bool = True) -> list[str]:
    """Assumptions that would change the advice.

    ``enough`` says whether what is recommended is enough as described.
    """
    changed = []
    for v in variations:
        if none_needed and v.score_none > 1:
            changed.append(f"{v.what}: a choke would then be worth having")
        elif not none_needed and v.score_none <= 1:
            changed.append(f"{v.what}: no choke would then be needed")
        elif not none_needed and enough and v.score_recommended > 1:
            changed.append(f"{v.what}: the recommended choke would then not quite be enough")
        elif not none_needed and not enough and v.score_recommended > v.score_none:
            changed.append(f"{v.what}: it would then be worse than no choke")
    return changed
