"""Plans of the workflow before its first job: studies, geometries, memory.

Reads and draws every study (a tenth of a second each), so that a study with a fault is refused
before anything runs.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import models
import pipeline
from pipeline.solver.before_solving import size_sentence
from pipeline.solver.cases import cases
from pipeline.solver.solve_cache import SolveRequest, made_requests, requests
from pipeline.study.reader import of_every_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

# Folder in which the studies of one run are set side by side.
COMPARED = "compared"

# Kinds of file that results are made with.
_MADE_WITH = (".py", ".csv", ".j2", ".css", ".json")
_PACKAGES = tuple(Path(str(package.__file__)).parent for package in (models, pipeline))
# Studies and the measurements beside them: each is an input of the results it is for.
_STUDIES = "studies"


def code_digest(folders: Sequence[Path] = _PACKAGES) -> str:
    """Digest of the code, catalogues and templates that stand behind every result.

    What another version made is made again, from the same solves where they are still good.
    """
    found = hashlib.sha256()
    for folder in folders:
        for path in sorted(p for p in folder.rglob("*") if p.suffix in _MADE_WITH):
            inside = path.relative_to(folder)
            # An editor's lock is a link that leads nowhere, with the name of a source file.
            if path.is_file() and inside.parts[0] != _STUDIES:
                found.update((folder.name / inside).as_posix().encode())
                found.update(path.read_bytes())
    return found.hexdigest()[:16]


@dataclass(frozen=True)
class StudyPlan:
    """One study of a run.

    ``digests`` are those of all its geometries, ``own_digests`` of those that no earlier study
    of the run draws already; ``sizes`` holds (segments, ports, frequencies) by digest, ``size``
    says how large the largest solve is; ``cases`` is how many rows its comparison has;
    ``made_digests`` are those of coils that came out otherwise, which are solved and not tested;
    ``content`` is a digest of the study and of the files that it names.
    """

    name: str
    path: Path
    digests: tuple[str, ...]
    own_digests: tuple[str, ...]
    sizes: dict[str, tuple[int, int, int]]
    cases: int = 0
    made_digests: tuple[str, ...] = ()
    size: str = ""
    content: str = ""


def _size(request: SolveRequest) -> tuple[int, int, int]:
    structure = request.structure
    return len(structure.segments), len(structure.ports), len(request.frequency)


def plan_studies(paths: list[Path]) -> dict[str, StudyPlan]:
    """Plans of all studies by name."""
    taken: set[str] = set()

    def planned(path: Path, study: Study) -> StudyPlan:
        drawn = {r.digest(): r for r in requests(study).values()}
        if study.name == COMPARED:
            rule = "is the name of the folder in which studies are set side by side"
            raise StudyError(Fault(str(path), "", rule, "rename the file", "study-name-taken"))
        made = {r.digest(): r for r in made_requests(study).values()}
        own = tuple(d for d in (*drawn, *made) if d not in taken)
        taken.update(own)
        sizes = {digest: _size(r) for digest, r in (drawn | made).items()}
        beside = tuple(path.resolve().parent / name for name in study.files)
        finer = [(len(r.refined.segments), len(r.refined.ports), 1) for r in drawn.values()]
        found = hashlib.sha256()
        for file in (path, *beside):
            found.update(hashlib.sha256(file.read_bytes()).digest())
        return StudyPlan(
            study.name,
            path.resolve(),
            tuple(drawn),
            own,
            sizes,
            len(cases(study)),
            tuple(made),
            size_sentence(study.name, [*sizes.values(), *finer]),
            found.hexdigest()[:16],
        )

    return {plan.name: plan for plan in of_every_study(paths, planned)}
