"""A workflow on a cluster: a profile of Snakemake and a workflow in, every job done out.

A profile says which machines there are and how they are asked; two of them are here, for SLURM and
for Kubernetes, and a reader may have others.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import logging
import os
import shutil
import subprocess
import time
from argparse import ArgumentParser, Namespace
from collections.abc import Sequence
from pathlib import Path

from pipeline.runtime.process import say
from pipeline.text.errors import Fault, SolverError, StudyError
from pipeline.workflow.execution import Workflow, attached

_OURS = Path(__file__).parent / "profiles"
# For jobs that were told to end. [s]
_LONGEST_END = 120.0


def profile_folder(profile: str) -> Path:
    """Folder of a profile: one of ours by its name, or a folder of the reader's own."""
    names = sorted(path.name for path in _OURS.iterdir())
    folder = _OURS / profile if profile in names else Path(profile).resolve()
    if not any(folder.glob("*config*.yaml")) and not any(folder.glob("profile*.yaml")):
        rule = "is no profile and no folder with a config.yaml"
        remedy = f"--profile {' or '.join(names)}, or the folder of a profile of Snakemake"
        raise StudyError(Fault("--profile", profile, rule, remedy, "profile-missing"))
    return folder


def execute_there(
    workflow: Workflow, cores: int, profile: str, handlers: Sequence[logging.Handler]
) -> None:
    """Run a workflow by a profile; raises WorkflowError where a job failed.

    ``cores`` are those of this machine, for what is done here.
    """
    from snakemake.cli import args_to_api
    from snakemake_interface_common.exceptions import WorkflowError

    parser, asked = _asked(workflow, cores, profile)
    if asked.executor == "slurm":
        asked.slurm_jobname_prefix = job_prefix(workflow.folder)
        cancel_jobs(asked.slurm_jobname_prefix)
    if asked.default_storage_provider:
        # Each folder has its own place there; and solves are kept where the job is.
        asked.default_storage_prefix = f"{asked.default_storage_prefix}/{workflow.folder.name}"
        asked.config += ["stored=True", "store=.solved/drawings"]
    with attached(handlers):
        if not args_to_api(asked, parser):
            raise WorkflowError("the workflow did not reach its end")


def _asked(workflow: Workflow, cores: int, profile: str) -> tuple[ArgumentParser, Namespace]:
    """Settings of Snakemake: those of the profile, and what a run here needs of them."""
    from snakemake.cli import parse_args
    from snakemake.exceptions import CliException

    given = [
        *("--profile", str(profile_folder(profile)), "--workflow-profile", "none"),
        *("--snakefile", str(workflow.file), "--directory", str(workflow.folder)),
        # As in a run here: see execute_here.
        *("--nolock", "--rerun-incomplete", "--keep-going", "--quiet", "all"),
        *("--local-cores", str(cores)),
        *("--config", *(f"{key}={value}" for key, value in workflow.config.items())),
    ]
    said = io.StringIO()
    try:
        with contextlib.redirect_stderr(said):
            parser, asked = parse_args(given)
    except (SystemExit, CliException) as error:
        why = said.getvalue().strip().splitlines()[-1:] or [str(error)]
        rule = f"is refused by Snakemake: {why[0]}"
        remedy = (
            "correct the profile; packages for clusters come with pip install 'braidwise[cluster]'"
        )
        raise StudyError(Fault("--profile", profile, rule, remedy, "profile-refused")) from error
    return parser, asked


def job_prefix(folder: Path) -> str:
    """First part of the names of the jobs that a run in a folder submits."""
    digest = hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()
    return f"braidwise-{digest[:16]}"


def cancel_jobs(prefix: str) -> None:
    """Cancel SLURM jobs of an earlier run in the same folder, and wait until they have ended.

    One that was killed leaves its jobs behind; they would write to what is made again. What they
    solved is kept.
    """
    left = _names(prefix)
    if left:
        say(f"cancelling {len(left)} jobs that an earlier run has left in the queue")
        _slurm("scancel", f"--user={os.getuid()}", f"--name={','.join(sorted(set(left)))}")
    last = time.monotonic() + _LONGEST_END
    while left := _names(prefix):
        if time.monotonic() > last:
            rule = f"has jobs of an earlier run that do not end: {', '.join(sorted(set(left)))}"
            raise SolverError(Fault("SLURM", "", rule, "cancel them, then run again", "jobs-left"))
        time.sleep(1)


def _names(prefix: str) -> list[str]:
    """Names of our jobs in the queue, those that are just ending with them."""
    listed = _slurm("squeue", "--noheader", f"--user={os.getuid()}", "--format=%j")
    return [name for name in listed.split() if name.startswith(prefix)]


def _slurm(command: str, *arguments: str) -> str:
    """What a command of SLURM prints."""
    program = shutil.which(command)
    if program is None:
        rule = "is not among the commands of this machine"
        remedy = "run this where jobs are submitted to SLURM"
        raise SolverError(Fault(command, "", rule, remedy, "slurm-missing"))
    try:
        done = subprocess.run(
            [program, *arguments], capture_output=True, text=True, timeout=60, check=True
        )
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
        why = " ".join((getattr(error, "stderr", None) or str(error)).split())
        remedy = "see whether SLURM is up, with sinfo; then run again"
        raise SolverError(Fault(command, "", f"failed: {why}", remedy, "slurm-failed")) from error
    return done.stdout
