"""Sentences of a spread, made from numbers only."""

from __future__ import annotations

from models.lengths import large
from pipeline.answer.unknown_words import clause
from pipeline.chokes.kinds import own_unknowns
from pipeline.montecarlo.draws import SINGLE, Unknown
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_verdict import SURE, Cause, Judgement, flips, make_of
from pipeline.solver.cases import NONE, Case
from pipeline.text.formatting import decibels, percent, sentence_case, times

# A share below this is not worth a walk with a tape measure.
_WORTH = 0.10
# A chance below this is not worth a clause.
_SOME = 0.01


def sentences(spread: Spread, judgement: Judgement) -> dict[str, list[str]]:
    """Everything below the headline, by its part of the page, in the order in which it is said."""
    said = {
        "bare": [bare_sentence(judgement)],
        "first": [measure_first(spread, judgement)],
        "turning": flip_sentences(spread, judgement),
        "holds": [holds_sentence(spread, judgement)],
        "made": made_sentences(spread, judgement),
        "error": [error_sentence(spread, judgement)],
        "out": [left_out_sentence(spread)],
    }
    return {part: [text for text in texts if text] for part, texts in said.items()}


def rate(value: float) -> str:
    """A chance in whole per cent, never rounded to certainty.

    Examples
    --------
    >>> rate(0.634), rate(0.9999), rate(1.0), rate(0.0004)
    ('63 %', 'more than 99 %', '100 %', 'less than 1 %')
    """
    if value in (0.0, 1.0):
        return f"{100 * value:.0f} %"
    if value > 0.99:
        return "more than 99 %"
    return f"{100 * value:.0f} %" if value >= 0.01 else "less than 1 %"


def named(case: Case) -> str:
    """A candidate as it would be named in a sentence."""
    choke = case.choke
    if choke is None:
        return "no choke"
    place = f", starting {large(choke.position)} from the antenna"
    return f"{choke.named}{place}"


def short(case: Case) -> str:
    """A candidate as a row of a table names it."""
    return "no choke" if case.choke is None else case.choke.short


def headline(judgement: Judgement) -> str:
    """The answer in two sentences."""
    chosen, bare = judgement.candidates[judgement.chosen], judgement.candidates[NONE]
    if judgement.chosen == NONE and judgement.sure:
        return (
            "This cable needs no choke, whatever the unknowns turn out to be: in "
            f"{rate(bare.enough.value)} of all draws it changes nothing that could be seen."
        )
    without = f"without a choke in {rate(bare.enough.value)}"
    if judgement.sure:
        return (
            f"Take {named(chosen.case)}: in {rate(chosen.enough.value)} of all draws it leaves no "
            f"change to see, {without}."
        )
    if judgement.chosen == NONE:
        return (
            "Of all that was tried nothing is enough more often than no choke at all: in "
            f"{rate(bare.enough.value)} of all draws."
        )
    return (
        (
            f"Nothing that was tried is enough {SURE:.0%} of the time. Best is "
            f"{named(chosen.case)}: enough in {rate(chosen.enough.value)} of all draws, {without}."
        )
        .replace("%", " %")
        .replace("  %", " %")
    )


def bare_sentence(judgement: Judgement) -> str:
    """Effect of the cable without a choke, over everything that could be the case."""
    bare = judgement.candidates[NONE]
    chances, station = bare.chances, bare.bands["station_ratio"]
    return (
        f"Without a choke, no change is visible in {rate(chances['invisible'].value)} of all "
        f"draws, one is noticeable in {rate(chances['noticeable'].value)}, and a "
        f"choke is needed in {_none_or(chances['strong'].value)}. Of the feed current "
        f"{percent(station.p5)} to {percent(station.p95)} reaches the radio in nine draws of ten, "
        f"{percent(station.worst)} at worst ({percent(judgement.limits.station_ratio)} is where it "
        f"begins to count); the mean gain is {decibels(bare.bands['mean_gain_dbi'].p5)} to "
        f"{decibels(bare.bands['mean_gain_dbi'].p95)} dBi. With everything as the study states "
        f"it, the change is {times(bare.stated_score)}, more than in {rate(bare.stated_above)} of "
        "the draws."
    )


def _none_or(chance: float) -> str:
    return rate(chance) if chance else "none"


def error_sentence(spread: Spread, judgement: Judgement) -> str:
    """Standard errors of the chances: how far they would move with other draws."""
    n_geometry, n_draw = spread.shape
    if n_geometry == 1:
        return (
            f"Nothing that changes the drawing is unknown: one geometry was solved, with {n_draw} "
            "draws of what is only an impedance."
        )
    bare, chosen = judgement.candidates[NONE], judgement.candidates[judgement.chosen]
    own = (
        ""
        if chosen is bare
        else f", of the recommended choke {100 * chosen.enough.error:.1f} points"
    )
    return (
        f"{n_geometry} geometries were solved, each with {n_draw} draws of what is only an "
        f"impedance. With other geometries the chances would be a little different: the standard "
        f"error of that without a choke is {100 * bare.enough.error:.1f} points{own} (bootstrap "
        "over the geometries)."
    )


def _lookup(spread: Spread) -> dict[str, Unknown]:
    return {u.name: u for u in spread.unknowns}


def measure_first(spread: Spread, judgement: Judgement) -> str:
    """The unknown to be found out before all others, for the cable without a choke."""
    whole = judgement.geometry[NONE].value
    known = _lookup(spread)
    # How a choke is made is nothing to the cable without one.
    own = own_unknowns()
    drawing = [u for u in spread.unknowns if u.geometric and u.name not in own]
    geometry = (
        f"Everything that changes the drawing (route, heights, lengths, soil) makes {rate(whole)} "
        "of it together."
        if drawing
        else ""
    )
    certain = [c for c in judgement.causes[NONE] if c.share.certain]
    top = max(certain, key=lambda c: c.share.value, default=None)
    if top is None or top.share.value < _WORTH:
        return f"{_none_stands_out(spread, judgement)} {geometry}".strip()
    single = [u for u in drawing if known[u.name].label != top.label]
    if len(single) > 1 and not any(
        c.share.certain for c in judgement.causes[NONE] if c.name in {u.name for u in single}
    ):
        n, part = spread.shape[0], "other" if len(single) < len(drawing) else "single"
        geometry += f" No {part} part of that stands out from chance in {n} geometries; "
        geometry += "more of them (unknowns.geometries) would tell."
    unknown = known[top.name]
    said = (
        f"{sentence_case(unknown.measure)} first: it alone makes {rate(top.share.value)} of the "
        f"spread of what the cable does without a choke. {_chances(unknown, top)} {geometry}"
    )
    return said.strip()


def _none_stands_out(spread: Spread, judgement: Judgement) -> str:
    """Sentence where no single unknown stands out, with the largest share that is shown."""
    top = max(judgement.causes[NONE], key=lambda c: c.share.value, default=None)
    if top is None or top.share.value < _WORTH:
        return "No single unknown stands out: none alone makes a tenth of the spread."
    among, key = "so many draws", "draws"
    if _lookup(spread)[top.name].geometric:
        among, key = f"{spread.shape[0]} geometries", "geometries"
    return (
        f"No single unknown stands out from chance: the largest share, {rate(top.share.value)} by "
        f"{top.label}, may be chance, which shows up to {rate(top.share.noise)} in {among}; more "
        f"of them (unknowns.{key}) would tell."
    )


def _chances(unknown: Unknown, cause: Cause) -> str:
    return (
        f"No change is visible in {rate(cause.high)} of the draws where "
        f"{clause(unknown, cause.at_high)}, in {rate(cause.low)} where "
        f"{clause(unknown, cause.at_low)}."
    )


def flip_sentences(spread: Spread, judgement: Judgement) -> list[str]:
    """Unknowns that turn the recommendation by themselves, one sentence each."""
    known, found = _lookup(spread), []
    for cause, what in flips(judgement):
        at, chance = (cause.at_high, cause.high) if what == "none" else (cause.at_low, cause.low)
        condition = f"Where {clause(known[cause.name], at)},"
        if what == "none":
            said = f"no choke is needed: without one no change is visible in {rate(chance)}."
        elif judgement.chosen == NONE:
            said = f"a choke is worth having: without one no change is visible in {rate(chance)}."
        else:
            said = f"something stronger is called for: this one is enough in {rate(chance)}."
        found.append(f"{condition} {said}")
    return found


def holds_sentence(spread: Spread, judgement: Judgement) -> str:
    """The unknowns that come nearest to turning the recommendation; empty where one does.

    Empty too where nothing is unknown but how chokes are made.
    """
    own, bare = _single(judgement, judgement.chosen), _single(judgement, NONE)
    if flips(judgement) or not judgement.sure or not bare:
        return ""
    known = _lookup(spread)
    weakest = min(own, key=lambda c: c.low)
    said = "No unknown by itself turns the recommendation."
    if judgement.chosen == NONE:
        return (
            f"{said} Going without is enough in {rate(weakest.low)} at least, where "
            f"{clause(known[weakest.name], weakest.at_low)}."
        )
    best = max(bare, key=lambda c: c.high)
    return (
        f"{said} Going without comes nearest to being enough where "
        f"{clause(known[best.name], best.at_high)}: in {rate(best.high)} of those draws; the "
        f"recommended choke is enough in {rate(weakest.low)} at least, where "
        f"{clause(known[weakest.name], weakest.at_low)}."
    )


def made_sentences(spread: Spread, judgement: Judgement) -> list[str]:
    """Effect of a candidate's own make, one sentence for each whose make is unknown."""
    known, found = _lookup(spread), []
    for case in spread.cases:
        name = make_of(spread, case)
        if not name:
            continue
        cause = next(c for c in judgement.causes[case.id] if c.name == name and not c.joint)
        chances, unknown = judgement.candidates[case.id].chances, known[name]
        enough = rate(chances["invisible"].value)
        said = f"{sentence_case(named(case))}: enough in {enough} of all draws"
        if chances["worse"].value >= _SOME:
            said += f", worse than no choke in {rate(chances['worse'].value)}"
        if cause.turns:
            found.append(
                f"{said}. It is enough in {rate(cause.low)} where {clause(unknown, cause.at_low)}, "
                f"in {rate(cause.high)} where {clause(unknown, cause.at_high)}. "
                f"{sentence_case(unknown.measure)} before it is relied on."
            )
        elif cause.share.certain:
            part = rate(cause.share.value)
            found.append(f"{said}; {unknown.label} makes {part} of its spread and decides nothing.")
        else:
            found.append(f"{said}; {unknown.label} makes no difference that stands out.")
    return found


def _single(judgement: Judgement, name: str) -> list[Cause]:
    return [c for c in judgement.causes[name] if not c.joint]


def left_out_sentence(spread: Spread) -> str:
    """Candidates that were not part of it; empty where all were."""
    if not spread.left_out:
        return ""
    return (
        "Not part of this, since each draw would be a solve of its own: coils that are drawn as "
        f"wire ({', '.join(spread.left_out)}). To have them, write the key coil_pitch below "
        "unknowns: a range such as {from: 1.0, to: 1.5}, or known."
    )


def assumed(spread: Spread) -> list[str]:
    """Keys taken as typical, without those that the study has no part for."""
    drawn = {u.name for u in spread.unknowns}
    absent = {f"unknowns.{name}" for name in SINGLE if name not in drawn}
    return [x for x in spread.study.unknowns.defaults if x.split(":")[0] not in absent]
