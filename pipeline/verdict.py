"""From numbers to advice: what each case does, which one to take, how sure that is.

Rules are explicit and few. Three things count, each against a threshold of its own: the
low-angle pattern, the match, and what reaches the radio on the outside of the cable.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.evidence import GRADES, Grade
from pipeline.study_types import Thresholds

# What counts where a study names no thresholds of its own.
USUAL = Thresholds()
# So many thresholds are strong.
STRONG = 3.0
# A case counts as worse than none when its score is higher by more than this factor.
WORSE_FACTOR = 1.15
# Variations that ask nothing of the installation: every number at one end of its own interval.
OWN_ENDS = (
    "the low end of this computation's own 95 % intervals",
    "the high end of this computation's own 95 % intervals",
)


@dataclass(frozen=True)
class Facts:
    """What the rules look at, for one case against the reference."""

    id: str
    label: str
    part: str
    kind: str
    count: int
    position: float | None
    pattern_rms_db: float
    pattern_max_db: float
    mean_gain_dbi: float
    mean_gain_change_db: float
    swr: float
    swr_change: float
    station_ratio: float
    shield_ratio: float
    choke_impedance: complex | None
    choke_power: float
    hottest_power: float
    line_loss_db: float
    price: float | None
    currency: str
    grade: Grade
    limits: Thresholds = USUAL
    sleeve_length: float | None = None
    on_sale: bool = True


def score(facts: Facts) -> float:
    """How far a case is from the reference: the largest of its changes over their thresholds.

    One or less is no visible change.
    """
    return max(_changes(facts).values())


def driver(facts: Facts) -> str:
    """Which of the changes sets the score, in the reader's words."""
    changes = _changes(facts)
    return max(changes, key=lambda name: changes[name])


def _changes(facts: Facts) -> dict[str, float]:
    """Every change over its threshold."""
    limits = facts.limits
    return {
        "the low-angle pattern": facts.pattern_rms_db / limits.pattern_rms_db,
        "the mean gain towards the horizon": abs(facts.mean_gain_change_db) / limits.mean_gain_db,
        "the match": abs(facts.swr_change) / limits.swr_step,
        "the current that reaches the radio": facts.station_ratio / limits.station_ratio,
    }


def effect(facts: Facts, without: Facts) -> str:
    """What a case does, in a few words for a table.

    ``without`` is the cable without a choke.
    """
    if facts.id == "ideal":
        return "reference"
    if facts.id == "no-feedline":
        return "no cable"
    own, bare = score(facts), score(without)
    if facts.id == without.id:
        return "harmless" if own <= 1 else "strong" if own > STRONG else "noticeable"
    if own <= 1:
        return "as good as ideal"
    if own > WORSE_FACTOR * bare:
        return "worse than none"
    if own >= bare / WORSE_FACTOR:
        return "as good as none"
    # Better where it counts, and yet more current on the cable than without.
    return "mixed" if facts.shield_ratio > WORSE_FACTOR * without.shield_ratio else "helps"


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


def ranked(candidates: list[Facts]) -> list[Facts]:
    """Candidates that leave no visible change, sound ones first, of those the cheapest.

    A computation that passed its checks only in part is no reason to pass over one that passed
    them all. Fewest pieces first where prices are missing; then the lower score. Cases graded
    unsound, ideal chokes and parts that nobody sells are left out.
    """
    enough = [c for c in candidates if _can_be_had(c) and score(c) <= 1]
    # Prices in two currencies are no more comparable than missing ones.
    priced = all(c.price is not None for c in enough) and len({c.currency for c in enough}) <= 1

    def cost(c: Facts) -> tuple[int, float, float]:
        price = (c.price or 0.0) if priced else float(c.count)
        return GRADES.index(c.grade), price, score(c)

    return sorted(enough, key=cost)


def _can_be_had(c: Facts) -> bool:
    return c.grade != "unsound" and c.kind != "ideal" and c.on_sale


def recommend(
    candidates: list[Facts], without: Facts, variations_of: Callable[[str], list[Variation]]
) -> tuple[Facts, list[Variation]]:
    """The case to take and what was tried on it.

    Nothing where nothing is needed. Else the cheapest candidate that is enough and stays so
    when what nobody knows exactly is varied; failing that, the cheapest that is enough as
    described; failing that, whatever has the lowest score.

    Parameters
    ----------
    candidates : list of Facts
        Everything that could be put on the cable.
    without : Facts
        The bare cable.
    variations_of : callable
        Gives the variations of a case by its id.
    """
    if score(without) <= 1 and without.grade != "unsound":
        return without, variations_of(without.id)
    order = ranked(candidates)
    for choice in order:
        tried = variations_of(choice.id)
        if all(v.score_recommended <= 1 for v in tried):
            return choice, tried
    fallback = order or sorted([without, *filter(_can_be_had, candidates)], key=score)
    return fallback[0], variations_of(fallback[0].id)


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
    return changed
