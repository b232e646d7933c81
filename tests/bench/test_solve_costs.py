"""What a solve takes: memory with the number of segments, time with the number of ports."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.montecarlo.installations import cable_of, with_few_ports
from pipeline.solver.nec2 import solve_memory, unit_source_currents
from tests.bench.demo import study
from tests.bench.measuring import cpu_seconds, duration, rounded, tell

ROOT = Path(__file__).parents[2]
SEGMENTS = (500, 1000, 2000)
# A plan of memory leaves as much more. [-]
NEAR = 0.15
PORTS = (0, 12, 30)


def peak(n_segments: int) -> float:
    """Memory that a solve adds to a process of its own. [bytes]"""
    command = [sys.executable, "-m", "tests.bench.peak_memory", str(n_segments)]
    return float(subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout)


def megabytes(values: list[float]) -> str:
    return ", ".join(f"{value / 2**20:.0f}" for value in values)


def test_memory_that_a_solve_takes(benchmark: Any) -> None:
    grown = benchmark.pedantic(lambda: [peak(n) for n in SEGMENTS], rounds=1)
    predicted = [solve_memory(n, 1, 1) for n in SEGMENTS]
    off = max(abs(g / p - 1) for g, p in zip(grown, predicted, strict=True))
    tell(
        benchmark,
        f"{megabytes(grown)} MB at the peak for {', '.join(f'{n:,}' for n in SEGMENTS)} segments; "
        f"predicted {megabytes(predicted)} MB",
        f"within {100 * NEAR:.0f} % of the prediction",
        off <= NEAR,
    )


def test_a_solve_with_more_ports(benchmark: Any) -> None:
    f, soil, whole = np.array([study().frequency]), study().site.ground, cable_of(study())
    fewer = [with_few_ports(whole, most) for most in PORTS]
    benchmark.pedantic(unit_source_currents, (whole, f, soil), rounds=3)
    taken = [cpu_seconds(lambda b=b: unit_source_currents(b, f, soil), 3) for b in fewer]
    every = [*fewer, whole]
    counts, seconds = [len(b.ports) for b in every], [*taken, benchmark.stats.stats.median]
    each, first = np.polyfit(counts, seconds, 1)
    shown = ", ".join(f"{duration(s)} with {n}" for n, s in zip(counts, seconds, strict=True))
    tell(
        benchmark,
        f"{shown} ports: each {duration(float(each))}, {rounded(100 * each / first)} % of the rest "
        f"({len(whole.segments)} segments)",
    )
