"""Files that are either whole or not there: written beside their place and moved into it.

A run that is killed, or a leftover child that finishes late, can so never leave half a file.
Arrays carry a checksum; nothing but regular files is opened.
"""

from __future__ import annotations

import errno
import hashlib
import io
import json
import os
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.text.errors import Fault, ResultError

T = TypeVar("T")


# Marks a file that is being written.
_PART = ".part-"
# Larger than anything this project writes. [bytes]
_LARGEST = 2**32
# A checksum in hexadecimal digits, as the comment at the end of an archive.
_SEAL = 64
# What reading a file may raise that somebody else wrote, or that came to harm.
_UNREADABLE = (
    *(OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError, EOFError),
    *(RuntimeError, MemoryError, zipfile.BadZipFile, zlib.error, struct.error),
)


class UnsoundError(ValueError):
    """A file is not what was written; the text says in which way."""


def open_regular(path: Path, flags: int = os.O_RDONLY) -> int:
    """Handle of a regular file; nothing else is opened, followed or waited for."""
    try:
        kind = os.lstat(path).st_mode
    except FileNotFoundError:
        kind = stat.S_IFREG
    if not stat.S_ISREG(kind):
        raise OSError(errno.EINVAL, f"is {_kind(kind)} where a file should be", str(path))
    # It may have become something else since.
    return os.open(path, flags | os.O_NONBLOCK | os.O_NOFOLLOW | os.O_CLOEXEC, 0o666)


def _kind(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "a folder"
    return "a link" if stat.S_ISLNK(mode) else "no regular file"


def clear_leftovers(folder: Path) -> None:
    """Remove what writers that were killed have left anywhere below a folder.

    What somebody is still writing, or another user has left, is left alone.
    """
    for path in folder.rglob(f".*{_PART}*"):
        try:
            with open(open_regular(path), "rb") as stream:
                if held(stream.fileno()):
                    path.unlink(missing_ok=True)
        except OSError:
            # Finished, and so moved into its place, since it was listed; or another user's; or
            # nothing that was ever written here.
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


def unwritable(path: Path, error: OSError) -> ResultError:
    """Error for a result that cannot be written."""
    rule = f"cannot be written to ({error.strerror})"
    if isinstance(error, FileExistsError | NotADirectoryError):
        rule = "cannot be written to: on the way there is a file where a folder should be"
    elif isinstance(error, IsADirectoryError):
        rule = "is a folder where a file should be"
    return ResultError(misplaced(path, rule))


def misplaced(path: Path, rule: str) -> Fault:
    """Fault of something that is in the way of a result."""
    remedy = "move what is there away, or choose another folder with --results FOLDER"
    return Fault(str(path), "", rule, remedy, "results-unwritable")


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary path beside ``path``, moved onto it when the block ends without an error."""
    prefix = f".{path.name}{_PART}"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=prefix, suffix=path.suffix)
    except OSError as error:
        raise unwritable(path, error) from error
    temporary = Path(name)
    try:
        # Tells whoever clears leftovers that this one has a living writer.
        held(handle)
        yield temporary
        # mkstemp is private to its owner; results should follow the user's own mask.
        mask = os.umask(0)
        os.umask(mask)
        temporary.chmod(0o666 & ~mask)
        if path.is_dir():
            raise ResultError(misplaced(path, "is a folder where a file should be"))
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
        os.close(handle)


def write_text(path: Path, text: str) -> None:
    """Write a text file, whole."""
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def write_json(path: Path, data: Any, indent: int | None = 1) -> None:
    """Write plain data as JSON, whole; numbers that are not finite are refused.

    Without ``indent`` on one line, which takes a tenth of the time.
    """
    write_text(path, json.dumps(data, indent=indent, allow_nan=False, ensure_ascii=False) + "\n")


def read_json(path: Path) -> Any:
    """Read JSON that this project wrote."""
    return read_as(path, lambda data: data)


def read_as(path: Path, build: Callable[[Any], T]) -> T:
    """Read JSON and build a record from it."""

    def parsed() -> T:
        # Numbers that are not finite are written nowhere.
        return build(json.loads(content_of(path).decode(), parse_constant=_refuse))

    return reading(path, parsed)


def _refuse(name: str) -> None:
    raise UnsoundError(f"has {name} where a number should be")


def write_arrays(path: Path, arrays: dict[str, NDArray[Any]]) -> None:
    """Write named arrays, whole, with a checksum of their content and place."""
    archive = io.BytesIO()
    np.savez(archive, **arrays)  # type: ignore[arg-type]
    # An archive ends with the length of its comment and the comment.
    body = archive.getvalue()[:-2]
    with whole_file(path) as temporary:
        temporary.write_bytes(body + struct.pack("<H", _SEAL) + _seal(path, body))


def _seal(path: Path, body: bytes) -> bytes:
    """SHA-256 of an archive, bound to its name and folder, so that no other passes for it."""
    digest = hashlib.sha256(os.fsencode(f"{path.parent.name}/{path.name}\n"))
    digest.update(body)
    return digest.hexdigest().encode()


def read_arrays_as(path: Path, build: Callable[[dict[str, NDArray[Any]]], T]) -> T:
    """Read named arrays and build a record from them."""

    def load() -> T:
        # Nothing of a file is interpreted before its checksum is right.
        with np.load(io.BytesIO(_sealed(path)), allow_pickle=False) as archive:
            return build({key: archive[key] for key in archive.files})

    return reading(path, load)


def check_arrays(path: Path) -> None:
    """Compare a file of arrays with its checksum, which is bound to its place."""
    reading(path, lambda: _sealed(path))


def _sealed(path: Path) -> bytes:
    content = content_of(path)
    if content[-_SEAL:] != _seal(path, content[: -_SEAL - 2]):
        raise UnsoundError("does not agree with its checksum")
    return content


def content_of(path: Path) -> bytes:
    """Content of a regular file of no more than the largest size."""
    with open(open_regular(path), "rb") as stream:
        size = os.fstat(stream.fileno()).st_size
        if size > _LARGEST:
            raise UnsoundError(f"has {size} bytes, more than was ever written")
        return stream.read()


def reading(path: Path, make: Callable[[], T]) -> T:
    """Result of ``make``; a file that is missing or damaged becomes a ResultError."""
    try:
        return make()
    except FileNotFoundError as error:
        raise ResultError(_unsound(path, "is missing", "")) from error
    except _UNREADABLE as error:
        why = str(error) if isinstance(error, UnsoundError) else ""
        rule = why or f"cannot be read ({type(error).__name__})"
        raise ResultError(_unsound(path, rule, "delete this file and ")) from error


def _unsound(path: Path, rule: str, first: str) -> Fault:
    """Fault of a stored file; ``first`` is what to do before the study is run again."""
    remedy = f"{first}run the study again; only what is missing is computed"
    return Fault(str(path), "", rule, remedy, "result-damaged")
