"""The stages of the workflow, one a rule of the Snakefile: read files, call the rooms, write files.

``STAGES`` is the registry. Heavy imports stand inside the stage that needs them, because every
stage is a process. A stage that works on several cores has a pool of its own, and keeps each solve
as soon as it is done.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.lengths import System, lengths_in
from pipeline.runtime.store import write_json
from pipeline.workflow.told import teller

if TYPE_CHECKING:
    from pipeline.study.records import Study

# Drawings of the draws, in the store of solves.
DRAWINGS = "drawings"
# Of which the sample in the repository must not pass for a result of this run.
FIRST = "as_described.json"


def _load(study_path: Path, changes: Sequence[int] = ()) -> Study:
    """A study, with more draws or a wider search where the command asks for them.

    ``changes`` are geometries, draws and cores at most; none is as the study has it.
    """
    from pipeline.study.reader import load_study

    study = load_study(study_path)
    geometries, draws, most = [*changes, 0, 0, 0][:3]
    unknowns, design = study.unknowns, study.choke_design
    return replace(
        study,
        unknowns=replace(
            unknowns, geometries=geometries or unknowns.geometries, draws=draws or unknowns.draws
        ),
        choke_design=replace(design, most=most or design.most),
    )


def first(study_path: Path, cache: Path, results: Path, cores: int) -> None:
    """Draw every geometry, solve it at the design frequency, and say what is as described."""
    from pipeline.solver.solve_cache import CENTRE, requests
    from pipeline.workflow.first_answer import first_answer
    from pipeline.workflow.solves import FIELDS, missing, read_centres, solve, write_requests

    study, say = _load(study_path), teller()
    wanted = requests(study)
    write_requests(wanted.values(), cache)
    jobs = missing(wanted.values(), cache, [CENTRE])
    solve(jobs, cores, f"{study.name}: solving fields", say, FIELDS)
    with lengths_in(study.lengths):
        found = first_answer(study, read_centres(wanted, cache))
    write_json(results / FIRST, found)
    say(f"{study.name}: {found['text']}")


def answer(
    study_path: Path, cache: Path, results: Path, cores: int, changes: Sequence[int] = ()
) -> None:
    """Solve the band and the checks, then every candidate in many installations: the answer."""
    from pipeline.solver.solve_cache import SOLVES, requests
    from pipeline.workflow.solves import BAND_AND_CHECKS, missing, solve

    study, say = _load(study_path, changes), teller()
    wanted = requests(study)
    jobs = missing(wanted.values(), cache, SOLVES)
    solve(jobs, cores, f"{study.name}: solving fields", say, BAND_AND_CHECKS)
    with lengths_in(study.lengths):
        _answer(study, cache, results, cores)


def _answer(study: Study, cache: Path, results: Path, cores: int) -> None:
    from pipeline.answer.judge import answer_of
    from pipeline.judgement.judgement import Judgement, judge_study
    from pipeline.montecarlo.installations import GEOMETRIES, install, solves_of
    from pipeline.report.summary import summary_data
    from pipeline.runtime.progress import PAGES, PAGES_SECONDS, Stretch
    from pipeline.solver.solve_cache import requests
    from pipeline.solver.standard_coil import with_standard_coil
    from pipeline.workflow import study_results
    from pipeline.workflow.solves import read_solves

    say = teller()
    say.plan(PAGES, Stretch(1, PAGES_SECONDS))
    read = read_solves(requests(study), cache)

    def described_as(of: Study) -> Judgement:
        return judge_study(of, read.solved, read.refined, read.evidence)

    wider, described = with_standard_coil(study), list[Judgement]()
    say.plan(GEOMETRIES, solves_of(wider, cores))
    store = cache / DRAWINGS
    drawn = install(
        wider, cores, say, store, meanwhile=lambda: described.append(described_as(study))
    )
    found = answer_of(study, described[0], cores, say, store, drawn)
    # What is taken from the catalogue stands beside the study's own from here on.
    taken = found.study
    j = described[0] if len(taken.chokes) == len(study.chokes) else described_as(taken)
    parts, tables = study_results.answer_parts(taken, j, found)
    tables |= study_results.case_tables(taken, j, found)
    study_results.write_tables(results / "tables", tables)
    study_results.write_exports(results, taken, j, read.solved)
    # Last, since the workflow takes it as the sign that all is there.
    write_json(results / "summary.json", summary_data(taken, j, found, read.evidence, parts))
    say(f"{study.name}: {found.tried} sets compared, tables written")


def pages(results: Path, cores: int) -> None:
    """Draw all figures, and build the one-file report and the page of limits from them."""
    from pipeline.figures.registry import draw_report
    from pipeline.report.page import build_report, write_limits

    say = teller()
    with lengths_in(_lengths_of(results)):
        draw_report(results, cores=cores)
        say("drew the figures")
        write_limits(results)
        build_report(results)
    say("wrote the report")


def compared(target: Path, marks: Sequence[Path]) -> None:
    """Set the studies of one run side by side; ``marks`` lie in their results folders."""
    from pipeline.report.side_by_side import compare_studies

    folders = [path.parent for path in marks]
    systems = {_lengths_of(folder) for folder in folders}
    # Studies in both kinds of units meet in metres.
    with lengths_in(systems.pop() if len(systems) == 1 else "metric"):
        compare_studies(folders, target.parent)
    teller()("set the studies side by side")


def _lengths_of(results: Path) -> System:
    """System of units that a study of a results folder is written in."""
    from pipeline.answer.stored_summary import read_summary

    written: System = read_summary(results)["study"].get("lengths_in", "metric")
    return written


def _on_study(stage: Callable[..., None]) -> Callable[[Sequence[str]], None]:
    """A stage on a study from its arguments: file, store, mark to make, cores, and others."""

    def run(given: Sequence[str]) -> None:
        study, cache, mark, cores, *others = given
        more: tuple[Any, ...] = ([int(x) for x in others],) if others else ()
        stage(Path(study), Path(cache), Path(mark).parent, int(cores), *more)

    return run


STAGES: dict[str, Callable[[Sequence[str]], None]] = {
    "first": _on_study(first),
    "answer": _on_study(answer),
    "pages": lambda given: pages(Path(given[0]).parent, int(given[1])),
    "compared": lambda given: compared(Path(given[0]), [Path(x) for x in given[1:]]),
}
