"""The answer as tidy tables: candidates, causes, the front, what else was computed, cores.

An :class:`Answer` in, rows by the name of their table out; figures and pages are drawn from these.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from models.catalogues.parts import FerriteCore, every_core, is_split
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.answer.phrases import standing
from pipeline.answer.record import CLASSES, Answer, Candidate, Cause, Chance, Range
from pipeline.answer.unknown_words import drawn_words
from pipeline.chokes.ferrite import FerriteChoke, measured_cores
from pipeline.chokes.kind import AT_THE_FEED
from pipeline.circuit.choke_materials import known_from, one_pass
from pipeline.judgement.sweeps import core_ends
from pipeline.montecarlo.draws import Unknown
from pipeline.runtime.csv_tables import Row
from pipeline.solver.catalogue_sets import worth_trying
from pipeline.study.records import Study

# Where the impedance of a core is from that the study has a measurement of.
OWN = "own measurement"


def candidate_rows(answer: Answer) -> list[Row]:
    """One row a candidate: its chances with their errors, its numbers over all draws."""
    return [_candidate(answer, c) for c in answer.candidates.values()]


def _candidate(answer: Answer, candidate: Candidate) -> Row:
    choke = candidate.case.choke
    row: Row = {
        "case": candidate.id,
        "label": candidate.case.label,
        "name": "no choke" if choke is None else choke.short,
        "origin": candidate.origin,
        "kind": "" if choke is None else choke.kind,
        "core": "" if choke is None else choke.core_ids,
        "count": candidate.pieces,
        "position_m": None if choke is None else choke.position,
        "also_at_m": None if choke is None else next(iter(choke.positions[1:]), None),
        "cost": candidate.price,
        "currency": answer.currency,
        "own_cable_m": None if choke is None else choke.own_cable(answer.study.cable.type),
        "standing": standing(candidate, answer),
        "chosen": "yes" if candidate.id == answer.chosen else "no",
        "barred": candidate.barred,
        "grade": candidate.grade,
        "geometries": candidate.geometries,
        "place": candidate.place,
        "driver": candidate.driver,
        "heat_share_95": candidate.heat,
    }
    for name in CLASSES:
        row |= _chance("enough" if name == "invisible" else name, candidate.chances[name])
    row |= _chance("better", candidate.better)
    row |= _range("score", candidate.score)
    for name, found in candidate.figures.items():
        row |= _range(FIGURES[name].column or name, found)
    for name, found in candidate.changes.items():
        row |= _range(f"change_{name}", found)
    return row


def _chance(name: str, chance: Chance) -> Row:
    return {name: chance.value, f"{name}_error": chance.error}


def _range(name: str, found: Range) -> Row:
    """A number as described and over the draws."""
    return {
        f"{name}_stated": found.stated,
        f"{name}_low": found.low,
        f"{name}_middle": found.middle,
        f"{name}_high": found.high,
    }


def cause_rows(answer: Answer) -> list[Row]:
    """One row an unknown and case: its share of the spread, the chances over its range.

    The first row of each case is all that changes the drawing, together.
    """
    known = {u.name: u for u in answer.unknowns}
    rows: list[Row] = []
    for case, causes in answer.causes.items():
        whole = answer.geometry[case]
        first = {"case": case, "unknown": "geometry", "label": "all that changes the drawing"}
        blank = dict.fromkeys(("turns", "chance_low", "chance_high", "drawn_from", "measure"))
        share = {"share": whole.value, "noise": whole.noise, "joint": "yes"}
        rows.append(first | share | blank)
        rows += [_cause(case, cause, known[cause.name]) for cause in causes]
    return rows


def _cause(case: str, cause: Cause, unknown: Unknown) -> Row:
    return {
        "case": case,
        "unknown": cause.name,
        "label": cause.label,
        "share": cause.share.value,
        "noise": cause.share.noise,
        "joint": "yes" if cause.joint else "no",
        "turns": "yes" if cause.turns else "no",
        "chance_low": cause.low,
        "chance_high": cause.high,
        "drawn_from": "all of it together" if cause.joint else drawn_words(unknown),
        "measure": unknown.measure,
    }


def front_rows(answer: Answer) -> list[Row]:
    """One row a set that nothing betters in cost, change and heat at once."""
    return [
        {
            "set": point.id,
            "label": point.label,
            "cost": point.cost,
            "currency": answer.currency,
            "score_high": point.score,
            "heat_share_95": point.heat,
            "enough": point.enough,
            "chosen": "yes" if point.id == answer.chosen else "no",
        }
        for point in answer.front
    ]


def instead_rows(answer: Answer) -> list[Row]:
    """One row a change other than a choke alone, with the chance that comes of it."""
    return [
        {
            "change": found.what,
            "with_choke": found.with_choke,
            "label": found.label,
            "enough": found.enough.value,
            "enough_error": found.enough.error,
            "geometries": found.geometries,
        }
        for found in answer.instead
    ]


def core_rows(answer: Answer) -> list[Row]:
    """One row a core of the catalogue: one pass of it, and whether it was tried or why not."""
    study = answer.study
    _, out = worth_trying(study)
    reasons: dict[FerriteCore, str] = {}
    for cores, why in (
        (out.unfit, "no: does not go over the cable"),
        (out.unsold, "no: not on sale"),
        (out.remembered, "no: its size is from memory"),
        (out.unknown, "no: no data at this frequency"),
        (out.loose, "no: a tighter one of the same mix does more"),
    ):
        reasons |= dict.fromkeys(cores, why)
    return [
        {
            "core": core.id,
            "label": core.name,
            "hole_diameter_m": core.hole_diameter,
            "kind": "split" if is_split(core) else "solid",
            **_one_pass(core, study),
            "tried": reasons.get(core, "yes"),
        }
        for core in every_core(study.own)
    ]


def _one_pass(core: FerriteCore, study: Study) -> Row:
    """Impedance of one pass and its size, least and most, where it is known. [ohm]"""
    measured = measured_cores(study.chokes).get(core.id)
    one = FerriteChoke(id=core.id, label="", position=AT_THE_FEED, core=core, measured=measured)
    columns = ("r_ohm", "x_ohm", "z_low_ohm", "z_high_ohm")
    if measured is None and one_pass(core, study.frequency) is None:
        return {**dict.fromkeys(columns), "known_from": ""}
    z = complex(one.impedance(np.array([study.frequency]), study.host)[0])
    values = (z.real, z.imag, *core_ends(study, one))
    source = known_from(core, study.frequency) if measured is None else OWN
    return {**dict(zip(columns, values, strict=True)), "known_from": source}


# Tables of an answer by their name, and how each is made.
TABLES: dict[str, Callable[[Answer], list[Row]]] = {
    "candidates": candidate_rows,
    "causes": cause_rows,
    "front": front_rows,
    "instead": instead_rows,
    "cores": core_rows,
}
