"""`braidwise study`: everything a study asks for, by the workflow, and the report."""

from __future__ import annotations

from argparse import Namespace

from pipeline.commands.command import Command, check_cores, study_arguments
from pipeline.runtime.process import say
from pipeline.runtime.result_locks import only_run_in, unmark_if_unsound
from pipeline.runtime.store import read_json
from pipeline.study.reader import refuse_if_all_are_wrong


def _run(options: Namespace) -> int:
    """Run the workflow for all studies at once and say what came out."""
    refuse_if_all_are_wrong(options.paths)
    from pipeline.workflow.plans import COMPARED, plan_studies
    from pipeline.workflow.run import run_workflow

    check_cores(options.cores)
    results, plans = options.results, plan_studies(options.paths)
    with only_run_in(results, (*plans, COMPARED)):
        for name, plan in plans.items():
            unmark_if_unsound(results / name, say)
            say(plan.size)
        succeeded = run_workflow(plans, results.resolve(), options.cores)
    for name in plans:
        report = results / name / "report.html"
        if report.exists() and succeeded:
            verdict = read_json(results / name / "summary.json")["verdict"]
            print(f"\n{name}: {verdict['headline']}\n{verdict['certainty']}\nReport: {report}")
    if succeeded and len(plans) > 1:
        print(f"\nSide by side: {results / COMPARED / 'compared.html'}")
    return 0 if succeeded else 1


# Times are those of a 2 m installation on two idle cores.
COMMAND = Command(
    "study",
    "compute everything a study asks for and write the report",
    lambda parser: study_arguments(parser, parallel=True),
    _run,
    "About a minute for a 2 m installation; several studies are set side by side.",
    "braidwise study my_house.yaml",
    order=10,
)
