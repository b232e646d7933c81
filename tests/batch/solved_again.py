"""Rows of a batch, picked at random, solved again by ``braidwise study`` from nothing.

``python -m tests.batch.solved_again BATCH_FILE RESULTS [--rows 10] [--seed 1]`` compares score and
current at the radio as described, all their digits, and ends with 1 where a row differs by more
than 1e-9. ``RESULTS`` is the folder that the batch was run with.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.batch.batch_file import load_batch
from pipeline.batch.combinations import ALGEBRA
from pipeline.batch.jobs import TABLE
from pipeline.batch.planning import Plan, plan_batch, write_studies
from pipeline.batch.table import read_table
from pipeline.runtime.store import read_json

TOLERANCE = 1e-9
# What a study says first, once its fields are solved.
FIRST = "as_described.json"
_PATIENCE = 900


def picked(results: Path, rows: int, seed: int) -> Any:
    """Rows that are among a study's own cases: not failed, not the sleeve that is always judged."""
    frame = read_table(results / TABLE).to_pandas()
    own = frame[(frame["cause"] == "") & (frame["kind"] != "sleeve")]
    return own.iloc[np.random.default_rng(seed).choice(len(own), rows, replace=False)]


def end_of(plan: Plan, row: dict[str, Any]) -> int:
    """Number of the radio end and bond of a row among those of its installation."""
    every = (one for chunk in plan.chunks for one in chunk.installations)
    one = next(one for one in every if one.number == row["installation"])
    ends = [key for key in ALGEBRA if key in one.shown[0]]
    return next(
        k for k, shown in enumerate(one.shown) if all(row[key] == shown[key] for key in ends)
    )


def as_described(study: Path, folder: Path) -> dict[str, Any]:
    """What ``braidwise study`` says first of a study; the rest of its run is not waited for."""
    command = [sys.executable, "-c", "from pipeline.commands.cli import main; main()"]
    command += ["study", str(study), "--results", str(folder)]
    found = folder / study.stem / FIRST
    with subprocess.Popen(command, stderr=subprocess.DEVNULL) as process:
        begun = time.monotonic()
        while not found.exists() and time.monotonic() - begun < _PATIENCE:
            if process.poll() is not None:
                raise RuntimeError(f"{study.name} ended with {process.returncode}")
            time.sleep(0.2)
        process.terminate()
    data: dict[str, Any] = read_json(found)
    return data


def main() -> int:
    parser = argparse.ArgumentParser(description="Rows of a batch solved again by a study.")
    parser.add_argument("batch", type=Path)
    parser.add_argument("results", type=Path)
    parser.add_argument("--rows", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    plan, worst = plan_batch(load_batch(given.batch), ""), 0.0
    rows = picked(given.results / plan.batch.name, given.rows, given.seed)
    for row in rows.to_dict("records"):
        number, case = int(row["installation"]), str(row["case"])
        with tempfile.TemporaryDirectory() as scratch:
            studies = write_studies(plan, number, Path(scratch))
            there = as_described(studies[end_of(plan, row)], Path(scratch) / "results")
        pairs = (
            (row["score"], there["score"][case]),
            (row["station_ratio"], there["station_current_ratio"][case]),
        )
        off = max(abs(ours - theirs) / max(abs(theirs), 1e-12) for ours, theirs in pairs)
        worst = max(worst, off)
        print(f"{row['group']}, installation {number}, {case}: off by {off:.1e}", flush=True)
    print(f"largest difference {worst:.1e}")
    return 0 if worst <= TOLERANCE else 1


if __name__ == "__main__":
    sys.exit(main())
