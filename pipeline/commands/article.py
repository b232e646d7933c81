"""`braidwise article`: studies as the material of an article, one folder and its archive."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from pipeline.article import FOLDER
from pipeline.commands.command import Command, check_cores, study_arguments
from pipeline.runtime.process import say
from pipeline.runtime.result_locks import only_run_in, unmark_if_unsound
from pipeline.study.reader import refuse_if_all_are_wrong


def _arguments(parser: ArgumentParser) -> None:
    study_arguments(parser, parallel=True)
    told = (
        "also for each sentence of the answer its numbers, their files, and the tests behind them"
    )
    parser.add_argument("--claims", action="store_true", help=told)


def _run(options: Namespace) -> int:
    """Run what is missing of the studies, then put the article together."""
    refuse_if_all_are_wrong(options.paths)
    from pipeline.answer.stored_summary import read_summary
    from pipeline.article.folder import Source, moment, write_article
    from pipeline.workflow.plans import COMPARED, plan_studies
    from pipeline.workflow.run import run_workflow

    check_cores(options.cores)
    results, plans = options.results, plan_studies(options.paths)
    sources = [Source(name, plan.path, results / name) for name, plan in plans.items()]
    # What it cannot be dated with is said before anything is solved.
    moment(sources)
    with only_run_in(results, (*plans, COMPARED, FOLDER)):
        for name, plan in plans.items():
            unmark_if_unsound(results / name, say, read_summary)
            say(plan.size)
        if not run_workflow(plans, results.resolve(), options.cores):
            return 1
        say("drawing figures for print")
        made = write_article(sources, results, options.cores, options.claims)
    print(f"Article: {made.folder}\nArchive: {made.archive}\nData hash: {made.data_hash}")
    return 0


COMMAND = Command(
    "article",
    "material for an article: figures, tables, methods, data, and how to make it again",
    _arguments,
    _run,
    "Runs what is missing of the studies; the same studies give the same data hash.",
    "braidwise article my_house.yaml",
    order=18,
)
