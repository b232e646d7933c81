"""The data of a study's live page, made from its solves and its answer.

Solves more of the cable where that is not kept, and writes one file beside the study's results.
"""

from __future__ import annotations

from pathlib import Path

from pipeline.answer.record import Answer
from pipeline.judgement.judgement import Judgement
from pipeline.live.embedding import DATA
from pipeline.live.kinds import kinds_of
from pipeline.live.payload import Carried, packed
from pipeline.live.ports import stretches_of
from pipeline.live.shown import Offered, named_chokes, shown_of
from pipeline.live.solves import Source, live_solves
from pipeline.live.variants import grade_as_drawn, request_of, variants_of
from pipeline.runtime.store import whole_file
from pipeline.solver.cases import CABLE, NO_FEEDLINE
from pipeline.study.records import Study
from pipeline.text.yaml_reading import read_yaml


def carried_of(study: Study, judgement: Judgement, answer: Answer, source: Source) -> Carried:
    """All that a page carries of a study."""
    written = read_yaml(source.file).data
    kinds = kinds_of(study, written.get("chokes") or [])
    named = named_chokes(study, answer)
    stretches = stretches_of(study, named)
    every = variants_of(study)
    solved = live_solves(study, source, {variant.geometry: stretches for variant in every})
    offered = Offered(solved[CABLE].structure, kinds, named)
    shown = shown_of(study, judgement, answer, offered, written)
    alone = judgement.solved.evidence[NO_FEEDLINE].average_gain
    grades = {CABLE: judgement.cases[answer.chosen].grade}
    for variant in every[1:]:
        wanted = request_of(variant)
        if wanted is not None:
            one = solved[variant.geometry]
            grades[variant.geometry] = grade_as_drawn(wanted, one, source.store, alone)
    variants = tuple((v, grades[v.geometry]) for v in every if v.geometry in grades)
    return Carried(study, solved, kinds, judgement.solved.elevation_deg, shown, variants)


def write_data(results: Path, carried: Carried) -> None:
    """Write ``live.gz`` into a results folder, whole."""
    with whole_file(results / DATA) as path:
        path.write_bytes(packed(carried))
