"""Invented answers, consistent in themselves, over all that an answer can be.

Every kind of choke, none needed, none enough, an ideal choke that is not enough itself, huge and
tiny ranges, chances that tie, unsound drawings, prices or none, lengths in feet and inches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from hypothesis import strategies as st

from models.catalogues.parts import ferrite_core
from pipeline.analysis.figures_of_merit_and_score import FIGURES, scored
from pipeline.answer.facts import (
    SURE,
    Answer,
    Candidate,
    Cause,
    Chance,
    FrontPoint,
    Instead,
    Range,
)
from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.kind import Choke
from pipeline.montecarlo.draws import Unknown, unknowns_of
from pipeline.montecarlo.sensitivity import Share
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, ideal_choke
from pipeline.study.reader import load_study
from pipeline.study.records import Study

Draw = Callable[[st.SearchStrategy[Any]], Any]
# Figures of merit that are told of draws.
TOLD = tuple(f.name for f in FIGURES.values() if f.worst and not f.needs)
_CORES = ("mix-43-clamp-12-7", "mix-31-clamp-12-7", "mix-43-ring-29")
_INSTEAD = (
    "the cable on the other leg",
    "a bond half a metre up the gable",
    "a cable 0.4 m longer",
)
_WORDS = st.lists(
    st.sampled_from(["a", "nine", "turns", "of", "RG-58C/U", "at", "50 %"]), min_size=1
)
_LABELS = _WORDS.map(" ".join).map(lambda text: text[:60].strip())


@cache
def study() -> Study:
    """The demo, which leaves open whatever a study can."""
    return load_study(str(files("models") / "studies" / "orchard_shed.yaml"))


def chance(draw: Draw, value: float) -> Chance:
    """A chance with an error as 24 geometries leave it, or none at the ends."""
    error = 0.0 if value in (0.0, 1.0) else draw(st.floats(1e-4, 0.1))
    return Chance(value, error)


def parts_of_one(draw: Draw) -> tuple[float, float, float, float]:
    """Four chances that add up to one, often at the ends and on both sides of what is enough."""
    enough = draw(
        st.one_of(st.sampled_from([0.0, 0.004, 0.9499, SURE, 0.996, 1.0]), st.floats(0, 1))
    )
    worse = (1 - enough) * draw(st.one_of(st.just(0.0), st.floats(0, 1)))
    noticeable = (1 - enough - worse) * draw(st.floats(0, 1))
    return enough, noticeable, max(0.0, 1 - enough - worse - noticeable), worse


def span(draw: Draw, low: float, high: float) -> Range:
    """A range whose stated value may lie outside of it."""
    ends = sorted(draw(st.floats(low, high)) for _ in range(3))
    return Range(draw(st.floats(low, high)), *ends)


def figures(draw: Draw) -> dict[str, Range]:
    """Ranges of the figures of merit over anything that they can be."""
    limits = dict.fromkeys(TOLD, (0.0, 30.0))
    limits |= {"mean_gain_dbi": (-30.0, 12.0), "swr": (1.0, 1e6), "choke_share": (0.0, 1.0)}
    limits |= dict.fromkeys(("station_ratio", "shield_ratio"), (0.0, 3.0))
    return {name: span(draw, *limits[name]) for name in TOLD}


def candidate(draw: Draw, case: Case, origin: str) -> Candidate:
    """A candidate with numbers that can go together."""
    enough, noticeable, strong, worse = parts_of_one(draw)
    if case.id == NONE:
        noticeable, worse = noticeable + worse, 0.0
    names = ("invisible", "noticeable", "strong", "worse")
    parts = dict(zip(names, (enough, noticeable, strong, worse), strict=True))
    grade = draw(st.sampled_from(["sound", "sound", "sound", "usable", "unsound"]))
    changes = {f.name: span(draw, 0.0, 40.0) for f in scored(study().verdict)}
    better = 0.0 if case.id == NONE else (1 - worse) * draw(st.floats(0, 1))
    return Candidate(
        case=case,
        origin=origin,
        chances={name: chance(draw, value) for name, value in parts.items()},
        better=chance(draw, better),
        figures=figures(draw),
        changes=changes,
        score=span(draw, 0.0, 40.0),
        driver=draw(st.sampled_from(sorted(changes))),
        place=draw(st.floats(0, 1)),
        grade=grade,
        geometries=draw(st.sampled_from([4, 24])),
        heat=draw(st.floats(0, 1)),
        barred=_barred(draw, grade, origin, enough >= SURE),
    )


def _barred(draw: Draw, grade: str, origin: str, is_enough: bool) -> str:
    if origin == "reference":
        return ""
    if grade == "unsound":
        return "unsound"
    reasons = ["", "", "", "not-sold", "remembered", "hot", "budget"]
    return draw(st.sampled_from(reasons)) if is_enough else ""


def chokes(draw: Draw, currency: str) -> list[Choke]:
    """Chokes of every kind, cores in families of counts and places."""
    price = (lambda: draw(st.floats(0.5, 300))) if currency else (lambda: None)
    found: list[Choke] = []
    for core in draw(st.lists(st.sampled_from(_CORES), max_size=2, unique=True)):
        counts = draw(st.lists(st.integers(1, 12), min_size=1, max_size=3, unique=True))
        for place in draw(st.lists(st.sampled_from([0.05, 0.57, 5.1]), min_size=1, max_size=2)):
            found += [
                FerriteChoke(
                    id=f"{core}-x{n}-{place}",
                    label=f"{n} x {ferrite_core(core).name}, at {place:.2f} m",
                    position=place,
                    count=n,
                    price=price(),
                    currency=currency,
                    core=ferrite_core(core),
                )
                for n in counts
            ]
    own = [c for c in study().chokes if not isinstance(c, FerriteChoke)]
    for k, choke in enumerate(draw(st.lists(st.sampled_from(own), max_size=3))):
        label = draw(st.one_of(st.just(choke.label), _LABELS))
        found.append(replace(choke, id=f"own-{k}", label=label, price=price(), currency=currency))
    return list({c.id: c for c in found}.values())


def causes(draw: Draw, unknowns: tuple[Unknown, ...]) -> tuple[Cause, ...]:
    """Causes of one candidate, the largest share first."""
    found = []
    for unknown in unknowns:
        low, high = sorted((draw(st.floats(0, 1)), draw(st.floats(0, 1))))
        parts = [(0.0, 0.125), (0.875, 1.0)]
        if unknown.spread.shape == "chance":
            parts = [(0.0, unknown.spread.low), (unknown.spread.low, 1.0)]
        at_low, at_high = draw(st.permutations(parts))
        share = Share(draw(st.floats(0, 1)), draw(st.floats(0, 0.3)))
        turns = low < high and draw(st.booleans())
        found.append(Cause(unknown.name, unknown.label, share, turns, low, high, at_low, at_high))
    groups: dict[str, list[Cause]] = {}
    for unknown, cause in zip(unknowns, found, strict=True):
        groups.setdefault(unknown.together, []).append(cause)
    found += [
        replace(of[0], label=label, joint=True) for label, of in groups.items() if len(of) > 1
    ]
    return tuple(sorted(found, key=lambda cause: -cause.share.value))


def chosen_of(found: dict[str, Candidate]) -> str:
    """The case to take by the rule: the cheapest that is enough, else the best chance."""
    if found[NONE].is_enough:
        return NONE
    real = [c for c in found.values() if c.origin != "reference" and not c.barred]
    enough = [c for c in real if c.is_enough]
    if enough:
        return min(enough, key=lambda c: c.price if c.price is not None else c.pieces).id
    return max([found[NONE], *real], key=lambda c: (c.enough.value, -c.score.high)).id


def front(found: dict[str, Candidate], currency: str) -> tuple[FrontPoint, ...]:
    """Points of the front, in order of cost."""
    points = [
        FrontPoint(
            id=c.id,
            label=c.case.label,
            cost=float((c.price or 0.0) if currency else c.pieces),
            score=c.score.high,
            heat=c.heat,
            enough=c.enough.value,
        )
        for c in found.values()
        if c.may_be_taken and not c.barred
    ]
    return tuple(sorted(points, key=lambda p: p.cost))


def instead(draw: Draw, found: dict[str, Candidate]) -> tuple[Instead, ...]:
    """What else was computed, for an answer that is not enough."""
    ids = [c.id for c in found.values() if c.may_be_taken]
    return tuple(
        Instead(what, which := draw(st.sampled_from(ids)), found[which].case.label,
                chance(draw, parts_of_one(draw)[0]), 8)
        for what in draw(st.lists(st.sampled_from(_INSTEAD), unique=True))
    )  # fmt: skip


@st.composite
def answers(draw: Draw) -> Answer:
    """An answer that could be one."""
    currency = draw(st.sampled_from(["", "EUR"]))
    own = replace(study(), lengths=draw(st.sampled_from(["metric", "imperial"])))
    cases = {
        NONE: Case(NONE, "cable without a choke", CABLE, None),
        IDEAL: Case(IDEAL, "ideal choke (reference)", CABLE, ideal_choke(own)),
    }
    found = {name: candidate(draw, case, "reference") for name, case in cases.items()}
    for choke in chokes(draw, currency):
        geometry = f"wire-{choke.id}" if isinstance(choke, CoilChoke) else CABLE
        origin = draw(st.sampled_from(["study", "standard", "catalogue"]))
        found[choke.id] = candidate(draw, Case(choke.id, choke.label, geometry, choke), origin)
    every = unknowns_of(own)
    some = draw(st.lists(st.sampled_from(every), max_size=6, unique_by=lambda u: u.name))
    unknowns = tuple(u for u in every if u in some)
    chosen = chosen_of(found)
    enough = found[chosen].is_enough
    return Answer(
        study=own,
        candidates=found,
        chosen=chosen,
        enough=enough,
        causes={name: causes(draw, unknowns) for name in dict.fromkeys((NONE, chosen))},
        geometry={name: Share(0.3, 0.1) for name in dict.fromkeys((NONE, chosen))},
        front=front(found, currency),
        instead=() if enough else instead(draw, found),
        unknowns=unknowns,
        currency=currency,
        tried=draw(st.integers(len(found), 400)),
        geometries=24,
        draws=256,
    )
