"""Starts the console command in a process of its own, as a user would, from any folder."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pipeline

HOME = Path(pipeline.__file__).parents[1]
NOTHING: Mapping[str, str | None] = {}
_MAIN = "import sys; from pipeline.commands.cli import main; sys.exit(main())"


def _environment(given: Mapping[str, str | None]) -> dict[str, str]:
    path = os.pathsep.join(p for p in (str(HOME), os.environ.get("PYTHONPATH", "")) if p)
    whole = {**os.environ, "PYTHONPATH": path, **given}
    return {key: value for key, value in whole.items() if value is not None}


def start(
    folder: Path, *arguments: str, before: str = "", given: Mapping[str, str | None] = NOTHING
) -> subprocess.Popen[str]:
    """The command in a process group of its own; output is caught.

    ``before`` is Python that runs ahead of it, to make it another version of itself. A shell
    starts what it puts in the background deaf to Ctrl-C, and children inherit that. ``given`` are
    variables of its environment, None for one that is not set.
    """
    return subprocess.Popen(
        # -P: where the user stands must not be on the path. The project is, installed or not.
        [sys.executable, "-P", "-c", before + _MAIN, *arguments],
        cwd=folder,
        env=_environment(given),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )


def braidwise(
    folder: Path, *arguments: str, before: str = "", given: Mapping[str, str | None] = NOTHING
) -> subprocess.CompletedProcess[str]:
    with start(folder, *arguments, before=before, given=given) as process:
        out, err = process.communicate(timeout=300)
    return subprocess.CompletedProcess(process.args, process.returncode, out, err)


def results_of(folder: Path) -> dict[str, bytes]:
    """Every result file by its path, without the workflow's own books."""
    return {
        str(p.relative_to(folder)): p.read_bytes()
        for p in folder.rglob("*")
        if p.is_file() and p.relative_to(folder).parts[0] != ".snakemake"
    }
