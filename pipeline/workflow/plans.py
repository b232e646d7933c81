"""Plans of the workflow before its first job: studies, their content, memory.

Reads and draws every study (a few tenths of a second each), so that a study with a fault is refused
before anything runs.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import models
import pipeline
from pipeline.article import FOLDER as ARTICLE
from pipeline.solver.before_solving import memory_of, size_sentence
from pipeline.solver.solve_cache import requests
from pipeline.study.reader import of_every_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

# Folder in which the studies of one run are set side by side.
COMPARED = "compared"
# Names of folders beside those of studies, and what they are.
_TAKEN = {
    COMPARED: "is the name of the folder in which studies are set side by side",
    ARTICLE: "is the name of the folder that articles are written to",
}
# What a command may ask for in place of what its studies say, in the order in which stages take it.
CHANGES = ("geometries", "draws", "most")

# Kinds of file that results are made with.
_MADE_WITH = (".py", ".csv", ".j2", ".css", ".js", ".json")
_PACKAGES = tuple(Path(str(package.__file__)).parent for package in (models, pipeline))
# Studies and the measurements beside them: each is an input of the results it is for. Of the live
# page's sources only what is built of them stands behind a result.
_NOT_CODE = ("studies/", "live/page/")


def code_digest(folders: Sequence[Path] = _PACKAGES) -> str:
    """Digest of the code, catalogues and templates that stand behind every result.

    What another version made is made again, from the same solves where they are still good.
    """
    found = hashlib.sha256()
    for folder in folders:
        for path in sorted(p for p in folder.rglob("*") if p.suffix in _MADE_WITH):
            inside = path.relative_to(folder)
            # An editor's lock is a link that leads nowhere, with the name of a source file.
            if path.is_file() and not inside.as_posix().startswith(_NOT_CODE):
                found.update((folder.name / inside).as_posix().encode())
                found.update(path.read_bytes())
    return found.hexdigest()[:16]


@dataclass(frozen=True)
class StudyPlan:
    """One study of a run.

    ``digests`` are those of its geometries, ``size`` says how large the largest solve is and
    ``memory_mb`` what one takes [MB]; ``content`` is a digest of the study and of the files that it
    names.
    """

    name: str
    path: Path
    digests: tuple[str, ...]
    size: str
    memory_mb: int
    content: str


# Of the rest of a process: its libraries, and what it keeps in hand. [MB]
_BESIDE_A_SOLVE = 300


def _planned(path: Path, study: Study) -> StudyPlan:
    drawn = {r.digest(): r for r in requests(study).values()}
    if study.name in _TAKEN:
        rule = _TAKEN[study.name]
        raise StudyError(Fault(str(path), "", rule, "rename the file", "study-name-taken"))
    sizes = [
        (len(built.segments), len(built.ports), 1)
        for r in drawn.values()
        for built in (r.structure, r.refined)
    ]
    found = hashlib.sha256()
    for file in (path, *(path.resolve().parent / name for name in study.files)):
        found.update(hashlib.sha256(file.read_bytes()).digest())
    return StudyPlan(
        study.name,
        path.resolve(),
        tuple(drawn),
        size_sentence(study.name, sizes),
        _BESIDE_A_SOLVE + math.ceil(memory_of(sizes)),
        found.hexdigest()[:16],
    )


def plan_studies(paths: Sequence[Path]) -> dict[str, StudyPlan]:
    """Plans of all studies by name."""
    return {plan.name: plan for plan in of_every_study(paths, _planned)}


# Plans of the run that is under way in this process.
_HANDED: list[dict[str, StudyPlan]] = []


@contextmanager
def handed(plans: dict[str, StudyPlan]) -> Iterator[None]:
    """Let the Snakefile take plans that are made, in place of drawing everything again."""
    _HANDED.append(plans)
    try:
        yield
    finally:
        _HANDED.pop()


def plans_for(paths: Sequence[Path]) -> dict[str, StudyPlan]:
    """Plans of a workflow's studies: those handed over, else made here."""
    if _HANDED and {p.path for p in _HANDED[-1].values()} == {path.resolve() for path in paths}:
        return _HANDED[-1]
    return plan_studies(paths)
