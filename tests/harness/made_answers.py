"""Invented answers, consistent in themselves, over all that an answer can be.

Every kind of choke, none needed, none enough, an ideal choke that is not enough itself, huge and
tiny ranges, chances that tie, unsound drawings, prices or none, lengths in feet and inches.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from models.catalogues.parts import ferrite_core
from models.lengths import lengths_in
from pipeline.analysis.figures_of_merit_and_score import FIGURES, scored
from pipeline.answer.answer_data import answer_data
from pipeline.answer.choice import Costs, choose, front_of
from pipeline.answer.grounds import grounds, grounds_data, producers
from pipeline.answer.record import (
    SURE,
    Answer,
    Candidate,
    Cause,
    Chance,
    Instead,
    Range,
)
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.kind import Choke
from pipeline.chokes.pair import PairChoke
from pipeline.montecarlo.draws import Unknown, unknowns_of
from pipeline.montecarlo.sensitivity import Share
from pipeline.report.answer_tables import candidate_rows, core_rows
from pipeline.runtime.csv_tables import write_table
from pipeline.runtime.store import write_json
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, ideal_choke
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.random_studies import Draw

# Figures of merit that are told of draws.
TOLD = tuple(f.name for f in FIGURES.values() if f.worst and not f.needs)
# Ends of what they can be.
_ENDS = dict.fromkeys(TOLD, (0.0, 3.0)) | {"mean_gain_dbi": (-30.0, 12.0), "swr": (1.0, 1e6)}
_CORES = ("mix-43-clamp-12-7", "mix-31-clamp-12-7", "mix-43-ring-29")
_INSTEAD = (
    "the cable on the other leg",
    "a bond half a metre up the gable",
    "a cable 0.4 m longer",
)
# Chances at which words change, and both sides of what is enough.
_EDGES = (0.0, 0.004, 0.025, 0.5, 0.9499, SURE, 0.99, 0.996, 1.0)
_OWN_WORDS = ("a", "nine", "turns", "of", "RG-58C/U", "at", "50 %", "0.3 m")


@cache
def study() -> Study:
    """The demo, which leaves open whatever a study can."""
    return load_study(str(files("models") / "studies" / "orchard_shed.yaml"))


def chance(draw: Draw, value: float) -> Chance:
    """A chance with an error as a few geometries leave it, or none at the ends."""
    return Chance(value, 0.0 if value in (0.0, 1.0) else draw.between(1e-4, 0.1))


def likelihood(draw: Draw) -> float:
    """A chance, one time in two at an edge."""
    return draw.one_of(_EDGES) if draw.likely(0.5) else draw.between(0.0, 1.0)


def span(draw: Draw, ends: tuple[float, float]) -> Range:
    """A range whose stated value may lie outside of it; one time in ten nothing varies."""
    stated = draw.between(*ends)
    if draw.likely(0.1):
        return Range(stated, stated, stated, stated)
    return Range(stated, *sorted(draw.between(*ends) for _ in range(3)))


def scores(draw: Draw, enough: float) -> Range:
    """Range of a score of which so many are one or less: its percentiles go by that."""
    sides = [enough >= part for part in (0.025, 0.5, 0.975)]
    values = [draw.between(0.01, 1.0) if side else draw.between(1.01, 40.0) for side in sides]
    return Range(draw.between(0.01, 40.0), *sorted(values))


def _times(found: Range, factor: float) -> Range:
    return Range(*(factor * getattr(found, f.name) for f in fields(found)))


def candidate(draw: Draw, case: Case, origin: str) -> Candidate:
    """A candidate with numbers that can go together."""
    limits = study().verdict
    enough = likelihood(draw)
    worse = 0.0 if case.id == NONE else (1 - enough) * likelihood(draw)
    noticeable = (1 - enough - worse) * draw.between(0.0, 1.0)
    parts = {"invisible": enough, "noticeable": noticeable, "worse": worse}
    parts["strong"] = max(0.0, 1 - sum(parts.values()))
    score, driver = scores(draw, enough), draw.one_of([f.name for f in scored(limits)])
    changes = {
        f.name: score if f.name == driver else _times(score, draw.between(0.0, 1.0))
        for f in scored(limits)
    }
    # What has no reference is its own change.
    own = {
        f.name: _times(changes[f.name], getattr(limits, f.threshold))
        for f in scored(limits)
        if not f.is_relative
    }
    grade = draw.one_of(["sound", "sound", "sound", "usable", "unsound"])
    return Candidate(
        case=case,
        origin=origin,
        chances={name: chance(draw, value) for name, value in parts.items()},
        better=chance(draw, 0.0 if case.id == NONE else (1 - worse) * likelihood(draw)),
        figures={name: span(draw, _ENDS[name]) for name in TOLD} | own,
        changes=changes,
        score=score,
        driver=driver,
        place=likelihood(draw),
        grade=grade,
        geometries=24 if case.geometry == CABLE else draw.one_of([4, 24]),
        heat=draw.between(0.0, 1.0),
        barred=_barred(draw, grade, origin),
        ohms=_ohms(draw, case),
    )


def _ohms(draw: Draw, case: Case) -> Range | None:
    """Size of the impedance of a candidate's cores; each scatters by less or more than a third."""
    choke = case.choke
    if choke is None or not choke.cores:
        return None
    return _times(span(draw, (100.0, 100.0 * draw.between(1.1, 4.0))), choke.count)


def _barred(draw: Draw, grade: str, origin: str) -> str:
    if origin == "reference":
        return ""
    if grade == "unsound":
        return "unsound"
    return draw.one_of(["", "", "", "", "not-sold", "remembered", "hot", "budget"])


def chokes(draw: Draw, currency: str) -> Iterator[Choke]:
    """Chokes of every kind, cores in families of counts and places, some in two rows or a pair."""

    def priced(choke: Choke, **changes: object) -> Choke:
        price = draw.between(0.5, 300.0) if currency and draw.likely(0.9) else None
        return replace(choke, price=price, currency=currency if price else "", **changes)

    for core in _CORES:
        places = [x for x in (0.05, 0.57, 5.1) if draw.likely(0.25)]
        counts = [n for n in (1, 2, 4, 12) if draw.likely(0.5)]
        for n in counts:
            label = f"{n} x {ferrite_core(core).name}"
            one = FerriteChoke(
                id=f"{core}-x{n}", label=label, position=0.05, count=n, core=ferrite_core(core)
            )
            for at in places:
                yield priced(one, id=f"{one.id}-{at}", label=f"{label}, at {at} m", position=at)
            if n % 2 == 0 and draw.likely(0.2):
                yield priced(replace(one, id=f"{one.id}-two", also_at=2.0).labelled())
    if draw.likely(0.3):
        near, far = (draw.one_of(_CORES) for _ in range(2))
        cores = (
            FerriteChoke(id="of-two", label=name, position=at, count=n, core=ferrite_core(name))
            for name, at, n in ((near, 0.2, 2), (far, 1.9, 1))
        )
        yield priced(PairChoke.of("two", "", *cores))
    for k, choke in enumerate(c for c in study().chokes if not isinstance(c, FerriteChoke)):
        if draw.likely(0.4):
            words = [draw.one_of(_OWN_WORDS) for _ in range(int(draw.between(1, 30)))]
            own = " ".join(words)[:60].strip()
            yield priced(choke, id=f"own-{k}", label=draw.one_of([choke.label, own]))


def causes(draw: Draw, unknowns: tuple[Unknown, ...]) -> tuple[Cause, ...]:
    """Causes of one candidate, the largest share first."""
    found = []
    for unknown in unknowns:
        low, high = sorted((likelihood(draw), likelihood(draw)))
        parts = [(0.0, 0.125), (0.875, 1.0)]
        if unknown.spread.shape == "chance":
            parts = [(0.0, unknown.spread.low), (unknown.spread.low, 1.0)]
        at_low, at_high = parts if draw.likely(0.5) else parts[::-1]
        share = Share(draw.between(0.0, 1.0), draw.between(0.0, 0.3))
        turns = low < high and draw.likely(0.4)
        found.append(Cause(unknown.name, unknown.label, share, turns, low, high, at_low, at_high))
    groups: dict[str, list[Cause]] = {}
    for unknown, cause in zip(unknowns, found, strict=True):
        groups.setdefault(unknown.together, []).append(cause)
    several = {label: of[0] for label, of in groups.items() if len(of) > 1}
    found += [replace(one, label=label, joint=True) for label, one in several.items()]
    return tuple(sorted(found, key=lambda cause: -cause.share.value))


def instead(draw: Draw, found: dict[str, Candidate]) -> tuple[Instead, ...]:
    """What else was computed, for an answer that is not enough."""
    ids = [c.id for c in found.values() if c.may_be_taken]
    tried = [(what, draw.one_of(ids)) for what in _INSTEAD if draw.likely(0.5)]
    return tuple(
        Instead(what, name, found[name].case.label, chance(draw, likelihood(draw)), 8)
        for what, name in tried
    )


def made_answer(seed: int) -> Answer:
    """One answer, the same for the same seed."""
    draw = Draw(seed)
    currency = draw.one_of(["", "EUR"])
    costs = Costs(currency, math.inf)
    own = replace(study(), lengths=draw.one_of(["metric", "imperial"]))
    found = {
        NONE: candidate(draw, Case(NONE, "cable without a choke", CABLE, None), "reference"),
        IDEAL: candidate(
            draw, Case(IDEAL, "ideal choke (reference)", CABLE, ideal_choke(own)), "reference"
        ),
    }
    with lengths_in(own.lengths):
        for choke in chokes(draw, currency):
            geometry = f"wire-{choke.id}" if choke.is_drawn else CABLE
            origin = draw.one_of(["study", "standard", "catalogue"])
            found[choke.id] = candidate(draw, Case(choke.id, choke.label, geometry, choke), origin)
    every, likely = unknowns_of(own), draw.one_of([0.0, 0.2, 0.6])
    unknowns = tuple(u for u in every if draw.likely(likely))
    chosen, enough = choose(found, costs)
    decide = dict.fromkeys((NONE, chosen))
    return Answer(
        study=own,
        candidates=found,
        chosen=chosen,
        enough=enough,
        causes={name: causes(draw, unknowns) for name in decide},
        geometry={name: Share(draw.between(0.0, 1.0), 0.1) for name in decide},
        front=front_of(found.values(), costs),
        instead=() if enough else instead(draw, found),
        unknowns=unknowns,
        currency=currency,
        tried=len(found) + draw.one_of([0, 300]),
        geometries=draw.one_of([1, 24]),
        draws=256,
    )


def verdict(answer: Answer) -> tuple[bool, str]:
    """Whether something is enough, and the kind of what is taken, or ``none``."""
    choke = answer.best.case.choke
    return answer.enough, NONE if choke is None else choke.kind


# Every verdict that words tell apart, enough or not.
VERDICTS = {
    (True, NONE), (False, NONE), (True, "ferrite"), (False, "ferrite"), (True, "coil"),
    (True, "sleeve"), (True, "pair"),
}  # fmt: skip


def answers_of_every_kind() -> list[Answer]:
    """Made answers that have every verdict among them, and say whatever can be said."""
    found: list[Answer] = []
    wanted: set[object] = {*VERDICTS, *producers()}
    for seed in range(200):
        answer = made_answer(seed)
        with lengths_in(answer.study.lengths):
            new = wanted & {verdict(answer), *(ground.producer for ground in grounds(answer))}
        if new:
            found.append(answer)
            wanted -= new
        if not wanted:
            break
    return found


def summary_of(answer: Answer) -> dict[str, Any]:
    """What a summary has of an answer: its own part, and the chokes of the cases."""
    host = answer.study.host
    chokes = [(c.id, c.case.choke) for c in answer.candidates.values()]
    cases = [
        {"id": name, "choke": {"length_m": c.cut_length(host), "mouth": c.opens_to or None}}
        for name, c in chokes
        if c is not None
    ]
    return {"answer": answer_data(answer), "cases": cases}


def write_results(answer: Answer, folder: Path) -> None:
    """What the sentences of an answer rest on, as a run leaves it in its folder of results."""
    (folder / "tables").mkdir(parents=True)
    with lengths_in(answer.study.lengths):
        write_json(folder / "summary.json", summary_of(answer))
        write_json(folder / "grounds.json", grounds_data(answer))
        write_table(folder / "tables" / "candidates.csv", candidate_rows(answer))
        write_table(folder / "tables" / "cores.csv", core_rows(answer))


# Any of them: a seed is what a failing test prints.
SEEDS = st.integers(0, 2**32 - 1)
