"""Figures for print that are drawn already: kept beside the articles, by all that they follow from.

To draw them takes most of an article's time, and an article is often made again for its words. What
a figure follows from is in the results, in the program and in what it draws with; a digest of that
names a folder, which is there whole or not at all.
"""

from __future__ import annotations

import hashlib
import shutil
import tempfile
from functools import partial
from importlib.metadata import version
from pathlib import Path

from models import lengths
from pipeline.article import environment
from pipeline.figures.in_print import Printed, draw_for_print
from pipeline.runtime.store import content_of, read_json, reading, whole_file, write_json

STORE = ".drawn"
_BOOK = "printed.json"
_DIGITS = 16
# What is said of a figure.
_TEXTS = ("name", "finding", "caption", "evidence")
# Parts of results that figures are drawn from, as patterns of paths.
_READ = ("summary.json", "tables/*.csv", "geometry/*.json")
# What draws and decides on letters.
_DRAWN_WITH = ("matplotlib", "numpy", "pillow")


def figures_in_print(results: Path, place: Path, folder: Path, cores: int) -> list[Printed]:
    """Figures of some results in a folder: those kept in a place, or drawn and kept there.

    Raises
    ------
    ResultError
        If a file of the results is missing or damaged.
    """
    kept = place / STORE / f"{results.name}-{_digest(results)}"
    if not _is_whole(kept):
        _draw(results, kept, cores)
    found = []
    for entry in read_json(kept / _BOOK):
        for name in entry["files"]:
            with whole_file(folder / name) as temporary:
                temporary.write_bytes((kept / name).read_bytes())
        *files, data = (folder / name for name in entry["files"])
        found.append(Printed(**{key: entry[key] for key in _TEXTS}, files=tuple(files), data=data))
    return found


def _digest(results: Path) -> str:
    """Digest of all that figures of some results follow from. Definition."""
    found = hashlib.sha256(environment.wheel())
    for name in _DRAWN_WITH:
        found.update(f"{name} {version(name)}\n".encode())
    found.update(f"{environment.python_version()} {lengths.system()}\n".encode())
    for path in (path for pattern in _READ for path in sorted(results.glob(pattern))):
        content = reading(path, partial(content_of, path))
        found.update(f"{path.relative_to(results).as_posix()} {len(content)}\n".encode())
        found.update(content)
    return found.hexdigest()[:_DIGITS]


def _is_whole(kept: Path) -> bool:
    """Whether figures are kept as they were drawn."""
    if not (kept / _BOOK).exists():
        return False
    digests = (entry["files"] for entry in read_json(kept / _BOOK))
    return all(
        (kept / name).is_file() and _sha256(kept / name) == digest
        for files in digests
        for name, digest in files.items()
    )


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _draw(results: Path, kept: Path, cores: int) -> None:
    """Draw all figures beside their place, and move them into it; older ones of the study go."""
    store = kept.parent
    store.mkdir(parents=True, exist_ok=True)
    # Parts were left by a run that was killed; only one runs at a time.
    for old in (*store.glob(f"{results.name}-{'?' * _DIGITS}"), *store.glob(".part-*")):
        shutil.rmtree(old)
    new = Path(tempfile.mkdtemp(prefix=".part-", dir=store))
    try:
        book = [
            {
                **{key: getattr(one, key) for key in _TEXTS},
                "files": {path.name: _sha256(path) for path in (*one.files, one.data)},
            }
            for one in draw_for_print(results, new, cores)
        ]
        write_json(new / _BOOK, book)
        new.replace(kept)
    finally:
        shutil.rmtree(new, ignore_errors=True)
