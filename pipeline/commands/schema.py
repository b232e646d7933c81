"""`braidwise schema`: the published layout of the study file or of summary.json."""

from __future__ import annotations

import json
from argparse import ArgumentParser, Namespace
from importlib.resources import files

from pipeline.commands.command import Command
from pipeline.runtime.process import speaks_unicode


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("of", choices=("study", "summary"), help="which file's layout")


def _run(options: Namespace) -> int:
    if options.of == "study":
        from pipeline.study.reader import json_schema

        text = json.dumps(json_schema(), indent=2, ensure_ascii=False)
    else:
        layout = files("pipeline") / "report" / "summary.schema.json"
        text = layout.read_text(encoding="utf-8").rstrip("\n")
    # Output without the characters still gets JSON.
    print(text if speaks_unicode() else json.dumps(json.loads(text), indent=2))
    return 0


COMMAND = Command(
    "schema",
    "print the JSON Schema of the study file or of summary.json",
    _arguments,
    _run,
    order=90,
)
