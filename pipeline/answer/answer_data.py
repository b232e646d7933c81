"""The answer as plain data: the part ``answer`` of ``summary.json``.

An :class:`Answer` in, dictionaries and lists out, sentences and numbers side by side.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from pipeline.answer.phrases import named, standing
from pipeline.answer.record import CLASSES, SURE, Answer, Candidate, Cause, Chance
from pipeline.answer.unknown_words import assumed, drawn_words, range_words
from pipeline.answer.words import said
from pipeline.montecarlo.draws import Unknown
from pipeline.montecarlo.sensitivity import Share


def answer_data(answer: Answer) -> dict[str, Any]:
    """Everything that an answer says and rests on; layout in ``summary.schema.json``."""
    found = said(answer)
    return {
        "headline": found.headline,
        "numbers": [asdict(tile) for tile in found.numbers],
        "why": found.why,
        "how_sure": found.how_sure,
        "avoid": found.avoid,
        "text": found.text,
        "questions": dict(found.questions),
        "chosen": answer.chosen,
        "enough": answer.enough,
        "sure": SURE,
        **_chance("chance", answer.best.enough),
        "candidates": [_candidate(answer, c) for c in answer.candidates.values()],
        "causes": {name: _causes(answer, name) for name in answer.causes},
        "front": [asdict(point) for point in answer.front],
        "instead": [
            {
                "what": way.what,
                "with_choke": way.with_choke,
                "label": way.label,
                **_chance("enough", way.enough),
                "geometries": way.geometries,
            }
            for way in answer.instead
        ],
        "unknowns": [_unknown(u) for u in answer.unknowns],
        "assumed": assumed(answer.study, answer.unknowns),
        "currency": answer.currency,
        "tried": answer.tried,
        "geometries": answer.geometries,
        "draws": answer.draws,
    }


def _chance(name: str, chance: Chance) -> dict[str, float]:
    return {name: chance.value, f"{name}_error": chance.error}


def _candidate(answer: Answer, candidate: Candidate) -> dict[str, Any]:
    case = candidate.case
    chances = {"enough" if name == "invisible" else name: name for name in CLASSES}
    found: dict[str, Any] = {
        "id": candidate.id,
        "label": case.label,
        "name": "no choke" if case.choke is None else case.choke.short,
        "named": named(case),
        "origin": candidate.origin,
        "standing": standing(candidate, answer),
        "barred": candidate.barred,
        "price": candidate.price,
        "pieces": candidate.pieces,
    }
    for key, name in chances.items():
        found |= _chance(key, candidate.chances[name])
    return found | {
        **_chance("better", candidate.better),
        "score": asdict(candidate.score),
        "driver": candidate.driver,
        "figures": {name: asdict(figure) for name, figure in candidate.figures.items()},
        "changes": {name: asdict(change) for name, change in candidate.changes.items()},
        "place": candidate.place,
        "geometries": candidate.geometries,
        "grade": candidate.grade,
        "heat": candidate.heat,
    }


def _causes(answer: Answer, name: str) -> dict[str, Any]:
    """Shares of one case's spread: all that changes the drawing together, and each unknown."""
    known = {u.name: u for u in answer.unknowns}
    return {
        "drawing": _share(answer.geometry[name]),
        "unknowns": [_cause(cause, known[cause.name]) for cause in answer.causes[name]],
    }


def _share(share: Share) -> dict[str, float]:
    return {"share": share.value, "noise": share.noise}


def _cause(cause: Cause, unknown: Unknown) -> dict[str, Any]:
    return {
        "name": cause.name,
        "label": cause.label,
        "joint": cause.joint,
        **_share(cause.share),
        "turns": cause.turns,
        "enough_least": cause.low,
        "least_at": range_words(unknown, cause.at_low),
        "enough_most": cause.high,
        "most_at": range_words(unknown, cause.at_high),
    }


def _unknown(unknown: Unknown) -> dict[str, Any]:
    return {
        "name": unknown.name,
        "label": unknown.label,
        "drawn": drawn_words(unknown),
        "measure": unknown.measure,
        "changes_drawing": unknown.geometric,
    }
