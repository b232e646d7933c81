"""Drawings of an uncertain installation solved by one worker process and by two."""

from __future__ import annotations

from time import perf_counter
from typing import Any

import pytest

from pipeline.montecarlo.installations import install
from tests.bench.demo import study
from tests.bench.measuring import Company, duration, tell, wall_seconds

AT_LEAST = 0.85
GEOMETRIES = 24
ROUNDS = 2


@pytest.mark.benchmark(timer=perf_counter)
def test_different_drawings_solved_by_two_workers_instead_of_one(benchmark: Any) -> None:
    # In turns, and the quicker of each: what else runs on the machine only ever slows.
    alone, company = [], Company()

    def before() -> None:
        alone.append(wall_seconds(lambda: install(study(), 1, wanted=GEOMETRIES)))

    benchmark.pedantic(lambda: install(study(), 2, wanted=GEOMETRIES), setup=before, rounds=ROUNDS)
    one, two = min(alone), benchmark.stats.stats.min
    efficiency = one / (2 * two)
    tell(
        benchmark,
        f"{duration(two)} instead of {duration(one)} for {GEOMETRIES} drawings: parallel "
        f"efficiency {efficiency:.2f}{company.in_words()}",
        f"{AT_LEAST} at least",
        efficiency >= AT_LEAST,
    )
