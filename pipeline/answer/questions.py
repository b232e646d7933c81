"""Answers to a reader's questions about an answer, a few sentences each.

An :class:`Answer` in, texts by their question out, those without an answer left out.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from models.catalogues.parts import FerriteCore, is_split
from models.lengths import large, small
from pipeline.answer.phrases import barred_words, described, hundredths, named, of_hundred, own_name
from pipeline.answer.ranking import (
    above,
    basis_grade,
    is_unsound,
    passed_over,
    rivals,
    turning,
    unsound_basis,
)
from pipeline.answer.record import SURE, Answer, Candidate, Cause, FrontPoint, Instead
from pipeline.answer.unknown_words import clause
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.kind import Choke
from pipeline.circuit.choke_materials import known_from
from pipeline.judgement.sweeps import core_ends
from pipeline.montecarlo.draws import Unknown
from pipeline.solver.cases import NONE
from pipeline.solver.catalogue_sets import set_cost
from pipeline.study.records import Study
from pipeline.text.formatting import (
    fixed,
    in_words,
    listed,
    percent,
    sentence_case,
    solid_sentence,
    times,
)

# Says something of an answer: sentences, none where there is nothing to say.
Producer = Callable[[Answer], list[str]]
# So many unknowns are told of what they turn the answer to.
MOST_TURNS = 2
# A share of the spread below this is not worth a walk with a tape measure.
_WORTH = 0.10
# So many candidates, and so many steps of a series, a sentence holds.
_MOST, _MOST_STEPS = 3, 6
# How a core's size got into the catalogue where no print gives it.
_ASSUMED = ("derived", "from-memory")
# Below this share of the power nothing gets warm.
_LEAST_HEAT = 5e-3


def answers_to_questions(answer: Answer) -> dict[str, str]:
    """Answers by question, in the order in which a reader asks."""
    found = {question: sentences_on(question, answer) for question in QUESTIONS}
    return {question: " ".join(each.values()) for question, each in found.items() if each}


def sentences_on(question: str, answer: Answer) -> dict[Producer, str]:
    """What is said to a question, by the functions that say it; those that say nothing left out."""
    # Where none is needed nobody asks how many, where, or what else.
    if question in _OF_A_CHOKE and answer.chosen == NONE and answer.enough:
        return {}
    found = {producer: " ".join(producer(answer)) for producer in QUESTIONS[question]}
    return {producer: text for producer, text in found.items() if text}


# How many, and at which place


def how_many(answer: Answer) -> list[str]:
    """Chances of more and more of the same cores at one place."""
    shown = counts(answer)
    if not shown:
        return []
    part, place = _part(shown[0]), _place(shown[0])
    first, *rest = ((in_words(_count(c)), c.enough.value) for c in shown)
    steps = [f"enough with {first[0]} in {of_hundred(first[1])}"]
    steps += [f"{count} in {hundredths(chance)}" for count, chance in rest]
    said = [f"{sentence_case(part)}, {place}: {', '.join(steps)}."]
    best = answer.best
    more = [c for c in shown if _count(c) > _count(best)]
    if best in shown and more and not any(above(c.enough, best.enough) for c in more):
        end = "not needed" if best.is_enough else "no surer"
        said.append(f"More than {in_words(_count(best))} are {end}.")
    return said


def counts(answer: Answer) -> list[Candidate]:
    """More and more of the same cores at one place, as far as anybody asks; empty without."""
    of = sorted(_family(answer, _place, _count), key=_count)
    until = next((k for k, c in enumerate(of) if c.is_enough), len(of)) + 2
    return of[: max(2, until)][-_MOST_STEPS:]


def places(answer: Answer) -> list[str]:
    """Chances of the same cores at several places."""
    of = at_places(answer)
    if not of:
        return []
    first, *rest = of
    steps = [f"enough {_place(first)} in {of_hundred(first.enough.value)}"]
    steps += [f"{_short_place(c)} in {hundredths(c.enough.value)}" for c in rest]
    return [f"{sentence_case(described(first.case))}: {', '.join(steps)}."]


def at_places(answer: Answer) -> list[Candidate]:
    """The same cores at several places, as many as a sentence holds."""
    return _family(answer, _count, _place)[:_MOST_STEPS]


def _family(
    answer: Answer,
    alike: Callable[[Candidate], object],
    own: Callable[[Candidate], object],
) -> list[Candidate]:
    """Candidates of one core that differ in one thing only: the family of the one to take.

    The largest family where none is taken; empty where no two differ.
    """
    found: dict[tuple[str, object], dict[object, Candidate]] = {}
    for c in answer.candidates.values():
        choke = c.case.choke
        if choke is not None and choke.is_counted and not is_unsound(c):
            found.setdefault((choke.part, alike(c)), {}).setdefault(own(c), c)
    families = [list(of.values()) for of in found.values() if len(of) > 1]
    concern = [of for of in families if answer.chosen == NONE or answer.best in of]
    return max(concern, key=len, default=[])


def _count(candidate: Candidate) -> int:
    return 0 if candidate.case.choke is None else candidate.case.choke.count


def _place(candidate: Candidate) -> str:
    return "" if candidate.case.choke is None else candidate.case.choke.begins


def _short_place(candidate: Candidate) -> str:
    return _place(candidate).removeprefix("starting ").removesuffix(" from the antenna")


def _part(candidate: Candidate) -> str:
    return "" if candidate.case.choke is None else candidate.case.choke.part


# How sure


def shares(answer: Answer) -> list[str]:
    """Which unknowns make how much of the spread of what the bare cable does."""
    if not answer.unknowns:
        return ["The study leaves nothing open."]
    told = told_causes(answer)
    if not told:
        return ["No single unknown stands out from chance."]
    first, *rest = told
    share = first.share
    # A few drawings tell little: what stands out hardly is told with what chance could do.
    chance = (
        f" (chance alone: up to {percent(share.noise)})" if share.value < 2 * share.noise else ""
    )
    said = [f"{first.label} makes {percent(share.value)}{chance} of the spread without a choke"]
    said += [f"{c.label} {percent(c.share.value)}" for c in rest]
    return [f"{sentence_case(', '.join(said))}."]


def told_causes(answer: Answer) -> list[Cause]:
    """Causes of the spread of the bare cable that are worth a word, the largest first."""
    known = _known(answer)
    causes = [c for c in answer.causes.get(NONE, ()) if c.share.certain]
    together = {c.label for c in causes if c.joint}
    return [
        c
        for c in causes
        if c.share.value >= _WORTH and (c.joint or known[c.name].together not in together)
    ][:_MOST]


def turns(answer: Answer) -> list[str]:
    """What the unknowns that turn the answer turn it to, two at most."""
    known = _known(answer)
    said = [_turned(answer, c, known[c.name]) for c in turning(answer)[:MOST_TURNS]]
    return [f"{sentence_case('; '.join(said))}."] if said else []


def _turned(answer: Answer, cause: Cause, unknown: Unknown) -> str:
    of_bare = cause in answer.causes.get(NONE, ()) and answer.chosen != NONE
    if of_bare and cause.high >= SURE:
        at = clause(unknown, cause.at_high)
        return f"where {at}, the bare cable is harmless in {of_hundred(cause.high)}"
    at = clause(unknown, cause.at_low)
    what = "the bare cable is harmless" if answer.chosen == NONE else "this is enough"
    return f"where {at}, {what} in {of_hundred(cause.low)}"


def errors(answer: Answer) -> list[str]:
    """How far the chances would move with other draws."""
    if not answer.unknowns:
        return []
    if answer.geometries == 1:
        return [f"Nothing open changes the drawing: one geometry, {answer.draws} draws."]
    best, bare = answer.best, answer.bare
    own = "" if best is bare else f", without a choke {_points(bare)}"
    return [
        f"Computed on {answer.geometries} geometries with {answer.draws} draws each; standard "
        f"error of the chance: {_points(best)} of 100{own}."
    ]


def _points(candidate: Candidate) -> str:
    """Standard error of the chance of being enough, of a hundred."""
    points = fixed(100 * candidate.enough.error, 1)
    return points if points != "0.0" else "under 0.1"


def _known(answer: Answer) -> dict[str, Unknown]:
    return {u.name: u for u in answer.unknowns}


# As described


def as_described(answer: Answer) -> list[str]:
    """Where the installation as described lies among the draws."""
    bare, best = answer.bare, answer.best
    said = f"The largest change without a choke is {_standing_among(bare)} installations like yours"
    if best.id == NONE:
        return [f"{said}."]
    return [f"{said}; with the choke it is {_standing_among(best)}."]


def _standing_among(candidate: Candidate) -> str:
    size, place = times(candidate.score.stated), of_hundred(candidate.place)
    return f"{size}, larger than in {place}"


# Cost


def cost(answer: Answer) -> list[str]:
    """Cost of the one to take, and what it takes of cable and power."""
    best, choke = answer.best, answer.best.case.choke
    if choke is None:
        return []
    pieces = f"{in_words(best.pieces)} piece{'' if best.pieces == 1 else 's'}"
    price = best.price
    if price is None:
        # Counted as on the front: a connector and what closes a sleeve are pieces too.
        counted = next((p.cost for p in answer.front if p.id == best.id), None)
        also = "" if counted is None else f"; it counts as {_amount(counted, '')}"
        money = f"no price is given{also}"
    else:
        money = f"{price:.2f} {choke.currency}".rstrip() + f" for {pieces}"
    cable = choke.own_cable(answer.study.cable.type)
    takes = [f"{large(cable, 1)} of cable"] if cable > 0 else []
    takes += [f"up to {percent(best.heat)} of the power"] if best.heat >= _LEAST_HEAT else []
    also = f"; it takes {listed(takes)}" if takes else ""
    return [f"{sentence_case(money)}{also}."]


def cut_length(answer: Answer) -> list[str]:
    """Length that the one to take is cut to, where that is a question."""
    choke = answer.best.case.choke
    length = None if choke is None else choke.cut_length(answer.study.host)
    if choke is None or length is None:
        return []
    return [f"It is cut {small(length)} long, its open end towards the {choke.opens_to}."]


def solid_cores(answer: Answer) -> list[str]:
    """What goes for cores that cannot be opened."""
    choke = answer.best.case.choke
    rows = () if choke is None else choke.placed
    cores = [(row.ferrite_core, row.count) for row in rows]
    solid = sum(count for core, count in cores if core is not None and not is_split(core))
    return [solid_sentence(solid)] if solid else []


def on_the_front(answer: Answer) -> list[str]:
    """The nearest points of the front below the one to take, and above if it is not enough."""
    said = [
        f"for {_amount(p.cost, answer.currency)} {own_name(p.label)}: "
        f"enough in {of_hundred(p.enough)}"
        for p in neighbours(answer)
    ]
    return [f"{sentence_case('; '.join(said))}."] if said else []


def neighbours(answer: Answer) -> list[FrontPoint]:
    """Points of the front next to the one to take: the dearer one only if that is not enough."""
    own = next((p.cost for p in answer.front if p.id == answer.chosen), None)
    if own is None or answer.chosen == NONE:
        return []
    cheaper = [p for p in answer.front if p.cost < own and p.id != NONE]
    dearer = [] if answer.enough else [p for p in answer.front if p.cost > own]
    told = [max(cheaper, key=_by_cost)] if cheaper else []
    return told + ([min(dearer, key=_by_cost)] if dearer else [])


def another_kind(answer: Answer) -> list[str]:
    """What a cheaper choke of another kind would do."""
    other = cheaper_of_another_kind(answer)
    if other is None or (money := _cost_of(other, answer)) is None:
        return []
    amount, chance = _amount(money, answer.currency), of_hundred(other.enough.value)
    return [f"Cheaper and of another kind: {named(other.case)}, for {amount}, enough in {chance}."]


def cheaper_of_another_kind(answer: Answer) -> Candidate | None:
    """The surest candidate of another kind, or class of ferrite, that costs less than the taken.

    None where neither is, or where what the front has beside the taken, or no choke, is as sure.
    """
    own = _cost_of(answer.best, answer)
    if own is None or answer.chosen == NONE:
        return None
    told = [p.enough for p in neighbours(answer) if p.cost < own]
    surer = max(answer.bare.enough.value, *told) if told else answer.bare.enough.value
    found = [
        (c.enough.value, -money, c)
        for c in rivals(answer)
        if (money := _cost_of(c, answer)) is not None
        and money < own
        and c.enough.value > surer
        and _kind(c) != _kind(answer.best)
    ]
    return max(found, key=lambda each: each[:2])[2] if found else None


def _kind(candidate: Candidate) -> tuple[str, frozenset[str]]:
    """Kind of its choke, and the classes of its cores."""
    choke = candidate.case.choke
    if choke is None:
        return "", frozenset()
    return choke.kind, frozenset(core.material for core in choke.cores)


def _cost_of(candidate: Candidate, answer: Answer) -> float | None:
    """What a candidate costs, in pieces where the study has no prices; None where it has none."""
    return set_cost(candidate.case.choke, answer.currency)


def _by_cost(point: FrontPoint) -> float:
    return point.cost


def _amount(cost: float, currency: str) -> str:
    if currency:
        return f"{cost:.2f} {currency}"
    pieces = round(cost)
    return f"{in_words(pieces)} piece{'' if pieces == 1 else 's'}"


# What else


def enough_too(answer: Answer) -> list[str]:
    """Other candidates that are enough."""
    said = [f"{named(c.case)} (in {of_hundred(c.enough.value)})" for c in also_enough(answer)]
    return [f"Enough too: {'; '.join(said)}."] if said else []


def also_enough(answer: Answer) -> list[Candidate]:
    """Candidates that could be taken as well, as many as a sentence holds.

    First the cheapest of each kind other than the chosen one's, then what else there is, by cost.
    """
    fine = [c for c in rivals(answer) if c.is_enough and c.id not in (answer.chosen, NONE)]
    fine.sort(key=lambda c: inf if (cost := _cost_of(c, answer)) is None else cost)
    cheapest = {_kind(c): c.id for c in reversed(fine)}
    cheapest.pop(_kind(answer.candidates[answer.chosen]), None)
    return sorted(fine, key=lambda c: c.id not in cheapest.values())[:_MOST]


def not_taken(answer: Answer) -> list[str]:
    """Candidates that are enough and may not be taken, and why."""
    barred = [f"{named(c.case)}: {barred_words(c)}" for c in passed_over(answer)[:_MOST]]
    return [f"Enough but not taken: {'; '.join(barred)}."] if barred else []


def tried_instead(answer: Answer) -> list[str]:
    """What else than a choke alone was computed."""
    said = [
        f"{i.what}{'' if i.with_choke == NONE else f' with {own_name(i.label)}'} "
        f"would be enough in {of_hundred(i.enough.value)}"
        for i in ways(answer)
    ]
    return [f"Tried instead: {'; '.join(said)}."] if said else []


def ways(answer: Answer) -> list[Instead]:
    """Other ways, the best first, as many as a sentence holds."""
    return sorted(answer.instead, key=lambda i: -i.enough.value)[:_MOST]


def no_other(answer: Answer) -> list[str]:
    """That nothing else is enough, where nothing else is told."""
    if also_enough(answer) or passed_over(answer) or answer.instead or not answer.tried:
        return []
    return [f"Of {answer.tried} sets tried no other is enough."]


# Checks


def checks(answer: Answer) -> list[str]:
    """Grades of what the answer rests on."""
    failed = unsound_basis(answer)
    if failed:
        return [f"The drawing of the {failed} failed a check: rely on nothing here."]
    if basis_grade(answer) == "sound":
        return ["The drawings behind this passed every check."]
    return ["The drawings behind this passed the checks only in part."]


def left_out(answer: Answer) -> list[str]:
    """Candidates whose drawing failed a check."""
    labels = [own_name(c.case.label) for c in never_taken(answer)]
    return [f"Unsound, and so never taken: {_first_of(labels)}."] if labels else []


def never_taken(answer: Answer) -> list[Candidate]:
    """Candidates whose drawing failed a check, those that all rests on apart."""
    rests_on = (answer.ideal, answer.bare, answer.best)
    return [c for c in answer.candidates.values() if c not in rests_on and is_unsound(c)]


def on_fewer(answer: Answer) -> list[str]:
    """Candidates that were judged on fewer drawings."""
    said = [f"{own_name(c.case.label)} on {c.geometries}" for c in of_fewer(answer)]
    return [f"Judged on fewer geometries: {_first_of(said)}."] if said else []


def of_fewer(answer: Answer) -> list[Candidate]:
    """Candidates that were given up on before all drawings were solved."""
    return [c for c in answer.candidates.values() if c.geometries < answer.geometries]


def not_printed(answer: Answer) -> list[str]:
    """What no print gives of each core to take, and the impedance of a piece."""
    choke = answer.best.case.choke
    if choke is None:
        return []
    rows = {row.ferrite_core: row for row in choke.placed if row.ferrite_core is not None}
    return [
        sentence
        for core, row in rows.items()
        if (sentence := _not_printed_of(core, row, answer.study, len(rows) == 1))
    ]


def _not_printed_of(core: FerriteCore, row: Choke, study: Study, is_only: bool) -> str:
    missing = ["size"] if core.confidence in _ASSUMED else []
    instead = ""
    computed = known_from(core, study.frequency) == "computed"
    if row.measurement is None and computed:
        missing.append("impedance here")
        one = FerriteChoke(id=core.id, label="", position=row.position, core=core)
        low, high = (fixed(end, 0) for end in core_ends(study, one))
        instead = f": one pass through one core is {low} to {high} ohm, least to most"
    if not missing:
        return ""
    what = " or ".join(missing)
    what = f"this core's {what}" if is_only else f"the {what} of {own_name(core.name)}"
    return f"No print was found that gives {what}{instead}."


def _first_of(labels: list[str]) -> str:
    more = len(labels) - _MOST
    return "; ".join([*labels[:_MOST], *([f"{more} more"] if more > 0 else [])])


# Questions in the order in which a reader asks, and what says something to each.
QUESTIONS: dict[str, tuple[Producer, ...]] = {
    "How many?": (how_many,),
    "Where?": (places,),
    "How sure?": (shares, turns, errors),
    "As described?": (as_described,),
    "What does it cost?": (cost, cut_length, solid_cores, on_the_front, another_kind),
    "What else would do?": (enough_too, not_taken, tried_instead, no_other),
    "What did the checks say?": (checks, not_printed, left_out, on_fewer),
}
_OF_A_CHOKE = ("How many?", "Where?", "What else would do?")
