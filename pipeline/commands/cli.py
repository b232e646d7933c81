"""The console command: arguments in, exit code out; starts the workflow and shows its progress."""

from __future__ import annotations

import _thread
import argparse
import json
import os
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import models
import pipeline
from models.catalogues.parts import DamagedCatalogue
from models.lengths import lengths_in
from pipeline.runtime.process import (
    ends_when_told,
    say,
    speak_any_encoding,
    speaks_unicode,
    usable_home,
)
from pipeline.runtime.result_locks import only_run_in, open_lock, places_named, unmark_if_unsound
from pipeline.runtime.store import clear_leftovers, held, read_json
from pipeline.text.errors import BraidwiseError, CatalogueError, Fault, StudyError

DESCRIPTION = """Does the coax of a pipe-built vertical need a choke, which one, how many, where,
and what will it change? Reads a study file, computes the answer with NEC-2 field solutions."""


# Commands that work on studies, and those of them that use several cores.
_COMMANDS = {
    "study": "compute everything a study asks for and write the report",
    "check": "read a study, draw its geometry and test it, without the full run",
    "evidence": "draw an installation in other ways and see whether the numbers move",
    "tune": "find the lengths at which the antenna is matched with its cable in place",
    "cut": "cut list, workshop drawing and build sheet of the antenna; solves nothing",
    "spread": "say whether the answer holds with all that nobody knows exactly",
    "choke": "choose cores for the cable: the cheapest set that is enough",
}
# Times are those of a 2 m installation on two idle cores.
_MORE = {
    "study": "About a minute for a 2 m installation; several studies are set side by side.",
    "check": "Takes seconds, and may be used while another run goes on.",
    "evidence": "Takes minutes.",
    "tune": "Writes a tuned copy of the study; five to ten field solutions.",
    "cut": "Takes seconds.",
    "spread": "What is unknown stands in the study's section unknowns, or is taken as typical and "
    "stated; coils drawn as wire take part where it names coil_pitch. About half a minute.",
    "choke": "Tries every core of the catalogue that fits, one to twelve, at one place or two. "
    "Two to three minutes.",
}
CATALOGUE_KINDS = ("cables", "cores", "pipes", "mixes", "grounds")
_WITH_CORES = ("study", "spread", "choke")


def build_parser() -> argparse.ArgumentParser:
    """Arguments of the console command."""
    parser = argparse.ArgumentParser(prog="braidwise", description=DESCRIPTION)
    parser.add_argument("--debug", action="store_true", help="show where in the code it failed")
    commands = parser.add_subparsers(dest="command", required=True)
    for name, text in _COMMANDS.items():
        command = commands.add_parser(
            name,
            help=text,
            description=f"{text[0].upper()}{text[1:]}. {_MORE[name]}",
            epilog=f"Example: braidwise {name} my_house.yaml",
        )
        command.add_argument(
            "paths", nargs="+", type=Path, metavar="PATH", help="study files (YAML)"
        )
        command.add_argument(
            "--results",
            type=Path,
            default=Path("results"),
            metavar="FOLDER",
            help="where results go (default: results, in the folder you are in)",
        )
        if name in _WITH_CORES:
            command.add_argument(
                "--cores",
                type=int,
                default=2,
                metavar="N",
                help="processor cores to use (default 2)",
            )
    add_catalogue(commands)
    schema = commands.add_parser(
        "schema", help="print the JSON Schema of the study file or of summary.json"
    )
    schema.add_argument("of", choices=("study", "summary"), help="which file's layout")
    return parser


def add_catalogue(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Arguments of the command that lists parts."""
    text = "list the cables, cores, pipes, mixes and grounds there are, and what fits"
    command = commands.add_parser(
        "catalogue",
        help=text,
        description=f"{text[0].upper()}{text[1:]}. The first column is what a study writes.",
        epilog="Example: braidwise catalogue cores --fits RG-8X",
    )
    command.add_argument(
        "kind", nargs="?", choices=CATALOGUE_KINDS, help="which parts (default: all)"
    )
    command.add_argument(
        "--fits",
        metavar="PART",
        help="a cable or its diameter: what goes over it; a core or pipe: which cables go through",
    )
    command.add_argument(
        "--study", type=Path, metavar="PATH", help="a study whose own parts are listed too"
    )


def check_packages(model_file: str, pipeline_file: str) -> None:
    """Refuse to run with a stranger's package of the name of one of ours.

    Raises
    ------
    StudyError
        If the two packages do not lie side by side.
    """
    ours, theirs = Path(pipeline_file).parent.parent, Path(model_file).parent.parent
    if ours != theirs:
        raise StudyError(
            Fault(
                model_file,
                "",
                f"hides the package of that name that belongs to {ours}",
                "run the command from another folder, or rename that folder",
                "package-hidden",
            )
        )


def check_cores(cores: int) -> None:
    """Refuse to work on no core.

    Raises
    ------
    StudyError
        If there is none.
    """
    if cores < 1:
        raise StudyError(
            Fault("--cores", str(cores), "must be at least 1", "--cores 2", "cores-range")
        )


def run_study(paths: Sequence[Path], results: Path, cores: int) -> int:
    """Run the workflow for some studies and say what came out."""
    from pipeline.workflow.plans import COMPARED, plan_studies
    from pipeline.workflow.run import run_workflow

    check_cores(cores)
    plans = plan_studies(list(paths))
    with only_run_in(results, (*plans, COMPARED)):
        for name, plan in plans.items():
            unmark_if_unsound(results / name, say)
            say(plan.size)
        succeeded = run_workflow(plans, results.resolve(), cores)
    for name in plans:
        summary = results / name / "summary.json"
        report = results / name / "report.html"
        if report.exists() and succeeded:
            verdict = read_json(summary)["verdict"]
            print(f"\n{name}: {verdict['headline']}\n{verdict['certainty']}\nReport: {report}")
    if succeeded and len(plans) > 1:
        print(f"\nSide by side: {results / COMPARED / 'compared.html'}")
    return 0 if succeeded else 1


def run_check(paths: Sequence[Path], results: Path) -> int:
    """Validate studies, draw their geometries and test them at the design frequency."""
    from pipeline.commands.check import check_study, draw_studies, size_of

    # All are read before anything is written: a faulty study leaves no trace.
    drawn = draw_studies(paths)
    # Only a picture (two files) that no other command touches, each written whole: a run may
    # go on meanwhile.
    with open_lock(results) as stream:
        if held(stream.fileno()):
            clear_leftovers(results)
    for entry in drawn:
        print(size_of(entry), flush=True)
        with lengths_in(entry.study.lengths):
            print(check_study(entry, results))
    return 0


def run_evidence(paths: Sequence[Path], results: Path) -> int:
    """Solve studies drawn in other ways and say whether the numbers move."""
    from pipeline.commands.evidence_run import plan_evidence, run_job

    jobs = plan_evidence(list(paths))
    with only_run_in(results, (job.study.name for job in jobs)):
        for job in jobs:
            with lengths_in(job.study.lengths):
                print(run_job(job, results))
    return 0


def run_tune(paths: Sequence[Path], results: Path) -> int:
    """Tune the antennas of studies; 1 where one of them misses its target."""
    from pipeline.commands.tune_run import plan_tuning, run_job

    jobs = plan_tuning(list(paths))
    met = True
    with only_run_in(results, (job.study.name for job in jobs)):
        for job in jobs:
            with lengths_in(job.study.lengths):
                reached, text = run_job(job, results)
            print(text)
            met = met and reached
    return 0 if met else 1


def run_spread(paths: Sequence[Path], results: Path, cores: int) -> int:
    """Draw what studies do not know, solve, and say whether the answer holds."""
    from pipeline.commands.spread_run import plan_spread, run_job

    check_cores(cores)
    studies = plan_spread(list(paths))
    with only_run_in(results, (study.name for study in studies)):
        for study in studies:
            with lengths_in(study.lengths):
                print(run_job(study, results, cores))
    return 0


def run_choke(paths: Sequence[Path], results: Path, cores: int) -> int:
    """Choose cores for studies; 1 where no set is enough for one of them."""
    from pipeline.commands.choke_run import plan_chokes, run_job

    check_cores(cores)
    studies = plan_chokes(list(paths))
    met = True
    with only_run_in(results, (study.name for study in studies)):
        for study in studies:
            with lengths_in(study.lengths):
                enough, text = run_job(study, results, cores)
            print(text)
            met = met and enough
    return 0 if met else 1


def run_cut(paths: Sequence[Path], results: Path) -> int:
    """Write the cut list, drawing and build sheet of studies."""
    from pipeline.commands.cut import plan_all, write_build

    plans = plan_all(paths)
    with only_run_in(results, (plan.study.name for plan in plans)):
        for plan in plans:
            with lengths_in(plan.study.lengths):
                print(write_build(plan, results))
    return 0


def print_catalogue(kind: str | None, fits: str | None, study: Path | None) -> int:
    """Print what there is, and what fits."""
    from pipeline.commands.catalogue_list import listing

    print(listing(kind, fits, study), flush=True)
    return 0


def print_schema(of: str) -> int:
    """Print one of the two published schemas."""
    from importlib.resources import files

    if of == "study":
        from pipeline.study.reader import json_schema

        text = json.dumps(json_schema(), indent=2, ensure_ascii=False)
    else:
        text = (
            (files("pipeline") / "report" / "summary.schema.json")
            .read_text(encoding="utf-8")
            .rstrip("\n")
        )
    # Output without the characters still gets JSON.
    print(text if speaks_unicode() else json.dumps(json.loads(text), indent=2))
    return 0


@contextmanager
def no_lost_interrupt() -> Iterator[None]:
    """Press Ctrl-C again where Python has swallowed it.

    One that arrives while an object is being destroyed cannot be raised there: Python prints it
    as ignored and goes on as if nobody had pressed anything.
    """
    usual = sys.unraisablehook

    def again(event: sys.UnraisableHookArgs) -> None:
        if issubclass(event.exc_type, KeyboardInterrupt):
            # A little later, outside of the destructor and of this hook.
            threading.Timer(0.05, _thread.interrupt_main).start()
        else:
            usual(event)

    sys.unraisablehook = again
    try:
        yield
    finally:
        sys.unraisablehook = usual


def main(arguments: Sequence[str] | None = None) -> int:
    """Console entry; returns the exit code."""
    speak_any_encoding()
    options = build_parser().parse_args(arguments)
    with no_lost_interrupt(), ends_when_told(), usable_home():
        return _run(options)


def _dispatch(options: argparse.Namespace) -> int:
    """One command with its exit code."""
    if options.command == "catalogue":
        return print_catalogue(options.kind, options.fits, options.study)
    if options.command not in _COMMANDS:
        return print_schema(options.of)
    from pipeline.study.batch import refuse_if_all_are_wrong

    refuse_if_all_are_wrong(options.paths)
    if options.command in _WITH_CORES:
        many = {"study": run_study, "spread": run_spread, "choke": run_choke}
        return many[options.command](options.paths, options.results, options.cores)
    one = {"check": run_check, "tune": run_tune, "evidence": run_evidence, "cut": run_cut}
    return one[options.command](options.paths, options.results)


def _run(options: argparse.Namespace) -> int:
    """One command with its exit code; what is known to go wrong is said, not raised."""
    try:
        check_packages(str(models.__file__), str(pipeline.__file__))
        with places_named():
            return _dispatch(options)
    except DamagedCatalogue as damage:
        if options.debug:
            raise
        place = f"models/catalogues/{damage.file}:{damage.line}"
        fault = Fault(place, "", damage.problem, "install Braidwise again", "catalogue-damaged")
        print(CatalogueError(fault), file=sys.stderr)
        return CatalogueError.exit_code
    except BraidwiseError as error:
        if options.debug:
            raise
        print(error, file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        # Who reads the output has seen enough; what is left goes nowhere, at the exit too.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("\nStopped. What was finished is kept; run it again to go on.", file=sys.stderr)
        return 130
