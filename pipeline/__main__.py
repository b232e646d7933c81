"""Entry of the workflow's jobs: ``python -m pipeline STAGE PATH ...``; people use braidwise."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from pipeline.commands import stages
from pipeline.runtime.result_locks import places_named
from pipeline.text.errors import BraidwiseError


def main(arguments: list[str]) -> int:
    """Run one stage; paths as the Snakefile hands them over. Returns the exit code."""
    stage, *rest = arguments
    paths = [Path(p) for p in rest]
    run: dict[str, Callable[[], None]] = {
        "geometry": lambda: stages.geometry(paths[0], paths[1]),
        "basis": lambda: stages.basis(paths[0].parent),
        "check": lambda: stages.check(paths[0].parent),
        "combine": lambda: stages.combine(paths[0], paths[1], paths[2].parent),
        "figure": lambda: stages.figure(rest[1:], paths[0].parent),
        "compared": lambda: stages.compared(paths[1:], paths[0]),
        "report": lambda: stages.report(paths[0].parent),
    }
    try:
        with places_named():
            run[stage]()
    except BraidwiseError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        # Ctrl-C reaches every process of a run; the command itself says what there is to say.
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
