"""The record of a sub-command, the list of all of them, and the runner of those on studies.

A module of this room holds its :class:`Command` as COMMAND. All of them are loaded to read the
arguments, so what solves or draws is imported inside their functions.
"""

from __future__ import annotations

import importlib
import pkgutil
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Generic, TypeVar

import pipeline.commands
from models.lengths import lengths_in
from pipeline.report.findings import Findings
from pipeline.runtime.process import say
from pipeline.runtime.progress import PAGES, PAGES_SECONDS, Stretch, Telling
from pipeline.runtime.result_locks import only_run_in, open_lock
from pipeline.runtime.store import clear_leftovers, held
from pipeline.study.reader import of_every_study, refuse_if_all_are_wrong
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError
from pipeline.text.formatting import sentence_case

T = TypeVar("T")


@dataclass(frozen=True)
class Command:
    """A sub-command: its words in the help, its arguments, and what it runs.

    ``help`` is a phrase, ``more`` what follows it where only this command is explained, ``order``
    its place in the list of all. ``run`` returns the exit code.
    """

    name: str
    help: str
    arguments: Callable[[ArgumentParser], None]
    run: Callable[[Namespace], int]
    more: str = ""
    example: str = ""
    order: int = 100

    @property
    def description(self) -> str:
        """Help and what follows it, as sentences."""
        return f"{sentence_case(self.help)}. {self.more}".strip()


@cache
def commands() -> dict[str, Command]:
    """Sub-commands by name: every module of this room that has a COMMAND, in their order."""
    found = []
    for info in pkgutil.iter_modules(pipeline.commands.__path__):
        module = importlib.import_module(f"{pipeline.commands.__name__}.{info.name}")
        command = getattr(module, "COMMAND", None)
        if isinstance(command, Command):
            found.append(command)
    return {c.name: c for c in sorted(found, key=lambda c: (c.order, c.name))}


def study_arguments(parser: ArgumentParser, parallel: bool = False) -> None:
    """Study files, the folder of results, and how many cores where several can work."""
    parser.add_argument("paths", nargs="+", type=Path, metavar="PATH", help="study files (YAML)")
    parser.add_argument(
        "--results",
        type=Path,
        default=Path("results"),
        metavar="FOLDER",
        help="where results go (default: results, in the folder you are in)",
    )
    if parallel:
        parser.add_argument(
            "--cores", type=int, default=2, metavar="N", help="processor cores to use (default 2)"
        )


def check_cores(cores: int) -> None:
    """Refuse to work on no core."""
    if cores < 1:
        raise StudyError(
            Fault("--cores", str(cores), "must be at least 1", "--cores 2", "cores-range")
        )


@dataclass(frozen=True)
class Job(Generic[T]):
    """A valid study, its file, and what a command made of it before anything is written."""

    path: Path
    study: Study
    plan: T


@dataclass(frozen=True)
class Work:
    """Means of a command for one study: folder of results, cores, and lines of progress.

    ``store`` keeps solves for the run after one that was stopped; it is there where a command
    works in parallel.
    """

    folder: Path
    cores: int
    tell: Telling
    store: Path | None


@dataclass(frozen=True)
class StudyWork(Generic[T]):
    """Work of a command on studies: read all, lock the results, run each, write, print.

    ``plan`` may refuse a study and writes nothing; ``run`` finds out what there is to write.
    ``folder`` is that of the files below the study's own. ``parallel``: runs on several cores,
    and goes on from what a stopped run has solved. ``alone``: not beside another run.
    """

    plan: Callable[[Path, Study], T]
    run: Callable[[Job[T], Work], Findings]
    folder: str
    parallel: bool = False
    alone: bool = True

    def jobs(self, paths: Sequence[Path]) -> list[Job[T]]:
        """All studies read and planned; a StudyError has the faults of all of them."""
        return of_every_study(paths, lambda path, study: Job(path, study, self.plan(path, study)))

    def finish(self, job: Job[T], results: Path, cores: int = 2) -> tuple[bool, str]:
        """One study worked on and its findings written: is the target met, and what to print."""
        tell = Telling(say)
        folder = results / job.study.name / self.folder
        with lengths_in(job.study.lengths), self._store(folder) as store:
            if self.parallel:
                tell.plan(PAGES, Stretch(1, PAGES_SECONDS))
            found = self.run(job, Work(folder, cores, tell, store))
            said = found.write(folder)
        if self.parallel:
            tell("done", PAGES)
        return found.met, said

    def __call__(self, options: Namespace) -> int:
        """Exit code of the command: 1 where a study misses its target."""
        refuse_if_all_are_wrong(options.paths)
        if self.parallel:
            check_cores(options.cores)
        jobs, met = self.jobs(options.paths), True
        with self._hold(options.results, [job.study.name for job in jobs]):
            for job in jobs:
                own, said = self.finish(job, options.results, getattr(options, "cores", 1))
                print(said)
                met = met and own
        return 0 if met else 1

    def _store(self, folder: Path) -> AbstractContextManager[Path | None]:
        if not self.parallel:
            return nullcontext()
        from pipeline.solver.solve_cache import solves_to_go_on_from

        return solves_to_go_on_from(folder, say)

    @contextmanager
    def _hold(self, results: Path, names: Iterable[str]) -> Iterator[None]:
        if self.alone:
            with only_run_in(results, names):
                yield
        else:
            with open_lock(results) as stream:
                if held(stream.fileno()):
                    clear_leftovers(results)
            yield


def on_studies(name: str, summary: str, more: str, work: StudyWork[T], order: int = 100) -> Command:
    """A command that works on each of its studies by itself."""
    return Command(
        name,
        summary,
        lambda parser: study_arguments(parser, work.parallel),
        work,
        more,
        f"braidwise {name} my_house.yaml",
        order,
    )
