"""The stages of the workflow, one a rule of the Snakefile: read files, call the rooms, write files.

``STAGES`` is the registry. Heavy imports stand inside the stage that needs them, because every
stage is a process. A stage that works on several cores has a pool of its own, and keeps each solve
as soon as it is done.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.lengths import System, lengths_in
from pipeline.runtime.store import write_json
from pipeline.workflow.told import teller

if TYPE_CHECKING:
    from pipeline.analysis.case_results import Solved
    from pipeline.answer.record import Answer
    from pipeline.judgement.judgement import Judgement
    from pipeline.runtime.progress import Telling
    from pipeline.solver.solve_cache import SolveRequest
    from pipeline.study.records import Study
    from pipeline.workflow.solves import Solves
    from pipeline.workflow.study_results import Part

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


def answer(
    study_path: Path, cache: Path, results: Path, cores: int, changes: Sequence[int] = ()
) -> None:
    """Solve a study, say what is as described, and judge every candidate in many installations."""
    from pipeline.answer.judge import one_grade
    from pipeline.solver.solve_cache import BAND, requests
    from pipeline.workflow import study_results
    from pipeline.workflow.solves import missing, solved_meanwhile, write_requests

    study, say = _load(study_path, changes), teller()
    on = _Work(study, study_path, cache, results, cores, say)
    wanted = requests(study)
    write_requests(wanted.values(), cache)
    with lengths_in(study.lengths):
        solved = _as_described(on, wanted)
        # The band is in nobody's way: nothing but tables and curves needs it.
        over_band = missing(wanted.values(), cache, [BAND])
        task = f"{study.name}: solving the band"
        with solved_meanwhile(over_band, cores, task, say) as finish_band:
            read = _checked(on, wanted, solved)
            found = _answered(on, read)
            on = replace(on, study=found.study)
            wanted, read = _with_chosen(on, wanted, read)
            found, described = one_grade(found, _described(on.study, read))
            parts = study_results.answer_parts(on.study, described, found)
            finish_band()
        _write(on, wanted, found, _over_band(on, wanted, read), parts)


@dataclass(frozen=True)
class _Work:
    """A study, its file, where its solves and results lie, cores to work on, and its progress."""

    study: Study
    file: Path
    cache: Path
    results: Path
    cores: int
    say: Telling


def _as_described(on: _Work, wanted: dict[str, SolveRequest]) -> dict[str, Solved]:
    """Geometries at the design frequency; what that says of the study as described is told."""
    from pipeline.workflow.first_answer import first_answer

    solved = _centres(on, wanted)
    found = first_answer(on.study, solved)
    write_json(on.results / FIRST, found)
    on.say(f"{on.study.name}: {found['text']}")
    return solved


def _centres(on: _Work, wanted: dict[str, SolveRequest]) -> dict[str, Solved]:
    from pipeline.solver.solve_cache import CENTRE
    from pipeline.workflow.solves import FIELDS, missing, read_centres, solve

    jobs = missing(wanted.values(), on.cache, [CENTRE])
    solve(jobs, on.cores, f"{on.study.name}: solving fields", on.say, FIELDS)
    return read_centres(wanted, on.cache)


def _checked(on: _Work, wanted: dict[str, SolveRequest], solved: dict[str, Solved]) -> Solves:
    """The same with their checks."""
    from pipeline.solver.solve_cache import AVERAGE_GAIN, REFINED_TWIN
    from pipeline.workflow.solves import CHECKS, missing, read_solves, solve

    jobs = missing(wanted.values(), on.cache, [REFINED_TWIN, AVERAGE_GAIN])
    solve(jobs, on.cores, f"{on.study.name}: solving fields", on.say, CHECKS)
    return read_solves(wanted, solved, on.cache)


def _answered(on: _Work, read: Solves) -> Answer:
    """The answer of a study; it is judged as described while its installations are solved."""
    from pipeline.answer.judge import answer_of
    from pipeline.montecarlo.installations import GEOMETRIES, install, solves_of
    from pipeline.runtime.progress import PAGES, PAGES_SECONDS, Stretch
    from pipeline.solver.standard_chokes import with_standard_chokes

    study, say, store = on.study, on.say, on.cache / DRAWINGS
    say.plan(PAGES, Stretch(1, PAGES_SECONDS))
    wider, described = with_standard_chokes(study), []
    say.plan(GEOMETRIES, solves_of(wider, on.cores))

    def meanwhile() -> None:
        described.append(_described(study, read))

    drawn = install(wider, on.cores, say, store, meanwhile=meanwhile)
    return answer_of(study, described[0], on.cores, say, store, drawn)


def _described(study: Study, read: Solves) -> Judgement:
    from pipeline.judgement.judgement import judge_study

    return judge_study(study, read.solved, read.refined, read.evidence)


def _with_chosen(
    on: _Work, wanted: dict[str, SolveRequest], read: Solves
) -> tuple[dict[str, SolveRequest], Solves]:
    """Solves of a study with what is taken among its chokes, and what was asked for.

    What is taken from the catalogue stands beside the study's own from here on. Where it is an
    impedance on the cable nothing more is solved.
    """
    from pipeline.solver.cases import geometry_plans
    from pipeline.solver.solve_cache import requests
    from pipeline.workflow.solves import write_requests

    if all(plan.name in wanted for plan in geometry_plans(on.study)):
        return wanted, read
    wanted = requests(on.study)
    write_requests(wanted.values(), on.cache)
    return wanted, _checked(on, wanted, _centres(on, wanted))


def _over_band(on: _Work, wanted: dict[str, SolveRequest], read: Solves) -> Solves:
    """Solves over their band."""
    from pipeline.solver.solve_cache import BAND
    from pipeline.workflow.solves import OVER_BAND, missing, solve, with_bands

    jobs = missing(wanted.values(), on.cache, [BAND])
    solve(jobs, on.cores, f"{on.study.name}: solving the band", on.say, OVER_BAND)
    return with_bands(read, wanted, on.cache)


def _write(
    on: _Work, wanted: dict[str, SolveRequest], found: Answer, read: Solves, parts: Part
) -> None:
    """Tables, exports and summary of an answer; ``parts`` are those without a band."""
    from pipeline.answer.grounds import grounds_data
    from pipeline.answer.judge import one_grade
    from pipeline.live.carried import carried_of, write_data
    from pipeline.live.solves import Source
    from pipeline.report.summary import summary_data
    from pipeline.workflow import study_results

    study, results = on.study, on.results
    found, described = one_grade(found, _described(study, read))
    more, tables = study_results.case_parts(study, described, found)
    study_results.write_tables(results / "tables", tables | parts[1])
    study_results.write_exports(results, study, described, read.solved)
    source = Source(on.file, wanted, read.solved, on.cache / DRAWINGS, on.cores)
    write_data(results, carried_of(study, described, found, source))
    write_json(results / "grounds.json", grounds_data(found))
    data = summary_data(study, described, found, read.evidence, parts[0] | more)
    # Last, since the workflow takes it as the sign that all is there.
    write_json(results / "summary.json", data)
    on.say(f"{study.name}: {found.tried} sets compared, tables written")


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


def batch_rows(given: Sequence[str]) -> None:
    """Rows of one chunk of a batch: its file, the store of solves, and the table to make."""
    from pipeline.batch.jobs import write_rows

    chunk, store, target = map(Path, given)
    write_rows(chunk, store, target, teller())


def batch_table(given: Sequence[str]) -> None:
    """The table of all chunks of a batch: its plan, the folder of their rows, the table to make."""
    from pipeline.batch.jobs import write_whole

    plan, rows, target = map(Path, given)
    write_whole(plan, rows, target)


def batch_pages(given: Sequence[str]) -> None:
    """What a table of a batch says: arrays, summary, figures and page beside it, on some cores."""
    from pipeline.survey.batch_page import write_pages

    table, cores = given
    write_pages(Path(table), int(cores))
    teller()("wrote the page")


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
    "answer": _on_study(answer),
    "pages": lambda given: pages(Path(given[0]).parent, int(given[1])),
    "batch-rows": batch_rows,
    "batch-table": batch_table,
    "batch-pages": batch_pages,
    "compared": lambda given: compared(Path(given[0]), [Path(x) for x in given[1:]]),
}
