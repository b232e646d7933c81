"""Places of results: one run at a time holds them, and finds what is in its way at its start."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from multiprocessing.util import register_after_fork
from pathlib import Path
from typing import IO

from pipeline.runtime.store import (
    clear_leftovers,
    held,
    misplaced,
    open_regular,
    unwritable,
)
from pipeline.text.errors import Fault, ResultError

# What the workflow takes as signs that results of a study are there.
_SIGNS = (".answered", "report.html")
# Folders inside the results, and inside those of one study.
_HIDDEN = (".solved", ".snakemake")
_FOLDERS = frozenset(
    {"logs", "tables", "figures", "touchstone", "decks", "geometry", "build", "tune", "evidence"}
)
_FILES = frozenset(
    {".json", ".html", ".csv", ".svg", ".png", ".pdf", ".nc", ".nec", ".log", ".tsv", ".yaml"}
    | {".s1p", ".s2p", ".done"}
)


def open_lock(folder: Path) -> IO[str]:
    """Open the file that runs in a results folder hold; the folder is made if need be."""
    lock = folder / ".run.lock"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return open(open_regular(lock, os.O_WRONLY | os.O_CREAT | os.O_APPEND), "a")
    except OSError as error:
        raise unwritable(lock if os.path.lexists(lock) else folder, error) from error


@contextmanager
def only_run_in(folder: Path, names: Iterable[str]) -> Iterator[None]:
    """Hold a results folder for one run at a time; the kernel lets go of it however the run ends.

    What killed runs have left half-written is removed first; ``names`` are the folders in it that
    the run writes to.
    """
    with open_lock(folder) as stream:
        if not held(stream.fileno()):
            raise ResultError(
                Fault(
                    str(folder),
                    "",
                    "is in use by another run",
                    "wait for it to end, or choose another folder with --results FOLDER",
                    "results-busy",
                )
            )
        # A worker that outlives its run for a moment must not hold the folder.
        register_after_fork(stream, IO.close)
        check_places(folder, names)
        clear_leftovers(folder)
        yield


def check_places(results: Path, names: Iterable[str]) -> None:
    """Refuse a results folder in which a file is where a folder should be, or the like.

    ``names`` are the folders in it that will be written to; all that is in the way is told.
    """
    faults = [fault for name in _HIDDEN for fault in _fault(results / name, is_folder=True)]
    for name in names:
        faults += _fault(results / name, is_folder=True)
        for path in sorted((results / name).rglob("*")):
            faults += _fault(path, is_folder=path.name in _FOLDERS)
    if faults:
        raise ResultError(*faults)


def _fault(path: Path, is_folder: bool) -> Iterator[Fault]:
    """Fault of a place that is not what it should be; links count as what they lead to."""
    if not path.exists():
        return
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        if not is_folder and (path.suffix in _FILES or path.name in _SIGNS):
            yield misplaced(path, "is a folder where a file should be")
    elif is_folder:
        yield misplaced(path, "is no folder, and one should be here")
    elif not stat.S_ISREG(mode):
        yield misplaced(path, "is no regular file, and one should be here")


def unmark(folder: Path) -> None:
    """Let the results of a study be made again."""
    for name in _SIGNS:
        (folder / name).unlink(missing_ok=True)


def unmark_if_unsound(
    folder: Path, say: Callable[[str], None], build: Callable[[Path], object]
) -> None:
    """Let the results of a study be made again where they are there with no sound summary.

    ``build`` reads the summary of a folder, or refuses it.
    """
    summary = folder / "summary.json"
    if not (folder / _SIGNS[0]).exists():
        return
    try:
        build(folder)
    except ResultError as error:
        unmark(folder)
        say(f"{summary} {error.faults[0].rule}: it is made again")


@contextmanager
def places_named() -> Iterator[None]:
    """Say where, if the system refuses something to do with a file that nobody foresaw."""
    try:
        yield
    except OSError as error:
        if error.filename is None:
            raise
        raise unwritable(Path(os.fsdecode(error.filename)), error) from error
