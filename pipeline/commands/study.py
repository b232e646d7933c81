"""`braidwise study`: the answer to a study, by the workflow, and the report."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from dataclasses import fields
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from models.quantities import Quantity
from pipeline.commands.command import Command, check_cores, study_arguments
from pipeline.runtime.process import say
from pipeline.runtime.result_locks import only_run_in, unmark_if_unsound
from pipeline.study.reader import refuse_if_all_are_wrong
from pipeline.study.records import ChokeDesign, Unknowns
from pipeline.text.errors import Fault, StudyError

# What may be asked for in place of what the study says: the record that has it, and its help.
_CHANGES: dict[str, tuple[type[Any], str]] = {
    "geometries": (Unknowns, "installations to draw and solve"),
    "draws": (Unknowns, "random draws of ferrite, rod and radio end on each of them"),
    "most": (ChokeDesign, "cores in a set at most: a wider or a quicker search"),
}


def _arguments(parser: ArgumentParser) -> None:
    study_arguments(parser, parallel=True)
    for name, (record, words) in _CHANGES.items():
        low, high = _range(record, name)
        told = f"{words} ({low:g} to {high:g}; default: as the study says)"
        parser.add_argument(f"--{name}", type=int, metavar="N", help=told)


def _changes(options: Namespace) -> dict[str, int]:
    """What the command asks for, each in the range of the study's key; StudyError outside it."""
    found, faults = {}, []
    for name, (record, _) in _CHANGES.items():
        value = getattr(options, name)
        if value is None:
            continue
        low, high = _range(record, name)
        if not low <= value <= high:
            rule = f"is outside {low:g} to {high:g}"
            nearest = low if value < low else high
            remedy = f"--{name} {nearest:g}"
            faults.append(Fault(f"--{name}", str(value), rule, remedy, "option-range"))
        found[name] = value
    if faults:
        raise StudyError(*faults)
    return found


def _range(record: type[Any], name: str) -> tuple[float, float]:
    """Least and most of a key of the study file, from the marker on its record."""
    assert name in {f.name for f in fields(record)}
    hint = get_type_hints(record, include_extras=True)[name]
    marks = get_args(hint)[1:] if get_origin(hint) is Annotated else ()
    (quantity,) = (m for m in marks if isinstance(m, Quantity))
    return quantity.low, quantity.high


def _run(options: Namespace) -> int:
    """Run the workflow for all studies at once and say what came out."""
    refuse_if_all_are_wrong(options.paths)
    from pipeline.answer.stored_summary import read_summary
    from pipeline.workflow.plans import COMPARED, plan_studies
    from pipeline.workflow.run import run_workflow

    check_cores(options.cores)
    changes = _changes(options)
    results, plans = options.results, plan_studies(options.paths)
    with only_run_in(results, (*plans, COMPARED)):
        for name, plan in plans.items():
            unmark_if_unsound(results / name, say, read_summary)
            say(plan.size)
        succeeded = run_workflow(plans, results.resolve(), options.cores, changes)
    for name in plans:
        report = results / name / "report.html"
        if report.exists() and succeeded:
            answer = read_summary(results / name)["answer"]
            print(f"\n{name}: {answer['text']}\n\nReport: {report}")
    if succeeded and len(plans) > 1:
        print(f"\nSide by side: {results / COMPARED / 'compared.html'}")
    return 0 if succeeded else 1


# Times are those of a 2 m installation on two idle cores.
COMMAND = Command(
    "study",
    "answer a study: which choke, how many, where, how sure; and write the report",
    _arguments,
    _run,
    "Under a minute for a 2 m installation; several studies are set side by side.",
    "braidwise study my_house.yaml",
    order=10,
)
