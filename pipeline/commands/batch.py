"""`braidwise batch`: very many installations, as one table and what it says."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.command import Command, check_cores
from pipeline.runtime.process import say
from pipeline.runtime.progress import in_words
from pipeline.runtime.result_locks import only_run_in
from pipeline.text.errors import Fault, StudyError

if TYPE_CHECKING:
    from pipeline.batch.planning import Plan

# Causes of failures that are told; the table has all.
_TOLD = 5


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("path", type=Path, metavar="PATH", help="batch file (YAML)")
    folder = "where results go (default: results, in the folder you are in)"
    parser.add_argument(
        "--results", type=Path, default=Path("results"), metavar="FOLDER", help=folder
    )
    parser.add_argument(
        "--cores", type=int, default=2, metavar="N", help="processor cores to use (default 2)"
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="say how much there is to compute, and stop"
    )
    one = "write the study files of one installation, one for each radio end, and stop"
    parser.add_argument("--installation", type=int, metavar="N", help=one)
    profile = "where jobs run: slurm, kubernetes, or a folder with a profile (default: here)"
    parser.add_argument("--profile", default="", metavar="NAME", help=profile)


def _run(options: Namespace) -> int:
    """Lay the batch out, run it, and say what came of it."""
    check_cores(options.cores)
    _need_libraries()
    from pipeline.batch.batch_file import load_batch
    from pipeline.batch.planning import plan_batch, write_plan, write_studies
    from pipeline.workflow.batch_run import run_batch
    from pipeline.workflow.cluster import profile_folder
    from pipeline.workflow.plans import code_digest

    if options.profile:
        profile_folder(options.profile)
    plan = plan_batch(load_batch(options.path), code_digest())
    say(_size(plan, options.cores))
    if options.dry_run:
        return 0
    if options.installation is not None:
        folder = options.results / plan.batch.name / "studies"
        print("\n".join(map(str, write_studies(plan, options.installation, folder))))
        return 0
    name = plan.batch.name
    with only_run_in(options.results, (name,)):
        folder = options.results.resolve() / name
        write_plan(plan, folder)
        if not run_batch(folder, options.cores, options.profile):
            return 1
        return _told(options.results / name)


def _need_libraries() -> None:
    """Refuse to begin without what tables of this size need."""
    from importlib.util import find_spec

    lost = [name for name in ("pyarrow", "xarray", "sklearn") if find_spec(name) is None]
    if lost:
        rule = f"needs libraries that are not installed: {', '.join(lost)}"
        remedy = "pip install --constraint constraints.txt '.[batch]'"
        raise StudyError(Fault("braidwise batch", "", rule, remedy, "batch-libraries"))


def _size(plan: Plan, cores: int) -> str:
    each = plan.seconds / max(1, plan.geometries)
    return (
        f"{plan.batch.name}: {plan.installations} installations in {len(plan.batch.groups)} "
        f"groups, {plan.geometries} geometries, {plan.variants} variants; where nothing is solved "
        f"yet {in_words(plan.seconds)} of one core ({each:.1f} s a geometry), "
        f"{in_words(plan.seconds / cores)} on {cores}, in {len(plan.chunks)} jobs"
    )


def _told(folder: Path) -> int:
    """Say where the results are and what failed; the exit code."""
    from pipeline.batch.jobs import TABLE, failed_rows

    failed = failed_rows(folder / TABLE)
    for cause, n in list(failed.items())[:_TOLD]:
        print(f"{n} variants failed: {cause}")
    print(f"\nPage: {folder / 'batch.html'}\nTable: {folder / TABLE}")
    return 1 if failed else 0


COMMAND = Command(
    "batch",
    "compute thousands of installations: a study with axes over its keys",
    _arguments,
    _run,
    "What is drawn alike is solved once; run again, it computes only what is new.",
    "braidwise batch models/studies/atlas.yaml --dry-run",
    order=15,
)
