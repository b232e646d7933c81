"""The coil of the cable itself that every study is judged with, where it lists none of its own.

A study in; the same with the standard coil among its chokes out, or with a sentence that says why
there is none. The reader cannot tell: whether turns keep clear of a mast is seen when it is drawn.
"""

from __future__ import annotations

from dataclasses import replace

from models.lengths import large
from pipeline.chokes.kind import Choke
from pipeline.solver.cases import geometry_plans
from pipeline.solver.structures import structure
from pipeline.study.records import Study
from pipeline.study.whole_study import NO_ROOM_FOR_COIL, standard_coil
from pipeline.text.errors import StudyError


def with_standard_coil(study: Study) -> Study:
    """The study with the coil that is always judged; its defaults say so, or why there is none.

    As it is where it has a coil of its main cable that is drawn as wire.
    """
    main = study.cable.type
    if any(choke.is_drawn and choke.cable_along(main) == main for choke in study.chokes):
        return study
    coil = standard_coil(study)
    if coil is None:
        return _saying(study, NO_ROOM_FOR_COIL)
    wider = replace(study, chokes=(*study.chokes, coil))
    if not _can_be_drawn(wider, coil):
        hung = f"{large(coil.position)} from the antenna"
        return _saying(study, f"no coil of the cable: something is in its way, {hung}")
    return _saying(wider, f"{coil.id} is judged as well: {coil.label}, {coil.begins}")


def _saying(study: Study, sentence: str) -> Study:
    told = f"chokes: {sentence}"
    return study if told in study.defaults else replace(study, defaults=(*study.defaults, told))


def _can_be_drawn(study: Study, coil: Choke) -> bool:
    """Whether a coil of a study clears all that stands around it."""
    (plan,) = (p for p in geometry_plans(study) if p.choke == coil)
    try:
        structure(study, plan)
    except StudyError:
        return False
    return True
