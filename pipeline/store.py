"""Files that are either whole or not there: written beside their place and moved into it.

A run that is killed, or a leftover child that finishes late, can so never leave half a file.
"""

from __future__ import annotations

import json
import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import Fault, ResultError

T = TypeVar("T")


# Marks a file that is being written.
_PART = ".part-"


def clear_leftovers(folder: Path) -> None:
    """Remove what writers that were killed have left anywhere below a folder.

    What somebody is still writing, or another user has left, is left alone.
    """
    for path in folder.rglob(f".*{_PART}*"):
        try:
            with path.open("rb") as stream:
                if held(stream.fileno()):
                    path.unlink(missing_ok=True)
        except (FileNotFoundError, PermissionError):
            # Finished, and so moved into its place, since it was listed; or another user's.
            continue


def held(handle: int) -> bool:
    """Take an open file for this process alone; whether nobody else holds it.

    The kernel lets go of it when the file is closed, however the process ends.
    """
    # Not there on systems for which the solver has no package either.
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary path beside ``path``, moved onto it when the block ends without an error."""
    path.parent.mkdir(parents=True, exist_ok=True)
    prefix = f".{path.name}{_PART}"
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=prefix, suffix=path.suffix)
    temporary = Path(name)
    try:
        # Tells whoever clears leftovers that this one has a living writer.
        held(handle)
        yield temporary
        # mkstemp is private to its owner; results should follow the user's own mask.
        mask = os.umask(0)
        os.umask(mask)
        temporary.chmod(0o666 & ~mask)
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
        os.close(handle)


def write_text(path: Path, text: str) -> None:
    """Write a text file, whole."""
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def write_json(path: Path, data: Any) -> None:
    """Write plain data as JSON, whole; numbers that are not finite are refused."""
    write_text(path, json.dumps(data, indent=1, allow_nan=False, ensure_ascii=False) + "\n")


def read_json(path: Path) -> Any:
    """Read JSON that this project wrote.

    Raises
    ------
    ResultError
        If the file is missing or damaged.
    """
    return _read(path, lambda: json.loads(path.read_text(encoding="utf-8")))


def read_as(path: Path, build: Callable[[Any], T]) -> T:
    """Read JSON and build a record from it.

    Raises
    ------
    ResultError
        If the file is missing, damaged or of another layout.
    """
    built: T = _read(path, lambda: build(json.loads(path.read_text(encoding="utf-8"))))
    return built


def write_arrays(path: Path, arrays: dict[str, NDArray[Any]]) -> None:
    """Write named arrays, whole."""
    with whole_file(path) as temporary, temporary.open("wb") as stream:
        np.savez(stream, **arrays)  # type: ignore[arg-type]


def read_arrays_as(path: Path, build: Callable[[dict[str, NDArray[Any]]], T]) -> T:
    """Read named arrays and build a record from them.

    Raises
    ------
    ResultError
        If the file is missing, damaged or of another layout.
    """

    def load() -> T:
        # Opened here: of a file that is no archive NumPy would leave its own handle open.
        with path.open("rb") as stream, np.load(stream, allow_pickle=False) as archive:
            return build({key: archive[key] for key in archive.files})

    built: T = _read(path, load)
    return built


def _read(path: Path, load: Callable[[], Any]) -> Any:
    try:
        return load()
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile) as error:
        raise ResultError(
            Fault(
                str(path),
                "",
                f"cannot be read ({type(error).__name__})",
                "delete this file and run the study again; only what is missing is computed",
                "result-damaged",
            )
        ) from error
