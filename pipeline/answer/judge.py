"""The answer of a study: every candidate in many installations that agree with it, and the choice.

A study and its judgement as described in, one :class:`record.Answer` out. What the study leaves
open is drawn (``montecarlo``), the computation's own uncertainty with it. Candidates of the study
are judged on all draws. Chokes that are drawn cost a solve a drawing: they are judged a few
drawings at a time, and no further once they cannot come to nineteen in twenty on all of them, so
that the decision is the one that all drawings would give. Sets of the catalogue are looked at
quickly, the likely ones closer, the cheapest first; what is taken is judged on all draws like the
study's own.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pipeline.answer.causes import causes, geometry_share
from pipeline.answer.choice import Costs, choose, front_of
from pipeline.answer.comparison import Comparison
from pipeline.answer.drawn_chokes import DrawnChokes
from pipeline.answer.instead import instead
from pipeline.answer.record import Answer, Candidate
from pipeline.answer.search import Search
from pipeline.chokes.kind import Choke
from pipeline.judgement.judgement import Judgement
from pipeline.mesh.evidence import worst
from pipeline.montecarlo.installations import (
    GEOMETRIES,
    Installations,
    install,
    lumped_cases,
    solves_of,
)
from pipeline.runtime.progress import Telling
from pipeline.solver.cases import IDEAL, NONE
from pipeline.solver.standard_chokes import with_standard_chokes
from pipeline.study.records import Study


def answer_of(
    study: Study,
    described: Judgement,
    cores: int,
    say: Telling | None = None,
    store: Path | None = None,
    drawn: Installations | None = None,
) -> Answer:
    """The answer of a study, with its judgement as ``described``.

    ``cores`` geometries are solved at a time; ``say`` is told of every step; solves are kept in the
    folder ``store``, for a run that is stopped to go on from; ``drawn`` are the installations of
    the study with its standard chokes, where they are at hand. Raises StudyError if the study as it
    stands, or most draws, cannot be drawn.
    """
    say = say or Telling(lambda text: None)
    wider = with_standard_chokes(study)
    if drawn is None:
        say.plan(GEOMETRIES, solves_of(wider, cores))
        drawn = install(wider, cores, say, store)
    comparison = Comparison(described, drawn, Costs.of(study))
    for case in lumped_cases(comparison.drawn.study):
        comparison.lumped(case, "reference" if case.id in (NONE, IDEAL) else "study")
    by_drawing = DrawnChokes(comparison, cores, store, {c.id for c in study.chokes})
    by_drawing.judge(say)
    search = Search(comparison)
    search.run()
    found = {name: comparison.as_candidate(one) for name, one in comparison.outcomes.items()}
    chosen, enough = choose(found, comparison.costs)
    while not by_drawing.is_complete(chosen):
        # What is told of the one that is taken rests on all drawings.
        by_drawing.complete(chosen, say)
        found[chosen] = comparison.as_candidate(comparison.outcomes[chosen])
        chosen, enough = choose(found, comparison.costs)
    told = replace(study, defaults=wider.defaults)
    answer = _answer(told, comparison, found, (chosen, enough), search.tried)
    if enough:
        return answer
    best = found[chosen].enough.value
    return replace(answer, instead=instead(comparison, best, cores, say, store))


def one_grade(answer: Answer, described: Judgement) -> tuple[Answer, Judgement]:
    """An answer and a judgement that grade each case alike: the worst over all it was judged on.

    As described it may pass other checks than on drawings, and what comes from the catalogue is
    solved as described only once it is taken. Definition.
    """
    of, evidence = answer.candidates, described.solved.evidence
    alike = {n: worst([of[n].grade, e.grade]) for n, e in evidence.items() if n in of}
    candidates = {n: replace(c, grade=alike.get(n, c.grade)) for n, c in of.items()}
    checks = {n: replace(e, grade=alike.get(n, e.grade)) for n, e in evidence.items()}
    cases = {n: replace(c, grade=checks[n].grade) for n, c in described.cases.items()}
    solved = replace(described.solved, evidence=checks)
    return replace(answer, candidates=candidates), replace(described, cases=cases, solved=solved)


def _answer(
    study: Study,
    comparison: Comparison,
    found: dict[str, Candidate],
    choice: tuple[str, bool],
    tried: int,
) -> Answer:
    chosen, enough = choice
    decide = [comparison.outcomes[name] for name in dict.fromkeys((NONE, chosen))]
    n_geometry, n_draw = comparison.drawn.shape
    return Answer(
        study=_with(study, found[chosen].case.choke),
        candidates=found,
        chosen=chosen,
        enough=enough,
        causes={of.id: causes(of, comparison.drawn) for of in decide},
        geometry={of.id: geometry_share(of) for of in decide},
        front=front_of(found.values(), comparison.costs),
        instead=(),
        unknowns=comparison.drawn.unknowns,
        currency=comparison.costs.currency,
        tried=tried + len(study.chokes),
        geometries=n_geometry,
        draws=n_draw,
    )


def _with(study: Study, chosen: Choke | None) -> Study:
    """The study with the chosen set among its chokes, also where it comes from the catalogue."""
    if chosen is None or chosen.id in {c.id for c in study.chokes}:
        return study
    return replace(study, chokes=(*study.chokes, chosen))
