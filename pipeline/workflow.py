"""What the workflow needs to know before its first job: studies, geometries, figures.

Reads and draws every study (a tenth of a second each), so that a study with a fault is refused
before anything runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.cache import SolveRequest, requests
from pipeline.errors import Fault, StudyError
from pipeline.study_batch import of_every_study
from pipeline.study_types import Study

# Two groups of about equal drawing time, so that two cores share the work.
FIGURE_GROUPS = {
    "where": (
        "installation",
        "azimuth_cut",
        "elevation_cut",
        "low_elevation",
        "choke_position",
        "exposure",
    ),
    "what": ("band", "measured", "shield_current", "choke_impedance", "core_count"),
}


# Folder in which the studies of one run are set side by side.
COMPARED = "compared"


@dataclass(frozen=True)
class StudyPlan:
    """One study of a run.

    ``digests`` are those of all its geometries, ``own_digests`` of those that no earlier study
    of the run draws already; ``sizes`` holds (segments, ports, frequencies) by digest;
    ``beside`` are the files with measurements that the study names.
    """

    name: str
    path: Path
    digests: tuple[str, ...]
    own_digests: tuple[str, ...]
    sizes: dict[str, tuple[int, int, int]]
    beside: tuple[Path, ...] = ()


def _size(request: SolveRequest) -> tuple[int, int, int]:
    structure = request.structure
    return len(structure.segments), len(structure.ports), len(request.frequency)


def plan_studies(paths: list[Path]) -> dict[str, StudyPlan]:
    """Plans of all studies by name.

    Raises
    ------
    StudyError
        If a study has a fault, or two have the same name and would overwrite each other.
    """
    taken: set[str] = set()

    def planned(path: Path, study: Study) -> StudyPlan:
        drawn = {r.digest(): r for r in requests(study).values()}
        if study.name == COMPARED:
            rule = "is the name of the folder in which studies are set side by side"
            raise StudyError(Fault(str(path), "", rule, "rename the file", "study-name-taken"))
        own = tuple(d for d in drawn if d not in taken)
        taken.update(own)
        sizes = {digest: _size(r) for digest, r in drawn.items()}
        beside = tuple(path.resolve().parent / name for name in study.files)
        return StudyPlan(study.name, path.resolve(), tuple(drawn), own, sizes, beside)

    return {plan.name: plan for plan in of_every_study(paths, planned)}


def expected_seconds(size: tuple[int, int, int]) -> float:
    """Rough time of one port basis on one core, for the progress line only.

    Filling goes with the square of the number of segments, factoring with its cube; measured
    once and rounded.
    """
    n, ports, frequencies = size
    per_frequency = 1.2e-6 * n**2 + 4e-10 * n**3 + 5e-6 * n * ports / 2
    return 0.6 + frequencies * per_frequency
