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

from pipeline.chokes.kinds import kind_of
from pipeline.mesh.evidence import GRADES, Grade
from pipeline.study.records import USUAL, Thresholds

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
    coil_cable: float = 0.0
    is_solid: bool = False
    is_size_assumed: bool = False


@dataclass(frozen=True)
class Criterion:
    """One thing that counts: fields of :class:`Facts` with its change and the number behind it.

    ``threshold`` is the field of :class:`Thresholds`, ``column`` that of the number's interval.
    """

    change: str
    threshold: str
    value: str
    column: str


# By the reader's words for it.
CRITERIA = {
    "the low-angle pattern": Criterion(
        "pattern_rms_db", "pattern_rms_db", "pattern_rms_db", "pattern_change_rms_db"
    ),
    "the mean gain towards the horizon": Criterion(
        "mean_gain_change_db", "mean_gain_db", "mean_gain_dbi", "horizon_gain_mean_dbi"
    ),
    "the match": Criterion("swr_change", "swr_step", "swr", "swr_feed"),
    "the current that reaches the radio": Criterion(
        "station_ratio", "station_ratio", "station_ratio", "station_current_ratio"
    ),
}


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
    return {
        name: abs(getattr(facts, of.change)) / getattr(facts.limits, of.threshold)
        for name, of in CRITERIA.items()
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
    # The largest change alone would hide what another one does.
    better = own < bare / WORSE_FACTOR or _improves(facts, without)
    if grown(facts, without):
        return "mixed" if better else "worse than none"
    return "helps" if better else "as good as none"


def _improves(facts: Facts, without: Facts) -> bool:
    """Whether anything that is visible without a choke is clearly better with it."""
    before, after = _changes(without), _changes(facts)
    return any(b > 1 and after[name] < b / WORSE_FACTOR for name, b in before.items())


def grown(facts: Facts, without: Facts) -> list[str]:
    """What is visible with a choke and clearly worse than without, in the reader's words.

    The largest first; the current on the cable comes last, as it has no threshold.
    """
    before, after = _changes(without), _changes(facts)
    worse = [n for n in before if after[n] > 1 and after[n] > WORSE_FACTOR * before[n]]
    return [
        *sorted(worse, key=after.__getitem__, reverse=True),
        *_more_on_the_cable(facts, without),
    ]


def _more_on_the_cable(facts: Facts, without: Facts) -> list[str]:
    more = facts.shield_ratio > WORSE_FACTOR * without.shield_ratio
    return ["the current on the cable"] if more else []


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
    unsound, ideal chokes and parts that nobody sells are left out. Metres of cable are no piece:
    a coil whose cable has no price comes after all others.
    """
    enough = [c for c in candidates if can_be_had(c) and score(c) <= 1]
    open_ended = {c.id for c in enough if kind_of(c.kind).hangs_on_making and c.price is None}
    rest = [c for c in enough if c.id not in open_ended]
    # Prices in two currencies are no more comparable than missing ones.
    priced = all(c.price is not None for c in rest) and len({c.currency for c in rest}) <= 1

    def cost(c: Facts) -> tuple[int, bool, float, float]:
        price = (c.price or 0.0) if priced else float(c.count)
        return GRADES.index(c.grade), c.id in open_ended, price, score(c)

    return sorted(enough, key=cost)


def can_be_had(facts: Facts) -> bool:
    """Whether a candidate is one that may be recommended at all."""
    return facts.grade != "unsound" and kind_of(facts.kind).is_real and facts.on_sale


def is_lottery(facts: Facts, tried: list[Variation]) -> bool:
    """Whether how a coil is wound decides what it does: it is not enough however it comes out.

    A coil that was not tried otherwise is one as well: nothing is known about it.
    """
    made = [v.score_recommended for v in tried if v.made]
    if not kind_of(facts.kind).hangs_on_making:
        return False
    return not (score(facts) <= 1 and made and max(made) <= 1)


def worsened(facts: Facts, without: Facts, ends: Mapping[str, Interval]) -> list[str]:
    """What is visible with a candidate and worse than on the bare cable.

    By more than the candidate's own interval says it may be off by. The current on the cable is
    among it where it is clearly more than without.
    """
    before, after = _changes(without), _changes(facts)
    worse = [
        name
        for name in before
        if after[name] > 1 and after[name] > before[name] + _allowance(facts, name, ends)
    ]
    return [*worse, *_more_on_the_cable(facts, without)]


def _allowance(facts: Facts, name: str, ends: Mapping[str, Interval]) -> float:
    """How much more a change may be by the interval of its number, over its threshold."""
    of = CRITERIA[name]
    value = getattr(facts, of.value)
    low, high = ends.get(of.column, (value, value))
    return float(max(value - low, high - value) / getattr(facts.limits, of.threshold))


def recommend(
    candidates: list[Facts],
    without: Facts,
    variations_of: Callable[[str], list[Variation]],
    intervals: Mapping[str, Mapping[str, Interval]],
) -> tuple[Facts, list[Variation]]:
    """The case to take and what was tried on it.

    Nothing where nothing is needed. Else the cheapest candidate that is enough and stays so
    when what nobody knows exactly is varied; failing that, the cheapest that is enough as
    described; failing that, the lowest score of those that improve what the bare cable does and
    make nothing worse; failing that, nothing. A coil is taken only if it is enough however it is
    wound.

    Parameters
    ----------
    candidates : list of Facts
        Everything that could be put on the cable.
    without : Facts
        The bare cable.
    variations_of : callable
        Gives the variations of a case by its id.
    intervals : mapping
        Low and high end of the numbers of each case, by its id and their column.
    """
    if score(without) <= 1 and without.grade != "unsound":
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
        and score(c) < score(without)
        and not worsened(c, without, intervals.get(c.id, {}))
    ]
    chosen = as_described or min(better, key=score, default=without)
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
