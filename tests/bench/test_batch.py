"""A batch through its whole workflow: on one core and on two, and again with its solves stored.

The demo's cable in drawings that differ in height and way, with the chokes of the demo that are
cores. What the workflow takes for itself is what is left where every solve is stored.
"""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import pytest
import yaml

from pipeline.batch.planning import PLAN, PLAN_FILE
from tests.bench.demo import DEMO
from tests.bench.measuring import Company, duration, rounded, tell, wall_seconds

AT_LEAST = 0.85
# Long enough for two cores that the start of a run counts for little.
INSTALLATIONS = 60
JOB_ROUNDS = 3
NAME = "heights"
COMMAND = "import sys; from pipeline.commands.cli import main; sys.exit(main(sys.argv[1:]))"


def cpu_of_children() -> float:
    """CPU time of all processes that were started and have ended, theirs included. [s]"""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def batch_file(folder: Path, count: int) -> Path:
    study = yaml.safe_load(DEMO.read_text(encoding="utf-8"))
    study["chokes"] = [choke for choke in study["chokes"] if choke["kind"] == "ferrite"]
    drawn = {
        "site.height": {"from": "7 m", "to": "9 m"},
        "cable.route[0].out": {"from": "0.15 m", "to": "0.2 m"},
        "cable.route[3].out": {"from": "5.5 m", "to": "6.5 m"},
    }
    batch = {"study": study, "draws": {"count": count, "of": drawn}, "refined_share": 0}
    path = folder / f"{NAME}.yaml"
    path.write_text(yaml.safe_dump(batch, sort_keys=False), encoding="utf-8")
    return path


@dataclass(frozen=True)
class Run:
    """A batch file and the folder of its results."""

    file: Path
    results: Path

    def __call__(self, cores: int) -> None:
        given = ["batch", self.file, "--results", self.results, "--cores", cores]
        command = [sys.executable, "-c", COMMAND, *map(str, given)]
        subprocess.run(command, capture_output=True, check=True)

    @property
    def chunks(self) -> list[str]:
        """Digests of the jobs of rows."""
        plan = self.results / NAME / PLAN / PLAN_FILE
        return [c["digest"] for c in json.loads(plan.read_text(encoding="utf-8"))["chunks"]]

    def forget_all(self) -> None:
        """Remove all but the solves."""
        shutil.rmtree(self.results / NAME)

    def one_job(self, target: Path) -> None:
        """The rows of the first job, by the command that the workflow runs."""
        chunk = self.results / NAME / PLAN / f"{self.chunks[0]}.json"
        stage = [sys.executable, "-P", "-m", "pipeline", "batch-rows"]
        given = map(str, (chunk, self.results / ".solved" / "drawings", target))
        subprocess.run([*stage, *given], capture_output=True, check=True)


@dataclass(frozen=True)
class Alone:
    """A run on one core that found nothing solved: time by the wall, and of its CPUs. [s]"""

    run: Run
    wall: float
    cpu: float


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Alone:
    folder = tmp_path_factory.mktemp("alone")
    run, before = Run(batch_file(folder, INSTALLATIONS), folder / "results"), cpu_of_children()
    wall = wall_seconds(lambda: run(1))
    return Alone(run, wall, cpu_of_children() - before)


@pytest.mark.benchmark(timer=perf_counter)
def test_a_whole_batch_on_two_cores_instead_of_one(
    benchmark: Any, tmp_path: Path, alone: Alone
) -> None:
    company = Company()
    benchmark.pedantic(Run(alone.run.file, tmp_path), (2,), rounds=1)
    two = benchmark.stats.stats.min
    efficiency = alone.wall / (2 * two)
    tell(
        benchmark,
        f"{duration(two)} instead of {duration(alone.wall)} for {INSTALLATIONS} installations in "
        f"{len(alone.run.chunks)} jobs: parallel efficiency {efficiency:.2f}{company.in_words()}",
        f"{AT_LEAST} at least",
        efficiency >= AT_LEAST,
    )


@pytest.mark.benchmark(timer=cpu_of_children)
def test_a_batch_all_of_whose_solves_are_stored(
    benchmark: Any, tmp_path: Path, alone: Alone
) -> None:
    run = alone.run
    benchmark.pedantic(run, (1,), setup=run.forget_all, rounds=1)
    whole, jobs = benchmark.stats.stats.min, len(run.chunks)
    taken = []
    for _ in range(JOB_ROUNDS):
        before = cpu_of_children()
        run.one_job(tmp_path / "rows.parquet")
        taken.append(cpu_of_children() - before)
    each = median(taken)
    rest = max(0.0, whole - jobs * each)
    tell(
        benchmark,
        f"{duration(rest)} of CPU time for plan, workflow, table and pages, {duration(each)} for "
        f"each of {jobs} jobs, which is {rounded(100 * jobs * each / (alone.cpu - rest))} % of a "
        "job with its solves",
    )
