"""The console command: arguments in, exit code out; parses, dispatches and words what failed."""

from __future__ import annotations

import _thread
import argparse
import os
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import models
import pipeline
from models.catalogues.parts import DamagedCatalogue
from pipeline.commands.command import commands
from pipeline.runtime.process import (
    ends_when_told,
    speak_any_encoding,
    usable_home,
)
from pipeline.runtime.result_locks import places_named
from pipeline.text.errors import BraidwiseError, CatalogueError, Fault, StudyError

DESCRIPTION = """Does the coax of a pipe-built vertical need a choke, which one, how many, where,
and what will it change? Reads a study file, computes the answer with NEC-2 field solutions."""

# Names of former commands, and where a reader finds now what they gave.
_RETIRED = {
    "spread": "with all that is not known exactly",
    "choke": "with every core on sale that fits",
}


def build_parser() -> argparse.ArgumentParser:
    """Arguments of the console command and of all its sub-commands."""
    parser = argparse.ArgumentParser(prog="braidwise", description=DESCRIPTION)
    parser.add_argument("--debug", action="store_true", help="show where in the code it failed")
    every = parser.add_subparsers(dest="command", required=True)
    for command in commands().values():
        own = every.add_parser(
            command.name,
            help=command.help,
            description=command.description,
            epilog=f"Example: {command.example}" if command.example else None,
        )
        command.arguments(own)
    return parser


def check_packages(model_file: str, pipeline_file: str) -> None:
    """Refuse to run with a stranger's package of the name of one of ours."""
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
    said = _retired(sys.argv[1:] if arguments is None else arguments)
    if said:
        print(said, file=sys.stderr)
        return StudyError.exit_code
    options = build_parser().parse_args(arguments)
    with no_lost_interrupt(), ends_when_told(), usable_home():
        return _run(options)


def _retired(arguments: Sequence[str]) -> str:
    """What stands in the place of a former command; empty for any other."""
    words = [word for word in arguments if not word.startswith("-")]
    if not words or words[0] not in _RETIRED:
        return ""
    study = words[1] if len(words) > 1 else "STUDY"
    return (
        f"There is no command {words[0]} any more: braidwise study {study} answers it, "
        f"{_RETIRED[words[0]]}."
    )


def _run(options: argparse.Namespace) -> int:
    """Exit code of one command; what is known to go wrong is said, not raised."""
    try:
        check_packages(str(models.__file__), str(pipeline.__file__))
        with places_named():
            return commands()[options.command].run(options)
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
