"""The advice on a judged study, and the variations that it was tried on.

A judgement in, the recommended case with its sentences out; all by superposition.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from pipeline.judgement.judgement import Judgement, along_cable
from pipeline.judgement.sweeps import places, variations
from pipeline.judgement.verdict import Variation
from pipeline.judgement.verdict_words import Advice, advise
from pipeline.runtime.csv_tables import Row


@dataclass(frozen=True)
class Advised:
    """The verdict, ``tried`` what was varied on the recommended case."""

    advice: Advice
    tried: list[Variation]


def advised(judgement: Judgement) -> Advised:
    """The verdict on all cases of a study, and the variations it was tried on."""
    of, results = judgement.solved, judgement.results

    @cache
    def along(name: str) -> list[Row]:
        return along_cable(judgement, name)

    @cache
    def tried(name: str) -> list[Variation]:
        return variations(of, results[name].case)

    advice, varied = advise(
        judgement.cases,
        judgement.intervals,
        tried,
        lambda name: places(of, results[name].case, along(name)),
        of.study.power,
        of.elevation_deg,
    )
    return Advised(advice, varied)
